package store_test

import (
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// readNarrowed reads every list narrowed by each thing that all lists can be narrowed by, as far as its records allow.
func (w *world) readNarrowed(t *testing.T, who models.Who) {
	t.Helper()
	from, to := models.Date("2025-09-01"), models.Date("2026-01-31")
	ways, narrowed := []models.Narrow{{From: &from, To: &to}, {SeasonID: w.season.ID}, {SquadID: w.colts.ID},
		{PlayerID: w.bram.ID}, {MatchID: w.match.ID}, {GoalID: w.goal.ID}, {Indicator: "carries"}, {Skill: "tackle"}}, 0
	read(t, w.s, who, func(tx *store.Tx) error {
		for _, l := range w.listings(tx) {
			list := l.narrowings[0]
			whole, err := list()
			if models.CodeOf(err) == models.Forbidden {
				continue
			}
			if err != nil {
				return err
			}
			for _, by := range ways {
				some, err := store.Narrow(tx, by, list)
				switch {
				case err == nil:
					narrowed++
				case !strings.Contains(err.Error(), "cannot be filtered"):
					return err
				}
				if len(some) > len(whole) {
					t.Errorf("%s narrowed by %+v: %d of %d", l.name, by, len(some), len(whole))
				}
			}
		}
		return nil
	})
	if narrowed < 100 {
		t.Errorf("only %d lists were narrowed", narrowed)
	}
}
