-- +goose Up
-- What trends said of a player's matches to come, with its day, and what came: see models.Forecast.
CREATE TABLE forecasts (
    academy_id integer NOT NULL,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    player_id  integer NOT NULL,
    indicator  text NOT NULL,
    skill      text NOT NULL,
    origin     date NOT NULL,
    made_at    datetime NOT NULL,
    family     text NOT NULL,
    said       text NOT NULL CHECK (json_valid(said)),
    next_on      date,
    next_matches integer NOT NULL DEFAULT 0 CHECK (next_matches >= 0),
    next_value   real NOT NULL DEFAULT 0,
    next_of      real NOT NULL DEFAULT 0 CHECK (next_of >= 0),
    next_below   real NOT NULL DEFAULT 0 CHECK (next_below >= 0),
    next_up_to   real NOT NULL DEFAULT 0 CHECK (next_up_to <= 1),
    rest_on      date,
    rest_matches integer NOT NULL DEFAULT 0 CHECK (rest_matches >= 0),
    rest_value   real NOT NULL DEFAULT 0,
    rest_of      real NOT NULL DEFAULT 0 CHECK (rest_of >= 0),
    rest_below   real NOT NULL DEFAULT 0 CHECK (rest_below >= 0),
    rest_up_to   real NOT NULL DEFAULT 0 CHECK (rest_up_to <= 1),
    corrected  integer NOT NULL DEFAULT 0 CHECK (corrected >= 0),
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, indicator, skill, origin),
    CHECK ((indicator = '') <> (skill = '')),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX forecasts_player ON forecasts (academy_id, player_id);

-- What trends said of which of two players would have more, and what came: see models.ForecastPair.
CREATE TABLE forecast_pairs (
    academy_id  integer NOT NULL,
    season_id   integer NOT NULL,
    squad_id    integer NOT NULL,
    player_id   integer NOT NULL,
    other_id    integer NOT NULL CHECK (other_id <> player_id),
    indicator   text NOT NULL CHECK (indicator <> ''),
    origin      date NOT NULL,
    made_at     datetime NOT NULL,
    family      text NOT NULL,
    chance      real NOT NULL CHECK (chance > 0 AND chance < 1),
    settled_on  date,
    value       real NOT NULL DEFAULT 0,
    other_value real NOT NULL DEFAULT 0,
    corrected   integer NOT NULL DEFAULT 0 CHECK (corrected >= 0),
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, other_id, indicator, origin),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, other_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX forecast_pairs_player ON forecast_pairs (academy_id, player_id);
CREATE INDEX forecast_pairs_other ON forecast_pairs (academy_id, other_id);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('forecasts', 'forecasts', '1000000 100000 30000 10000 400 20 20 1'),
    ('forecasts', 'forecasts_player', '1000000 100000 500'),
    ('forecast_pairs', 'forecast_pairs', '1000000 100000 30000 10000 400 400 20 1'),
    ('forecast_pairs', 'forecast_pairs_player', '1000000 100000 500'),
    ('forecast_pairs', 'forecast_pairs_other', '1000000 100000 500');
ANALYZE sqlite_schema;
