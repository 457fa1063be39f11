-- +goose Up

-- A browser in which a user has signed in, by the SHA-256 hash of what its cookie holds.
CREATE TABLE devices (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    user_id    bigint NOT NULL,
    hash       bytea NOT NULL CHECK (length(hash) = 32),
    used_at    timestamptz NOT NULL,
    UNIQUE (academy_id, user_id, hash),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);

-- What is left of the attempts at one part of signing in. User 0 of the deployment stands for the names that no user
-- has, whose device is one of a fixed number of places: there are no references, and strangers make only so many
-- rows.
CREATE TABLE sign_in_attempts (
    academy_id bigint NOT NULL REFERENCES academies (id),
    user_id    bigint NOT NULL CHECK (user_id > 0 OR user_id = 0 AND academy_id = 0),
    part       text NOT NULL CHECK (part IN ('password', 'code')),
    device_id  bigint NOT NULL,
    full_at    timestamptz NOT NULL,
    PRIMARY KEY (academy_id, user_id, part, device_id)
);
CREATE INDEX sign_in_attempts_full ON sign_in_attempts (academy_id, full_at);

-- Refused sign-ins that are not in the audit trail yet.
CREATE TABLE refused_sign_ins (
    academy_id bigint NOT NULL REFERENCES academies (id),
    user_id    bigint NOT NULL CHECK (user_id > 0 OR user_id = 0 AND academy_id = 0),
    told_at    timestamptz NOT NULL,
    untold     bigint NOT NULL CHECK (untold >= 0),
    last_at    timestamptz NOT NULL,
    last_from  text NOT NULL,
    PRIMARY KEY (academy_id, user_id)
);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['devices', 'sign_in_attempts', 'refused_sign_ins'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format('CREATE POLICY own_academy ON %I USING '
            || '(academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE, DELETE ON %I TO throughline_serving', name);
    END LOOP;
END
$$;
-- +goose StatementEnd

-- Only of a player who was erased, and of the users of such a player: whoever takes over the serving role cannot
-- empty the rest of the trail.
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION erase_audit_payloads(of_player bigint, of_user bigint) RETURNS bigint
LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp
AS $$
    WITH here AS (
        SELECT nullif(current_setting('throughline.academy', true), '')::bigint AS academy
    ), players AS (
        SELECT p.id FROM here JOIN public.players AS p ON p.academy_id = here.academy
        WHERE p.id = of_player AND p.erased_at IS NOT NULL
    ), users AS (
        SELECT u.id FROM here JOIN public.users AS u ON u.academy_id = here.academy
            JOIN public.players AS p ON p.academy_id = u.academy_id AND p.id = u.player_id
        WHERE u.id = of_user AND p.erased_at IS NOT NULL
    ), erased AS (
        UPDATE public.audit_entries AS e SET payload = NULL FROM here
        WHERE e.academy_id = here.academy AND e.payload IS NOT NULL AND (e.player_id IN (SELECT id FROM players)
            OR e.user_id IN (SELECT id FROM users) OR e.kind = 'user' AND e.record_id IN (SELECT id FROM users))
        RETURNING 1
    )
    SELECT count(*) FROM erased
$$;
-- +goose StatementEnd
