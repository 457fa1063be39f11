-- +goose Up

-- An observation that comes out otherwise is written in place of the one that is there, instead of all of a match being deleted and
-- written anew.
GRANT UPDATE ON observations, carry_cells TO throughline_serving;
