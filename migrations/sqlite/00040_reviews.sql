-- +goose Up
-- Each squad's review cycle, in weeks; 0 is the usual six.
ALTER TABLE squads ADD COLUMN review_weeks integer NOT NULL DEFAULT 0 CHECK (review_weeks BETWEEN 0 AND 52);

-- A follow-up may be marked as done, and a note that was read may be changed afterwards.
ALTER TABLE review_notes ADD COLUMN followed_up_at datetime;
ALTER TABLE review_notes ADD COLUMN changed_since_read_at datetime;

-- What a coach writes to a player once in a squad's cycle. The lists are ids of review notes and of check-ins of the
-- same player.
CREATE TABLE reviews (
    id             integer PRIMARY KEY AUTOINCREMENT,
    academy_id     integer NOT NULL,
    version        integer NOT NULL CHECK (version >= 1),
    created_at     datetime NOT NULL,
    changed_at     datetime NOT NULL,
    deleted_at     datetime,
    player_id      integer NOT NULL,
    season_id      integer NOT NULL,
    squad_id       integer NOT NULL,
    author_id      integer NOT NULL,
    date           text NOT NULL,
    summary        text NOT NULL CHECK (summary <> ''),
    next_step      text NOT NULL,
    note_ids       text CHECK (json_valid(note_ids)),
    staff_note_ids text CHECK (json_valid(staff_note_ids)),
    check_in_ids   text CHECK (json_valid(check_in_ids)),
    shared         boolean NOT NULL CHECK (shared IN (0, 1)),
    follow_up      text,
    followed_up_at datetime,
    read_at        datetime,
    changed_since_read_at datetime,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    CHECK (NOT shared OR next_step <> '')
);
CREATE INDEX reviews_date ON reviews (academy_id, date);
CREATE INDEX reviews_player ON reviews (academy_id, player_id, date);
CREATE INDEX reviews_squad ON reviews (academy_id, squad_id, date);
CREATE INDEX reviews_season ON reviews (academy_id, season_id, date);

CREATE TABLE review_answers (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    version    integer NOT NULL CHECK (version >= 1),
    created_at datetime NOT NULL,
    changed_at datetime NOT NULL,
    deleted_at datetime,
    review_id  integer NOT NULL,
    author_id  integer NOT NULL,
    text       text NOT NULL CHECK (text <> ''),
    seen_by    integer,
    seen_at    datetime,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, review_id) REFERENCES reviews (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, seen_by) REFERENCES users (academy_id, id),
    CHECK ((seen_by IS NULL) = (seen_at IS NULL)),
    CHECK (seen_by <> author_id)
);
CREATE INDEX review_answers_review ON review_answers (academy_id, review_id);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('reviews', 'sqlite_autoindex_reviews_1', '5000 5000 1'),
    ('reviews', 'reviews_date', '5000 5000 15'),
    ('reviews', 'reviews_player', '5000 5000 5 1'),
    ('reviews', 'reviews_squad', '5000 5000 500 8'),
    ('reviews', 'reviews_season', '5000 5000 1000 15'),
    ('review_answers', 'sqlite_autoindex_review_answers_1', '5000 5000 1'),
    ('review_answers', 'review_answers_review', '5000 5000 2');
