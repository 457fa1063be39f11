-- +goose Up

-- A grade keeps what its skill was called when it was given. Those given so far were given under the label of now. The
-- owner is bound by row-level security too, so each academy in turn.
ALTER TABLE ratings ADD COLUMN label text NOT NULL DEFAULT '';
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        UPDATE ratings SET label = s.label FROM skills AS s
        WHERE ratings.academy_id = academy AND s.academy_id = academy AND s.code = ratings.skill
        AND s.deleted_at IS NULL;
        UPDATE ratings SET label = b.label FROM (VALUES
    ('footwork_into_contact', 'Footwork into contact'),
    ('pass_or_carry', 'Decision to pass or carry'),
    ('breakdown', 'Breakdown work'),
    ('presentation', 'Presentation after contact'),
    ('work_off_ball', 'Work off the ball'),
    ('support_lines', 'Support lines'),
    ('tackle', 'Tackle'),
    ('catch_under_pressure', 'Catch under pressure'),
    ('scrum', 'Scrum'),
    ('lineout', 'Lineout'),
    ('maul', 'Maul')
        ) AS b (skill, label)
        WHERE ratings.academy_id = academy AND ratings.skill = b.skill AND ratings.label = '';
        UPDATE ratings SET label = (SELECT s.label FROM skills AS s
            WHERE s.academy_id = academy AND s.code = ratings.skill ORDER BY s.id DESC LIMIT 1)
        WHERE ratings.academy_id = academy AND ratings.label = ''
        AND EXISTS (SELECT 1 FROM skills AS s WHERE s.academy_id = academy AND s.code = ratings.skill);
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
END
$$;
-- +goose StatementEnd
