-- +goose Up
-- Where a goal's starting value is from, which questions its coach has answered, and how it ended. A check-in may be
-- for staff only; so far the player has read every one. Chances to reach a goal now say which target and day they are
-- for, so every squad's season is fitted again.
ALTER TABLE goals ADD COLUMN baseline_reason text NOT NULL DEFAULT '';
ALTER TABLE goals ADD COLUMN baseline_80 text CHECK (json_valid(baseline_80));
ALTER TABLE goals ADD COLUMN baseline_on text;
ALTER TABLE goals ADD COLUMN baseline_revision integer NOT NULL DEFAULT 0;
ALTER TABLE goals ADD COLUMN insist text CHECK (json_valid(insist));
ALTER TABLE goals ADD COLUMN insist_reason text NOT NULL DEFAULT '';
ALTER TABLE goals ADD COLUMN result text NOT NULL DEFAULT '' CHECK (result IN ('', 'met', 'not_met', 'dropped'));
ALTER TABLE check_ins ADD COLUMN shared boolean NOT NULL DEFAULT 1 CHECK (shared IN (0, 1));
CREATE INDEX goals_owner ON goals (academy_id, owner_id) WHERE closed_on IS NULL;
INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES ('goals', 'goals_owner', '500 500 20');
ANALYZE sqlite_schema;
UPDATE squad_seasons SET fitted = 0;
