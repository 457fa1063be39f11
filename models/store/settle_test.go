package store_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestAnOwnIndicatorWhoseCodeIsBuiltInGetsAnotherCode makes an indicator of the academy's own and then gives it,
// and what refers to it, a code of the catalogue, as a newer program finds it that has this code built in.
func TestAnOwnIndicatorWhoseCodeIsBuiltInGetsAnotherCode(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		open := func() *store.Store {
			s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
		s := open()
		w := newWorld(t, s)
		own := models.Indicator{Code: "grafted", Label: "Carries of ours", Meaning: "Carries.", Unit: "a match",
			Family: models.Rate, Numerator: "carries", Better: models.Higher, Depth: models.Core}
		goal := models.Goal{PlayerID: w.tove.ID, OwnerID: w.coach.UserID, Indicator: "grafted", SetOn: "2025-10-10",
			By: "2026-03-01", Target: 9, Why: "More.",
			Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
		meeting := w.meeting()
		meeting.Criteria[0].Indicator = "grafted"
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(
				func() error { return tx.CreateIndicator(&own) },
				func() error { return tx.CreateGoal(&goal) },
				func() error { return tx.CreateMeeting(&meeting) },
			)
		})
		observed := func(code string) (all []models.Observation) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				found, err := tx.Observations(models.ObservationFilter{})
				for _, o := range found {
					if o.Indicator == code {
						all = append(all, o)
					}
				}
				return err
			})
			return all
		}
		before := observed("grafted")
		if len(before) == 0 {
			t.Fatal("nothing is observed of the academy's own indicator")
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		criteria, err := json.Marshal(meeting.Criteria)
		if err != nil {
			t.Fatal(err)
		}
		statements := []string{
			"UPDATE indicators SET code = 'carries' WHERE code = 'grafted'",
			"UPDATE goals SET indicator = 'carries' WHERE indicator = 'grafted'",
			"UPDATE meetings SET criteria = '" + strings.ReplaceAll(string(criteria), "grafted", "carries") + "'",
			"DELETE FROM observations WHERE indicator = 'grafted'",
		}
		if !strings.HasPrefix(url, "sqlite:") { // whose rows are hidden even from their owner
			academy := fmt.Sprintf("SELECT set_config('throughline.academy', '%d', false)", w.academy.ID)
			statements = slices.Insert(statements, 0, academy)
		}
		execute(t, url, statements...)

		_, err = store.Open(t.Context(), url, store.Options{})
		if err == nil || !strings.Contains(err.Error(), `run "throughline migrate up"`) {
			t.Errorf("open gives %v; want it to refuse two indicators of one code, and say what to do", err)
		}
		settled, err := store.Settle(t.Context(), url)
		if err != nil || len(settled) != 1 || !strings.Contains(settled[0], `(carries) now has the code carries_own`) {
			t.Fatalf("settled %v, %v; want a word on the indicator's new code", settled, err)
		}
		if again, err := store.Settle(t.Context(), url); err != nil || len(again) > 0 {
			t.Errorf("a second time settles %v, %v", again, err)
		}
		s = open()
		defer s.Close()
		w.s = s
		same := func(a, b models.Observation) bool {
			return a.MatchID == b.MatchID && a.Numerator == b.Numerator && a.Denominator == b.Denominator
		}
		if after := observed("carries_own"); !slices.EqualFunc(before, after, same) {
			t.Errorf("observed %+v; want what was observed before, %+v", after, before)
		}
		if len(observed("carries")) == 0 {
			t.Error("the built-in indicator is not observed")
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			if _, differ, err := tx.Recompute(0); err != nil || len(differ) > 0 {
				t.Errorf("recompute finds %v, %v", differ, err)
			}
			codes := map[string]int{}
			indicators, err := tx.Indicators()
			for _, i := range indicators {
				if codes[i.Code]++; codes[i.Code] > 1 {
					t.Errorf("two indicators have the code %s", i.Code)
				}
			}
			if err != nil {
				return err
			}
			if g, err := tx.Goal(goal.ID); err != nil || g.Indicator != "carries_own" || g.Version != goal.Version+1 {
				t.Errorf("the goal is %+v, %v", g, err)
			}
			was, err := tx.Earlier("goal", goal.ID)
			if err != nil || len(was) != 1 || was[0].Version != goal.Version || !strings.Contains(was[0].Said, "carries") {
				t.Errorf("the goal’s earlier versions are %+v, %v; want the one with the code from before", was, err)
			}
			m, err := tx.Meeting(meeting.ID)
			if err != nil || m.Criteria[0].Indicator != "carries_own" || len(m.Candidates) != 2 {
				t.Errorf("the meeting is %+v, %v", m, err)
			}
			m.Purpose = "The county trial, again"
			return tx.UpdateMeeting(&m)
		})
		changed := map[string]int{}
		for _, e := range entries(t, s, w.academy.ID, models.AuditFilter{Action: models.AuditChange}) {
			if e.UserID == 0 {
				changed[e.Kind]++
			}
		}
		if changed["indicator"] != 1 || changed["goal"] != 1 || changed["meeting"] != 1 {
			t.Errorf("the trail has %v of the console; want the indicator, the goal and the meeting", changed)
		}
	})
}

// TestFiguresByEarlierRulesAreMadeAgainWhenADatabaseIsBroughtUpToDate leaves a database as an earlier program would:
// its figures follow other definitions.
func TestFiguresByEarlierRulesAreMadeAgainWhenADatabaseIsBroughtUpToDate(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
		if err != nil {
			t.Fatal(err)
		}
		w := newWorld(t, s)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		statements := []string{
			"UPDATE observations SET numerator = numerator + 1 WHERE indicator = 'carries'",
			"UPDATE academies SET observed = '' WHERE id = " + strconv.FormatInt(w.academy.ID, 10),
		}
		if !strings.HasPrefix(url, "sqlite:") { // whose rows are hidden even from their owner
			academy := fmt.Sprintf("SELECT set_config('throughline.academy', '%d', false)", w.academy.ID)
			statements = slices.Insert(statements, 0, academy)
		}
		execute(t, url, statements...)

		if _, err := store.Open(t.Context(), url, store.Options{}); err == nil ||
			!strings.Contains(err.Error(), `run "throughline migrate up"`) {
			t.Errorf("open gives %v; want it to refuse figures by other definitions, and say what to do", err)
		}
		settled, err := store.Settle(t.Context(), url)
		if err != nil || len(settled) != 1 || !strings.Contains(settled[0], "computed 2 figures again") {
			t.Errorf("settled %q, %v; want a word on figures that were made again", settled, err)
		}
		if again, err := store.Settle(t.Context(), url); err != nil || len(again) > 0 {
			t.Errorf("a second time settles %q, %v", again, err)
		}
		s = storetest.With(t, url, store.Options{Now: storetest.Now})
		write(t, s, w.manager, func(tx *store.Tx) error {
			if _, differ, err := tx.Recompute(0); err != nil || len(differ) > 0 {
				t.Errorf("recompute finds %v, %v", differ, err)
			}
			return nil
		})
	})
}
