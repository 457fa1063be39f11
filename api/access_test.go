package api_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

var update = flag.Bool("update", false, "write testdata/access.md anew")

// visit is a route that is not one of the five of a kind: a line here puts it into the access matrix.
type visit struct {
	route string   // as the router has it
	at    []string // the places that it is asked for; nil: once, for nobody's record
	path  string   // what to ask for, where the route does not say; with names in braces
	form  bool     // it is sent a form
	of    string   // it is a list of what is computed, for the players of this area: its rows are told apart by player_id
	// want is what the policy says that somebody is answered.
	want func(p person, pl *place) int
}

// everybody is told the same.
func everybody(status int) func(person, *place) int {
	return func(person, *place) int { return status }
}

// whoReads is what a page or report about a player's records of some areas answers: to all who read all of those areas.
func whoReads(stranger int, areas ...models.Area) func(person, *place) int {
	return func(p person, pl *place) int {
		if p.login == "" {
			return stranger
		}
		for _, area := range areas {
			if !may(p, models.Read, area, pl) {
				return http.StatusNotFound
			}
		}
		return http.StatusOK
	}
}

// whoListsAnything is what a list answers: to a role that reads nothing of the area, that it may not.
func whoListsAnything(area models.Area) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return http.StatusUnauthorized
		case p.who.Reach(models.Read, area) == models.ReachNone:
			return http.StatusForbidden
		}
		return http.StatusOK
	}
}

const (
	toSignIn = http.StatusSeeOther     // a stranger on a page
	unknown  = http.StatusUnauthorized // a stranger who is a program
)

// visits are all the routes beside those of the kinds.
var visits = []visit{
	{route: "GET /static/", path: "/static/none", want: everybody(http.StatusNotFound)},
	{route: "GET /cautions", want: everybody(http.StatusOK)},
	{route: "GET /docs", want: everybody(http.StatusOK)},
	{route: "GET /docs/docs.css", want: everybody(http.StatusOK)},
	{route: "GET /openapi.json", want: everybody(http.StatusOK)},
	{route: "GET /sign-in", want: func(p person, _ *place) int {
		if p.login == "" {
			return http.StatusOK
		}
		return http.StatusSeeOther // he has signed in
	}},
	{route: "POST /sign-in", form: true, want: everybody(http.StatusUnauthorized)},
	{route: "POST /sign-out", form: true, want: everybody(http.StatusSeeOther)},
	{route: "GET /", want: func(p person, _ *place) int {
		if p.login == "" || p.who.Role == models.RolePlayer { // who is sent to his own report
			return http.StatusSeeOther
		}
		return whoListsAnything(models.AreaSetup)(p, nil)
	}},
	{route: "GET /players/:player/seasons/:season", at: everybodys, want: whoReads(toSignIn, models.AreaPlayers, models.AreaPerformance)},
	{route: "GET /players/:player/seasons/:season/report.html", at: everybodys, want: whoReads(toSignIn, models.AreaPlayers, models.AreaPerformance)},
	{route: "GET /api/v1/catalogue", want: func(p person, _ *place) int {
		if p.login == "" {
			return unknown
		}
		return http.StatusOK // it is the program's own
	}},
	{route: "GET /api/v1/observations", of: "performance", want: whoListsAnything(models.AreaPerformance)},
	{route: "GET /api/v1/carry-cells", of: "performance", want: whoListsAnything(models.AreaPerformance)},
	{route: "GET /api/v1/players/:id/seasons/:season/report", at: everybodys, want: whoReads(unknown, models.AreaPlayers, models.AreaPerformance)},
	{route: "GET /api/v1/players/:id/seasons/:season/trends", at: everybodys, want: whoReads(unknown, models.AreaPlayers, models.AreaPerformance)},
	{route: "GET /api/v1/players/:id/seasons/:season/trends/:indicator", at: everybodys, want: whoReads(unknown, models.AreaPlayers, models.AreaPerformance)},
	{route: "GET /api/v1/logs/:id/agreement/:other", at: everybodys, want: whoReads(unknown, models.AreaPerformance)},
	{route: "POST /api/v1/logs/:id/involvements/batch", at: everybodys, want: func(p person, pl *place) int {
		if status := whoReads(unknown, models.AreaPerformance)(p, pl); status != http.StatusOK {
			return status
		}
		if may(p, models.Write, models.AreaPerformance, pl) && (p.title == "coach" || p.who.Role == models.RoleManager) { // the log's maker
			return http.StatusOK
		}
		return http.StatusForbidden
	}},
	{route: "POST /api/v1/review-notes/:id/read", at: append([]string{"kept"}, everybodys...), want: func(p person, pl *place) int {
		status := whoReads(unknown, models.AreaNotes)(p, pl)
		if status == http.StatusOK && p.who.Role != models.RolePlayer { // the player marks one as read
			return http.StatusForbidden
		}
		return status
	}},
}

// request is one line of the matrix.
type request struct {
	method, route string // the route as the router has it
	place         *place // whose record it is; nil: nobody's
	path          string
	record        *record // the record that is asked for, where it is one that the cast made
	// body is what is sent, made for everybody anew.
	body  func(p person) string
	media string
	match string // If-Match
	want  func(p person) int
	// also is another status that says the same: there is one already.
	also int
	// rows says what an answered list must hold, by place; nil: it is no list.
	rows func(p person) []string
	// found reads out of a list what it holds, by place.
	found func(body string) []string
}

func (r request) String() string {
	if r.place == nil {
		return r.method + " " + r.route
	}
	return r.method + " " + r.route + " " + r.place.about
}

// ginPath writes the names of a path as the router does.
func ginPath(path string) string {
	return regexp.MustCompile(`\{([a-z_]+)\}`).ReplaceAllString(path, ":$1")
}

func bracePath(path string) string {
	return regexp.MustCompile(`:([a-z_]+)`).ReplaceAllString(path, "{$1}")
}

// matrix is everything that the cast asks for, in the order in which nothing that is asked for later is lost.
func (c *cast) matrix() []request {
	var all []request
	for i := range kinds {
		all = append(all, c.ofKind(&kinds[i])...)
	}
	for _, v := range visits {
		all = append(all, c.ofVisit(v)...)
	}
	order := []string{http.MethodGet, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodPost}
	slices.SortStableFunc(all, func(a, b request) int { return slices.Index(order, a.method) - slices.Index(order, b.method) })
	return all
}

func (c *cast) ofVisit(v visit) []request {
	method, route, _ := strings.Cut(v.route, " ")
	path := v.path
	if path == "" {
		path = bracePath(route)
	}
	at := v.at
	if at == nil {
		at = []string{""}
	}
	var all []request
	for _, name := range at {
		pl := c.places[name]
		r := request{method: method, route: route, place: pl, path: path, want: func(p person) int { return v.want(p, pl) }}
		if pl != nil {
			r.path = pl.address(path)
		}
		if v.form {
			r.media, r.body = "application/x-www-form-urlencoded", func(person) string { return "user=nobody&password=nothing" }
		} else if o, ok := c.spec.operation(method, bracePath(route)); ok && pl != nil {
			if _, example := c.spec.takes(o); example != nil {
				r.media, r.body = "application/json", func(p person) string { return text(fresh(pl.fill(example), words(p, pl))) }
			}
		}
		if v.of != "" {
			area := models.Area(v.of)
			r.path += "?limit=500"
			r.rows = func(p person) []string {
				var seen []string
				for _, name := range everybodys {
					if may(p, models.Read, area, c.places[name]) {
						seen = append(seen, name)
					}
				}
				slices.Sort(seen)
				return seen
			}
			r.found = func(body string) []string { return c.placesOf(body, "player_id") }
		}
		all = append(all, r)
	}
	return all
}

// words are a text that nobody else sends for the same place.
func words(p person, pl *place) string {
	w := "new_" + strings.TrimPrefix(p.login, "x.")
	if pl != nil {
		w += "_" + pl.name
	}
	return w
}

// fresh puts a text where the keys of a value are, so that it is not what somebody else has sent before.
func fresh(v any, words string) any {
	switch v := v.(type) {
	case object:
		for name, member := range v {
			if key, ok := member.(string); ok && name == "key" {
				v[name] = key + words
			}
			fresh(member, words)
		}
	case []any:
		for _, item := range v {
			fresh(item, words)
		}
	}
	return v
}

// placesOf reads which places the items of a list belong to by the id of a player.
func (c *cast) placesOf(body, member string) []string {
	var seen []string
	for _, item := range items(body) {
		name := fmt.Sprintf("%s %v", member, item[member])
		for _, at := range []string{"his", "mates", "far", "theirs"} {
			if id, ok := item[member].(float64); ok && int64(id) == c.places[at].ids[member] {
				name = at
			}
		}
		seen = append(seen, name)
	}
	slices.Sort(seen)
	return slices.Compact(seen)
}

func items(body string) []object {
	var list struct{ Items []object }
	if err := json.Unmarshal([]byte(body), &list); err != nil {
		return []object{{"broken": body}}
	}
	return list.Items
}

// ofKind are the five operations of a kind, as far as the description has them.
func (c *cast) ofKind(k *kindOf) []request {
	var all []request
	list := "/api/v1/" + k.path
	var made []*record
	for i := range c.records {
		if c.records[i].kind == k {
			made = append(made, &c.records[i])
		}
	}
	if _, ok := c.spec.operation(http.MethodGet, list); ok {
		all = append(all, request{
			method: http.MethodGet, route: list, path: list + "?limit=500", want: func(p person) int { return whoListsAnything(k.area)(p, nil) },
			rows: func(p person) []string {
				var seen []string
				for _, r := range made {
					if p.reads(*r) {
						seen = append(seen, r.place.name)
					}
				}
				slices.Sort(seen)
				return seen
			},
			found: func(body string) []string {
				var seen []string
				for _, item := range items(body) {
					name := fmt.Sprintf("id %v", item["id"])
					for _, r := range made {
						if id, ok := item["id"].(float64); ok && int64(id) == r.id {
							name = r.place.name
						}
					}
					seen = append(seen, name)
				}
				slices.Sort(seen)
				return seen
			},
		})
	}
	one := list + "/{id}"
	for _, r := range made {
		status := func(done int) func(p person) int {
			return func(p person) int {
				switch {
				case p.login == "":
					return http.StatusUnauthorized
				case !p.reads(*r):
					return http.StatusNotFound
				case !p.changes(*r):
					return http.StatusForbidden
				}
				return done
			}
		}
		for _, method := range []string{http.MethodGet, http.MethodPut, http.MethodDelete} {
			if _, ok := c.spec.operation(method, one); !ok {
				continue
			}
			q := request{method: method, route: ginPath(one), place: r.place, path: r.at(), record: r}
			switch method {
			case http.MethodGet:
				q.want = func(p person) int {
					if p.login != "" && p.reads(*r) {
						return http.StatusOK
					}
					return status(0)(p)
				}
			case http.MethodPut: // it is replaced by itself, so that the next in turn finds it as it was
				q.want, q.media, q.match = status(http.StatusOK), "application/json", "*"
				q.body = func(person) string { return c.asItIs(r) }
			case http.MethodDelete: // under a condition that never holds, so that the next in turn finds it: to be told so, one must be allowed to
				q.want, q.match = status(http.StatusPreconditionFailed), `"0"`
			}
			all = append(all, q)
		}
	}
	return append(all, c.ofMaking(k)...)
}

// asItIs is a record as it is now.
func (c *cast) asItIs(r *record) string {
	c.t.Helper()
	manager := c.person("manager")
	if r.place.academy != manager.who.AcademyID {
		manager = c.person("another academy's manager")
	}
	got := c.ask(manager, http.MethodGet, r.at(), nil)
	if got.Status != http.StatusOK {
		c.t.Fatalf("%s: %d %s", r.at(), got.Status, got.Body)
	}
	return got.Body
}

func (c *cast) ofMaking(k *kindOf) []request {
	o := c.creating(k)
	nested := strings.Contains(o.path, "{")
	at := k.at
	if at == nil {
		at = everybodys
	}
	sample, _ := c.body(k, c.places["his"], "x")
	placeless := !nested && !c.places["his"].refers(sample)
	if placeless {
		at = []string{""}
	}
	var all []request
	for _, name := range at {
		pl := c.places[name]
		q := request{method: http.MethodPost, route: ginPath(o.path), place: pl, path: o.path, media: "application/json", also: http.StatusConflict}
		if pl != nil {
			q.path = pl.address(o.path)
		}
		q.want = func(p person) int {
			switch {
			case p.login == "":
				return http.StatusUnauthorized
			case nested && !may(p, models.Read, k.area, pl):
				return http.StatusNotFound
			case p.who.Reach(models.Write, k.area) == models.ReachNone:
				return http.StatusForbidden
			case placeless:
				return http.StatusCreated
			case !may(p, models.Write, k.area, pl):
				if seesAll(p, pl, sample) {
					return http.StatusForbidden
				}
				return http.StatusUnprocessableEntity // what he may not see is not there to refer to
			case nested && !p.changes(c.parent(o, pl)):
				return http.StatusForbidden
			}
			return http.StatusCreated
		}
		q.body = func(p person) string {
			// As it was made, with other words: a program that knows the ids would send it so.
			i := slices.IndexFunc(c.records, func(r record) bool { return r.kind == k && (pl == nil || r.place == pl) })
			body := clone(c.records[i].body).(object)
			if k.renew != nil {
				k.renew(body)
			}
			return markers.ReplaceAllLiteralString(text(body), words(p, pl))
		}
		all = append(all, q)
	}
	return all
}

// seesAll says whether somebody may read every record at a place that a body refers to.
func seesAll(p person, pl *place, body object) bool {
	for i := range kinds {
		if _, refers := body[singular(kinds[i].path)+"_id"]; refers && !may(p, models.Read, kinds[i].area, pl) {
			return false
		}
	}
	return true
}

// parent is the record under whose address others are made.
func (c *cast) parent(o operation, pl *place) record {
	above := strings.Split(o.path, "/")[3]
	i := slices.IndexFunc(c.records, func(r record) bool { return r.kind.path == above && r.place == pl })
	if i < 0 {
		c.t.Fatalf("%v: the cast made none of the %s %s", o, above, pl.about)
	}
	return c.records[i]
}

// TestEverybodyReachesWhatThePolicySaysAndNothingElse asks for everything there is as everybody. What each must be answered follows from
// models.Policy and from whose record it is; testdata/access.md shows what was answered, for people to read.
func TestEverybodyReachesWhatThePolicySaysAndNothingElse(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		c.everyRoleIsThere()
		matrix := c.matrix()
		c.everyRouteIsThere(matrix)
		cells := map[string][]string{}
		for _, r := range matrix {
			for _, p := range c.people {
				cells[r.String()] = append(cells[r.String()], c.cell(r, p))
			}
		}
		c.golden(matrix, cells)
	})
}

// everyRoleIsThere sees to it that nobody is left out who can sign in.
func (c *cast) everyRoleIsThere() {
	for _, role := range []models.Role{models.RoleManager, models.RoleCoach, models.RoleSelector, models.RolePlayer, models.RoleOperator} {
		if slices.ContainsFunc(c.people, func(p person) bool { return p.who.Role == role }) {
			continue
		}
		// The cast tries to make an operator: without one, the database must be one that takes none.
		if role == models.RoleOperator && c.takesNoOperators() {
			continue
		}
		c.t.Errorf("nobody in the cast is a %s", role)
	}
}

// takesNoOperators says whether the database's own rule refuses operators.
func (c *cast) takesNoOperators() bool {
	_, err := c.a.Join(c.t, models.Deployment, models.User{Login: "x.third", Name: "Operator", Role: models.RoleOperator})
	return err != nil && strings.Contains(strings.ToLower(err.Error()), "constraint")
}

func (c *cast) everyRouteIsThere(matrix []request) {
	c.t.Helper()
	routes := c.a.Server.Routes()
	asked := map[string]bool{}
	for _, r := range matrix {
		asked[r.method+" "+r.route] = true
	}
	for _, route := range routes {
		if !asked[route] {
			c.t.Errorf("%s is in no line of the access matrix: add it to kinds (api/cast_test.go) or visits (api/access_test.go)", route)
		}
	}
	for route := range asked {
		if !slices.Contains(routes, route) {
			c.t.Errorf("the access matrix has %s, and the server does not", route)
		}
	}
}

// cell asks one thing as one person, checks the answer and writes it down.
func (c *cast) cell(r request, p person) string {
	c.t.Helper()
	body, headers := "", []string{}
	if r.body != nil {
		body, headers = r.body(p), append(headers, "Content-Type", r.media)
	}
	if r.match != "" {
		headers = append(headers, "If-Match", r.match)
	}
	got := c.ask(p, r.method, r.path, strings.NewReader(body), headers...)
	want := r.want(p)
	if got.Status != want && !(r.also != 0 && want < 300 && got.Status == r.also) {
		c.t.Errorf("%v (%s) by %s: %d; the policy says %d\n%.600s", r, r.path, p.title, got.Status, want, got.Body)
	}
	told := got.Body
	for name, values := range got.Header {
		told += "\n" + name + ": " + strings.Join(values, ", ")
	}
	if leaks := c.leaks(p, told); len(leaks) > 0 {
		c.t.Errorf("%v (%s) by %s shows what the policy hides: %v", r, r.path, p.title, leaks)
	}
	if r.record != nil && r.method == http.MethodGet && got.Status == http.StatusOK && !r.record.kind.noText && !markers.MatchString(got.Body) {
		c.t.Errorf("%v by %s has no marker in it: what leaked would not be seen", r, p.title)
	}
	cell := fmt.Sprint(got.Status)
	if r.rows != nil && got.Status == http.StatusOK {
		seen, wanted := r.found(got.Body), r.rows(p)
		if !slices.Equal(seen, wanted) {
			c.t.Errorf("%v by %s holds %v; the policy says %v", r, p.title, seen, wanted)
		}
		if len(seen) == 0 {
			seen = []string{"nothing"}
		}
		cell += ": " + strings.Join(seen, ", ")
		// The same as a table must not hold more.
		table := c.ask(p, r.method, r.path, nil, "Accept", "text/csv")
		if leaks := c.leaks(p, table.Body); len(leaks) > 0 {
			c.t.Errorf("%v by %s as CSV shows what the policy hides: %v", r, p.title, leaks)
		}
	}
	return cell
}

const goldenHead = `# Who is answered what

Written by ` + "`go test ./api -run TestEverybodyReachesWhatThePolicySays -update`" + `; the test checks every cell against the policy
(models/policy.go) and against whose record it is. It stands here so that a person can read it, and see a difference.

Whose records: **ours** the academy's, **his** the player's, **kept** about him and for the staff only, **mates** those of another player of
his squad, **far** those of a player of another squad, **theirs** another academy's.

What was answered: 200, 201 and 204 done, with whose rows a list held; 303 sent on, a stranger to sign in; 401 not known who asks; 403 may see it but
not change it, or lists nothing of the kind; 404 may not see it, as if it were not there; 409 may, but there is one already; 412 may, but
the test's own condition does not hold; 422 names what he may not see.

`

// golden compares the matrix with the one that people have read, or writes it anew.
func (c *cast) golden(matrix []request, cells map[string][]string) {
	c.t.Helper()
	var b strings.Builder
	b.WriteString(goldenHead)
	columns := []string{"what", "whose"}
	for _, p := range c.people {
		columns = append(columns, p.title)
	}
	fmt.Fprintf(&b, "| %s |\n|%s\n", strings.Join(columns, " | "), strings.Repeat(" --- |", len(columns)))
	for _, r := range matrix {
		whose := ""
		if r.place != nil {
			whose = r.place.name
		}
		fmt.Fprintf(&b, "| %s %s | %s | %s |\n", r.method, r.route, whose, strings.Join(cells[r.String()], " | "))
	}
	path := filepath.Join("testdata", "access.md")
	if *update && strings.HasSuffix(c.t.Name(), "/sqlite") {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			c.t.Fatal(err)
		}
	}
	old, err := os.ReadFile(path)
	if err != nil {
		c.t.Fatal(err)
	}
	was, is := strings.Split(string(old), "\n"), strings.Split(b.String(), "\n")
	for _, line := range is {
		if !slices.Contains(was, line) {
			c.t.Errorf("%s lacks %s", path, line)
		}
	}
	for _, line := range was {
		if !slices.Contains(is, line) {
			c.t.Errorf("%s has %s, which is not so", path, line)
		}
	}
}
