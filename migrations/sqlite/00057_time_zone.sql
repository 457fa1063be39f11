-- +goose Up
-- The academy's time zone, as a name of the IANA list; empty: UTC.
ALTER TABLE academy_settings ADD COLUMN time_zone TEXT NOT NULL DEFAULT '';
