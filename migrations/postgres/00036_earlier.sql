-- +goose Up
-- Records as they were before each change and deletion, for the kinds that keep them: who replaced a version, and when.
CREATE TABLE earlier_versions (
    academy_id bigint NOT NULL REFERENCES academies (id),
    kind       text NOT NULL,
    record_id  bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    player_id  bigint,
    user_id    bigint NOT NULL,
    at         timestamptz NOT NULL,
    deleted    boolean NOT NULL,
    said       text NOT NULL,
    PRIMARY KEY (academy_id, kind, record_id, version),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX earlier_versions_player ON earlier_versions (academy_id, player_id, kind) WHERE player_id IS NOT NULL;

ALTER TABLE earlier_versions ENABLE ROW LEVEL SECURITY;
ALTER TABLE earlier_versions FORCE ROW LEVEL SECURITY;
CREATE POLICY own_academy ON earlier_versions
    USING (academy_id = nullif(current_setting('throughline.academy', true), '')::bigint);
GRANT SELECT, INSERT, DELETE ON earlier_versions TO throughline_serving;

-- Who changed a record last that is about no player. The trail's own index by player finds the others.
CREATE INDEX audit_entries_record ON audit_entries (academy_id, kind, record_id, number) WHERE player_id = 0;
