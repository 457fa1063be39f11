-- +goose Up
-- What was warned of about a candidate when the evidence was kept. NULL: kept before warnings were.
ALTER TABLE candidate_evidence ADD COLUMN warnings text;
