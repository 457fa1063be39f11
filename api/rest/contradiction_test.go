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

// A contradiction is questioned when it is entered: both details and what would be right are named, nothing is stored,
// and it is accepted once one detail is changed or the writer confirms. What the Laws exclude is never accepted.
func TestAContradictionIsQuestionedWhenItIsEntered(t *testing.T) {
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
		season := make("/seasons", `{"name": "2031-32", "starts": "2031-08-01", "ends": "2032-06-30"}`)
		squad := make("/squads", `{"name": "Under 15 A", "age_band": 15, "band_month": 9}`)
		who := make("/players", player)
		make("/memberships", fmt.Sprintf(`{"season_id": %d, "squad_id": %d, "player_id": %d, "from": "2031-08-01"}`, season,
			squad, who))
		match := make("/matches", fmt.Sprintf(`{"season_id": %d, "squad_id": %d, "date": "2031-09-06",
			"opponent": "Fellmoor", "halves": 2, "half_minutes": 35}`, season, squad))
		make("/appearances", fmt.Sprintf(`{"match_id": %d, "player_id": %d, "minutes": 70}`, match, who))
		log := make("/logs", fmt.Sprintf(`{"match_id": %d, "player_id": %d, "depth": "full", "kinds": ["carry", "tackle"],
			"finished": true}`, match, who))
		path := fmt.Sprintf("/logs/%d/involvements", log)

		carry := func(details, measures, more string) string {
			return fmt.Sprintf(`{"clock": {"half": 1, "second": 60}, "kind": "carry", "details": {%s}, "measures": {%s}%s}`,
				details, measures, more)
		}
		const yes = `, "confirmed": true`
		for _, q := range []struct{ details, measures, where, both, right string }{
			{`"contact": "even"`, `"metres_after_contact": 2`, "measures.metres_after_contact",
				"details.contact is even and measures.metres_after_contact is 2", "write contact won"},
			{`"contact": "lost"`, `"tacklers_committed": 0`, "measures.tacklers_committed",
				"details.contact is lost and measures.tacklers_committed is 0", "write 1 tackler or more"},
		} {
			ask := func(what string, got apitest.Answer, at string) {
				t.Helper()
				p := isProblem(t, what, got, http.StatusUnprocessableEntity)
				if len(p.Errors) != 1 || p.Errors[0]["location"] != at+q.where {
					t.Fatalf("%s: %v; want one question at %s", what, p.Errors, at+q.where)
				}
				said := fmt.Sprint(p.Errors[0]["message"])
				for _, want := range []string{q.both, q.right, "send confirmed as true"} {
					if !strings.Contains(said, want) {
						t.Errorf("%s asks %q; want %q in it", what, said, want)
					}
				}
			}
			ask("one", send(http.MethodPost, path, carry(q.details, q.measures, "")), "body.")
			plain := carry(`"contact": "won"`, "", "")
			ask("several", send(http.MethodPost, path+"/batch", fmt.Sprintf(`{"items": [%s, %s]}`, plain,
				carry(q.details, q.measures, ""))), "body.items[1].")
			if n := strings.Count(c.Get(rest.Path+"/involvements?log="+fmt.Sprint(log)).Body, `"kind"`); n != 0 {
				t.Fatalf("%d involvements were stored with a question open", n)
			}
			made := send(http.MethodPost, path, carry(q.details, q.measures, yes))
			if made.Status != http.StatusCreated || !strings.Contains(made.Body, `"confirmed":true`) {
				t.Fatalf("confirmed: %d %s", made.Status, made.Body)
			}
			one := made.Header.Get("Location")
			ask("a change", c.Do(http.MethodPut, one, strings.NewReader(carry(q.details, q.measures, "")), "Content-Type",
				"application/json", "If-Match", `"1"`), "body.")
			if got := c.Do(http.MethodDelete, one, nil, "If-Match", `"1"`); got.Status != http.StatusNoContent {
				t.Fatalf("deleted: %d %s", got.Status, got.Body)
			}
			several := send(http.MethodPost, path+"/batch", fmt.Sprintf(`{"items": [%s]}`,
				carry(q.details, q.measures, yes)))
			if several.Status != http.StatusOK {
				t.Fatalf("several confirmed: %d %s", several.Status, several.Body)
			}
			id := decode[struct{ Items []struct{ ID int64 } }](t, several).Items[0].ID
			c.Do(http.MethodDelete, fmt.Sprintf("%s/involvements/%d", rest.Path, id), nil, "If-Match", `"1"`)
		}
		high := send(http.MethodPost, path, `{"clock": {"half": 1, "second": 90}, "kind": "tackle", "confirmed": true,
			"details": {"result": "won", "height": "high"}}`)
		if p := isProblem(t, "a high tackle won", high, http.StatusUnprocessableEntity); len(p.Errors) != 1 {
			t.Errorf("a high tackle won and confirmed: %v; want it refused", p.Errors)
		}
	})
}
