package store

import (
	"encoding/json"
	"fmt"
	"slices"

	"throughline/models"
)

// ShownGrades returns what players are shown of coaches' grades, by date, player and skill: that of grades that count.
// A player reads their own; staff read what the players whom they reach are shown.
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
	filters, err := ratings().narrowed(tx)
	if err != nil {
		return nil, err
	}
	given, err := ratings().find(tx, within, append(filters, that("NOT ratings.self"), tx.shownToAll(),
		is("ratings.player_id", f.PlayerID), during("ratings", tx.who, f.SeasonID))...)
	if err != nil {
		return nil, err
	}
	of, err := tx.severitiesOf(given)
	if err != nil {
		return nil, err
	}
	all := models.ShowGrades(given, of)
	for _, g := range all {
		tx.saw("rating", g.PlayerID)
	}
	return all, nil
}

// severitiesOf says how strict coaches are in the season of each of some grades: as the trends of the first squad of
// the player in it say.
func (tx *Tx) severitiesOf(given []models.Rating) (func(models.Rating) models.Severities, error) {
	type row struct {
		PlayerID     int64
		Starts, Ends models.Date
		Severities   string
	}
	var players []int64
	for _, r := range given {
		players = append(players, r.PlayerID)
	}
	slices.Sort(players)
	of := map[int64][]row{}
	read := map[string]models.Severities{} // a squad's are those of many players
	for some := range slices.Chunk(slices.Compact(players), pairsAtOnce) {
		found, err := rows[row](tx, "read how strict coaches are", `SELECT part.player_id, its.starts, its.ends,
				fitted.severities FROM memberships AS part
			JOIN seasons AS its ON its.academy_id = part.academy_id AND its.id = part.season_id
			JOIN squad_seasons AS fitted ON fitted.academy_id = part.academy_id AND fitted.season_id = part.season_id
			AND fitted.squad_id = part.squad_id
			WHERE part.academy_id = ? AND part.player_id IN ? AND part.deleted_at IS NULL AND fitted.severities <> ''
			ORDER BY part.player_id, its.starts, part.squad_id`, tx.who.AcademyID, some)
		if err != nil {
			return nil, err
		}
		for _, f := range found {
			of[f.PlayerID] = append(of[f.PlayerID], f)
			if read[f.Severities] != nil {
				continue
			}
			var s models.Severities
			if err := json.Unmarshal([]byte(f.Severities), &s); err != nil {
				return nil, fmt.Errorf("read how strict coaches are: %w", err)
			}
			read[f.Severities] = s
		}
	}
	return func(r models.Rating) models.Severities {
		for _, f := range of[r.PlayerID] {
			if f.Starts <= r.Date && r.Date <= f.Ends {
				return read[f.Severities]
			}
		}
		return nil
	}, nil
}
