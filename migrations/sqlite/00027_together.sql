-- +goose Up
-- Rates of an academy's squads are taken to move together: trends fitted before knew nothing of it, and what was kept
-- of their scales does not say which are rates. Every squad's season is fitted again.
UPDATE squad_seasons SET fitted = 0, scales = '[]', shown_scales = '[]', scales_until = '';
