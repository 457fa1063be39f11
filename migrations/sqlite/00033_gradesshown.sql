-- +goose Up
-- A coach may share the comment of a grade with the player, and name moments that show what it is for. A round may ask
-- for some skills only. A grade counts in figures once grades for its match or block are closed: graded_until is the
-- day on which the grades of a squad's trends were read, and severities how strict each coach was in them. Every
-- squad's season is fitted again.
ALTER TABLE ratings ADD COLUMN comment_shared integer NOT NULL DEFAULT 0 CHECK (comment_shared IN (0, 1));
ALTER TABLE ratings ADD COLUMN evidence text CHECK (json_valid(evidence));
ALTER TABLE rating_rounds ADD COLUMN skills text CHECK (json_valid(skills));
ALTER TABLE squad_seasons ADD COLUMN graded_until text NOT NULL DEFAULT '';
ALTER TABLE squad_seasons ADD COLUMN severities text NOT NULL DEFAULT '';
UPDATE squad_seasons SET fitted = 0;
