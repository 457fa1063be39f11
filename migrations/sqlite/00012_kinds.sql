-- +goose Up
-- Keys by which the program seals what it hands out and gets back, such as the cursor of a list: the same for every server of the database, and
-- after a restart. Taking a row out makes what was sealed with it unreadable.
CREATE TABLE sealing_keys (
    name text PRIMARY KEY,
    key  blob NOT NULL CHECK (length(key) = 32)
) WITHOUT ROWID;
INSERT INTO sealing_keys (name, key) VALUES ('cursor', randomblob(32));

-- What lists are in the order of.
CREATE INDEX seasons_starts ON seasons (academy_id, starts);
CREATE INDEX memberships_from ON memberships (academy_id, from_date);
CREATE INDEX consents_on ON consents (academy_id, on_date);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('sealing_keys', 'sealing_keys', '1 1'),
    ('seasons', 'seasons_starts', '100 10 1'),
    ('memberships', 'memberships_from', '3000 3000 30'),
    ('consents', 'consents_on', '4000 4000 20');
ANALYZE sqlite_schema;
