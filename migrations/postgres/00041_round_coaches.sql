-- +goose Up
-- A rating round may name the coaches who owe grades, each with the players they grade, and the first day of its block.
ALTER TABLE rating_rounds ADD COLUMN begins date;
ALTER TABLE rating_rounds ADD COLUMN coaches jsonb;
