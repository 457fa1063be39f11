-- +goose Up
-- A player may have appeared in a match without a record of for how long: minutes is 0 then, and the flag says why.
ALTER TABLE appearances DROP CONSTRAINT appearances_minutes_check;
ALTER TABLE appearances ADD CONSTRAINT appearances_minutes_check CHECK (minutes >= 0 AND minutes <= 160);
ALTER TABLE appearances ADD COLUMN minutes_not_recorded boolean NOT NULL DEFAULT false
    CHECK (minutes_not_recorded = (minutes = 0));
