-- +goose Up
-- Whether a match of a player's is so far out that levels leave it out stands beside the verdict, so that staff are
-- asked to check the record whatever the verdict is. What data cannot tell apart is kept as a remark, no longer as
-- something to check. Every squad's season is fitted again. The owner is bound by row-level security too, so
-- each academy in turn.
ALTER TABLE trends ADD COLUMN to_check boolean NOT NULL DEFAULT false;
ALTER TABLE trends ADD COLUMN selectors_to_check boolean NOT NULL DEFAULT false;
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
