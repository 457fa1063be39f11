-- +goose Up
-- What a player is shown of one indicator or skill that others' figures have a part in, as it stood after a round of matches.
CREATE TABLE publications (
    academy_id bigint NOT NULL,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    player_id  bigint NOT NULL,
    indicator  text COLLATE "C" NOT NULL,
    skill      text COLLATE "C" NOT NULL,
    round      date NOT NULL,
    revision   bigint NOT NULL,
    made_at    timestamptz NOT NULL,
    figures    jsonb NOT NULL,
    covers     jsonb NOT NULL,
    PRIMARY KEY (academy_id, season_id, squad_id, player_id, indicator, skill),
    CHECK ((indicator = '') <> (skill = '')),
    FOREIGN KEY (academy_id, season_id, squad_id) REFERENCES squad_seasons (academy_id, season_id, squad_id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX publications_player ON publications (academy_id, player_id, season_id);

ALTER TABLE publications ENABLE ROW LEVEL SECURITY;
ALTER TABLE publications FORCE ROW LEVEL SECURITY;
CREATE POLICY own_academy ON publications USING (academy_id = nullif(current_setting('throughline.academy', true), '')::bigint);
GRANT SELECT, INSERT, UPDATE, DELETE ON publications TO throughline_serving;

-- Nothing is published of what was fitted before: every squad's season is fitted again. The owner is bound by row-level security too, so
-- each academy in turn.
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        UPDATE squad_seasons SET fitted = 0 WHERE academy_id = academy;
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
END
$$;
-- +goose StatementEnd
