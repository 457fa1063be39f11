package rest_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/api/rest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// The points are those of World Rugby, Laws of the Game, Law 8 (from memory): 5 for a try, 2 for a conversion, 3 for a
// penalty goal.
func TestAMatchShowsTheScoreThatWasRecordedAndItsTagChangesWithIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, player := a.Program(t, "ansel"), a.Program(t, "bryn")
		lists := rest.Path + fmt.Sprintf("/matches?season=%d&player=%d", a.Season.ID, a.Bryn.ID)
		type listed struct{ Items []models.Match }
		id := decode[listed](t, coach.Get(lists)).Items[0].ID
		one := rest.Path + fmt.Sprint("/matches/", id)
		before := coach.Get(one)
		if decode[models.Match](t, before).Score != nil || strings.Contains(before.Body, "score") {
			t.Fatalf("without events the match has a score: %s", before.Body)
		}
		for _, event := range []string{`"kind":"try","ours":true`, `"kind":"conversion","ours":true`,
			`"kind":"penalty_goal","ours":false`, `"kind":"yellow_card","ours":true`} {
			body := fmt.Sprintf(`{"match_id":%d,"clock":{"half":1,"second":600},%s}`, id, event)
			if got := coach.Do(http.MethodPost, rest.Path+"/match-events", strings.NewReader(body), "Content-Type",
				"application/json"); got.Status != http.StatusCreated {
				t.Fatalf("%s: %d %s", event, got.Status, got.Body)
			}
		}
		want := models.MatchScore{Ours: 7, Theirs: 3}
		after := coach.Get(one, "If-None-Match", before.Header.Get("ETag"))
		if after.Status != http.StatusOK {
			t.Fatalf("the tag from before the score: %d, want the match anew", after.Status)
		}
		for _, c := range []*apitest.Client{coach, player} {
			if got := decode[models.Match](t, c.Get(one)).Score; got == nil || *got != want {
				t.Errorf("the match's score is %v, want %v", got, want)
			}
			for _, m := range decode[listed](t, c.Get(lists)).Items {
				if m.ID == id && (m.Score == nil || *m.Score != want) || m.ID != id && m.Score != nil {
					t.Errorf("match %d of %d in the list has the score %v", m.ID, id, m.Score)
				}
			}
		}
		sent := decode[object](t, after)
		sent["conditions"], sent["score"] = "dry", object{"ours": 99, "theirs": 0}
		put := func(tag string) apitest.Answer {
			return coach.Do(http.MethodPut, one, strings.NewReader(text(sent)), "Content-Type", "application/json",
				"If-Match", tag)
		}
		if got := put(before.Header.Get("ETag")); got.Status != http.StatusPreconditionFailed {
			t.Errorf("an edit under the tag from before the score: %d, want 412", got.Status)
		}
		changed := put(after.Header.Get("ETag"))
		if got := decode[models.Match](t, changed); changed.Status != http.StatusOK || got.Score == nil ||
			*got.Score != want {
			t.Errorf("an edit under the match's tag: %d %s; want 200 with the score %v", changed.Status, changed.Body, want)
		}
		if got := coach.Get(one).Header.Get("ETag"); got != changed.Header.Get("ETag") {
			t.Errorf("the edit is answered with the tag %s, the match has %s", changed.Header.Get("ETag"), got)
		}
	})
}
