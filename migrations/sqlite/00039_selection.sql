-- +goose Up
-- What coaches recommend for one meeting about one candidate.
CREATE TABLE recommendations (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    meeting_id integer NOT NULL,
    player_id  integer NOT NULL,
    author_id  integer NOT NULL,
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
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    meeting_id integer NOT NULL,
    player_id  integer,
    author_id  integer NOT NULL,
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
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    meeting_id integer NOT NULL,
    player_id  integer NOT NULL,
    place      text NOT NULL CHECK (place <> ''),
    decision   text NOT NULL CHECK (decision IN ('chosen', 'reserve', 'not_chosen', 'deferred')),
    date       text NOT NULL,
    text       text NOT NULL CHECK (text <> ''),
    told_on    text,
    told_by    integer,
    released   integer NOT NULL CHECK (released IN (0, 1)),
    released_at datetime,
    released_by integer,
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

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('recommendations', 'sqlite_autoindex_recommendations_1', '5000 5000 1'),
    ('recommendations', 'recommendations_meeting', '5000 5000 20'),
    ('recommendations', 'recommendations_player', '5000 5000 5'),
    ('recommendations', 'recommendations_author', '5000 5000 200'),
    ('recommendations', 'recommendations_once', '5000 5000 20 2 1'),
    ('corrections', 'sqlite_autoindex_corrections_1', '300 300 1'),
    ('corrections', 'corrections_meeting', '300 300 1'),
    ('corrections', 'corrections_author', '300 300 10'),
    ('corrections', 'corrections_player', '300 300 1'),
    ('feedback', 'feedback_told', '5000 5000 200'),
    ('feedback', 'feedback_by', '5000 5000 200'),
    ('feedback', 'sqlite_autoindex_feedback_1', '5000 5000 1'),
    ('feedback', 'feedback_meeting', '5000 5000 20'),
    ('feedback', 'feedback_player', '5000 5000 5 1');
