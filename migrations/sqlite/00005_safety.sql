-- +goose Up
-- What keeps people safe: what an academy decides for itself, consents, guardians, head contacts and stand-downs, limits of minutes, answers to
-- review notes, and whose record is kept after they left.
-- What an academy decides for itself; one row an academy, and none where it has decided nothing.
CREATE TABLE academy_settings (
    id               integer PRIMARY KEY AUTOINCREMENT,
    academy_id       integer NOT NULL REFERENCES academies (id),
    version          integer NOT NULL CHECK (version >= 1),
    created_at       datetime NOT NULL,
    changed_at       datetime NOT NULL,
    deleted_at       datetime,
    retention_months integer NOT NULL CHECK (retention_months BETWEEN 0 AND 240),
    requires         text CHECK (json_valid(requires)),
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX academy_settings_once ON academy_settings (academy_id) WHERE deleted_at IS NULL;

CREATE TABLE consents (
    id           integer PRIMARY KEY AUTOINCREMENT,
    academy_id   integer NOT NULL,
    version      integer NOT NULL CHECK (version >= 1),
    created_at   datetime NOT NULL,
    changed_at   datetime NOT NULL,
    deleted_at   datetime,
    player_id    integer NOT NULL,
    purpose      text NOT NULL CHECK (purpose IN ('records', 'filming', 'staff_devices', 'selection')),
    given_by     text NOT NULL CHECK (given_by <> ''),
    relation     text NOT NULL CHECK (relation IN ('guardian', 'self')),
    on_date      text NOT NULL,
    until_date   text,
    withdrawn_on text,
    kept_at      text NOT NULL,
    recorded_by  integer NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, recorded_by) REFERENCES users (academy_id, id),
    CHECK (until_date >= on_date),
    CHECK (withdrawn_on >= on_date)
);
CREATE INDEX consents_player ON consents (academy_id, player_id, purpose);

CREATE TABLE guardians (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    player_id  integer NOT NULL,
    name       text NOT NULL CHECK (name <> ''),
    relation   text NOT NULL CHECK (relation <> ''),
    contact    text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX guardians_player ON guardians (academy_id, player_id);

-- That a player took a blow to the head, or may have. There is no column for what it did to him, and there must be none.
CREATE TABLE head_contacts (
    id             integer PRIMARY KEY AUTOINCREMENT,
    academy_id     integer NOT NULL,
    version        integer NOT NULL CHECK (version >= 1),
    created_at     datetime NOT NULL,
    changed_at     datetime NOT NULL,
    deleted_at     datetime,
    player_id      integer NOT NULL,
    date           text NOT NULL,
    match_id       integer,
    clock          text CHECK (json_valid(clock)),
    involvement_id integer,
    match_event_id integer,
    marked_by      integer,
    medical_lead   text NOT NULL,
    told_by        integer,
    told_at        datetime,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, involvement_id) REFERENCES involvements (academy_id, id),
    FOREIGN KEY (academy_id, match_event_id) REFERENCES match_events (academy_id, id),
    FOREIGN KEY (academy_id, marked_by) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, told_by) REFERENCES users (academy_id, id),
    CHECK ((told_at IS NULL) = (medical_lead = ''))
);
CREATE INDEX head_contacts_player ON head_contacts (academy_id, player_id, date);
CREATE INDEX head_contacts_match ON head_contacts (academy_id, match_id) WHERE match_id IS NOT NULL;
CREATE UNIQUE INDEX head_contacts_involvement ON head_contacts (academy_id, involvement_id) WHERE involvement_id IS NOT NULL;
CREATE UNIQUE INDEX head_contacts_event ON head_contacts (academy_id, match_event_id) WHERE match_event_id IS NOT NULL;

CREATE TABLE stand_downs (
    id              integer PRIMARY KEY AUTOINCREMENT,
    academy_id      integer NOT NULL,
    version         integer NOT NULL CHECK (version >= 1),
    created_at      datetime NOT NULL,
    changed_at      datetime NOT NULL,
    deleted_at      datetime,
    player_id       integer NOT NULL,
    from_date       text NOT NULL,
    head_contact_id integer,
    set_by          integer NOT NULL,
    lifted_on       text,
    cleared_by      text NOT NULL,
    lifted_by       integer,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, head_contact_id) REFERENCES head_contacts (academy_id, id),
    FOREIGN KEY (academy_id, set_by) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, lifted_by) REFERENCES users (academy_id, id),
    CHECK (lifted_on >= from_date),
    CHECK ((lifted_on IS NULL) = (cleared_by = ''))
);
CREATE INDEX stand_downs_player ON stand_downs (academy_id, player_id, from_date);
CREATE INDEX stand_downs_contact ON stand_downs (academy_id, head_contact_id) WHERE head_contact_id IS NOT NULL;

CREATE TABLE minutes_limits (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    name       text NOT NULL CHECK (name <> ''),
    squad_id   integer,
    days       integer NOT NULL CHECK (days BETWEEN 0 AND 365),
    minutes    real NOT NULL CHECK (minutes > 0),
    warn_at    real NOT NULL CHECK (warn_at BETWEEN 0.5 AND 1),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
);
CREATE UNIQUE INDEX minutes_limits_name ON minutes_limits (academy_id, name) WHERE deleted_at IS NULL;
CREATE INDEX minutes_limits_squad ON minutes_limits (academy_id, squad_id) WHERE squad_id IS NOT NULL;

CREATE TABLE note_answers (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    note_id    integer NOT NULL,
    author_id  integer NOT NULL,
    text       text NOT NULL CHECK (text <> ''),
    seen_by    integer,
    seen_at    datetime,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, note_id) REFERENCES review_notes (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, seen_by) REFERENCES users (academy_id, id),
    CHECK ((seen_by IS NULL) = (seen_at IS NULL)),
    CHECK (seen_by <> author_id)
);
CREATE INDEX note_answers_note ON note_answers (academy_id, note_id);

CREATE TABLE retention_reviews (
    id          integer PRIMARY KEY AUTOINCREMENT,
    academy_id  integer NOT NULL,
    version     integer NOT NULL CHECK (version >= 1),
    created_at  datetime NOT NULL,
    changed_at  datetime NOT NULL,
    deleted_at  datetime,
    player_id   integer NOT NULL,
    keep_until  text NOT NULL,
    because     text NOT NULL CHECK (because <> ''),
    reviewer_id integer,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, reviewer_id) REFERENCES users (academy_id, id)
);
CREATE INDEX retention_reviews_player ON retention_reviews (academy_id, player_id);

ALTER TABLE involvements ADD COLUMN head_contact boolean NOT NULL DEFAULT 0 CHECK (head_contact IN (0, 1));

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('academy_settings', 'sqlite_autoindex_academy_settings_1', '30 1 1'),
    ('academy_settings', 'academy_settings_once', '30 1'),
    ('consents', 'sqlite_autoindex_consents_1', '4000 4000 1'),
    ('consents', 'consents_player', '4000 4000 3 1'),
    ('guardians', 'sqlite_autoindex_guardians_1', '2000 2000 1'),
    ('guardians', 'guardians_player', '2000 2000 2'),
    ('head_contacts', 'sqlite_autoindex_head_contacts_1', '1000 1000 1'),
    ('head_contacts', 'head_contacts_player', '1000 1000 2 1'),
    ('head_contacts', 'head_contacts_match', '800 800 2'),
    ('head_contacts', 'head_contacts_involvement', '400 400 1'),
    ('head_contacts', 'head_contacts_event', '300 300 1'),
    ('stand_downs', 'sqlite_autoindex_stand_downs_1', '800 800 1'),
    ('stand_downs', 'stand_downs_player', '800 800 2 1'),
    ('stand_downs', 'stand_downs_contact', '700 700 1'),
    ('minutes_limits', 'sqlite_autoindex_minutes_limits_1', '100 100 1'),
    ('minutes_limits', 'minutes_limits_name', '100 100 1'),
    ('minutes_limits', 'minutes_limits_squad', '60 60 2'),
    ('note_answers', 'sqlite_autoindex_note_answers_1', '5000 5000 1'),
    ('note_answers', 'note_answers_note', '5000 5000 2'),
    ('retention_reviews', 'sqlite_autoindex_retention_reviews_1', '500 500 1'),
    ('retention_reviews', 'retention_reviews_player', '500 500 2');
