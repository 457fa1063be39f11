-- +goose Up

-- Every row belongs to an academy, and every reference between rows is by (academy_id, id): no row can point into another academy. A row that
-- refers to another has its academy from there.
-- A row with deleted_at is hidden, not gone, so that uniqueness is among the others only. AUTOINCREMENT: an id is never given twice.
-- Times are text in UTC with microseconds, dates are ISO 8601 text.

CREATE TABLE academies (
    id   integer PRIMARY KEY AUTOINCREMENT,
    name text NOT NULL UNIQUE CHECK (name <> '')
);

CREATE TABLE seasons (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL REFERENCES academies (id),
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    name       text NOT NULL CHECK (name <> ''),
    starts     text NOT NULL,
    ends       text NOT NULL,
    UNIQUE (academy_id, id),
    CHECK (ends >= starts)
);
CREATE UNIQUE INDEX seasons_name ON seasons (academy_id, name) WHERE deleted_at IS NULL;

CREATE TABLE squads (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL REFERENCES academies (id),
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    name       text NOT NULL CHECK (name <> ''),
    age_band   integer NOT NULL CHECK (age_band >= 0),
    band_month integer NOT NULL CHECK (band_month BETWEEN 0 AND 12),
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX squads_name ON squads (academy_id, name) WHERE deleted_at IS NULL;

CREATE TABLE players (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL REFERENCES academies (id),
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    name       text NOT NULL CHECK (name <> ''),
    known_as   text NOT NULL,
    born_on    text,
    positions  text CHECK (json_valid(positions)),
    UNIQUE (academy_id, id)
);
CREATE INDEX players_name ON players (academy_id, name);

CREATE TABLE users (
    id            integer PRIMARY KEY AUTOINCREMENT,
    academy_id    integer NOT NULL REFERENCES academies (id),
    version       integer NOT NULL CHECK (version >= 1),
    created_at    datetime NOT NULL,
    changed_at    datetime NOT NULL,
    deleted_at    datetime,
    login         text NOT NULL CHECK (login <> ''),
    name          text NOT NULL CHECK (name <> ''),
    role          text NOT NULL CHECK (role IN ('manager', 'coach', 'selector', 'player')),
    player_id     integer,
    password_hash text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK ((role = 'player') = (player_id IS NOT NULL))
);
CREATE UNIQUE INDEX users_login ON users (login) WHERE deleted_at IS NULL; -- in the whole deployment
CREATE UNIQUE INDEX users_player ON users (academy_id, player_id) WHERE deleted_at IS NULL;

CREATE TABLE squad_staff (
    academy_id integer NOT NULL,
    user_id    integer NOT NULL,
    squad_id   integer NOT NULL,
    PRIMARY KEY (academy_id, user_id, squad_id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX squad_staff_squad ON squad_staff (academy_id, squad_id);

CREATE TABLE access_tokens (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    user_id    integer NOT NULL,
    label      text NOT NULL,
    hash       blob NOT NULL CHECK (length(hash) = 32),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);
CREATE UNIQUE INDEX access_tokens_hash ON access_tokens (hash);
CREATE INDEX access_tokens_user ON access_tokens (academy_id, user_id);

CREATE TABLE memberships (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    player_id  integer NOT NULL,
    from_date  text NOT NULL,
    until_date text,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK (until_date >= from_date)
);
CREATE INDEX memberships_player ON memberships (academy_id, player_id, season_id);
CREATE INDEX memberships_squad ON memberships (academy_id, squad_id, season_id);
CREATE INDEX memberships_season ON memberships (academy_id, season_id);

CREATE TABLE spells (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    status     text NOT NULL CHECK (status IN ('available', 'modified', 'unavailable')),
    from_date  text NOT NULL,
    until_date text,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK (until_date >= from_date)
);
CREATE INDEX spells_player ON spells (academy_id, player_id, from_date);

CREATE TABLE matches (
    id           integer PRIMARY KEY AUTOINCREMENT,
    academy_id   integer NOT NULL,
    version      integer NOT NULL CHECK (version >= 1),
    created_at   datetime NOT NULL,
    changed_at   datetime NOT NULL,
    deleted_at   datetime,
    season_id    integer NOT NULL,
    squad_id     integer,
    other_team   text NOT NULL,
    date         text NOT NULL,
    opponent     text NOT NULL,
    venue        text CHECK (venue IN ('home', 'away', 'neutral')),
    difficulty   integer CHECK (difficulty BETWEEN 1 AND 5),
    competition  text NOT NULL,
    conditions   text NOT NULL,
    halves       integer NOT NULL CHECK (halves BETWEEN 1 AND 4),
    half_minutes integer NOT NULL CHECK (half_minutes BETWEEN 5 AND 40),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    CHECK ((squad_id IS NULL) = (other_team <> ''))
);
CREATE INDEX matches_season ON matches (academy_id, season_id, date);
CREATE INDEX matches_squad ON matches (academy_id, squad_id, season_id);

CREATE TABLE match_events (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    match_id   integer NOT NULL,
    half       integer NOT NULL CHECK (half BETWEEN 1 AND 4),
    second     integer NOT NULL CHECK (second BETWEEN 0 AND 12000),
    kind       text NOT NULL,
    ours       boolean NOT NULL CHECK (ours IN (0, 1)),
    player_id  integer,
    off_id     integer,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, off_id) REFERENCES players (academy_id, id)
);
CREATE INDEX match_events_match ON match_events (academy_id, match_id, half, second);
CREATE INDEX match_events_player ON match_events (academy_id, player_id) WHERE player_id IS NOT NULL;
CREATE INDEX match_events_off ON match_events (academy_id, off_id) WHERE off_id IS NOT NULL;

CREATE TABLE team_totals (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    match_id   integer NOT NULL,
    scope      text NOT NULL CHECK (scope IN ('team', 'forwards', 'backs')),
    counts     text CHECK (json_valid(counts)),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id)
);
CREATE UNIQUE INDEX team_totals_scope ON team_totals (academy_id, match_id, scope) WHERE deleted_at IS NULL;

CREATE TABLE appearances (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    match_id   integer NOT NULL,
    player_id  integer NOT NULL,
    minutes    real NOT NULL CHECK (minutes > 0 AND minutes <= 160),
    started    boolean CHECK (started IN (0, 1)),
    shirt      integer CHECK (shirt BETWEEN 1 AND 99),
    position   text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE UNIQUE INDEX appearances_once ON appearances (academy_id, match_id, player_id) WHERE deleted_at IS NULL;
CREATE UNIQUE INDEX appearances_shirt ON appearances (academy_id, match_id, shirt) WHERE deleted_at IS NULL AND shirt IS NOT NULL;
CREATE INDEX appearances_player ON appearances (academy_id, player_id, match_id);

CREATE TABLE stints (
    id            integer PRIMARY KEY AUTOINCREMENT,
    academy_id    integer NOT NULL,
    appearance_id integer NOT NULL,
    on_half       integer NOT NULL CHECK (on_half BETWEEN 1 AND 4),
    on_second     integer NOT NULL CHECK (on_second BETWEEN 0 AND 12000),
    off_half      integer NOT NULL CHECK (off_half BETWEEN 1 AND 4),
    off_second    integer NOT NULL CHECK (off_second BETWEEN 0 AND 12000),
    position      text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, appearance_id) REFERENCES appearances (academy_id, id),
    CHECK ((on_half, on_second) < (off_half, off_second))
);
CREATE INDEX stints_appearance ON stints (academy_id, appearance_id);

CREATE TABLE logs (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    match_id   integer NOT NULL,
    player_id  integer NOT NULL,
    logger_id  integer NOT NULL,
    depth      text NOT NULL CHECK (depth IN ('core', 'full')),
    kinds      text NOT NULL CHECK (json_valid(kinds)),
    covers     text CHECK (json_valid(covers)),
    finished   boolean NOT NULL CHECK (finished IN (0, 1)),
    key        text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, logger_id) REFERENCES users (academy_id, id)
);
CREATE UNIQUE INDEX logs_once ON logs (academy_id, match_id, player_id, logger_id) WHERE deleted_at IS NULL;
CREATE UNIQUE INDEX logs_key ON logs (academy_id, key) WHERE deleted_at IS NULL AND key <> '';
CREATE INDEX logs_match ON logs (academy_id, match_id, player_id);
CREATE INDEX logs_player ON logs (academy_id, player_id, match_id);

CREATE TABLE involvements (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    log_id     integer NOT NULL,
    half       integer NOT NULL CHECK (half BETWEEN 1 AND 4),
    second     integer NOT NULL CHECK (second BETWEEN 0 AND 12000),
    kind       text NOT NULL,
    details    text CHECK (json_valid(details)),
    measures   text CHECK (json_valid(measures)),
    results    text CHECK (json_valid(results)),
    possession integer CHECK (possession >= 1),
    phase      integer CHECK (phase >= 1),
    linked_to  integer,
    options    text NOT NULL,
    note       text NOT NULL,
    video_file text NOT NULL,
    video_from real,
    video_to   real,
    moment     boolean NOT NULL CHECK (moment IN (0, 1)),
    key        text NOT NULL,
    UNIQUE (academy_id, id),
    UNIQUE (academy_id, log_id, id),
    FOREIGN KEY (academy_id, log_id) REFERENCES logs (academy_id, id),
    FOREIGN KEY (academy_id, log_id, linked_to) REFERENCES involvements (academy_id, log_id, id)
);
CREATE INDEX involvements_log ON involvements (academy_id, log_id, half, second);
CREATE INDEX involvements_linked ON involvements (academy_id, linked_to) WHERE linked_to IS NOT NULL;
CREATE UNIQUE INDEX involvements_key ON involvements (academy_id, log_id, key) WHERE deleted_at IS NULL AND key <> '';

CREATE TABLE match_totals (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    match_id   integer NOT NULL,
    player_id  integer NOT NULL,
    source     text NOT NULL,
    counts     text CHECK (json_valid(counts)),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE UNIQUE INDEX match_totals_once ON match_totals (academy_id, match_id, player_id) WHERE deleted_at IS NULL;
CREATE INDEX match_totals_player ON match_totals (academy_id, player_id, match_id);

-- Observations and carry cells follow from appearances, which refer to the match and the player. References of their own would
-- check nothing new and take most of the time of writing them.
CREATE TABLE observations (
    academy_id  integer NOT NULL,
    player_id   integer NOT NULL,
    match_id    integer NOT NULL,
    indicator   text NOT NULL,
    numerator   real NOT NULL,
    denominator real NOT NULL CHECK (denominator > 0),
    source      text NOT NULL CHECK (source IN ('log', 'totals')),
    differs     real,
    PRIMARY KEY (academy_id, match_id, player_id, indicator)
) WITHOUT ROWID;
CREATE INDEX observations_player ON observations (academy_id, player_id, match_id);

CREATE TABLE carry_cells (
    academy_id integer NOT NULL,
    player_id  integer NOT NULL,
    match_id   integer NOT NULL,
    width      text NOT NULL,
    speed      text NOT NULL,
    zone       text NOT NULL,
    carries    real NOT NULL CHECK (carries > 0),
    metres     real NOT NULL,
    PRIMARY KEY (academy_id, match_id, player_id, width, speed, zone)
) WITHOUT ROWID;
CREATE INDEX carry_cells_player ON carry_cells (academy_id, player_id, match_id);

CREATE TABLE skills (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL REFERENCES academies (id),
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    code       text NOT NULL CHECK (code <> ''),
    label      text NOT NULL,
    grades     text NOT NULL CHECK (json_valid(grades)),
    groups     text CHECK (json_valid(groups)),
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX skills_code ON skills (academy_id, code) WHERE deleted_at IS NULL;

CREATE TABLE indicators (
    id          integer PRIMARY KEY AUTOINCREMENT,
    academy_id  integer NOT NULL REFERENCES academies (id),
    version     integer NOT NULL CHECK (version >= 1),
    created_at  datetime NOT NULL,
    changed_at  datetime NOT NULL,
    deleted_at  datetime,
    code        text NOT NULL CHECK (code <> ''),
    label       text NOT NULL,
    meaning     text NOT NULL,
    family      text NOT NULL CHECK (family IN ('rate', 'proportion', 'mean')),
    unit        text NOT NULL,
    numerator   text NOT NULL,
    denominator text NOT NULL,
    better      text NOT NULL CHECK (better IN ('higher', 'lower', 'neither')),
    depth       text NOT NULL CHECK (depth IN ('core', 'full')),
    groups      text CHECK (json_valid(groups)),
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX indicators_code ON indicators (academy_id, code) WHERE deleted_at IS NULL;

CREATE TABLE goals (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    owner_id   integer NOT NULL,
    indicator  text NOT NULL,
    skill      text NOT NULL,
    set_on     text NOT NULL,
    by_date    text NOT NULL,
    baseline   real,
    target     real NOT NULL,
    why        text NOT NULL,
    actions    text NOT NULL,
    closed_on  text,
    outcome    text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, owner_id) REFERENCES users (academy_id, id),
    CHECK (by_date > set_on),
    CHECK ((indicator = '') <> (skill = ''))
);
CREATE INDEX goals_player ON goals (academy_id, player_id, set_on);
CREATE INDEX goals_indicator ON goals (academy_id, indicator);
CREATE INDEX goals_skill ON goals (academy_id, skill);

CREATE TABLE check_ins (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    goal_id    integer NOT NULL,
    author_id  integer NOT NULL,
    date       text NOT NULL,
    text       text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, goal_id) REFERENCES goals (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id)
);
CREATE INDEX check_ins_goal ON check_ins (academy_id, goal_id, date);

CREATE TABLE training_observations (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    coach_id   integer NOT NULL,
    date       text NOT NULL,
    skill      text NOT NULL,
    goal_id    integer,
    text       text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, coach_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, goal_id) REFERENCES goals (academy_id, id)
);
CREATE INDEX training_observations_player ON training_observations (academy_id, player_id, date);
CREATE INDEX training_observations_date ON training_observations (academy_id, date);
CREATE INDEX training_observations_skill ON training_observations (academy_id, skill);
CREATE INDEX training_observations_goal ON training_observations (academy_id, goal_id) WHERE goal_id IS NOT NULL;

CREATE TABLE ratings (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    rater_id   integer NOT NULL,
    skill      text NOT NULL CHECK (skill <> ''),
    grade      integer NOT NULL CHECK (grade BETWEEN 1 AND 5),
    comment    text NOT NULL,
    date       text NOT NULL,
    match_id   integer,
    block      text NOT NULL,
    self       boolean NOT NULL CHECK (self IN (0, 1)),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, rater_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    CHECK ((match_id IS NULL) = (block <> ''))
);
CREATE UNIQUE INDEX ratings_match ON ratings (academy_id, player_id, rater_id, skill, match_id)
    WHERE deleted_at IS NULL AND match_id IS NOT NULL;
CREATE UNIQUE INDEX ratings_block ON ratings (academy_id, player_id, rater_id, skill, date, block)
    WHERE deleted_at IS NULL AND match_id IS NULL;
CREATE INDEX ratings_player ON ratings (academy_id, player_id, date);
CREATE INDEX ratings_date ON ratings (academy_id, date);
CREATE INDEX ratings_of_match ON ratings (academy_id, match_id) WHERE match_id IS NOT NULL;
CREATE INDEX ratings_skill ON ratings (academy_id, skill);

CREATE TABLE review_notes (
    id             integer PRIMARY KEY AUTOINCREMENT,
    academy_id     integer NOT NULL,
    version        integer NOT NULL CHECK (version >= 1),
    created_at     datetime NOT NULL,
    changed_at     datetime NOT NULL,
    deleted_at     datetime,
    player_id      integer NOT NULL,
    author_id      integer NOT NULL,
    date           text NOT NULL,
    match_id       integer,
    involvement_id integer,
    skill          text NOT NULL,
    goal_id        integer,
    shared         boolean NOT NULL CHECK (shared IN (0, 1)),
    text           text NOT NULL CHECK (text <> ''),
    follow_up      text,
    read_at        datetime,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, involvement_id) REFERENCES involvements (academy_id, id),
    FOREIGN KEY (academy_id, goal_id) REFERENCES goals (academy_id, id)
);
CREATE INDEX review_notes_player ON review_notes (academy_id, player_id, date);
CREATE INDEX review_notes_date ON review_notes (academy_id, date);
CREATE INDEX review_notes_match ON review_notes (academy_id, match_id) WHERE match_id IS NOT NULL;
CREATE INDEX review_notes_involvement ON review_notes (academy_id, involvement_id) WHERE involvement_id IS NOT NULL;
CREATE INDEX review_notes_goal ON review_notes (academy_id, goal_id) WHERE goal_id IS NOT NULL;
CREATE INDEX review_notes_skill ON review_notes (academy_id, skill);

-- SQLite plans by what it knows of each index. Without any figures it takes one academy for a small part of a table and walks through all of
-- its rows; with these, which are those of ten seasons of one academy (of the small tables: of ten), it goes by match, player or log. They
-- are fixed, so that plans are the same everywhere and tests can read them. A figure is the number of rows, then of rows that agree in the first column, in the first two, …
ANALYZE;
DELETE FROM sqlite_stat1;
INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('academies', 'sqlite_autoindex_academies_1', '2 1'),
    ('seasons', 'sqlite_autoindex_seasons_1', '100 10 1'),
    ('seasons', 'seasons_name', '100 10 1'),
    ('squads', 'sqlite_autoindex_squads_1', '100 10 1'),
    ('squads', 'squads_name', '100 10 1'),
    ('players', 'sqlite_autoindex_players_1', '1000 1000 1'),
    ('players', 'players_name', '1000 1000 1'),
    ('users', 'sqlite_autoindex_users_1', '1000 100 1'),
    ('users', 'users_login', '1000 1'),
    ('users', 'users_player', '900 90 1'),
    ('squad_staff', 'squad_staff', '300 30 3 1'),
    ('squad_staff', 'squad_staff_squad', '300 30 5'),
    ('access_tokens', 'sqlite_autoindex_access_tokens_1', '1000 100 1'),
    ('access_tokens', 'access_tokens_hash', '1000 1'),
    ('access_tokens', 'access_tokens_user', '1000 100 2'),
    ('memberships', 'sqlite_autoindex_memberships_1', '3000 3000 1'),
    ('memberships', 'memberships_player', '3000 3000 3 1'),
    ('memberships', 'memberships_squad', '3000 3000 300 30'),
    ('memberships', 'memberships_season', '3000 3000 300'),
    ('spells', 'sqlite_autoindex_spells_1', '3000 3000 1'),
    ('spells', 'spells_player', '3000 3000 3 1'),
    ('matches', 'sqlite_autoindex_matches_1', '1000 1000 1'),
    ('matches', 'matches_season', '1000 1000 100 3'),
    ('matches', 'matches_squad', '1000 1000 100 20'),
    ('match_events', 'sqlite_autoindex_match_events_1', '15000 15000 1'),
    ('match_events', 'match_events_match', '15000 15000 15 8 1'),
    ('match_events', 'match_events_player', '10000 10000 10'),
    ('match_events', 'match_events_off', '5000 5000 10'),
    ('team_totals', 'sqlite_autoindex_team_totals_1', '3000 3000 1'),
    ('team_totals', 'team_totals_scope', '3000 3000 3 1'),
    ('appearances', 'sqlite_autoindex_appearances_1', '23000 23000 1'),
    ('appearances', 'appearances_once', '23000 23000 23 1'),
    ('appearances', 'appearances_shirt', '23000 23000 23 1'),
    ('appearances', 'appearances_player', '23000 23000 23 1'),
    ('stints', 'sqlite_autoindex_stints_1', '30000 30000 1'),
    ('stints', 'stints_appearance', '30000 30000 2'),
    ('logs', 'sqlite_autoindex_logs_1', '8000 8000 1'),
    ('logs', 'logs_once', '8000 8000 8 1 1'),
    ('logs', 'logs_key', '8000 8000 1'),
    ('logs', 'logs_match', '8000 8000 8 1'),
    ('logs', 'logs_player', '8000 8000 8 1'),
    ('involvements', 'sqlite_autoindex_involvements_1', '400000 400000 1'),
    ('involvements', 'sqlite_autoindex_involvements_2', '400000 400000 50 1'),
    ('involvements', 'involvements_log', '400000 400000 50 25 1'),
    ('involvements', 'involvements_linked', '20000 20000 1'),
    ('involvements', 'involvements_key', '400000 400000 50 1'),
    ('match_totals', 'sqlite_autoindex_match_totals_1', '20000 20000 1'),
    ('match_totals', 'match_totals_once', '20000 20000 20 1'),
    ('match_totals', 'match_totals_player', '20000 20000 20 1'),
    ('observations', 'observations', '500000 500000 500 25 1'),
    ('observations', 'observations_player', '500000 500000 500 25'),
    ('carry_cells', 'carry_cells', '100000 100000 100 10 5 2 1'),
    ('carry_cells', 'carry_cells_player', '100000 100000 100 10'),
    ('skills', 'sqlite_autoindex_skills_1', '100 10 1'),
    ('skills', 'skills_code', '100 10 1'),
    ('indicators', 'sqlite_autoindex_indicators_1', '100 10 1'),
    ('indicators', 'indicators_code', '100 10 1'),
    ('goals', 'sqlite_autoindex_goals_1', '2000 2000 1'),
    ('goals', 'goals_player', '2000 2000 3 1'),
    ('goals', 'goals_indicator', '2000 2000 100'),
    ('goals', 'goals_skill', '2000 2000 200'),
    ('check_ins', 'sqlite_autoindex_check_ins_1', '5000 5000 1'),
    ('check_ins', 'check_ins_goal', '5000 5000 3 1'),
    ('training_observations', 'sqlite_autoindex_training_observations_1', '10000 10000 1'),
    ('training_observations', 'training_observations_player', '10000 10000 10 1'),
    ('training_observations', 'training_observations_date', '10000 10000 20'),
    ('training_observations', 'training_observations_skill', '10000 10000 1000'),
    ('training_observations', 'training_observations_goal', '5000 5000 5'),
    ('ratings', 'sqlite_autoindex_ratings_1', '40000 40000 1'),
    ('ratings', 'ratings_match', '30000 30000 40 10 2 1'),
    ('ratings', 'ratings_block', '10000 10000 40 10 2 1 1'),
    ('ratings', 'ratings_player', '40000 40000 40 5'),
    ('ratings', 'ratings_date', '40000 40000 100'),
    ('ratings', 'ratings_of_match', '30000 30000 50'),
    ('ratings', 'ratings_skill', '40000 40000 4000'),
    ('review_notes', 'sqlite_autoindex_review_notes_1', '10000 10000 1'),
    ('review_notes', 'review_notes_player', '10000 10000 10 1'),
    ('review_notes', 'review_notes_date', '10000 10000 30'),
    ('review_notes', 'review_notes_match', '6000 6000 10'),
    ('review_notes', 'review_notes_involvement', '4000 4000 2'),
    ('review_notes', 'review_notes_goal', '2000 2000 2'),
    ('review_notes', 'review_notes_skill', '10000 10000 1000');
ANALYZE sqlite_schema;
