package store_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// lists are all lists of the store that come in pages, by name: those of the kinds, and those of rows without a kind.
func lists() map[string]func(*store.Tx) ([]any, error) {
	all := map[string]func(*store.Tx) ([]any, error){
		"observations": listed(func(tx *store.Tx) ([]models.Observation, error) {
			return tx.Observations(models.ObservationFilter{})
		}),
		"carry cells": listed(func(tx *store.Tx) ([]models.CarryCell, error) {
			return tx.CarryCells(models.ObservationFilter{})
		}),
		"audit entries": listed(func(tx *store.Tx) ([]models.AuditEntry, error) {
			return tx.AuditEntries(models.AuditFilter{})
		}),
	}
	for _, d := range store.DeclaredTables() {
		if d.List != nil {
			all[d.Called] = d.List
		}
	}
	return all
}

func listed[T any](list func(*store.Tx) ([]T, error)) func(*store.Tx) ([]any, error) {
	return func(tx *store.Tx) ([]any, error) {
		rows, err := list(tx)
		all := make([]any, len(rows))
		for i := range rows {
			all[i] = rows[i]
		}
		return all, err
	}
}

// paged reads a list in pages of one item and returns the items and the cursors between them.
func paged(t *testing.T, s *store.Store, who models.Who, list func(*store.Tx) ([]any, error)) (items []any,
	cursors []string) {
	t.Helper()
	read(t, s, who, func(tx *store.Tx) error {
		for next := ""; ; {
			some, after, err := store.Page(tx, next, 1, func() ([]any, error) { return list(tx) })
			if models.CodeOf(err) == models.Forbidden {
				return nil
			}
			if err != nil {
				return err
			}
			items = append(items, some...)
			if after == "" {
				return nil
			}
			cursors = append(cursors, after)
			next = after
		}
	})
	return items, cursors
}

// manyOfEach is a world with more than one record in most lists that the manager reads.
func manyOfEach(t *testing.T, s *store.Store) *world {
	w := newWorld(t, s)
	w.markBram(t)
	write(t, s, w.manager, func(tx *store.Tx) error {
		for i := range 2 {
			skill := models.Skill{Code: fmt.Sprint("restart_chase_", i), Label: fmt.Sprint("Restart chase ", i),
				Grades: [5]string{"a", "b", "c", "d", "e"}}
			if err := tx.CreateSkill(&skill); err != nil {
				return err
			}
		}
		return nil
	})
	return w
}

func TestNoCursorShowsWhatTheListHolds(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := manyOfEach(t, s)
		tried := map[string]bool{}
		for name, list := range lists() {
			items, cursors := paged(t, s, w.manager, list)
			tried[name] = len(cursors) > 0
			text, err := json.Marshal(items)
			if err != nil {
				t.Fatal(err)
			}
			for _, cursor := range cursors {
				decoded, err := base64.RawURLEncoding.DecodeString(cursor)
				if err != nil {
					t.Fatalf("%s: cursor %q is not base64: look at how it is made", name, cursor)
				}
				for _, word := range words(text) {
					if bytes.Contains([]byte(cursor), word) || bytes.Contains(decoded, word) {
						t.Errorf("%s: a cursor holds %q", name, word)
					}
				}
			}
		}
		for _, name := range []string{"player", "user", "season", "squad", "skill", "match", "observations", "audit entries",
			"consent"} {
			if !tried[name] {
				t.Errorf("no cursor of the list %s was looked at", name)
			}
		}
	})
}

// words are the texts of a JSON that are too long to be in a random text by chance.
func words(text []byte) (all [][]byte) {
	for _, part := range bytes.FieldsFunc(text, func(r rune) bool {
		return r == '"' || r == ',' || r == ':' || r == ' ' || r == '{' || r == '}'
	}) {
		if len(part) >= 5 {
			all = append(all, part)
		}
	}
	return all
}

func TestACursorOfAnotherListIsRefused(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := manyOfEach(t, s)
		cursors := map[string]string{"nothing": "***",
			"a list in plain sight": base64.RawURLEncoding.EncodeToString([]byte(`["Bram Oakes",1]`))}
		for name, list := range lists() {
			if _, of := paged(t, s, w.manager, list); len(of) > 0 {
				cursors[name] = of[0]
				cursors["something cut"] = of[0][:len(of[0])-2]
				cursors["something longer"] = of[0] + "AA"
			}
		}
		if len(cursors) < 20 {
			t.Fatalf("only %d cursors", len(cursors))
		}
		for name, list := range lists() {
			for from, cursor := range cursors {
				err := ofPage(t, s, w.manager, cursor, list)
				if from == name || models.CodeOf(err) == models.Forbidden {
					continue
				}
				if models.CodeOf(err) != models.Invalid || at(err) != "cursor" {
					t.Fatalf("%s with a cursor of %s: %v; want it refused at cursor", name, from, err)
				}
			}
		}
	})
}

// at is the place of the only thing that an error finds wrong.
func at(err error) string {
	var e *models.Error
	if errors.As(err, &e) && len(e.Fields) == 1 {
		return e.Fields[0].Where
	}
	return ""
}

func TestCursorsAreTheSameOnEveryServerOfADatabaseAndOnNoOther(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		open := func(url string) *store.Store {
			s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { _ = s.Close() })
			return s
		}
		first, second := open(url), open(url)
		w := manyOfEach(t, first)
		list := lists()["player"]
		_, here := paged(t, first, w.manager, list)
		_, there := paged(t, second, w.manager, list) // each page opened the one before
		if len(here) < 2 || !slices.Equal(here, there) {
			t.Errorf("cursors %v on one server, %v on another", here, there)
		}
		another := "sqlite:" + filepath.Join(t.TempDir(), "another.db")
		if _, err := store.Migrate(t.Context(), another); err != nil {
			t.Fatal(err)
		}
		elsewhere := open(another)
		v := newWorld(t, elsewhere)
		other := addAcademy(t, first, "Fell Academy", "fell")
		for what, ask := range map[string]func() error{
			"another database": func() error { return ofPage(t, elsewhere, v.manager, here[0], list) },
			"another academy":  func() error { return ofPage(t, first, other.manager, here[0], list) },
		} {
			if err := ask(); models.CodeOf(err) != models.Invalid {
				t.Errorf("%s answers %v; want the cursor refused", what, err)
			}
		}
	})
}

func ofPage(t *testing.T, s *store.Store, who models.Who, cursor string, list func(*store.Tx) ([]any, error)) error {
	return s.Read(t.Context(), who, func(tx *store.Tx) error {
		_, _, err := store.Page(tx, cursor, 1, func() ([]any, error) { return list(tx) })
		return err
	})
}

func TestACursorWhoseOwnItemMovesSkipsNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		made := make([]models.Player, 5)
		for i := range made {
			made[i].Name = string(rune('A'+i)) + " Ames"
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreatePlayer(&made[i]) })
		}
		var cursor string
		read(t, s, w.manager, func(tx *store.Tx) (err error) {
			_, cursor, err = store.Page(tx, "", 2, func() ([]models.Player, error) { return tx.Players(models.PlayerFilter{}) })
			return err
		})
		made[1].Name = "Zeal Ames" // the cursor's own item
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdatePlayer(&made[1]) })
		read(t, s, w.manager, func(tx *store.Tx) error {
			rest, _, err := store.Page(tx, cursor, 3, func() ([]models.Player, error) {
				return tx.Players(models.PlayerFilter{})
			})
			if len(rest) != 3 || rest[0].Name != "Bram Oakes" && rest[0].Name != "C Ames" {
				t.Errorf("after B Ames come %v", rest)
			}
			return err
		})
	})
}
