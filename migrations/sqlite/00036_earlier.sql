-- +goose Up
-- Records as they were before each change and deletion, for the kinds that keep them: who replaced a version, and when.
CREATE TABLE earlier_versions (
    academy_id integer NOT NULL REFERENCES academies (id),
    kind       text NOT NULL,
    record_id  integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    player_id  integer,
    user_id    integer NOT NULL,
    at         datetime NOT NULL,
    deleted    boolean NOT NULL CHECK (deleted IN (0, 1)),
    said       text NOT NULL CHECK (json_valid(said)),
    PRIMARY KEY (academy_id, kind, record_id, version),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX earlier_versions_player ON earlier_versions (academy_id, player_id, kind) WHERE player_id IS NOT NULL;

-- Who changed a record last that is about no player. The trail's own index by player finds the others.
CREATE INDEX audit_entries_record ON audit_entries (academy_id, kind, record_id, number) WHERE player_id = 0;

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('earlier_versions', 'earlier_versions', '10000 10000 2500 2 1'),
    ('earlier_versions', 'earlier_versions_player', '10000 10000 10 4'),
    ('audit_entries', 'audit_entries_record', '100000 10000 1000 4 1');
ANALYZE sqlite_schema;
