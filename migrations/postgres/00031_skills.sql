-- +goose Up

-- The words of a skill's grades for single position groups, and the highest grade that needs action before contact.
ALTER TABLE skills ADD COLUMN by_group jsonb;
ALTER TABLE skills ADD COLUMN contact_up_to integer NOT NULL DEFAULT 0 CHECK (contact_up_to BETWEEN 0 AND 4);

-- A grade keeps the words it was given under. Those given so far were given under the words of now. The owner is bound
-- by row-level security too, so each academy in turn.
ALTER TABLE ratings ADD COLUMN words text NOT NULL DEFAULT '';
-- +goose StatementBegin
DO $$
DECLARE
    academy bigint;
BEGIN
    FOR academy IN SELECT id FROM academies LOOP
        PERFORM set_config('throughline.academy', academy::text, true);
        UPDATE ratings SET words = (SELECT s.grades ->> (ratings.grade - 1) FROM skills AS s
            WHERE s.academy_id = ratings.academy_id AND s.code = ratings.skill
            ORDER BY s.deleted_at IS NOT NULL, s.id DESC LIMIT 1)
        WHERE academy_id = academy
        AND EXISTS (SELECT 1 FROM skills AS s WHERE s.academy_id = ratings.academy_id AND s.code = ratings.skill);
        UPDATE ratings SET words = w.words FROM (VALUES
('footwork_into_contact', 1,
    'Meets a shoulder or open space in fewer than 3 of 10 carries. Runs at the chest and is stopped ' ||
    'there.'),
('footwork_into_contact', 2,
    'Meets a shoulder or open space in 3 or 4 of 10 carries. Most steps come too early, and the defender ' ||
    'is ready again.'),
('footwork_into_contact', 3,
    'Meets a shoulder or open space in 5 to 7 of 10 carries.'),
('footwork_into_contact', 4,
    'Meets a shoulder or open space in 8 or more of 10 carries, but in fewer than half of those against ' ||
    'two defenders.'),
('footwork_into_contact', 5,
    'Meets a shoulder or open space in 8 or more of 10 carries, and in half or more of those against two ' ||
    'defenders.'),
('pass_or_carry', 1,
    'Takes the option with the most room in fewer than 3 of 10 decisions. Does not see free team-mates.'),
('pass_or_carry', 2,
    'Takes the option with the most room in 3 or 4 of 10 decisions. Often carries when a pass is on, or ' ||
    'passes into trouble.'),
('pass_or_carry', 3,
    'Takes the option with the most room in 5 to 7 of 10 decisions.'),
('pass_or_carry', 4,
    'Takes the option with the most room in 8 or more of 10 decisions, but in fewer than half of those ' ||
    'under pressure.'),
('pass_or_carry', 5,
    'Takes the option with the most room in 8 or more of 10 decisions, and in half or more of those ' ||
    'under pressure.'),
('breakdown', 1,
    'Helps, or rightly stays out, in fewer than 3 of 10 rucks. Comes late or upright, or is penalised.'),
('breakdown', 2,
    'Helps, or rightly stays out, in 3 or 4 of 10 rucks. Often clears the wrong opponent or falls over ' ||
    'the ball.'),
('breakdown', 3,
    'Helps, or rightly stays out, in 5 to 7 of 10 rucks.'),
('breakdown', 4,
    'Helps, or rightly stays out, in 8 or more of 10 rucks, but is the first there in fewer than half.'),
('breakdown', 5,
    'Helps, or rightly stays out, in 8 or more of 10 rucks, and is the first there in half or more.'),
('presentation', 1,
    'Places the ball long within a second in fewer than 3 of 10 carries. Elsewhere it is loose or within ' ||
    'their reach.'),
('presentation', 2,
    'Places the ball long within a second in 3 or 4 of 10 carries. Often late, or close to the body.'),
('presentation', 3,
    'Places the ball long within a second in 5 to 7 of 10 carries.'),
('presentation', 4,
    'Places the ball long within a second in 8 or more of 10 carries, but in fewer than half of those ' ||
    'with two tacklers.'),
('presentation', 5,
    'Places the ball long within a second in 8 or more of 10 carries, and in half or more of those with ' ||
    'two tacklers.'),
('work_off_ball', 1,
    'Is in place in time in fewer than 3 of 10 phases. Walks after most involvements.'),
('work_off_ball', 2,
    'Is in place in time in 3 or 4 of 10 phases. Often moves only when called.'),
('work_off_ball', 3,
    'Is in place in time in 5 to 7 of 10 phases.'),
('work_off_ball', 4,
    'Is in place in time in 8 or more of 10 phases, but in fewer than half of those from the fourth ' ||
    'phase on.'),
('work_off_ball', 5,
    'Is in place in time in 8 or more of 10 phases, and in half or more of those from the fourth phase ' ||
    'on.'),
('support_lines', 1,
    'Can be passed to in fewer than 3 of 10 runs. Stands, or drifts away from the ball.'),
('support_lines', 2,
    'Can be passed to in 3 or 4 of 10 runs. Often too flat, too close or too late.'),
('support_lines', 3,
    'Can be passed to in 5 to 7 of 10 runs.'),
('support_lines', 4,
    'Can be passed to in 8 or more of 10 runs, but makes a defender turn or stop in fewer than half.'),
('support_lines', 5,
    'Can be passed to in 8 or more of 10 runs, and makes a defender turn or stop in half or more.'),
('tackle', 1,
    'Is unsafe for the player or the carrier in 3 or more of 10 tackles. Needs coaching before contact.'),
('tackle', 2,
    'Is unsafe for the player or the carrier in 1 or 2 of 10 tackles. Needs coaching on head and height ' ||
    'before full contact.'),
('tackle', 3,
    'Is safe in all, and brings the carrier down in fewer than 7 of 10 tackles.'),
('tackle', 4,
    'Is safe in all, and brings the carrier down in 7 or 8 of 10 tackles.'),
('tackle', 5,
    'Is safe in all, and brings the carrier down in 9 or more of 10 tackles.'),
('catch_under_pressure', 1,
    'Holds the ball first time in fewer than 3 of 10 catches. Lets it bounce, or the hands are late.'),
('catch_under_pressure', 2,
    'Holds the ball first time in 3 or 4 of 10 catches. The eyes often leave it.'),
('catch_under_pressure', 3,
    'Holds the ball first time in 5 to 7 of 10 catches.'),
('catch_under_pressure', 4,
    'Holds the ball first time in 8 or more of 10 catches, but in fewer than half of those with both ' ||
    'feet off the ground.'),
('catch_under_pressure', 5,
    'Holds the ball first time in 8 or more of 10 catches, and in half or more with both feet off the ' ||
    'ground.'),
('scrum', 1,
    'Is unsafe at the engagement in 1 or more of 10 scrums. Should not scrummage in this place until ' ||
    'coached.'),
('scrum', 2,
    'Is safe at the engagement in all, and holds the shape through the push in fewer than 5 of 10 scrums.'),
('scrum', 3,
    'Is safe at the engagement in all, and holds the shape through the push in 5 to 7 of 10 scrums.'),
('scrum', 4,
    'Is safe at the engagement in all, and holds the shape in 8 or more of 10 scrums, but goes forward ' ||
    'in fewer than half.'),
('scrum', 5,
    'Is safe at the engagement in all, and holds the shape in 8 or more of 10 scrums, and goes forward ' ||
    'in half or more.'),
('lineout', 1,
    'Does their own part unsafely in 1 or more of 10 lineouts. Should not lift or jump until coached.'),
('lineout', 2,
    'Is safe in all, and does their own part as called in fewer than 5 of 10 lineouts.'),
('lineout', 3,
    'Is safe in all, and does their own part as called in 5 to 7 of 10 lineouts.'),
('lineout', 4,
    'Is safe in all, and does their own part as called in 8 or more of 10, but in fewer than half of ' ||
    'those contested.'),
('lineout', 5,
    'Is safe in all, and does their own part as called in 8 or more of 10, and in half or more of those ' ||
    'contested.'),
('maul', 1,
    'Binds and drives straight in fewer than 3 of 10 mauls. Joins from the side, or upright.'),
('maul', 2,
    'Binds and drives straight in 3 or 4 of 10 mauls. Often late, or slips off when it turns.'),
('maul', 3,
    'Binds and drives straight in 5 to 7 of 10 mauls.'),
('maul', 4,
    'Binds and drives straight in 8 or more of 10 mauls, but their side gains a metre or stops theirs in ' ||
    'fewer than half.'),
('maul', 5,
    'Binds and drives straight in 8 or more of 10 mauls, and their side gains a metre or stops theirs in ' ||
    'half or more.')
        ) AS w (skill, grade, words)
        WHERE ratings.academy_id = academy AND ratings.skill = w.skill AND ratings.grade = w.grade
        AND ratings.words = '';
    END LOOP;
    PERFORM set_config('throughline.academy', '', true);
END
$$;
-- +goose StatementEnd

-- What a player needs in a skill before the next contact session. It names neither the grade nor who gave it.
CREATE TABLE contact_actions (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    academy_id bigint NOT NULL,
    version    bigint NOT NULL CHECK (version >= 1),
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    deleted_at timestamptz,
    player_id  bigint NOT NULL,
    skill      text COLLATE "C" NOT NULL CHECK (skill <> ''),
    squad_id   bigint,
    since      date NOT NULL,
    word       text NOT NULL,
    settled_by bigint,
    settled_at timestamptz,
    UNIQUE (academy_id, id),
    FOREIGN KEY (academy_id, player_id) REFERENCES players (academy_id, id),
    FOREIGN KEY (academy_id, squad_id) REFERENCES squads (academy_id, id),
    FOREIGN KEY (academy_id, settled_by) REFERENCES users (academy_id, id),
    CHECK (settled_at IS NULL OR word <> '')
);
CREATE INDEX contact_actions_since ON contact_actions (academy_id, since);
CREATE INDEX contact_actions_open ON contact_actions (academy_id, since)
    WHERE settled_at IS NULL AND deleted_at IS NULL;
CREATE INDEX contact_actions_player ON contact_actions (academy_id, player_id, since);
CREATE INDEX contact_actions_squad ON contact_actions (academy_id, squad_id) WHERE squad_id IS NOT NULL;

ALTER TABLE contact_actions ENABLE ROW LEVEL SECURITY;
ALTER TABLE contact_actions FORCE ROW LEVEL SECURITY;
CREATE POLICY own_academy ON contact_actions
    USING (academy_id = nullif(current_setting('throughline.academy', true), '')::bigint);
GRANT SELECT, INSERT, UPDATE, DELETE ON contact_actions TO throughline_serving;
