-- +goose Up
-- Who did what, and to whom. Rows are only ever added, and of one only the payload can be erased: neither the program nor a mistake rewrites what
-- happened. There are no foreign keys: the trail outlasts what it is about.
CREATE TABLE audit_entries (
    academy_id   bigint NOT NULL REFERENCES academies (id),
    number       bigint NOT NULL CHECK (number >= 1),
    at           timestamptz NOT NULL,
    user_id      bigint NOT NULL,
    token_id     bigint NOT NULL,
    role         text NOT NULL,
    action       text NOT NULL,
    kind         text NOT NULL,
    record_id    bigint NOT NULL,
    player_id    bigint NOT NULL,
    payload      text,
    payload_hash bytea NOT NULL CHECK (length(payload_hash) = 32),
    hash         bytea NOT NULL CHECK (length(hash) = 32),
    PRIMARY KEY (academy_id, number)
);
CREATE INDEX audit_entries_player ON audit_entries (academy_id, player_id, number) WHERE player_id <> 0;
CREATE INDEX audit_entries_user ON audit_entries (academy_id, user_id, number) WHERE user_id <> 0;

ALTER TABLE audit_entries ENABLE ROW LEVEL SECURITY;
ALTER TABLE audit_entries FORCE ROW LEVEL SECURITY;
CREATE POLICY own_academy ON audit_entries USING (academy_id = nullif(current_setting('throughline.academy', true), '')::bigint);
GRANT SELECT, INSERT ON audit_entries TO throughline_serving;

-- Also the owner cannot change an entry, but for the payload, which goes as a whole.
-- +goose StatementBegin
CREATE FUNCTION audit_entries_stay() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp
AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND NEW.payload IS NULL THEN
        NEW.payload := OLD.payload;
        IF NEW = OLD THEN
            NEW.payload := NULL;
            RETURN NEW;
        END IF;
    END IF;
    RAISE EXCEPTION 'the audit trail is only ever added to';
END
$$;
-- +goose StatementEnd
CREATE TRIGGER audit_entries_stay BEFORE UPDATE OR DELETE ON audit_entries FOR EACH ROW EXECUTE FUNCTION audit_entries_stay();
CREATE TRIGGER audit_entries_stay_all BEFORE TRUNCATE ON audit_entries FOR EACH STATEMENT EXECUTE FUNCTION audit_entries_stay();

-- The one way to erase: what the trail says of a player, and of his user. It acts in the academy of the transaction alone, and says how
-- many payloads went.
-- +goose StatementBegin
CREATE FUNCTION erase_audit_payloads(of_player bigint, of_user bigint) RETURNS bigint
LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp
AS $$
    WITH erased AS (
        UPDATE public.audit_entries SET payload = NULL
        WHERE academy_id = nullif(current_setting('throughline.academy', true), '')::bigint AND payload IS NOT NULL
            AND (player_id = of_player AND of_player <> 0 OR user_id = of_user AND of_user <> 0 OR kind = 'user' AND record_id = of_user AND of_user <> 0)
        RETURNING 1)
    SELECT count(*) FROM erased
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION erase_audit_payloads(bigint, bigint) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION erase_audit_payloads(bigint, bigint) TO throughline_serving;
