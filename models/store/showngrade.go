package store

import "throughline/models"

// ShownGrades returns what players are shown of coaches' grades, by date, player and skill: that of closed grades. A
// player reads their own; staff read what the players whom they reach are shown.
func (tx *Tx) ShownGrades(f models.RatingFilter) ([]models.ShownGrade, error) {
	reach := tx.who.Reach(models.Read, models.AreaRatings)
	if reach == models.ReachNone {
		return nil, models.Errorf(models.Forbidden, "%s may not read grades", tx.role())
	}
	var within where
	if reach != models.ReachAcademy {
		shown, err := tx.shown("ratings.player_id")
		if err != nil {
			return nil, err
		}
		within = and(ratings().within(tx.who, models.Read, reach), shown)
	}
	given, err := ratings().find(tx, within, that("NOT ratings.self"), tx.closed(),
		is("ratings.player_id", f.PlayerID), during("ratings", tx.who, f.SeasonID))
	if err != nil {
		return nil, err
	}
	all := models.ShowGrades(given, func(string) map[int64]float64 { return nil })
	for _, g := range all {
		tx.saw("rating", g.PlayerID)
	}
	return all, nil
}
