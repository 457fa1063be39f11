-- +goose Up
-- Requests for all that is kept of a person, or for its erasure, and the proof that they were fulfilled. They name nobody.
CREATE TABLE data_requests (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    kind       text NOT NULL CHECK (kind IN ('export', 'erasure')),
    asked_by   text NOT NULL CHECK (asked_by IN ('player', 'guardian', 'academy', 'other')),
    done_by    integer NOT NULL,
    counts     text NOT NULL CHECK (json_valid(counts)),
    payloads   integer NOT NULL,
    mentions   text CHECK (json_valid(mentions)),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX data_requests_player ON data_requests (academy_id, player_id);
ALTER TABLE players ADD COLUMN erased_at datetime;

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('data_requests', 'sqlite_autoindex_data_requests_1', '1000 100 1'),
    ('data_requests', 'data_requests_player', '1000 100 2');
ANALYZE sqlite_schema;
