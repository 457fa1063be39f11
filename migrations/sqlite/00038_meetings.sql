-- +goose Up
-- A meeting goes step by step: what is agreed is locked before the comparison opens, opening keeps a copy of the
-- evidence, and a closed record is followed only by corrections.
ALTER TABLE meetings ADD COLUMN step text NOT NULL DEFAULT 'draft'
    CHECK (step IN ('draft', 'locked', 'opened', 'decided', 'closed'));
ALTER TABLE meetings ADD COLUMN locked_at datetime;
ALTER TABLE meetings ADD COLUMN opened_at datetime;
ALTER TABLE meetings ADD COLUMN steps text CHECK (json_valid(steps));
ALTER TABLE meetings ADD COLUMN revision integer NOT NULL DEFAULT 0;
UPDATE meetings SET step = CASE WHEN status = 'closed' THEN 'closed'
    WHEN EXISTS (SELECT 1 FROM candidates WHERE candidates.academy_id = meetings.academy_id
        AND candidates.meeting_id = meetings.id AND decision <> '') THEN 'opened' ELSE 'draft' END;
UPDATE meetings SET step = 'draft' WHERE step = 'opened' AND (criteria IS NULL OR criteria IN ('null', '[]')
    OR places IS NULL OR places IN ('null', '[]'));
ALTER TABLE meetings DROP COLUMN status;
ALTER TABLE meetings RENAME COLUMN step TO status;
ALTER TABLE candidates ADD COLUMN insist integer NOT NULL DEFAULT 0 CHECK (insist IN (0, 1));
ALTER TABLE candidates ADD COLUMN marks text CHECK (json_valid(marks));

-- The draws behind a trend: the player's level now, in joint draws with the other players of the squad's season. They
-- are made and replaced with the trends. Every squad's season is fitted again for them.
CREATE TABLE trend_draws (
    academy_id integer NOT NULL,
    season_id  integer NOT NULL,
    squad_id   integer NOT NULL,
    indicator  text NOT NULL,
    skill      text NOT NULL,
    player_id  integer NOT NULL,
    draws      blob,
    selectors_draws blob,
    PRIMARY KEY (academy_id, season_id, squad_id, indicator, skill, player_id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX trend_draws_player ON trend_draws (academy_id, player_id);
CREATE INDEX trend_draws_squad ON trend_draws (academy_id, squad_id);
UPDATE squad_seasons SET fitted = 0;

-- The evidence on a candidate as it was when the comparison was opened, or when the candidate was added after that:
-- one row for each candidacy, so that it is erased with the player.
CREATE TABLE candidate_evidence (
    academy_id integer NOT NULL,
    meeting_id integer NOT NULL,
    player_id  integer NOT NULL,
    place      text NOT NULL CHECK (place <> ''),
    frozen_at  datetime NOT NULL,
    late       integer NOT NULL CHECK (late IN (0, 1)),
    revision   integer NOT NULL,
    left_out   text NOT NULL,
    lines      text CHECK (json_valid(lines)),
    selectors_lines text CHECK (json_valid(selectors_lines)),
    PRIMARY KEY (academy_id, meeting_id, player_id, place),
    FOREIGN KEY (academy_id, meeting_id) REFERENCES meetings (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX candidate_evidence_player ON candidate_evidence (academy_id, player_id);

-- Who of the staff opened the season report of a player, once a day.
CREATE TABLE report_openings (
    academy_id integer NOT NULL,
    player_id  integer NOT NULL,
    season_id  integer NOT NULL,
    user_id    integer NOT NULL,
    opened_on  text NOT NULL,
    opened_at  datetime NOT NULL,
    PRIMARY KEY (academy_id, player_id, season_id, user_id, opened_on),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
) WITHOUT ROWID;
CREATE INDEX report_openings_season ON report_openings (academy_id, season_id);
CREATE INDEX report_openings_user ON report_openings (academy_id, user_id);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('trend_draws', 'trend_draws', '40000 40000 4000 1300 40 40 1'),
    ('trend_draws', 'trend_draws_player', '40000 40000 40'),
    ('trend_draws', 'trend_draws_squad', '40000 40000 4000'),
    ('candidate_evidence', 'candidate_evidence', '5000 5000 20 1 1'),
    ('candidate_evidence', 'candidate_evidence_player', '5000 5000 5'),
    ('report_openings', 'report_openings', '20000 20000 40 20 5 1'),
    ('report_openings', 'report_openings_season', '20000 20000 2000'),
    ('report_openings', 'report_openings_user', '20000 20000 1000');
