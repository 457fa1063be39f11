package store_test

import (
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// aim changes the target of a goal.
func (w *world) aim(t testing.TB, who models.Who, version int64, target float64) error {
	t.Helper()
	return w.s.Write(t.Context(), who, func(tx *store.Tx) error {
		g, err := tx.Goal(w.goal.ID)
		if err != nil {
			return err
		}
		g.Version, g.Target = version, target
		return tx.UpdateGoal(&g)
	})
}

func TestEachChangeKeepsTheRecordAsItWas(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		first := w.goal.Target
		for version, by := range []models.Who{w.coach, w.manager} {
			if err := w.aim(t, by, w.goal.Version+int64(version), 0.61+float64(version)/100); err != nil {
				t.Fatal(err)
			}
		}
		for _, who := range []models.Who{w.manager, w.coach, w.selector, w.bramHimself} {
			read(t, s, who, func(tx *store.Tx) error {
				all, err := tx.Earlier("goal", w.goal.ID)
				if err != nil || len(all) != 2 {
					t.Errorf("a %s reads %+v, %v; want two versions", who.Role, all, err)
					return nil
				}
				for n, want := range []struct {
					by     int64
					target float64
				}{{w.coach.UserID, first}, {w.manager.UserID, 0.61}} {
					var was models.Goal
					if err := json.Unmarshal(all[n].Record(), &was); err != nil {
						return err
					}
					if all[n].UserID != want.by || was.Target != want.target || all[n].Version != w.goal.Version+int64(n) ||
						all[n].At.IsZero() || was.Version != all[n].Version {
						t.Errorf("version %d is %+v", n, all[n])
					}
				}
				return nil
			})
		}
		far := addAcademy(t, s, "Ridge Academy", "ridge")
		for _, who := range []models.Who{w.juniorCoach, far.manager} {
			read(t, s, who, func(tx *store.Tx) error {
				if all, err := tx.Earlier("goal", w.goal.ID); models.CodeOf(err) != models.NotFound {
					t.Errorf("a caller who does not read the goal reads %v, %v of its past", all, err)
				}
				return nil
			})
		}
		// What was never changed has no past, and what keeps none says so.
		read(t, s, w.manager, func(tx *store.Tx) error {
			if all, err := tx.Earlier("season", w.season.ID); err == nil {
				t.Errorf("a season has %v", all)
			}
			return nil
		})
	})
}

func TestADeletedRecordIsKeptForTheArchiveAndErasedWithThePlayer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		c := models.CheckIn{GoalID: w.goal.ID, Shared: true, Date: "2025-11-01", Text: "Zephyr feet first."}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateCheckIn(&c) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteCheckIn(c.ID, c.Version) })
		if err := w.aim(t, w.coach, w.goal.Version, 0.62); err != nil {
			t.Fatal(err)
		}
		part := func(who models.Who) string {
			record, err := s.ExportPlayer(t.Context(), who, w.bram.ID, models.AskedByPlayer)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range record.Parts {
				if p.Code == "earlier_versions" {
					text, err := json.Marshal(p.Items)
					if err != nil {
						t.Fatal(err)
					}
					return string(text)
				}
			}
			t.Fatal("the archive has no earlier versions")
			return ""
		}
		if full := part(w.manager); !strings.Contains(full, "Zephyr") || !strings.Contains(full, `"deleted":true`) {
			t.Errorf("the manager's archive has %s; want the deleted check-in", full)
		}
		own := part(w.bramHimself)
		if !strings.Contains(own, `"kind":"goal"`) || strings.Contains(own, "Zephyr") {
			t.Errorf("the player's own archive has %s; want the goal's past, and nothing deleted", own)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		for _, row := range content(t, s, w.academy.ID) {
			if strings.HasPrefix(row, "earlier_versions ") || strings.Contains(row, "Zephyr") {
				t.Errorf("after the erasure there is still %s", row)
			}
		}
	})
}

func TestAnErasureTakesTheNameOutOfEarlierVersionsOfOthers(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		goal := models.Goal{PlayerID: w.tove.ID, Skill: "tackle", SetOn: "2025-10-01", By: "2026-03-01", Target: 4,
			Why: "Tackle as BRAM oakes does, and be brambles to them. Bram Oakes’s way.", Insist: insisted,
			InsistReason: "No trend yet."}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateGoal(&goal) })
		goal.Why = "Tackle low."
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateGoal(&goal) })
		proof, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer)
		if err != nil {
			t.Fatal(err)
		}
		if proof.Counts["earlier_versions"] == 0 {
			t.Errorf("the proof counts %v; want the earlier version that named the player", proof.Counts)
		}
		read(t, s, w.coach, func(tx *store.Tx) error {
			all, err := tx.Earlier("goal", goal.ID)
			if err != nil || len(all) != 1 {
				t.Fatalf("earlier versions are %+v, %v; want the one that named the player, without the name", all, err)
			}
			var was models.Goal
			if err := json.Unmarshal(all[0].Record(), &was); err != nil {
				return err
			}
			const want = "Tackle as [name erased] does, and be brambles to them. [name erased]’s way."
			if was.Why != want || was.Target != 4 || all[0].UserID != w.coach.UserID || all[0].At.IsZero() {
				t.Errorf("the earlier version is %+v: %q; want %q", all[0], was.Why, want)
			}
			return nil
		})
	})
}

func TestTheSecondOfTwoEditorsIsToldWhatChanged(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		start := w.goal
		mine := start
		mine.Why = "So that you get over the line."
		write(t, s, w.coach, func(tx *store.Tx) error { g := mine; return tx.UpdateGoal(&g) })
		if err := w.aim(t, w.manager, start.Version+1, 0.66); err != nil {
			t.Fatal(err)
		}
		late := start
		late.Target = 0.7
		err := refused(t, s, w.coach, models.Stale, func(tx *store.Tx) error { return tx.UpdateGoal(&late) })
		var e *models.Error
		if !errors.As(err, &e) || e.Changed == nil {
			t.Fatalf("%v says nothing of what changed", err)
		}
		c := e.Changed
		if c.ByID != w.manager.UserID || c.By != w.manager.Name || c.At.IsZero() || len(c.Fields) != 2 {
			t.Fatalf("changed is %+v; want the manager, and two fields", c)
		}
		target, why := c.Fields[0], c.Fields[1]
		if target.Field != "target" || string(target.Sent) != "0.7" || string(target.Now) != "0.66" ||
			target.ByID != w.manager.UserID || target.At == nil {
			t.Errorf("the target is %+v", target)
		}
		if was, _ := json.Marshal(start.Target); string(target.Yours) != string(was) {
			t.Errorf("the target was %s for the caller, and is said to be %s", was, target.Yours)
		}
		if now, _ := json.Marshal(mine.Why); why.Field != "why" || why.ByID != w.coach.UserID ||
			string(why.Now) != string(now) {
			t.Errorf("the why is %+v; want what the coach wrote", why)
		}
		// A kind that keeps no past is compared with what was sent. The trail says who.
		season := w.season
		season.Name = "25/26"
		write(t, s, w.manager, func(tx *store.Tx) error { sent := season; return tx.UpdateSeason(&sent) })
		season.Name = "2025/2026"
		err = refused(t, s, w.manager, models.Stale, func(tx *store.Tx) error { return tx.UpdateSeason(&season) })
		if !errors.As(err, &e) || e.Changed == nil {
			t.Fatalf("%v says nothing of what changed", err)
		}
		want := []models.ChangedField{{Field: "name", Yours: json.RawMessage(`"2025/2026"`),
			Sent: json.RawMessage(`"2025/2026"`), Now: json.RawMessage(`"25/26"`)}}
		if e.Changed.ByID != w.manager.UserID || !reflect.DeepEqual(e.Changed.Fields, want) {
			t.Errorf("of a season it says %+v; want %+v by the manager", e.Changed, want)
		}
		// A caller who may not change the record is told that, and nothing of what changed.
		err = refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error { return tx.UpdateGoal(&late) })
		if errors.As(err, &e) && e.Changed != nil {
			t.Errorf("a selector is told %+v", e.Changed)
		}
	})
}
