-- +goose Up

-- Why a log goes on after a head contact. What it logs from then on counts for no figure.
ALTER TABLE logs ADD COLUMN logged_on_because text NOT NULL DEFAULT '';

-- The dangerous play that an involvement is marked with, such as a high tackle.
ALTER TABLE involvements ADD COLUMN dangers jsonb;
