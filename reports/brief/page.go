package brief

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/selection"
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
	Recorded         string // who recorded the steps
	There            string
	Agreed           paper.Table
	Places           []placeView
}

type placeView struct {
	Place
	Anchor     string
	Known      *paper.Table // by criterion; those that are nil have nothing to show
	Together   *paper.Table
	Pairs      *paper.Table
	Weights    *paper.Table
	Graded     bool // a candidate has adjusted grades
	Candidates []candidateView
}

type candidateView struct {
	Candidate
	Played, Decided string
	Free            string // availability, where no warning says it
	Blank           bool   // there is room to write
}

// Sheet draws a brief.
func (p *Page) Sheet(_ context.Context, r *Report) (paper.Sheet, error) {
	v := view{Report: r, On: paper.Day(string(r.Date)), MadeOn: paper.Day(string(r.madeOn)),
		Seen: paper.Day(string(r.Until)), Recorded: r.recorded(), There: paper.And(r.Present)}
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
			{Label: "Second", Numeric: true}, {Label: "Third", Numeric: true},
			{Label: "Changed by more evidence", Numeric: true}}}
	for _, c := range p.Candidates {
		shown := candidateView{Candidate: c, Played: c.playedWords(), Decided: decided(c.Decision),
			Free: c.free(), Blank: c.Decision == models.Undecided}
		v.Candidates, v.Graded = append(v.Candidates, shown), v.Graded || len(c.Grades) > 0
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
			together.Rows = append(together.Rows, append(row, p.helps(c.PlayerID)))
		}
	}
	v.Known, v.Together, v.Pairs = known.UnlessEmpty(), together.UnlessEmpty(), p.pairs(anchor)
	v.Weights = p.weights(anchor)
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

// names are the candidates' by their ids.
func (p Place) names() map[int64]string {
	names := map[int64]string{}
	for _, c := range p.Candidates {
		names[c.PlayerID] = c.Name
	}
	return names
}

// weights is from which share of each criterion on two neighbours in the order change places, and above them, where
// there are more than two, who comes among the first ones. It is nil where no weight alone changes the order.
func (p Place) weights(anchor string) *paper.Table {
	if !slices.ContainsFunc(p.Turns, func(t selection.Turn) bool { return t.At != nil }) {
		return nil
	}
	t, names := paper.Table{ID: anchor + "-weights", Stack: true, Columns: []paper.Column{{Label: "What would change"}},
		Caption: "How far one weight alone would have to go to change the order; the others keep their proportions."},
		p.names()
	first := []paper.Cell{{Text: paper.Upper(p.FirstOnes())}}
	for _, turn := range p.Turns[:len(p.Turns)/(len(p.Order)-1)] { // those of the first two, one for each criterion
		t.Columns = append(t.Columns, paper.Column{Label: fmt.Sprintf("%s, now %s%%", turn.Criterion,
			paper.Number(100*turn.Share, 0))})
		said := []string{}
		for _, l := range p.Leads {
			if l.Criterion == turn.Criterion {
				said = append(said, l.Words()+": "+names[l.OtherID])
			}
		}
		first = append(first, paper.Cell{Text: cmp.Or(strings.Join(said, "; "), "never")})
	}
	if len(p.Order) > 2 {
		t.Rows = append(t.Rows, first)
	}
	for some := range slices.Chunk(p.Turns, len(t.Columns)-1) {
		row := []paper.Cell{{Text: names[some[0].OtherID] + " ahead of " + names[some[0].PlayerID]}}
		for _, turn := range some {
			row = append(row, paper.Cell{Text: turn.Words()})
		}
		t.Rows = append(t.Rows, row)
	}
	return &t
}

// helps is the criterion on which more evidence of a candidate most likely changes who comes first, with the chance. It
// is a dash where nothing is compared, and for marks, which are known.
func (p Place) helps(player int64) paper.Cell {
	var best *selection.Resolved
	for i := range p.Resolved {
		if of := &p.Resolved[i]; of.PlayerID == player && (best == nil || of.Chance > best.Chance) {
			best = of
		}
	}
	if best == nil {
		return paper.Cell{Text: "–"}
	}
	return paper.Cell{Text: paper.Chance(best.Chance), Under: best.Criterion}
}
