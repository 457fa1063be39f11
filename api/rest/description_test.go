package rest_test

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
)

// everyText calls see with each description and summary, and where it is.
func everyText(v any, place string, see func(place, text string)) {
	switch v := v.(type) {
	case object:
		for name, member := range v {
			if text, ok := member.(string); ok && (name == "description" || name == "summary" || name == "title") {
				see(place, text)
			}
			if name != "example" && name != "examples" {
				everyText(member, place+"/"+name, see)
			}
		}
	case []any:
		for i, item := range v {
			everyText(item, fmt.Sprintf("%s/%d", place, i), see)
		}
	}
}

// A reader of the description does not know Go: a name of several humps, or one behind a package, is Go's.
func TestTheDescriptionHasNoNamesOfGo(t *testing.T) {
	goName := regexp.MustCompile(`\b(?:models|rest|season|store|trend|huma|paper)\.[A-Z]|\b[A-Z][a-z]+[A-Z][a-z]+\w*`)
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	everyText(object(s), "", func(place, text string) {
		if found := goName.FindString(strings.ReplaceAll(text, "RateLimit", "")); found != "" {
			t.Errorf("%s: %q is a name of Go's in %q", place, found, text)
		}
	})
}

func TestTheDescriptionSaysWhereIfMatchIsRequired(t *testing.T) {
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	for _, d := range s.operations() {
		_, needs := s.at(d.op, "responses").(object)["428"]
		said := false
		params, _ := d.op["parameters"].([]any)
		for _, p := range params {
			said = said || s.at(p, "name") == "If-Match" && s.at(p, "required") == true
		}
		if said != needs {
			t.Errorf("%v: If-Match is said to be required: %v; the answer 428 is described: %v", d, said, needs)
		}
	}
}

// The addresses are types of problems (RFC 9457 §3.1.1): the same for a status everywhere, and a page says what each
// means.
func TestEveryProblemHasATypeThatIsAPage(t *testing.T) {
	a := apitest.OnSQLite(t)
	c, s := a.Stranger(t), describedBy(t, a.Stranger(t))
	seen := map[string]string{}
	for _, d := range s.operations() {
		for status := range s.at(d.op, "responses").(object) {
			example, ok := s.at(d.op, "responses", status, "content", "application/problem+json", "example").(object)
			if !ok {
				continue
			}
			kind := fmt.Sprint(example["type"])
			if before, ok := seen[status]; ok && before != kind {
				t.Errorf("%v: %s is a problem of type %s, and elsewhere of %s", d, status, kind, before)
			}
			seen[status] = kind
		}
	}
	if len(seen) < 12 {
		t.Errorf("problems of %d statuses are described; want a dozen or more", len(seen))
	}
	for status, kind := range seen {
		page := c.Get(kind)
		if !strings.HasPrefix(kind, "/problems/") || page.Status != http.StatusOK || !strings.Contains(page.Body, status) {
			t.Errorf("%s is a problem of type %s, whose page is answered with %d; want a page that has the status", status,
				kind, page.Status)
		}
	}
	if missing := c.Get("/problems/nonsense"); missing.Status != http.StatusNotFound {
		t.Errorf("the page of a type that there is not: %d; want 404", missing.Status)
	}
}

// What generators of programs make of names was seen with oapi-codegen 2.8 and ogen 1.24: schemas, answers and what is
// made for each operation share one space of names, and a member called set_on becomes a field that a method for
// setting the member on is called like.
func TestTheNamesOfTheDescriptionSuitGenerators(t *testing.T) {
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	taken := map[string]string{}
	take := func(name, what string) {
		if before, ok := taken[strings.ToLower(name)]; ok {
			t.Errorf("%s is the name of %s and of %s", name, before, what)
		}
		taken[strings.ToLower(name)] = what
	}
	for _, own := range []string{"Client", "Server", "Option", "Error", "Request", "Response", "Handler", "Invoker",
		"Middleware", "SecuritySource"} {
		take(own, "something that generators make")
	}
	schemas := s.at(object(s), "components", "schemas").(object)
	for name, schema := range schemas {
		take(name, "a schema")
		properties, _ := s.at(schema, "properties").(object)
		for member := range properties {
			for _, way := range []string{"set_", "get_", "is_"} {
				if _, both := properties[way+member]; both {
					t.Errorf("%s has members %s and %s%s", name, member, way, member)
				}
			}
		}
	}
	for name := range s.at(object(s), "components", "responses").(object) {
		take(name, "an answer")
	}
	for _, d := range s.operations() {
		id := pascal(fmt.Sprint(d.op["operationId"]))
		for _, suffix := range []string{"Params", "Response", "Request", "Res", "OK", "JSONBody", "JSONRequestBody"} {
			take(id+suffix, "what is made for "+d.String())
		}
	}
}

func pascal(id string) string {
	var b strings.Builder
	for _, word := range strings.Split(id, "-") {
		b.WriteString(strings.ToUpper(word[:1]) + word[1:])
	}
	return b.String()
}

func TestEveryListIsAPlainPageOfItsItems(t *testing.T) {
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	lists := 0
	for _, d := range s.operations() {
		params, _ := d.op["parameters"].([]any)
		if !slices.ContainsFunc(params, func(p any) bool { return s.at(p, "name") == "cursor" }) {
			continue
		}
		lists++
		media := s.at(d.op, "responses", "200", "content", "application/json").(object)
		ref, _ := media["schema"].(object)["$ref"].(string)
		page, _ := s.at(media, "schema").(object)
		items, _ := s.at(page, "properties", "items").(object)
		item, _ := items["items"].(object)["$ref"].(string)
		if ref == "" || item == "" || ref != item+"Page" || items["type"] != "array" ||
			s.at(page, "properties", "next", "type") != "string" || len(page["properties"].(object)) != 2 {
			t.Errorf("%v answers %s of %s, %v; want a page that is called after what it lists, with items and next", d, ref,
				item, page)
		}
	}
	if lists < 40 {
		t.Errorf("%d lists; want those of all resources", lists)
	}
}

// oapi-codegen 2.8 makes a pointer of a member that is read-only, even where every answer has it.
func TestAMemberThatEveryAnswerHasIsNotReadOnlyThere(t *testing.T) {
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	for name, schema := range s.at(object(s), "components", "schemas").(object) {
		required, _ := s.at(schema, "required").([]any)
		for _, member := range required {
			if s.at(schema, "properties", member.(string), "readOnly") == true {
				t.Errorf("%s.%v is always there, and read-only", name, member)
			}
		}
	}
	if s.at(object(s), "components", "schemas", "PlayerSent", "properties", "id", "readOnly") != true {
		t.Error("what is sent of a player does not say that the id is the service's to set")
	}
}

func TestTheDescriptionHasTheVersionOfTheServiceAndSaysItAgainOnlyIfItChanged(t *testing.T) {
	c := apitest.OnSQLite(t).Stranger(t)
	first := c.Do(http.MethodGet, "/openapi.json", nil, "Accept-Encoding", "gzip")
	if first.Status != http.StatusOK || first.Header.Get("Content-Encoding") != "gzip" || len(first.Body) > 120_000 {
		t.Errorf("%d, %d bytes as %q; want the description compressed", first.Status, len(first.Body),
			first.Header.Get("Content-Encoding"))
	}
	tag := first.Header.Get("ETag")
	again := c.Do(http.MethodGet, "/openapi.json", nil, "Accept-Encoding", "gzip", "If-None-Match", tag)
	if tag == "" || again.Status != http.StatusNotModified || again.Body != "" || again.Header.Get("ETag") != tag {
		t.Errorf("asked again with %q: %d, %d bytes, tag %q; want 304", tag, again.Status, len(again.Body),
			again.Header.Get("ETag"))
	}
	version := fmt.Sprint(describedBy(t, c).at(object(describedBy(t, c)), "info", "version"))
	if !regexp.MustCompile(`^[1-9][0-9]*\.[0-9]+\.[0-9]+$`).MatchString(version) { // semver.org 2.0.0
		t.Errorf("the version is %q; want one such as 1.0.0, whatever the program's is", version)
	}
}

// The patterns are said for what the store refuses anyway: a program can know beforehand.
func TestTheDescriptionStatesPatternsAndTheLimitsOfDates(t *testing.T) {
	s := describedBy(t, apitest.OnSQLite(t).Stranger(t))
	for schema, members := range map[string][]string{
		"PlayerSent": {"name", "known_as", "born_on"}, "LogSent": {"key"}, "InvolvementSent": {"key", "video_file"},
		"UserSent":  {"login", "name"},
		"SkillSent": {"code", "label"}, "SeasonSent": {"name", "starts", "ends"},
	} {
		for _, member := range members {
			if s.at(object(s), "components", "schemas", schema, "properties", member, "pattern") == nil {
				t.Errorf("%s.%s has no pattern", schema, member)
			}
		}
	}
	see := func(place string, o object) {
		if pattern, _ := o["pattern"].(string); o["format"] == "date" &&
			(pattern == "" || regexp.MustCompile(pattern).MatchString("1899-12-31") ||
				!regexp.MustCompile(pattern).MatchString("2199-12-31")) {
			t.Errorf("%s is a date of pattern %q; want one that ends where dates do", place, pattern)
		}
	}
	var walk func(v any, place string)
	walk = func(v any, place string) {
		switch v := v.(type) {
		case object:
			see(place, v)
			for name, member := range v {
				walk(member, place+"/"+name)
			}
		case []any:
			for i, item := range v {
				walk(item, fmt.Sprintf("%s/%d", place, i))
			}
		}
	}
	walk(object(s), "")
}
