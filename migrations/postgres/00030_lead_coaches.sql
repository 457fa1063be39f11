-- +goose Up

-- Which of the coaches who work with a squad leads it: one at most. What needs a coach's action waits for that one.
ALTER TABLE squad_staff ADD COLUMN leads boolean NOT NULL DEFAULT false;
CREATE UNIQUE INDEX squad_staff_leads ON squad_staff (academy_id, squad_id) WHERE leads;
GRANT UPDATE (leads) ON squad_staff TO throughline_serving;
