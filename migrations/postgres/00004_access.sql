-- +goose Up

-- The deployment's own academy: that of the operators. Its name begins with a sign that no name may begin with, so that nobody has taken it or
-- ever does.
INSERT INTO academies (id, name) OVERRIDING SYSTEM VALUE VALUES (0, '@deployment');
GRANT UPDATE (name) ON academies TO throughline_serving;

ALTER TABLE users DROP CONSTRAINT users_role_check;
ALTER TABLE users ADD CONSTRAINT users_role_check CHECK (role IN ('manager', 'coach', 'selector', 'player', 'operator'));
ALTER TABLE users ADD CONSTRAINT users_operator_check CHECK ((role = 'operator') = (academy_id = 0));
-- The second factor (RFC 6238): its secret from the moment it is offered, since when it is asked for, and the last step whose code was used.
ALTER TABLE users ADD COLUMN totp_secret text NOT NULL DEFAULT '';
ALTER TABLE users ALTER COLUMN totp_secret DROP DEFAULT;
ALTER TABLE users ADD COLUMN second_factor_since timestamptz CHECK (second_factor_since IS NULL OR totp_secret <> '');
ALTER TABLE users ADD COLUMN totp_step bigint NOT NULL DEFAULT 0;
ALTER TABLE users ALTER COLUMN totp_step DROP DEFAULT;

-- Tokens from before there were scopes could do everything, and get a year from when they were made. The owner is bound by row-level
-- security too, which is lifted for as long as this takes.
ALTER TABLE access_tokens ADD COLUMN scope text NOT NULL DEFAULT 'write' CHECK (scope IN ('read', 'write'));
ALTER TABLE access_tokens ALTER COLUMN scope DROP DEFAULT;
ALTER TABLE access_tokens ADD COLUMN expires_at timestamptz;
ALTER TABLE access_tokens NO FORCE ROW LEVEL SECURITY;
UPDATE access_tokens SET expires_at = created_at + interval '1 year';
ALTER TABLE access_tokens FORCE ROW LEVEL SECURITY;
ALTER TABLE access_tokens ALTER COLUMN expires_at SET NOT NULL;

-- A row is deleted for good when the session ends: nothing else refers to it. The key is the SHA-256 hash of the cookie in base64url.
CREATE TABLE sessions (
    key        text COLLATE "C" PRIMARY KEY CHECK (length(key) = 43),
    academy_id bigint NOT NULL,
    user_id    bigint NOT NULL,
    data       bytea NOT NULL,
    created_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);
CREATE INDEX sessions_user ON sessions (academy_id, user_id);
CREATE INDEX sessions_expires ON sessions (academy_id, expires_at);

CREATE TABLE links (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    user_id    bigint NOT NULL,
    purpose    text NOT NULL CHECK (purpose IN ('invitation', 'reset')),
    hash       bytea NOT NULL CHECK (length(hash) = 32),
    made_by    bigint NOT NULL, -- 0 for the console, and somebody of the deployment where an operator made it: no reference
    expires_at timestamptz NOT NULL,
    used_at    timestamptz,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);
CREATE UNIQUE INDEX links_hash ON links (hash);
CREATE INDEX links_user ON links (academy_id, user_id);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['sessions', 'links'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE ON %I TO throughline_serving', name);
    END LOOP;
    GRANT DELETE ON sessions TO throughline_serving;
END
$$;
-- +goose StatementEnd

-- What must be read before the academy is known. Each function answers for one hash, whose secret only its holder knows, and not once that
-- has expired. It runs as the owner, who alone is let past the academy for it, and for reading only.
CREATE POLICY lookup ON sessions FOR SELECT TO CURRENT_USER USING (true);
CREATE POLICY lookup ON links FOR SELECT TO CURRENT_USER USING (true);

-- +goose StatementBegin
CREATE FUNCTION session_by_hash(wanted text, at timestamptz)
RETURNS TABLE (academy_id bigint, user_id bigint, data bytea, created_at timestamptz, expires_at timestamptz)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp
AS $$
    SELECT s.academy_id, s.user_id, s.data, s.created_at, s.expires_at FROM public.sessions AS s WHERE s.key = wanted AND s.expires_at > at
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION link_by_hash(wanted bytea, at timestamptz) RETURNS TABLE (academy_id bigint, user_id bigint)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp
AS $$
    SELECT l.academy_id, l.user_id FROM public.links AS l
    WHERE l.hash = wanted AND l.expires_at > at AND l.used_at IS NULL AND l.deleted_at IS NULL
$$;
-- +goose StatementEnd

DROP FUNCTION user_by_token(bytea);
-- +goose StatementBegin
CREATE FUNCTION user_by_token(wanted bytea, at timestamptz) RETURNS TABLE (academy_id bigint, user_id bigint, token_id bigint, scope text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp
AS $$
    SELECT t.academy_id, t.user_id, t.id, t.scope FROM public.access_tokens AS t
    WHERE t.hash = wanted AND t.expires_at > at AND t.deleted_at IS NULL
$$;
-- +goose StatementEnd

REVOKE ALL ON FUNCTION session_by_hash(text, timestamptz), link_by_hash(bytea, timestamptz), user_by_token(bytea, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION session_by_hash(text, timestamptz), link_by_hash(bytea, timestamptz), user_by_token(bytea, timestamptz) TO throughline_serving;
