-- +goose Up
-- A training session of a squad. Its season is the one that its day falls in.
CREATE TABLE training_sessions (
    id              bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id      bigint NOT NULL,
    version         bigint NOT NULL CHECK (version >= 1),
    created_at      timestamptz NOT NULL,
    changed_at      timestamptz NOT NULL,
    deleted_at      timestamptz,
    squad_id        bigint NOT NULL,
    date            date NOT NULL,
    start           text NOT NULL,
    minutes         integer NOT NULL CHECK (minutes BETWEEN 1 AND 300),
    purpose         text NOT NULL CHECK (purpose <> ''),
    contact         boolean NOT NULL,
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
    id              bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id      bigint NOT NULL,
    version         bigint NOT NULL CHECK (version >= 1),
    created_at      timestamptz NOT NULL,
    changed_at      timestamptz NOT NULL,
    deleted_at      timestamptz,
    session_id      bigint NOT NULL,
    player_id       bigint NOT NULL,
    status          text NOT NULL CHECK (status IN ('present', 'modified', 'absent')),
    minutes         integer CHECK (minutes BETWEEN 1 AND 300),
    without_contact boolean NOT NULL,
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
ALTER TABLE training_observations ADD COLUMN session_id bigint;
ALTER TABLE training_observations ADD COLUMN shared boolean NOT NULL DEFAULT true;
ALTER TABLE training_observations ALTER COLUMN shared DROP DEFAULT;
ALTER TABLE training_observations ADD FOREIGN KEY (academy_id, session_id)
    REFERENCES training_sessions (academy_id, id);
CREATE INDEX training_observations_session ON training_observations (academy_id, session_id)
    WHERE session_id IS NOT NULL;

-- What a limit of minutes counts: matches, or contact at training.
ALTER TABLE minutes_limits ADD COLUMN counts text NOT NULL DEFAULT 'matches'
    CHECK (counts IN ('matches', 'training_contact'));

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY['training_sessions', 'attendances'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = '
            'nullif(current_setting(''throughline.academy'', true), '''')::bigint)',
            name);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE ON %I TO throughline_serving', name);
    END LOOP;
END
$$;
-- +goose StatementEnd
GRANT DELETE ON attendances TO throughline_serving; -- of an erased player
GRANT USAGE ON SEQUENCE attendances_id_seq TO throughline_serving; -- a whole session draws its ids at once
