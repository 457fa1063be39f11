-- +goose Up
-- What moves all squads of an academy is now taken for none in half of all academies, and scales are learned with more
-- doubt: every squad's season is fitted again.
UPDATE squad_seasons SET fitted = 0;
