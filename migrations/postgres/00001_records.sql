-- +goose Up

-- Every row belongs to an academy, and every reference between rows is by (academy_id, id): no row can point into another academy. A row that
-- refers to another has its academy from there.
-- A row with deleted_at is hidden, not gone, so that uniqueness is among the others only. Text that is ordered by is so by code points, as
-- SQLite does, whatever the server's language.

CREATE TABLE academies (
    id   bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name text COLLATE "C" NOT NULL UNIQUE CHECK (name <> '')
);

CREATE TABLE seasons (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL REFERENCES academies (id),
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    name       text COLLATE "C" NOT NULL CHECK (name <> ''),
    starts     date NOT NULL,
    ends       date NOT NULL,
    UNIQUE (academy_id, id),
    CHECK (ends >= starts)
);
CREATE UNIQUE INDEX seasons_name ON seasons (academy_id, name) WHERE deleted_at IS NULL;

CREATE TABLE squads (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL REFERENCES academies (id),
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    name       text COLLATE "C" NOT NULL CHECK (name <> ''),
    age_band   integer NOT NULL CHECK (age_band >= 0),
    band_month integer NOT NULL CHECK (band_month BETWEEN 0 AND 12),
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX squads_name ON squads (academy_id, name) WHERE deleted_at IS NULL;

CREATE TABLE players (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL REFERENCES academies (id),
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    name       text COLLATE "C" NOT NULL CHECK (name <> ''),
    known_as   text NOT NULL,
    born_on    date,
    positions  jsonb,
    UNIQUE (academy_id, id)
);
CREATE INDEX players_name ON players (academy_id, name);

CREATE TABLE users (
    id            bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id    bigint NOT NULL REFERENCES academies (id),
    version       bigint NOT NULL CHECK (version >= 1),
    created_at    timestamptz NOT NULL,
    changed_at    timestamptz NOT NULL,
    deleted_at    timestamptz,
    login         text COLLATE "C" NOT NULL CHECK (login <> ''),
    name          text COLLATE "C" NOT NULL CHECK (name <> ''),
    role          text NOT NULL CHECK (role IN ('manager', 'coach', 'selector', 'player')),
    player_id     bigint,
    password_hash text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK ((role = 'player') = (player_id IS NOT NULL))
);
CREATE UNIQUE INDEX users_login ON users (login) WHERE deleted_at IS NULL; -- in the whole deployment
CREATE UNIQUE INDEX users_player ON users (academy_id, player_id) WHERE deleted_at IS NULL;

CREATE TABLE squad_staff (
    academy_id bigint NOT NULL,
    user_id    bigint NOT NULL,
    squad_id   bigint NOT NULL,
    PRIMARY KEY (academy_id, user_id, squad_id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
);
CREATE INDEX squad_staff_squad ON squad_staff (academy_id, squad_id);

CREATE TABLE access_tokens (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    user_id    bigint NOT NULL,
    label      text NOT NULL,
    hash       bytea NOT NULL CHECK (length(hash) = 32),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, user_id) REFERENCES users (academy_id, id)
);
CREATE UNIQUE INDEX access_tokens_hash ON access_tokens (hash);
CREATE INDEX access_tokens_user ON access_tokens (academy_id, user_id);

CREATE TABLE memberships (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    season_id  bigint NOT NULL,
    squad_id   bigint NOT NULL,
    player_id  bigint NOT NULL,
    from_date  date NOT NULL,
    until_date date,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK (until_date >= from_date)
);
CREATE INDEX memberships_player ON memberships (academy_id, player_id, season_id);
CREATE INDEX memberships_squad ON memberships (academy_id, squad_id, season_id);
CREATE INDEX memberships_season ON memberships (academy_id, season_id);

CREATE TABLE spells (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    status     text NOT NULL CHECK (status IN ('available', 'modified', 'unavailable')),
    from_date  date NOT NULL,
    until_date date,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    CHECK (until_date >= from_date)
);
CREATE INDEX spells_player ON spells (academy_id, player_id, from_date);

CREATE TABLE matches (
    id           bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id   bigint NOT NULL,
    version      bigint NOT NULL CHECK (version >= 1),
    created_at   timestamptz NOT NULL,
    changed_at   timestamptz NOT NULL,
    deleted_at   timestamptz,
    season_id    bigint NOT NULL,
    squad_id     bigint,
    other_team   text NOT NULL,
    date         date NOT NULL,
    opponent     text NOT NULL,
    venue        text CHECK (venue IN ('home', 'away', 'neutral')),
    difficulty   integer CHECK (difficulty BETWEEN 1 AND 5),
    competition  text NOT NULL,
    conditions   text NOT NULL,
    halves       integer NOT NULL CHECK (halves BETWEEN 1 AND 4),
    half_minutes integer NOT NULL CHECK (half_minutes BETWEEN 5 AND 40),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, season_id) REFERENCES seasons (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    CHECK ((squad_id IS NULL) = (other_team <> ''))
);
CREATE INDEX matches_season ON matches (academy_id, season_id, date);
CREATE INDEX matches_squad ON matches (academy_id, squad_id, season_id);

CREATE TABLE match_events (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    match_id   bigint NOT NULL,
    half       integer NOT NULL CHECK (half BETWEEN 1 AND 4),
    second     integer NOT NULL CHECK (second BETWEEN 0 AND 12000),
    kind       text NOT NULL,
    ours       boolean NOT NULL,
    player_id  bigint,
    off_id     bigint,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, off_id) REFERENCES players (academy_id, id)
);
CREATE INDEX match_events_match ON match_events (academy_id, match_id, half, second);
CREATE INDEX match_events_player ON match_events (academy_id, player_id) WHERE player_id IS NOT NULL;
CREATE INDEX match_events_off ON match_events (academy_id, off_id) WHERE off_id IS NOT NULL;

CREATE TABLE team_totals (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    match_id   bigint NOT NULL,
    scope      text COLLATE "C" NOT NULL CHECK (scope IN ('team', 'forwards', 'backs')),
    counts     jsonb,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id)
);
CREATE UNIQUE INDEX team_totals_scope ON team_totals (academy_id, match_id, scope) WHERE deleted_at IS NULL;

CREATE TABLE appearances (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    match_id   bigint NOT NULL,
    player_id  bigint NOT NULL,
    minutes    double precision NOT NULL CHECK (minutes > 0 AND minutes <= 160),
    started    boolean,
    shirt      integer CHECK (shirt BETWEEN 1 AND 99),
    position   text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE UNIQUE INDEX appearances_once ON appearances (academy_id, match_id, player_id) WHERE deleted_at IS NULL;
CREATE UNIQUE INDEX appearances_shirt ON appearances (academy_id, match_id, shirt) WHERE deleted_at IS NULL AND shirt IS NOT NULL;
CREATE INDEX appearances_player ON appearances (academy_id, player_id, match_id);

CREATE TABLE stints (
    id            bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id    bigint NOT NULL,
    appearance_id bigint NOT NULL,
    on_half       integer NOT NULL CHECK (on_half BETWEEN 1 AND 4),
    on_second     integer NOT NULL CHECK (on_second BETWEEN 0 AND 12000),
    off_half      integer NOT NULL CHECK (off_half BETWEEN 1 AND 4),
    off_second    integer NOT NULL CHECK (off_second BETWEEN 0 AND 12000),
    position      text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, appearance_id) REFERENCES appearances (academy_id, id),
    CHECK ((on_half, on_second) < (off_half, off_second))
);
CREATE INDEX stints_appearance ON stints (academy_id, appearance_id);

CREATE TABLE logs (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    match_id   bigint NOT NULL,
    player_id  bigint NOT NULL,
    logger_id  bigint NOT NULL,
    depth      text NOT NULL CHECK (depth IN ('core', 'full')),
    kinds      jsonb NOT NULL,
    covers     jsonb,
    finished   boolean NOT NULL,
    key        text COLLATE "C" NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, logger_id) REFERENCES users (academy_id, id)
);
CREATE UNIQUE INDEX logs_once ON logs (academy_id, match_id, player_id, logger_id) WHERE deleted_at IS NULL;
CREATE UNIQUE INDEX logs_key ON logs (academy_id, key) WHERE deleted_at IS NULL AND key <> '';
CREATE INDEX logs_match ON logs (academy_id, match_id, player_id);
CREATE INDEX logs_player ON logs (academy_id, player_id, match_id);

CREATE TABLE involvements (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    log_id     bigint NOT NULL,
    half       integer NOT NULL CHECK (half BETWEEN 1 AND 4),
    second     integer NOT NULL CHECK (second BETWEEN 0 AND 12000),
    kind       text NOT NULL,
    details    jsonb,
    measures   jsonb,
    results    jsonb,
    possession integer CHECK (possession >= 1),
    phase      integer CHECK (phase >= 1),
    linked_to  bigint,
    options    text NOT NULL,
    note       text NOT NULL,
    video_file text NOT NULL,
    video_from double precision,
    video_to   double precision,
    moment     boolean NOT NULL,
    key        text COLLATE "C" NOT NULL,
    UNIQUE (academy_id, id),
    UNIQUE (academy_id, log_id, id),
    FOREIGN KEY (academy_id, log_id) REFERENCES logs (academy_id, id),
    FOREIGN KEY (academy_id, log_id, linked_to) REFERENCES involvements (academy_id, log_id, id)
);
CREATE INDEX involvements_log ON involvements (academy_id, log_id, half, second);
CREATE INDEX involvements_linked ON involvements (academy_id, linked_to) WHERE linked_to IS NOT NULL;
CREATE UNIQUE INDEX involvements_key ON involvements (academy_id, log_id, key) WHERE deleted_at IS NULL AND key <> '';

CREATE TABLE match_totals (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    match_id   bigint NOT NULL,
    player_id  bigint NOT NULL,
    source     text NOT NULL,
    counts     jsonb,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE UNIQUE INDEX match_totals_once ON match_totals (academy_id, match_id, player_id) WHERE deleted_at IS NULL;
CREATE INDEX match_totals_player ON match_totals (academy_id, player_id, match_id);

-- Observations and carry cells follow from appearances, which refer to the match and the player. References of their own would
-- check nothing new and take most of the time of writing them.
CREATE TABLE observations (
    academy_id  bigint NOT NULL,
    player_id   bigint NOT NULL,
    match_id    bigint NOT NULL,
    indicator   text COLLATE "C" NOT NULL,
    numerator   double precision NOT NULL,
    denominator double precision NOT NULL CHECK (denominator > 0),
    source      text NOT NULL CHECK (source IN ('log', 'totals')),
    differs     double precision,
    PRIMARY KEY (academy_id, match_id, player_id, indicator)
);
CREATE INDEX observations_player ON observations (academy_id, player_id, match_id);

CREATE TABLE carry_cells (
    academy_id bigint NOT NULL,
    player_id  bigint NOT NULL,
    match_id   bigint NOT NULL,
    width      text COLLATE "C" NOT NULL,
    speed      text COLLATE "C" NOT NULL,
    zone       text COLLATE "C" NOT NULL,
    carries    double precision NOT NULL CHECK (carries > 0),
    metres     double precision NOT NULL,
    PRIMARY KEY (academy_id, match_id, player_id, width, speed, zone)
);
CREATE INDEX carry_cells_player ON carry_cells (academy_id, player_id, match_id);

CREATE TABLE skills (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL REFERENCES academies (id),
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    code       text COLLATE "C" NOT NULL CHECK (code <> ''),
    label      text NOT NULL,
    grades     jsonb NOT NULL,
    groups     jsonb,
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX skills_code ON skills (academy_id, code) WHERE deleted_at IS NULL;

CREATE TABLE indicators (
    id          bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id  bigint NOT NULL REFERENCES academies (id),
    version     bigint NOT NULL CHECK (version >= 1),
    created_at  timestamptz NOT NULL,
    changed_at  timestamptz NOT NULL,
    deleted_at  timestamptz,
    code        text COLLATE "C" NOT NULL CHECK (code <> ''),
    label       text NOT NULL,
    meaning     text NOT NULL,
    family      text NOT NULL CHECK (family IN ('rate', 'proportion', 'mean')),
    unit        text NOT NULL,
    numerator   text NOT NULL,
    denominator text NOT NULL,
    better      text NOT NULL CHECK (better IN ('higher', 'lower', 'neither')),
    depth       text NOT NULL CHECK (depth IN ('core', 'full')),
    groups      jsonb,
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX indicators_code ON indicators (academy_id, code) WHERE deleted_at IS NULL;

CREATE TABLE goals (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    owner_id   bigint NOT NULL,
    indicator  text NOT NULL,
    skill      text NOT NULL,
    set_on     date NOT NULL,
    by_date    date NOT NULL,
    baseline   double precision,
    target     double precision NOT NULL,
    why        text NOT NULL,
    actions    text NOT NULL,
    closed_on  date,
    outcome    text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, owner_id) REFERENCES users (academy_id, id),
    CHECK (by_date > set_on),
    CHECK ((indicator = '') <> (skill = ''))
);
CREATE INDEX goals_player ON goals (academy_id, player_id, set_on);
CREATE INDEX goals_indicator ON goals (academy_id, indicator);
CREATE INDEX goals_skill ON goals (academy_id, skill);

CREATE TABLE check_ins (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    goal_id    bigint NOT NULL,
    author_id  bigint NOT NULL,
    date       date NOT NULL,
    text       text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, goal_id) REFERENCES goals (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id)
);
CREATE INDEX check_ins_goal ON check_ins (academy_id, goal_id, date);

CREATE TABLE training_observations (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    coach_id   bigint NOT NULL,
    date       date NOT NULL,
    skill      text NOT NULL,
    goal_id    bigint,
    text       text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, coach_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, goal_id) REFERENCES goals (academy_id, id)
);
CREATE INDEX training_observations_player ON training_observations (academy_id, player_id, date);
CREATE INDEX training_observations_date ON training_observations (academy_id, date);
CREATE INDEX training_observations_skill ON training_observations (academy_id, skill);
CREATE INDEX training_observations_goal ON training_observations (academy_id, goal_id) WHERE goal_id IS NOT NULL;

CREATE TABLE ratings (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    rater_id   bigint NOT NULL,
    skill      text NOT NULL CHECK (skill <> ''),
    grade      integer NOT NULL CHECK (grade BETWEEN 1 AND 5),
    comment    text NOT NULL,
    date       date NOT NULL,
    match_id   bigint,
    block      text NOT NULL,
    self       boolean NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, rater_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    CHECK ((match_id IS NULL) = (block <> ''))
);
CREATE UNIQUE INDEX ratings_match ON ratings (academy_id, player_id, rater_id, skill, match_id)
    WHERE deleted_at IS NULL AND match_id IS NOT NULL;
CREATE UNIQUE INDEX ratings_block ON ratings (academy_id, player_id, rater_id, skill, date, block)
    WHERE deleted_at IS NULL AND match_id IS NULL;
CREATE INDEX ratings_player ON ratings (academy_id, player_id, date);
CREATE INDEX ratings_date ON ratings (academy_id, date);
CREATE INDEX ratings_of_match ON ratings (academy_id, match_id) WHERE match_id IS NOT NULL;
CREATE INDEX ratings_skill ON ratings (academy_id, skill);

CREATE TABLE review_notes (
    id             bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id     bigint NOT NULL,
    version        bigint NOT NULL CHECK (version >= 1),
    created_at     timestamptz NOT NULL,
    changed_at     timestamptz NOT NULL,
    deleted_at     timestamptz,
    player_id      bigint NOT NULL,
    author_id      bigint NOT NULL,
    date           date NOT NULL,
    match_id       bigint,
    involvement_id bigint,
    skill          text NOT NULL,
    goal_id        bigint,
    shared         boolean NOT NULL,
    text           text NOT NULL CHECK (text <> ''),
    follow_up      date,
    read_at        timestamptz,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, match_id) REFERENCES matches (academy_id, id),
    FOREIGN KEY (academy_id, involvement_id) REFERENCES involvements (academy_id, id),
    FOREIGN KEY (academy_id, goal_id) REFERENCES goals (academy_id, id)
);
CREATE INDEX review_notes_player ON review_notes (academy_id, player_id, date);
CREATE INDEX review_notes_date ON review_notes (academy_id, date);
CREATE INDEX review_notes_match ON review_notes (academy_id, match_id) WHERE match_id IS NOT NULL;
CREATE INDEX review_notes_involvement ON review_notes (academy_id, involvement_id) WHERE involvement_id IS NOT NULL;
CREATE INDEX review_notes_goal ON review_notes (academy_id, goal_id) WHERE goal_id IS NOT NULL;
CREATE INDEX review_notes_skill ON review_notes (academy_id, skill);

-- Who runs the migrations owns the tables; the program serves as throughline_serving, which can sign in nowhere and bypasses nothing.
-- Roles belong to the whole server: another database of it may be creating the same one at this moment.
-- +goose StatementBegin
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'throughline_serving') THEN
        CREATE ROLE throughline_serving NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS;
    END IF;
EXCEPTION
    WHEN duplicate_object OR unique_violation THEN
        NULL;
    WHEN insufficient_privilege THEN
        RAISE EXCEPTION 'the role throughline_serving does not exist and % may not create it', current_user
            USING HINT = format('As an administrator: CREATE ROLE throughline_serving NOLOGIN; GRANT throughline_serving TO %I;', current_user);
END
$$;
-- +goose StatementEnd

-- The owner must be a member, so that a program given the owner's address serves with the lesser role.
-- +goose StatementBegin
DO $$
BEGIN
    FOR attempt IN 1 .. 20 LOOP
        BEGIN
            IF NOT pg_has_role(current_user, 'throughline_serving', 'MEMBER') THEN
                EXECUTE format('GRANT throughline_serving TO %I', current_user);
            END IF;
            EXIT;
        EXCEPTION
            WHEN internal_error OR unique_violation THEN -- another database granted it at the same instant: look again
                IF attempt = 20 THEN
                    RAISE;
                END IF;
            WHEN insufficient_privilege OR invalid_grant_operation THEN
                RAISE EXCEPTION '% is not a member of throughline_serving and may not make itself one', current_user
                    USING HINT = format('As an administrator: GRANT throughline_serving TO %I;', current_user);
        END;
    END LOOP;
END
$$;
-- +goose StatementEnd

GRANT USAGE ON SCHEMA public TO throughline_serving;
GRANT SELECT ON goose_db_version TO throughline_serving;
GRANT SELECT, INSERT ON academies TO throughline_serving;

-- The academy is set for one transaction; where it is not, no row is visible and none can be written.
-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY[
        'seasons', 'squads', 'players', 'users', 'squad_staff', 'access_tokens', 'memberships', 'spells', 'matches', 'match_events',
        'team_totals', 'appearances', 'stints', 'logs', 'involvements', 'match_totals', 'observations', 'carry_cells', 'skills',
        'indicators', 'goals', 'check_ins', 'training_observations', 'ratings', 'review_notes'
    ] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO throughline_serving', name);
        -- What is only ever replaced as a whole is deleted for good; everything else is edited or hidden.
        IF name IN ('squad_staff', 'stints', 'observations', 'carry_cells') THEN
            EXECUTE format('GRANT DELETE ON %I TO throughline_serving', name);
        ELSE
            EXECUTE format('GRANT UPDATE ON %I TO throughline_serving', name);
        END IF;
    END LOOP;
    -- Rows that refer to each other are written many at a time, with ids drawn beforehand.
    FOREACH name IN ARRAY ARRAY['appearances', 'match_totals', 'logs', 'involvements'] LOOP
        EXECUTE format('GRANT USAGE ON SEQUENCE %s TO throughline_serving', pg_get_serial_sequence(name, 'id'));
    END LOOP;
END
$$;
-- +goose StatementEnd

-- Who signs in is looked up before the academy is known. These functions run as the owner, answer with two ids and nothing else; the
-- rows are then read within the academy. The owner alone is let past the academy for them, and for reading only.
CREATE POLICY lookup ON users FOR SELECT TO CURRENT_USER USING (true);
CREATE POLICY lookup ON access_tokens FOR SELECT TO CURRENT_USER USING (true);

-- +goose StatementBegin
CREATE FUNCTION user_by_login(wanted text) RETURNS TABLE (academy_id bigint, user_id bigint)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp
AS $$
    SELECT u.academy_id, u.id FROM public.users AS u WHERE u.login = wanted AND u.deleted_at IS NULL
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION user_by_token(wanted bytea) RETURNS TABLE (academy_id bigint, user_id bigint)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp
AS $$
    SELECT t.academy_id, t.user_id FROM public.access_tokens AS t WHERE t.hash = wanted AND t.deleted_at IS NULL
$$;
-- +goose StatementEnd

REVOKE ALL ON FUNCTION user_by_login(text), user_by_token(bytea) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION user_by_login(text), user_by_token(bytea) TO throughline_serving;
