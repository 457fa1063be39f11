-- +goose Up
-- Home pages look up the firm verdicts of a season: an index alone says which trends have one.
CREATE INDEX trends_standing ON trends (academy_id, season_id, squad_id, verdict, to_check, selectors_verdict,
    selectors_to_check);

INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('trends', 'trends_standing', '100000 10000 3000 1000 200 100 60 60');
