package api_test

import (
	"fmt"
	"html"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// forbidden is a step that is refused by REST and by page with the same reason, and that changes nothing. Names in
// braces, such as {note}, in addresses, bodies and forms stand for what setup returned by that name.
type forbidden struct {
	name   string // the rule, as a sentence
	who    string // who tries it, by username
	setup  func(t *testing.T, s *stage) given
	rest   restStep
	page   pageStep
	reason string // words that both refusals have
	// addresses of what must be as before, read by the manager over REST
	unchanged []string
}

// restStep is the request that tries it. Match is sent as If-Match, and want is the status.
type restStep struct {
	method, path, body, match string
	want                      int
}

// pageStep is the form that tries it, "field=value&field=value". Keeps is what was typed and must be on the page that
// shows the refusal; it may be empty where there was nothing to type. With read, the page is only opened.
type pageStep struct {
	read              bool
	path, form, keeps string
	want              int
}

// given is what a setup made, by name.
type given map[string]any

// fill puts what was made into a text.
func (g given) fill(text string) string {
	var pairs []string
	for name, value := range g {
		pairs = append(pairs, "{"+name+"}", fmt.Sprint(value))
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// forbiddenSteps are all of them. The steps about one kind of record stand in a file of their own, forbidden_*_test.go,
// and have their line here.
func forbiddenSteps() []forbidden {
	return slices.Concat(
		safetySteps(), roundSteps(),
		goalSteps(),
		meetingSteps(),
		leadSteps(),
		reviewSteps(),
		skillSteps(),
		trainingSteps(),
		packSteps(),
	)
}

// stage is the academy on which the steps are tried. Every step makes its own records: the others must not meet them.
type stage struct {
	*apitest.Academy
	users    map[string]models.Who
	browsers map[string]*apitest.Client
}

// txOf is what a stage's writes are handed.
type txOf = *store.Tx

// eachStage runs a test on both databases, on a stage of its own.
func eachStage(t *testing.T, test func(t *testing.T, s *stage)) {
	t.Helper()
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		test(t, &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}})
	})
}

// formOf reads a form as rows write it.
func formOf(text string) url.Values {
	form, err := url.ParseQuery(text)
	if err != nil {
		panic(err) // it is ours
	}
	return form
}

// coach adds a coach of some squads, who signs in by the login.
func (s *stage) coach(t *testing.T, login string, squads ...int64) int64 {
	t.Helper()
	u, err := s.Join(t, s.ID, models.User{Login: login, Name: "Coach " + login, Role: models.RoleCoach}, squads...)
	if err != nil {
		t.Fatal(err)
	}
	return u.ID
}

// as writes as a user, or as the console where login is empty.
func (s *stage) as(t *testing.T, login string, do func(tx *store.Tx) error) {
	t.Helper()
	who := models.Console(s.ID)
	if login != "" {
		who = s.user(t, login)
	}
	if err := s.Store.Write(t.Context(), who, do); err != nil {
		t.Fatalf("setup as %q: %v", login, err)
	}
}

// user returns who a user is to the store.
func (s *stage) user(t *testing.T, login string) models.Who {
	t.Helper()
	if _, known := s.users[login]; !known {
		_, who, err := s.Store.UserByLogin(t.Context(), login)
		if err != nil {
			t.Fatal(err)
		}
		s.users[login] = who
	}
	return s.users[login]
}

// player adds a player to the under 18s in the season of the academy. Players without a birth date count as minors.
func (s *stage) player(t *testing.T, name string) models.Player {
	t.Helper()
	p := models.Player{Name: name, Positions: []models.Position{models.Flanker}}
	s.as(t, "", func(tx *store.Tx) error {
		if err := tx.CreatePlayer(&p); err != nil {
			return err
		}
		return tx.CreateMembership(&models.Membership{SeasonID: s.Season.ID, SquadID: s.Under18.ID, PlayerID: p.ID,
			From: s.Season.Starts})
	})
	return p
}

// browser returns the user, signed in on the pages.
func (s *stage) browser(t *testing.T, login string) *apitest.Client {
	t.Helper()
	if s.browsers[login] == nil {
		s.browsers[login] = s.SignIn(t, login)
	}
	return s.browsers[login]
}

// read returns what an address answers the manager.
func (s *stage) read(t *testing.T, address string) string {
	t.Helper()
	got := s.Program(t, "mabyn").Get("/api/v1" + address)
	if got.Status != http.StatusOK {
		t.Fatalf("read %s: %d %s", address, got.Status, got.Body)
	}
	return got.Body
}

func TestEveryForbiddenStepIsRefused(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}}
		for _, login := range []string{"mabyn", "ansel", "sorrel", "bryn"} {
			s.browser(t, login) // a client fails the test it was made in
		}
		for _, step := range forbiddenSteps() {
			t.Run(strings.ReplaceAll(step.name, " ", "_"), func(t *testing.T) { s.try(t, step) })
		}
	})
}

// try tries a step both ways.
func (s *stage) try(t *testing.T, step forbidden) {
	made := step.setup(t, s)
	if step.rest.path == "" || step.page.path == "" || step.reason == "" || len(step.unchanged) == 0 {
		t.Fatal("the row has no request, no form, no reason or nothing that must stay")
	}
	var before []string
	for _, address := range step.unchanged {
		before = append(before, s.read(t, made.fill(address)))
	}
	same := func(by string) {
		t.Helper()
		for n, address := range step.unchanged {
			if now := s.read(t, made.fill(address)); now != before[n] {
				t.Errorf("%s changed %s:\n%s\nit was\n%s", by, made.fill(address), now, before[n])
			}
		}
	}
	reason := made.fill(step.reason)

	headers := []string{"Content-Type", "application/json"}
	if step.rest.match != "" {
		headers = append(headers, "If-Match", made.fill(step.rest.match))
	}
	got := s.Program(t, step.who).Do(step.rest.method, "/api/v1"+made.fill(step.rest.path),
		strings.NewReader(made.fill(step.rest.body)), headers...)
	if got.Status != step.rest.want || !strings.Contains(got.Body, reason) {
		t.Errorf("REST answers %d; want %d with %q\n%s", got.Status, step.rest.want, reason, got.Body)
	}
	same("REST")

	if step.page.read {
		got = s.browser(t, step.who).Get(made.fill(step.page.path))
	} else {
		got = s.browser(t, step.who).Post(made.fill(step.page.path), formOf(made.fill(step.page.form)))
	}
	said := strings.Join(strings.Fields(html.UnescapeString(got.Body)), " ")
	if got.Status != step.page.want || !strings.Contains(strings.ToLower(said), strings.ToLower(reason)) {
		t.Errorf("the page answers %d; want %d with %q\n%s", got.Status, step.page.want, reason, said)
	}
	if !strings.Contains(said, made.fill(step.page.keeps)) {
		t.Errorf("the page lost %q, which was typed:\n%s", step.page.keeps, said)
	}
	same("the page")
}
