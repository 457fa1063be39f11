-- +goose Up
-- Requests that a program may send again within a day, under the key that it gave them: only hashes and the ids of what was made. They are
-- deleted for good, a day later or with the player whom they are about.
CREATE TABLE repeats (
    academy_id bigint NOT NULL,
    user_id    bigint NOT NULL,
    key_hash   bytea NOT NULL CHECK (length(key_hash) = 32),
    contents   bytea NOT NULL CHECK (length(contents) = 32),
    made       jsonb NOT NULL,
    player_id  bigint,
    sent_at    timestamptz NOT NULL,
    PRIMARY KEY (academy_id, user_id, key_hash),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX repeats_sent ON repeats (academy_id, sent_at);
CREATE INDEX repeats_player ON repeats (academy_id, player_id);

ALTER TABLE repeats ENABLE ROW LEVEL SECURITY;
ALTER TABLE repeats FORCE ROW LEVEL SECURITY;
CREATE POLICY own_academy ON repeats USING (academy_id = nullif(current_setting('throughline.academy', true), '')::bigint);
GRANT SELECT, INSERT, DELETE ON repeats TO throughline_serving;
