package files

import (
	"throughline/models"
	"throughline/models/store"
)

// recall reads the records that a sheet names. Records hidden from the caller are not found; writing them again is
// refused later, by the store.
func recall(tx *store.Tx, s *sheet) (*recorded, error) {
	rec := &recorded{
		seasons: map[string]models.Season{}, squads: map[string]models.Squad{}, players: map[string][]models.Player{},
		matches: map[recordedMatch][]models.Match{}, members: map[member]bool{},
		appearances: map[pair]models.Appearance{}, totals: map[pair]models.MatchTotals{},
	}
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return nil, err
	}
	for _, r := range seasons {
		rec.seasons[composed(r.Name)] = r
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return nil, err
	}
	for _, r := range squads {
		rec.squads[composed(r.Name)] = r
	}
	players, err := tx.Players(models.PlayerFilter{})
	if err != nil {
		return nil, err
	}
	for _, r := range players {
		name := composed(r.Name)
		rec.players[name] = append(rec.players[name], r)
	}
	// Matches of all seasons, because one in the wrong season is worth saying.
	for _, name := range s.squads.texts {
		squad, ok := rec.squads[name]
		if !ok {
			continue
		}
		matches, err := tx.Matches(models.MatchFilter{SquadID: squad.ID, Bare: true})
		if err != nil {
			return nil, err
		}
		for _, r := range matches {
			at := recordedMatch{squad.ID, r.Date, composed(r.Opponent)}
			rec.matches[at] = append(rec.matches[at], r)
		}
	}
	return rec, rec.recallSeasons(tx, s)
}

// recallSeasons reads memberships, appearances and totals of the seasons and squads that the sheet's matches belong
// to.
func (rec *recorded) recallSeasons(tx *store.Tx, s *sheet) error {
	type team struct{ season, squad int64 }
	read := map[team]bool{}
	for _, m := range s.matches {
		season, squad := rec.seasons[s.seasons.texts[m.season]], rec.squads[s.squads.texts[m.squad]]
		at := team{season.ID, squad.ID}
		if season.ID == 0 || squad.ID == 0 || read[at] {
			continue
		}
		read[at] = true
		members, err := tx.Memberships(models.MembershipFilter{SeasonID: season.ID, SquadID: squad.ID})
		if err != nil {
			return err
		}
		for _, r := range members {
			rec.members[member{r.SeasonID, r.SquadID, r.PlayerID}] = true
		}
		appearances, err := tx.Appearances(models.AppearanceFilter{SeasonID: season.ID, SquadID: squad.ID})
		if err != nil {
			return err
		}
		for _, r := range appearances {
			rec.appearances[pair{r.MatchID, r.PlayerID}] = r
		}
		totals, err := tx.Totals(models.TotalsFilter{SeasonID: season.ID, SquadID: squad.ID})
		if err != nil {
			return err
		}
		for _, r := range totals {
			rec.totals[pair{r.MatchID, r.PlayerID}] = r
		}
	}
	return nil
}
