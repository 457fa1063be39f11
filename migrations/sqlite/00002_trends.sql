-- +goose Up
-- Whether the trends of a squad's season still stand on the data: revision counts the changes, fitted is the revision they were made from.
CREATE TABLE squad_seasons (
    academy_id integer NOT NULL,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    revision   integer NOT NULL CHECK (revision >= 1),
    changed_at datetime NOT NULL,
    fitted     integer NOT NULL CHECK (fitted >= 0),
    PRIMARY KEY (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX squad_seasons_squad ON squad_seasons (academy_id, squad_id);

CREATE TABLE trends (
    academy_id integer NOT NULL,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    player_id  integer NOT NULL,
    indicator  text NOT NULL,
    skill      text NOT NULL,
    revision   integer NOT NULL,
    made_at    datetime NOT NULL,
    figures    text NOT NULL CHECK (json_valid(figures)),
    verdict    text NOT NULL,
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, indicator, skill),
    CHECK ((indicator = '') <> (skill = '')),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX trends_player ON trends (academy_id, player_id, season_id);
CREATE INDEX trends_verdict ON trends (academy_id, verdict, season_id);

-- Everything recorded before there were trends is to be fitted.
INSERT INTO squad_seasons (academy_id, season_id, squad_id, revision, changed_at, fitted)
SELECT DISTINCT academy_id, season_id, squad_id, 1, strftime('%Y-%m-%d %H:%M:%f', 'now') || '+00:00', 0 FROM matches
WHERE squad_id IS NOT NULL AND deleted_at IS NULL;

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('squad_seasons', 'squad_seasons', '300 30 3 1'),
    ('squad_seasons', 'squad_seasons_squad', '300 30 10'),
    ('trends', 'trends', '100000 10000 3000 1000 40 1 1'),
    ('trends', 'trends_player', '100000 10000 40 40'),
    ('trends', 'trends_verdict', '100000 10000 1500 500');
