package api_test

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
)

// object is a JSON object.
type object = map[string]any

// document is the description of the service for programs, as far as these tests need it: what may be sent where.
type document object

// operation is what may be asked for at one address.
type operation struct {
	method, path string // the path with names in braces
	said         object
}

func (o operation) String() string { return o.method + " " + o.path }

func documentOf(t testing.TB, a *apitest.Academy) document {
	t.Helper()
	var d document
	got := a.Stranger(t).Get("/openapi.json")
	if err := json.Unmarshal([]byte(got.Body), &d); err != nil {
		t.Fatalf("the description: %d, %v", got.Status, err)
	}
	return d
}

// resolve follows a reference.
func (d document) resolve(v any) object {
	o, _ := v.(object)
	ref, ok := o["$ref"].(string)
	if !ok {
		return o
	}
	v = object(d)
	for _, name := range strings.Split(strings.TrimPrefix(ref, "#/"), "/") {
		v = v.(object)[name]
	}
	return d.resolve(v)
}

// operations are all of them, in order.
func (d document) operations() []operation {
	var all []operation
	paths := d["paths"].(object)
	for _, path := range slices.Sorted(maps.Keys(paths)) {
		item := paths[path].(object)
		for _, method := range slices.Sorted(maps.Keys(item)) {
			all = append(all, operation{strings.ToUpper(method), path, item[method].(object)})
		}
	}
	return all
}

func (d document) operation(method, path string) (operation, bool) {
	item, _ := d["paths"].(object)[path].(object)
	said, ok := item[strings.ToLower(method)].(object)
	return operation{method, path, said}, ok
}

// takes is the schema and the example of what an operation is sent, or nil if it is sent nothing.
func (d document) takes(o operation) (schema, example object) {
	body := d.resolve(o.said["requestBody"])
	content, _ := body["content"].(object)
	media, _ := content["application/json"].(object)
	example, _ = media["example"].(object)
	return d.resolve(media["schema"]), example
}

// properties are the members of a schema that may be sent: those that only the service sets are left out.
func (d document) properties(schema object) object {
	all, _ := schema["properties"].(object)
	sent := object{}
	for name, p := range all {
		if p := d.resolve(p); p["readOnly"] != true {
			sent[name] = p
		}
	}
	return sent
}

// parameters are those of a kind ("path", "query", "header") with their schemas.
func (d document) parameters(o operation, in string) object {
	all := object{}
	listed, _ := o.said["parameters"].([]any)
	for _, p := range listed {
		if p := d.resolve(p); p["in"] == in {
			all[p["name"].(string)] = d.resolve(p["schema"])
		}
	}
	return all
}

// text writes a value as JSON.
func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // it came from JSON
	}
	return string(b)
}

// clone copies a value of JSON through and through.
func clone(v any) any {
	switch v := v.(type) {
	case object:
		c := object{}
		for name, member := range v {
			c[name] = clone(member)
		}
		return c
	case []any:
		c := make([]any, len(v))
		for i, item := range v {
			c[i] = clone(item)
		}
		return c
	}
	return v
}
