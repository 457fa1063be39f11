package store

import (
	"slices"

	"throughline/models"
)

// SquadGrades returns the coaches' grades of the members of a squad's season that count, by date, see models.Rating.
// How far grades can be relied on is worked out from them, so nothing about a grade is told before the grade is. A
// squad that a coach does not work with is NotFound; selectors and players are Forbidden.
func (tx *Tx) SquadGrades(season, squad int64) ([]models.Rating, error) {
	reach := tx.who.Reach(models.Read, models.AreaConsistency)
	if reach == models.ReachNone {
		return nil, models.Errorf(models.Forbidden, "%s may not read how far coaches' grades agree", tx.role())
	}
	if _, err := tx.Season(season); err != nil {
		return nil, err
	}
	if _, err := tx.Squad(squad); err != nil {
		return nil, err
	}
	if reach == models.ReachSquads && !slices.Contains(tx.who.SquadIDs, squad) {
		return nil, models.Errorf(models.NotFound, "there is no squad %d", squad)
	}
	return ratings().list(tx, during("ratings", tx.who, season), that("NOT ratings.self"), tx.shownToAll(),
		that(`ratings.player_id IN (SELECT part.player_id FROM memberships AS part WHERE part.academy_id = ?
			AND part.season_id = ? AND part.squad_id = ? AND part.deleted_at IS NULL)`, tx.who.AcademyID, season, squad))
}
