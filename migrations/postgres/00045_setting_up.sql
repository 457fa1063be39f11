-- +goose Up
-- When a match kicks off, in local time; empty where it was not recorded.
ALTER TABLE matches ADD COLUMN kick_off text NOT NULL DEFAULT '';

-- The steps of setting up that a manager has called done. An academy with settings has chosen its consents.
ALTER TABLE academy_settings ADD COLUMN setup_done jsonb;
ALTER TABLE academy_settings NO FORCE ROW LEVEL SECURITY; -- the owner changes rows of all academies
UPDATE academy_settings SET setup_done = '["consents"]';
ALTER TABLE academy_settings FORCE ROW LEVEL SECURITY;
