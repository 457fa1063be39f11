package store

import (
	"cmp"
	"slices"

	"throughline/models"
)

// What the overview of a squad asks for all of its players at once.

// MembersHidden says whether members of a squad's season are hidden from the caller, not how many and not who.
func (tx *Tx) MembersHidden(season, squad int64) (bool, error) {
	if tx.who.Role != models.RoleSelector {
		return false, nil
	}
	members, err := rows[int64](tx, "find the members of a squad", `SELECT DISTINCT player_id FROM memberships
		WHERE academy_id = ? AND season_id = ? AND squad_id = ? AND deleted_at IS NULL`, tx.who.AcademyID, season, squad)
	if err != nil {
		return false, err
	}
	hidden, err := tx.hiddenAmong(members)
	return len(hidden) > 0, err
}

// LogCover returns, by player, the minutes on the pitch that logs covered: of each match, those of the count that the
// log covered longest. A match whose figures come from totals adds nothing.
func (tx *Tx) LogCover(f models.ObservationFilter) (map[int64]float64, error) {
	w, err := tx.observable("observations", f)
	if err != nil {
		return nil, err
	}
	var rates []string
	for _, in := range models.IndicatorCatalogue() {
		if in.Family == models.Rate {
			rates = append(rates, in.Code)
		}
	}
	w = and(w, that("observations.source = ? AND observations.indicator IN ?", models.FromLog, rates))
	type watched struct {
		PlayerID int64
		Minutes  float64
	}
	all, err := rows[watched](tx, "read how much logs cover", `SELECT player_id, sum(longest) AS minutes FROM (
		SELECT observations.player_id, observations.match_id, max(observations.denominator) AS longest
		FROM observations `+joinMatches("observations")+` WHERE `+w.sql+`
		GROUP BY observations.player_id, observations.match_id) AS played GROUP BY player_id`, w.args...)
	cover := map[int64]float64{}
	for _, one := range all {
		cover[one.PlayerID] = one.Minutes
		tx.saw("observation", one.PlayerID)
	}
	return cover, err
}

// SquadSafety returns, by player, the stand-downs of a day and the actions before contact that waited on it.
func (tx *Tx) SquadSafety(players []int64, day models.Date) (map[int64]models.Safety, error) {
	all := map[int64]models.Safety{}
	if len(players) == 0 {
		return all, nil
	}
	downs, err := standDowns().list(tx, among("stand_downs.player_id", players))
	if err != nil {
		return nil, err
	}
	actions, err := contactActions().list(tx, among("contact_actions.player_id", players))
	if err != nil {
		return nil, err
	}
	for _, d := range downs {
		if s := all[d.PlayerID]; d.Open(day) {
			s.StandDowns = append(s.StandDowns, d)
			all[d.PlayerID] = s
		}
	}
	for _, a := range actions {
		waited := a.Since <= day && (a.SettledAt == nil || models.DateOf(*a.SettledAt) > day)
		if s := all[a.PlayerID]; waited {
			s.Actions = append(s.Actions, a)
			all[a.PlayerID] = s
		}
	}
	return all, nil
}

// SquadReviews returns how each member of a squad stands in its review cycle on a day of the season, by player and
// without who is to write the review: to all who read shared reviews. There are none outside the season.
func (tx *Tx) SquadReviews(season, squad int64, day models.Date) ([]models.DueReview, error) {
	return tx.nextReviews(models.ReviewCycleFilter{SeasonID: season, SquadID: squad}, day)
}

// nextReviews are how members stand in the review cycles of their squads on a day of a season.
func (tx *Tx) nextReviews(f models.ReviewCycleFilter, day models.Date) ([]models.DueReview, error) {
	all := []models.DueReview{}
	if tx.who.Reach(models.Read, models.AreaReviews) == models.ReachNone {
		return nil, models.Errorf(models.Forbidden, "%s may not read reviews", tx.role())
	}
	of, err := tx.Season(f.SeasonID)
	if err != nil || !of.Has(day) {
		return all, err
	}
	members, _, err := tx.reviewable([]models.Season{of}, f)
	for _, r := range members {
		if d, member := r.On(day); member && err == nil {
			all = append(all, d)
		}
	}
	slices.SortFunc(all, func(a, b models.DueReview) int {
		return cmp.Or(cmp.Compare(a.PlayerID, b.PlayerID), cmp.Compare(a.SquadID, b.SquadID))
	})
	return all, err
}
