package store_test

import (
	"reflect"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// What a squad's fits say about the scales is read by the fits of the season's other squads alone.
func TestScalesOfASquadsSeasonAreForTheOthersOfTheSeason(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		console := models.Console(w.academy.ID)
		of := models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: w.revision(t)}
		said := models.SquadScales{
			All:   []models.ScaleSketch{{Slope: []float64{0, -1.5}, Trend: 0.1, Variance: 0.2, Share: 0.5}},
			Shown: []models.ScaleSketch{{Slope: []float64{-1, 0}}}, Until: "2025-10-04",
		}
		write(t, s, console, func(tx *store.Tx) error { return tx.KeepScore(of, models.Score{Scales: &said}) })
		write(t, s, console, func(tx *store.Tx) error { return tx.KeepScore(of, models.Score{}) })
		read(t, s, console, func(tx *store.Tx) error {
			others, err := tx.Scales(w.season.ID, w.colts.ID+1000)
			if err != nil || len(others) != 1 || !reflect.DeepEqual(others[0], said) {
				t.Errorf("another squad reads %+v, %v; want %+v", others, err, said)
			}
			own, err := tx.Scales(w.season.ID, w.colts.ID)
			if err != nil || len(own) != 0 {
				t.Errorf("the squad itself reads %+v, %v", own, err)
			}
			return nil
		})
	})
}
