-- +goose Up
-- Keys by which the program seals what it hands out and gets back, such as the cursor of a list: the same for every server of the database, and
-- after a restart. Taking a row out makes what was sealed with it unreadable. They are of no academy; nobody but the owner and the serving role
-- reads them.
CREATE TABLE sealing_keys (
    name text PRIMARY KEY,
    key  bytea NOT NULL CHECK (length(key) = 32)
);
-- Four random UUIDs, of 122 random bits each, from the server's source of strong chance.
INSERT INTO sealing_keys (name, key) VALUES
    ('cursor', sha256(decode(replace(concat(gen_random_uuid(), gen_random_uuid(), gen_random_uuid(), gen_random_uuid()), '-', ''), 'hex')));
GRANT SELECT ON sealing_keys TO throughline_serving;

-- What lists are in the order of.
CREATE INDEX seasons_starts ON seasons (academy_id, starts);
CREATE INDEX memberships_from ON memberships (academy_id, from_date);
CREATE INDEX consents_on ON consents (academy_id, on_date);
