package api_test

import (
	"net/http"
	"strings"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestWhoAsksTooMuchIsToldWhenToComeAgainAndOthersAreNotHeldUp(t *testing.T) {
	a := apitest.OnSQLite(t, func(o *api.Options) { o.Limits.Person = 0.5 }) // the clock stands still
	ansel, mabyn := a.Program(t, "ansel"), a.Program(t, "mabyn")
	status := map[int]int{}
	var last apitest.Answer
	for range 12 {
		last = ansel.Get("/api/v1/seasons")
		status[last.Status]++
	}
	if status[http.StatusOK] != 10 || last.Status != http.StatusTooManyRequests ||
		last.Header.Get("Retry-After") != "2" || last.Header.Get("Content-Type") != "application/problem+json" {
		t.Errorf("%v, then %d, Retry-After %q, %s; want ten answers, then 429 as a problem and 2 s", status, last.Status,
			last.Header.Get("Retry-After"), last.Header.Get("Content-Type"))
	}
	if got := a.SignIn(t, "ansel").Get("/"); got.Status != http.StatusTooManyRequests ||
		!strings.Contains(got.Body, "Too many requests") {
		t.Errorf("the same person on a page: %d; want 429", got.Status)
	}
	if got := mabyn.Get("/api/v1/seasons"); got.Status != http.StatusOK {
		t.Errorf("somebody else: %d; want 200", got.Status)
	}
}

func TestALostDatabaseIsSaidAndComesBackByItself(t *testing.T) {
	url, server := storetest.Private(t)
	s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	a := apitest.Serve(t, s)
	program, person, ask := a.Program(t, "ansel"), a.SignIn(t, "ansel"), watch(t, s)
	all := func(want int) {
		t.Helper()
		for name, got := range map[string]apitest.Answer{
			"a resource": program.Get("/api/v1/players"), "a report": program.Get("/api/v1" + path(a.Bryn.ID, a.Season.ID) +
				"/report"),
			"a page": person.Get("/"), "a page's report": person.Get(path(a.Bryn.ID, a.Season.ID)),
		} {
			if got.Status != want || (got.Header.Get("Retry-After") == "") != (want == http.StatusOK) {
				t.Errorf("%s: %d, Retry-After %q; want %d\n%.300s", name, got.Status, got.Header.Get("Retry-After"), want,
					got.Body)
			}
			if strings.Contains(got.Body, "SQLSTATE") || strings.Contains(got.Body, "socket") {
				t.Errorf("%s tells of the database's insides: %.300s", name, got.Body)
			}
		}
		if status, body := ask("/readyz"); status != want {
			t.Errorf("ready: %d %s; want %d", status, body, want)
		}
	}
	all(http.StatusOK)
	server.Stop(t)
	all(http.StatusServiceUnavailable)
	all(http.StatusServiceUnavailable)
	server.Start(t)
	all(http.StatusOK)
}
