package store_test

import (
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// How far grades agree is worked out from grades that count: not from those of a round that is still open, not from a
// self-rating, and not by a selector, a player or a coach of another squad.
func TestHowFarGradesAgreeIsToldFromGradesThatTheReaderMayRead(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		w.round(t, &w.match.ID, "", "2025-10-12")
		tackle := w.rate(t, w.coach, "tackle", &w.match.ID, "")
		breakdown := w.rate(t, w.coach, "breakdown", &w.match.ID, "")
		write(t, w.s, w.bramHimself, func(tx *store.Tx) error {
			own := models.SelfRating{Rating: models.Rating{Skill: "tackle", Grade: 4, Date: w.match.Date,
				MatchID: &w.match.ID, PlayerID: w.bram.ID}}
			return tx.CreateSelfRating(&own)
		})
		seen := func(who models.Who, want ...int64) {
			t.Helper()
			read(t, w.s, who, func(tx *store.Tx) error {
				all, err := tx.SquadGrades(w.season.ID, w.colts.ID)
				var ids []int64
				for _, r := range all {
					ids = append(ids, r.ID)
				}
				slices.Sort(ids)
				if !slices.Equal(ids, want) {
					t.Errorf("on %s %s reads grades %v, want %v", today.day, who.Name, ids, want)
				}
				return err
			})
		}
		own := w.rate(t, second, "tackle", &w.match.ID, "")
		for _, who := range []models.Who{w.manager, w.coach, second} {
			seen(who)
		}
		today.day = "2025-10-13"
		for _, who := range []models.Who{w.manager, w.coach, second} {
			seen(who, tackle.ID, breakdown.ID, own.ID)
		}
		for who, code := range map[*models.Who]models.Code{&w.selector: models.Forbidden, &w.bramHimself: models.Forbidden,
			&w.juniorCoach: models.NotFound} {
			err := w.s.Read(t.Context(), *who, func(tx *store.Tx) error {
				_, err := tx.SquadGrades(w.season.ID, w.colts.ID)
				return err
			})
			if models.CodeOf(err) != code {
				t.Errorf("%s: %v, want %s", who.Name, err, code)
			}
		}
	})
}
