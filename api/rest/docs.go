package rest

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"
)

//go:embed docs.html docs.css
var docsFiles embed.FS

// registerDocs adds the page that shows the description to people: all of it, on one page, without scripts and outside hosts.
func (s *Service) registerDocs(router *gin.Engine) {
	page := s.docsPage()
	style, err := docsFiles.ReadFile("docs.css")
	if err != nil {
		panic(err) // it is built in
	}
	publish(router, "/docs", htmlType+"; charset=utf-8", page)
	publish(router, "/docs/docs.css", "text/css; charset=utf-8", style)
}

// docsOperation is an operation as the page prints it.
type docsOperation struct {
	Method, Path string
	*huma.Operation
	Body    *docsBody
	Answers []docsAnswer
}

type docsBody struct {
	Schema  string // its name, where it has one
	Example string
}

type docsAnswer struct {
	Status, About string
	Media         []docsMedia
}

type docsMedia struct {
	Type string
	docsBody
}

type docsPart struct {
	*huma.Tag
	Operations []docsOperation
}

type docsSchema struct {
	Name    string
	Schema  *huma.Schema
	Members []docsMember
}

type docsMember struct {
	Name, Type, About, Set string
}

func (s *Service) docsPage() []byte {
	doc := s.api.OpenAPI()
	var chapters []docsPart
	for _, tag := range doc.Tags {
		chapter := docsPart{Tag: tag}
		for _, path := range slices.Sorted(maps.Keys(doc.Paths)) {
			for _, method := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodDelete} {
				if op := operationAt(doc.Paths[path], method); op != nil && slices.Contains(op.Tags, tag.Name) {
					chapter.Operations = append(chapter.Operations, s.docsOperation(method, path, op))
				}
			}
		}
		chapters = append(chapters, chapter)
	}
	var schemas []docsSchema
	all := s.schemas.Map()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		schemas = append(schemas, docsSchema{name, all[name], membersOf(all[name])})
	}
	t := template.Must(template.New("docs.html").Funcs(template.FuncMap{"text": marked, "anchor": anchor}).ParseFS(docsFiles, "docs.html"))
	var b bytes.Buffer
	if err := t.Execute(&b, map[string]any{"Doc": doc, "Parts": chapters, "Schemas": schemas}); err != nil {
		panic(fmt.Errorf("draw the page of the description: %w", err)) // it is made from what is built in
	}
	return b.Bytes()
}

func (s *Service) docsOperation(method, path string, op *huma.Operation) docsOperation {
	o := docsOperation{Method: method, Path: path, Operation: op}
	if op.RequestBody != nil {
		o.Body = bodyOf(op.RequestBody.Content[jsonType])
	}
	for _, status := range slices.Sorted(maps.Keys(op.Responses)) {
		r := op.Responses[status]
		if name, ok := strings.CutPrefix(r.Ref, "#/components/responses/"); ok {
			o.Answers = append(o.Answers, docsAnswer{Status: status, About: s.api.OpenAPI().Components.Responses[name].Description})
			continue
		}
		answer := docsAnswer{Status: status, About: r.Description}
		for _, media := range slices.Sorted(maps.Keys(r.Content)) {
			answer.Media = append(answer.Media, docsMedia{media, *bodyOf(r.Content[media])})
		}
		o.Answers = append(o.Answers, answer)
	}
	return o
}

func bodyOf(m *huma.MediaType) *docsBody {
	b := &docsBody{Schema: strings.TrimPrefix(m.Schema.Ref, schemaPrefix)}
	if text, ok := m.Example.(string); ok {
		b.Example = text
		return b
	}
	text, err := json.MarshalIndent(m.Example, "", "  ")
	if err != nil {
		panic(err) // the examples are ours
	}
	b.Example = string(text)
	return b
}

// membersOf lists the members of an object, those that must be there first.
func membersOf(s *huma.Schema) []docsMember {
	var all []docsMember
	for _, name := range slices.Sorted(maps.Keys(s.Properties)) {
		p := s.Properties[name]
		m := docsMember{Name: name, Type: typeInWords(p), About: p.Description, Set: "may be left out"}
		switch {
		case p.ReadOnly:
			m.Set = "set by the service"
		case slices.Contains(s.Required, name):
			m.Set = "always there"
		}
		all = append(all, m)
	}
	return all
}

// typeInWords says what a value looks like.
func typeInWords(s *huma.Schema) string {
	switch {
	case s.Ref != "":
		return strings.TrimPrefix(s.Ref, schemaPrefix)
	case s.Items != nil:
		return "list of " + typeInWords(s.Items)
	case len(s.Enum) > 0:
		codes := make([]string, len(s.Enum))
		for i, e := range s.Enum {
			codes[i] = fmt.Sprint(e)
		}
		return "one of " + strings.Join(codes, ", ")
	case s.Format == "date" || s.Format == "date-time":
		return s.Format
	}
	if values, ok := s.AdditionalProperties.(*huma.Schema); ok {
		return "map of " + typeInWords(values)
	}
	if s.Minimum != nil && s.Maximum != nil {
		return fmt.Sprintf("%s from %v to %v", s.Type, *s.Minimum, *s.Maximum)
	}
	return s.Type
}

func anchor(parts ...string) string {
	return strings.Trim(regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(strings.ToLower(strings.Join(parts, "-")), "-"), "-")
}

// Marks of the few that descriptions use of CommonMark.
var (
	bold = regexp.MustCompile(`\*\*([^*]+)\*\*`)
	code = regexp.MustCompile("`([^`]+)`")
)

// marked turns the paragraphs, bold words and code of a description into HTML.
func marked(s string) template.HTML {
	escaped := template.HTMLEscapeString(s)
	escaped = bold.ReplaceAllString(escaped, "<strong>$1</strong>")
	escaped = code.ReplaceAllString(escaped, "<code>$1</code>")
	return template.HTML("<p>" + strings.ReplaceAll(escaped, "\n\n", "</p><p>") + "</p>")
}
