-- +goose Up
-- A squad's season keeps what its fits say of the scales of the academy's trends (scales), for the fits of other
-- squads, and the same without the players hidden from selectors (shown_scales); scales_until is the last day of the
-- data that they stand on.
ALTER TABLE squad_seasons ADD COLUMN scales text NOT NULL DEFAULT '[]';
ALTER TABLE squad_seasons ADD COLUMN shown_scales text NOT NULL DEFAULT '[]';
ALTER TABLE squad_seasons ADD COLUMN scales_until text COLLATE "C" NOT NULL DEFAULT '';

-- Trends fitted before have no comparison between players, or one of another law: every squad's season is fitted again,
-- and shown as being fitted until then. The owner is bound by row-level security too, so each academy in turn.
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
