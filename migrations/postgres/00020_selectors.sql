-- +goose Up
-- Selectors are not shown every player. The trends that they read are made without those whom they are not shown. They
-- stand beside the trends of the staff. The squad's season says who was left out, and when what selectors read last
-- changed.
ALTER TABLE trends ADD COLUMN selectors_figures jsonb;
ALTER TABLE trends ADD COLUMN selectors_verdict text COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE squad_seasons ADD COLUMN left_out text COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE squad_seasons ADD COLUMN shown_revision bigint NOT NULL DEFAULT 0 CHECK (shown_revision >= 0);
ALTER TABLE squad_seasons ADD COLUMN shown_at timestamptz NOT NULL DEFAULT '1970-01-01 00:00:00+00';
