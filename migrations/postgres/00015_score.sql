-- +goose Up
-- What trends said of a player's matches to come, with its day, and what came: see models.Forecast.
CREATE TABLE forecasts (
    academy_id bigint NOT NULL,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    player_id  bigint NOT NULL,
    indicator  text COLLATE "C" NOT NULL,
    skill      text COLLATE "C" NOT NULL,
    origin     date NOT NULL,
    made_at    timestamptz NOT NULL,
    family     text NOT NULL,
    said       jsonb NOT NULL,
    next_on      date,
    next_matches integer NOT NULL DEFAULT 0 CHECK (next_matches >= 0),
    next_value   double precision NOT NULL DEFAULT 0,
    next_of      double precision NOT NULL DEFAULT 0 CHECK (next_of >= 0),
    next_below   double precision NOT NULL DEFAULT 0 CHECK (next_below >= 0),
    next_up_to   double precision NOT NULL DEFAULT 0 CHECK (next_up_to <= 1),
    rest_on      date,
    rest_matches integer NOT NULL DEFAULT 0 CHECK (rest_matches >= 0),
    rest_value   double precision NOT NULL DEFAULT 0,
    rest_of      double precision NOT NULL DEFAULT 0 CHECK (rest_of >= 0),
    rest_below   double precision NOT NULL DEFAULT 0 CHECK (rest_below >= 0),
    rest_up_to   double precision NOT NULL DEFAULT 0 CHECK (rest_up_to <= 1),
    corrected  integer NOT NULL DEFAULT 0 CHECK (corrected >= 0),
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, indicator, skill, origin),
    CHECK ((indicator = '') <> (skill = '')),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX forecasts_player ON forecasts (academy_id, player_id);

-- What trends said of which of two players would have more, and what came: see models.ForecastPair.
CREATE TABLE forecast_pairs (
    academy_id  bigint NOT NULL,
    season_id   bigint NOT NULL,
    squad_id    bigint NOT NULL,
    player_id   bigint NOT NULL,
    other_id    bigint NOT NULL CHECK (other_id <> player_id),
    indicator   text COLLATE "C" NOT NULL CHECK (indicator <> ''),
    origin      date NOT NULL,
    made_at     timestamptz NOT NULL,
    family      text NOT NULL,
    chance      double precision NOT NULL CHECK (chance > 0 AND chance < 1),
    settled_on  date,
    value       double precision NOT NULL DEFAULT 0,
    other_value double precision NOT NULL DEFAULT 0,
    corrected   integer NOT NULL DEFAULT 0 CHECK (corrected >= 0),
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, other_id, indicator, origin),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, other_id) REFERENCES players (academy_id, id)
);
CREATE INDEX forecast_pairs_player ON forecast_pairs (academy_id, player_id);
CREATE INDEX forecast_pairs_other ON forecast_pairs (academy_id, other_id);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['forecasts', 'forecast_pairs'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)',
            name);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE, DELETE ON %I TO throughline_serving', name);
    END LOOP;
END
$$;
-- +goose StatementEnd
