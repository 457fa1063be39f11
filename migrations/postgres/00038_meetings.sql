-- +goose Up
-- A meeting goes step by step: what is agreed is locked before the comparison opens, opening keeps a copy of the
-- evidence, and a closed record is followed only by corrections.
ALTER TABLE meetings DROP CONSTRAINT meetings_status_check;
ALTER TABLE meetings ADD COLUMN locked_at timestamptz;
ALTER TABLE meetings ADD COLUMN opened_at timestamptz;
ALTER TABLE meetings ADD COLUMN steps jsonb;
ALTER TABLE meetings ADD COLUMN revision bigint NOT NULL DEFAULT 0;
ALTER TABLE candidates ADD COLUMN insist boolean NOT NULL DEFAULT false;
ALTER TABLE candidates ADD COLUMN marks jsonb;

-- The draws behind a trend: the player's level now, in joint draws with the other players of the squad's season. They
-- are made and replaced with the trends. Every squad's season is fitted again for them.
CREATE TABLE trend_draws (
    academy_id bigint NOT NULL,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    indicator  text NOT NULL,
    skill      text NOT NULL,
    player_id  bigint NOT NULL,
    draws      bytea,
    selectors_draws bytea,
    PRIMARY KEY (academy_id, season_id, squad_id, indicator, skill, player_id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX trend_draws_player ON trend_draws (academy_id, player_id);
CREATE INDEX trend_draws_squad ON trend_draws (academy_id, squad_id);

-- The evidence on a candidate as it was when the comparison was opened, or when the candidate was added after that:
-- one row for each candidacy, so that it is erased with the player.
CREATE TABLE candidate_evidence (
    academy_id bigint NOT NULL,
    meeting_id bigint NOT NULL,
    player_id  bigint NOT NULL,
    place      text NOT NULL CHECK (place <> ''),
    frozen_at  timestamptz NOT NULL,
    late       boolean NOT NULL,
    revision   bigint NOT NULL,
    left_out   text NOT NULL,
    lines      jsonb,
    selectors_lines jsonb,
    PRIMARY KEY (academy_id, meeting_id, player_id, place),
    FOREIGN KEY (academy_id, meeting_id) REFERENCES meetings (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX candidate_evidence_player ON candidate_evidence (academy_id, player_id);

-- Who of the staff opened the season report of a player, once a day.
CREATE TABLE report_openings (
    academy_id bigint NOT NULL,
    player_id  bigint NOT NULL,
    season_id  bigint NOT NULL,
    user_id    bigint NOT NULL,
    opened_on  date NOT NULL,
    opened_at  timestamptz NOT NULL,
    PRIMARY KEY (academy_id, player_id, season_id, user_id, opened_on),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);
CREATE INDEX report_openings_season ON report_openings (academy_id, season_id);
CREATE INDEX report_openings_user ON report_openings (academy_id, user_id);

-- The owner is bound by row-level security too, so each academy in turn.
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
    name text;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        UPDATE meetings SET status = CASE WHEN jsonb_array_length(COALESCE(NULLIF(criteria, 'null'), '[]')) > 0
            AND jsonb_array_length(COALESCE(NULLIF(places, 'null'), '[]')) > 0
            AND EXISTS (SELECT 1 FROM candidates WHERE candidates.academy_id = meetings.academy_id
                AND candidates.meeting_id = meetings.id AND decision <> '') THEN 'opened' ELSE 'draft' END
            WHERE academy_id = academy AND status = 'open';
        UPDATE squad_seasons SET fitted = 0 WHERE academy_id = academy;
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
    FOREACH name IN ARRAY ARRAY['trend_draws', 'candidate_evidence', 'report_openings'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING '
            '(academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
    END LOOP;
    GRANT SELECT, INSERT, DELETE ON trend_draws, candidate_evidence, report_openings TO throughline_serving;
END
$$;
-- +goose StatementEnd
ALTER TABLE meetings ADD CONSTRAINT meetings_status_check
    CHECK (status IN ('draft', 'locked', 'opened', 'decided', 'closed'));
