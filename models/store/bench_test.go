package store_test

import (
	"fmt"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// plays returns 8,911 appearances of 230 players in 388 matches. Each has eight counts, which make as many
// observations.
func plays(b *testing.B, s *store.Store) (who models.Who, season int64, plays []models.Play) {
	b.Helper()
	academy, err := s.CreateAcademy(b.Context(), "Harbour Academy")
	if err != nil {
		b.Fatal(err)
	}
	who = models.Console(academy.ID)
	write(b, s, who, func(tx *store.Tx) error {
		year := models.Season{Name: "2025-26", Starts: "2025-09-01", Ends: "2026-05-31"}
		squad := models.Squad{Name: "Colts"}
		if err := all(func() error {
			return tx.CreateSeason(&year)
		}, func() error { return tx.CreateSquad(&squad) }); err != nil {
			return err
		}
		season = year.ID
		players := make([]models.Player, 230)
		for i := range players {
			players[i] = models.Player{Name: fmt.Sprintf("Player %d", i+1), Positions: []models.Position{"flanker"}}
			if err := tx.CreatePlayer(&players[i]); err != nil {
				return err
			}
			member := models.Membership{SeasonID: year.ID, SquadID: squad.ID, PlayerID: players[i].ID, From: year.Starts}
			if err := tx.CreateMembership(&member); err != nil {
				return err
			}
		}
		for m := range 388 {
			match := models.Match{SeasonID: year.ID, SquadID: &squad.ID, Date: year.Starts.AddDays(m % 270),
				Opponent: "Fellmoor", Halves: 2, HalfMinutes: 40}
			if err := tx.CreateMatch(&match); err != nil {
				return err
			}
			for n := range 23 {
				if len(plays) == 8911 {
					break
				}
				carries := float64(2 + (m+n)%9)
				plays = append(plays, models.Play{Match: match,
					Appearance: models.Appearance{PlayerID: players[(m*23+n)%len(players)].ID, Minutes: float64(20 + (m+7*n)%61),
						Shirt: ptr(n + 1)},
					Totals: &models.MatchTotals{Source: "statistics.csv", Counts: models.Counts{"carries": carries,
						"contacts_won":   carries - 2,
						"gain_line_over": carries - 1, "metres": 7.5 * carries, "tackles_made": float64(1 + n%12),
						"tackles_won": float64(n % 5 % (1 + n%12)), "tackles_missed": 1, "penalties_conceded": float64(n % 3)}}})
			}
		}
		return nil
	})
	return who, season, plays
}

// BenchmarkAddPlays reports how many appearances with totals are checked, written and observed in a second.
func BenchmarkAddPlays(b *testing.B) {
	for _, name := range []string{"sqlite", "postgres"} {
		b.Run(name, func(b *testing.B) {
			appearances, observations := 0, 0
			for range b.N {
				b.StopTimer()
				s := storetest.Open(b, name)
				who, season, plays := plays(b, s)
				b.StartTimer()
				write(b, s, who, func(tx *store.Tx) error { return tx.AddPlays(plays) })
				b.StopTimer()
				read(b, s, who, func(tx *store.Tx) error {
					all, err := tx.Observations(models.ObservationFilter{SeasonID: season})
					appearances, observations = appearances+len(plays), observations+len(all)
					return err
				})
				b.StartTimer()
			}
			b.ReportMetric(float64(appearances)/b.Elapsed().Seconds(), "appearances/s")
			b.ReportMetric(float64(observations)/float64(appearances), "observations/appearance")
		})
	}
}

// BenchmarkRecompute reports how many appearances are computed again and compared in a second.
func BenchmarkRecompute(b *testing.B) {
	for _, name := range []string{"sqlite", "postgres"} {
		b.Run(name, func(b *testing.B) {
			s := storetest.Open(b, name)
			who, season, plays := plays(b, s)
			write(b, s, who, func(tx *store.Tx) error { return tx.AddPlays(plays) })
			for b.Loop() {
				write(b, s, who, func(tx *store.Tx) error {
					_, found, err := tx.Recompute(season)
					if len(found) > 0 {
						b.Error(found[0])
					}
					return err
				})
			}
			b.ReportMetric(float64(b.N*len(plays))/b.Elapsed().Seconds(), "appearances/s")
		})
	}
}

// BenchmarkCreateInvolvement is what a coach waits for at each key in a match log: one involvement, checked, written
// and observed.
func BenchmarkCreateInvolvement(b *testing.B) {
	for _, name := range []string{"sqlite", "postgres"} {
		b.Run(name, func(b *testing.B) {
			s := storetest.Open(b, name)
			w := newWorld(b, s)
			n := 0
			for b.Loop() {
				n++
				tackle := models.Involvement{LogID: w.log.ID, Clock: clock(1, n%35, 0), Kind: models.KindTackle,
					Details: map[string]string{"result": "won"}}
				write(b, s, w.coach, func(tx *store.Tx) error {
					if err := tx.CreateInvolvement(&tackle); err != nil {
						return err
					}
					if n%60 == 0 { // a match has no more of them
						return tx.DeleteLog(w.log.ID, w.log.Version)
					}
					return nil
				})
				if n%60 == 0 {
					write(b, s, w.coach, func(tx *store.Tx) error {
						w.log = models.Log{MatchID: w.match.ID, PlayerID: w.bram.ID, Depth: models.Full, Finished: true,
							Kinds: []models.Kind{models.KindTackle}}
						return tx.CreateLog(&w.log)
					})
				}
			}
		})
	}
}

// BenchmarkGroupObservations reads what a season report compares a player with: the figures of their squad's season.
func BenchmarkGroupObservations(b *testing.B) {
	for _, name := range []string{"sqlite", "postgres"} {
		b.Run(name, func(b *testing.B) {
			s := storetest.Open(b, name)
			who, season, plays := plays(b, s)
			write(b, s, who, func(tx *store.Tx) error { return tx.AddPlays(plays) })
			for b.Loop() {
				read(b, s, who, func(tx *store.Tx) error {
					all, err := tx.GroupObservations(models.GroupFilter{SeasonID: season, SquadID: *plays[0].Match.SquadID})
					if len(all) < len(plays) {
						b.Errorf("%d observations", len(all))
					}
					return err
				})
			}
		})
	}
}
