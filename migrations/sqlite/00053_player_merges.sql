-- +goose Up
-- Two records of one person that were made one: the one that stays, the one that went into it, and what was moved, so
-- that it can be moved back.
CREATE TABLE player_merges (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    other_id   integer NOT NULL,
    merged_by  integer,
    moved      text NOT NULL CHECK (json_valid(moved)),
    kept       text NOT NULL CHECK (json_valid(kept)),
    undone_at  datetime,
    undone_by  integer,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, other_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, merged_by) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, undone_by) REFERENCES users (academy_id, id),
    CHECK (player_id <> other_id)
);
CREATE INDEX player_merges_player ON player_merges (academy_id, player_id);
CREATE INDEX player_merges_other ON player_merges (academy_id, other_id);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('player_merges', 'sqlite_autoindex_player_merges_1', '50 50 1'),
    ('player_merges', 'player_merges_player', '50 50 1'),
    ('player_merges', 'player_merges_other', '50 50 1');
