-- +goose Up

-- Which of the coaches who work with a squad leads it: one at most. What needs a coach's action waits for that one.
ALTER TABLE squad_staff ADD COLUMN leads boolean NOT NULL DEFAULT 0 CHECK (leads IN (0, 1));
CREATE UNIQUE INDEX squad_staff_leads ON squad_staff (academy_id, squad_id) WHERE leads;
INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES ('squad_staff', 'squad_staff_leads', '100 10 1');
ANALYZE sqlite_schema;
