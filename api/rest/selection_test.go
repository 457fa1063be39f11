package rest_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// send sends a record as JSON and checks the status of the answer.
func send(t *testing.T, c *apitest.Client, status int, method, path string, body object,
	headers ...string) apitest.Answer {
	t.Helper()
	got := c.Do(method, "/api/v1"+path, strings.NewReader(text(body)),
		append([]string{"Content-Type", "application/json"}, headers...)...)
	if got.Status != status {
		t.Errorf("%s %s: %d %s; want %d", method, path, got.Status, got.Body, status)
	}
	return got
}

func TestASelectorKeepsTheRecordOfAMeetingAndAPlayerFindsNone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		sorrel := a.Program(t, "sorrel")
		meeting := object{
			"season_id": a.Season.ID, "squad_id": a.Under18.ID, "date": "2026-03-02", "purpose": "Two ahead of the trial",
			"criteria": []any{object{"label": "Wins contact", "indicator": "contact_won", "weight": 2},
				object{"label": "Under pressure", "weight": 0.5}},
			"places":     []any{object{"name": "Back row", "group": "back_row", "wanted": 1}},
			"candidates": []any{object{"player_id": a.Bryn.ID, "place": "Back row"}},
		}
		made := send(t, sorrel, http.StatusCreated, http.MethodPost, "/meetings", meeting)
		if got := decode[struct {
			Status      string
			TotalWeight float64 `json:"total_weight"`
		}](t, made); got.TotalWeight != 2.5 || got.Status != "draft" {
			t.Errorf("the meeting is %s, the weights sum to %v; want a draft with 2.5", got.Status, got.TotalWeight)
		}
		at := strings.TrimPrefix(made.Header.Get("Location"), "/api/v1")
		of := fmt.Sprintf("/meetings?player=%d", a.Bryn.ID)
		for login, status := range map[string]int{"sorrel": 200, "mabyn": 200, "ansel": 200, "bryn": 404, "owen": 404,
			"edda": 404} {
			if got := a.Program(t, login).Get("/api/v1" + at); got.Status != status {
				t.Errorf("%s reads the meeting: %d %s; want %d", login, got.Status, got.Body, status)
			}
			if got := a.Program(t, login).Get("/api/v1" + of); strings.Contains(got.Body, "Two ahead") != (status == 200) {
				t.Errorf("%s lists the meetings: %d %s", login, got.Status, got.Body)
			}
		}
		send(t, a.Program(t, "ansel"), http.StatusForbidden, http.MethodPut, at, meeting, "If-Match", `"1"`)
		if err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			of, err := tx.SquadSeason(a.Season.ID, a.Under18.ID)
			if err != nil || of.Revision == 0 {
				return err
			}
			return tx.KeepTrends(of, nil)
		}); err != nil {
			t.Fatal(err)
		}
		for n, step := range []string{"locked", "opened"} {
			meeting["status"] = step
			send(t, sorrel, http.StatusOK, http.MethodPut, at, meeting, "If-Match", fmt.Sprintf(`"%d"`, n+1))
		}
		meeting["candidates"] = []any{object{"player_id": a.Bryn.ID, "place": "Back row", "decision": "not_chosen"}}
		bare := send(t, sorrel, http.StatusUnprocessableEntity, http.MethodPut, at, meeting, "If-Match", `"3"`)
		if p := decode[problem](t, bare); len(p.Errors) != 1 || p.Errors[0]["location"] != "body.candidates[0].reason" {
			t.Errorf("a decision without a reason: %v; want it told at body.candidates[0].reason", p.Errors)
		}
		meeting["present"] = []any{object{"name": "Piers Holt"}}
		meeting["candidates"] = []any{object{"player_id": a.Bryn.ID, "place": "Back row", "decision": "not_chosen",
			"reason": "Brave, and still learning when to pass."}}
		send(t, sorrel, http.StatusOK, http.MethodPut, at, meeting, "If-Match", `"3"`)
		for n, step := range []string{"decided", "closed"} {
			meeting["status"] = step
			send(t, sorrel, http.StatusOK, http.MethodPut, at, meeting, "If-Match", fmt.Sprintf(`"%d"`, n+4))
		}
		meeting["status"] = "opened"
		send(t, sorrel, http.StatusConflict, http.MethodPut, at, meeting, "If-Match", `"6"`)
		send(t, a.Program(t, "mabyn"), http.StatusConflict, http.MethodPut, at, meeting, "If-Match", `"6"`)
	})
}

func TestTheDescriptionOfMeetingsSaysThatSuchNewsIsGivenInPerson(t *testing.T) {
	a := apitest.OnSQLite(t)
	spec := describedBy(t, a.Stranger(t))
	for _, d := range spec.operations() {
		if about := fmt.Sprint(d.op["description"]); strings.HasPrefix(d.path, "/api/v1/meetings") &&
			(!strings.Contains(about, "Tell the player in person before a decision appears on a screen") ||
				!strings.Contains(about, "on a number alone")) {
			t.Errorf("%v: %s", d, about)
		}
	}
}

func TestAPlayerGradesHimselfAndHisCoachReadsIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		grade := object{"skill": "tackle", "grade": 3, "date": "2025-11-30", "block": "Autumn block"}
		made := send(t, a.Program(t, "bryn"), http.StatusCreated, http.MethodPost, "/self-ratings", grade)
		of := decode[struct {
			ID       int64 `json:"id"`
			PlayerID int64 `json:"player_id"`
			Self     bool  `json:"self"`
		}](t, made)
		if of.PlayerID != a.Bryn.ID || !of.Self {
			t.Errorf("the grade is %s", made.Body)
		}
		for _, path := range []string{"/ratings", "/self-ratings"} {
			for login, status := range map[string]int{"ansel": 200, "sorrel": 200, "mabyn": 200, "bryn": 200, "owen": 404,
				"edda": 404} {
				if got := a.Program(t, login).Get(fmt.Sprintf("/api/v1%s/%d", path, of.ID)); got.Status != status {
					t.Errorf("%s reads it at %s: %d %s; want %d", login, path, got.Status, got.Body, status)
				}
			}
		}
		for _, login := range []string{"ansel", "mabyn"} {
			c := a.Program(t, login)
			send(t, c, http.StatusForbidden, http.MethodPost, "/self-ratings", grade)
			send(t, c, http.StatusForbidden, http.MethodDelete, fmt.Sprint("/self-ratings/", of.ID), nil, "If-Match", "*")
			send(t, c, http.StatusForbidden, http.MethodDelete, fmt.Sprint("/ratings/", of.ID), nil, "If-Match", "*")
		}
		// A player_id and self in the body are ignored.
		send(t, a.Program(t, "bryn"), http.StatusOK, http.MethodPut, fmt.Sprint("/self-ratings/", of.ID),
			merged(merged(grade, "player_id", a.Owen.ID), "self", false), "If-Match", "*")
		if got := a.Program(t, "owen").Get(fmt.Sprint("/api/v1/self-ratings/", of.ID)); got.Status != http.StatusNotFound {
			t.Errorf("he gave another player a grade: %s", got.Body)
		}
	})
}
