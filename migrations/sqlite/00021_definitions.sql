-- +goose Up

-- The logger looked again at two details that contradict each other, and both are as seen.
ALTER TABLE involvements ADD COLUMN confirmed boolean NOT NULL DEFAULT false;

-- How to choose between the grades of a skill: what is watched, and what decides between two grades.
ALTER TABLE skills ADD COLUMN how text NOT NULL DEFAULT '';

-- Work in the last quarter is counted per minute now, and was a share. What followed from the share goes; it is made
-- again from the logs. An open goal on it had a share for its target, and is closed with what it was.
DELETE FROM forecast_pairs WHERE indicator = 'last_quarter';
DELETE FROM forecasts WHERE indicator = 'last_quarter';
DELETE FROM publications WHERE indicator = 'last_quarter';
DELETE FROM trends WHERE indicator = 'last_quarter';
DELETE FROM observations WHERE indicator = 'last_quarter';
UPDATE goals SET closed_on = max(set_on, date('now')), version = version + 1,
    outcome = 'Closed by an upgrade: the target was a share of ' || target ||
        ', and work in the last quarter is counted for every full match now. Set a new goal.'
    WHERE indicator = 'last_quarter' AND closed_on IS NULL;
UPDATE squad_seasons SET fitted = 0;
