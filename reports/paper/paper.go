// Package paper holds what every paper shares, so that a season report and a selection brief read alike: the shell and
// style of a self-contained file, partials for figures, tables and sentences, and the wording of numbers and dates. A
// paper is first its data, then its sentences, then its page; this package knows only about the last step.
package paper

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"io/fs"

	"throughline/reports/chart"
)

//go:embed templates
var templates embed.FS

//go:embed paper.css
var style string

// Style is the style sheet of every page and paper: one small file with variables, for screens from 360 px up and for
// A4.
func Style() string { return style + chart.Style }

// Sheet is one paper, ready to be put into a page or a file.
type Sheet struct {
	Title string        // of the document, such as "Season report: name, season"
	Body  template.HTML // what stands between the shell's header and footer
}

// saying puts a note at the top of a sheet, before anything else.
func (s Sheet) saying(note string) Sheet {
	if note != "" {
		s.Body = template.HTML(`<div class="caution" role="note" aria-label="As of an earlier day"><p>`+
			template.HTMLEscapeString(note)+`</p></div>`) + s.Body
	}
	return s
}

// Sentence is one of the plain sentences at the top of a paper.
type Sentence struct {
	Lead string `json:"lead"` // two or three words that say what the sentence is about
	Text string `json:"text"`
}

// Figure is a picture with the same values as a table under it.
type Figure struct {
	ID      string // unique in the paper, used as an anchor
	Title   string
	Reading string        // one sentence that says what the picture shows, in words
	Picture template.HTML // from reports/chart
	Table   Table
}

// Table is a table of text. Every row has as many cells as there are columns.
type Table struct {
	ID      string
	Caption string
	Columns []Column
	Rows    [][]Cell
	Stack   bool // on a phone each row becomes a block of labelled cells: for tables with much text in them
}

// UnlessEmpty is nil for a table without rows.
func (t Table) UnlessEmpty() *Table {
	if len(t.Rows) == 0 {
		return nil
	}
	return &t
}

// Column is one column of a table; a numeric one is set flush right.
type Column struct {
	Label   string
	Numeric bool
	Title   string // what the label means, where it needs saying
}

// Cell is one cell: its text, a smaller second line, a picture, and a link within the paper or page.
type Cell struct {
	Text  string
	Under string
	Image template.HTML
	Link  string
}

// Text returns cells without links.
func Text(texts ...string) []Cell {
	cells := make([]Cell, len(texts))
	for i, t := range texts {
		cells[i].Text = t
	}
	return cells
}

// Template returns the shared partials with a paper's own templates parsed on top of them. The partials are
// "sentences", "figure", "table" and "file".
func Template(own fs.FS, patterns ...string) (*template.Template, error) {
	t, err := template.New("paper").Funcs(template.FuncMap{"column": column}).ParseFS(templates, "templates/*.html")
	if err != nil {
		return nil, fmt.Errorf("parse the shared partials of papers: %w", err)
	}
	if own == nil {
		return t, nil
	}
	if t, err = t.ParseFS(own, patterns...); err != nil {
		return nil, fmt.Errorf("parse a paper's templates: %w", err)
	}
	return t, nil
}

// column returns column i of a table.
func column(t Table, i int) Column {
	if i < len(t.Columns) {
		return t.Columns[i]
	}
	return Column{}
}

// WriteFile writes a sheet as one self-contained HTML file that prints on A4 and reaches nothing outside itself: its
// policy allows its own style, by hash, and nothing else.
func WriteFile(w io.Writer, s Sheet) error {
	t, err := Template(nil)
	if err != nil {
		return err
	}
	sum := sha256.Sum256([]byte(Style()))
	var out bytes.Buffer
	err = t.ExecuteTemplate(&out, "file", map[string]any{
		"Sheet": s,
		"Policy": "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
			"'; base-uri 'none'; form-action 'none'",
		// The file's own style sheet is ours, embedded above; nothing of a user's is in it.
		"Style": template.CSS(Style()),
	})
	if err != nil {
		return fmt.Errorf("write the file of %q: %w", s.Title, err)
	}
	_, err = w.Write(out.Bytes())
	return err
}
