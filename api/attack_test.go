package api_test

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"html"
	"maps"
	"net"
	"net/http"
	"net/url"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/pquerna/otp/hotp"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// cookieOf is the session's cookie that an answer sets, as a browser sends it back; "" for none.
func cookieOf(got apitest.Answer) string {
	for _, set := range got.Header.Values("Set-Cookie") {
		if pair, _, _ := strings.Cut(set, ";"); strings.HasPrefix(pair, "__Host-throughline=") {
			return pair
		}
	}
	return ""
}

func signInForm(login string) string {
	return url.Values{"user": {login}, "password": {apitest.Password}}.Encode()
}

const formType = "application/x-www-form-urlencoded"

// A person plants the cookie of a session that they know in another's browser, and waits for the other to sign in.
func TestASessionPlantedBeforeSigningInIsWorthNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := &cast{t: t, a: a}
		nobody := person{title: "nobody"}
		attacker := cookieOf(c.ask(nobody, http.MethodPost, "/sign-in", strings.NewReader(signInForm("owen")),
			"Content-Type", formType))
		name, _, _ := strings.Cut(attacker, "=")
		if got := c.ask(nobody, http.MethodGet, "/api/v1/players", nil, "Cookie", attacker); got.Status != http.StatusOK {
			t.Fatalf("the session that is to be planted: %d; want one that is good", got.Status)
		}
		for what, planted := range map[string]string{"a session of the attacker's": attacker,
			"a token that he made up": name + "=" + strings.Repeat("A", 43)} {
			signed := c.ask(nobody, http.MethodPost, "/sign-in", strings.NewReader(signInForm("mabyn")), "Content-Type",
				formType, "Cookie", planted)
			if got := cookieOf(signed); signed.Status != http.StatusSeeOther || got == "" || got == planted {
				t.Errorf("%s: signing in over it answers %d and sets %q; want a cookie of its own", what, signed.Status, got)
			}
			if got := c.ask(nobody, http.MethodGet, "/api/v1/players", nil, "Cookie",
				planted); got.Status != http.StatusUnauthorized {
				t.Errorf("%s: opens %d after somebody else has signed in over it; want 401", what, got.Status)
			}
		}
	})
}

// An address is kept in logs and histories and is forwarded; a token in it would be known to others.
func TestATokenInAnAddressOrAFormIsNeitherTakenNorLogged(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := &cast{t: t, a: a}
	nobody := person{title: "nobody"}
	token := a.Token("mabyn")
	session := cookieOf(c.ask(nobody, http.MethodPost, "/sign-in", strings.NewReader(signInForm("mabyn")), "Content-Type",
		formType))
	_, secret, _ := strings.Cut(session, "=")
	for _, held := range []string{token, secret} {
		for _, name := range []string{"access_token", "token", "api_key", "key", "authorization", "Authorization", "bearer",
			"session", "throughline"} {
			for _, value := range []string{held, "Bearer " + held} {
				query := url.Values{name: {value}}.Encode()
				if got := c.ask(nobody, http.MethodGet, "/api/v1/players?"+query, nil); got.Status != http.StatusUnauthorized {
					t.Errorf("?%s=…: %d; want 401", name, got.Status)
				}
				if got := c.ask(nobody, http.MethodGet, "/?"+query, nil); got.Status != http.StatusSeeOther {
					t.Errorf("a page with ?%s=…: %d; want to be sent to sign in", name, got.Status)
				}
				if got := c.ask(nobody, http.MethodPost, "/api/v1/players", strings.NewReader(query), "Content-Type",
					formType); got.Status != http.StatusUnauthorized {
					t.Errorf("a form with %s=…: %d; want 401", name, got.Status)
				}
			}
			if got := c.ask(nobody, http.MethodGet, "/api/v1/players", nil, "X-"+name,
				held); got.Status != http.StatusUnauthorized {
				t.Errorf("the header X-%s: %d; want 401", name, got.Status)
			}
		}
		for _, path := range []string{"/" + held, "/api/v1/" + held + "/players", "/api/v1/players;token=" + held, "/" +
			held + "@/api/v1/players"} {
			if got := c.ask(nobody, http.MethodGet, path, nil); got.Status < 300 {
				t.Errorf("a path with it: %d; want it refused", got.Status)
			}
		}
		r, _ := http.NewRequest(http.MethodGet, "/", nil)
		r.SetBasicAuth("mabyn", held)
		if got := c.ask(nobody, http.MethodGet, "/api/v1/players", nil, "Authorization",
			r.Header.Get("Authorization")); got.Status != http.StatusUnauthorized {
			t.Errorf("as a password of the Basic scheme: %d; want 401", got.Status)
		}
	}
	if got := c.ask(nobody, http.MethodGet, "/api/v1/players", nil, "Cookie", "throughline="+
		token); got.Status != http.StatusUnauthorized {
		t.Errorf("a token as a session's cookie: %d; want 401", got.Status)
	}
	if got := c.ask(nobody, http.MethodGet, "/api/v1/players", nil, "Authorization", "Bearer "+
		secret); got.Status != http.StatusUnauthorized {
		t.Errorf("a session as a token: %d; want 401", got.Status)
	}
	a.Stop()
	for _, held := range []string{token, secret} {
		if log := a.Log.String(); strings.Contains(log, held) || !strings.Contains(log, "msg=request") {
			t.Error("the log has a token in it, or nothing at all")
		}
	}
}

// unsafe are the routes that change something.
func unsafe(a *apitest.Academy) []string {
	return slices.DeleteFunc(a.Server.Routes(), func(route string) bool { return strings.HasPrefix(route, "GET ") })
}

// A page of another site sends what its visitor may send, with their cookie (Fetch Metadata Request Headers, W3C; RFC
// 6454 for Origin).
func TestAnotherSiteChangesNothingInAVisitorsName(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := newCast(t, a)
	nobody, manager := c.person("nobody"), c.person("manager")
	session := cookieOf(c.ask(nobody, http.MethodPost, "/sign-in", strings.NewReader(signInForm(manager.login)),
		"Content-Type", formType))
	before := c.everything()
	routes := unsafe(a)
	if len(routes) < 20 {
		t.Fatalf("only %d routes change something", len(routes))
	}
	for _, route := range routes {
		method, path, _ := strings.Cut(route, " ")
		path = c.places["own"].address(bracePath(path))
		for name, from := range map[string][]string{
			"another site":   {"Sec-Fetch-Site", "cross-site", "Origin", "https://elsewhere.example"},
			"a sibling":      {"Sec-Fetch-Site", "same-site"},
			"an old browser": {"Origin", "https://elsewhere.example"}, "a frame without an origin": {"Origin", "null"},
			"the same host without HTTPS": {"Origin", "http://127.0.0.1:1"},
			"a longer name":               {"Origin", a.URL + ".elsewhere.example"},
		} {
			for _, media := range []string{formType, "text/plain", "application/json", "multipart/form-data; boundary=x"} {
				got := c.ask(nobody, method, path, strings.NewReader(`{"name":"x"}`),
					append(from, "Cookie", session, "Content-Type", media, "If-Match", "*")...)
				if got.Status != http.StatusForbidden {
					t.Errorf("%s from %s as %s: %d; want 403", route, name, media, got.Status)
				}
			}
		}
		preflight := c.ask(nobody, http.MethodOptions, path, nil, "Origin", "https://elsewhere.example",
			"Access-Control-Request-Method", method)
		for header := range preflight.Header {
			if strings.HasPrefix(header, "Access-Control-") {
				t.Errorf("%s: another site is answered %s: %s", route, header, preflight.Header.Get(header))
			}
		}
	}
	if after := c.everything(); after != before {
		t.Error("something was changed")
	}
}

// everything is all that both managers read.
func (c *cast) everything() string {
	c.t.Helper()
	var b strings.Builder
	for _, title := range []string{"manager", "another academy's manager"} {
		for i := range kinds {
			if _, listed := c.spec.operation(http.MethodGet, "/api/v1/"+kinds[i].path); !listed {
				continue
			}
			got := c.ask(c.person(title), http.MethodGet, "/api/v1/"+kinds[i].path+"?limit=500", nil)
			if got.Status != http.StatusOK {
				c.t.Fatalf("%s: %d %s", kinds[i].path, got.Status, got.Body)
			}
			b.WriteString(got.Body)
		}
	}
	return b.String()
}

// A program sends members that are none of its business: an id, an academy, a role, another person's name under a
// note.
func TestNobodyAssignsWhatIsNotHisToSay(t *testing.T) {
	storetest.OneByOne(t)
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		coach, manager, other := c.person("coach"), c.person("manager"), c.person("another academy's manager")
		tried := 0
		for _, o := range c.spec.operations() {
			schema, example := c.spec.takes(o)
			if example == nil {
				continue
			}
			path := c.places["own"].address(o.path)
			body := func(more object) *strings.Reader {
				b := c.places["own"].fill(clone(example)).(object)
				maps.Copy(b, more)
				return strings.NewReader(text(b))
			}
			// What the schema does not have is refused by name.
			all, _ := schema["properties"].(object)
			for _, name := range []string{"academy_id", "AcademyID", "role", "deleted_at", "password_hash", "password",
				"user_id", "is_admin", "squad_ids", "ID", "Version"} {
				if all[name] != nil {
					continue
				}
				tried++
				got := c.ask(manager, o.method, path, body(object{name: c.places["theirs"].academy}), "Content-Type",
					"application/json", "If-Match", "*")
				if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, "body."+name) {
					t.Errorf("%v with %s: %d %s; want 422 at body.%s", o, name, got.Status, got.Body, name)
				}
			}
			// Another person as the author: a coach puts no words into another's mouth, and no one into a mouth of another
			// academy.
			for _, name := range authors {
				if all[name] == nil {
					continue
				}
				for _, as := range []struct{ by, whom person }{{coach, manager}, {coach, other}, {manager, other}} {
					tried++
					got := c.ask(as.by, o.method, path, body(object{name: as.whom.who.UserID}), "Content-Type", "application/json",
						"If-Match", "*")
					if got.Status < 300 && strings.Contains(got.Body, fmt.Sprintf(`"%s":%d`, name, as.whom.who.UserID)) &&
						!c.mayName(o, as.by, as.whom) {
						t.Errorf("%v by the %s in the name of the %s: %d %s; want it refused", o, as.by.title, as.whom.title, got.Status,
							got.Body)
					}
				}
			}
		}
		// Fields that only the service sets are ignored: an id names no other record, a version does not count.
		before := c.everything()
		for _, r := range c.records {
			if r.place.name != "own" || !manager.changes(r) || !c.answers(r.kind, http.MethodPut) {
				continue
			}
			theirs := c.recordOf(r.kind, "theirs")
			sent := clone(r.body).(object)
			var is object
			if err := json.Unmarshal([]byte(c.asItIs(&r)), &is); err != nil {
				t.Fatal(err)
			}
			maps.Copy(sent, is)
			sent["id"], sent["version"], sent["created_at"] = theirs.id, 99, "2001-01-01T00:00:00Z"
			got := c.ask(manager, http.MethodPut, r.at(), strings.NewReader(text(sent)), "Content-Type", "application/json",
				"If-Match", "*")
			var made struct {
				ID, Version int64
				Created_At  string
			}
			if err := json.Unmarshal([]byte(got.Body), &made); err != nil || got.Status != http.StatusOK || made.ID != r.id ||
				made.Version > 50 || made.Created_At == "2001-01-01T00:00:00Z" {
				t.Errorf("PUT %s with the id of another academy's: %d %s; want record %d changed, and nothing of what the "+
					"service sets", r.at(), got.Status, got.Body, r.id)
			}
			tried++
		}
		strip := regexp.MustCompile(`"(version|changed_at)":("[^"]*"|\d+)`)
		if after := c.everything(); strip.ReplaceAllString(after, "") != strip.ReplaceAllString(before, "") {
			t.Error("a member that only the service sets has changed something")
		}
		if tried < 300 {
			t.Errorf("only %d were tried", tried)
		}
	})
}

// mayName says whether the policy lets a person write a record in another's name. A manager may, in the name of their
// own staff. A coach may for records that are not tied to their author, such as the coach of a goal.
func (c *cast) mayName(o operation, by, whom person) bool {
	if by.who.AcademyID != whom.who.AcademyID {
		return false
	}
	i := slices.IndexFunc(kinds, func(k kindOf) bool { return strings.HasPrefix(o.path+"/", "/api/v1/"+k.path+"/") })
	return by.who.Role == models.RoleManager || i >= 0 && !kinds[i].mine
}

func (c *cast) recordOf(k *kindOf, at string) record {
	c.t.Helper()
	i := slices.IndexFunc(c.records, func(r record) bool { return r.kind == k && r.place.name == at })
	if i < 0 {
		c.t.Fatalf("the cast made none of the %s %s", k.path, at)
	}
	return c.records[i]
}

var digits = regexp.MustCompile(`\d+`)

// alike is an answer without what differs between two requests for the same: the numbers, which who asked gave
// themselves.
func alike(got apitest.Answer) string {
	h := got.Header.Clone()
	h.Del("X-Request-Id")
	h.Del("Date")
	h.Del("Content-Length")
	return fmt.Sprint(got.Status, " ", h, " ", digits.ReplaceAllString(got.Body, "0"))
}

// neverThere is an id that no record has had.
const neverThere = "987654321"

// Ids count up: anyone can guess the ids of records hidden from them.
func TestAGuessedIDLooksLikeOneThatWasNeverThere(t *testing.T) {
	storetest.OneByOne(t)
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		guessed := 0
		for _, r := range c.records {
			for _, p := range c.people {
				if p.login == "" || p.reads(r) {
					continue
				}
				for _, method := range []string{http.MethodGet, http.MethodPut, http.MethodDelete} {
					if !c.answers(r.kind, method) {
						continue
					}
					body := ""
					if method == http.MethodPut {
						body = c.asItIs(&r)
					}
					ask := func(path string) string {
						return alike(c.ask(p, method, path, strings.NewReader(body), "Content-Type", "application/json", "If-Match",
							"*"))
					}
					guessed++
					none := "/api/v1/" + r.kind.path + "/" + neverThere
					if hidden, none := ask(r.at()), ask(none); hidden != none || !strings.HasPrefix(hidden, "404 ") {
						t.Errorf("%s %s by %s:\n%s\nand of one that never was:\n%s", method, r.at(), p.title, hidden, none)
					}
				}
			}
		}
		// As part of something else: what refers to a hidden record is told the same as what refers to none.
		for i := range kinds {
			k := &kinds[i]
			for _, p := range c.people {
				if p.login == "" || p.who.Reach(models.Write, k.area) == models.ReachNone {
					continue
				}
				for _, member := range slices.Sorted(maps.Keys(c.places["theirs"].ids)) {
					own := "own"
					if p.who.AcademyID == c.places["theirs"].academy {
						own = "theirs"
					} else if p.title == "another squad's coach" {
						own = "far"
					}
					body := clone(c.recordOf(k, atOf(k, own)).body).(object)
					if body[member] == nil {
						continue
					}
					for _, at := range []string{"own", "far", "theirs"} {
						if at == own || seesAll(p, c.places[at], object{member: 1}) {
							continue
						}
						send := func(id any) string {
							body[member] = id
							return alike(c.ask(p, http.MethodPost, c.places[own].address(c.creating(k).path), strings.NewReader(text(body)),
								"Content-Type", "application/json"))
						}
						guessed++
						never, _ := strconv.ParseInt(neverThere, 10, 64)
						if hidden, none := send(c.places[at].ids[member]), send(never); hidden != none {
							t.Errorf("POST %s by %s, %s %s:\n%s\nand one that never was:\n%s", k.path, p.title, member, c.places[at].about,
								hidden, none)
						}
					}
				}
			}
		}
		// In a filter: nothing is there, hidden or not.
		for _, o := range c.spec.operations() {
			if o.method != http.MethodGet || strings.Contains(o.path, "{") {
				continue
			}
			for _, name := range slices.Sorted(maps.Keys(c.spec.parameters(o, "query"))) {
				id := c.places["theirs"].ids[name+"_id"]
				if id == 0 {
					continue
				}
				for _, title := range []string{"manager", "coach", "the player"} {
					p := c.person(title)
					guessed++
					hidden := alike(c.ask(p, o.method, fmt.Sprintf("%s?%s=%d", o.path, name, id), nil))
					if none := alike(c.ask(p, o.method, o.path+"?"+name+"="+neverThere, nil)); hidden != none {
						t.Errorf("%v?%s= of another academy by %s:\n%s\nand one that never was:\n%s", o, name, title, hidden, none)
					}
				}
			}
		}
		if guessed < 500 {
			t.Errorf("only %d were guessed", guessed)
		}
	})
}

// atOf is a place that has a record of a kind, as near as possible to one.
func atOf(k *kindOf, name string) string {
	if k.at == nil || slices.Contains(k.at, name) {
		return name
	}
	if name == "theirs" {
		return name
	}
	return k.at[0]
}

// A path with two ids in it: the first is one's own, so that a check of it alone would let the second through, and the
// other way round.
func TestAnothersIDInOnesOwnPathOpensNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		tried := 0
		for _, route := range c.a.Server.Routes() {
			method, path, _ := strings.Cut(route, " ")
			path = bracePath(path)
			if strings.Count(path, "{") < 2 {
				continue
			}
			for _, title := range []string{"manager", "coach", "selector", "the player"} {
				p := c.person(title)
				for _, mix := range [][2]string{{"own", "theirs"}, {"theirs", "own"}, {"own", "far"}, {"far", "own"}} {
					if title == "manager" && slices.Contains(mix[:], "far") { // whose academy both are
						continue
					}
					mixed := c.mixed(path, mix[0], mix[1])
					// the second is no id, or everybody's
					if mixed == c.places[mix[0]].address(path) || mixed == c.places[mix[1]].address(path) {
						continue
					}
					tried++
					got := c.ask(p, method, mixed, strings.NewReader("{}"), "Content-Type", "application/json")
					ownPath := c.places["own"].address(path)
					if got.Status == http.StatusForbidden && c.ask(p, method, ownPath, nil).Status == http.StatusForbidden {
						continue // and neither may they read their own
					}
					if got.Status != http.StatusNotFound {
						t.Errorf("%s %s (%s, then %s) by %s: %d; want 404", method, mixed, mix[0], mix[1], title, got.Status)
					}
					if leaks := c.leaks(p, got.Body); len(leaks) > 0 {
						t.Errorf("%s %s by %s shows %v", method, mixed, title, leaks)
					}
				}
			}
		}
		if tried < 20 {
			t.Errorf("only %d were tried", tried)
		}
	})
}

// mixed fills the first id of a path from one place and all others from another.
func (c *cast) mixed(path, first, others string) string {
	was := strings.Split(path, "/")
	a, b := strings.Split(c.places[first].address(path), "/"), strings.Split(c.places[others].address(path), "/")
	filled := false
	for i := range was {
		if strings.HasPrefix(was[i], "{") {
			if !filled {
				b[i], filled = a[i], true
			}
		}
	}
	return strings.Join(b, "/")
}

// payloads are texts that would do something where they are not taken for text. A page on which one ran would have the
// variable owned.
var payloads = []string{
	`<script>owned=1</script>`, `"><img src=x onerror=owned=1>`, `javascript:owned=1`, `'onfocus='owned=1'`,
	`</title><svg onload=owned=1>`, `{{.}}${owned=1}`,
	"=1+cmd|' /C calc'!A0", "+1+1", "-1+1", "@SUM(1)", "\uff1d1+1", "\t=1+1",
}

var (
	tags   = regexp.MustCompile(`<[A-Za-z!/](?:[^<>"']|"[^"]*"|'[^']*')*>`)
	quoted = regexp.MustCompile(`"[^"]*"|'[^']*'`)
	acts   = regexp.MustCompile(`(?i)^<(script|iframe|object|embed|base|link[^>]*http)|[\s/]on[a-z]+\s*=`)
	leads  = regexp.MustCompile(`(?i)(href|src|action|data|formaction)\s*=\s*["']?\s*(javascript|data|vbscript):`)
)

// ours are the scripts of pages, from files under the pages' own address.
var ours = regexp.MustCompile(`^<script type="module" src="/static/[0-9a-f]{12}/[a-z]+\.js">$`)

// active returns the tags of a page that would do something: a script not of ours, a handler, an address that runs.
func active(page string) []string {
	var all []string
	for _, tag := range tags.FindAllString(page, -1) {
		if ours.MatchString(tag) {
			continue
		}
		if acts.MatchString(quoted.ReplaceAllString(tag, " ")) || leads.MatchString(tag) {
			all = append(all, tag)
		}
	}
	return all
}

// TestAStoredScriptStaysText puts what would run into every text of every kind of record, and reads it back in every
// form.
func TestAStoredScriptStaysText(t *testing.T) {
	storetest.OneByOne(t)
	for page, payload := range map[string]string{ // the search finds what is there
		"<p>%s</p>": payloads[0], `<p title="%s">`: payloads[1], `<a href="%s">`: payloads[2], "<p title='%s>": payloads[3],
		"<title>%s</title>": payloads[4],
	} {
		if page := fmt.Sprintf(page, payload); len(active(page)) == 0 || len(active(html.EscapeString(page))) > 0 {
			t.Fatalf("%s goes unnoticed, or as text does not", page)
		}
	}
	a := apitest.OnSQLite(t)
	c := newCast(t, a)
	taken := map[string]map[string]bool{}
	shown := map[string]bool{}
	his := c.places["own"]
	for _, payload := range payloads {
		for i := range kinds {
			k := &kinds[i]
			at := atOf(k, "own")
			if taken[k.path] == nil {
				taken[k.path] = map[string]bool{}
			}
			for _, name := range c.rewrite(c.recordOf(k, at), payload) {
				taken[k.path][name] = true
			}
			if k.other == nil && k.ends == nil {
				continue
			}
			_, example := c.spec.takes(c.creating(k))
			body := c.places[at].fill(clone(example)).(object)
			if k.other != nil {
				k.other(body, payload)
			}
			got := c.ask(c.person("manager"), http.MethodPost, c.places[at].address(c.creating(k).path),
				strings.NewReader(text(body)), "Content-Type", "application/json")
			if k.ends != nil {
				got = c.ended(k, got, body, payload)
			}
			for name, member := range body {
				if (got.Status == http.StatusCreated || got.Status == http.StatusOK) && member == payload {
					taken[k.path][name] = true
				}
			}
		}
		for _, p := range []person{c.person("manager"), c.person("the player")} {
			for _, path := range []string{"/", his.address("/players/{player}/seasons/{season}"),
				his.address("/players/{player}/seasons/{season}") + "/report.html"} {
				got := c.ask(p, http.MethodGet, path, nil)
				if got.Status == http.StatusSeeOther {
					continue
				}
				strictly(t, path, got.Header)
				if got.Status != http.StatusOK || got.Header.Get("Content-Type") != "text/html; charset=utf-8" {
					t.Errorf("%s with %q: %d %s; want a page", path, payload, got.Status, got.Header.Get("Content-Type"))
				}
				if found := active(got.Body); len(found) > 0 {
					t.Errorf("%s with %q by %s: has %.300q", path, payload, p.title, found)
				}
				if strings.Contains(got.Body, html.EscapeString(payload)) {
					shown[payload] = true
				}
			}
			for _, o := range c.spec.operations() {
				if o.method != http.MethodGet {
					continue
				}
				path := his.address(o.path)
				got := c.ask(p, http.MethodGet, path, nil)
				strictly(t, path, got.Header)
				if found := active(got.Body); got.Header.Get("Content-Type") == "application/zip" {
					if len(found) > 0 {
						t.Errorf("the archive at %s with %q: has %.300q", path, payload, found)
					}
					continue
				}
				if media := got.Header.Get("Content-Type"); media != "application/json" && media != "application/problem+json" {
					t.Errorf("%s: is answered as %s", path, media)
				}
				if !json.Valid([]byte(got.Body)) {
					t.Errorf("%s with %q is no JSON: %.300s", path, payload, got.Body)
				}
				c.table(p, o, path, payload)
			}
		}
	}
	for i := range kinds {
		k := &kinds[i]
		schema, _ := c.spec.takes(c.creating(k))
		for _, name := range c.spec.texts(schema, len(payloads[0])) {
			isCode := slices.Contains([]string{"code", "login", "indicator", "skill"}, name)
			if !taken[k.path][name] && !isCode && !k.noText {
				t.Errorf("%s.%s took none of the texts: say in kinds, by other, how one is written that has it", k.path, name)
			}
		}
	}
	if len(shown) < 5 {
		t.Errorf("pages showed only %q: what they do not show is not tried", slices.Sorted(maps.Keys(shown)))
	}
}

// answers says whether one record of a kind answers to a method.
func (c *cast) answers(k *kindOf, method string) bool {
	_, ok := c.spec.operation(method, "/api/v1/"+k.path+"/{id}")
	return ok
}

// rewrite puts a text into every member of a record that takes it, or makes another one where it is never changed, and
// returns which those were.
func (c *cast) rewrite(r record, written string) []string {
	c.t.Helper()
	if !c.answers(r.kind, http.MethodPut) {
		var put []string
		for name, member := range c.send(c.person(r.by), r.kind, r.place, written).body {
			if member == written {
				put = append(put, name)
			}
		}
		return put
	}
	schema, _ := c.spec.takes(c.creating(r.kind))
	var was object
	if err := json.Unmarshal([]byte(c.asItIs(&r)), &was); err != nil {
		c.t.Fatal(err)
	}
	body := clone(was).(object)
	put := c.spec.texts(schema, len(written))
	properties := c.spec.properties(schema)
	for _, name := range put {
		body[name] = written
		if properties[name].(object)["type"] == "array" {
			items, _ := was[name].([]any)
			all := make([]any, len(items))
			for i := range all {
				all[i] = written
			}
			body[name] = all
		}
	}
	for {
		got := c.ask(c.person(r.by), http.MethodPut, r.at(), strings.NewReader(text(body)), "Content-Type",
			"application/json", "If-Match", "*")
		if got.Status == http.StatusOK {
			return put
		}
		if got.Status != http.StatusUnprocessableEntity && got.Status != http.StatusConflict ||
			!c.retreat(got, body, was, &put) {
			c.t.Fatalf("PUT %s: %d %s of %s", r.at(), got.Status, got.Body, text(body))
		}
	}
}

// table reads a list as CSV: a spreadsheet would run a cell that begins so (OWASP, CSV Injection), unless it is a
// number.
func (c *cast) table(p person, o operation, path, payload string) {
	c.t.Helper()
	got := c.ask(p, http.MethodGet, path, nil, "Accept", "text/csv")
	media := got.Header.Get("Content-Type")
	if got.Status != http.StatusOK || !strings.HasPrefix(media, "text/csv") {
		return
	}
	strictly(c.t, path, got.Header)
	rows, err := csv.NewReader(strings.NewReader(got.Body)).ReadAll()
	if err != nil {
		c.t.Errorf("%s with %q: %v", path, payload, err)
		return
	}
	for _, row := range rows {
		for _, cell := range row {
			first := []rune(cell + " ")[0]
			if _, err := strconv.ParseFloat(cell, 64); err != nil && strings.ContainsRune("=+-@\t\r\n＝＋－＠", first) {
				c.t.Errorf("%v as CSV has the cell %q, which a spreadsheet runs", o, cell)
			}
		}
	}
}

func TestAStoredScriptDoesNotRunInABrowser(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := newCast(t, a)
	b := browsertest.Open(t, a.URL)
	for i := range kinds {
		k := &kinds[i]
		c.rewrite(c.recordOf(k, atOf(k, "own")), payloads[i%3])
		if k.path == "players" || k.path == "squads" || k.path == "goals" {
			c.rewrite(c.recordOf(k, "own"), payloads[1])
		}
	}
	b.Open(a.URL + "/sign-in")
	browsertest.Eval[string](b, `document.querySelector("[name=user]").value = "x.manager"`)
	browsertest.Eval[string](b, `document.querySelector("[name=password]").value = "`+apitest.Password+`"`)
	browsertest.Eval[string](b, `document.querySelector("[name=password]").focus() ?? ""`)
	b.Leave("\r")
	for _, path := range []string{"/", c.places["own"].address("/players/{player}/seasons/{season}")} {
		b.Open(a.URL + path)
		if text := browsertest.Eval[string](b, `document.body.innerText`); !strings.Contains(text, payloads[1]) {
			t.Errorf("%s does not show %s as text: %.500s", path, payloads[1], text)
		}
		if ran := browsertest.Eval[bool](b, `typeof owned !== "undefined"`); ran {
			t.Errorf("a script ran on %s", path)
		}
		if n := browsertest.Eval[int](b,
			`document.querySelectorAll("script:not([src^='/static/']), img[onerror], svg[onload], [onfocus]").length`,
		); n != 0 {
			t.Errorf("%s has %d elements that were texts", path, n)
		}
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

// Paths written in other ways have led past guards that compare them as text.
func TestAPathWrittenOtherwiseOpensNothingMore(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := newCast(t, a)
	nobody, mate := c.person("nobody"), c.person("another player")
	var paths []string
	for _, r := range c.records {
		if r.place.name == "own" || r.place.name == "theirs" {
			paths = append(paths, r.at(), "/api/v1/"+r.kind.path)
		}
	}
	paths = append(paths, c.places["own"].address("/players/{player}/seasons/{season}"), "/")
	slices.Sort(paths)
	tried := 0
	for _, path := range slices.Compact(paths) {
		rest := strings.TrimPrefix(path, "/")
		for _, other := range []string{
			"//" + rest, "/./" + rest, "/x/../" + rest, "/x/..;/" + rest, "/x/%2e%2e/" + rest, "/x/..%2f" + rest, "/%2e/" +
				rest, "/static/../" + rest, "/static/%2e%2e/" + rest,
			"/static/..%2f" + rest, "/static//" + rest, "/docs/../" + rest, "/openapi.json/../" + rest, "/sign-in/../" + rest,
			"/cautions;/../" + rest, "/static/" + rest,
			path + "/", path + "//", path + "/.", path + "/%2e", path + ";x", path + "%2f", path + "%20", path + ".json", path +
				"%3f", path + "/..;/", strings.ToUpper(path), path + "#",
			strings.Replace(path, "/api/v1/", "/api%2fv1/", 1), strings.Replace(path, "/api/v1/", "/api/V1/", 1),
			strings.Replace(path, "/api/", "/api//", 1), "/\\" + rest, "/" + strings.ReplaceAll(rest, "/", "\\"),
		} {
			if _, err := url.ParseRequestURI(other); err != nil {
				continue
			}
			for _, p := range []person{nobody, mate} {
				tried++
				got := c.ask(p, http.MethodGet, other, nil)
				if leaks := c.leaks(p, got.Body); len(leaks) > 0 {
					t.Errorf("%s by %s: %d shows %v", other, p.title, got.Status, leaks)
				}
				if p.login == "" && got.Status < 300 || got.Status >= 500 {
					t.Errorf("%s by %s: %d", other, p.title, got.Status)
				}
				if to := got.Header.Get("Location"); to != "" && (!strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") ||
					strings.HasPrefix(to, "/\\")) {
					t.Errorf("%s by %s: is sent to %q, which may be another host", other, p.title, to)
				}
			}
		}
	}
	if tried < 1000 {
		t.Errorf("only %d were tried", tried)
	}
}

// Requests that are too large in any way are refused, and cost little. Tested elsewhere: bodies of every kind and
// heads in limit_test.go, members that are too long in api/rest.
func TestWhatIsTooLargeIsRefused(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := newCast(t, a)
	manager := c.person("manager")
	var many []string
	for n := range 20_000 {
		many = append(many, fmt.Sprintf("p%d=%d", n, n))
	}
	var zipped bytes.Buffer
	z := gzip.NewWriter(&zipped)
	_, _ = z.Write(bytes.Repeat([]byte(" "), 64<<20)) // to memory
	_ = z.Close()
	for name, try := range map[string]struct {
		path, body string
		headers    []string
		want       []int
	}{
		"many parameters":      {"/api/v1/players?" + strings.Join(many, "&"), "", nil, []int{400, 422}},
		"a long parameter":     {"/api/v1/players?name=" + strings.Repeat("a", 60_000), "", nil, []int{422}},
		"a long path":          {"/api/v1/players/" + strings.Repeat("1", 60_000), "", nil, []int{422}},
		"many parts of a path": {strings.Repeat("/a", 30_000), "", nil, []int{404}},
		"deep JSON":            {"/api/v1/players", strings.Repeat("[", 500_000), nil, []int{400}},
		"deep objects":         {"/api/v1/players", strings.Repeat(`{"a":`, 100_000), nil, []int{400}},
		"many members":         {"/api/v1/players", manyMembers(50_000), nil, []int{422}},
		"a list without an end": {"/api/v1/players", `{"name":"x","positions":[` +
			strings.Repeat(`"prop",`, 100_000) + `"prop"]}`, nil, []int{422}},
		"a number of many digits": {"/api/v1/squads", `{"name":"x","age_band":` + strings.Repeat("9", 500_000) +
			`}`, nil, []int{400, 422}},
		"more than is read": {"/api/v1/players", `{"name":"` + strings.Repeat("a", 2<<20) + `"}`, nil,
			[]int{413}},
		"64 MiB of blanks, compressed to few": {"/api/v1/players", zipped.String(), []string{"Content-Encoding", "gzip"},
			[]int{415}},
		"many entity tags": {c.recordOf(c.kind("players"), "own").at(), "",
			[]string{"If-None-Match", strings.Repeat(`"a", `, 10_000) + `"b"`}, []int{200}},
		"many media types": {"/api/v1/players", "", []string{"Accept", strings.Repeat("a/b;q=0.1, ", 5_000) + "text/csv"},
			[]int{200}},
	} {
		method, headers := http.MethodGet, try.headers
		if try.body != "" {
			method, headers = http.MethodPost, append([]string{"Content-Type", "application/json"}, headers...)
		}
		got := c.ask(manager, method, try.path, strings.NewReader(try.body), headers...)
		if !slices.Contains(try.want, got.Status) {
			t.Errorf("%s: %d %.300s; want %v", name, got.Status, got.Body, try.want)
		}
		if len(got.Body) > 200_000 {
			t.Errorf("%s: is answered with %d bytes", name, len(got.Body))
		}
	}
	// The first line of a request and its headers are read by the network's side of the server.
	for name, head := range map[string]string{
		"an address of 1 MiB":   "GET /" + strings.Repeat("a", 1<<20) + " HTTP/1.1\r\nHost: x\r\n\r\n",
		"100,000 short headers": "GET / HTTP/1.1\r\nHost: x\r\n" + strings.Repeat("X-A: b\r\n", 100_000) + "\r\n",
	} {
		conn, err := net.Dial("tcp", strings.TrimPrefix(a.URL, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		go func() { _, _ = conn.Write([]byte(head)) }() // it is not read to its end
		said := make([]byte, len("HTTP/1.1 431"))
		if _, err := conn.Read(said); err != nil || string(said) != "HTTP/1.1 431" {
			t.Errorf("%s: %q, %v; want 431", name, said, err)
		}
		conn.Close()
	}
}

func manyMembers(n int) string {
	var b strings.Builder
	b.WriteString(`{"name":"x"`)
	for i := range n {
		fmt.Fprintf(&b, `,"m%d":1`, i)
	}
	return b.String() + "}"
}

// The session between the password and the one-time code is worth nothing after the code, even to a caller who knows
// it. One that waits for one person's code lets no other person in.
func TestASessionThatWaitedForACodeIsWorthNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := &cast{t: t, a: a}
		nobody := person{title: "nobody"}
		const secret = "JBSWY3DPEHPK3PXP" // in base32
		step := apitest.Now.Unix() / 30
		who := func(login string) models.Who {
			_, who, err := s.UserByLogin(t.Context(), login)
			if err != nil {
				t.Fatal(err)
			}
			return who
		}
		for _, login := range []string{"mabyn", "ansel"} {
			err := s.Write(t.Context(), who(login), func(tx *store.Tx) error {
				if err := tx.OfferSecondFactor(secret); err != nil {
					return err
				}
				return tx.ConfirmSecondFactor(step - 1)
			})
			if err != nil {
				t.Fatal(err)
			}
		}
		opens := func(cookie string) int {
			return c.ask(nobody, http.MethodGet, "/api/v1/players", nil, "Cookie", cookie).Status
		}
		sends := func(path, form, cookie string) apitest.Answer {
			return c.ask(nobody, http.MethodPost, path, strings.NewReader(form), "Content-Type", formType, "Cookie", cookie)
		}
		planted := cookieOf(sends("/sign-in", signInForm("ansel"), ""))
		waits := cookieOf(sends("/sign-in", signInForm("mabyn"), planted))
		if waits == "" || waits == planted || opens(waits) != http.StatusUnauthorized ||
			opens(planted) != http.StatusUnauthorized {
			t.Fatalf("the password alone gives %q and opens %d; want a new cookie that opens nothing", waits, opens(waits))
		}
		code, err := hotp.GenerateCode(secret, uint64(step))
		if err != nil {
			t.Fatal(err)
		}
		if got := sends("/sign-in/code", url.Values{"code": {code}}.Encode(), planted); got.Header.Get("Location") == "/" ||
			opens(planted) != http.StatusUnauthorized {
			t.Errorf("the session planted before goes on to the code: %d to %q", got.Status, got.Header.Get("Location"))
		}
		in := sends("/sign-in/code", url.Values{"code": {code}}.Encode(), waits)
		if got := cookieOf(in); in.Status != http.StatusSeeOther || got == "" || got == waits ||
			opens(got) != http.StatusOK {
			t.Fatalf("with the code: %d, %q; want a new cookie that opens", in.Status, got)
		}
		if got := opens(waits); got != http.StatusUnauthorized {
			t.Errorf("the session that waited for the code opens %d; want 401", got)
		}
		if got := sends("/sign-in/code", url.Values{"code": {code}}.Encode(), waits); got.Header.Get("Location") == "/" {
			t.Error("the session that waited is let in a second time")
		}
	})
}

// Users are where it would be worth most: a role, an academy, another person's player, a password, a second factor.
func TestNobodyIsMadeMoreThanHisManagerMaySay(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		manager, theirs := c.person("manager"), c.places["theirs"]
		secrets := object{
			"academy_id": theirs.academy, "AcademyID": 0, "password_hash": "$argon2id$v=19$m=8,t=1,p=1$AAAA$AAAA",
			"PasswordHash": "x", "password": "a-heron-on-41-gates",
			"totp_secret": "JBSWY3DPEHPK3PXP", "TOTPSecret": "JBSWY3DPEHPK3PXP", "totp_step": 1, "deleted_at": nil,
			"squad_ids": []any{theirs.ids["squad_id"]},
		}
		ours := c.recordOf(c.kind("users"), "ours")
		is := func() models.User {
			u, _, err := s.User(t.Context(), manager.who.AcademyID, ours.id)
			if err != nil {
				t.Fatal(err)
			}
			return u
		}
		before := is()
		json := func(method, path string, body object) apitest.Answer {
			return c.ask(manager, method, path, strings.NewReader(text(body)), "Content-Type", "application/json", "If-Match",
				"*")
		}
		for name, value := range secrets {
			for _, method := range []string{http.MethodPost, http.MethodPut} {
				path, body := "/api/v1/users", object{"login": "new.one", "name": "New One", "role": "coach", name: value}
				if method == http.MethodPut {
					path = ours.at()
				}
				if got := json(method, path, body); got.Status != http.StatusUnprocessableEntity ||
					!strings.Contains(got.Body, "body."+name) {
					t.Errorf("%s a user with %s: %d %s; want 422 at body.%s", method, name, got.Status, got.Body, name)
				}
			}
		}
		for what, body := range map[string]object{
			"an operator": {"login": "new.one", "name": "New One", "role": "operator"},
			"the console": {"login": "new.one", "name": "New One", "role": "console"},
			"another academy's player": {"login": "new.one", "name": "New One", "role": "player",
				"player_id": theirs.ids["player_id"]},
			"a coach with a player": {"login": "new.one", "name": "New One", "role": "coach",
				"player_id": c.places["own"].ids["player_id"]},
		} {
			for method, path := range map[string]string{http.MethodPost: "/api/v1/users", http.MethodPut: ours.at()} {
				got := json(method, path, body)
				role := method == http.MethodPut && got.Status == http.StatusForbidden // a token changes no role at all
				if got.Status != http.StatusUnprocessableEntity && !role {
					t.Errorf("%s %s: %d %s; want 422", method, what, got.Status, got.Body)
				}
			}
		}
		if got := json(http.MethodPut, fmt.Sprintf("/api/v1/users/%d", manager.who.UserID),
			object{"login": manager.login, "name": "M", "role": "coach"}); got.Status != http.StatusForbidden {
			t.Errorf("his own role: %d; want 403", got.Status)
		}
		// Fields that only the service sets are ignored.
		made := json(http.MethodPost, "/api/v1/users", object{"login": "new.one", "name": "New One", "role": "coach",
			"id": 1, "version": 9, "second_factor_since": "2001-01-01T00:00:00Z"})
		if made.Status != http.StatusCreated || strings.Contains(made.Body, "second_factor_since") ||
			!strings.Contains(made.Body, `"version":1`) {
			t.Errorf("a user with what the service sets: %d %s", made.Status, made.Body)
		}
		if after := is(); !reflect.DeepEqual(after, before) {
			t.Errorf("the user was changed from %+v to %+v", before, after)
		}
		// The form on the page takes what it shows, and nothing else. It is for a person who has signed in.
		signedIn := c.a.SignIn(t, manager.login)
		form := url.Values{"login": {"form.one"}, "name": {"Form One"}, "role": {"coach"}, "id": {"1"}, "version": {"7"},
			"second_factor_since": {"2001-01-01"}}
		for name, value := range secrets {
			form.Set(name, fmt.Sprint(value))
		}
		if got := signedIn.Post("/people", form); got.Status != http.StatusOK {
			t.Fatalf("the form: %d", got.Status)
		}
		u, who, err := s.UserByLogin(t.Context(), "form.one")
		if err != nil || who.AcademyID != manager.who.AcademyID || who.Role != models.RoleCoach || len(who.SquadIDs) != 0 ||
			u.PasswordHash != "" || u.TOTPSecret != "" || u.SecondFactorSince != nil || u.Version != 1 {
			t.Errorf("the form made %+v, %+v, %v; want a coach of the academy without anything else", u, who, err)
		}
		form.Set("login", "form.two")
		for role, player := range map[string]string{"operator": "", "console": "",
			"player": fmt.Sprint(theirs.ids["player_id"])} {
			form.Set("role", role)
			form.Set("player_id", player)
			if got := signedIn.Post("/people", form); got.Status != http.StatusUnprocessableEntity {
				t.Errorf("the form with the role %s: %d; want 422", role, got.Status)
			}
		}
	})
}

// The secret of a one-time link stands in its address, because people follow it: it opens nothing else, is answered
// with nothing that hands it on, and is in no log.
func TestTheSecretOfALinkIsNeitherTakenElsewhereNorLogged(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := newCast(t, a)
	nobody := c.person("nobody")
	page := a.SignIn(t, "mabyn").Post("/people", url.Values{"login": {"wyn.tarrow"}, "name": {"Wyn Tarrow"},
		"role": {"coach"}})
	path := regexp.MustCompile(`/join/[A-Za-z0-9_-]{43}`).FindString(page.Body)
	if path == "" {
		t.Fatalf("no link is made: %d %s", page.Status, page.Body)
	}
	secret := strings.TrimPrefix(path, "/join/")
	for _, headers := range [][]string{{"Authorization", "Bearer " + secret}, {"Cookie", "throughline=" + secret},
		{"Cookie", "__Host-throughline=" + secret}} {
		if got := c.ask(nobody, http.MethodGet, "/api/v1/players", nil, headers...); got.Status != http.StatusUnauthorized {
			t.Errorf("as %s: %d; want 401", headers[0], got.Status)
		}
	}
	for _, other := range []string{"/join/?secret=" + secret, "/join?secret=" + secret, "/sign-in?secret=" + secret,
		"/api/v1/players?secret=" + secret} {
		if got := c.ask(nobody, http.MethodGet, other, nil); strings.Contains(got.Body, "Wyn Tarrow") ||
			strings.Contains(got.Body, secret) {
			t.Errorf("%s: %d shows whose link it is", other, got.Status)
		}
	}
	got := c.ask(nobody, http.MethodGet, path, nil)
	if got.Status != http.StatusOK || got.Header.Get("Referrer-Policy") != "no-referrer" ||
		got.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("the page of the link: %d %v; want one that tells nobody its address", got.Status, got.Header)
	}
	for _, form := range []string{"password=x", url.Values{"password": {"a-heron-on-41-gates"}}.Encode()} {
		c.ask(nobody, http.MethodPost, path, strings.NewReader(form), "Content-Type", formType)
	}
	if got := c.ask(nobody, http.MethodGet, path, nil); got.Status != http.StatusNotFound {
		t.Errorf("the link after it was used: %d; want 404", got.Status)
	}
	a.Stop()
	if log := a.Log.String(); strings.Contains(log, secret) || !strings.Contains(log, "/join/:secret") {
		t.Error("the log has the secret in it, or no request for the link")
	}
}

// GET wrote, took the academy's lock for half a second and could be asked for without end.
func TestAPersonalRecordIsMadeByPOSTAndAFewTimesADay(t *testing.T) {
	a := apitest.OnSQLite(t)
	page, rest := fmt.Sprintf("/players/%d/record.zip", a.Bryn.ID), fmt.Sprintf("/api/v1/players/%d/record", a.Bryn.ID)
	signed, program := a.SignIn(t, "bryn"), a.Program(t, "bryn")
	for path, got := range map[string]apitest.Answer{page: signed.Get(page), rest: program.Get(rest)} {
		if got.Status != http.StatusMethodNotAllowed || !strings.HasPrefix(got.Header.Get("Allow"), "POST") {
			t.Errorf("GET %s: %d, Allow %q; want 405 and POST", path, got.Status, got.Header.Get("Allow"))
		}
	}
	for n := range models.MostExports {
		ask := func() apitest.Answer { return signed.Post(page, nil) }
		if n == 0 {
			ask = func() apitest.Answer { return program.Do(http.MethodPost, rest, nil) }
		}
		got := ask()
		if got.Status != http.StatusOK || !strings.HasPrefix(got.Body, "PK") {
			t.Fatalf("export %d: %d %.200s; want the archive", n+1, got.Status, got.Body)
		}
	}
	for path, got := range map[string]apitest.Answer{page: signed.Post(page, nil), rest: program.Do(http.MethodPost,
		rest, nil)} {
		if got.Status != http.StatusTooManyRequests || got.Header.Get("Retry-After") != "86400" {
			t.Errorf("%s once more: %d, Retry-After %q; want 429 and a day", path, got.Status, got.Header.Get("Retry-After"))
		}
	}
}

// A stolen token of a manager must not make its thief a manager.
func TestATokenMakesNobodyAManager(t *testing.T) {
	a := apitest.OnSQLite(t)
	program := a.Program(t, "mabyn")
	var found []object
	for _, u := range items(program.Get("/api/v1/users?limit=500").Body) {
		if u["login"] == "ansel" {
			found = append(found, u)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d users are Ansel", len(found))
	}
	at := fmt.Sprintf("/api/v1/users/%v", found[0]["id"])
	found[0]["role"] = "manager"
	got := program.Do(http.MethodPut, at, strings.NewReader(text(found[0])), "Content-Type", "application/json",
		"If-Match", "*")
	if got.Status != http.StatusForbidden || !strings.Contains(got.Body, "an access token is not enough") {
		t.Errorf("another role by a token: %d %.300s; want 403", got.Status, got.Body)
	}
	found[0]["role"], found[0]["name"] = "coach", "Ansel B. Brock"
	got = program.Do(http.MethodPut, at, strings.NewReader(text(found[0])), "Content-Type", "application/json",
		"If-Match", "*")
	if got.Status != http.StatusOK {
		t.Errorf("another name by a token: %d %.300s; want 200", got.Status, got.Body)
	}
}

// ended changes a record that was just made so that it has texts which a new one has no place for.
func (c *cast) ended(k *kindOf, made apitest.Answer, body object, payload string) apitest.Answer {
	c.t.Helper()
	k.ends(body, payload)
	return c.ask(c.person("manager"), http.MethodPut, made.Header.Get("Location"), strings.NewReader(text(body)),
		"Content-Type", "application/json", "If-Match", "*")
}
