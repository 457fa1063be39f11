package brief

import (
	"context"
	"embed"
	"fmt"
	"html/template"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

//go:embed brief.html
var files embed.FS

// Page draws briefs. It is safe for concurrent use.
type Page struct{ t *template.Template }

// NewPage returns a page.
func NewPage() (*Page, error) {
	t, err := paper.Template(files, "brief.html")
	return &Page{t}, err
}

// view is a brief with its tables.
type view struct {
	*Report
	On, MadeOn, Seen string
	There            string
	Agreed           paper.Table
	Places           []placeView
}

type placeView struct {
	Place
	Anchor     string
	Known      *paper.Table // by criterion; the three that are nil have nothing to show
	Together   *paper.Table
	Pairs      *paper.Table
	Candidates []candidateView
}

type candidateView struct {
	Candidate
	Played, Decided string
	Blank           bool // there is room to write
}

// Sheet draws a brief.
func (p *Page) Sheet(_ context.Context, r *Report) (paper.Sheet, error) {
	v := view{Report: r, On: paper.Day(string(r.Date)), MadeOn: paper.Day(string(r.madeOn)),
		Seen: paper.Day(string(r.Until)), There: paper.And(r.Present)}
	v.Agreed = paper.Table{ID: "agreed", Stack: true, Caption: "What the meeting agreed to compare by.",
		Columns: []paper.Column{{Label: "Criterion"}, {Label: "Weight", Numeric: true}, {Label: "Share", Numeric: true}}}
	for _, c := range r.Criteria {
		under := c.Words
		if under == "" && c.Typed {
			under = "judged in words"
		}
		v.Agreed.Rows = append(v.Agreed.Rows, []paper.Cell{{Text: c.Label, Under: under},
			{Text: fmt.Sprint(c.Weight)}, {Text: paper.Number(100*c.Share, 0) + "%"}})
	}
	for i, place := range r.Places {
		v.Places = append(v.Places, r.lay(place, fmt.Sprintf("place-%d", i+1)))
	}
	var b strings.Builder
	if err := p.t.ExecuteTemplate(&b, "brief", v); err != nil {
		return paper.Sheet{}, fmt.Errorf("draw the brief of meeting %d: %w", r.MeetingID, err)
	}
	return paper.Sheet{Title: r.Title(), Body: template.HTML(b.String())}, nil // from the template, which escapes
}

// lay puts a place into tables.
func (r *Report) lay(p Place, anchor string) placeView {
	v := placeView{Place: p, Anchor: anchor}
	known := paper.Table{ID: anchor + "-known", Stack: true, Caption: "What is known of each candidate.",
		Columns: []paper.Column{{Label: "Candidate"}}}
	together := paper.Table{ID: anchor + "-together", Stack: true, Caption: "All criteria together.",
		Columns: []paper.Column{{Label: "Candidate"},
			{Label: "Composite (likely)", Numeric: true, Title: "in spreads between the players of the group, from its mean"},
			{Label: "First", Numeric: true, Title: "chance of being first of those compared"},
			{Label: "Second", Numeric: true}, {Label: "Third", Numeric: true}}}
	for _, c := range p.Candidates {
		shown := candidateView{Candidate: c, Played: c.playedWords(), Decided: decided(c.Decision),
			Blank: c.Decision == models.Undecided}
		v.Candidates = append(v.Candidates, shown)
		if len(c.Lines) > 0 {
			row := []paper.Cell{{Text: c.Name, Under: shown.Played}}
			for _, l := range c.Lines {
				cell := paper.Cell{Text: l.Words}
				if l.Matches > 0 {
					cell.Under = paper.Plural(l.Matches, "match", "matches")
				}
				row = append(row, cell)
			}
			if len(known.Rows) == 0 {
				for _, l := range c.Lines {
					known.Columns = append(known.Columns, paper.Column{Label: l.Label})
				}
			}
			known.Rows = append(known.Rows, row)
		}
		if c.Composite != nil {
			row := []paper.Cell{{Text: c.Name}, {Text: signed(c.Composite.Mean),
				Under: signed(c.Composite.Range80.Lo) + " to " + signed(c.Composite.Range80.Hi)}}
			for _, chance := range []*float64{c.First, c.Second, c.Third} {
				cell := paper.Cell{Text: "–"}
				if chance != nil {
					cell.Text = paper.Chance(*chance)
				}
				row = append(row, cell)
			}
			together.Rows = append(together.Rows, row)
		}
	}
	v.Known, v.Together, v.Pairs = known.UnlessEmpty(), together.UnlessEmpty(), p.pairs(anchor)
	return v
}

// signed prints a composite.
func signed(x float64) string {
	if s := paper.Number(x, 1); x > 0 && s != "0.0" {
		return "+" + s
	}
	return paper.Number(x, 1)
}

// pairs is each candidate against each other: the chance that the one of the row is ahead of the one of the column.
func (p Place) pairs(anchor string) *paper.Table {
	if len(p.Pairs) == 0 {
		return nil
	}
	t := paper.Table{ID: anchor + "-pairs", Stack: true,
		Caption: "The chance that the candidate of the row is ahead of the one of the column.",
		Columns: []paper.Column{{Label: "Candidate"}}}
	ahead := map[[2]int64]float64{}
	for _, pair := range p.Pairs {
		ahead[[2]int64{pair.PlayerID, pair.OtherID}] = pair.Ahead
		ahead[[2]int64{pair.OtherID, pair.PlayerID}] = 1 - pair.Ahead
	}
	var in []Candidate
	for _, c := range p.Candidates {
		if c.Composite != nil {
			in = append(in, c)
			t.Columns = append(t.Columns, paper.Column{Label: c.Name, Numeric: true})
		}
	}
	for _, one := range in {
		row := []paper.Cell{{Text: one.Name}}
		for _, other := range in {
			chance, known := ahead[[2]int64{one.PlayerID, other.PlayerID}]
			cell := paper.Cell{Text: "–"}
			if known {
				cell.Text = paper.Chance(chance)
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	return &t
}
