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
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"
)

//go:embed docs
var docsFiles embed.FS

// published is a page or file that is the same for everyone.
type published struct {
	media   string
	content []byte
	script  bool // it runs the docs' own script
}

// registerDocs adds the pages that show the description to people: one for each part, one for each kind of problem.
// They need no other host, and a script only for the filter. They are drawn when one is first asked for.
func (s *Service) registerDocs(router *gin.Engine) {
	drawn := sync.OnceValue(s.docsPages)
	for _, route := range []string{"/docs", "/docs/:page", problemIndex, problemPath + ":page"} {
		router.GET(route, func(c *gin.Context) {
			pages := drawn()
			if page, ok := pages[c.Request.URL.Path]; ok {
				page.answer(c)
				return
			}
			missing := pages["missing"]
			c.Data(http.StatusNotFound, missing.media, missing.content)
		})
	}
}

// problemIndex is the page that lists all kinds of problem.
const problemIndex = "/problems"

// docsPart is a part of the description as its page prints it.
type docsPart struct {
	*huma.Tag
	Path       string
	Operations []docsOperation
}

// docsOperation is an operation as a page prints it.
type docsOperation struct {
	Method, Path string
	*huma.Operation
	Curl     string
	Words    string // what the filter looks through
	Body     *docsBody
	Answers  []docsAnswer
	Failures []docsProblem
}

// docsBody is what is sent or answered.
type docsBody struct {
	About    string
	Members  []docsMember
	Examples []docsExample
}

type docsAnswer struct {
	docsBody
	Status string
}

type docsExample struct{ Media, Text string }

// docsProblem is a way to fail as a page prints it.
type docsProblem struct {
	refusal
	Example string
}

// Path, Status, StatusText, Slug, When and Remedy are for templates.
func (p docsProblem) Path() string       { return problemPath + p.slug }
func (p docsProblem) Status() int        { return p.status }
func (p docsProblem) StatusText() string { return http.StatusText(p.status) }
func (p docsProblem) Slug() string       { return p.slug }
func (p docsProblem) When() string       { return p.when }
func (p docsProblem) Remedy() string     { return p.remedy }

type docsLink struct{ Path, Title string }

// docsPages draws all pages, by their paths, and the one for unknown paths. Their style, script and picture are among
// them.
func (s *Service) docsPages() map[string]published {
	doc := s.api.OpenAPI()
	var parts []docsPart
	nav := []docsLink{{"/docs", "API"}}
	for _, tag := range doc.Tags {
		p := docsPart{Tag: tag, Path: "/docs/" + anchor(tag.Name)}
		for _, path := range slices.Sorted(maps.Keys(doc.Paths)) {
			for _, method := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodDelete} {
				if op := operationAt(doc.Paths[path], method); op != nil && slices.Contains(op.Tags, tag.Name) {
					p.Operations = append(p.Operations, s.docsOperation(method, path, op))
				}
			}
		}
		parts = append(parts, p)
		nav = append(nav, docsLink{p.Path, tag.Name})
	}
	nav = append(nav, docsLink{"/docs/compatibility", "Compatibility"}, docsLink{problemIndex, "Problems"})
	t := template.Must(template.New("docs").Funcs(template.FuncMap{"text": marked, "form": typeInWords,
		"dict": dict}).ParseFS(docsFiles, "docs/*.html"))
	pages := map[string]published{}
	draw := func(path, file, title string, more map[string]any) {
		data := map[string]any{
			"Title": title, "Service": doc.Info.Title, "Version": doc.Info.Version, "Base": Path, "Path": path, "Nav": nav,
			"Filtered": file == "part.html",
		}
		maps.Copy(data, more)
		var b bytes.Buffer
		if err := t.ExecuteTemplate(&b, file, data); err != nil {
			panic(fmt.Errorf("draw the page %s of the description: %w", path, err)) // it is made from what is built in
		}
		pages[path] = published{htmlType + "; charset=utf-8", b.Bytes(), file == "part.html"}
	}
	draw("/docs", "index.html", nav[0].Title, map[string]any{"About": doc.Info.Description, "Parts": parts,
		"Curl": curl(http.MethodGet, Path+"/seasons", nil, "")})
	for _, p := range parts {
		draw(p.Path, "part.html", p.Name, map[string]any{"Part": p})
	}
	draw("/docs/compatibility", "compatibility.html", "Compatibility", nil)
	problems := s.docsProblems()
	draw(problemIndex, "problems.html", "Problems", map[string]any{"Problems": problems})
	for _, p := range problems {
		draw(p.Path(), "problem.html", strings.ReplaceAll(strings.ToUpper(p.slug[:1])+p.slug[1:], "-", " "),
			map[string]any{"Problem": p})
	}
	draw("missing", "missing.html", "No page at this address", nil)
	for name, media := range map[string]string{"docs.css": "text/css", "docs.js": "text/javascript",
		"docs.svg": "image/svg+xml"} {
		content, err := docsFiles.ReadFile("docs/" + name)
		if err != nil {
			panic(err) // it is built in
		}
		pages["/docs/"+name] = published{media: media + "; charset=utf-8", content: content}
	}
	return pages
}

func (s *Service) docsProblems() []docsProblem {
	var all []docsProblem
	for _, r := range everyRefusal() {
		p := docsProblem{refusal: r}
		if !r.plain {
			p.Example = pretty(asExample(r.example()))
		}
		all = append(all, p)
	}
	return all
}

func (s *Service) docsOperation(method, path string, op *huma.Operation) docsOperation {
	o := docsOperation{Method: method, Path: path, Operation: op}
	words := []string{op.Summary, method, path, op.OperationID}
	var sent any
	if op.RequestBody != nil {
		body := s.docsBody("an object", op.RequestBody.Content)
		o.Body, sent = &body, op.RequestBody.Content[jsonType].Example
		for _, m := range body.Members {
			words = append(words, m.Name)
		}
	}
	condition := ""
	for _, p := range op.Parameters {
		words = append(words, p.Name)
		if p.Name == "If-Match" {
			condition = `If-Match: "1"`
		}
	}
	o.Curl, o.Words = curl(method, path, sent, condition), strings.ToLower(strings.Join(words, " "))
	for _, status := range slices.Sorted(maps.Keys(op.Responses)) {
		r := op.Responses[status]
		if name, ok := strings.CutPrefix(r.Ref, "#/components/responses/"); ok {
			i := slices.IndexFunc(refusals, func(r refusal) bool { return r.name == name })
			o.Failures = append(o.Failures, docsProblem{refusal: refusals[i]})
			continue
		}
		o.Answers = append(o.Answers, docsAnswer{s.docsBody(r.Description, r.Content), status})
	}
	return o
}

func (s *Service) docsBody(about string, content map[string]*huma.MediaType) docsBody {
	b := docsBody{About: about}
	if m := content[jsonType]; m != nil && m.Schema != nil {
		b.Members = s.members(m.Schema, "", nil)
	}
	for _, media := range slices.Sorted(maps.Keys(content)) {
		example := docsExample{Media: media}
		if text, ok := content[media].Example.(string); ok {
			example.Text = text
		} else {
			example.Text = pretty(content[media].Example)
		}
		b.Examples = append(b.Examples, example)
	}
	return b
}

func pretty(example any) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(example); err != nil {
		panic(err) // the examples are ours
	}
	return strings.TrimSpace(b.String())
}

// curl is a line that does an operation, for a POSIX shell in which BASE and TOKEN are set.
func curl(method, path string, sent any, condition string) string {
	line := `curl -H "Authorization: Bearer $TOKEN"`
	if method != http.MethodGet {
		line += " -X " + method
	}
	if condition != "" {
		line += " -H " + quoted(condition)
	}
	if sent != nil {
		text, err := marshal(sent)
		if err != nil {
			panic(err) // the examples are ours
		}
		line += ` -H "Content-Type: application/json" --data ` + quoted(string(text))
	}
	return line + ` "$BASE` + regexp.MustCompile(`\{[^}]+\}`).ReplaceAllString(path, "1") + `"`
}

// quoted is a text as one word of a POSIX shell.
func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// dict makes a map of names and values, for a template that calls another.
func dict(pairs ...any) map[string]any {
	all := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		all[pairs[i].(string)] = pairs[i+1]
	}
	return all
}

func anchor(name string) string {
	return strings.Trim(regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(strings.ToLower(name), "-"), "-")
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
