package rest_test

import (
	"encoding/json"
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

// decode reads an answer's JSON.
func decode[T any](t *testing.T, a apitest.Answer) T {
	t.Helper()
	var v T
	if err := json.Unmarshal([]byte(a.Body), &v); err != nil {
		t.Fatalf("%d %s: %v", a.Status, a.Body, err)
	}
	return v
}

// problem is what RFC 9457 §3.1 says a problem has.
type problem struct {
	Type, Title, Detail string
	Status              int
	Errors              []map[string]any
}

// isProblem checks that an answer is a problem of a status, and returns it.
func isProblem(t *testing.T, what string, a apitest.Answer, status int) problem {
	t.Helper()
	p := decode[problem](t, a)
	if a.Status != status || p.Status != status || a.Header.Get("Content-Type") != "application/problem+json" ||
		p.Title != http.StatusText(status) || p.Detail == "" {
		t.Errorf("%s: %d %s %s; want a problem of status %d with a title and a detail", what, a.Status,
			a.Header.Get("Content-Type"), a.Body, status)
	}
	return p
}

func names(t *testing.T, a apitest.Answer) []string {
	t.Helper()
	var names []string
	for _, item := range decode[struct{ Items []struct{ Name string } }](t, a).Items {
		names = append(names, item.Name)
	}
	return names
}

func TestStrangersAreToldHowToSayWhoTheyAre(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.Stranger(t)
		for _, path := range []string{"/seasons", "/players", "/players?nonsense=1", "/players/1/seasons/1/report",
			"/players/x/seasons/y/report"} {
			got := c.Get("/api/v1" + path)
			isProblem(t, path, got, http.StatusUnauthorized)
			if got.Header.Get("WWW-Authenticate") != "Bearer" {
				t.Errorf("%s: WWW-Authenticate is %q; want Bearer (RFC 9110 §11.6.1)", path, got.Header.Get("WWW-Authenticate"))
			}
		}
		isProblem(t, "a token that nobody holds", c.Get("/api/v1/seasons", "Authorization", "Bearer throughline_made_up"),
			http.StatusUnauthorized)
	})
}

func TestSeasonsAndPlayersAreThoseOneMaySee(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		for _, c := range []struct {
			login, path string
			want        []string
		}{
			{"mabyn", "/seasons", []string{"2024-25", "2025-26"}},
			{"edda", "/seasons", []string{"2025-26"}},
			{"mabyn", "/players", []string{"Bryn Calder", "Owen Tarrant", "Perran Gale", "Tam Veale"}},
			{"ansel", "/players", []string{"Bryn Calder", "Owen Tarrant"}},
			{"sorrel", "/players", []string{"Bryn Calder", "Owen Tarrant"}},
			{"owen", "/players", []string{"Owen Tarrant"}},
			{"edda", "/players", []string{"Wystan Rudd"}},
			{"mabyn", fmt.Sprintf("/players?season=%d", a.Earlier.ID), []string{"Bryn Calder"}},
			{"mabyn", fmt.Sprintf("/players?squad=%d", a.Under16.ID), []string{"Bryn Calder", "Owen Tarrant", "Tam Veale"}},
			{"mabyn", fmt.Sprintf("/players?squad=%d&season=%d", a.Under16.ID, a.Season.ID),
				[]string{"Owen Tarrant", "Tam Veale"}},
			{"mabyn", "/players?name=Owen+Tarrant", []string{"Owen Tarrant"}},
			{"mabyn", "/players?name=Nobody", nil},
			{"edda", fmt.Sprintf("/players?squad=%d", a.Under18.ID), nil},
		} {
			got := a.Program(t, c.login).Get("/api/v1" + c.path)
			if got.Status != http.StatusOK || got.Header.Get("Content-Type") != "application/json" {
				t.Errorf("%s %s: %d %s %s", c.login, c.path, got.Status, got.Header.Get("Content-Type"), got.Body)
				continue
			}
			list := names(t, got)
			slices.Sort(list)
			if !slices.Equal(list, c.want) {
				t.Errorf("%s %s: %v; want %v", c.login, c.path, list, c.want)
			}
			if c.want == nil && !strings.Contains(got.Body, `"items":[]`) {
				t.Errorf("%s %s: %s; want an empty list, not null", c.login, c.path, got.Body)
			}
		}
	})
}

func TestASignedInPersonMayUseTheServiceToo(t *testing.T) {
	a := apitest.OnSQLite(t)
	if got := a.SignIn(t, "ansel").Get("/api/v1/seasons"); got.Status != http.StatusOK {
		t.Errorf("%d %s; want 200", got.Status, got.Body)
	}
}

func TestTheReportIsThatOfThePlayerAndSeason(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		path := report(a.Bryn, a.Season)
		got := a.Program(t, "ansel").Get(path)
		r := decode[struct {
			Edition string
			Player  struct{ Name string }
			Season  struct{ Name string }
			Summary struct {
				Matches       int
				Minutes       float64
				Other_Matches int
			}
			Made_At string
		}](t, got)
		if got.Status != http.StatusOK || r.Edition != "staff" || r.Player.Name != "Bryn Calder" ||
			r.Season.Name != "2025-26" || r.Summary.Matches != 5 || r.Summary.Minutes != 350 || r.Summary.Other_Matches != 1 {
			t.Errorf("%d %+v; want the staff's edition of Bryn Calder's 2025-26 with 5 matches, 350 minutes and one match "+
				"for another team", got.Status, r)
		}
		if r.Made_At != "2025-12-01T09:00:00Z" {
			t.Errorf("made at %s; want the time of the server's clock", r.Made_At)
		}
		if again := a.Program(t, "ansel").Get(path); again.Body != got.Body {
			t.Error("the same request gave another report")
		}
		if own := a.Program(t, "bryn").Get(path); own.Status != http.StatusOK ||
			!strings.Contains(own.Body, `"edition":"player"`) {
			t.Errorf("his own: %d; want the player's edition", own.Status)
		}
	})
}

func report(p models.Player, s models.Season) string {
	return fmt.Sprintf("/api/v1/players/%d/seasons/%d/report", p.ID, s.ID)
}

// No one must learn from an answer whether a record that they may not see exists.
func TestOtherPeoplesReportsLookLikeNoneAtAll(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		for _, c := range []struct {
			login, path string
		}{
			{"ansel", report(a.Tam, a.Season)}, {"sorrel", report(a.Tam, a.Season)}, {"owen", report(a.Bryn, a.Season)},
			{"edda", report(a.Bryn, a.Season)}, {"mabyn", report(a.Wystan, a.OtherSeason)},
			{"mabyn", report(a.Bryn, a.OtherSeason)},
		} {
			p := a.Program(t, c.login)
			hidden, none := p.Get(c.path), p.Get("/api/v1/players/987654321/seasons/1/report")
			isProblem(t, c.login+" "+c.path, hidden, http.StatusNotFound)
			if strip(hidden.Body) != strip(none.Body) &&
				!strings.Contains(c.path, fmt.Sprintf("seasons/%d", a.OtherSeason.ID)) {
				t.Errorf("%s %s: %s, but for nobody at all: %s", c.login, c.path, hidden.Body, none.Body)
			}
		}
	})
}

// strip takes the numbers out, which the person asking gave themselves.
func strip(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return -1
		}
		return r
	}, s)
}

func TestWrongRequestsAreProblemsThatDoNotRepeatWhatWasSent(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.Program(t, "mabyn")
		for path, place := range map[string]string{
			"/players?season=hush":                           "query.season",
			"/players?season=-4":                             "query.season",
			"/players?Season=1":                              "query.Season",
			"/players?hush=1":                                "query.hush",
			"/players?name=" + strings.Repeat("h", 101):      "query.name",
			"/players/hush/seasons/1/report":                 "path.id",
			"/players/1/seasons/99999999999999999999/report": "path.season",
		} {
			got := c.Get("/api/v1" + path)
			p := isProblem(t, path, got, http.StatusUnprocessableEntity)
			if len(p.Errors) != 1 || p.Errors[0]["location"] != place || p.Errors[0]["message"] == "" {
				t.Errorf("%s: %v; want one error at %s", path, p.Errors, place)
				continue
			}
			if _, repeated := p.Errors[0]["value"]; repeated || strings.Contains(got.Body, "hhhh") ||
				strings.Contains(got.Body, `"hush"`) {
				t.Errorf("%s: %s; want nothing of what was sent", path, got.Body)
			}
		}
		isProblem(t, "no such resource", c.Get("/api/v1/nothing"), http.StatusNotFound)
		isProblem(t, "other method", c.Do(http.MethodPut, "/api/v1/players", nil), http.StatusMethodNotAllowed)
		isProblem(t, "not text", c.Get("/api/v1/players?name=%00"), http.StatusBadRequest)
	})
}

func TestTheServiceDescribesItself(t *testing.T) {
	a := apitest.OnSQLite(t)
	got := a.Stranger(t).Get("/openapi.json")
	d := decode[struct {
		OpenAPI string
		Paths   map[string]map[string]struct {
			Responses map[string]any
		}
		Components struct {
			SecuritySchemes map[string]map[string]string
			Schemas         map[string]struct{ Properties map[string]any }
		}
		Security []map[string][]string
	}](t, got)
	if !strings.HasPrefix(d.OpenAPI, "3.1") {
		t.Errorf("OpenAPI %q; want 3.1", d.OpenAPI)
	}
	for _, path := range []string{"/api/v1/seasons", "/api/v1/players", "/api/v1/players/{id}/seasons/{season}/report"} {
		op, ok := d.Paths[path]["get"]
		if !ok {
			t.Errorf("%s is not described", path)
		}
		for _, status := range []string{"200", "304", "400", "401", "422", "429", "500", "503"} {
			if op.Responses[status] == nil {
				t.Errorf("%s: the answer %s is not described", path, status)
			}
		}
	}
	if s := d.Components.SecuritySchemes; s["token"]["scheme"] != "bearer" ||
		s["session"]["name"] != "__Host-throughline" || len(d.Security) != 2 {
		t.Errorf("security is %v, %v; want a bearer token or the session's cookie", s, d.Security)
	}
	if detail := d.Components.Schemas["ProblemPlace"].Properties; detail["message"] == nil || detail["value"] != nil {
		t.Errorf("an error of a problem is described with %v; want a message, and no value, which it never has", detail)
	}
}
