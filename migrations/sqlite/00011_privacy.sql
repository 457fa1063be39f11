-- +goose Up
-- What a player is shown of one indicator or skill that others' figures have a part in, as it stood after a round of matches.
CREATE TABLE publications (
    academy_id integer NOT NULL,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    player_id  integer NOT NULL,
    indicator  text NOT NULL,
    skill      text NOT NULL,
    round      date NOT NULL,
    revision   integer NOT NULL,
    made_at    datetime NOT NULL,
    figures    text NOT NULL CHECK (json_valid(figures)),
    covers     text NOT NULL CHECK (json_valid(covers)),
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, indicator, skill),
    CHECK ((indicator = '') <> (skill = '')),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX publications_player ON publications (academy_id, player_id, season_id);

-- Nothing is published of what was fitted before: every squad's season is fitted again.
UPDATE squad_seasons SET fitted = 0;

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('publications', 'publications', '100000 10000 3000 1000 40 1 1'),
    ('publications', 'publications_player', '100000 10000 40 40');
ANALYZE sqlite_schema;
