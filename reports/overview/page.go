package overview

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"html"
	"html/template"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

//go:embed overview.html
var files embed.FS

// Page draws overviews. It is safe for concurrent use.
type Page struct{ t *template.Template }

// NewPage returns a page.
func NewPage() (*Page, error) {
	t, err := paper.Template(files, "overview.html")
	return &Page{t}, err
}

// view is an overview in words and drawings.
type view struct {
	*Report
	Tables []table
	Keys   []keyLine // what the columns mean
	MadeOn string
	Method string // the address of the page with more, empty in a file
}

// table is a position group.
type table struct {
	Anchor, Label, Caption string
	Heads                  []head
	Rows                   []line
}

// head is the head of a column.
type head struct{ Label, Under string }

// line is a player's row.
type line struct {
	Name, Link, Position string
	Notes                []string
	Played, Logged       string
	Cells                []cellView
	Goals                []string
	GoalsLink            string
	Review, ReviewUnder  string
	Late                 bool // the review is overdue
}

// cellView is a level in words and as a drawing.
type cellView struct {
	Label, Value, Link string
	Words, Short       string // the direction, whole and as it fits on paper
	Bold               bool   // the direction is firm, or asks for action
	Drawing            template.HTML
}

// keyLine is what a column means.
type keyLine struct{ Label, Words string }

// Sheet draws an overview.
func (p *Page) Sheet(_ context.Context, o *Report) (paper.Sheet, error) {
	v := view{Report: o, MadeOn: paper.Day(string(cmp.Or(o.madeOn, models.DateOf(o.MadeAt))))}
	if !o.unlinked {
		v.Method = "/help#numbers"
	}
	for i := range o.Groups {
		v.Tables = append(v.Tables, o.table(&o.Groups[i]))
	}
	v.Keys = o.keys()
	var b strings.Builder
	if err := p.t.ExecuteTemplate(&b, "overview", v); err != nil {
		return paper.Sheet{}, fmt.Errorf("draw the overview of %s: %w", o.Squad.Name, err)
	}
	return paper.Sheet{Title: o.Title(), Body: template.HTML(b.String())}, nil // from the template, which escapes
}

// keys say once what each column means; what is the same of all skills stands in one line.
func (o *Report) keys() (all []keyLine) {
	known := map[string]bool{}
	var skills []string
	meaning := ""
	for _, g := range o.Groups {
		for _, col := range g.Columns {
			switch name := key(col.Indicator, col.Skill) + col.Label; {
			case known[name]:
			case col.Skill != "":
				known[name], meaning = true, col.Meaning
				skills = append(skills, col.Label)
			default:
				known[name] = true
				all = append(all, keyLine{col.Label, meaningOf(col)})
			}
		}
	}
	if len(skills) > 0 {
		all = append(all, keyLine{strings.Join(skills, ", "), meaning})
	}
	return all
}

// meaningOf is what a column means, and which way is better where that is not up.
func meaningOf(col Column) string {
	switch col.Better {
	case models.Lower:
		return col.Meaning + " Lower is better."
	case models.Neither:
		return col.Meaning + " Neither more nor less is better."
	}
	return col.Meaning
}

func (o *Report) table(g *Group) table {
	t := table{Anchor: "group-" + strings.ReplaceAll(string(g.Code), "_", "-"), Label: g.Label,
		Caption: paper.Plural(len(g.Players), "player", "players")}
	if g.Code == models.GroupUnknown {
		t.Anchor = "group-unknown"
	}
	for _, col := range g.Columns {
		h := head{Label: col.Label}
		if col.Scale != nil {
			h.Under = scaleOf(col).Range(col.Scale.Lo, col.Scale.Hi)
		}
		t.Heads = append(t.Heads, h)
	}
	for i := range g.Players {
		t.Rows = append(t.Rows, o.line(g, &g.Players[i]))
	}
	return t
}

func scaleOf(col Column) paper.Scale { return paper.ScaleOf(col.Unit) }

func (o *Report) line(g *Group, row *Row) line {
	l := line{Name: row.Name, Notes: row.Notes}
	if len(row.Positions) > 0 {
		l.Position = row.Positions[0].Label()
	}
	report := ""
	if !o.unlinked {
		report = fmt.Sprintf("/players/%d/seasons/%d", row.PlayerID, o.Season.ID)
		l.Link, l.GoalsLink = report, fmt.Sprintf("/players/%d/goals", row.PlayerID)
	}
	l.Played, l.Logged = row.Evidence.words()
	for i := range row.Cells {
		l.Cells = append(l.Cells, cellOf(g.Columns[i], &row.Cells[i], report))
	}
	l.Goals = row.Goals.words()
	l.Review, l.ReviewUnder = row.Review.words()
	l.Late = row.Review != nil && row.Review.Status == models.ReviewOverdue
	return l
}

// words say what the row stands on: "14 matches" and "912 min, 83% logged".
func (e Evidence) words() (played, logged string) {
	if e.Matches == 0 {
		return "no match yet", ""
	}
	played = paper.Plural(e.Matches, "match", "matches")
	if e.WithoutMinutes == e.Matches {
		return played, "minutes not recorded"
	}
	logged = paper.Number(e.Minutes, 0) + " min, "
	switch {
	case e.LogMinutes == 0:
		logged += "no log"
	case e.LogMinutes >= e.Minutes-0.5:
		logged += "all logged"
	default:
		logged += paper.Chance(e.LogShare) + " logged"
	}
	if e.WithoutMinutes > 0 {
		logged += fmt.Sprintf("; %d without minutes", e.WithoutMinutes)
	}
	return played, logged
}

func (g Goals) words() (all []string) {
	open := g.Open - g.Overdue - g.Proposed
	for _, part := range []struct {
		n     int
		words string
	}{{open, "open"}, {g.Overdue, "overdue"}, {g.Proposed, "to confirm as met"}, {g.Met, "met"}} {
		if part.n > 0 {
			all = append(all, fmt.Sprintf("%d %s", part.n, part.words))
		}
	}
	return all
}

func (r *Review) words() (text, under string) {
	if r == nil {
		return "–", ""
	}
	switch r.Status {
	case models.ReviewOverdue:
		return "overdue", paper.Plural(r.OverdueDays, "day", "days")
	case models.ReviewDue:
		return "due today", ""
	case models.ReviewPaused:
		return "paused", ""
	case models.ReviewLeaving:
		return "leaves first", ""
	}
	if r.Due == nil {
		return "–", ""
	}
	return "due " + paper.ShortDay(string(*r.Due)), ""
}

func cellOf(col Column, c *Cell, report string) cellView {
	v := cellView{Label: col.Label, Words: c.Words, Short: shorten(c.Words), Bold: c.firm() || c.Calls}
	if c.Level == nil {
		switch {
		case c.Calls:
		case c.Verdict == models.VerdictTooLittle:
			v.Words, v.Short = tooLittle, tooLittle
		default:
			v.Value = "–"
		}
		return v
	}
	scale := scaleOf(col)
	v.Value = scale.Value(*c.Level)
	if c.ToCheck {
		v.Value += "*"
	}
	if report != "" {
		figure := "#skill-" + col.Skill // where the report draws its matches
		if col.Indicator != "" {
			figure = "#trend-" + col.Indicator
		}
		v.Link = report + strings.ReplaceAll(figure, "_", "-")
	}
	v.Drawing = drawing(col, c, fmt.Sprintf("likely %s", scale.Range(c.Range80.Lo, c.Range80.Hi)))
	return v
}

// tooLittle is what the table says of a level that cannot be told; the legend says from when it can.
const tooLittle = "too little"

// shorten makes the words fit into a narrow column.
func shorten(words string) string {
	switch {
	case strings.HasPrefix(words, "probably "):
		return "probable" // the mark beside it says which way
	case strings.Contains(words, "calls for action"):
		return "calls for action"
	}
	return words
}

// A drawing is this wide and high, in units of its own; the scale of its column runs between the margins.
const (
	wide, high   = 76.0, 14.0
	left, right  = 3.0, 58.0 // of the scale; the mark of the direction stands on its right
	middle, mark = high / 2, 68.0
)

// drawing is a level as a dot in its likely range, on the scale of the column, with the group's average as an upright
// line and the direction as a mark. It reads in black and white: shape and weight say all that colour could.
func drawing(col Column, c *Cell, label string) template.HTML {
	ends := models.Range{Lo: c.Range80.Lo, Hi: c.Range80.Hi}
	if col.Scale != nil {
		ends = *col.Scale
	}
	x := func(v float64) float64 {
		if !(ends.Hi > ends.Lo) {
			return (left + right) / 2
		}
		return left + (right-left)*min(max((v-ends.Lo)/(ends.Hi-ends.Lo), 0), 1)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="tiny" viewBox="0 0 %g %g" role="img" aria-label="%s">`, wide, high,
		html.EscapeString(label))
	fmt.Fprintf(&b, `<path class="axis" d="M%g %gH%g"/>`, left, middle, right)
	if c.Average != nil {
		fmt.Fprintf(&b, `<path class="average" d="M%.1f 1V13"/>`, x(*c.Average))
	}
	fmt.Fprintf(&b, `<path class="range" d="M%.1f %gH%.1f"/>`, x(c.Range80.Lo), middle, x(c.Range80.Hi))
	fmt.Fprintf(&b, `<circle class="level" cx="%.1f" cy="%g" r="3"/>`, x(*c.Level), middle)
	b.WriteString(direction(c) + `</svg>`)
	return template.HTML(b.String()) // numbers, and a label that is escaped
}

// direction is the mark of a verdict: a triangle, filled where the direction is firm and empty where it is probable;
// two lines for steady, and nothing where it is unclear.
func direction(c *Cell) string {
	if c.Calls {
		return ""
	}
	class := "probable"
	if c.firm() {
		class = "firm"
	}
	up, down := fmt.Sprintf("M%g 11L%g 2.5L%g 11Z", mark-5, mark, mark+5), fmt.Sprintf("M%g 3L%g 11.5L%g 3Z", mark-5,
		mark, mark+5)
	switch trend.Verdict(c.Verdict) {
	case trend.Improving, trend.ProbablyImproving:
		return `<path class="` + class + `" d="` + up + `"/>`
	case trend.Declining, trend.ProbablyDeclining:
		return `<path class="` + class + `" d="` + down + `"/>`
	case trend.Steady:
		return fmt.Sprintf(`<path class="steady" d="M%g 5.5H%gM%g 9H%g"/>`, mark-4, mark+4, mark-4, mark+4)
	}
	return ""
}
