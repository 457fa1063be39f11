-- +goose Up
-- Whether the trends of a squad's season still stand on the data: revision counts the changes, fitted is the revision they were made from.
CREATE TABLE squad_seasons (
    academy_id bigint NOT NULL,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    revision   bigint NOT NULL CHECK (revision >= 1),
    changed_at timestamptz NOT NULL,
    fitted     bigint NOT NULL CHECK (fitted >= 0),
    PRIMARY KEY (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
);
CREATE INDEX squad_seasons_squad ON squad_seasons (academy_id, squad_id);

CREATE TABLE trends (
    academy_id bigint NOT NULL,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    player_id  bigint NOT NULL,
    indicator  text COLLATE "C" NOT NULL,
    skill      text COLLATE "C" NOT NULL,
    revision   bigint NOT NULL,
    made_at    timestamptz NOT NULL,
    figures    jsonb NOT NULL,
    verdict    text NOT NULL,
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, indicator, skill),
    CHECK ((indicator = '') <> (skill = '')),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX trends_player ON trends (academy_id, player_id, season_id);
CREATE INDEX trends_verdict ON trends (academy_id, verdict, season_id);

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['squad_seasons', 'trends'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
    END LOOP;
    GRANT SELECT, INSERT, UPDATE ON squad_seasons TO throughline_serving;
    GRANT SELECT, INSERT, DELETE ON trends TO throughline_serving; -- replaced as a whole
END
$$;
-- +goose StatementEnd

-- Everything recorded before there were trends is to be fitted. The owner is bound by row-level security too, so each academy in turn.
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        INSERT INTO squad_seasons (academy_id, season_id, squad_id, revision, changed_at, fitted)
        SELECT DISTINCT academy_id, season_id, squad_id, 1, now(), 0 FROM matches
        WHERE academy_id = academy AND squad_id IS NOT NULL AND deleted_at IS NULL;
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
END
$$;
-- +goose StatementEnd
