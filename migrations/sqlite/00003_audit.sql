-- +goose Up
-- Who did what, and to whom. Rows are only ever added, and of one only the payload can be erased: neither the program nor a mistake rewrites what
-- happened. There are no foreign keys: the trail outlasts what it is about.
CREATE TABLE audit_entries (
    academy_id   integer NOT NULL REFERENCES academies (id),
    number       integer NOT NULL CHECK (number >= 1),
    at           datetime NOT NULL,
    user_id      integer NOT NULL,
    token_id     integer NOT NULL,
    role         text NOT NULL,
    action       text NOT NULL,
    kind         text NOT NULL,
    record_id    integer NOT NULL,
    player_id    integer NOT NULL,
    payload      text,
    payload_hash blob NOT NULL CHECK (length(payload_hash) = 32),
    hash         blob NOT NULL CHECK (length(hash) = 32),
    PRIMARY KEY (academy_id, number)
) WITHOUT ROWID;
CREATE INDEX audit_entries_player ON audit_entries (academy_id, player_id, number) WHERE player_id <> 0;
CREATE INDEX audit_entries_user ON audit_entries (academy_id, user_id, number) WHERE user_id <> 0;

-- +goose StatementBegin
CREATE TRIGGER audit_entries_stay BEFORE UPDATE ON audit_entries
WHEN NOT (NEW.payload IS NULL AND NEW.academy_id = OLD.academy_id AND NEW.number = OLD.number AND NEW.at = OLD.at AND NEW.user_id = OLD.user_id
    AND NEW.token_id = OLD.token_id AND NEW.role = OLD.role AND NEW.action = OLD.action AND NEW.kind = OLD.kind AND NEW.record_id = OLD.record_id
    AND NEW.player_id = OLD.player_id AND NEW.payload_hash = OLD.payload_hash AND NEW.hash = OLD.hash)
BEGIN
    SELECT RAISE(ABORT, 'the audit trail is only ever added to');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER audit_entries_stay_all BEFORE DELETE ON audit_entries
BEGIN
    SELECT RAISE(ABORT, 'the audit trail is only ever added to');
END;
-- +goose StatementEnd

-- An insert that replaces takes the old row away without a word to the trigger on deletion, unless recursive triggers are on.
-- +goose StatementBegin
CREATE TRIGGER audit_entries_stay_each BEFORE INSERT ON audit_entries
WHEN EXISTS (SELECT 1 FROM audit_entries AS there WHERE there.academy_id = NEW.academy_id AND there.number = NEW.number)
BEGIN
    SELECT RAISE(ABORT, 'the audit trail is only ever added to');
END;
-- +goose StatementEnd

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('audit_entries', 'audit_entries', '500000 50000 1'),
    ('audit_entries', 'audit_entries_player', '400000 40000 400 1'),
    ('audit_entries', 'audit_entries_user', '400000 40000 2000 1');
ANALYZE sqlite_schema;
