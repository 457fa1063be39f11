-- +goose Up
-- Each squad's review cycle, in weeks; 0 is the usual six.
ALTER TABLE squads ADD COLUMN review_weeks integer NOT NULL DEFAULT 0 CHECK (review_weeks BETWEEN 0 AND 52);

-- A follow-up may be marked as done, and a note that was read may be changed afterwards.
ALTER TABLE review_notes ADD COLUMN followed_up_at timestamptz;
ALTER TABLE review_notes ADD COLUMN changed_since_read_at timestamptz;

-- What a coach writes to a player once in a squad's cycle. The lists are ids of review notes and of check-ins of the
-- same player.
CREATE TABLE reviews (
    id             bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id     bigint NOT NULL,
    version        bigint NOT NULL CHECK (version >= 1),
    created_at     timestamptz NOT NULL,
    changed_at     timestamptz NOT NULL,
    deleted_at     timestamptz,
    player_id      bigint NOT NULL,
    season_id      bigint NOT NULL,
    squad_id       bigint NOT NULL,
    author_id      bigint NOT NULL,
    date           date NOT NULL,
    summary        text NOT NULL CHECK (summary <> ''),
    next_step      text NOT NULL,
    note_ids       jsonb,
    staff_note_ids jsonb,
    check_in_ids   jsonb,
    shared         boolean NOT NULL,
    follow_up      date,
    followed_up_at timestamptz,
    read_at        timestamptz,
    changed_since_read_at timestamptz,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    CHECK (NOT shared OR next_step <> '')
);
CREATE INDEX reviews_date ON reviews (academy_id, date);
CREATE INDEX reviews_player ON reviews (academy_id, player_id, date);
CREATE INDEX reviews_squad ON reviews (academy_id, squad_id, date);
CREATE INDEX reviews_season ON reviews (academy_id, season_id, date);

CREATE TABLE review_answers (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    review_id  bigint NOT NULL,
    author_id  bigint NOT NULL,
    text       text NOT NULL CHECK (text <> ''),
    seen_by    bigint,
    seen_at    timestamptz,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, review_id) REFERENCES reviews (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, seen_by) REFERENCES users (academy_id, id),
    CHECK ((seen_by IS NULL) = (seen_at IS NULL)),
    CHECK (seen_by <> author_id)
);
CREATE INDEX review_answers_review ON review_answers (academy_id, review_id);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['reviews', 'review_answers'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = '
            'nullif(current_setting(''throughline.academy'', true), '''')::bigint)',
            name);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE, DELETE ON %I TO throughline_serving', name);
    END LOOP;
END
$$;
-- +goose StatementEnd
