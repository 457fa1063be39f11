package rest_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"throughline/api/apitest"
)

// spec is the description of the service as a stranger's program reads it: nothing of it is known but what it says
// itself.
type spec map[string]any

func describedBy(t *testing.T, c *apitest.Client) spec {
	t.Helper()
	return decode[spec](t, c.Get("/openapi.json"))
}

// object is a JSON object.
type object = map[string]any

// at follows names into an object, and references on the way.
func (s spec) at(v any, names ...string) any {
	for _, name := range names {
		o, ok := s.resolve(v).(object)
		if !ok {
			return nil
		}
		v = o[name]
	}
	return s.resolve(v)
}

func (s spec) resolve(v any) any {
	for {
		o, ok := v.(object)
		ref, is := o["$ref"].(string)
		if !ok || !is {
			return v
		}
		v = object(s)
		for _, name := range strings.Split(strings.TrimPrefix(ref, "#/"), "/") {
			v = v.(object)[name]
		}
	}
}

// described is an operation of the description.
type described struct {
	method, path string
	op           object
}

func (d described) String() string { return d.method + " " + d.path }

func (s spec) operations() []described {
	var all []described
	for _, path := range slices.Sorted(maps.Keys(s["paths"].(object))) {
		item := s["paths"].(object)[path].(object)
		for _, method := range slices.Sorted(maps.Keys(item)) {
			all = append(all, described{strings.ToUpper(method), path, item[method].(object)})
		}
	}
	return all
}

func (s spec) operation(method, path string) (described, bool) {
	for _, d := range s.operations() {
		if d.method == method && d.path == path {
			return d, true
		}
	}
	return described{}, false
}

// sent is the schema and the example of what an operation is sent.
func (s spec) sent(d described) (schema object, example any) {
	media, _ := s.at(d.op, "requestBody", "content", "application/json").(object)
	schema, _ = s.at(media, "schema").(object)
	return schema, media["example"]
}

// breaks lists how a value breaks a schema, by JSON Schema 2020-12 as far as the description uses it. It is written
// here from the standard: the service is not checked by its own library.
func (s spec) breaks(schema any, v any, place string) []string {
	o, _ := s.resolve(schema).(object)
	bad := func(format string, args ...any) []string { return []string{place + " " + fmt.Sprintf(format, args...)} }
	if kind, ok := o["type"].(string); ok && !ofType(v, kind) {
		return bad("is not of type %s: %v", kind, v)
	}
	var all []string
	if enum, ok := o["enum"].([]any); ok && !slices.Contains(enum, v) {
		all = append(all, bad("is none of %v: %v", enum, v)...)
	}
	switch v := v.(type) {
	case float64:
		if least, ok := o["minimum"].(float64); ok && v < least {
			all = append(all, bad("is less than %v", least)...)
		}
		if most, ok := o["maximum"].(float64); ok && v > most {
			all = append(all, bad("is more than %v", most)...)
		}
	case string:
		n := float64(utf8.RuneCountInString(v))
		if least, ok := o["minLength"].(float64); ok && n < least {
			all = append(all, bad("is shorter than %v", least)...)
		}
		if most, ok := o["maxLength"].(float64); ok && n > most {
			all = append(all, bad("is longer than %v", most)...)
		}
		if pattern, ok := o["pattern"].(string); ok && !regexp.MustCompile(pattern).MatchString(v) {
			all = append(all, bad("does not match %s", pattern)...)
		}
		switch o["format"] {
		case "date":
			if _, err := time.Parse(time.DateOnly, v); err != nil {
				all = append(all, bad("is no date: %s", v)...)
			}
		case "date-time":
			if at, err := time.Parse(time.RFC3339Nano, v); err != nil || !strings.HasSuffix(v, "Z") {
				all = append(all, bad("is no time in UTC: %s, %v", v, at)...)
			}
		}
	case []any:
		if least, ok := o["minItems"].(float64); ok && float64(len(v)) < least {
			all = append(all, bad("has fewer than %v items", least)...)
		}
		if most, ok := o["maxItems"].(float64); ok && float64(len(v)) > most {
			all = append(all, bad("has more than %v items", most)...)
		}
		for i, item := range v {
			all = append(all, s.breaks(o["items"], item, fmt.Sprintf("%s[%d]", place, i))...)
		}
	case object:
		required, _ := o["required"].([]any)
		for _, name := range required {
			if _, ok := v[name.(string)]; !ok {
				all = append(all, bad("lacks %s", name)...)
			}
		}
		if least, ok := o["minProperties"].(float64); ok && float64(len(v)) < least {
			all = append(all, bad("has fewer than %v members", least)...)
		}
		properties, _ := o["properties"].(object)
		for name, member := range v {
			switch p, known := properties[name]; {
			case known:
				all = append(all, s.breaks(p, member, place+"."+name)...)
			case o["additionalProperties"] == false:
				all = append(all, bad("has a member %s that is not described", name)...)
			default:
				all = append(all, s.breaks(o["additionalProperties"], member, place+"."+name)...)
			}
		}
	}
	return all
}

func ofType(v any, kind string) bool {
	switch v := v.(type) {
	case nil:
		return kind == "null"
	case bool:
		return kind == "boolean"
	case float64:
		return kind == "number" || kind == "integer" && v == math.Trunc(v)
	case string:
		return kind == "string"
	case []any:
		return kind == "array"
	}
	return kind == "object"
}

// conforms checks that an answer is one that the description of its operation has.
func (s spec) conforms(t *testing.T, d described, what string, a apitest.Answer) {
	t.Helper()
	if a.Status >= 500 {
		t.Errorf("%v, %s: %d %s", d, what, a.Status, a.Body)
	}
	response, ok := s.at(d.op, "responses", fmt.Sprint(a.Status)).(object)
	if !ok {
		t.Errorf("%v, %s: %d is not described: %s", d, what, a.Status, a.Body)
		return
	}
	content, _ := response["content"].(object)
	media, _, _ := strings.Cut(a.Header.Get("Content-Type"), ";")
	if len(content) == 0 {
		if a.Body != "" {
			t.Errorf("%v, %s: %d has a body that is not described: %s", d, what, a.Status, a.Body)
		}
		return
	}
	described, ok := content[media].(object)
	if !ok {
		t.Errorf("%v, %s: %d is answered as %q, which is not described", d, what, a.Status, media)
		return
	}
	if strings.HasSuffix(media, "json") {
		var v any
		if err := json.Unmarshal([]byte(a.Body), &v); err != nil {
			t.Errorf("%v, %s: %v in %s", d, what, err, a.Body)
			return
		}
		kind, _ := s.at(v, "type").(string)
		ofKey := s.keyed(d) && slices.Contains([]string{"/problems/key-in-use", "/problems/key-reused",
			"/problems/secret-not-repeated"}, kind)
		if media == "application/problem+json" && kind != s.at(described, "example", "type") && !ofKey {
			t.Errorf("%v, %s: a problem of type %q; want that of the example, %v", d, what, kind,
				s.at(described, "example", "type"))
		}
		for _, b := range s.breaks(described["schema"], v, "answer") {
			t.Errorf("%v, %s, %d: %s", d, what, a.Status, b)
		}
	}
	headers, _ := response["headers"].(object)
	for name := range headers {
		// The last page has no link, and a service that limits no one says nothing about limits.
		if a.Header.Get(name) == "" && name != "Link" && !strings.HasPrefix(name, "RateLimit") {
			t.Errorf("%v, %s, %d: the header %s is described, and missing", d, what, a.Status, name)
		}
	}
}

func readCSV(t *testing.T, s string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(s)).ReadAll()
	if err != nil {
		t.Fatalf("%v in %s", err, s)
	}
	return rows
}
