package pages_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// The squads at a glance are narrowed to those whom the reader asks for, and what cannot be asked for is refused.
func TestHomeShowsThosePlayersWhoAreAskedFor(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		born := a.Season.Starts.AddDays(-17 * 366)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			bryn, err := tx.Player(a.Bryn.ID)
			if err != nil {
				return err
			}
			bryn.BornOn = &born
			return tx.UpdatePlayer(&bryn)
		})
		if err != nil {
			t.Fatal(err)
		}
		steady := models.TrendFigures{Verdict: "steady", Matches: 6}
		from := models.Date("2025-11-01")
		err = s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			return tx.CreateSpell(&models.Spell{PlayerID: a.Tam.ID, Status: models.Unavailable, From: from})
		})
		if err != nil {
			t.Fatal(err)
		}
		keep := func(tx *store.Tx) error {
			now, err := tx.SquadSeason(a.Season.ID, a.Under18.ID)
			if err != nil {
				return err
			}
			return tx.KeepTrends(now, []models.Trend{
				{PlayerID: a.Bryn.ID, Indicator: "contact_won", Figures: models.TrendFigures{Verdict: "probably improving",
					Matches: 5}},
				{PlayerID: a.Owen.ID, Indicator: "errors", Figures: steady},
				{PlayerID: a.Owen.ID, Indicator: "pass_accuracy", Figures: steady},
				{PlayerID: a.Owen.ID, Indicator: "exits_completed", Figures: models.TrendFigures{Verdict: "unclear", Matches: 6}},
			})
		}
		if err := s.Write(t.Context(), models.Console(a.ID), keep); err != nil {
			t.Fatal(err)
		}
		c := a.SignIn(t, "mabyn")
		squad := fmt.Sprintf("&squad=%d", a.Under18.ID)
		for query, want := range map[string][]string{
			"":                                    {"Bryn Calder", "Owen Tarrant", "Owen Tarrant", "Tam Veale"},
			"only=developing":                     {"Bryn Calder"},
			"only=steady" + squad:                 {"Owen Tarrant"},
			"only=early" + squad:                  nil,
			"only=wrong":                          nil,
			"status=unavailable":                  {"Tam Veale"},
			"status=available" + squad:            {"Bryn Calder", "Owen Tarrant"},
			"status=left":                         nil,
			"only=gaps":                           {"Bryn Calder", "Owen Tarrant", "Owen Tarrant"},
			"age=17":                              {"Bryn Calder"},
			"group=front_row":                     {"Tam Veale"},
			"only=goalless":                       {"Bryn Calder", "Owen Tarrant", "Owen Tarrant", "Tam Veale"},
			"only=action":                         nil,
			"only=gaps&age=17":                    {"Bryn Calder"},
			"group=front_row&age=17":              nil,
			fmt.Sprintf("squad=%d", a.Under16.ID): {"Owen Tarrant", "Tam Veale"},
		} {
			got := c.Get("/?" + query)
			var names []string
			for _, row := range rows(got.Body) {
				if name, _, _ := strings.Cut(row, "|"); name != "Player" {
					names = append(names, strings.TrimSuffix(name, "Unavailable"))
				}
			}
			slices.Sort(names)
			if got.Status != http.StatusOK || !slices.Equal(names, want) {
				t.Errorf("%q: %d, %q; want %q", query, got.Status, names, want)
			}
			if want == nil && !strings.Contains(got.Body, "No player fits that.") {
				t.Errorf("%q does not say that no player fits", query)
			}
		}
		for _, query := range []string{"squad=x", "age=old", "only=best", "status=ill"} {
			if got := c.Get("/?" + query); got.Status != http.StatusBadRequest ||
				!strings.Contains(got.Body, "hoose one from the list") {
				t.Errorf("%q: %d; want 400 with what would be right", query, got.Status)
			}
		}
		body := c.Get("/").Body
		for _, want := range []string{"1 probably developing", "1 steady", "0 going the wrong way",
			"Steady: pass accuracy (6 matches) and 1 more headline figure", "Unavailable"} {
			if !strings.Contains(body, want) {
				t.Errorf("home does not say %q", want)
			}
		}
		// A goal on a steady figure does not move; once it is closed, that is no news.
		_, mabyn, err := s.UserByLogin(t.Context(), "mabyn")
		if err != nil {
			t.Fatal(err)
		}
		typed := 0.7
		goal := models.Goal{PlayerID: a.Owen.ID, Indicator: "pass_accuracy", Target: 0.9, Baseline: &typed,
			BaselineReason: "Seen at training.", SetOn: "2025-11-01", By: "2026-03-01", Why: "Hands before feet.",
			Actions: "Ten passes a session.", Insist: []models.GoalQuestion{models.AskFewMatches},
			InsistReason: "The season is young."}
		closed := models.Date("2025-11-20")
		for _, open := range []bool{true, false} {
			err := s.Write(t.Context(), mabyn, func(tx *store.Tx) error {
				if open {
					return tx.CreateGoal(&goal)
				}
				goal.ClosedOn, goal.Result, goal.Outcome = &closed, models.GoalNotMet, "The day has passed."
				return tx.UpdateGoal(&goal)
			})
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Write(t.Context(), models.Console(a.ID), keep); err != nil { // a goal has trends made again
				t.Fatal(err)
			}
			for _, page := range []string{"/", fmt.Sprintf("/players/%d", a.Owen.ID)} {
				if strings.Contains(c.Get(page).Body, "Goal without movement: pass accuracy (6 matches)") != open {
					t.Errorf("%s does not say rightly whether an open goal does not move (open: %v)", page, open)
				}
			}
		}
		// Who reads no gaps cannot ask for them.
		selector := a.SignIn(t, "sorrel")
		if got := selector.Get("/?only=gaps"); got.Status != http.StatusBadRequest {
			t.Errorf("a selector asks for gaps: %d", got.Status)
		}
		if body := selector.Get("/").Body; strings.Contains(body, `value="gaps"`) || strings.Contains(body, `value="due"`) {
			t.Error("a selector is offered what their page does not show")
		}
	})
}
