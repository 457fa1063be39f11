-- +goose Up
-- A coach may share the comment of a grade with the player, and name moments that show what it is for. A round may ask
-- for some skills only. A grade counts in figures once grades for its match or block are closed: graded_until is the
-- day on which the grades of a squad's trends were read, and severities how strict each coach was in them. Every
-- squad's season is fitted again. The owner is bound by row-level security too, so each academy in turn.
ALTER TABLE ratings ADD COLUMN comment_shared boolean NOT NULL DEFAULT false;
ALTER TABLE ratings ADD COLUMN evidence jsonb;
ALTER TABLE rating_rounds ADD COLUMN skills jsonb;
ALTER TABLE squad_seasons ADD COLUMN graded_until text NOT NULL DEFAULT '';
ALTER TABLE squad_seasons ADD COLUMN severities text NOT NULL DEFAULT '';
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
