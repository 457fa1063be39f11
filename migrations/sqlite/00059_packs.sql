-- +goose Up
-- The season reports of a squad in one file, for who asked for them: kept for a day.
CREATE TABLE report_packs (
    id         integer PRIMARY KEY AUTOINCREMENT,
    academy_id integer NOT NULL,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    user_id    integer NOT NULL,
    job_id     integer NOT NULL,
    edition    text NOT NULL CHECK (edition <> ''),
    pdf        boolean NOT NULL,
    asked_at   datetime NOT NULL,
    done_at    datetime,
    until      datetime NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);
CREATE UNIQUE INDEX report_packs_user ON report_packs (academy_id, user_id, season_id, squad_id);
CREATE INDEX report_packs_season ON report_packs (academy_id, season_id);
CREATE INDEX report_packs_squad ON report_packs (academy_id, squad_id);

-- A row for each player from the beginning, which is filled when the report is made.
CREATE TABLE packed_reports (
    academy_id integer NOT NULL,
    pack_id    integer NOT NULL,
    player_id  integer NOT NULL,
    name       text NOT NULL,
    title      text NOT NULL,
    made_at    datetime,
    html       blob,
    pdf        blob,
    PRIMARY KEY (academy_id, pack_id, player_id),
    FOREIGN KEY (academy_id, pack_id) REFERENCES report_packs (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK ((made_at IS NULL) = (html IS NULL))
) WITHOUT ROWID;
CREATE INDEX packed_reports_player ON packed_reports (academy_id, player_id);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('report_packs', 'sqlite_autoindex_report_packs_1', '20 20 1'),
    ('report_packs', 'report_packs_user', '20 20 2 1 1'),
    ('report_packs', 'report_packs_season', '20 20 10'),
    ('report_packs', 'report_packs_squad', '20 20 5'),
    ('packed_reports', 'packed_reports', '800 800 40 1'),
    ('packed_reports', 'packed_reports_player', '800 800 4');
