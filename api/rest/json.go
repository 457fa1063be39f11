package rest

import (
	"bytes"
	"errors"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	jsonv1 "github.com/go-json-experiment/json/v1"
)

// written is how answers are written: nothing is null, names of maps are in order so that the same content gives the
// same bytes, and a member is left out where its tag says so and it is at its zero value.
var written = json.JoinOptions(jsonv1.OmitEmptyWithLegacySemantics(true), json.Deterministic(true))

// format is how the library reads and writes JSON, which it does for problems alone: the rest is read by decode and
// written by marshal.
var format = huma.Format{
	Marshal:   func(w io.Writer, v any) error { return json.MarshalWrite(w, v, written) },
	Unmarshal: func(data []byte, v any) error { return json.Unmarshal(data, v) },
}

// marshal writes an answer.
func marshal(v any) ([]byte, error) { return json.Marshal(v, written) }

// decode reads JSON strictly into v: a program's mistake is an error, not guessed at. Text must be valid UTF-8 without
// NUL. Names must be the schema's, with their case, and not repeated. Nothing may be null: what is not recorded is
// left out. Errors name the place, such as body.covers[0].from.
func decode(data []byte, schema *huma.Schema, schemas huma.Registry, v any) *badBody {
	if bad := wellFormed(data); bad != nil {
		return bad
	}
	var loose any
	if err := json.Unmarshal(data, &loose); err != nil {
		return badJSON(err)
	}
	if bad := uncomparable(schemas, schema, loose, ""); bad != nil {
		return bad
	}
	var found huma.ValidateResult
	at := huma.NewPathBuffer([]byte{}, 0)
	at.Push("body")
	huma.Validate(schemas, schema, at, huma.ModeWriteToServer, loose, &found)
	if len(found.Errors) > 0 {
		bad := &badBody{}
		for _, err := range found.Errors {
			var detail *huma.ErrorDetail
			if errors.As(err, &detail) {
				at := &huma.ErrorDetail{Location: detail.Location, Message: detail.Message}
				// The library tells of what is missing at the object that lacks it.
				if name, ok := strings.CutPrefix(at.Message, "expected required property "); ok {
					name, _, _ = strings.Cut(name, " ")
					at.Location = at.Location + "." + name
				}
				at.Message = inOurWords(detail.Message)
				bad.places = append(bad.places, at)
			}
		}
		slices.SortStableFunc(bad.places, func(a, b *huma.ErrorDetail) int {
			return strings.Compare(a.Location, b.Location)
		})
		bad.places = bad.places[:min(len(bad.places), mostPlaces)]
		return bad
	}
	// The library takes a name in any case for the same; the type does not.
	if err := json.Unmarshal(data, v, json.RejectUnknownMembers(true)); err != nil {
		bad := badJSON(err)
		bad.malformed = false
		return bad
	}
	return nil
}

// uncomparable finds an object or a list among items that must differ: the library compares items before it looks at
// their types, and panics.
func uncomparable(schemas huma.Registry, s *huma.Schema, v any, at jsontext.Pointer) *badBody {
	if s != nil && s.Ref != "" {
		s = schemas.SchemaFromRef(s.Ref)
	}
	if s == nil {
		return nil
	}
	switch v := v.(type) {
	case []any:
		for i, item := range v {
			at := at.AppendToken(strconv.Itoa(i))
			switch item.(type) {
			case []any, map[string]any:
				if s.UniqueItems {
					return badAt(false, at, "has a value of the wrong type")
				}
			}
			if bad := uncomparable(schemas, s.Items, item, at); bad != nil {
				return bad
			}
		}
	case map[string]any:
		for _, name := range slices.Sorted(maps.Keys(v)) {
			member := s.Properties[name]
			if member == nil {
				member, _ = s.AdditionalProperties.(*huma.Schema)
			}
			if bad := uncomparable(schemas, member, v[name], at.AppendToken(name)); bad != nil {
				return bad
			}
		}
	}
	return nil
}

// mostPlaces is how many errors an answer lists: the answer to a body full of mistakes must not be many times its
// size.
const mostPlaces = 100

// badBody is what is wrong with a body.
type badBody struct {
	malformed bool // it is not JSON at all, or not such that two programs would read the same
	places    []*huma.ErrorDetail
}

func badAt(malformed bool, pointer jsontext.Pointer, message string) *badBody {
	return &badBody{malformed: malformed, places: []*huma.ErrorDetail{{Location: place(pointer), Message: message}}}
}

// place writes a JSON pointer as the library writes places: /items/3/details becomes body.items[3].details.
func place(pointer jsontext.Pointer) string {
	var b strings.Builder
	b.WriteString("body")
	for token := range pointer.Tokens() {
		if n, err := strconv.Atoi(token); err == nil && n >= 0 {
			b.WriteString("[" + token + "]")
			continue
		}
		b.WriteString("." + clip(token))
	}
	return b.String()
}

// clip shortens a name that a person made up.
func clip(s string) string {
	const most = 60
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}

// wellFormed walks through a text of JSON.
func wellFormed(data []byte) *badBody {
	d := jsontext.NewDecoder(bytes.NewReader(data))
	for n := 0; ; {
		token, err := d.ReadToken()
		if errors.Is(err, io.EOF) && n > 0 {
			return nil
		}
		if err != nil {
			return badJSON(err)
		}
		if d.StackDepth() == 0 && token.Kind() != '}' && token.Kind() != ']' {
			n++
		}
		switch {
		case token.Kind() == '"' && strings.ContainsRune(token.String(), 0):
			return badAt(true, d.StackPointer(), "contains a NUL character; leave it out")
		case token.Kind() == 'n':
			return badAt(false, d.StackPointer(), "is null; leave out what is not recorded")
		}
		if d.StackDepth() == 0 && (token.Kind() == '}' || token.Kind() == ']') {
			n++
		}
		if n > 1 {
			return badAt(true, "", "has more text after the JSON value; send one JSON value only")
		}
	}
}

// badJSON says what the reader found, and where, without repeating it.
func badJSON(err error) *badBody {
	var syntax *jsontext.SyntacticError
	if errors.As(err, &syntax) {
		switch {
		case errors.Is(err, jsontext.ErrDuplicateName):
			return badAt(true, syntax.JSONPointer, "appears twice; send each name once")
		case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
			return badAt(true, syntax.JSONPointer, "is incomplete: the JSON ends too early")
		case strings.Contains(syntax.Error(), "UTF-8"):
			return badAt(true, syntax.JSONPointer, "is not valid UTF-8 text; send it as UTF-8")
		}
		return badAt(true, syntax.JSONPointer, "is not valid JSON from byte "+
			strconv.FormatInt(syntax.ByteOffset, 10)+" on")
	}
	var semantic *json.SemanticError
	if errors.As(err, &semantic) {
		if errors.Is(err, json.ErrUnknownName) {
			return badAt(false, semantic.JSONPointer, "is not a known name; names are case-sensitive")
		}
		return badAt(false, semantic.JSONPointer, "has a value of the wrong type")
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return badAt(true, "", "is missing or incomplete; send one whole JSON value")
	}
	return badAt(true, "", "is not JSON")
}
