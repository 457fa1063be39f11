-- +goose Up
-- What keeps people safe: what an academy decides for itself, consents, guardians, head contacts and stand-downs, limits of minutes, answers to
-- review notes, and whose record is kept after they left.
-- What an academy decides for itself; one row an academy, and none where it has decided nothing.
CREATE TABLE academy_settings (
    id               bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id       bigint NOT NULL REFERENCES academies (id),
    version          bigint NOT NULL CHECK (version >= 1),
    created_at       timestamptz NOT NULL,
    changed_at       timestamptz NOT NULL,
    deleted_at       timestamptz,
    retention_months integer NOT NULL CHECK (retention_months BETWEEN 0 AND 240),
    requires         jsonb,
    UNIQUE (academy_id, id)
);
CREATE UNIQUE INDEX academy_settings_once ON academy_settings (academy_id) WHERE deleted_at IS NULL;

CREATE TABLE consents (
    id           bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id   bigint NOT NULL,
    version      bigint NOT NULL CHECK (version >= 1),
    created_at   timestamptz NOT NULL,
    changed_at   timestamptz NOT NULL,
    deleted_at   timestamptz,
    player_id    bigint NOT NULL,
    purpose      text NOT NULL CHECK (purpose IN ('records', 'filming', 'staff_devices', 'selection')),
    given_by     text NOT NULL CHECK (given_by <> ''),
    relation     text NOT NULL CHECK (relation IN ('guardian', 'self')),
    on_date      date NOT NULL,
    until_date   date,
    withdrawn_on date,
    kept_at      text NOT NULL,
    recorded_by  bigint NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, recorded_by) REFERENCES users (academy_id, id),
    CHECK (until_date >= on_date),
    CHECK (withdrawn_on >= on_date)
);
CREATE INDEX consents_player ON consents (academy_id, player_id, purpose);

CREATE TABLE guardians (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    name       text COLLATE "C" NOT NULL CHECK (name <> ''),
    relation   text NOT NULL CHECK (relation <> ''),
    contact    text NOT NULL,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id)
);
CREATE INDEX guardians_player ON guardians (academy_id, player_id);

-- That a player took a blow to the head, or may have. There is no column for what it did to him, and there must be none.
CREATE TABLE head_contacts (
    id             bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id     bigint NOT NULL,
    version        bigint NOT NULL CHECK (version >= 1),
    created_at     timestamptz NOT NULL,
    changed_at     timestamptz NOT NULL,
    deleted_at     timestamptz,
    player_id      bigint NOT NULL,
    date           date NOT NULL,
    match_id       bigint,
    clock          jsonb,
    involvement_id bigint,
    match_event_id bigint,
    marked_by      bigint,
    medical_lead   text NOT NULL,
    told_by        bigint,
    told_at        timestamptz,
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
    id              bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id      bigint NOT NULL,
    version         bigint NOT NULL CHECK (version >= 1),
    created_at      timestamptz NOT NULL,
    changed_at      timestamptz NOT NULL,
    deleted_at      timestamptz,
    player_id       bigint NOT NULL,
    from_date       date NOT NULL,
    head_contact_id bigint,
    set_by          bigint NOT NULL,
    lifted_on       date,
    cleared_by      text NOT NULL,
    lifted_by       bigint,
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
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    name       text COLLATE "C" NOT NULL CHECK (name <> ''),
    squad_id   bigint,
    days       integer NOT NULL CHECK (days BETWEEN 0 AND 365),
    minutes    double precision NOT NULL CHECK (minutes > 0),
    warn_at    double precision NOT NULL CHECK (warn_at BETWEEN 0.5 AND 1),
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id)
);
CREATE UNIQUE INDEX minutes_limits_name ON minutes_limits (academy_id, name) WHERE deleted_at IS NULL;
CREATE INDEX minutes_limits_squad ON minutes_limits (academy_id, squad_id) WHERE squad_id IS NOT NULL;

CREATE TABLE note_answers (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    note_id    bigint NOT NULL,
    author_id  bigint NOT NULL,
    text       text NOT NULL CHECK (text <> ''),
    seen_by    bigint,
    seen_at    timestamptz,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, note_id) REFERENCES review_notes (academy_id, id),
    FOREIGN KEY (academy_id, author_id) REFERENCES users (academy_id, id),
    FOREIGN KEY (academy_id, seen_by) REFERENCES users (academy_id, id),
    CHECK ((seen_by IS NULL) = (seen_at IS NULL)),
    CHECK (seen_by <> author_id)
);
CREATE INDEX note_answers_note ON note_answers (academy_id, note_id);

CREATE TABLE retention_reviews (
    id          bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id  bigint NOT NULL,
    version     bigint NOT NULL CHECK (version >= 1),
    created_at  timestamptz NOT NULL,
    changed_at  timestamptz NOT NULL,
    deleted_at  timestamptz,
    player_id   bigint NOT NULL,
    keep_until  date NOT NULL,
    because     text NOT NULL CHECK (because <> ''),
    reviewer_id bigint,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, reviewer_id) REFERENCES users (academy_id, id)
);
CREATE INDEX retention_reviews_player ON retention_reviews (academy_id, player_id);

ALTER TABLE involvements ADD COLUMN head_contact boolean NOT NULL DEFAULT false;

-- +goose StatementBegin
DO $$
DECLARE
    name text;
BEGIN
    FOREACH name IN ARRAY ARRAY[
        'academy_settings', 'consents', 'guardians', 'head_contacts', 'stand_downs', 'minutes_limits', 'note_answers', 'retention_reviews'
    ] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
        EXECUTE format(
            'CREATE POLICY own_academy ON %I USING (academy_id = nullif(current_setting(''throughline.academy'', true), '''')::bigint)', name);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE ON %I TO throughline_serving', name);
    END LOOP;
END
$$;
-- +goose StatementEnd
