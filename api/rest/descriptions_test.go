package rest

import (
	"bytes"
	"encoding/json"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write descriptions.json from the comments in the source")

// TestTheDescriptionsAreThoseOfTheSource keeps what the OpenAPI description says about each member in one place: the
// comment of the field. Run it with -update after a change of the comments.
func TestTheDescriptionsAreThoseOfTheSource(t *testing.T) {
	said := map[string]string{}
	folders, err := filepath.Glob("../../reports/*")
	if err != nil {
		t.Fatal(err)
	}
	for _, folder := range append(folders, "../../models") {
		if filepath.Base(folder) == "analysis" {
			continue // the command line alone answers with it
		}
		files, err := filepath.Glob(folder + "/*.go")
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			for _, decl := range parsed.Decls {
				if d, ok := decl.(*ast.GenDecl); ok && d.Tok == token.TYPE {
					for _, spec := range d.Specs {
						sayType(said, parsed.Name.Name, d, spec.(*ast.TypeSpec))
					}
				}
			}
		}
	}
	var want bytes.Buffer
	e := json.NewEncoder(&want)
	e.SetEscapeHTML(false)
	e.SetIndent("", "\t")
	if err := e.Encode(said); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("descriptions.json", want.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(descriptions, want.Bytes()) {
		t.Error("descriptions.json is not what the comments say: run go test ./api/rest -run TheDescriptions -update")
	}
}

// sayType notes what the comments of a struct say about it and of its members.
func sayType(said map[string]string, pkg string, decl *ast.GenDecl, spec *ast.TypeSpec) {
	record, ok := spec.Type.(*ast.StructType)
	if !ok || !spec.Name.IsExported() {
		return
	}
	doc := spec.Doc
	if doc == nil {
		doc = decl.Doc
	}
	members := map[string]string{}
	for _, f := range record.Fields.List {
		for _, name := range f.Names {
			if f.Tag != nil {
				tag := reflect.StructTag(strings.Trim(f.Tag.Value, "`"))
				members[name.Name], _, _ = strings.Cut(tag.Get("json"), ",")
			}
		}
	}
	if !hasJSON(members) {
		return
	}
	name := pkg + "." + spec.Name.Name
	if text := plain(doc, members); text != "" {
		said[name] = asASentence(spec.Name.Name, text)
	}
	for _, f := range record.Fields.List {
		for _, n := range f.Names {
			text := plain(f.Comment, members)
			if text == "" {
				text = plain(f.Doc, members)
			}
			if m := members[n.Name]; m != "" && m != "-" && text != "" {
				if !strings.HasPrefix(text, m) {
					text = strings.ToUpper(text[:1]) + text[1:]
				}
				said[name+"."+m] = text
			}
		}
	}
}

func hasJSON(members map[string]string) bool {
	for _, m := range members {
		if m != "" && m != "-" {
			return true
		}
	}
	return false
}

// identifier is a name of Go's in the middle of a text: a reader of the description knows the member's name in the
// JSON instead.
var identifier = regexp.MustCompile(`\b[A-Z][A-Za-z0-9]*\b`)

func plain(comment *ast.CommentGroup, members map[string]string) string {
	text := strings.Join(strings.Fields(comment.Text()), " ")
	var b strings.Builder
	done := 0
	for _, at := range identifier.FindAllStringIndex(text, -1) {
		m := members[text[at[0]:at[1]]]
		begins := at[0] == 0 || strings.HasSuffix(text[:at[0]], ". ")
		if m == "" || m == "-" || begins && !strings.Contains(m, "_") {
			continue // an ordinary word, with the capital of a sentence
		}
		b.WriteString(text[done:at[0]] + m)
		done = at[1]
	}
	return spaced(b.String() + text[done:])
}

// humps is a name of Go's that is made of several words. OpenAPI, MiB and their like are none.
var humps = regexp.MustCompile(`\b(?:[A-Z][a-z]+\.)?[A-Z][a-z]+(?:[A-Z][a-z]+)+\b`)

// spaced writes the names of Go's in a text as the words that they are made of.
func spaced(text string) string {
	return humps.ReplaceAllStringFunc(text, func(name string) string {
		_, after, qualified := strings.Cut(name, ".")
		if qualified {
			name = after
		}
		return strings.ToLower(regexp.MustCompile(`(.)([A-Z])`).ReplaceAllString(name, "$1 $2"))
	})
}

// calledInEnglish is what the description calls a type whose name in Go is not a noun of English.
var calledInEnglish = map[string]string{"Counted": "number of forecasts", "StandDown": "stand-down"}

// defines matches a comment that says what a type is. Its description is that noun alone.
var defines = regexp.MustCompile(`^(?:is|are) ((?:an?|the|one|how|what|where|something|everything) )`)

// asASentence is the comment of a type without the type's name, with which Go begins it.
func asASentence(name, text string) string {
	words := spaced(name)
	rest, named := strings.CutPrefix(text, words+" ")
	if !named {
		return strings.ToUpper(text[:1]) + text[1:]
	}
	if noun := defines.ReplaceAllString(rest, "$1"); noun != rest {
		return strings.ToUpper(noun[:1]) + noun[1:]
	}
	if other, ok := otherName[name]; ok {
		words = other
	}
	words = strings.ToLower(strings.TrimSuffix(words, " info"))
	if other, ok := calledInEnglish[name]; ok {
		words = other
	}
	if strings.HasPrefix(rest, "are ") { // it is called after many of them
		return strings.ToUpper(words[:1]) + words[1:] + " " + rest
	}
	sentence := article(words) + " " + rest
	return strings.ToUpper(sentence[:1]) + sentence[1:]
}
