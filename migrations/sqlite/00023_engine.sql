-- +goose Up
-- A squad's season keeps what its fits say of the scales of the academy's trends (scales), for the fits of other
-- squads, and the same without the players hidden from selectors (shown_scales); scales_until is the last day of the
-- data that they stand on.
ALTER TABLE squad_seasons ADD COLUMN scales text NOT NULL DEFAULT '[]' CHECK (json_valid(scales));
ALTER TABLE squad_seasons ADD COLUMN shown_scales text NOT NULL DEFAULT '[]' CHECK (json_valid(shown_scales));
ALTER TABLE squad_seasons ADD COLUMN scales_until text NOT NULL DEFAULT '';

-- Trends fitted before have no comparison between players, or one of another law: every squad's season is fitted again,
-- and shown as being fitted until then.
UPDATE squad_seasons SET fitted = 0;
