-- +goose Up
-- Home pages look up the firm verdicts of a season: an index alone says which trends have one.
CREATE INDEX trends_standing ON trends (academy_id, season_id, squad_id, verdict, to_check, selectors_verdict,
    selectors_to_check);
