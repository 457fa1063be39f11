-- +goose Up
-- A training session of a squad. Its season is the one that its day falls in.
CREATE TABLE training_sessions (
    id              integer PRIMARY KEY AUTOINCREMENT,
    academy_id      integer NOT NULL,
    version         integer NOT NULL CHECK (version >= 1),
    created_at      datetime NOT NULL,
    changed_at      datetime NOT NULL,
    deleted_at      datetime,
    squad_id        integer NOT NULL,
    date            text NOT NULL,
    start           text NOT NULL,
    minutes         integer NOT NULL CHECK (minutes BETWEEN 1 AND 300),
    purpose         text NOT NULL CHECK (purpose <> ''),
    contact         boolean NOT NULL CHECK (contact IN (0, 1)),
    contact_minutes integer CHECK (contact_minutes >= 1 AND contact_minutes <= minutes),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    CHECK (contact OR contact_minutes IS NULL)
);
CREATE INDEX training_sessions_date ON training_sessions (academy_id, date, start);
CREATE UNIQUE INDEX training_sessions_squad ON training_sessions (academy_id, squad_id, date, start)
    WHERE deleted_at IS NULL;

-- A player at a session, once for each. Where there is no row it was not recorded whether the player was there.
CREATE TABLE attendances (
    id              integer PRIMARY KEY AUTOINCREMENT,
    academy_id      integer NOT NULL,
    version         integer NOT NULL CHECK (version >= 1),
    created_at      datetime NOT NULL,
    changed_at      datetime NOT NULL,
    deleted_at      datetime,
    session_id      integer NOT NULL,
    player_id       integer NOT NULL,
    status          text NOT NULL CHECK (status IN ('present', 'modified', 'absent')),
    minutes         integer CHECK (minutes BETWEEN 1 AND 300),
    without_contact boolean NOT NULL CHECK (without_contact IN (0, 1)),
    reason          text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, session_id) REFERENCES training_sessions (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK (status <> 'absent' OR minutes IS NULL),
    CHECK (status = 'modified' OR NOT without_contact)
);
CREATE UNIQUE INDEX attendances_session ON attendances (academy_id, session_id, player_id) WHERE deleted_at IS NULL;
CREATE INDEX attendances_player ON attendances (academy_id, player_id);

-- An observation may be of a session, and may be for the staff only. Players could read all until now.
CREATE TABLE training_observations_new (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    coach_id   integer NOT NULL,
    date       text NOT NULL,
    session_id integer,
    skill      text NOT NULL,
    goal_id    integer,
    shared     boolean NOT NULL CHECK (shared IN (0, 1)),
    text       text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, coach_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, session_id) REFERENCES training_sessions (academy_id, id),
    FOREIGN KEY (academy_id, goal_id) REFERENCES goals (academy_id, id)
);
INSERT INTO training_observations_new (id, academy_id, version, created_at, changed_at, deleted_at, player_id, coach_id,
    date, skill, goal_id, shared, text)
    SELECT id, academy_id, version, created_at, changed_at, deleted_at, player_id, coach_id, date, skill, goal_id, 1,
    text
    FROM training_observations;
-- Ids of rows that were erased do not come again.
INSERT INTO sqlite_sequence (name, seq) SELECT 'training_observations_new', 0
    WHERE NOT EXISTS (SELECT 1 FROM sqlite_sequence WHERE name = 'training_observations_new');
UPDATE sqlite_sequence SET seq = max(seq, COALESCE((SELECT seq FROM sqlite_sequence
    WHERE name = 'training_observations'), 0)) WHERE name = 'training_observations_new';
DROP TABLE training_observations;
ALTER TABLE training_observations_new RENAME TO training_observations;
CREATE INDEX training_observations_player ON training_observations (academy_id, player_id, date);
CREATE INDEX training_observations_date ON training_observations (academy_id, date);
CREATE INDEX training_observations_skill ON training_observations (academy_id, skill);
CREATE INDEX training_observations_goal ON training_observations (academy_id, goal_id) WHERE goal_id IS NOT NULL;
CREATE INDEX training_observations_session ON training_observations (academy_id, session_id)
    WHERE session_id IS NOT NULL;

-- What a limit of minutes counts: matches, or contact at training.
ALTER TABLE minutes_limits ADD COLUMN counts text NOT NULL DEFAULT 'matches'
    CHECK (counts IN ('matches', 'training_contact'));

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('training_sessions', 'sqlite_autoindex_training_sessions_1', '5000 5000 1'),
    ('training_sessions', 'training_sessions_date', '5000 5000 5 2'),
    ('training_sessions', 'training_sessions_squad', '5000 5000 300 2 1'),
    ('attendances', 'sqlite_autoindex_attendances_1', '150000 150000 1'),
    ('attendances', 'attendances_session', '150000 150000 30 1'),
    ('attendances', 'attendances_player', '150000 150000 75'),
    ('training_observations', 'sqlite_autoindex_training_observations_1', '10000 10000 1'),
    ('training_observations', 'training_observations_player', '10000 10000 10 1'),
    ('training_observations', 'training_observations_date', '10000 10000 20'),
    ('training_observations', 'training_observations_skill', '10000 10000 1000'),
    ('training_observations', 'training_observations_goal', '5000 5000 5'),
    ('training_observations', 'training_observations_session', '8000 8000 5');
