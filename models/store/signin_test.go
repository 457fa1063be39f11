package store_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// refusals are what the audit trail tells of refused sign-ins, in order.
func refusals(t *testing.T, s *store.Store, academy int64) (counts []int64, from []string) {
	t.Helper()
	read(t, s, models.Console(academy), func(tx *store.Tx) error {
		all, err := tx.AuditEntries(models.AuditFilter{Action: "sign-in refused"})
		for _, e := range all {
			var said struct {
				From  string
				After models.Refusals
			}
			if err := json.Unmarshal([]byte(*e.Payload), &said); err != nil {
				return err
			}
			counts, from = append(counts, said.After.Count), append(from, said.From)
		}
		return err
	})
	return counts, from
}

func TestTheTrailTellsOfRefusedSignInsOnceAnHourAndAccountWithACount(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		now := storetest.Now()
		s := storetest.With(t, url, store.Options{Now: func() time.Time { return now }})
		w := newWorld(t, s)
		refuse := func(who models.Who, from string, times int) {
			t.Helper()
			who.From = from
			for range times {
				if err := s.SignInRefused(t.Context(), who); err != nil {
					t.Fatal(err)
				}
			}
		}
		wants := func(when string, academy int64, want ...int64) {
			t.Helper()
			if got, _ := refusals(t, s, academy); !slices.Equal(got, want) {
				t.Errorf("%s the trail tells of %v; want %v", when, got, want)
			}
		}
		refuse(w.coach, "192.0.2.1", 25)
		wants("after 25", w.academy.ID, 1)
		refuse(w.manager, "192.0.2.2", 3)
		wants("of another account", w.academy.ID, 1, 1)
		now = now.Add(time.Hour)
		refuse(w.coach, "192.0.2.3", 1)
		if counts, from := refusals(t, s, w.academy.ID); !slices.Equal(counts[2:], []int64{25, 2}) &&
			!slices.Equal(counts[2:], []int64{2, 25}) ||
			!slices.Contains(from, "192.0.2.3") {
			t.Errorf("an hour later the trail tells of %v from %v; want 25 and 2 more", counts, from)
		}
		refuse(w.coach, "192.0.2.1", 4)
		if err := s.SignedIn(t.Context(), w.coach, nil, make([]byte, 32)); err != nil {
			t.Fatal(err)
		}
		if counts, _ := refusals(t, s, w.academy.ID); len(counts) != 5 || counts[4] != 4 {
			t.Errorf("when the user is in the trail tells of %v; want the 4 since", counts)
		}
		unknown := models.Console(models.Deployment)
		refuse(unknown, "192.0.2.9", 12)
		now = now.Add(time.Hour)
		refuse(unknown, "192.0.2.9", 1)
		wants("of names that nobody has", models.Deployment, 1, 12)
	})
}

func TestNamesThatNobodyHasTakeOnlySoMuchRoom(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		try := store.SignInTry{AcademyID: models.Deployment, Part: models.PartPassword, Place: 7}
		for n := range 11 {
			wait, err := s.TryToSignIn(t.Context(), try)
			if err != nil || (wait > 0) != (n == 10) {
				t.Errorf("attempt %d at a place: wait %v, %v; want to wait for the eleventh", n+1, wait, err)
			}
		}
		read(t, s, models.Console(models.Deployment), func(tx *store.Tx) error {
			var rows int64
			err := tx.Raw().Raw("SELECT count(*) FROM sign_in_attempts").Scan(&rows).Error
			if rows != 1 {
				t.Errorf("%d rows; want one for the place", rows)
			}
			return err
		})
	})
}
