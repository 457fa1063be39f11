-- +goose Up
-- What an observation counts changes from one program to the next. An academy says by which rules its observations were
-- made; those made by others are made again.
ALTER TABLE academies ADD COLUMN observed text NOT NULL DEFAULT '';
