package rest_test

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

	"github.com/gin-gonic/gin"

	"throughline/api/apitest"
	"throughline/api/rest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
)

// walk is a program that knows nothing of the service but its description, and a person's token.
type walk struct {
	t      *testing.T
	a      *apitest.Academy
	spec   spec
	ids    map[string]int64 // of the records that examples refer to, by the member that names them
	served map[string]bool  // operations that did what they are for
}

// kept is a record that the walk has made.
type kept struct {
	resource string // the address of all of its kind
	path     string
	body     object // as it may be sent again
}

// maker is who makes records of a resource, by its address: the manager, but for what a player thinks of themselves.
func maker(resource string) string {
	if resource == rest.Path+"/self-ratings" {
		return "bryn"
	}
	return "mabyn"
}

// others are people who do not make records of a resource: the manager too where a player does.
func others(resource string, people ...string) []string {
	if by := maker(resource); by != "mabyn" {
		people = append(slices.DeleteFunc(people, func(login string) bool { return login == by }), "mabyn")
	}
	return people
}

// TestTheServiceIsWhatItsDescriptionSays makes, from the examples of the description, one record of each kind; sends
// to every operation what the description allows and what it forbids, as everybody; and deletes all of it again.
func TestTheServiceIsWhatItsDescriptionSays(t *testing.T) {
	storetest.OneByOne(t)
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		w := &walk{t: t, a: a, ids: map[string]int64{}, served: map[string]bool{}}
		w.spec = describedBy(t, a.Stranger(t))
		manager := a.Program(t, "mabyn")
		var made []kept
		// In an order in which each finds what it refers to.
		for _, name := range []string{
			"seasons", "squads", "players", "users", "consents", "memberships", "availability", "skills", "indicators",
			"matches", "match-events", "team-totals", "appearances",
			"logs", "logs/{id}/involvements", "match-totals", "goals", "check-ins", "review-notes", "reviews",
			"training-sessions", "attendances", "training-observations",
			"rating-rounds", "ratings", "self-ratings", "meetings", "recommendations", "guardians", "minutes-limits",
		} {
			made = append(made, w.create(a.Program(t, maker(rest.Path+"/"+name)), rest.Path+"/"+name))
		}
		for _, k := range made {
			c := a.Program(t, maker(k.resource))
			w.read(c, k)
			w.list(c, k.resource)
			w.replace(c, k)
			w.earlier(c, k)
			w.others(k)
		}
		w.rest(manager)
		for _, k := range slices.Backward(made) {
			w.remove(a.Program(t, maker(k.resource)), k)
		}
		for _, d := range w.spec.operations() {
			if !w.served[d.String()] {
				t.Errorf("%v: was never answered with what it is for; is its resource in the list above?", d)
			}
		}
	})
}

// do sends a request to an operation and checks that the answer is one that is described.
func (w *walk) do(c *apitest.Client, what, method, template, path, body string, headers ...string) apitest.Answer {
	w.t.Helper()
	d, ok := w.spec.operation(method, template)
	if !ok {
		w.t.Fatalf("%s %s is not described", method, template)
	}
	if body != "" && !slices.Contains(headers, "Content-Type") {
		headers = append([]string{"Content-Type", "application/json"}, headers...)
	}
	got := c.Do(method, path, strings.NewReader(body), headers...)
	w.spec.conforms(w.t, d, what, got)
	if got.Status < 300 {
		w.served[d.String()] = true
	}
	return got
}

// expect is do where the status is known.
func (w *walk) expect(c *apitest.Client, what string, status int, method, template, path, body string,
	headers ...string) apitest.Answer {
	w.t.Helper()
	got := w.do(c, what, method, template, path, body, headers...)
	if got.Status != status {
		w.t.Errorf("%s %s, %s: %d %s; want %d", method, path, what, got.Status, got.Body, status)
	}
	return got
}

// fill puts the ids of records that are there into an example, and takes out who did it, which is the caller.
func (w *walk) fill(example any) any {
	switch v := example.(type) {
	case object:
		filled := object{}
		for name, member := range v {
			if slices.Contains([]string{"logger_id", "rater_id", "owner_id", "author_id", "coach_id", "user_id"}, name) {
				continue
			}
			filled[name] = w.fill(member)
			if id, ok := w.ids[name]; ok {
				filled[name] = float64(id)
			}
		}
		return filled
	case []any:
		filled := []any{}
		for _, item := range v {
			filled = append(filled, w.fill(item))
		}
		return filled
	}
	return example
}

func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}

func (w *walk) create(c *apitest.Client, template string) kept {
	w.t.Helper()
	d, ok := w.spec.operation(http.MethodPost, template)
	if !ok {
		w.t.Fatalf("POST %s is not described: is its resource in the list in api/rest/rest.go?", template)
	}
	schema, example := w.spec.sent(d)
	body := w.fill(example).(object)
	for _, unique := range []string{"name", "code"} { // the academy of the test has some of these already
		if name, ok := body[unique].(string); ok {
			body[unique] = name + "_x"
		}
	}
	path := strings.ReplaceAll(template, "{id}", fmt.Sprint(w.ids["log_id"]))
	w.forbidden(c, d, path, schema, body)
	w.strangers(d, path)
	for _, login := range others(template, "sorrel", "bryn") {
		got := w.do(w.a.Program(w.t, login), login, http.MethodPost, template, path, text(body))
		if got.Status != http.StatusForbidden && got.Status != http.StatusNotFound {
			w.t.Errorf("POST %s by %s: %d %s; want that he may not", path, login, got.Status, got.Body)
		}
	}
	for name := range body {
		if !strings.HasSuffix(name, "_id") {
			continue
		}
		const nothing = 1 << 40
		got := w.do(c, "a "+name+" that there is not", http.MethodPost, template, path, text(merged(body, name, nothing)))
		if got.Status < 400 || got.Status >= 500 {
			w.t.Errorf("POST %s with the %s %d, which no record has: %d; look it up with known in the check of its kind "+
				"(models/store)", path, name, nothing, got.Status)
		}
	}
	key := []string{"Idempotency-Key", fmt.Sprintf("%q", path)}
	got := w.expect(c, "the example", http.StatusCreated, http.MethodPost, template, path, text(body), key...)
	if again := w.expect(c, "with its key", http.StatusCreated, http.MethodPost, template, path, text(body),
		key...); again.Body != got.Body {
		w.t.Errorf("POST %s, sent again with its key: %s; want %s", path, again.Body, got.Body)
	}
	var record struct{ ID, Version int64 }
	if err := json.Unmarshal([]byte(got.Body), &record); err != nil || record.ID == 0 || record.Version != 1 ||
		versionOf(got) != `"1"` {
		w.t.Fatalf("POST %s: %s, %v, ETag %s; want a record of version 1", path, got.Body, err, got.Header.Get("ETag"))
	}
	singular := map[string]string{"matches": "match_id", "logs": "log_id", "goals": "goal_id", "seasons": "season_id",
		"squads": "squad_id", "players": "player_id", "meetings": "meeting_id",
		"rating-rounds": "rating_round_id", "training-sessions": "training_session_id"}
	if member, ok := singular[strings.TrimPrefix(template, rest.Path+"/")]; ok {
		w.ids[member] = record.ID
	}
	k := kept{path: got.Header.Get("Location"), body: body}
	k.resource = k.path[:strings.LastIndex(k.path, "/")]
	if _, keyed := body["key"]; keyed {
		again := w.expect(c, "sent again", http.StatusCreated, http.MethodPost, template, path, text(body))
		if again.Body != got.Body {
			w.t.Errorf("POST %s, sent again: %s; want %s", path, again.Body, got.Body)
		}
	}
	return k
}

// strangers are told who they must be.
func (w *walk) strangers(d described, path string) {
	w.t.Helper()
	w.expect(w.a.Stranger(w.t), "a stranger", http.StatusUnauthorized, d.method, d.path, path, "")
}

// badBody is a body that the description forbids, and where it is wrong.
type badBody struct {
	what, body, place string
	status            int
}

// mutations are bodies that break the schema at one place each.
func (w *walk) mutations(schema any, v any, place string, around func(any) string) []badBody {
	o, _ := w.spec.resolve(schema).(object)
	var all []badBody
	add := func(what string, mutated any, at string) {
		all = append(all, badBody{what + " at " + at, around(mutated), at, http.StatusUnprocessableEntity})
	}
	if o["type"] != "string" {
		add("text", "x", place)
	} else {
		add("a number", 7, place)
	}
	add("null", nil, place)
	if o["enum"] != nil {
		add("a code that there is not", "nonsense", place)
	}
	if o["format"] == "date" {
		add("no day", "2025-02-30", place)
		add("a day as written elsewhere", "30/09/2025", place)
	}
	if o["type"] == "integer" {
		add("a fraction", 1.5, place)
	}
	if least, ok := o["minimum"].(float64); ok {
		add("too little", least-1, place)
	}
	if most, ok := o["maximum"].(float64); ok {
		add("too much", most+1, place)
	}
	if most, ok := o["maxLength"].(float64); ok {
		add("too long", strings.Repeat("a", int(most)+1), place)
	}
	if least, ok := o["minLength"].(float64); ok && least > 0 {
		add("nothing", "", place)
	}
	if o["pattern"] != nil {
		add("what does not match", " =Not this! ", place)
	}
	switch v := v.(type) {
	case object:
		with := func(name string) func(any) string {
			return func(member any) string {
				changed := maps.Clone(v)
				changed[name] = member
				return around(changed)
			}
		}
		properties, _ := o["properties"].(object)
		required, _ := o["required"].([]any)
		if properties != nil {
			add("a name that there is not", merged(v, "surprise", 1), place+".surprise")
		}
		for name, member := range v {
			p, known := properties[name]
			if !known {
				p = o["additionalProperties"]
			}
			all = append(all, w.mutations(p, member, place+"."+name, with(name))...)
			if !known {
				continue
			}
			changed := maps.Clone(v)
			delete(changed, name)
			if slices.Contains(required, any(name)) {
				add("without "+name, maps.Clone(changed), place+"."+name)
			}
			upper := strings.ToUpper(name[:1]) + name[1:]
			changed[upper] = member
			add(upper+" for "+name, changed, place)
		}
	case []any:
		if least, ok := o["minItems"].(float64); ok && least > 0 {
			add("no items", []any{}, place)
		}
		for i, item := range v {
			all = append(all, w.mutations(o["items"], item, fmt.Sprintf("%s[%d]", place, i), func(member any) string {
				changed := slices.Clone(v)
				changed[i] = member
				return around(changed)
			})...)
		}
	}
	return all
}

func merged(o object, name string, v any) object {
	changed := maps.Clone(o)
	changed[name] = v
	return changed
}

// library is how messages begin that are not ours.
var library = regexp.MustCompile(`^(expected|unexpected|required|invalid|validation|unable|unknown|json|parsing)\b`)

// forbidden sends what the description forbids.
func (w *walk) forbidden(c *apitest.Client, d described, path string, schema object, body object, headers ...string) {
	w.t.Helper()
	whole := text(body)
	all := w.mutations(schema, body, "body", text)
	first := slices.Min(slices.Collect(maps.Keys(body)))
	all = append(all,
		badBody{"a name twice", whole[:len(whole)-1] + `,"` + first + `":1}`, "body." + first, http.StatusBadRequest},
		badBody{"a name twice, with null", `{"zz":1,"zz":null}`, "body.zz", http.StatusBadRequest},
		badBody{"NUL", `{"` + first + `":"a\u0000b"}`, "body." + first, http.StatusBadRequest},
		badBody{"no UTF-8", "{\"" + first + "\":\"\xff\"}", "body", http.StatusBadRequest},
		badBody{"half of it", whole[:len(whole)/2], "body", http.StatusBadRequest},
		badBody{"more behind it", whole + "1", "body", http.StatusBadRequest},
		badBody{"no JSON", "<name/>", "body", http.StatusBadRequest},
		badBody{"white space", " ", "body", http.StatusBadRequest},
		badBody{"too much", `{"` + first + `":"` + strings.Repeat("a", 1<<20) + `"}`, "", http.StatusRequestEntityTooLarge},
	)
	for _, b := range all {
		got := w.expect(c, b.what, b.status, d.method, d.path, path, b.body, headers...)
		if b.place == "" {
			continue
		}
		p := decode[problem](w.t, got)
		for _, e := range p.Errors {
			if library.MatchString(fmt.Sprint(e["message"])) {
				w.t.Errorf("%v, %s: %v is the library's text; want words of ours", d, b.what, e)
			}
		}
		if !slices.ContainsFunc(p.Errors, func(e map[string]any) bool {
			return strings.HasPrefix(fmt.Sprint(e["location"]), b.place)
		}) {
			w.t.Errorf("%v, %s: %v; want it told at %s", d, b.what, p.Errors, b.place)
		}
	}
	for _, media := range []string{"text/plain", "application/x-www-form-urlencoded",
		"application/json; charset=iso-8859-1", "application/xml", "nonsense;;"} {
		w.expect(c, media, http.StatusUnsupportedMediaType, d.method, d.path, path, whole,
			append([]string{"Content-Type", media}, headers...)...)
	}
	w.expect(c, "compressed", http.StatusUnsupportedMediaType, d.method, d.path, path, whole,
		append([]string{"Content-Encoding", "gzip"}, headers...)...)
}

// read reads a record, with conditions and without.
func (w *walk) read(c *apitest.Client, k kept) {
	w.t.Helper()
	template := k.resource + "/{id}"
	got := w.expect(c, "as it is", http.StatusOK, http.MethodGet, template, k.path, "")
	tag := got.Header.Get("ETag")
	for _, cond := range []struct {
		header, value string
		status        int
	}{
		{"If-None-Match", tag, 304}, {"If-None-Match", "W/" + tag, 304}, {"If-None-Match", "*", 304},
		{"If-None-Match", `"x", ` + tag, 304},
		{"If-None-Match", `"x"`, 200}, {"If-None-Match", `"a,b"`, 200}, {"If-None-Match", "nonsense", 422},
		{"If-None-Match", `"open`, 422},
		{"If-Match", tag, 200}, {"If-Match", "W/" + tag, 412}, {"If-Match", `"x"`, 412},
	} {
		got := w.expect(c, cond.header+": "+cond.value, cond.status, http.MethodGet, template, k.path, "", cond.header,
			cond.value)
		if cond.status == 304 && (got.Body != "" || got.Header.Get("ETag") != tag) {
			w.t.Errorf("%s, %s: %s: %q, ETag %s; want no body, and %s", k.path, cond.header, cond.value, got.Body,
				got.Header.Get("ETag"), tag)
		}
	}
	head := c.Do(http.MethodHead, k.path, nil)
	if head.Status != 200 || head.Body != "" || head.Header.Get("ETag") != tag {
		w.t.Errorf("HEAD %s: %d, ETag %s; want 200 and %s", k.path, head.Status, head.Header.Get("ETag"), tag)
	}
	w.parameters(c, http.MethodGet, template, k.path)
	w.addresses(c, http.MethodGet, template, "")
}

// earlier reads the earlier versions of a record that was replaced, if its kind keeps them.
func (w *walk) earlier(c *apitest.Client, k kept) {
	w.t.Helper()
	template := k.resource + "/{id}/earlier"
	if _, keeps := w.spec.operation(http.MethodGet, template); !keeps {
		return
	}
	got := w.expect(c, "after a change", http.StatusOK, http.MethodGet, template, k.path+"/earlier", "")
	var list struct{ Items []struct{ Version int64 } }
	if err := json.Unmarshal([]byte(got.Body), &list); err != nil || len(list.Items) == 0 || list.Items[0].Version != 1 {
		w.t.Errorf("%s/earlier: %s, %v; want the first version", k.path, got.Body, err)
	}
	w.parameters(c, http.MethodGet, template, k.path+"/earlier")
	w.addresses(c, http.MethodGet, template, "")
}

// versionOf is the entity tag of an answer. Of a goal it is that of the version alone: the rest of its tag follows from
// the trends and the day.
func versionOf(got apitest.Answer) string {
	tag := got.Header.Get("ETag")
	if version, _, more := strings.Cut(tag, "-"); more && !strings.Contains(tag, "score") {
		return version + `"`
	}
	return tag
}

// addresses asks for records that there are not, and for what is no id.
func (w *walk) addresses(c *apitest.Client, method, template, body string) {
	w.t.Helper()
	for id, status := range map[string]int{"987654321": 404, "0": 422, "-1": 422, "x": 422, "99999999999999999999": 422,
		"1.5": 422} {
		got := w.expect(c, "id "+id, status, method, template, strings.Replace(template, "{id}", id, 1), body, "If-Match",
			"*")
		if p := decode[problem](w.t, got); status == 422 && (len(p.Errors) != 1 || p.Errors[0]["location"] != "path.id") {
			w.t.Errorf("%s %s, id %s: %v; want it told at path.id", method, template, id, p.Errors)
		}
	}
	isProblem(w.t, "another method", c.Do(http.MethodPatch, strings.Replace(template, "{id}", "1", 1), nil),
		http.StatusMethodNotAllowed)
	options := c.Do(http.MethodOptions, strings.Replace(template, "{id}", "1", 1), nil)
	if options.Status != http.StatusNoContent || !strings.Contains(options.Header.Get("Allow"), method) ||
		!strings.Contains(options.Header.Get("Allow"), "OPTIONS") {
		w.t.Errorf("OPTIONS %s: %d, Allow %q; want 204 and %s among them", template, options.Status,
			options.Header.Get("Allow"), method)
	}
}

// parameters sends query parameters that the description forbids.
func (w *walk) parameters(c *apitest.Client, method, template, path string) {
	w.t.Helper()
	d, _ := w.spec.operation(method, template)
	bad := map[string]string{"surprise=1": "query.surprise", "Limit=1": "query.Limit"}
	parameters, _ := d.op["parameters"].([]any)
	for _, p := range parameters {
		p := w.spec.resolve(p).(object)
		if p["in"] != "query" {
			continue
		}
		name, schema := p["name"].(string), p["schema"].(object)
		bad[name+"=1&"+name+"=1"], bad[name+"="] = "query."+name, "query."+name
		switch schema["type"] {
		case "integer":
			bad[name+"=x"], bad[name+"=0"], bad[name+"=-1"], bad[name+"=99999999999999999999"] = "query."+name, "query."+name,
				"query."+name, "query."+name
			if most, ok := schema["maximum"].(float64); ok {
				bad[fmt.Sprintf("%s=%v", name, most+1)] = "query." + name
			}
		case "boolean":
			bad[name+"=maybe"] = "query." + name
		case "string":
			if schema["format"] == "date" {
				bad[name+"=2025-02-30"] = "query." + name
				break
			}
			bad[name+"="+strings.Repeat("a", int(schema["maxLength"].(float64))+1)] = "query." + name
		}
		if name == "cursor" {
			bad["cursor=nonsense"], bad["cursor=WzFd"], bad["cursor=W10"] = "query.cursor", "query.cursor", "query.cursor"
		}
	}
	for query, place := range bad {
		got := w.expect(c, query, http.StatusUnprocessableEntity, method, template, path+"?"+query, "")
		if p := decode[problem](w.t, got); len(p.Errors) != 1 || p.Errors[0]["location"] != place {
			w.t.Errorf("%s?%s: %v; want it told at %s", path, query, p.Errors, place)
		}
	}
	for _, query := range []string{"%00=1", "limit=%ff", "limit=%zz"} {
		w.expect(c, query, http.StatusBadRequest, method, template, path+"?"+query, "")
	}
}

// list reads a list whole and by pages, as JSON and as CSV.
func (w *walk) list(c *apitest.Client, path string) { w.listAt(c, path, path) }

func (w *walk) listAt(c *apitest.Client, template, path string) {
	w.t.Helper()
	type page struct {
		Items []any
		Next  string
	}
	d, _ := w.spec.operation(http.MethodGet, template)
	w.strangers(d, path)
	w.parameters(c, http.MethodGet, template, path)
	got := w.expect(c, "whole", http.StatusOK, http.MethodGet, template, path+"?limit=500", "")
	whole := decode[page](w.t, got)
	if len(whole.Items) == 0 || whole.Next != "" {
		w.t.Errorf("GET %s: %s; want everything", path, got.Body)
	}
	w.expect(c, "as it was", http.StatusNotModified, http.MethodGet, template, path+"?limit=500", "", "If-None-Match",
		got.Header.Get("ETag"))
	var items []any
	next := path + "?limit=2"
	for next != "" {
		a := w.expect(c, "a page", http.StatusOK, http.MethodGet, template, next, "")
		p := decode[page](w.t, a)
		items = append(items, p.Items...)
		link := a.Header.Get("Link")
		if (link == "") != (p.Next == "") || len(items) > len(whole.Items) {
			w.t.Fatalf("GET %s: Link %q, next %q after %d of %d", next, link, p.Next, len(items), len(whole.Items))
		}
		next = strings.TrimPrefix(strings.TrimSuffix(link, `>; rel="next"`), "<")
	}
	if text(items) != text(whole.Items) {
		w.t.Errorf("GET %s by pages: %s; want %s", path, text(items), text(whole.Items))
	}
	table := w.expect(c, "a table", http.StatusOK, http.MethodGet, template, path+"?limit=500", "", "Accept",
		"text/csv;q=0.9, application/json;q=0.1")
	rows := readCSV(w.t, table.Body)
	if len(rows) != len(whole.Items)+1 || !strings.HasPrefix(table.Header.Get("Content-Type"), "text/csv") ||
		!slices.Contains(table.Header.Values("Vary"), "Accept") {
		w.t.Errorf("GET %s as a table: %d rows, %s, Vary %v; want %d rows of CSV", path, len(rows),
			table.Header.Get("Content-Type"), table.Header.Values("Vary"), len(whole.Items)+1)
	}
	if table.Header.Get("ETag") == got.Header.Get("ETag") {
		w.t.Errorf("GET %s: the table has the entity tag of the JSON", path)
	}
}

// replace replaces a record, with conditions that hold and that do not.
func (w *walk) replace(c *apitest.Client, k kept) {
	w.t.Helper()
	template := k.resource + "/{id}"
	d, _ := w.spec.operation(http.MethodPut, template)
	schema, _ := w.spec.sent(d)
	body := text(k.body)
	tag := func(version int) string { return fmt.Sprintf(`"%d"`, version) }
	if strings.HasSuffix(k.resource, "/matches") { // with the try that is the example of an event
		tag = func(version int) string { return fmt.Sprintf(`"%d-score-5-0"`, version) }
	}
	w.forbidden(c, d, k.path, schema, k.body, "If-Match", "*")
	w.addresses(c, http.MethodPut, template, body)
	w.strangers(d, k.path)
	w.expect(c, "without a condition", http.StatusPreconditionRequired, http.MethodPut, template, k.path, body)
	for _, stale := range []string{`"0"`, `"99"`, `W/"1"`, `"x", W/"1"`, `1`} {
		status := http.StatusPreconditionFailed
		if stale == "1" {
			status = http.StatusUnprocessableEntity
		}
		w.expect(c, "If-Match: "+stale, status, http.MethodPut, template, k.path, body, "If-Match", stale)
	}
	w.expect(c, "If-None-Match: *", http.StatusPreconditionFailed, http.MethodPut, template, k.path, body, "If-Match",
		tag(1), "If-None-Match", "*")
	if got := c.Get(k.path); versionOf(got) != tag(1) {
		w.t.Errorf("%s: is %s after nothing that was asked held; want it as it was", k.path, got.Header.Get("ETag"))
	}
	got := w.expect(c, "If-Match with a list", http.StatusOK, http.MethodPut, template, k.path, body, "If-Match",
		`"x", `+tag(1))
	if versionOf(got) != tag(2) {
		w.t.Errorf("PUT %s: ETag %s; want the second version", k.path, got.Header.Get("ETag"))
	}
	// A record is sent back as it was read, whatever the service has set of it.
	got = w.expect(c, "as it was read", http.StatusOK, http.MethodPut, template, k.path, c.Get(k.path).Body, "If-Match",
		"*")
	if versionOf(got) != tag(3) || c.Get(k.path).Body != got.Body {
		w.t.Errorf("PUT %s: ETag %s, %s; want the third version, and that it is read as it was answered", k.path,
			got.Header.Get("ETag"), got.Body)
	}
	// A body without a member that may be left out is accepted, or refused with what is needed instead.
	required, _ := schema["required"].([]any)
	for name := range k.body {
		if slices.Contains(required, any(name)) {
			continue
		}
		less := maps.Clone(k.body)
		delete(less, name)
		got := w.do(c, "without "+name, http.MethodPut, template, k.path, text(less), "If-Match", "*")
		if got.Status != http.StatusOK && got.Status != http.StatusUnprocessableEntity && got.Status != http.StatusConflict {
			w.t.Errorf("PUT %s without %s: %d %s", k.path, name, got.Status, got.Body)
		}
	}
	w.expect(c, "whole again", http.StatusOK, http.MethodPut, template, k.path, body, "If-Match", "*")
}

// others are people who may see a record but not change it, and people for whom it is not there.
func (w *walk) others(k kept) {
	w.t.Helper()
	template := k.resource + "/{id}"
	for _, login := range others(k.resource, "sorrel", "bryn", "edda", "ansel") {
		c := w.a.Program(w.t, login)
		may := w.do(c, login, http.MethodGet, template, k.path, "").Status
		for _, method := range []string{http.MethodPut, http.MethodDelete} {
			body := ""
			if method == http.MethodPut {
				body = text(k.body)
			}
			want := http.StatusForbidden
			if may == http.StatusNotFound || login == "edda" {
				want = http.StatusNotFound
			}
			if login == "ansel" && (want == http.StatusForbidden && slices.Contains([]string{"match-events", "team-totals"},
				k.resource[len(rest.Path)+1:])) {
				continue // their own to change where the match is
			}
			for _, condition := range [][]string{nil, {"If-Match", `"x"`}, {"If-Match", "*"}} {
				w.expect(c, fmt.Sprint(login, " ", condition), want, method, template, k.path, body, condition...)
			}
		}
	}
}

// rest asks for what is not a record.
func (w *walk) rest(c *apitest.Client) {
	w.t.Helper()
	season := fmt.Sprintf("%s/players/%d/seasons/%d", rest.Path, w.a.Bryn.ID, w.a.Season.ID)
	const template = rest.Path + "/players/{id}/seasons/{season}"
	w.listAt(c, rest.Path+"/observations", rest.Path+"/observations")
	w.list(c, rest.Path+"/carry-cells")
	w.expect(c, "what players are shown", 200, http.MethodGet, rest.Path+"/shown-grades", rest.Path+"/shown-grades", "")
	w.expect(c, "who owes grades", 200, http.MethodGet, rest.Path+"/rating-rounds/{id}/owed",
		fmt.Sprintf("%s/rating-rounds/%d/owed", rest.Path, w.ids["rating_round_id"]), "")
	w.listAt(c, template+"/trends", season+"/trends")
	w.expect(c, "of an indicator", 200, http.MethodGet, template+"/trends/{indicator}", season+"/trends/carries", "")
	w.expect(c, "of nothing", 404, http.MethodGet, template+"/trends/{indicator}", season+"/trends/nothing", "")
	w.expect(c, "of no code", 422, http.MethodGet, template+"/trends/{indicator}", season+"/trends/NO", "")
	w.expect(c, "report", 200, http.MethodGet, template+"/report", season+"/report", "")
	w.expect(w.a.Program(w.t, "bryn"), "own report", 200, http.MethodGet, template+"/report", season+"/report", "")
	w.expect(w.a.Program(w.t, "owen"), "another's report", 404, http.MethodGet, template+"/report", season+"/report", "")
	var played []models.Match // by Bryn
	if err := w.a.Store.Read(w.t.Context(), models.Console(w.a.ID), func(tx *store.Tx) (err error) {
		played, err = tx.Matches(models.MatchFilter{SeasonID: w.a.Season.ID, PlayerID: w.a.Bryn.ID, Bare: true})
		return err
	}); err != nil || len(played) == 0 {
		w.t.Fatalf("matches of Bryn: %d, %v", len(played), err)
	}
	review := func(match any) string {
		return fmt.Sprintf("%s/players/%d/matches/%v/review", rest.Path, w.a.Bryn.ID, match)
	}
	w.expect(c, "review of a match", 200, http.MethodGet, rest.Path+"/players/{id}/matches/{match}/review",
		review(played[0].ID), "")
	w.expect(c, "review of no match", 404, http.MethodGet, rest.Path+"/players/{id}/matches/{match}/review",
		review(987654321), "")
	w.expect(c, "overview of a squad", 200, http.MethodGet, rest.Path+"/squads/{id}/seasons/{season}/overview",
		fmt.Sprintf("%s/squads/%d/seasons/%d/overview", rest.Path, w.a.Under18.ID, w.a.Season.ID), "")
	page := w.expect(c, "as a file", 200, http.MethodGet, template+"/report", season+"/report", "", "Accept", "text/html")
	if !strings.Contains(page.Body, "Bryn Calder") || !strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
		w.t.Errorf("the report as a file: %s, %d bytes", page.Header.Get("Content-Type"), len(page.Body))
	}
	got := w.expect(c, "the vocabulary", 200, http.MethodGet, rest.Path+"/catalogue", rest.Path+"/catalogue", "")
	w.expect(c, "as it was", 304, http.MethodGet, rest.Path+"/catalogue", rest.Path+"/catalogue", "", "If-None-Match",
		got.Header.Get("ETag"))
	for _, path := range []string{"/catalogue", "/observations", "/carry-cells"} {
		w.parameters(c, http.MethodGet, rest.Path+path, rest.Path+path)
	}
	log := fmt.Sprint(w.ids["log_id"])
	w.expect(c, "with itself", 200, http.MethodGet, rest.Path+"/logs/{id}/agreement/{other}", rest.Path+"/logs/"+log+
		"/agreement/"+log, "")
	w.expect(c, "with none", 404, http.MethodGet, rest.Path+"/logs/{id}/agreement/{other}", rest.Path+"/logs/"+log+
		"/agreement/987654321", "")
	agree := rest.Path + "/squads/{id}/seasons/{season}/consistency"
	of := func(squad any) string {
		return fmt.Sprintf("%s/squads/%v/seasons/%v/consistency", rest.Path, squad, w.ids["season_id"])
	}
	w.expect(c, "how far grades agree", 200, http.MethodGet, agree, of(w.ids["squad_id"]), "")
	w.expect(c, "of no squad", 404, http.MethodGet, agree, of(987654321), "")
	w.expect(w.a.Program(w.t, "bryn"), "to a player", 403, http.MethodGet, agree, of(w.ids["squad_id"]), "")
	w.packs(c)
	w.batch(c, rest.Path+"/logs/"+log+"/involvements/batch")
	w.attending(c)
	w.readingNotes(c)
	w.afterAMeeting(c)
	w.safety()
	w.reviewing()
	w.trail(c)
	w.merging(c)
	w.dataRequests(c)
	w.access(c)
	w.academies()
}

// merging makes two records of one person one, and two again.
func (w *walk) merging(c *apitest.Client) {
	w.t.Helper()
	const merges, players = rest.Path + "/player-merges", rest.Path + "/players"
	twin := decode[models.Player](w.t, w.expect(c, "a second record", 201, http.MethodPost, players, players,
		`{"name": "Owen Hale again", "positions": []}`))
	const plan = players + "/{id}/merge-plan"
	at := fmt.Sprintf("%s/%d/merge-plan?other=", players, w.a.Owen.ID)
	seen := decode[models.MergePlan](w.t, w.expect(c, "a plan", 200, http.MethodGet, plan, at+fmt.Sprint(twin.ID), ""))
	w.expect(c, "with no one", 422, http.MethodGet, plan, at+"987654321", "")
	w.expect(w.a.Program(w.t, "sorrel"), "a selector", 403, http.MethodGet, plan, at+fmt.Sprint(twin.ID), "")
	body := fmt.Sprintf(`{"player_id": %d, "other_id": %d, "seen": %%q}`, w.a.Owen.ID, twin.ID)
	w.expect(c, "another plan", 412, http.MethodPost, merges, merges, fmt.Sprintf(body, "nothing"))
	w.expect(c, "with itself", 422, http.MethodPost, merges, merges,
		fmt.Sprintf(`{"player_id": %[1]d, "other_id": %[1]d}`, twin.ID))
	key := []string{"Idempotency-Key", `"merge-1"`}
	made := w.expect(c, "the merge", 201, http.MethodPost, merges, merges, fmt.Sprintf(body, seen.Seen), key...)
	if again := w.expect(c, "again", 201, http.MethodPost, merges, merges, fmt.Sprintf(body, seen.Seen),
		key...); again.Body != made.Body {
		w.t.Errorf("sent again, the merge is %s; want %s", again.Body, made.Body)
	}
	w.list(c, merges)
	m := decode[models.PlayerMerge](w.t, made)
	one := fmt.Sprint(merges, "/", m.ID)
	w.expect(c, "one", 200, http.MethodGet, merges+"/{id}", one, "")
	w.expect(c, "none", 404, http.MethodGet, merges+"/{id}", merges+"/987654321", "")
	w.expect(c, "undone", 200, http.MethodPost, merges+"/{id}/undo", one+"/undo", "")
	w.expect(c, "undone twice", 409, http.MethodPost, merges+"/{id}/undo", one+"/undo", "")
	w.expect(c, "the record is back", 204, http.MethodDelete, players+"/{id}", fmt.Sprint(players, "/", twin.ID), "",
		"If-Match", "*")
}

// attending records the attendance of a session as a whole.
// packs asks for a pack of reports, which no one makes here, and deletes it.
func (w *walk) packs(c *apitest.Client) {
	const ask, all = rest.Path + "/squads/{id}/seasons/{season}/report-packs", rest.Path + "/report-packs"
	of := func(squad any) string {
		return fmt.Sprintf("%s/squads/%v/seasons/%v/report-packs", rest.Path, squad, w.a.Season.ID)
	}
	const staff = `{"edition":"staff","pdf":false}`
	d, _ := w.spec.operation(http.MethodPost, ask)
	schema, _ := w.spec.sent(d)
	w.forbidden(c, d, of(w.a.Under18.ID), schema, object{"edition": "staff", "pdf": false})
	w.strangers(d, of(w.a.Under18.ID))
	w.expect(c, "no edition", 422, http.MethodPost, ask, of(w.a.Under18.ID), `{"edition":"guardian","pdf":false}`)
	w.expect(c, "no Chromium", 422, http.MethodPost, ask, of(w.a.Under18.ID), `{"edition":"staff","pdf":true}`)
	made := w.expect(c, "a pack", 201, http.MethodPost, ask, of(w.a.Under18.ID), staff)
	w.expect(c, "the same again", 409, http.MethodPost, ask, of(w.a.Under18.ID), staff)
	w.expect(c, "of no squad", 404, http.MethodPost, ask, of(987654321), staff)
	w.expect(w.a.Program(w.t, "bryn"), "for a player", 403, http.MethodPost, ask, of(w.a.Under18.ID), staff)
	w.expect(c, "own packs", 200, http.MethodGet, all, all, "")
	w.expect(w.a.Program(w.t, "bryn"), "of a player", 403, http.MethodGet, all, all, "")
	at := made.Header.Get("Location")
	w.addresses(c, http.MethodGet, all+"/{id}", "")
	w.addresses(c, http.MethodDelete, all+"/{id}", "")
	w.expect(c, "the pack", 200, http.MethodGet, all+"/{id}", at, "")
	w.expect(c, "too early", 409, http.MethodGet, all+"/{id}", at, "", "Accept", "application/zip")
	w.expect(w.a.Program(w.t, "ansel"), "another's", 404, http.MethodGet, all+"/{id}", at, "")
	w.expect(w.a.Program(w.t, "ansel"), "another's", 404, http.MethodDelete, all+"/{id}", at, "")
	w.expect(c, "deleted", 204, http.MethodDelete, all+"/{id}", at, "")
	w.expect(c, "no more", 404, http.MethodGet, all+"/{id}", at, "")
}

func (w *walk) attending(c *apitest.Client) {
	w.t.Helper()
	const template = rest.Path + "/training-sessions/{id}/attendance"
	at := fmt.Sprint(rest.Path, "/training-sessions/", w.ids["training_session_id"], "/attendance")
	body := fmt.Sprintf(`{"items": [{"player_id": %d, "status": "present"}]}`, w.a.Owen.ID)
	key := []string{"Idempotency-Key", `"session-1"`}
	got := w.expect(c, "the whole session", 200, http.MethodPost, template, at, body, key...)
	again := w.expect(c, "again", 200, http.MethodPost, template, at, body, key...)
	if got.Body != again.Body {
		w.t.Errorf("sent again, the attendance is %s; want %s", again.Body, got.Body)
	}
	w.expect(c, "at no session", 404, http.MethodPost, template, rest.Path+"/training-sessions/987654321/attendance", body)
	w.expect(c, "no one", 422, http.MethodPost, template, at, `{"items": []}`)
	changed := strings.Replace(body, "present", "absent", 1)
	w.expect(c, "without the version", 412, http.MethodPost, template, at, changed)
	w.expect(w.a.Program(w.t, "sorrel"), "a selector", 403, http.MethodPost, template, at, body)
	made := decode[struct{ Items []models.Attendance }](w.t, got).Items[0]
	path := fmt.Sprint(rest.Path, "/attendances/", made.ID)
	w.expect(c, "taken back", 204, http.MethodDelete, rest.Path+"/attendances/{id}", path, "", "If-Match", "*")
}

// afterAMeeting asks for what follows a closed meeting: its corrections, and what players are told.
func (w *walk) afterAMeeting(c *apitest.Client) {
	w.t.Helper()
	m := models.Meeting{SeasonID: w.a.Season.ID, SquadID: w.a.Under18.ID, Date: "2025-09-05", Purpose: "The county trial",
		Present: []models.Attendee{{Name: "Piers Holt"}},
		Places:  []models.Place{{Name: "Back row", Group: models.GroupBackRow, Wanted: 1}},
		Candidates: []models.Candidate{{PlayerID: w.a.Bryn.ID, Place: "Back row", Decision: models.Reserve,
			Reason: "Brave, and still learning when to pass."}}}
	err := w.a.Store.Write(w.t.Context(), models.Console(w.a.ID), func(tx *store.Tx) error {
		return storetest.Hold(tx, &m, models.MeetingClosed)
	})
	if err != nil {
		w.t.Fatal(err)
	}
	const compared = rest.Path + "/meetings/{id}/comparison"
	w.expect(c, "compared", 200, http.MethodGet, compared, fmt.Sprint(rest.Path, "/meetings/", m.ID, "/comparison"), "")
	w.expect(c, "of none", 404, http.MethodGet, compared, rest.Path+"/meetings/987654321/comparison", "")
	const brief = rest.Path + "/meetings/{id}/brief"
	for _, meeting := range []any{m.ID, w.ids["meeting_id"]} {
		w.expect(c, "the brief", 200, http.MethodGet, brief, fmt.Sprint(rest.Path, "/meetings/", meeting, "/brief"), "")
	}
	w.expect(c, "the brief of none", 404, http.MethodGet, brief, rest.Path+"/meetings/987654321/brief", "")
	w.expect(c, "before it is open", 409, http.MethodGet, compared,
		fmt.Sprint(rest.Path, "/meetings/", w.ids["meeting_id"], "/comparison"), "")
	const corrections, told = rest.Path + "/corrections", rest.Path + "/selection-feedback"
	body := object{"meeting_id": m.ID, "text": "The trial was a day later.", "why": "The county moved it."}
	d, _ := w.spec.operation(http.MethodPost, corrections)
	schema, _ := w.spec.sent(d)
	w.forbidden(c, d, corrections, schema, body)
	w.strangers(d, corrections)
	w.expect(w.a.Program(w.t, "ansel"), "a coach", 403, http.MethodPost, corrections, corrections, text(body))
	at := w.expect(c, "the example", 201, http.MethodPost, corrections, corrections, text(body)).Header.Get("Location")
	w.expect(c, "it", 200, http.MethodGet, corrections+"/{id}", at, "")
	w.listAt(c, corrections, corrections)
	w.listAt(c, told, told)
	all := decode[struct{ Items []models.Feedback }](w.t, w.expect(c, "drafts", 200, http.MethodGet, told,
		fmt.Sprint(told, "?meeting=", m.ID), ""))
	if len(all.Items) != 1 || !strings.Contains(all.Items[0].Text, "Brave, and still learning when to pass.") {
		w.t.Fatalf("closing the meeting drafts %+v", all.Items)
	}
	one := fmt.Sprint(told, "/", all.Items[0].ID)
	draft := object{"text": "You are in reserve. Well played.", "released": false}
	ansel, bryn := w.a.Program(w.t, "ansel"), w.a.Program(w.t, "bryn")
	w.expect(ansel, "it", 200, http.MethodGet, told+"/{id}", one, "")
	w.expect(bryn, "a draft, by the player", 404, http.MethodGet, told+"/{id}", one, "")
	w.expect(ansel, "in their words", 200, http.MethodPut, told+"/{id}", one, text(draft), "If-Match", `"1"`)
	w.expect(ansel, "released before it was told", 409, http.MethodPut, told+"/{id}", one,
		text(merged(draft, "released", true)), "If-Match", `"2"`)
	spoken := merged(merged(draft, "released", true), "told_on", "2025-09-06")
	w.expect(w.a.Program(w.t, "sorrel"), "by a selector", 403, http.MethodPut, told+"/{id}", one, text(spoken),
		"If-Match", `"2"`)
	w.expect(c, "by a manager", 403, http.MethodPut, told+"/{id}", one, text(spoken), "If-Match", `"2"`)
	w.expect(bryn, "still a draft", 404, http.MethodGet, told+"/{id}", one, "")
	w.expect(ansel, "told, then released", 200, http.MethodPut, told+"/{id}", one, text(spoken), "If-Match", `"2"`)
	w.expect(bryn, "released", 200, http.MethodGet, told+"/{id}", one, "")
	w.expect(ansel, "other words afterwards", 409, http.MethodPut, told+"/{id}", one, text(draft), "If-Match", `"3"`)
}

// dataRequests exports what is kept about a player, and erases another's.
func (w *walk) dataRequests(c *apitest.Client) {
	w.t.Helper()
	const export, erase, list = rest.Path + "/players/{id}/record", rest.Path + "/players/{id}/erasure", rest.Path +
		"/data-requests"
	at := func(template string, id int64) string { return strings.Replace(template, "{id}", fmt.Sprint(id), 1) }
	w.addresses(c, http.MethodPost, export, "")
	w.parameters(c, http.MethodGet, list, list)
	for login, status := range map[string]int{"mabyn": 200, "bryn": 200, "owen": 404, "ansel": 403, "sorrel": 403,
		"edda": 404} {
		got := w.expect(w.a.Program(w.t, login), login, status, http.MethodPost, export, at(export, w.a.Bryn.ID), "")
		if status == 200 && (got.Header.Get("Content-Type") != "application/zip" || !strings.HasPrefix(got.Body, "PK")) {
			w.t.Errorf("the record by %s: %s, %d bytes", login, got.Header.Get("Content-Type"), len(got.Body))
		}
	}
	gone := object{"name": "Wat Penhale", "positions": []string{}}
	var player struct{ ID int64 }
	made := w.expect(c, "a player to erase", 201, http.MethodPost, rest.Path+"/players", rest.Path+"/players", text(gone))
	if err := json.Unmarshal([]byte(made.Body), &player); err != nil {
		w.t.Fatal(err)
	}
	path := at(erase, player.ID)
	d, _ := w.spec.operation(http.MethodPost, erase)
	schema, _ := w.spec.sent(d)
	body := object{"name": "Wat Penhale", "asked_by": "guardian"}
	w.forbidden(c, d, path, schema, body)
	w.strangers(d, path)
	for login, status := range map[string]int{"bryn": 404, "ansel": 404, "edda": 404} {
		w.expect(w.a.Program(w.t, login), login, status, http.MethodPost, erase, path, text(body))
	}
	w.expect(w.a.Program(w.t, "bryn"), "himself", 403, http.MethodPost, erase, at(erase, w.a.Bryn.ID),
		text(object{"name": "Bryn Calder", "asked_by": "player"}))
	w.expect(c, "with another's name", 422, http.MethodPost, erase, path, text(merged(body, "name", "Bryn Calder")))
	w.expect(c, "the example", 200, http.MethodPost, erase, path, text(body))
	w.expect(c, "once more", 404, http.MethodPost, erase, path, text(body))
	all := decode[struct{ Items []models.DataRequest }](w.t, w.expect(c, "proofs", 200, http.MethodGet, list, list, ""))
	if n := len(all.Items); n != 3 || all.Items[2].Kind != models.RequestErasure || all.Items[2].PlayerID != player.ID {
		w.t.Errorf("the proofs are %+v; want two exports and an erasure", all.Items)
	}
	w.expect(w.a.Program(w.t, "ansel"), "proofs", 403, http.MethodGet, list, list, "")
}

// trail reads the audit trail, which grows meanwhile.
func (w *walk) trail(c *apitest.Client) {
	w.t.Helper()
	const path = rest.Path + "/audit-entries"
	d, _ := w.spec.operation(http.MethodGet, path)
	w.strangers(d, path)
	w.parameters(c, http.MethodGet, path, path)
	type page struct {
		Items []models.AuditEntry
		Next  string
	}
	first := decode[page](w.t, w.expect(c, "the first two", 200, http.MethodGet, path, path+"?limit=2", ""))
	then := decode[page](w.t, w.expect(c, "the next two", 200, http.MethodGet, path, path+"?limit=2&cursor="+first.Next,
		""))
	if len(first.Items) != 2 || len(then.Items) != 2 || then.Items[1].Number != 4 {
		w.t.Errorf("the trail begins %+v, %+v; want four entries in order", first, then)
	}
	about := decode[page](w.t, w.expect(c, "about a kind", 200, http.MethodGet, path, path+
		"?kind=rating&action=create&limit=500", ""))
	for _, e := range about.Items {
		if e.Kind != "rating" || e.Action != models.AuditCreate || e.Payload == nil {
			w.t.Errorf("among those about ratings that were made: %+v", e)
		}
	}
	if len(about.Items) == 0 {
		w.t.Error("the trail does not say that a rating was made")
	}
	w.expect(c, "a table", 200, http.MethodGet, path, path+"?limit=2", "", "Accept", "text/csv")
	for _, login := range []string{"ansel", "sorrel", "bryn"} {
		w.expect(w.a.Program(w.t, login), login, 403, http.MethodGet, path, path, "")
	}
}

// access lets a person in: their squads, their link, their tokens.
func (w *walk) access(c *apitest.Client) {
	w.t.Helper()
	const users = rest.Path + "/users"
	made := decode[struct{ ID, Version int64 }](w.t, w.expect(c, "a coach", 201, http.MethodPost, users, users,
		text(object{
			"login": "tansy", "name": "Tansy Holt", "role": "coach", "second_factor_since": "2025-09-07T18:30:00Z",
		})))
	at := fmt.Sprint(users, "/", made.ID)
	if got := c.Get(at); strings.Contains(got.Body, "second_factor") || strings.Contains(got.Body, "hash") ||
		strings.Contains(got.Body, "secret") {
		w.t.Errorf("a new user is %s", got.Body)
	}
	w.expect(c, "an operator", 422, http.MethodPost, users, users,
		text(object{"login": "tansy2", "name": "Tansy", "role": "operator"}))
	w.expect(c, "of another academy", 422, http.MethodPost, users, users,
		text(object{"login": "tansy2", "name": "Tansy", "role": "coach", "academy_id": 1}))
	w.expect(c, "with a password", 422, http.MethodPost, users, users,
		text(object{"login": "tansy2", "name": "Tansy", "role": "coach", "password_hash": "x"}))
	var self, squad int64
	for _, u := range decode[struct {
		Items []struct {
			ID    int64
			Login string
		}
	}](w.t, c.Get(users+"?limit=500")).Items {
		if u.Login == "mabyn" {
			self = u.ID
		}
	}
	me := fmt.Sprint(users, "/", self)
	w.expect(c, "her own role", 403, http.MethodPut, users+"/{id}", me,
		text(object{"login": "mabyn", "name": "Mabyn Orrell", "role": "coach"}), "If-Match", "*")
	w.expect(c, "her own name", 200, http.MethodPut, users+"/{id}", me,
		text(object{"login": "mabyn", "name": "Mabyn Orrell-Pask", "role": "manager"}), "If-Match", "*")
	w.expect(c, "herself", 403, http.MethodDelete, users+"/{id}", me, "", "If-Match", c.Get(me).Header.Get("ETag"))

	squad = w.a.Under16.ID
	const squads, onSquad = users + "/{id}/squads", users + "/{id}/squads/{squad}"
	put := fmt.Sprint(at, "/squads/", squad)
	for _, method := range []string{http.MethodPut, http.MethodDelete} {
		d, _ := w.spec.operation(method, onSquad)
		w.strangers(d, put)
		for login, status := range map[string]int{"ansel": 404, "bryn": 404, "edda": 404} {
			w.expect(w.a.Program(w.t, login), login, status, method, onSquad, put, "")
		}
		w.expect(c, "no such squad", 404, method, onSquad, at+"/squads/987654321", "")
		w.expect(c, "no such user", 404, method, onSquad, fmt.Sprint(users, "/987654321/squads/", squad), "")
	}
	for range 2 {
		w.expect(c, "a squad", 204, http.MethodPut, onSquad, put, "")
	}
	w.listAt(c, squads, at+"/squads")
	w.expect(c, "the lead", 204, http.MethodPut, onSquad+"/lead", put+"/lead", "")
	w.expect(c, "no lead", 204, http.MethodDelete, onSquad+"/lead", put+"/lead", "")
	w.expect(c, "a manager's", 422, http.MethodPut, onSquad, fmt.Sprint(me, "/squads/", squad), "")
	w.expect(w.a.Program(w.t, "ansel"), "another's", 404, http.MethodGet, squads, at+"/squads", "")
	w.expect(c, "of nobody", 404, http.MethodGet, squads, users+"/987654321/squads", "")
	w.expect(c, "a squad", 204, http.MethodDelete, onSquad, put, "")

	const link = users + "/{id}/link"
	d, _ := w.spec.operation(http.MethodPost, link)
	w.strangers(d, at+"/link")
	w.addresses(c, http.MethodPost, link, "")
	for login, status := range map[string]int{"ansel": 404, "bryn": 404, "edda": 404} {
		w.expect(w.a.Program(w.t, login), login, status, http.MethodPost, link, at+"/link", "")
	}
	signedIn := w.a.SignIn(w.t, "mabyn")
	w.expect(c, "by a program", 403, http.MethodPost, link, at+"/link", "")
	w.expect(signedIn, "herself", 403, http.MethodPost, link, me+"/link", "")
	first := decode[struct{ Path, Purpose string }](w.t, w.expect(signedIn, "a link", 200, http.MethodPost, link, at+
		"/link", ""))
	second := decode[struct{ Path, Purpose string }](w.t, w.expect(signedIn, "another", 200, http.MethodPost, link, at+
		"/link", ""))
	if got := w.a.Stranger(w.t).Get(first.Path); got.Status != http.StatusNotFound || first.Purpose != "invitation" {
		w.t.Errorf("the first of two links, %+v: %d", first, got.Status)
	}
	tansy := w.a.Stranger(w.t)
	if got := tansy.Post(second.Path,
		url.Values{"password": {"lantern gravel otter spindle"}}); got.Status != http.StatusSeeOther {
		w.t.Errorf("the second of two links: %d %s", got.Status, got.Body)
	}

	const factor = users + "/{id}/second-factor"
	d, _ = w.spec.operation(http.MethodDelete, factor)
	w.strangers(d, at+"/second-factor")
	w.addresses(c, http.MethodDelete, factor, "")
	w.expect(w.a.Program(w.t, "ansel"), "another's", 404, http.MethodDelete, factor, at+"/second-factor", "")
	w.expect(c, "by a program", 403, http.MethodDelete, factor, at+"/second-factor", "")
	w.expect(signedIn, "her own", 403, http.MethodDelete, factor, me+"/second-factor", "")

	const tokens = rest.Path + "/access-tokens"
	d, _ = w.spec.operation(http.MethodPost, tokens)
	schema, example := w.spec.sent(d)
	w.forbidden(tansy, d, tokens, schema, example.(object))
	w.strangers(d, tokens)
	w.expect(c, "by a program", 403, http.MethodPost, tokens, tokens, text(example))
	got := w.expect(tansy, "in a session", 201, http.MethodPost, tokens, tokens, text(example))
	token := decode[struct {
		ID    int64
		Token string
		Scope string
	}](w.t, got)
	if strings.Contains(tansy.Get(got.Header.Get("Location")).Body, token.Token) ||
		strings.Contains(c.Get(tokens+"?limit=500").Body, token.Token) {
		w.t.Error("a token is answered a second time")
	}
	reads := []string{"Authorization", "Bearer " + token.Token}
	w.expect(w.a.Stranger(w.t), "by a token for reading", 200, http.MethodGet, tokens, tokens, "", reads...)
	w.expect(w.a.Stranger(w.t), "by a token for reading", 403, http.MethodPost, rest.Path+"/seasons", rest.Path+
		"/seasons",
		text(object{"name": "2030-31", "starts": "2030-08-01", "ends": "2031-06-30"}), reads...)
	w.list(c, tokens)
	all := decode[struct{ Items []object }](w.t, w.expect(c, "Tansy's", 200, http.MethodGet, tokens,
		fmt.Sprint(tokens, "?user=", made.ID), ""))
	own := decode[struct{ Items []object }](w.t, w.expect(tansy, "her own", 200, http.MethodGet, tokens, tokens, ""))
	if len(all.Items) != 1 || len(own.Items) != 1 {
		w.t.Errorf("the manager sees %d tokens of hers, she %d of all; want one", len(all.Items), len(own.Items))
	}
	one := fmt.Sprint(tokens, "/", token.ID)
	w.read(c, kept{resource: tokens, path: one})
	w.expect(w.a.Program(w.t, "ansel"), "another's", 404, http.MethodGet, tokens+"/{id}", one, "")
	w.expect(w.a.Program(w.t, "ansel"), "another's", 404, http.MethodDelete, tokens+"/{id}", one, "", "If-Match", "*")
	w.expect(c, "without a condition", 428, http.MethodDelete, tokens+"/{id}", one, "")
	w.expect(tansy, "her own", 204, http.MethodDelete, tokens+"/{id}", one, "", "If-Match", `"1"`)
	w.expect(w.a.Stranger(w.t), "by a token that has ended", 401, http.MethodGet, tokens, tokens, "", reads...)
	w.expect(signedIn, "second factor", 204, http.MethodDelete, factor, at+"/second-factor", "")
	if got := tansy.Get(rest.Path + "/seasons"); got.Status != http.StatusUnauthorized {
		w.t.Errorf("the session of somebody who lost her second factor: %d", got.Status)
	}
	w.expect(c, "Tansy", 204, http.MethodDelete, users+"/{id}", at, "", "If-Match", c.Get(at).Header.Get("ETag"))
}

// academies makes an academy and its first manager, as an operator does who sees nothing of it.
func (w *walk) academies() {
	w.t.Helper()
	const path = rest.Path + "/academies"
	orla := w.a.Program(w.t, "orla")
	signedIn := w.a.SignIn(w.t, "orla")
	w.list(orla, path)
	before := orla.Get(path).Body
	if !strings.Contains(before, "Northmoor") || strings.Contains(before, "deployment") {
		w.t.Errorf("the academies are %s", before)
	}
	d, _ := w.spec.operation(http.MethodPost, path)
	schema, example := w.spec.sent(d)
	w.forbidden(orla, d, path, schema, example.(object))
	w.strangers(d, path)
	made := decode[struct{ ID int64 }](w.t, w.expect(orla, "the example", 200, http.MethodPost, path, path,
		text(example)))
	w.expect(orla, "once more", 409, http.MethodPost, path, path, text(example))
	one := fmt.Sprint(path, "/", made.ID)
	w.addresses(orla, http.MethodPut, path+"/{id}", text(object{"name": "Fell Academy"}))
	w.expect(orla, "another name", 200, http.MethodPut, path+"/{id}", one, text(object{"name": "Fell Academy"}))
	w.expect(orla, "a name that is taken", 409, http.MethodPut, path+"/{id}", one,
		text(object{"name": "Northmoor Rugby Academy"}))
	const manager = path + "/{id}/manager"
	d, _ = w.spec.operation(http.MethodPost, manager)
	schema, example = w.spec.sent(d)
	w.forbidden(orla, d, one+"/manager", schema, example.(object))
	w.strangers(d, one+"/manager")
	w.addresses(orla, http.MethodPost, manager, text(example))
	w.expect(orla, "by a program", 403, http.MethodPost, manager, one+"/manager", text(example))
	let := decode[struct{ Link struct{ Path string } }](w.t, w.expect(signedIn, "the first", 200, http.MethodPost,
		manager, one+"/manager", text(example)))
	w.expect(orla, "a second", 409, http.MethodPost, manager, one+"/manager",
		text(object{"login": "other", "name": "Other"}))
	w.expect(orla, "of an academy that has one", 409, http.MethodPost, manager, fmt.Sprint(path, "/", w.a.ID, "/manager"),
		text(object{"login": "other", "name": "Other"}))
	if got := w.a.Stranger(w.t).Get(let.Link.Path); got.Status != 200 || !strings.Contains(got.Body, "Fell Academy") {
		w.t.Errorf("the page of the link: %d %s", got.Status, got.Body)
	}
	for _, login := range []string{"mabyn", "ansel", "sorrel", "bryn", "edda"} {
		c := w.a.Program(w.t, login)
		w.expect(c, login, 403, http.MethodGet, path, path, "")
		w.expect(c, login, 403, http.MethodPost, path, path, text(object{"name": "Mine"}))
		w.expect(c, login, 404, http.MethodPut, path+"/{id}", one, text(object{"name": "Mine"}))
		w.expect(c, login, 404, http.MethodPost, manager, one+"/manager", text(example))
	}
	for _, resource := range []string{"/players", "/matches", "/ratings", "/review-notes", "/seasons"} {
		w.expect(orla, "by an operator", 403, http.MethodGet, rest.Path+resource, rest.Path+resource, "")
	}
	w.expect(orla, "by an operator", 404, http.MethodGet, rest.Path+"/players/{id}",
		fmt.Sprint(rest.Path, "/players/", w.a.Bryn.ID), "")
	const users = rest.Path + "/users"
	other := w.expect(orla, "another operator", 201, http.MethodPost, users, users,
		text(object{"login": "oswin", "name": "Oswin Rae", "role": "operator"})).Header.Get("Location")
	w.expect(orla, "a coach of no academy", 422, http.MethodPost, users, users,
		text(object{"login": "oswin2", "name": "Oswin Rae", "role": "coach"}))
	if n := len(decode[struct{ Items []any }](w.t, w.expect(orla, "operators", 200, http.MethodGet, users, users,
		"")).Items); n != 2 {
		w.t.Errorf("an operator sees %d users; want the two operators", n)
	}
	w.expect(w.a.Program(w.t, "mabyn"), "an operator", 404, http.MethodGet, users+"/{id}", other, "")
	w.expect(orla, "the other operator", 204, http.MethodDelete, users+"/{id}", other, "", "If-Match", `"1"`)
	manages := decode[struct{ Items []struct{ ID int64 } }](w.t, w.a.Program(w.t, "mabyn").Get(rest.Path+
		"/users?login=mabyn"))
	w.expect(orla, "a manager", 404, http.MethodGet, rest.Path+"/users/{id}",
		fmt.Sprint(rest.Path, "/users/", manages.Items[0].ID), "")
}

// batch logs several involvements.
func (w *walk) batch(c *apitest.Client, path string) {
	w.t.Helper()
	const template = rest.Path + "/logs/{id}/involvements/batch"
	d, _ := w.spec.operation(http.MethodPost, template)
	schema, example := w.spec.sent(d)
	body := w.fill(example).(object)
	w.forbidden(c, d, path, schema, body)
	w.strangers(d, path)
	w.expect(c, "of no log", 404, http.MethodPost, template, rest.Path+"/logs/987654321/involvements/batch", text(body))
	w.expect(w.a.Program(w.t, "edda"), "of another academy", 404, http.MethodPost, template, path, text(body))
	count := func() int {
		return len(decode[struct{ Items []any }](w.t,
			c.Get(strings.TrimSuffix(strings.Replace(path, "/logs/", "/involvements?log=", 1), "/involvements/batch"))).Items)
	}
	before := count()
	bad := decode[object](w.t, apitest.Answer{Body: text(body)})
	items := bad["items"].([]any)
	third, fourth := maps.Clone(items[0].(object)), maps.Clone(items[1].(object))
	third["key"], third["details"] = "another", object{"contact": "fended"}
	fourth["key"], fourth["clock"] = "one-more", object{"half": 1, "second": 9999}
	bad["items"] = append(items, third, fourth)
	got := w.expect(c, "with two that cannot be", 422, http.MethodPost, template, path, text(bad))
	p := decode[problem](w.t, got)
	var places []string
	for _, e := range p.Errors {
		places = append(places, fmt.Sprint(e["location"]))
	}
	for _, place := range []string{"body.items[2].details.contact", "body.items[3].clock"} {
		if !slices.Contains(places, place) {
			w.t.Errorf("a batch with two that cannot be: %v; want %s among them", places, place)
		}
	}
	if now := count(); now != before {
		w.t.Errorf("a batch with two that cannot be left %d involvements; want the %d from before", now, before)
	}
	for range 2 { // sent again it changes nothing
		w.expect(c, "the example", 200, http.MethodPost, template, path, text(body))
		if now := count(); now != before+1 { // the first of the two has the key of one that is there
			w.t.Errorf("a batch of two, of which one is there already: %d involvements; want %d", now, before+1)
		}
	}
	// What was deleted does not come back.
	made := decode[struct{ Items []struct{ ID, Version int64 } }](w.t,
		c.Do(http.MethodPost, path, strings.NewReader(text(body)), "Content-Type", "application/json"))
	one := fmt.Sprintf("%s/involvements/%d", rest.Path, made.Items[1].ID)
	w.expect(c, "delete", 204, http.MethodDelete, rest.Path+"/involvements/{id}", one, "", "If-Match",
		fmt.Sprintf(`"%d"`, made.Items[1].Version))
	got = w.expect(c, "with a deleted one", http.StatusGone, http.MethodPost, template, path, text(body))
	if p := decode[problem](w.t, got); len(p.Errors) != 1 || p.Errors[0]["location"] != "body.items[1].key" {
		w.t.Errorf("a batch with a deleted one: %v; want it told at body.items[1].key", p.Errors)
	}
	single := strings.TrimSuffix(path, "/batch")
	got = w.expect(c, "a deleted one", http.StatusGone, http.MethodPost, rest.Path+"/logs/{id}/involvements", single,
		text(body["items"].([]any)[1]))
	if p := decode[problem](w.t, got); len(p.Errors) != 1 || p.Errors[0]["location"] != "body.key" {
		w.t.Errorf("a deleted one: %v; want it told at body.key", p.Errors)
	}
}

// readingNotes has a player read a note, which is another answer under the same version.
func (w *walk) readingNotes(c *apitest.Client) {
	w.t.Helper()
	const template = rest.Path + "/review-notes/{id}"
	note := object{"player_id": w.a.Bryn.ID, "date": "2025-09-08", "shared": true, "text": "Feet first."}
	secret := merged(note, "shared", false)
	at := w.expect(c, "shared", 201, http.MethodPost, rest.Path+"/review-notes", rest.Path+"/review-notes",
		text(note)).Header.Get("Location")
	hidden := w.expect(c, "for the staff", 201, http.MethodPost, rest.Path+"/review-notes", rest.Path+"/review-notes",
		text(secret)).Header.Get("Location")
	bryn := w.a.Program(w.t, "bryn")
	w.expect(bryn, "for the staff", 404, http.MethodGet, template, hidden, "")
	w.expect(bryn, "for the staff", 404, http.MethodPost, template+"/read", hidden+"/read", "")
	w.expect(c, "by the manager", 403, http.MethodPost, template+"/read", at+"/read", "")
	w.expect(w.a.Program(w.t, "owen"), "by another", 404, http.MethodPost, template+"/read", at+"/read", "")
	before := w.expect(bryn, "unread", 200, http.MethodGet, template, at, "").Header.Get("ETag")
	read := w.expect(bryn, "his own", 200, http.MethodPost, template+"/read", at+"/read", "")
	after := w.expect(c, "read", 200, http.MethodGet, template, at, "", "If-None-Match", before)
	if after.Header.Get("ETag") == before || after.Header.Get("ETag") != read.Header.Get("ETag") ||
		!strings.Contains(after.Body, "read_at") {
		w.t.Errorf("a note that was read: ETag %s, before %s, %s; want another tag, and when it was read",
			after.Header.Get("ETag"), before, after.Body)
	}
	w.expect(c, "with the tag from before", 412, http.MethodPut, template, at, text(note), "If-Match", before)
	w.expect(c, "with the tag", 200, http.MethodPut, template, at, text(note), "If-Match", after.Header.Get("ETag"))
}

// remove deletes a record that nothing is in the way of any more.
func (w *walk) remove(c *apitest.Client, k kept) {
	w.t.Helper()
	template := k.resource + "/{id}"
	d, _ := w.spec.operation(http.MethodDelete, template)
	w.strangers(d, k.path)
	w.addresses(c, http.MethodDelete, template, "")
	w.expect(c, "without a condition", http.StatusPreconditionRequired, http.MethodDelete, template, k.path, "")
	w.expect(c, "stale", http.StatusPreconditionFailed, http.MethodDelete, template, k.path, "", "If-Match", `"1"`)
	w.expect(c, "weak", http.StatusPreconditionFailed, http.MethodDelete, template, k.path, "", "If-Match", "W/"+
		c.Get(k.path).Header.Get("ETag"))
	w.expect(c, "as it is", http.StatusNoContent, http.MethodDelete, template, k.path, "", "If-Match",
		c.Get(k.path).Header.Get("ETag"))
	w.expect(c, "deleted", http.StatusNotFound, http.MethodGet, template, k.path, "")
	w.expect(c, "deleted", http.StatusNotFound, http.MethodDelete, template, k.path, "", "If-Match", "*")
	w.expect(c, "deleted", http.StatusNotFound, http.MethodPut, template, k.path, text(k.body), "If-Match", "*")
}

func TestEveryExampleIsAsItsSchemaSays(t *testing.T) {
	a := apitest.OnSQLite(t)
	s := describedBy(t, a.Stranger(t))
	examples := 0
	check := func(what string, content any) {
		media, _ := s.resolve(content).(object)
		for kind, m := range media {
			m := m.(object)
			if m["example"] == nil {
				t.Errorf("%s: %s has no example", what, kind)
				continue
			}
			examples++
			for _, b := range s.breaks(m["schema"], m["example"], "the example") {
				t.Errorf("%s: %s", what, b)
			}
		}
	}
	for _, d := range s.operations() {
		check(d.String()+", what is sent", s.at(d.op, "requestBody", "content"))
		for status := range d.op["responses"].(object) {
			check(d.String()+", "+status, s.at(d.op, "responses", status, "content"))
		}
		parameters, _ := d.op["parameters"].([]any)
		for _, name := range regexp.MustCompile(`\{([a-z_]+)\}`).FindAllStringSubmatch(d.path, -1) {
			if !slices.ContainsFunc(parameters, func(p any) bool {
				p, _ = s.resolve(p).(object)
				return p.(object)["in"] == "path" && p.(object)["name"] == name[1]
			}) {
				t.Errorf("%v: %s of its address is no parameter", d, name[0])
			}
		}
		for _, p := range parameters {
			if p := s.resolve(p).(object); p["description"] == nil || p["description"] == "" {
				t.Errorf("%v: %s is not explained", d, p["name"])
			}
		}
	}
	if examples < 100 {
		t.Errorf("only %d examples were checked", examples)
	}
	for name, schema := range s.at(object(s), "components", "schemas").(object) {
		o := schema.(object)
		if o["description"] == nil {
			t.Errorf("%s is not explained", name)
		}
		properties, _ := o["properties"].(object)
		for member, p := range properties {
			if p.(object)["description"] == nil {
				t.Errorf("%s.%s is not explained", name, member)
			}
		}
	}
}

func TestTheDescriptionHasTheRoutesOfTheRouter(t *testing.T) {
	a := apitest.OnSQLite(t)
	s := describedBy(t, a.Stranger(t))
	router := gin.New()
	papers, err := reports.Papers(nil)
	if err != nil {
		t.Fatal(err)
	}
	rest.New(a.Store, papers, nil, nil, nil).Register(router, "session")
	var routes, operations []string
	for _, r := range router.Routes() {
		if strings.HasPrefix(r.Path, rest.Path+"/") {
			parts := strings.Split(r.Path, "/")
			for i, part := range parts {
				if name, ok := strings.CutPrefix(part, ":"); ok {
					parts[i] = "{" + name + "}"
				}
			}
			routes = append(routes, r.Method+" "+strings.Join(parts, "/"))
		}
	}
	for _, d := range s.operations() {
		operations = append(operations, d.String())
	}
	slices.Sort(routes)
	slices.Sort(operations)
	if !slices.Equal(routes, operations) {
		t.Errorf("routes are\n%s\nand described are\n%s", strings.Join(routes, "\n"), strings.Join(operations, "\n"))
	}
}
