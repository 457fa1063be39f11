-- +goose Up
-- Two records of one person that were made one: the one that stays, the one that went into it, and what was moved, so
-- that it can be moved back.
CREATE TABLE player_merges (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    other_id   bigint NOT NULL,
    merged_by  bigint,
    moved      jsonb NOT NULL,
    kept       jsonb NOT NULL,
    undone_at  timestamptz,
    undone_by  bigint,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, other_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, merged_by) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, undone_by) REFERENCES users (academy_id, id),
    CHECK (player_id <> other_id)
);
CREATE INDEX player_merges_player ON player_merges (academy_id, player_id);
CREATE INDEX player_merges_other ON player_merges (academy_id, other_id);

ALTER TABLE player_merges ENABLE ROW LEVEL SECURITY;
ALTER TABLE player_merges FORCE ROW LEVEL SECURITY;
CREATE POLICY own_academy ON player_merges
    USING (academy_id = nullif(current_setting('throughline.academy', true), '')::bigint);
GRANT SELECT, INSERT, UPDATE ON player_merges TO throughline_serving; -- an erasure empties a row, and keeps it

-- What a merge moves from one player to the other.
GRANT UPDATE (player_id) ON earlier_versions, candidates, candidate_evidence, report_openings TO throughline_serving;
