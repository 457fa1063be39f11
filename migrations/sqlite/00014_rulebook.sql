-- +goose Up

-- On PostgreSQL the serving role is granted to change observations. SQLite has no roles.
SELECT 1;
