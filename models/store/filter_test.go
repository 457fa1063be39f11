package store_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestFiltersPickWhatTheySay holds every list with a filter against the whole list, filtered here.
func TestFiltersPickWhatTheySay(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.addSeasons(t)
		read(t, s, w.manager, func(tx *store.Tx) error {
			games := map[int64]models.Match{}
			matches, err := tx.Matches(models.MatchFilter{})
			if err != nil {
				return err
			}
			for _, m := range matches {
				games[m.ID] = m
			}
			other := matches[len(matches)/2]
			players := []int64{0, w.bram.ID, w.iver.ID, w.noor.ID}
			seasons := []int64{0, w.season.ID, w.last.ID, other.SeasonID}
			squads := []int64{0, w.colts.ID, w.juniors.ID}
			ofSquad := func(m models.Match, squad int64) bool { return squad == 0 || m.SquadID != nil && *m.SquadID == squad }
			same := func(id, wanted int64) bool { return wanted == 0 || id == wanted }

			appearances, err := tx.Appearances(models.AppearanceFilter{})
			if err != nil {
				return err
			}
			observations, err := tx.Observations(models.ObservationFilter{})
			if err != nil {
				return err
			}
			totals, err := tx.Totals(models.TotalsFilter{})
			if err != nil {
				return err
			}
			logs, err := tx.Logs(models.LogFilter{})
			if err != nil {
				return err
			}
			logged := map[int64]models.Log{}
			for _, l := range logs {
				logged[l.ID] = l
			}
			involvements, err := tx.Involvements(models.InvolvementFilter{})
			if err != nil {
				return err
			}
			if len(appearances) < 1800 || len(observations) < 5000 || len(involvements) < 9000 {
				t.Fatalf("%d appearances, %d observations, %d involvements", len(appearances), len(observations),
					len(involvements))
			}
			for _, player := range players {
				for _, season := range seasons {
					for _, squad := range squads {
						for _, match := range []int64{0, w.match.ID, other.ID} {
							f := fmt.Sprint("player ", player, " season ", season, " squad ", squad, " match ", match)
							in := func(p, m int64) bool {
								return same(p, player) && same(m, match) && same(games[m].SeasonID, season) && ofSquad(games[m], squad)
							}
							a, err := tx.Appearances(models.AppearanceFilter{MatchID: match, PlayerID: player, SeasonID: season,
								SquadID: squad})
							if err := agree(f, a, err, appearances, func(r models.Appearance) bool {
								return in(r.PlayerID, r.MatchID)
							}); err != nil {
								return err
							}
							o, err := tx.Observations(models.ObservationFilter{MatchID: match, PlayerID: player, SeasonID: season,
								SquadID: squad})
							if err := agree(f, o, err, observations, func(r models.Observation) bool {
								return in(r.PlayerID, r.MatchID)
							}); err != nil {
								return err
							}
							c, err := tx.Totals(models.TotalsFilter{MatchID: match, PlayerID: player, SeasonID: season, SquadID: squad})
							if err := agree(f, c, err, totals, func(r models.MatchTotals) bool {
								return in(r.PlayerID, r.MatchID)
							}); err != nil {
								return err
							}
							if squad != 0 {
								continue
							}
							l, err := tx.Logs(models.LogFilter{MatchID: match, PlayerID: player, SeasonID: season})
							if err := agree(f, l, err, logs, func(r models.Log) bool { return in(r.PlayerID, r.MatchID) }); err != nil {
								return err
							}
							for _, moments := range []bool{false, true} {
								i, err := tx.Involvements(models.InvolvementFilter{MatchID: match, PlayerID: player, SeasonID: season,
									MomentsOnly: moments})
								err = agree(f, i, err, involvements, func(r models.Involvement) bool {
									return in(logged[r.LogID].PlayerID, logged[r.LogID].MatchID) && (r.Moment || !moments)
								})
								if err != nil {
									return err
								}
							}
						}
						played := func(m models.Match) bool {
							return player == 0 || slices.ContainsFunc(appearances, func(a models.Appearance) bool {
								return a.MatchID == m.ID && a.PlayerID == player
							})
						}
						m, err := tx.Matches(models.MatchFilter{SeasonID: season, SquadID: squad, PlayerID: player})
						err = agree("matches", m, err, matches, func(r models.Match) bool {
							return same(r.SeasonID, season) && ofSquad(r, squad) && played(r)
						})
						if err != nil {
							return err
						}
					}
				}
			}
			return nil
		})
	})
}

// agree checks that what a filter gave is what its meaning gives, in the same order.
func agree[T any](filter string, got []T, err error, whole []T, means func(T) bool) error {
	if err != nil {
		return err
	}
	var want []T
	for _, r := range whole {
		if means(r) {
			want = append(want, r)
		}
	}
	if len(got) == 0 && len(want) == 0 {
		return nil
	}
	if !reflect.DeepEqual(got, want) {
		return fmt.Errorf("%s gives %d %T, want %d, or others", filter, len(got), got, len(want))
	}
	return nil
}
