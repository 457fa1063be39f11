-- +goose Up
-- An erasure is whole once the file has been rewritten without what was erased. What was erased before was rewritten
-- at once.
ALTER TABLE data_requests ADD COLUMN file_pending boolean NOT NULL DEFAULT 0 CHECK (file_pending IN (0, 1));
