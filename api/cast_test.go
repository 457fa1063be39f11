package api_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
)

// kindOf is a kind of record that programs make and read: one line here is all that a new one needs to be in the
// access matrix, with its five operations. It stands after those that its examples refer to.
type kindOf struct {
	path string      // of all of its records, below /api/v1
	area models.Area // what the policy says about it
	mine bool        // below the whole academy only one's own: the policy's "coaches change only their own"
	post string      // where one is made, where that is not its path
	// the places with a record of their own; nil: all, and notes for the staff if it can be shared
	at []string
	// sees narrows what the reach allows to read, as the policy's "when" says. Nil: nothing more must hold.
	sees func(p person, made record) bool
	// plain is a text that stays as in the example: it is known to more people than the record is, as the names of the
	// staff are.
	plain string
	// with is another kind whose records this one lists too.
	with string
	// beside says that a list has more of the academy's records than the cast made.
	beside bool
	// deletes says who may delete among those who may change. Nil: no one.
	deletes func(p person) bool
	// makes is what a person is answered who makes one, where that does not follow from the policy; 0: it does. It may be
	// nil.
	makes func(p person) int
	// adapt changes the example before anything else is done with it, where it cannot be sent as it is. It may be nil.
	adapt func(body object, written string)
	// renew changes a body into one that may exist beside the first. Nil: a second one may be a 409.
	renew func(body object)
	// other changes an example so that texts are allowed in it which the example has no place for. Nil: there are none.
	other func(body object, written string)
	// ends changes a record that was made from the example so that texts are allowed in it which a new one has no place
	// for. Nil: there are none.
	ends func(body object, written string)
	// noText says that there is no text in it that a person writes.
	noText bool
}

// kinds are all of them.
var kinds = []kindOf{
	{path: "seasons", area: models.AreaSetup, at: []string{"ours", "theirs"}},
	{path: "squads", area: models.AreaSetup, at: []string{"own", "far", "theirs"}},
	{path: "skills", area: models.AreaSetup, at: []string{"ours", "theirs"}},
	{path: "indicators", area: models.AreaSetup, at: []string{"ours", "theirs"}},
	{path: "players", area: models.AreaPlayers, at: []string{"own", "mates", "far", "theirs"}},
	{path: "memberships", area: models.AreaPlayers, at: []string{"own", "mates", "far", "theirs"}, noText: true},
	{path: "availability", area: models.AreaPlayers, noText: true, renew: func(body object) {
		body["from"], body["until"] = "2026-01-12", "2026-01-26"
	}},
	{path: "consents", area: models.AreaConsents},
	{path: "guardians", area: models.AreaConsents},
	{path: "minutes-limits", area: models.AreaSetup, at: []string{"own", "far", "theirs"}},
	{path: "users", area: models.AreaUsers, at: []string{"ours", "theirs"}, beside: true, plain: "name",
		makes: func(p person) int {
			if p.who.Role == models.RoleOperator {
				return http.StatusUnprocessableEntity // the example is a coach, and a deployment has operators alone
			}
			return 0
		}},
	{path: "matches", area: models.AreaMatches, other: func(body object, written string) {
		delete(body, "squad_id")
		body["other_team"] = written
	}},
	{path: "match-events", area: models.AreaMatches, noText: true},
	{path: "team-totals", area: models.AreaMatches, noText: true},
	{path: "appearances", area: models.AreaMatches, noText: true},
	{path: "logs", area: models.AreaPerformance, mine: true},
	{path: "involvements", area: models.AreaPerformance, mine: true, post: "logs/{id}/involvements"},
	{path: "match-totals", area: models.AreaPerformance},
	{path: "goals", area: models.AreaGoals, ends: func(body object, written string) {
		body["closed_on"], body["result"], body["outcome"] = "2025-11-29", "dropped", written
	}},
	{path: "check-ins", area: models.AreaCheckIns, mine: true},
	{path: "review-notes", area: models.AreaNotes, mine: true},
	{path: "note-answers", area: models.AreaAnswers, post: "review-notes/{id}/answers"},
	{path: "reviews", area: models.AreaReviews, mine: true},
	{path: "review-answers", area: models.AreaAnswers, post: "reviews/{id}/answers"},
	{path: "head-contacts", area: models.AreaSafety, noText: true, deletes: managersAlone},
	{path: "stand-downs", area: models.AreaSafety, noText: true},
	// or it is closed, and the manager's
	{path: "rating-rounds", area: models.AreaRounds, adapt: func(body object, _ string) {
		body["closes"] = "2026-06-30"
	}},
	{path: "meetings", area: models.AreaMeetings, adapt: func(body object, written string) {
		body["present"] = []any{object{"name": written}}
		body["purpose"] = written
	}},
	{path: "recommendations", area: models.AreaRecommendations, mine: true},
	{path: "training-sessions", area: models.AreaTraining},
	{path: "attendances", area: models.AreaTraining, noText: true},
	{path: "training-observations", area: models.AreaRemarks, mine: true},
	{path: "ratings", area: models.AreaRatings, mine: true, other: func(body object, written string) {
		delete(body, "match_id")
		body["block"] = written
	}, sees: func(p person, made record) bool {
		// they are old enough for all staff, and a player reads no coach's grade
		return p.who.Role != models.RolePlayer || made.kind.path == "self-ratings"
	}, with: "self-ratings"},
	{path: "self-ratings", area: models.AreaSelfRatings, at: []string{"own"}},
}

// managersAlone is who deletes what is there for a person's safety.
func managersAlone(p person) bool { return p.who.Role == models.RoleManager }

// everybodys are the places where there is one of each kind.
var everybodys = []string{"own", "far", "theirs"}

// place is where a record belongs: the academy, squad and player that decide who reaches it.
type place struct {
	name    string
	about   string // as a person reads it
	academy int64
	ids     map[string]int64 // of what a record here refers to, by the member that names it
	shared  bool             // where a record can be for the staff only: it is not
}

// person is a person who asks.
type person struct {
	title string // as a person reads it
	login string // "" for no one
	who   models.Who
}

// record is one that the cast made.
type record struct {
	kind  *kindOf
	place *place
	id    int64
	by    string // the title of who made it
	body  object // as it was sent
}

// at is the record's address.
func (r record) at() string { return fmt.Sprintf("/api/v1/%s/%d", r.kind.path, r.id) }

// cast are two academies with a record of every kind in every place that matters to a person, each with a marker in
// every text; and a person of every kind to ask for them.
type cast struct {
	t       testing.TB
	a       *apitest.Academy
	spec    document
	places  map[string]*place
	people  []person
	records []record
	slugs   map[string]*kindOf
}

// marker is a text that stands in the records of a kind at a place, and nowhere else.
func marker(slug, place string) string { return "zq_" + slug + "_" + place + "_qz" }

// markers finds what may be a marker; see cast.standing.
var markers = regexp.MustCompile(`zq_([a-z_]+)_([a-z]+)_qz`)

// standing returns the markers of records in a text, each with its kind and place. Markers that a made-up request has
// changed by a letter are left out: only the record that the request wrote has them.
func (c *cast) standing(text string) (all [][]string) {
	for _, m := range markers.FindAllStringSubmatch(text, -1) {
		if c.places[m[2]] != nil && (c.slugs[m[1]] != nil || m[1] == "names" || m[1] == "academy") {
			all = append(all, m)
		}
	}
	return all
}

func slug(path string) string { return strings.ReplaceAll(path, "-", "_") }

// newCast founds academies beside those that are served already. No one of the cast may ever see those.
func newCast(t testing.TB, a *apitest.Academy) *cast {
	t.Helper()
	c := &cast{t: t, a: a, spec: documentOf(t, a), places: map[string]*place{}, slugs: map[string]*kindOf{}}
	ours, theirs := a.Found(t, marker("academy", "ours")), a.Found(t, marker("academy", "theirs"))
	under := func(name, about string, above *place, academy int64) *place {
		p := &place{name: name, about: about, academy: academy, ids: map[string]int64{"academy_id": academy}, shared: true}
		if above != nil {
			for member, id := range above.ids {
				p.ids[member] = id
			}
		}
		c.places[name] = p
		return p
	}
	all := under("ours", "of the academy", nil, ours.ID)
	under("theirs", "of another academy", nil, theirs.ID)

	c.join("manager", ours.ID, models.User{Login: "x.manager", Name: marker("names", "ours"), Role: models.RoleManager})
	c.join("another academy's manager", theirs.ID, models.User{Login: "x.theirs", Name: marker("names", "theirs"),
		Role: models.RoleManager})
	made := func(path, at string) { c.make(c.kind(path), c.places[at]) }
	made("seasons", "ours")
	made("seasons", "theirs")
	own := under("own", "of the player", all, ours.ID)
	far := under("far", "of another squad's player", all, ours.ID)
	for _, at := range []string{"own", "far", "theirs"} {
		made("squads", at)
	}
	mates := under("mates", "of another player of the squad", own, ours.ID)
	for _, at := range []string{"own", "mates", "far", "theirs"} {
		made("players", at)
		made("memberships", at)
	}
	self, mate := own.ids["player_id"], mates.ids["player_id"]
	c.join("coach", ours.ID, models.User{Login: "x.coach", Name: marker("names", "ours"), Role: models.RoleCoach},
		own.ids["squad_id"])
	c.join("selector", ours.ID, models.User{Login: "x.selector", Name: marker("names", "ours"),
		Role: models.RoleSelector}, own.ids["squad_id"])
	c.join("the player", ours.ID, models.User{Login: "x.himself", Name: "Himself", Role: models.RolePlayer,
		PlayerID: &self})
	if _, err := a.Join(t, theirs.ID, models.User{Login: "x.theirs.coach", Name: marker("names", "theirs"),
		Role: models.RoleCoach}, c.places["theirs"].ids["squad_id"]); err != nil {
		t.Fatal(err) // a second one of the staff, without whom no one answers to a note about a minor
	}
	c.join("another squad's coach", ours.ID, models.User{Login: "x.far", Name: marker("names", "ours"),
		Role: models.RoleCoach}, far.ids["squad_id"])
	c.join("another player", ours.ID, models.User{Login: "x.mate", Name: "Mate", Role: models.RolePlayer,
		PlayerID: &mate})
	c.join("operator", models.Deployment, models.User{Login: "x.operator", Name: "Operator", Role: models.RoleOperator})
	c.people = append([]person{{title: "nobody"}}, c.people...)

	done := map[string]bool{"seasons": true, "squads": true, "players": true, "memberships": true}
	for i := range kinds {
		k := &kinds[i]
		c.slugs[slug(k.path)] = k
		if done[k.path] {
			continue
		}
		at := k.at
		if at == nil {
			at = everybodys
		}
		for _, name := range at {
			c.make(k, c.places[name])
		}
	}
	kept := under("kept", "of the player, for the staff only", own, ours.ID)
	kept.shared = false
	for i := range kinds {
		k := &kinds[i]
		schema, _ := c.spec.takes(c.creating(k))
		if c.spec.properties(schema)["shared"] != nil {
			c.make(k, kept)
		}
	}
	for at, holder := range map[string]string{"own": "the player", "theirs": "another academy's manager"} {
		got := c.ask(c.person(holder), http.MethodGet, fmt.Sprintf("/api/v1/access-tokens?user=%d",
			c.person(holder).who.UserID), nil)
		held := items(got.Body)
		if len(held) != 1 {
			t.Fatalf("the tokens of the %s: %d %s", holder, got.Status, got.Body)
		}
		c.places[at].ids["access_token_id"] = int64(held[0]["id"].(float64))
	}
	for _, pl := range c.places {
		for member, id := range all.ids { // the academy's records are open to all of its people
			if _, own := pl.ids[member]; !own && pl.academy == ours.ID {
				pl.ids[member] = id
			}
		}
	}
	return c
}

// join adds a person who asks.
func (c *cast) join(title string, academy int64, u models.User, squads ...int64) {
	c.t.Helper()
	made, err := c.a.Join(c.t, academy, u, squads...)
	if err != nil {
		c.t.Fatalf("%s: %v", title, err)
	}
	who, err := c.a.Store.WhoByID(c.t.Context(), academy, made.ID)
	if err != nil {
		c.t.Fatal(err)
	}
	c.people = append(c.people, person{title, u.Login, who})
}

func (c *cast) kind(path string) *kindOf {
	i := slices.IndexFunc(kinds, func(k kindOf) bool { return k.path == path })
	if i < 0 {
		c.t.Fatalf("there is no kind %s", path)
	}
	return &kinds[i]
}

// person returns who has a title.
func (c *cast) person(title string) person {
	i := slices.IndexFunc(c.people, func(p person) bool { return p.title == title })
	if i < 0 {
		c.t.Fatalf("nobody is %s", title)
	}
	return c.people[i]
}

// creating is the operation that makes a record of a kind.
func (c *cast) creating(k *kindOf) operation {
	path := k.post
	if path == "" {
		path = k.path
	}
	o, ok := c.spec.operation(http.MethodPost, "/api/v1/"+path)
	if !ok {
		c.t.Fatalf("%s: there is no operation that makes one", k.path)
	}
	return o
}

// address fills the ids of a place into a path with names in braces. What {id} is, the name before it says.
func (pl *place) address(path string) string {
	parts := strings.Split(path, "/")
	was := slices.Clone(parts)
	for i, part := range parts {
		name, is := strings.CutPrefix(part, "{")
		if !is {
			continue
		}
		switch name = strings.TrimSuffix(name, "}"); name {
		case "id", "other":
			if was[1] == "api" {
				name = singular(was[3])
			} else {
				name = "user" // of the page of people
			}
		case "indicator":
			parts[i] = "carries" // by its code, not by an id
			continue
		}
		id, made := pl.ids[name+"_id"]
		if !made {
			id = 987654321 // of no record
		}
		parts[i] = fmt.Sprint(id)
	}
	return strings.Join(parts, "/")
}

func singular(many string) string {
	switch many {
	case "matches":
		return "match"
	case "academies":
		return "academy"
	case "retention": // of a player
		return "player"
	}
	return strings.ReplaceAll(strings.TrimSuffix(many, "s"), "-", "_")
}

// authors are the members that say who made a record: left out it is the caller.
var authors = []string{"logger_id", "rater_id", "owner_id", "author_id", "coach_id"}

// fill puts the ids of a place into an example.
func (pl *place) fill(v any) any {
	switch v := v.(type) {
	case object:
		filled := object{}
		for name, member := range v {
			switch id, ok := pl.ids[name]; {
			case slices.Contains(authors, name):
			case ok:
				filled[name] = id
			default:
				filled[name] = pl.fill(member)
			}
		}
		if _, ok := v["shared"]; ok {
			filled["shared"] = pl.shared
		}
		return filled
	case []any:
		filled := make([]any, len(v))
		for i, item := range v {
			filled[i] = pl.fill(item)
		}
		return filled
	}
	return v
}

// refers says whether a value names a record of a place.
func (pl *place) refers(v any) bool {
	o, _ := v.(object)
	for name := range o {
		if pl.ids[name] != 0 {
			return true
		}
	}
	return false
}

// texts returns the members of a schema in which a person may write at least n characters.
func (d document) texts(schema object, n int) []string {
	var all []string
	for name, p := range d.properties(schema) {
		p := p.(object)
		if p["type"] == "array" {
			p = d.resolve(p["items"])
			if p["enum"] == nil && p["type"] == "string" {
				all = append(all, name)
			}
			continue
		}
		most, bounded := p["maxLength"].(float64)
		pattern, _ := p["pattern"].(string)
		free := regexp.MustCompile(pattern).MatchString("zq.qz") // and not the code of something else
		if p["type"] == "string" && p["enum"] == nil && p["format"] == nil && (name == "code" || bounded && int(most) >= n &&
			free) {
			all = append(all, name)
		}
	}
	slices.Sort(all)
	return all
}

// make makes a record of a kind at a place, with a marker in every text that takes one.
func (c *cast) make(k *kindOf, pl *place) {
	c.t.Helper()
	by := c.maker(k, pl)
	r := c.send(by, k, pl, marker(slug(k.path), pl.name))
	r.by = by.title
	c.records = append(c.records, r)
	pl.ids[singular(k.path)+"_id"] = r.id
	if !k.noText && len(markers.FindAllString(text(r.body), -1)) == 0 {
		c.t.Errorf("no text of %s takes a marker: say noText where nobody writes any", k.path)
	}
}

// maker is who makes the records of a place: the player's are their coach's where a coach writes them, all others the
// manager's.
func (c *cast) maker(k *kindOf, pl *place) person {
	switch {
	case pl.academy == c.places["theirs"].academy:
		return c.person("another academy's manager")
	case pl.name == "own" && slices.ContainsFunc(c.people, func(p person) bool { return p.title == "coach" }):
		if coach := c.person("coach"); coach.who.Reach(models.Write, k.area) != models.ReachNone {
			return coach
		}
	}
	if c.person("manager").who.Reach(models.Write, k.area) == models.ReachNone { // what the player alone writes
		return c.person("the player")
	}
	return c.person("manager")
}

// body is the example of a kind for a place, with a text in every member that is a text, and which members those are.
func (c *cast) body(k *kindOf, pl *place, written string) (body object, put []string) {
	schema, example := c.spec.takes(c.creating(k))
	body = pl.fill(example).(object)
	if k.adapt != nil {
		k.adapt(body, written)
	}
	properties := c.spec.properties(schema)
	put = slices.DeleteFunc(c.spec.texts(schema, len(written)), func(name string) bool { return name == k.plain })
	for _, name := range put {
		body[name] = written
		if properties[name].(object)["type"] == "array" {
			items, _ := body[name].([]any)
			all := make([]any, len(items))
			for i := range all {
				all[i] = written
			}
			body[name] = all
		}
	}
	return body, put
}

// send makes a record, with a text in every member that takes it: where one is refused there, the example's is sent.
func (c *cast) send(by person, k *kindOf, pl *place, written string) record {
	c.t.Helper()
	o := c.creating(k)
	_, example := c.spec.takes(o)
	body, put := c.body(k, pl, written)
	for {
		got := c.ask(by, http.MethodPost, pl.address(o.path), strings.NewReader(text(body)), "Content-Type",
			"application/json")
		if got.Status == http.StatusCreated {
			var made struct{ ID int64 }
			if err := json.Unmarshal([]byte(got.Body), &made); err != nil || made.ID == 0 {
				c.t.Fatalf("%v: %s", o, got.Body)
			}
			return record{kind: k, place: pl, id: made.ID, body: body}
		}
		if got.Status != http.StatusUnprocessableEntity || !c.retreat(got, body, example, &put) {
			c.t.Fatalf("%v by the %s for %s: %d %s of %s", o, by.title, pl.name, got.Status, got.Body, text(body))
		}
	}
}

// retreat takes texts back that were refused, and says whether there were any.
func (c *cast) retreat(got apitest.Answer, body, example object, put *[]string) bool {
	var p struct{ Errors []struct{ Location string } }
	if err := json.Unmarshal([]byte(got.Body), &p); err != nil {
		return false
	}
	before := len(*put)
	back := func(name string) {
		if was, ok := example[name]; ok {
			body[name] = was
		} else {
			delete(body, name)
		}
		*put = slices.DeleteFunc(*put, func(n string) bool { return n == name })
	}
	for _, e := range p.Errors {
		name, _, _ := strings.Cut(strings.TrimPrefix(e.Location, "body."), ".")
		name, _, _ = strings.Cut(name, "[")
		if slices.Contains(*put, name) {
			back(name)
		}
	}
	if len(*put) == before { // what is wrong lies between two members: the ones that the example does without go first
		for _, name := range slices.Clone(*put) {
			if _, ok := example[name]; !ok {
				back(name)
			}
		}
	}
	return len(*put) < before
}

// ask sends a person's request to the server, past the network. Of an archive that is answered the body is all that
// its files hold.
func (c *cast) ask(p person, method, path string, body io.Reader, headers ...string) apitest.Answer {
	c.t.Helper()
	r, err := http.NewRequestWithContext(c.t.Context(), method, c.a.URL+path, body)
	if err != nil {
		c.t.Fatal(err)
	}
	r.RemoteAddr = "127.0.0.1:4711"
	if p.login != "" {
		r.Header.Set("Authorization", "Bearer "+c.a.Token(p.login))
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	c.a.Server.Handler().ServeHTTP(w, r)
	got := apitest.Answer{Status: w.Code, Header: w.Header(), Body: w.Body.String()}
	if got.Header.Get("Content-Type") == "application/zip" {
		got.Body = ""
		archive, err := zip.NewReader(bytes.NewReader(w.Body.Bytes()), int64(w.Body.Len()))
		if err != nil {
			c.t.Fatalf("%s %s: %v", method, path, err)
		}
		for _, file := range archive.File {
			opened, err := file.Open()
			if err != nil {
				c.t.Fatal(err)
			}
			content, err := io.ReadAll(opened)
			if err != nil {
				c.t.Fatalf("%s in %s: %v", file.Name, path, err)
			}
			got.Body += string(content) + "\n"
		}
	}
	return got
}

// may says whether the policy lets a person take an action on the records of an area at a place: whether their reach
// covers it.
func may(p person, action models.Action, area models.Area, pl *place) bool {
	who := p.who
	if p.login == "" {
		return false
	}
	ours := who.AcademyID == pl.academy
	own := ours && who.PlayerID != 0 && who.PlayerID == pl.ids["player_id"]
	squads := ours && slices.Contains(who.SquadIDs, pl.ids["squad_id"])
	switch who.Reach(action, area) {
	case models.ReachAcademy:
		return ours
	case models.ReachSquads:
		return squads
	case models.ReachSquadsShared:
		return squads && pl.shared
	case models.ReachOwn:
		return own
	case models.ReachOwnShared:
		return own && pl.shared
	}
	return false
}

// reads says whether a person may read a record.
func (p person) reads(r record) bool {
	return may(p, models.Read, r.kind.area, r.place) && (r.kind.sees == nil || r.kind.sees(p, r))
}

// changes says whether a person may change a record, by the policy: their reach covers it, and it is their own where
// that must be.
func (p person) changes(r record) bool {
	if !may(p, models.Write, r.kind.area, r.place) {
		return false
	}
	return !r.kind.mine || r.by == p.title || p.who.Reach(models.Write, r.kind.area) == models.ReachAcademy
}

// leaks lists the markers in an answer that stand in records which a person may not read.
func (c *cast) leaks(p person, body string) []string {
	var all []string
	for _, m := range c.standing(body) {
		pl := c.places[m[2]]
		k := c.slugs[m[1]]
		switch {
		case m[1] == "names" || m[1] == "academy": // of the staff, whom everybody of the academy may know
			if p.login == "" || p.who.AcademyID != pl.academy && p.who.Role != models.RoleOperator {
				all = append(all, m[0])
			}
		default:
			i := slices.IndexFunc(c.records, func(r record) bool { return r.kind == k && r.place == pl })
			if i < 0 || !p.reads(c.records[i]) {
				all = append(all, m[0])
			}
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}
