-- +goose Up
-- Rates of an academy's squads are taken to move together: trends fitted before knew nothing of it, and what was kept
-- of their scales does not say which are rates. Every squad's season is fitted again. The owner is bound by row-level
-- security too, so each academy in turn.
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        UPDATE squad_seasons SET fitted = 0, scales = '[]', shown_scales = '[]', scales_until = ''
        WHERE academy_id = academy;
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
END
$$;
-- +goose StatementEnd
