-- +goose Up
-- What coaches recommend for one meeting about one candidate.
CREATE TABLE recommendations (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    meeting_id bigint NOT NULL,
    player_id  bigint NOT NULL,
    author_id  bigint NOT NULL,
    view       text NOT NULL CHECK (view IN ('choose', 'wait', 'open')),
    text       text NOT NULL CHECK (text <> ''),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, meeting_id) REFERENCES meetings (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id)
);
CREATE INDEX recommendations_meeting ON recommendations (academy_id, meeting_id);
CREATE INDEX recommendations_player ON recommendations (academy_id, player_id);
CREATE INDEX recommendations_author ON recommendations (academy_id, author_id);
CREATE UNIQUE INDEX recommendations_once ON recommendations (academy_id, meeting_id, player_id, author_id)
    WHERE deleted_at IS NULL;

-- What follows the record of a closed meeting.
CREATE TABLE corrections (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    meeting_id bigint NOT NULL,
    player_id  bigint,
    author_id  bigint NOT NULL,
    text       text NOT NULL CHECK (text <> ''),
    why        text NOT NULL CHECK (why <> ''),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, meeting_id) REFERENCES meetings (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id)
);
CREATE INDEX corrections_author ON corrections (academy_id, author_id);
CREATE INDEX corrections_meeting ON corrections (academy_id, meeting_id);
CREATE INDEX corrections_player ON corrections (academy_id, player_id);

-- What a player is told about a decision: in person first, and on their screen once a coach has released it.
CREATE TABLE feedback (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    meeting_id bigint NOT NULL,
    player_id  bigint NOT NULL,
    place      text NOT NULL CHECK (place <> ''),
    decision   text NOT NULL CHECK (decision IN ('chosen', 'reserve', 'not_chosen', 'deferred')),
    date       date NOT NULL,
    text       text NOT NULL CHECK (text <> ''),
    told_on    date,
    told_by    bigint,
    released   boolean NOT NULL,
    released_at timestamptz,
    released_by bigint,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, meeting_id) REFERENCES meetings (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, told_by) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, released_by) REFERENCES users (academy_id, id),
    CHECK (NOT released OR told_on IS NOT NULL)
);
CREATE INDEX feedback_told ON feedback (academy_id, told_by);
CREATE INDEX feedback_by ON feedback (academy_id, released_by);
CREATE INDEX feedback_meeting ON feedback (academy_id, meeting_id);
CREATE INDEX feedback_player ON feedback (academy_id, player_id, date);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['recommendations', 'corrections', 'feedback'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING '
            '(academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
    END LOOP;
    GRANT SELECT, INSERT, UPDATE, DELETE ON recommendations, corrections, feedback TO throughline_serving;
END
$$;
-- +goose StatementEnd
