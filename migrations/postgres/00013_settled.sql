-- +goose Up
-- An erasure on SQLite is whole once the file has been rewritten without what was erased. PostgreSQL has no such
-- file: never true here.
ALTER TABLE data_requests ADD COLUMN file_pending boolean NOT NULL DEFAULT false CHECK (NOT file_pending);
