package papertest

import (
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// block is a paragraph, a row of a table or another piece of a page's text.
type block struct {
	above []string // the headings, and names of tables, that it stands under, the outermost first
	text  string   // with a bar between elements
	row   bool     // of a table
}

var (
	// what a page shows as a picture, whose values stand in tables, and ways to other pages
	unreadElements = []string{"head", "noscript", "svg", "nav", "script", "style"}
	blockElements  = []string{"p", "li", "dd", "dt", "tr", "caption", "summary", "h1", "h2", "h3", "h4", "figcaption",
		"div", "section", "article", "table", "thead", "tbody", "ul", "ol", "dl", "details", "main", "header", "footer",
		"figure", "blockquote", "form", "label"}
	headings = []string{"", "h1", "h2", "h3", "h4", "summary", "caption", "dt"} // by how deep they stand
	// elements at whose end what is said in their headings ends
	sections = []string{"section", "article", "figure", "details", "table", "dl", "div", "li"}
)

// blocksOf returns what a page says, without how its figures are made.
func blocksOf(t testing.TB, page string) []block {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	w := walker{above: make([]string, len(headings))}
	w.walk(root)
	return w.all
}

type walker struct {
	all   []block
	above []string // by depth
	depth int      // of the heading that is being read, or 0
	row   bool
	text  strings.Builder
}

func (w *walker) walk(n *html.Node) {
	switch {
	case n.Type == html.TextNode:
		w.text.WriteString(n.Data)
		return
	case slices.Contains(unreadElements, n.Data), isMethod(n):
		return
	}
	cut := func() { w.text.WriteString("|") }
	if slices.Contains(blockElements, n.Data) {
		cut = w.end
	}
	cut()
	if slices.Contains(sections, n.Data) {
		before := slices.Clone(w.above)
		defer func() { w.above = before }()
	}
	if depth := slices.Index(headings, n.Data); depth > 0 {
		w.depth = depth
	}
	w.row = w.row || n.Data == "tr"
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		w.walk(c)
	}
	cut()
	if slices.Contains(headings, n.Data) {
		w.depth = 0
	}
	w.row = w.row && n.Data != "tr"
}

// end ends a block.
func (w *walker) end() {
	said := strings.Join(strings.Fields(w.text.String()), " ")
	w.text.Reset()
	if strings.Trim(said, "| ") == "" {
		return
	}
	b := block{text: said, row: w.row}
	for i, heading := range w.above {
		if heading != "" && (w.depth == 0 || i < w.depth) {
			b.above = append(b.above, heading)
		}
	}
	w.all = append(w.all, b)
	if w.depth > 0 {
		clear(w.above[w.depth:])
		w.above[w.depth] = said
	}
}

// isMethod tells whether an element says how figures are made.
func isMethod(n *html.Node) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool {
		return a.Val == "method" && (n.Data == "dl" && a.Key == "class" || n.Data == "details" && a.Key == "id")
	})
}
