-- +goose Up
-- A player may have appeared in a match without a record of for how long: minutes is 0 then, and the flag says why.
-- SQLite changes no CHECK of a column, so the column is made again.
ALTER TABLE appearances RENAME COLUMN minutes TO minutes_before;
ALTER TABLE appearances ADD COLUMN minutes real NOT NULL DEFAULT 0 CHECK (minutes >= 0 AND minutes <= 160);
UPDATE appearances SET minutes = minutes_before;
ALTER TABLE appearances DROP COLUMN minutes_before;
ALTER TABLE appearances ADD COLUMN minutes_not_recorded boolean NOT NULL DEFAULT false
    CHECK (minutes_not_recorded = (minutes = 0));
