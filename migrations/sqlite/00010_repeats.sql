-- +goose Up
-- Requests that a program may send again within a day, under the key that it gave them: only hashes and the ids of what was made. They are
-- deleted for good, a day later or with the player whom they are about.
CREATE TABLE repeats (
    academy_id integer NOT NULL,
    user_id    integer NOT NULL,
    key_hash   blob NOT NULL CHECK (length(key_hash) = 32),
    contents   blob NOT NULL CHECK (length(contents) = 32),
    made       text NOT NULL CHECK (json_valid(made)),
    player_id  integer,
    sent_at    datetime NOT NULL,
    PRIMARY KEY (academy_id, user_id, key_hash),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX repeats_sent ON repeats (academy_id, sent_at);
CREATE INDEX repeats_player ON repeats (academy_id, player_id);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('repeats', 'repeats', '10000 1000 100 1'),
    ('repeats', 'repeats_sent', '10000 1000 1'),
    ('repeats', 'repeats_player', '10000 1000 10');
ANALYZE sqlite_schema;
