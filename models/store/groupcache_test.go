package store_test

import (
	"fmt"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// What a store holds of a squad's season in memory is what another store, which has just been opened, reads from the
// database: after every kind of change that a group's figures depend on, made by either.
func TestHeldGroupsAreNeverOld(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		open := func() *store.Store {
			s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { s.Close() })
			return s
		}
		s, other := open(), open()
		w := newWorld(t, s)
		colts := models.GroupFilter{SeasonID: w.season.ID, SquadID: w.colts.ID}
		figures := func(s *store.Store) (text string) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				observations, err := tx.GroupObservations(colts)
				if err != nil {
					return err
				}
				text = fmt.Sprint(observations)
				return nil
			})
			return text
		}
		last := figures(s)
		for _, change := range []struct {
			what string
			make func(tx *store.Tx) error
		}{
			{"totals are changed", func(tx *store.Tx) error {
				w.totals.Counts = models.Counts{"carries": 3, "metres": 11}
				return tx.UpdateMatchTotals(&w.totals)
			}},
			{"an involvement is logged", func(tx *store.Tx) error {
				tackle := models.Involvement{LogID: w.log.ID, Clock: clock(1, 30, 0), Kind: models.KindTackle,
					Details: map[string]string{"result": "won"}}
				return tx.CreateInvolvement(&tackle)
			}},
			{"a player's position is changed", func(tx *store.Tx) error {
				p, err := tx.Player(w.tove.ID)
				if err != nil {
					return err
				}
				p.Positions = []models.Position{models.Wing}
				return tx.UpdatePlayer(&p)
			}},
			{"an indicator is added", func(tx *store.Tx) error {
				return tx.CreateIndicator(&models.Indicator{Code: "own_carries", Label: "Own carries",
					Meaning: "Carries, counted again.", Family: models.Rate, Unit: "per full match",
					Better: models.Higher, Numerator: "carries", Depth: models.Core})
			}},
			{"a member leaves the squad's list", func(tx *store.Tx) error {
				members, err := tx.Memberships(models.MembershipFilter{PlayerID: w.tove.ID, SeasonID: w.season.ID,
					SquadID: w.colts.ID})
				if err != nil {
					return err
				}
				return tx.DeleteMembership(members[0].ID, members[0].Version)
			}},
			{"the match becomes another squad's", func(tx *store.Tx) error {
				m, err := tx.Match(w.match.ID)
				if err != nil {
					return err
				}
				m.SquadID = &w.juniors.ID
				return tx.UpdateMatch(&m)
			}},
		} {
			write(t, other, w.manager, change.make) // another program's change counts too
			now, fresh := figures(s), figures(open())
			if now != fresh {
				t.Errorf("%s: the store holds\n%s\nand the database has\n%s", change.what, now, fresh)
			}
			if now == last {
				t.Errorf("%s, and the figures are as before", change.what)
			}
			if again := figures(s); again != now {
				t.Errorf("%s: read twice, the figures are\n%s\nand\n%s", change.what, now, again)
			}
			last = now
		}
	})
}
