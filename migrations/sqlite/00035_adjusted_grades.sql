-- +goose Up
-- Trends of skills hold the grade over the season with each coach's severity taken out. Every squad's season is fitted
-- again.
UPDATE squad_seasons SET fitted = 0;
