-- +goose Up
-- When a match kicks off, in local time; empty where it was not recorded.
ALTER TABLE matches ADD COLUMN kick_off TEXT NOT NULL DEFAULT '';

-- The steps of setting up that a manager has called done. An academy with settings has chosen its consents.
ALTER TABLE academy_settings ADD COLUMN setup_done TEXT;
UPDATE academy_settings SET setup_done = '["consents"]';
