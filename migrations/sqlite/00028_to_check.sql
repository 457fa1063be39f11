-- +goose Up
-- Whether a match of a player's is so far out that levels leave it out stands beside the verdict, so that staff are
-- asked to check the record whatever the verdict is. What data cannot tell apart is kept as a remark, no longer as
-- something to check. Every squad's season is fitted again.
ALTER TABLE trends ADD COLUMN to_check integer NOT NULL DEFAULT 0 CHECK (to_check IN (0, 1));
ALTER TABLE trends ADD COLUMN selectors_to_check integer NOT NULL DEFAULT 0 CHECK (selectors_to_check IN (0, 1));
UPDATE squad_seasons SET fitted = 0;
