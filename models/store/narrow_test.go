package store_test

import (
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// readNarrowed reads lists narrowed by each thing that all lists can be narrowed by, as far as their records allow.
func (w *world) readNarrowed(t *testing.T, who models.Who) {
	t.Helper()
	from, to := models.Date("2025-09-01"), models.Date("2026-01-31")
	day, season, squad := models.Narrow{From: &from, To: &to}, models.Narrow{SeasonID: w.season.ID},
		models.Narrow{SquadID: w.colts.ID}
	player, match := models.Narrow{PlayerID: w.bram.ID}, models.Narrow{MatchID: w.match.ID}
	read(t, w.s, who, func(tx *store.Tx) error {
		narrowed(t, tx, func() ([]models.Spell, error) {
			return tx.Spells(models.SpellFilter{})
		}, day, season, squad, player)
		narrowed(t, tx, func() ([]models.Goal, error) { return tx.Goals(models.GoalFilter{}) }, day, season, squad, player,
			models.Narrow{Indicator: "carries"}, models.Narrow{Skill: "tackle"})
		narrowed(t, tx, func() ([]models.CheckIn, error) { return tx.CheckIns(0) }, day, season, squad, player)
		narrowed(t, tx, func() ([]models.Match, error) { return tx.Matches(models.MatchFilter{}) }, day, season, squad)
		narrowed(t, tx, func() ([]models.MatchEvent, error) { return tx.MatchEvents(0) }, day, season, squad, player, match)
		narrowed(t, tx, func() ([]models.Log, error) {
			return tx.Logs(models.LogFilter{})
		}, day, season, squad, player, match)
		narrowed(t, tx, func() ([]models.Involvement, error) {
			return tx.Involvements(models.InvolvementFilter{})
		}, day, season, squad, player, match)
		narrowed(t, tx, func() ([]models.Rating, error) {
			return tx.Ratings(models.RatingFilter{})
		}, day, season, squad, player, match, models.Narrow{Skill: "tackle"})
		narrowed(t, tx, func() ([]models.ReviewNote, error) {
			return tx.ReviewNotes(models.ReviewNoteFilter{})
		}, day, season, squad, player, match)
		narrowed(t, tx, func() ([]models.TrainingObservation, error) {
			return tx.TrainingObservations(models.TrainingObservationFilter{})
		}, day, season, squad, player, models.Narrow{Skill: "tackle"})
		return nil
	})
}

func narrowed[T any](t *testing.T, tx *store.Tx, list func() ([]T, error), by ...models.Narrow) {
	t.Helper()
	whole, err := list()
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range by {
		if some, err := store.Narrow(tx, n, list); err != nil || len(some) > len(whole) {
			t.Errorf("narrowed by %+v: %d of %d, %v", n, len(some), len(whole), err)
		}
	}
}
