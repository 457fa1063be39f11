-- +goose Up
-- Requests for all that is kept of a person, or for its erasure, and the proof that they were fulfilled. They name nobody.
CREATE TABLE data_requests (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    kind       text NOT NULL CHECK (kind IN ('export', 'erasure')),
    asked_by   text NOT NULL CHECK (asked_by IN ('player', 'guardian', 'academy', 'other')),
    done_by    bigint NOT NULL,
    counts     jsonb NOT NULL,
    payloads   integer NOT NULL,
    mentions   jsonb,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX data_requests_player ON data_requests (academy_id, player_id);
ALTER TABLE players ADD COLUMN erased_at timestamptz;

ALTER TABLE data_requests ENABLE ROW LEVEL SECURITY;
ALTER TABLE data_requests FORCE ROW LEVEL SECURITY;
CREATE POLICY own_academy ON data_requests USING (academy_id = nullif(current_setting('throughline.academy', true), '')::bigint);
GRANT SELECT, INSERT ON data_requests TO throughline_serving; -- a proof is not edited

-- Erasing a person's data takes these rows out for good; everything else only ever hides them.
GRANT DELETE ON spells, consents, guardians, head_contacts, stand_downs, retention_reviews, note_answers, check_ins, review_notes,
    training_observations, goals, ratings, access_tokens, links TO throughline_serving;
