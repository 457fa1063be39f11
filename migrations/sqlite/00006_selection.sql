-- +goose Up

-- A round asks the coaches of a squad for grades of one match, or of one training block, until a day.
CREATE TABLE rating_rounds (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    name       text NOT NULL CHECK (name <> ''),
    date       text NOT NULL,
    match_id   integer,
    block      text NOT NULL,
    opens      text,
    closes     text NOT NULL,
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
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    date       text NOT NULL,
    purpose    text NOT NULL CHECK (purpose <> ''),
    status     text NOT NULL CHECK (status IN ('open', 'closed')),
    present    text CHECK (json_valid(present)),
    criteria   text CHECK (json_valid(criteria)),
    places     text CHECK (json_valid(places)),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
);
CREATE INDEX meetings_squad ON meetings (academy_id, squad_id, season_id);
CREATE INDEX meetings_season ON meetings (academy_id, season_id, date);

-- The candidates of a meeting are rows, not a list within it, so that all that is kept of a player is found by the player.
CREATE TABLE candidates (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    meeting_id integer NOT NULL,
    player_id  integer NOT NULL,
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

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('rating_rounds', 'sqlite_autoindex_rating_rounds_1', '1000 1000 1'),
    ('rating_rounds', 'rating_rounds_match', '700 700 70 1'),
    ('rating_rounds', 'rating_rounds_block', '300 300 30 1 1'),
    ('rating_rounds', 'rating_rounds_squad', '1000 1000 100 10'),
    ('rating_rounds', 'rating_rounds_season', '1000 1000 100 3'),
    ('rating_rounds', 'rating_rounds_of_match', '700 700 1'),
    ('rating_rounds', 'rating_rounds_of_block', '1000 1000 3 2'),
    ('meetings', 'sqlite_autoindex_meetings_1', '300 300 1'),
    ('meetings', 'meetings_squad', '300 300 30 3'),
    ('meetings', 'meetings_season', '300 300 30 1'),
    ('candidates', 'sqlite_autoindex_candidates_1', '5000 5000 1'),
    ('candidates', 'sqlite_autoindex_candidates_2', '5000 5000 20 1 1'),
    ('candidates', 'candidates_player', '5000 5000 5');
