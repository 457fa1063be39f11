package store_test

import (
	"reflect"
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// pages reads a list page by page.
func pages[T any](t *testing.T, tx *store.Tx, limit int, list func() ([]T, error)) []T {
	t.Helper()
	all := []T{}
	cursor := ""
	for {
		items, next, err := store.Page(tx, cursor, limit, list)
		if err != nil {
			t.Fatal(err)
		}
		if len(items) > limit || next != "" && len(items) < limit {
			t.Fatalf("a page of %d items, and more to come: %v; want %d", len(items), next != "", limit)
		}
		all = append(all, items...)
		if next == "" {
			return all
		}
		cursor = next
	}
}

// same checks that the pages of a list are the list.
func same[T any](t *testing.T, tx *store.Tx, what string, list func() ([]T, error)) {
	t.Helper()
	whole, err := list()
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	for _, limit := range []int{1, 2, 3, len(whole) + 1} {
		if got := pages(t, tx, limit, list); !reflect.DeepEqual(got, whole) {
			t.Errorf("%s in pages of %d: %v; want %v", what, limit, got, whole)
		}
	}
	if again, err := list(); err != nil || len(again) != len(whole) {
		t.Errorf("%s: %d items after paging, %v; want all %d", what, len(again), err, len(whole))
	}
}

func TestThePagesOfAListAreTheList(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for range 4 {
			if _, err := s.ExportPlayer(t.Context(), w.manager, w.bram.ID, models.AskedByPlayer); err != nil {
				t.Fatal(err)
			}
		}
		write(t, s, w.manager, func(tx *store.Tx) error { // several at one time
			for range 4 {
				if err := tx.CreateHeadContact(&models.HeadContact{PlayerID: w.bram.ID, Date: "2025-11-21",
					StandDown: true}); err != nil {
					return err
				}
			}
			return nil
		})
		for _, who := range []models.Who{w.manager, w.coach, w.bramHimself} {
			w.readPages(t, who)
		}
	})
}

// readPages reads every list page by page.
func (w *world) readPages(t *testing.T, who models.Who) {
	t.Helper()
	read(t, w.s, who, func(tx *store.Tx) error {
		for _, l := range w.listings(tx) {
			list := l.narrowings[0]
			if _, err := list(); models.CodeOf(err) != models.Forbidden {
				same(t, tx, l.name, list)
			}
		}
		if who.Reach(models.Read, models.AreaAudit) != models.ReachNone {
			same(t, tx, "audit entries", func() ([]models.AuditEntry, error) { return tx.AuditEntries(models.AuditFilter{}) })
		}
		same(t, tx, "observations", func() ([]models.Observation, error) {
			return tx.Observations(models.ObservationFilter{})
		})
		same(t, tx, "carry cells", func() ([]models.CarryCell, error) { return tx.CarryCells(models.ObservationFilter{}) })
		return nil
	})
}

func TestACursorKeepsItsPlaceWhileTheListChanges(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		var made []models.Player
		write(t, s, w.manager, func(tx *store.Tx) error {
			for _, name := range []string{"Zeal Ames", "Zeal Burr", "Zeal Crane", "Zeal Dorn", "Zeal Esk"} {
				p := models.Player{Name: name}
				if err := tx.CreatePlayer(&p); err != nil {
					return err
				}
				made = append(made, p)
			}
			return nil
		})
		names := func(after string) (names []string, next string) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				for {
					items, cursor, err := store.Page(tx, after, 2, func() ([]models.Player, error) {
						return tx.Players(models.PlayerFilter{})
					})
					if err != nil {
						return err
					}
					for _, p := range items {
						names = append(names, p.Name)
					}
					if next = cursor; len(items) == 0 || cursor == "" || slices.Contains(names, "Zeal Burr") {
						return nil
					}
					after = cursor
				}
			})
			return names, next
		}
		before, next := names("")
		if !slices.Contains(before, "Zeal Burr") {
			t.Fatalf("the list ended with %v", before)
		}
		last := before[len(before)-1]
		write(t, s, w.manager, func(tx *store.Tx) error {
			for i, p := range made {
				switch p.Name {
				case "Zeal Ames": // behind the cursor, and now far ahead of it
					made[i].Name = "Zeal Zorn"
					if err := tx.UpdatePlayer(&made[i]); err != nil {
						return err
					}
				case last: // the very item that the cursor stands for
					if err := tx.DeletePlayer(p.ID, p.Version); err != nil {
						return err
					}
				}
			}
			return nil
		})
		var rest []string
		for cursor := next; cursor != ""; {
			read(t, s, w.manager, func(tx *store.Tx) error {
				items, after, err := store.Page(tx, cursor, 1, func() ([]models.Player, error) {
					return tx.Players(models.PlayerFilter{})
				})
				for _, p := range items {
					rest = append(rest, p.Name)
				}
				cursor = after
				return err
			})
		}
		for _, want := range []string{"Zeal Crane", "Zeal Dorn", "Zeal Esk", "Zeal Zorn"} {
			if want != last && want > last && !slices.Contains(rest, want) {
				t.Errorf("after %s: %v; want %s among them", last, rest, want)
			}
		}
		if slices.Contains(rest, last) {
			t.Errorf("after %s: %v; want nothing twice", last, rest)
		}
	})
}

func TestWhatWasDeletedDoesNotComeBackWhenItIsSentAgain(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		log := models.Log{MatchID: w.match.ID, PlayerID: w.bram.ID, LoggerID: w.manager.UserID, Depth: models.Core,
			Kinds: []models.Kind{models.KindCarry}, Key: "tablet-7"}
		carry := models.Involvement{Clock: models.Clock{Half: 1, Second: 30}, Kind: models.KindCarry, Key: "tablet-7-1"}
		write(t, s, w.manager, func(tx *store.Tx) error {
			made := log
			if err := tx.CreateLog(&made); err != nil {
				return err
			}
			carry.LogID = made.ID
			first := carry
			if err := tx.CreateInvolvement(&first); err != nil {
				return err
			}
			if err := tx.DeleteInvolvement(first.ID, first.Version); err != nil {
				return err
			}
			again := carry
			if err := tx.CreateInvolvement(&again); models.CodeOf(err) != models.Gone {
				t.Errorf("a deleted involvement sent again: %v; want that it is gone", err)
			}
			another := carry
			another.Key = "tablet-7-2"
			if err := tx.CreateInvolvement(&another); err != nil {
				t.Errorf("the same with another key: %v; want it made", err)
			}
			if err := tx.DeleteLog(made.ID, made.Version); err != nil {
				return err
			}
			made = log
			if err := tx.CreateLog(&made); models.CodeOf(err) != models.Gone {
				t.Errorf("a deleted log sent again: %v; want that it is gone", err)
			}
			return nil
		})
	})
}
