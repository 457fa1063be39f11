-- +goose Up

-- The deployment's own academy: that of the operators. Its name begins with a sign that no name may begin with, so that nobody has taken it or
-- ever does.
INSERT INTO academies (id, name) VALUES (0, '@deployment');

-- The second factor (RFC 6238): its secret from the moment it is offered, since when it is asked for, and the last step whose code was used.
-- SQLite adds no column that must be there without a default.
ALTER TABLE users ADD COLUMN totp_secret text NOT NULL DEFAULT '';
ALTER TABLE users ADD COLUMN second_factor_since datetime CHECK (second_factor_since IS NULL OR totp_secret <> '');
ALTER TABLE users ADD COLUMN totp_step integer NOT NULL DEFAULT 0;

-- Tokens from before there were scopes could do everything, and get a year from when they were made. What is left out has expired.
ALTER TABLE access_tokens ADD COLUMN scope text NOT NULL DEFAULT 'write' CHECK (scope IN ('read', 'write'));
ALTER TABLE access_tokens ADD COLUMN expires_at datetime NOT NULL DEFAULT '1970-01-01 00:00:00+00:00';
UPDATE access_tokens SET expires_at = strftime('%Y-%m-%d %H:%M:%f', created_at, '+1 year') || '+00:00';

-- Who may be an operator, and where. SQLite changes no CHECK; for one that is only widened the manual has this way, which leaves the rows
-- alone (https://www.sqlite.org/lang_altertable.html, "Making Other Kinds Of Table Schema Changes"). The tables that follow raise the
-- version of the schema, so that every other connection reads it again.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, 'CHECK (role IN (''manager'', ''coach'', ''selector'', ''player''))',
    'CHECK (role IN (''manager'', ''coach'', ''selector'', ''player'', ''operator'') AND (role = ''operator'') = (academy_id = 0))')
WHERE type = 'table' AND name = 'users';
PRAGMA writable_schema = RESET;

-- A row is deleted for good when the session ends: nothing else refers to it. The key is the SHA-256 hash of the cookie in base64url.
CREATE TABLE sessions (
    key        text NOT NULL PRIMARY KEY CHECK (length(key) = 43),
    academy_id integer NOT NULL,
    user_id    integer NOT NULL,
    data       blob NOT NULL,
    created_at datetime NOT NULL,
    expires_at datetime NOT NULL,
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX sessions_user ON sessions (academy_id, user_id);
CREATE INDEX sessions_expires ON sessions (academy_id, expires_at);

CREATE TABLE links (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    user_id    integer NOT NULL,
    purpose    text NOT NULL CHECK (purpose IN ('invitation', 'reset')),
    hash       blob NOT NULL CHECK (length(hash) = 32),
    made_by    integer NOT NULL, -- 0 for the console, and somebody of the deployment where an operator made it: no reference
    expires_at datetime NOT NULL,
    used_at    datetime,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);
CREATE UNIQUE INDEX links_hash ON links (hash);
CREATE INDEX links_user ON links (academy_id, user_id);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('sessions', 'sessions', '1000 1'),
    ('sessions', 'sessions_user', '1000 100 2'),
    ('sessions', 'sessions_expires', '1000 100 1'),
    ('links', 'sqlite_autoindex_links_1', '1000 100 1'),
    ('links', 'links_hash', '1000 1'),
    ('links', 'links_user', '1000 100 1');
