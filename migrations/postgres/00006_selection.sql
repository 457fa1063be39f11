-- +goose Up

-- A round asks the coaches of a squad for grades of one match, or of one training block, until a day.
CREATE TABLE rating_rounds (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    name       text NOT NULL CHECK (name <> ''),
    date       date NOT NULL,
    match_id   bigint,
    block      text NOT NULL,
    opens      date,
    closes     date NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    CHECK ((match_id IS NULL) = (block <> '')),
    CHECK (closes >= opens),
    CHECK (closes >= date)
);
CREATE UNIQUE INDEX rating_rounds_match ON rating_rounds (academy_id, squad_id, match_id) WHERE deleted_at IS NULL AND match_id IS NOT NULL;
CREATE UNIQUE INDEX rating_rounds_block ON rating_rounds (academy_id, squad_id, date, block) WHERE deleted_at IS NULL AND match_id IS NULL;
CREATE INDEX rating_rounds_squad ON rating_rounds (academy_id, squad_id, season_id);
CREATE INDEX rating_rounds_season ON rating_rounds (academy_id, season_id, date);
CREATE INDEX rating_rounds_of_match ON rating_rounds (academy_id, match_id) WHERE match_id IS NOT NULL;
CREATE INDEX rating_rounds_of_block ON rating_rounds (academy_id, date, block);

CREATE TABLE meetings (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    date       date NOT NULL,
    purpose    text NOT NULL CHECK (purpose <> ''),
    status     text NOT NULL CHECK (status IN ('open', 'closed')),
    present    jsonb,
    criteria   jsonb,
    places     jsonb,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
);
CREATE INDEX meetings_squad ON meetings (academy_id, squad_id, season_id);
CREATE INDEX meetings_season ON meetings (academy_id, season_id, date);

-- The candidates of a meeting are rows, not a list within it, so that all that is kept of a player is found by the player.
CREATE TABLE candidates (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    meeting_id bigint NOT NULL,
    player_id  bigint NOT NULL,
    place      text NOT NULL CHECK (place <> ''),
    decision   text NOT NULL CHECK (decision IN ('', 'chosen', 'reserve', 'not_chosen', 'deferred')),
    reason     text NOT NULL,
    dissent    text NOT NULL,
    UNIQUE (academy_id, id),
    UNIQUE (academy_id, meeting_id, player_id, place),
    FOREIGN KEY (academy_id, meeting_id) REFERENCES meetings (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK (decision = '' OR reason <> '')
);
CREATE INDEX candidates_player ON candidates (academy_id, player_id);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['rating_rounds', 'meetings', 'candidates'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
    END LOOP;
    GRANT SELECT, INSERT, UPDATE ON rating_rounds, meetings TO throughline_serving;
    GRANT SELECT, INSERT, DELETE ON candidates TO throughline_serving; -- replaced as a whole, with their meeting
END
$$;
-- +goose StatementEnd
