package store

import "throughline/models"

func matchTotals() *kind[models.MatchTotals] {
	return &kind[models.MatchTotals]{
		name: "match total", table: "match_totals", area: models.AreaPerformance, joins: joinMatches("match_totals"),
		order:    "matches.date, matches.id, match_totals.player_id, match_totals.id",
		record:   func(t *models.MatchTotals) *models.Record { return &t.Record },
		player:   about(func(r *models.MatchTotals) int64 { return r.PlayerID }),
		validate: (*models.MatchTotals).Validate,
		within:   ofPlayerInMatch("match_totals"),
		facts: func(tx *Tx, all []*models.MatchTotals) error {
			var pairs []pair
			var games []int64
			for _, t := range all {
				pairs, games = append(pairs, pair{t.PlayerID, t.MatchID}), append(games, t.MatchID)
			}
			if err := tx.learnMatches(games); err != nil {
				return err
			}
			if err := tx.learnPairs(pairs); err != nil {
				return err
			}
			return tx.learnAsked(pairs, models.PurposeRecords)
		},
		check: checkTotals,
		keep: func(tx *Tx, _, t *models.MatchTotals) {
			kept := *t
			tx.facts().facts[pair{t.PlayerID, t.MatchID}].Totals = &kept
		},
		wrote: func(tx *Tx, old, t *models.MatchTotals) error {
			if t == nil {
				tx.touch(old.PlayerID, old.MatchID)
				return nil
			}
			tx.changed(pair{t.PlayerID, t.MatchID})
			return nil
		},
	}
}

// MatchTotals returns the totals of one player in one match, by their id.
func (tx *Tx) MatchTotals(id int64) (models.MatchTotals, error) { return matchTotals().get(tx, id) }

// Totals returns match totals by the date of the match, then player.
func (tx *Tx) Totals(f models.TotalsFilter) ([]models.MatchTotals, error) {
	return matchTotals().list(tx, is("match_totals.match_id", f.MatchID), is("match_totals.player_id", f.PlayerID),
		is("matches.season_id", f.SeasonID), is("matches.squad_id", f.SquadID))
}

// CreateMatchTotals adds the totals of a player who has an appearance in the match. A second row is a Conflict.
func (tx *Tx) CreateMatchTotals(t *models.MatchTotals) error { return matchTotals().create(tx, t) }

// UpdateMatchTotals changes match totals; they stay with their match and player.
func (tx *Tx) UpdateMatchTotals(t *models.MatchTotals) error { return matchTotals().update(tx, t) }

// DeleteMatchTotals deletes match totals.
func (tx *Tx) DeleteMatchTotals(id, version int64) error {
	return matchTotals().remove(tx, id, version)
}

func checkTotals(tx *Tx, old, t *models.MatchTotals) error {
	if old != nil && (t.MatchID != old.MatchID || t.PlayerID != old.PlayerID) {
		return stays("match_id", "a match total", "its match and player")
	}
	if _, err := tx.matchOf(t.MatchID); err != nil {
		return err
	}
	k, err := tx.factsOf(pair{t.PlayerID, t.MatchID})
	if err != nil {
		return err
	}
	return k.AdmitTotals(*t)
}
