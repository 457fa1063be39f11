-- +goose Up
-- The season reports of a squad in one file, for who asked for them: kept for a day.
CREATE TABLE report_packs (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    user_id    bigint NOT NULL,
    job_id     bigint NOT NULL,
    edition    text NOT NULL CHECK (edition <> ''),
    pdf        boolean NOT NULL,
    asked_at   timestamptz NOT NULL,
    done_at    timestamptz,
    until      timestamptz NOT NULL,
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
    academy_id bigint NOT NULL,
    pack_id    bigint NOT NULL,
    player_id  bigint NOT NULL,
    name       text NOT NULL,
    title      text NOT NULL,
    html       bytea,
    pdf        bytea,
    made_at    timestamptz,
    PRIMARY KEY (academy_id, pack_id, player_id),
    FOREIGN KEY (academy_id, pack_id) REFERENCES report_packs (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK ((made_at IS NULL) = (html IS NULL))
);
CREATE INDEX packed_reports_player ON packed_reports (academy_id, player_id);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['report_packs', 'packed_reports'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING '
            '(academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
    END LOOP;
    GRANT SELECT, INSERT, UPDATE, DELETE ON report_packs, packed_reports TO throughline_serving;
END
$$;
-- +goose StatementEnd
