package rest_test

import (
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"

	"throughline/api/apitest"
	"throughline/api/rest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// keyed says whether an operation takes an Idempotency-Key.
func (s spec) keyed(d described) bool {
	params, _ := d.op["parameters"].([]any)
	for _, p := range params {
		if s.at(p, "name") == "Idempotency-Key" {
			return true
		}
	}
	return false
}

// Everything that is made by POST can be made with a key. What an erasure and a first manager are made for is not
// there a second time, an archive is not kept, and what only marks a record changes nothing when it is done again.
func TestEveryPostThatMakesSomethingTakesAKey(t *testing.T) {
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	marks := map[string]bool{
		"tell-medical-lead": true, "mark-answer-seen": true, "mark-review-note-read": true, "lift-stand-down": true,
		"mark-review-answer-seen": true, "mark-review-read": true, "mark-review-followed-up": true,
		"mark-review-note-followed-up": true, "settle-contact-action": true, "undo-player-merge": true,
		"erase-player": true, "export-player": true,
		"create-first-manager": true,
	}
	for _, d := range s.operations() {
		id := fmt.Sprint(d.op["operationId"])
		if want := d.method == http.MethodPost && !marks[id]; s.keyed(d) != want {
			t.Errorf("%v takes a key: %v; want %v", d, s.keyed(d), want)
		}
	}
}

const player = `{"name": "Wren Tolley", "positions": ["flanker"]}`

func TestARequestThatIsSentAgainWithItsKeyMakesNothingNew(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.Program(t, "mabyn")
		post := func(c *apitest.Client, path, body, key string) apitest.Answer {
			return c.Do(http.MethodPost, rest.Path+path, strings.NewReader(body), "Content-Type", "application/json",
				"Idempotency-Key", key)
		}
		typed := func(what string, got apitest.Answer, status int, kind string) {
			t.Helper()
			if p := isProblem(t, what, got, status); p.Type != "/problems/"+kind {
				t.Errorf("%s: a problem of type %s; want %s", what, p.Type, kind)
			}
		}
		first := post(c, "/players", player, `"one"`)
		again := post(c, "/players", `{"positions":["flanker"],"name":"Wren Tolley"}`, `"one"`) // the same, in another order
		if first.Status != http.StatusCreated || again.Status != http.StatusCreated || again.Body != first.Body ||
			again.Header.Get("Location") != first.Header.Get("Location") ||
			again.Header.Get("ETag") != first.Header.Get("ETag") {
			t.Errorf("first %d %s, again %d %s; want the same answer", first.Status, first.Body, again.Status, again.Body)
		}
		if n := len(names(t, c.Get(rest.Path+"/players?name=Wren%20Tolley"))); n != 1 {
			t.Errorf("%d players were made; want one", n)
		}
		typed("another body", post(c, "/players", `{"name": "Wren Tolley", "positions": ["hooker"]}`, `"one"`),
			http.StatusUnprocessableEntity, "key-reused")
		typed("another address", post(c, "/squads", `{"name": "Under 21", "age_band": 21, "band_month": 9}`, `"one"`),
			http.StatusUnprocessableEntity, "key-reused")
		if other := post(c, "/players", player, `"two"`); other.Status != http.StatusCreated || other.Body == first.Body {
			t.Errorf("another key: %d %s; want another player", other.Status, other.Body)
		}
		// What is read is the record as it is now.
		changed := c.Do(http.MethodPut, first.Header.Get("Location"),
			strings.NewReader(`{"name": "Wren Tolley", "positions": ["lock"]}`), "Content-Type", "application/json", "If-Match",
			`"1"`)
		if again := post(c, "/players", player, `"one"`); again.Body != changed.Body || again.Header.Get("ETag") != `"2"` {
			t.Errorf("after a change the answer is %s; want %s", again.Body, changed.Body)
		}
		if gone := c.Do(http.MethodDelete, first.Header.Get("Location"), nil, "If-Match",
			`"2"`); gone.Status != http.StatusNoContent {
			t.Fatalf("delete: %d %s", gone.Status, gone.Body)
		}
		typed("what was made is deleted", post(c, "/players", player, `"one"`), http.StatusGone, "deleted")
		// A request that failed made nothing, and its key is free.
		typed("a body that breaks a rule", post(c, "/players", `{"name": "=1", "positions": []}`, `"three"`),
			http.StatusUnprocessableEntity, "not-valid")
		if got := post(c, "/players", player, `"three"`); got.Status != http.StatusCreated {
			t.Errorf("with the key of a request that failed: %d %s; want 201", got.Status, got.Body)
		}
	})
}

func TestASecretIsNotAnsweredASecondTime(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "mabyn")
	users := decode[struct{ Items []struct{ ID int64 } }](t, c.Get(rest.Path+"/users?login=ansel"))
	for path, body := range map[string]string{
		"/access-tokens": `{"label": "laptop", "scope": "read", "days": 9}`,
		fmt.Sprintf("/users/%d/link", users.Items[0].ID): "",
	} {
		send := func() apitest.Answer {
			return c.Do(http.MethodPost, rest.Path+path, strings.NewReader(body), "Content-Type", "application/json",
				"Idempotency-Key", `"secret `+path+`"`)
		}
		if first := send(); first.Status >= 300 {
			t.Fatalf("%s: %d %s", path, first.Status, first.Body)
		}
		again := send()
		if p := isProblem(t, path, again, http.StatusConflict); p.Type != "/problems/secret-not-repeated" ||
			strings.Contains(again.Body, "throughline_") {
			t.Errorf("%s, again: %s; want that the secret is not repeated", path, again.Body)
		}
	}
}

// The syntax is that of a string of RFC 9651 §3.3.3.
func TestAKeyIsAStringInQuotes(t *testing.T) {
	c := apitest.OnSQLite(t).Program(t, "mabyn")
	for key, ok := range map[string]bool{
		`"a"`: true, `"a b"`: true, `"a\"b"`: true, `"` + strings.Repeat("k", 200) + `"`: true,
		`a`: false, `"a`: false, `""`: false, `"a"b"`: false, `"a\b"`: false, `"ä"`: false, `"` + strings.Repeat("k", 201) +
			`"`: false, ``: false,
	} {
		got := c.Do(http.MethodPost, rest.Path+"/players", strings.NewReader(player), "Content-Type", "application/json",
			"Idempotency-Key", key)
		if ok {
			if got.Status != http.StatusCreated {
				t.Errorf("%s: %d %s; want 201", key, got.Status, got.Body)
			}
			continue
		}
		p := isProblem(t, key, got, http.StatusUnprocessableEntity)
		if len(p.Errors) != 1 || p.Errors[0]["location"] != "header.Idempotency-Key" {
			t.Errorf("%s: %v; want it told at the header", key, p.Errors)
		}
	}
}

// Two at once make one record: the second is told to wait, or answered as the first.
func TestTheSameRequestTwiceAtOnceMakesOneRecord(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.Program(t, "mabyn")
		answers := make([]apitest.Answer, 8)
		var all sync.WaitGroup
		for i := range answers {
			all.Go(func() {
				answers[i] = c.Do(http.MethodPost, rest.Path+"/players", strings.NewReader(player), "Content-Type",
					"application/json", "Idempotency-Key", `"at once"`)
			})
		}
		all.Wait()
		made := 0
		for _, got := range answers {
			switch got.Status {
			case http.StatusCreated:
				made++
			case http.StatusConflict:
				if p := decode[problem](t, got); p.Type != "/problems/key-in-use" || got.Header.Get("Retry-After") == "" {
					t.Errorf("%s, Retry-After %q; want that the key is in use, and when to try again", got.Body,
						got.Header.Get("Retry-After"))
				}
			default:
				t.Errorf("%d %s; want 201 or 409", got.Status, got.Body)
			}
		}
		if n := len(names(t, c.Get(rest.Path+"/players?name=Wren%20Tolley"))); n != 1 || made == 0 {
			t.Errorf("%d players were made, %d answers are of it; want one player", n, made)
		}
	})
}
