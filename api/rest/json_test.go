package rest

import (
	"reflect"
	"testing"

	"throughline/models"
)

// RFC 8259 §4 wants names to be unique, §8.1 text to be UTF-8; RFC 7493 (I-JSON) §2 makes both a must.
func TestJSONIsReadStrictly(t *testing.T) {
	schemas := newSchemas()
	schema := schemas.Schema(reflect.TypeFor[models.Log](), true, "")
	const rest = `,"match_id":1,"player_id":1,"logger_id":1,"depth":"core","kinds":["carry"],"finished":false,` +
		`"id":1,"version":1,"created_at":"2025-09-07T18:30:00Z",` +
		`"changed_at":"2025-09-07T18:30:00Z"}`
	for _, c := range []struct {
		sent, place string
		malformed   bool
	}{
		{sent: `{"covers":[{"from":{"half":1,"second":0},"to":{"half":1,"second":60}}]` + rest},
		{sent: `{"covers":[]` + rest + "\n\t "},
		{`{"covers":[{"from":{"half":1,"half":2,"second":0},"to":{"half":1,"second":60}}]` + rest,
			"body.covers[0].from.half", true},
		{`{"covers":[],"covers":[]` + rest, "body.covers", true},
		{`{"covers":null` + rest, "body.covers", false},
		{`{"covers":[null]` + rest, "body.covers[0]", false},
		{`{"covers":[],"key":"a\u0000b"` + rest, "body.key", true},
		{"{\"covers\":[],\"key\":\"a\xc3\x28b\"" + rest, "body.key", true},
		{`{"covers":[],"Key":"a"` + rest, "body.Key", false},
		{`{"covers":[],"keys":"a"` + rest, "body.keys", false},
		{`{"covers":[{"from":{"half":"1","second":0},"to":{"half":1,"second":60}}]` + rest, "body.covers[0].from.half",
			false},
		{`{"covers":[]` + rest + `{}`, "body", true},
		{`{"covers":[]`, "body", true},
		{``, "body", true}, {` `, "body", true}, {`{`, "body", true}, {`[]`, "body", false},
		{`{"covers":[],}`, "body", true}, {`{'covers':[]}`, "body", true},
		{`{"covers":[]` + rest[:len(rest)-1] + `,"match_id":2}`, "body.match_id", true},
		{"\xef\xbb\xbf{}", "body", true}, // a byte order mark, which RFC 8259 §8.1 forbids to send
	} {
		var v models.Log
		bad := decode([]byte(c.sent), schema, schemas, &v)
		switch {
		case c.place == "":
			if bad != nil || v.MatchID != 1 {
				t.Errorf("%s: %+v, %+v; want it read", c.sent, bad, v)
			}
		case bad == nil || bad.malformed != c.malformed || len(bad.places) != 1 || bad.places[0].Location != c.place ||
			bad.places[0].Message == "":
			t.Errorf("%s: %+v", c.sent, bad)
			if bad != nil {
				for _, p := range bad.places {
					t.Errorf("    %s %s", p.Location, p.Message)
				}
			}
			t.Errorf("    want one finding at %s, malformed: %v", c.place, c.malformed)
		}
	}
}

func TestNothingIsWrittenAsNull(t *testing.T) {
	text, err := marshal(struct {
		None  []int          `json:"none"`
		Empty map[string]int `json:"empty"`
		Zero  int            `json:"zero,omitempty"`
		Left  *int           `json:"left,omitempty"`
	}{})
	if err != nil || string(text) != `{"none":[],"empty":{}}` {
		t.Errorf("%s, %v", text, err)
	}
}

func TestAnObjectAmongCodesThatMustDifferIsRefusedAtItsPlace(t *testing.T) {
	schemas := newSchemas()
	ref := schemas.Schema(reflect.TypeFor[models.Log](), true, "")
	schemas.SchemaFromRef(ref.Ref).Properties["kinds"].UniqueItems = true
	for kinds, place := range map[string]string{`["carry",{}]`: "body.kinds[1]",
		`[["carry"],["carry"]]`: "body.kinds[0]"} {
		var v models.Log
		bad := decode([]byte(`{"kinds":`+kinds+`}`), ref, schemas, &v)
		if bad == nil || bad.malformed || len(bad.places) != 1 || bad.places[0].Location != place {
			t.Errorf("%s: %+v; want one finding at %s", kinds, bad, place)
		}
	}
}
