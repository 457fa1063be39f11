-- +goose Up

-- A browser in which a user has signed in, by the SHA-256 hash of what its cookie holds.
CREATE TABLE devices (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    user_id    integer NOT NULL,
    hash       blob NOT NULL CHECK (length(hash) = 32),
    used_at    datetime NOT NULL,
    UNIQUE (academy_id, user_id, hash),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);

-- What is left of the attempts at one part of signing in. User 0 of the deployment stands for the names that no user
-- has, whose device is one of a fixed number of places: there are no references, and strangers make only so many
-- rows.
CREATE TABLE sign_in_attempts (
    academy_id integer NOT NULL REFERENCES academies (id),
    user_id    integer NOT NULL CHECK (user_id > 0 OR user_id = 0 AND academy_id = 0),
    part       text NOT NULL CHECK (part IN ('password', 'code')),
    device_id  integer NOT NULL,
    full_at    datetime NOT NULL,
    PRIMARY KEY (academy_id, user_id, part, device_id)
) WITHOUT ROWID;
CREATE INDEX sign_in_attempts_full ON sign_in_attempts (academy_id, full_at);

-- Refused sign-ins that are not in the audit trail yet.
CREATE TABLE refused_sign_ins (
    academy_id integer NOT NULL REFERENCES academies (id),
    user_id    integer NOT NULL CHECK (user_id > 0 OR user_id = 0 AND academy_id = 0),
    told_at    datetime NOT NULL,
    untold     integer NOT NULL CHECK (untold >= 0),
    last_at    datetime NOT NULL,
    last_from  text NOT NULL,
    PRIMARY KEY (academy_id, user_id)
) WITHOUT ROWID;

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('devices', 'sqlite_autoindex_devices_1', '2000 200 4 1'),
    ('sign_in_attempts', 'sign_in_attempts', '1000 100 2 2 1'),
    ('sign_in_attempts', 'sign_in_attempts_full', '1000 100 1'),
    ('refused_sign_ins', 'refused_sign_ins', '1000 100 1');
ANALYZE sqlite_schema;
