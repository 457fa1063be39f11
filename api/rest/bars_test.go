package rest_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/api/rest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// After a marked head contact the log takes no more of the player until it says why it goes on.
func TestLoggingOnAfterAHeadContactAsksForAReason(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.Program(t, "mabyn")
		send := func(method, path, body string, head ...string) apitest.Answer {
			return c.Do(method, rest.Path+path, strings.NewReader(body), append(head, "Content-Type", "application/json")...)
		}
		make := func(path, body string) int64 {
			t.Helper()
			got := send(http.MethodPost, path, body)
			if got.Status != http.StatusCreated {
				t.Fatalf("%s: %d %s", path, got.Status, got.Body)
			}
			return decode[struct{ ID int64 }](t, got).ID
		}
		season := make("/seasons", `{"name": "2023-24", "starts": "2023-08-01", "ends": "2024-06-30"}`)
		squad := make("/squads", `{"name": "Under 15 A", "age_band": 15, "band_month": 9}`)
		who := make("/players", player)
		make("/memberships", fmt.Sprintf(`{"season_id": %d, "squad_id": %d, "player_id": %d, "from": "2023-08-01"}`, season,
			squad, who))
		made := send(http.MethodPost, "/matches", fmt.Sprintf(`{"season_id": %d, "squad_id": %d, "date": "2023-09-09",
			"opponent": "Fellmoor", "halves": 2}`, season, squad))
		match := decode[struct {
			ID          int64
			HalfMinutes int `json:"half_minutes"`
		}](t, made)
		if match.HalfMinutes != 30 {
			t.Errorf("a match of under 15 without half_minutes: %d %s", made.Status, made.Body)
		}
		untimed := send(http.MethodPost, "/appearances", fmt.Sprintf(`{"match_id": %d, "player_id": %d,
			"minutes_not_recorded": true}`, match.ID, who))
		if untimed.Status != http.StatusCreated || strings.Contains(untimed.Body, `"minutes":`) ||
			!strings.Contains(untimed.Body, `"minutes_not_recorded":true`) {
			t.Fatalf("an appearance without minutes: %d %s", untimed.Status, untimed.Body)
		}
		table := c.Get(rest.Path+fmt.Sprintf("/appearances?match=%d", match.ID), "Accept", "text/csv").Body
		if !strings.Contains(table, "minutes,minutes_not_recorded") || !strings.Contains(table, ",,true,") {
			t.Errorf("as CSV: %s", table)
		}
		both := send(http.MethodPut, fmt.Sprintf("/appearances/%d", decode[struct{ ID int64 }](t, untimed).ID),
			fmt.Sprintf(`{"match_id": %d, "player_id": %d, "minutes": 50, "minutes_not_recorded": true}`, match.ID, who),
			"If-Match", "*")
		isProblem(t, "minutes that are there and not recorded", both, http.StatusUnprocessableEntity)

		body := fmt.Sprintf(`{"match_id": %d, "player_id": %d, "depth": "core", "kinds": ["tackle"]%%s}`, match.ID, who)
		log := make("/logs", fmt.Sprintf(body, ""))
		path := fmt.Sprintf("/logs/%d/involvements", log)
		make(path, `{"clock": {"half": 2, "second": 3000}, "kind": "tackle", "head_contact": true}`)
		later := `{"clock": {"half": 2, "second": 3300}, "kind": "tackle", "details": {"result": "won"}}`
		p := isProblem(t, "logging on", send(http.MethodPost, path, later), http.StatusUnprocessableEntity)
		if said := fmt.Sprint(p.Errors); !strings.Contains(said, "the reason in logged_on_because") ||
			!strings.Contains(said, "counts for any figure") {
			t.Errorf("logging on is refused with %s", said)
		}
		why := send(http.MethodPut, fmt.Sprintf("/logs/%d", log), fmt.Sprintf(body,
			`, "logged_on_because": "The doctor asked how long play went on."`), "If-Match", "*")
		if why.Status != http.StatusOK {
			t.Fatalf("the reason: %d %s", why.Status, why.Body)
		}
		make(path, later)
	})
}

// The catalogue says which grades of a built-in skill call for action.
func TestTheCatalogueSaysWhichGradesCallForAction(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		got := apitest.Serve(t, s).Program(t, "mabyn").Get(rest.Path + "/catalogue")
		all := decode[struct {
			Skills []struct {
				Code    string
				ActUpTo *int `json:"act_up_to"`
			}
		}](t, got)
		calls := ""
		for _, skill := range all.Skills {
			if skill.ActUpTo == nil {
				t.Fatalf("%s does not say it: %s", skill.Code, got.Body)
			}
			if *skill.ActUpTo > 0 {
				calls += fmt.Sprint(skill.Code, " ", *skill.ActUpTo, " ")
			}
		}
		if calls != "tackle 2 scrum 1 lineout 1 " {
			t.Errorf("the grades that call for action are of %s", calls)
		}
	})
}
