-- +goose Up
-- Where a goal's starting value is from, which questions its coach has answered, and how it ended. A check-in may be
-- for staff only; so far the player has read every one. Chances to reach a goal now say which target and day they are
-- for, so every squad's season is fitted again. The owner is bound by row-level security too, so each academy in turn.
ALTER TABLE goals ADD COLUMN baseline_reason text NOT NULL DEFAULT '';
ALTER TABLE goals ADD COLUMN baseline_80 jsonb;
ALTER TABLE goals ADD COLUMN baseline_on date;
ALTER TABLE goals ADD COLUMN baseline_revision bigint NOT NULL DEFAULT 0;
ALTER TABLE goals ADD COLUMN insist jsonb;
ALTER TABLE goals ADD COLUMN insist_reason text NOT NULL DEFAULT '';
ALTER TABLE goals ADD COLUMN result text NOT NULL DEFAULT '' CHECK (result IN ('', 'met', 'not_met', 'dropped'));
ALTER TABLE check_ins ADD COLUMN shared boolean NOT NULL DEFAULT true;
CREATE INDEX goals_owner ON goals (academy_id, owner_id) WHERE closed_on IS NULL;
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
