-- +goose Up

-- The highest grade of an academy's own skill that calls for action before anything else; 0 where none does.
ALTER TABLE skills ADD COLUMN act_up_to integer NOT NULL DEFAULT 0 CHECK (act_up_to BETWEEN 0 AND 4);
