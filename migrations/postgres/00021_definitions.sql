-- +goose Up

-- The logger looked again at two details that contradict each other, and both are as seen.
ALTER TABLE involvements ADD COLUMN confirmed boolean NOT NULL DEFAULT false;

-- How to choose between the grades of a skill: what is watched, and what decides between two grades.
ALTER TABLE skills ADD COLUMN how text NOT NULL DEFAULT '';

-- Work in the last quarter is counted per minute now, and was a share. What followed from the share goes; it is made
-- again from the logs. An open goal on it had a share for its target, and is closed with what it was. The owner sees
-- an academy's rows when its number is set.
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        DELETE FROM forecast_pairs WHERE academy_id = academy AND indicator = 'last_quarter';
        DELETE FROM forecasts WHERE academy_id = academy AND indicator = 'last_quarter';
        DELETE FROM publications WHERE academy_id = academy AND indicator = 'last_quarter';
        DELETE FROM trends WHERE academy_id = academy AND indicator = 'last_quarter';
        DELETE FROM observations WHERE academy_id = academy AND indicator = 'last_quarter';
        UPDATE goals SET closed_on = greatest(set_on, current_date), version = version + 1,
            outcome = 'Closed by an upgrade: the target was a share of ' || target ||
                ', and work in the last quarter is counted for every full match now. Set a new goal.'
            WHERE academy_id = academy AND indicator = 'last_quarter' AND closed_on IS NULL;
        UPDATE squad_seasons SET fitted = 0 WHERE academy_id = academy;
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
END
$$;
-- +goose StatementEnd
