package api_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
)

// sweep is everything that a caller is answered, by what was asked for.
type sweep map[string]string

// unswept are addresses whose answers change by being asked for, and a list of what only its maker sees.
var unswept = []string{"/api/v1/access-tokens", "/api/v1/report-packs", "/sign-in", "/sign-out"}

// sweep asks for everything there is to read, as a program and as a person at a browser: each list and each of its
// records, each paper and trend of each player of the academy, in each form that the description offers, and each page
// that can be come to by links.
func (m *team) sweep(t *testing.T, login string) sweep {
	t.Helper()
	got := sweep{}
	m.sweepProgram(t, login, got)
	m.sweepPages(t, login, got)
	return got
}

// forms are the media types of an operation's answer, as the description offers them.
func forms(d document, o operation) []string {
	responses, _ := o.said["responses"].(object)
	content, _ := d.resolve(responses["200"])["content"].(object)
	return slices.Sorted(maps.Keys(content))
}

func (m *team) sweepProgram(t *testing.T, login string, got sweep) {
	t.Helper()
	d, program := documentOf(t, m.Academy), m.Program(t, login)
	known := m.knownIDs(t)
	for _, o := range d.operations() {
		if o.method != http.MethodGet || slices.Contains(unswept, o.path) ||
			slices.Contains(unswept, strings.TrimSuffix(o.path, "/{id}")) {
			continue
		}
		for _, path := range known.fill(o.path) {
			if d.parameters(o, "query")["limit"] != nil {
				path += "?limit=500"
			}
			for _, form := range forms(d, o) {
				answer := program.Get(path, "Accept", form)
				if answer.Status == http.StatusTooManyRequests || answer.Status >= 500 {
					t.Fatalf("%s: %d %s", path, answer.Status, answer.Body)
				}
				got[form+" "+path] = fmt.Sprintf("%d %s", answer.Status, answer.Body)
			}
		}
	}
}

var links = regexp.MustCompile(`(?:href|src)="(/[^"#]*)`)

func (m *team) sweepPages(t *testing.T, login string, got sweep) {
	t.Helper()
	person := m.SignIn(t, login)
	todo := []string{"/"}
	for _, p := range m.players(t) {
		todo = append(todo, fmt.Sprintf("/players/%d", p), fmt.Sprintf("/players/%d/seasons/%d", p, m.Season.ID))
	}
	for len(todo) > 0 {
		path := strings.ReplaceAll(todo[0], "&amp;", "&")
		todo = todo[1:]
		apart := slices.ContainsFunc([]string{"/api/", "/static/", "/docs", "/problems", "/openapi", "/sign-", "/account"},
			func(p string) bool {
				return strings.HasPrefix(path, p)
			})
		if _, asked := got["page "+path]; asked || apart {
			continue
		}
		answer := person.Get(path)
		got["page "+path] = fmt.Sprintf("%d %s", answer.Status, answer.Body)
		if to := answer.Header.Get("Location"); to != "" {
			todo = append(todo, to)
		}
		for _, link := range links.FindAllStringSubmatch(answer.Body, -1) {
			todo = append(todo, link[1])
		}
	}
}

// players are all of the academy.
func (m *team) players(t *testing.T) (ids []int64) {
	t.Helper()
	for _, p := range m.list(t, "/api/v1/players") {
		ids = append(ids, int64(p["id"].(float64)))
	}
	return ids
}

// list is what the manager reads in a list.
func (m *team) list(t *testing.T, path string) []object {
	t.Helper()
	answer := m.Program(t, "mabyn").Get(path + "?limit=500")
	if answer.Status != http.StatusOK {
		t.Fatalf("%s: %d %s", path, answer.Status, answer.Body)
	}
	return items(answer.Body)
}

// ids are those of records, by the path of their list.
type ids map[string][]string

// knownIDs are the ids of every record of the academy, as the manager knows them.
func (m *team) knownIDs(t *testing.T) ids {
	t.Helper()
	all := ids{}
	d := documentOf(t, m.Academy)
	for _, o := range d.operations() {
		if _, single := d.operation(http.MethodGet, o.path+"/{id}"); o.method != http.MethodGet || !single ||
			slices.Contains(unswept, o.path) {
			continue
		}
		for _, r := range m.list(t, o.path) {
			if id, is := r["id"].(float64); is {
				all[o.path] = append(all[o.path], fmt.Sprint(int64(id)))
			}
		}
	}
	return all
}

// fill returns the addresses that a path with names in braces may stand for.
func (known ids) fill(path string) []string {
	at := strings.Index(path, "{")
	if at < 0 {
		return []string{path}
	}
	before := path[:at]
	name, after, _ := strings.Cut(path[at+1:], "}")
	var values []string
	switch name {
	case "id", "other":
		first, _, _ := strings.Cut(strings.TrimPrefix(path, "/api/v1/"), "/")
		values = known["/api/v1/"+first]
		if name == "other" {
			values = values[:min(2, len(values))]
		}
	case "season":
		values = known["/api/v1/seasons"]
	case "indicator":
		values = []string{"carries", models.MetresOverExpected}
	}
	var all []string
	for _, v := range values {
		all = append(all, known.fill(before+v+after)...)
	}
	return all
}

// differs names the answers that changed, apart from stamps that say when and from what revision they were made.
func (s sweep) differs(t *testing.T, now sweep, stamps *regexp.Regexp) {
	t.Helper()
	for _, what := range slices.Sorted(maps.Keys(s)) {
		was, is := s[what], now[what]
		if stamps != nil {
			was, is = stamps.ReplaceAllString(was, ""), stamps.ReplaceAllString(is, "")
		}
		if was != is {
			t.Errorf("%s tells another thing:\n%s", what, difference(was, is))
		}
	}
	for _, what := range slices.Sorted(maps.Keys(now)) {
		if _, asked := s[what]; !asked && !strings.HasPrefix(now[what], "404 ") {
			t.Errorf("%s was not there before: %.200s", what, now[what])
		}
	}
}

// holds returns what has any of the texts in it.
func (s sweep) holds(texts ...string) (where []string) {
	for _, what := range slices.Sorted(maps.Keys(s)) {
		for _, text := range texts {
			if strings.Contains(s[what], text) {
				where = append(where, what+": "+text)
			}
		}
	}
	return where
}

// filters asks for every list by every filter. Narrowed by a player whom the caller must not hear of it is as narrowed
// by a player who does not exist, and narrowed by anything else it has nothing that the whole list has not.
func (m *team) filters(t *testing.T, login string, hidden ...models.Player) {
	t.Helper()
	d, program := documentOf(t, m.Academy), m.Program(t, login)
	read := func(path, by, value string) apitest.Answer {
		return program.Get(path + "?limit=500&" + by + "=" + url.QueryEscape(value))
	}
	tried := 0
	for _, o := range d.operations() {
		params := d.parameters(o, "query")
		if o.method != http.MethodGet || params["limit"] == nil || strings.Contains(o.path, "{") {
			continue
		}
		whole := program.Get(o.path + "?limit=500")
		if whole.Status != http.StatusOK {
			continue
		}
		there := map[string]bool{}
		for _, item := range items(whole.Body) {
			there[text(item)] = true
		}
		for by := range params {
			values := map[string][]string{
				"player": {"999999"}, "season": {fmt.Sprint(m.Season.ID)}, "squad": {fmt.Sprint(m.Under18.ID)},
				"match": {fmt.Sprint(m.matches[0].ID)}, "from": {"2025-09-20"}, "to": {"2025-10-04"},
				"indicator": {"carries", "tackles"}, "skill": {"tackle"}, "kind": {"carry"}, "role": {"player"},
			}[by]
			for _, value := range values {
				tried++
				narrowed := read(o.path, by, value)
				for _, item := range items(narrowed.Body) {
					if !there[text(item)] {
						t.Errorf("%s?%s=%s has what the whole list has not: %s", o.path, by, value, text(item))
					}
				}
				if by != "player" {
					continue
				}
				for _, p := range hidden {
					if got := read(o.path, by, fmt.Sprint(p.ID)); got.Body != narrowed.Body || got.Status != narrowed.Status {
						t.Errorf("%s by a player who is hidden from %s: %d %.300s", o.path, login, got.Status, got.Body)
					}
				}
			}
		}
	}
	if tried < 40 {
		t.Errorf("%d filters were tried; want those of every list", tried)
	}
}

// memberWith finds a JSON member that names a player by an id.
func memberWith(id int64) *regexp.Regexp {
	return regexp.MustCompile(fmt.Sprintf(`"(player_id|off_id|subject_id)":%d\b`, id))
}

// decoded returns the items of the JSON members with a name, anywhere in an answer.
func decoded(t *testing.T, answer, name string) (found []any) {
	t.Helper()
	_, body, _ := strings.Cut(answer, " ")
	var v any
	if err := json.Unmarshal([]byte(body), &v); err != nil {
		t.Fatalf("%v: %.200s", err, answer)
	}
	var look func(v any)
	look = func(v any) {
		switch v := v.(type) {
		case object:
			for key, member := range v {
				if key == name {
					found = append(found, member)
				}
				look(member)
			}
		case []any:
			for _, member := range v {
				look(member)
			}
		}
	}
	look(v)
	return found
}
