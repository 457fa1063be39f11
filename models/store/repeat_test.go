package store_test

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
)

// A request is remembered for a day, for its caller alone, and goes with the player whom it is about.
func TestARequestIsRememberedForADayAndErasedWithItsPlayer(t *testing.T) {
	clocked(t, func(t *testing.T, s *store.Store, now *time.Time) {
		w := newWorld(t, s)
		hash := func(n byte) []byte { return bytes.Repeat([]byte{n}, 32) }
		remember := func(n byte, make func(tx *store.Tx) (int64, error)) {
			t.Helper()
			write(t, s, w.manager, func(tx *store.Tx) error {
				id, err := make(tx)
				if err != nil {
					return err
				}
				return tx.Remember(models.Repeat{KeyHash: hash(n), Contents: hash(n + 100), Made: []int64{id}})
			})
		}
		about := func(player int64) func(tx *store.Tx) (int64, error) {
			return func(tx *store.Tx) (int64, error) {
				note := models.ReviewNote{PlayerID: player, Date: "2025-11-04", Text: "Feet first."}
				err := tx.CreateReviewNote(&note)
				return note.ID, err
			}
		}
		known := func(who models.Who) (all []byte) {
			for n := byte(1); n <= 4; n++ {
				read(t, s, who, func(tx *store.Tx) error {
					found, ok, err := tx.Repeated(hash(n))
					if ok {
						all = append(all, n)
						if !bytes.Equal(found.Contents, hash(n+100)) || len(found.Made) != 1 {
							t.Errorf("request %d is kept as %+v", n, found)
						}
					}
					return err
				})
			}
			return all
		}
		remember(1, about(w.bram.ID))
		remember(2, about(w.iver.ID))
		remember(3, func(tx *store.Tx) (int64, error) {
			squad := models.Squad{Name: "Under 21", AgeBand: 21, BandMonth: 9}
			err := tx.CreateSquad(&squad)
			return squad.ID, err
		})
		if got := known(w.manager); !slices.Equal(got, []byte{1, 2, 3}) {
			t.Errorf("requests %v are remembered; want all three", got)
		}
		if got := known(w.coach); len(got) > 0 {
			t.Errorf("another user knows the requests %v", got)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		if got := known(w.manager); !slices.Equal(got, []byte{2}) {
			t.Errorf("after the erasure the requests %v are remembered; want only the one about another player", got)
		}
		*now = now.Add(models.RepeatsFor)
		if got := known(w.manager); len(got) > 0 {
			t.Errorf("a day later the requests %v are remembered", got)
		}
		remember(4, about(w.iver.ID))
		var rows int64
		read(t, s, w.manager, func(tx *store.Tx) error {
			return tx.Raw().Raw("SELECT count(*) FROM repeats").Scan(&rows).Error
		})
		if rows != 1 {
			t.Errorf("%d requests are kept; want that the old ones are deleted by the next", rows)
		}
	})
}
