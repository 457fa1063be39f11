-- +goose Up

-- A grade keeps what its skill was called when it was given. Those given so far were given under the label of now.
ALTER TABLE ratings ADD COLUMN label text NOT NULL DEFAULT '';
UPDATE ratings SET label = s.label FROM skills AS s
WHERE s.academy_id = ratings.academy_id AND s.code = ratings.skill AND s.deleted_at IS NULL;
UPDATE ratings SET label = b.label FROM (SELECT column1 AS skill, column2 AS label FROM (VALUES
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
)) AS b
WHERE ratings.skill = b.skill AND ratings.label = '';
UPDATE ratings SET label = (SELECT s.label FROM skills AS s
    WHERE s.academy_id = ratings.academy_id AND s.code = ratings.skill ORDER BY s.id DESC LIMIT 1)
WHERE ratings.label = ''
AND EXISTS (SELECT 1 FROM skills AS s WHERE s.academy_id = ratings.academy_id AND s.code = ratings.skill);
