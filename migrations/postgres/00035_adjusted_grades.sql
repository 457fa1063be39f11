-- +goose Up
-- Trends of skills hold the grade over the season with each coach's severity taken out. Every squad's season is fitted
-- again. The owner is bound by row-level security too, so each academy in turn.
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        UPDATE squad_seasons SET fitted = 0 WHERE academy_id = academy;
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
END
$$;
-- +goose StatementEnd
