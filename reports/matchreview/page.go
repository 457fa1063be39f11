package matchreview

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"html/template"
	"math"
	"strings"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

//go:embed matchreview.html
var files embed.FS

// Page draws match reviews. It is safe for concurrent use.
type Page struct{ t *template.Template }

// NewPage returns a page.
func NewPage() (*Page, error) {
	t, err := paper.Template(files, "matchreview.html")
	return &Page{t}, err
}

// view is a review in words and drawings.
type view struct {
	*Report
	MadeOn, Against, Score, Note string
	Own                          bool
	Halves                       []template.HTML
	Key                          string // what the letters of the events mean
	JobTable                     paper.Table
	Tables                       []paper.Table // how it went, between jobs, figures
	More                         []paper.Table // possessions and what is long
	MoreTitle, Proposed          string
	MomentTable                  *paper.Table
}

// Sheet draws a review.
func (p *Page) Sheet(_ context.Context, r *Report) (paper.Sheet, error) {
	v := view{Report: r, Own: r.own(), Against: r.Match.Against(),
		MadeOn: paper.Day(string(cmp.Or(r.madeOn, models.DateOf(r.MadeAt))))}
	if s := r.Match.Score; s != nil {
		v.Score = fmt.Sprintf("%d–%d", s.Ours, s.Theirs)
	}
	if r.write && !r.unlinked && len(r.Keep)+len(r.WorkOn) > 0 {
		v.Note = fmt.Sprintf("/players/%d?review=%d#write", r.Player.ID, r.Match.ID)
	}
	if len(r.Jobs) > 0 {
		for half := 1; half <= r.halves; half++ {
			v.Halves = append(v.Halves, r.drawHalf(half))
		}
	}
	v.Key, v.JobTable, v.Tables, v.More = r.key(), r.jobTable(), r.tables(), r.more()
	v.MoreTitle, v.Proposed = r.moreTitle(), r.proposedFrom()
	v.MomentTable = r.momentTable()
	var b strings.Builder
	if err := p.t.ExecuteTemplate(&b, "matchreview", v); err != nil {
		return paper.Sheet{}, fmt.Errorf("draw the match review of player %d: %w", r.Player.ID, err)
	}
	return paper.Sheet{Title: r.Title(), Body: template.HTML(b.String())}, nil // from the template, which escapes
}

// proposedFrom says what the proposed lines are drawn from.
func (r *Report) proposedFrom() string {
	switch {
	case r.Basis == OnTotals:
		return "Proposed from this match’s totals alone."
	case r.Basis == PartLog:
		return "Proposed from a part of this match, " + r.seen() + "."
	}
	return "Proposed from this match’s figures alone."
}

// at is a time on the match clock. The clock runs on over the end of a half, so the half is named there.
func (r *Report) at(c models.Clock) string {
	if r.half > 0 && c.Half < r.halves && c.Second >= c.Half*r.half {
		return c.String()
	}
	return c.Time()
}

// key says what the letters of the events mean that occur.
func (r *Report) key() string {
	var words []string
	seen := map[models.EventKind]bool{}
	for _, e := range r.Events {
		if !seen[e.Kind] {
			seen[e.Kind] = true
			e.Ours = true
			words = append(words, letterOf(e)+" "+eventWords(e.Kind))
		}
	}
	if len(words) == 0 {
		return ""
	}
	return strings.Join(words, ", ") + "; small letters and dotted lines are the opponents’."
}

func eventWords(k models.EventKind) string { return strings.ReplaceAll(string(k), "_", " ") }

// columns are the columns of a table: those after the first so many are numbers.
func columns(words int, labels ...string) []paper.Column {
	all := make([]paper.Column, len(labels))
	for i, l := range labels {
		all[i] = paper.Column{Label: l, Numeric: i >= words}
	}
	return all
}

// effectIn is an effect as a table says it.
func effectIn(e Effect) string {
	if e == Unknown {
		return "not recorded"
	}
	return string(e)
}

func (r *Report) jobTable() paper.Table {
	t := paper.Table{ID: "jobs-table", Caption: "Every involvement, score and card by the match clock", Stack: true,
		Columns: columns(4, "Clock", "What", "Effect", "Details", "Possession", "Until the next")}
	e := 0
	event := func() {
		x := r.Events[e]
		side := "opponents"
		if x.Own {
			side = r.Player.KnownAs
		} else if x.Ours {
			side = "our side"
		}
		t.Rows = append(t.Rows, paper.Text(r.at(x.Clock), paper.Upper(eventWords(x.Kind)), "", side, "", ""))
		e++
	}
	for i := range r.Jobs {
		j := &r.Jobs[i]
		for e < len(r.Events) && r.Events[e].Clock.Compare(j.Clock) < 0 {
			event()
		}
		possession, gap := "", ""
		if j.Possession != nil {
			possession = fmt.Sprint(*j.Possession)
		}
		if j.Gap != nil {
			gap = fmt.Sprintf("%d s", *j.Gap)
		}
		t.Rows = append(t.Rows, paper.Text(r.at(j.Clock), j.Label, effectIn(j.Effect), strings.Join(j.Details, ", "),
			possession, gap))
	}
	for e < len(r.Events) {
		event()
	}
	return t
}

// number prints a count that may have parts: 3, 3.5.
func number(x float64) string {
	if x == float64(int(x)) {
		return paper.Number(x, 0)
	}
	return paper.Number(x, 1)
}

func count(n int) string { return fmt.Sprint(n) }

// tables are those that every reader looks at.
func (r *Report) tables() (all []paper.Table) {
	if len(r.Tallies) > 0 {
		t := paper.Table{ID: "tallies-table", Caption: "How they went" + r.part(),
			Columns: columns(1, "Involvement", "All", "Gained", "Neither", "Lost", "Not recorded")}
		for _, k := range r.Tallies {
			t.Rows = append(t.Rows, paper.Text(k.Label, count(k.N), count(k.Gained), count(k.Even), count(k.Lost),
				count(k.Unknown)))
		}
		all = append(all, t)
	}
	if q := r.Work.Quarters; len(q) > 0 {
		t := paper.Table{ID: "own-quarters-table", Caption: "By quarter of the own time on the pitch",
			Columns: columns(1, "Quarter", "Minutes", "Jobs", "Gained", "Lost")}
		for _, k := range q {
			t.Rows = append(t.Rows, paper.Text(count(k.Quarter), paper.Number(k.Minutes, 1), count(k.Jobs), count(k.Gained),
				count(k.Lost)))
		}
		all = append(all, t)
	}
	if k := r.Work; k.PlacesOwed > 0 || k.TacklesTimed > 0 || k.ChainsOfThree > 0 {
		t := paper.Table{ID: "between-table", Caption: "Between jobs" + r.part(), Columns: columns(1, "What", "Figure")}
		row := func(label, words string) { t.Rows = append(t.Rows, paper.Text(label, words)) }
		if k.PlacesOwed > 0 {
			row("In place on time for the next phase", fmt.Sprintf("%d of %d", k.PlacesTaken, k.PlacesOwed))
		}
		if k.TacklesTimed > 0 {
			row("Tackle, up, next job done", fmt.Sprintf("%d of %d", k.TacklesNext, k.TacklesTimed))
		}
		if k.ChainsOfThree > 0 {
			row("Chains of three jobs or more", count(k.ChainsOfThree))
			row("The longest chain, from "+r.at(k.Chains[0].From), fmt.Sprintf("%d jobs", k.Chains[0].Jobs))
		}
		all = append(all, t)
	}
	return append(all, r.ballTables()...)
}

// part says in a caption that the log covers a part.
func (r *Report) part() string {
	if r.Basis == PartLog {
		return ", " + r.seen()
	}
	return ""
}

// ballTables are carries, choices, arrivals, shares, figures and totals.
func (r *Report) ballTables() (all []paper.Table) {
	if len(r.Carries) > 0 {
		t := paper.Table{ID: "carries-table", Caption: "Carries by zone and width" + r.part(),
			Columns: columns(2, "Zone", "Width", "Carries", "Won", "Metres", "Over expected")}
		for _, c := range r.Carries {
			metres, over := "–", "–"
			if c.Measured > 0 {
				metres = paper.Number(c.Metres, 1)
			}
			if c.OverExpected != nil {
				over = paper.Number(*c.OverExpected, 1)
			}
			t.Rows = append(t.Rows, paper.Text(c.Zone, c.Width, count(c.Carries), count(c.Gained), metres, over))
		}
		if r.own() {
			t.Columns = t.Columns[:5]
			for i := range t.Rows {
				t.Rows[i] = t.Rows[i][:5]
			}
		}
		all = append(all, t)
	}
	if c := r.Choices; c.Best+c.Fair+c.BetterOn > 0 {
		t := paper.Table{ID: "choices-table", Caption: "Choices with the ball" + r.part(),
			Columns: columns(1, "Choice", "Times")}
		for _, row := range []struct {
			label string
			n     int
		}{{"Best", c.Best}, {"Fair", c.Fair}, {"Better was on", c.BetterOn}, {"Not recorded", c.NotRecorded}} {
			t.Rows = append(t.Rows, paper.Text(row.label, count(row.n)))
		}
		all = append(all, t)
	}
	if len(r.Arrivals) > 0 {
		t := paper.Table{ID: "arrivals-table", Caption: "Breakdown arrivals" + r.part(),
			Columns: columns(1, "Breakdown", "First", "Second", "Later", "Not recorded", "Gained")}
		for _, a := range r.Arrivals {
			t.Rows = append(t.Rows, paper.Text(a.Label, count(a.First), count(a.Second), count(a.Later),
				count(a.NotRecorded), count(a.Gained)))
		}
		all = append(all, t)
	}
	if len(r.Shares) > 0 {
		all = append(all, r.shareTable())
	}
	if len(r.Expected) > 0 {
		all = append(all, r.expectedTable())
	}
	if len(r.Counts) > 0 && len(r.Jobs) == 0 {
		all = append(all, r.countTable("Totals of the match"))
	}
	return all
}

// expectedTable has the recorded and the expected as they are counted: in the minutes of the match.
func (r *Report) expectedTable() paper.Table {
	t := paper.Table{ID: "expected-table", Caption: "Headline figures beside what was expected of this match",
		Columns: columns(1, "Figure", "Recorded", "Expected", "Range (80%)", "Reads")}
	for _, f := range r.Expected {
		scale := paper.ScaleOf(f.Unit)
		recorded, expected := evidence.OddWords(models.OddMatch{Value: f.Recorded, Of: f.Of, Expected: f.Expected}, scale)
		lo, hi := f.Range80.Lo, f.Range80.Hi
		between := scale.Range(lo, hi)
		if lo == math.Trunc(lo) && hi == math.Trunc(hi) { // of a count
			between = number(lo) + " to " + number(hi)
		}
		t.Rows = append(t.Rows, paper.Text(f.Label, recorded, expected, between, string(f.Reads)))
	}
	return t
}

func (r *Report) countTable(caption string) paper.Table {
	t := paper.Table{ID: "counts-table", Caption: caption, Columns: columns(1, "Count", "Total")}
	for _, c := range r.Counts {
		t.Rows = append(t.Rows, paper.Text(c.Label, number(c.Value)))
	}
	return t
}

// shareTable says where each count is from if they differ: totals count all minutes, a log those watched.
func (r *Report) shareTable() paper.Table {
	from := map[models.Source]bool{}
	for _, s := range r.Shares {
		from[s.Source] = true
	}
	caption := "Share of the team’s work"
	switch {
	case len(from) > 1 && r.Basis == PartLog:
		caption += ": from the log of what was watched, from totals of all minutes on the pitch"
	case from[models.FromLog] && r.Basis == PartLog:
		caption += r.part()
	default:
		caption += " in the minutes on the pitch"
	}
	t := paper.Table{ID: "shares-table", Caption: caption, Columns: columns(1, "Count", "Own", "Team", "Share")}
	if len(from) > 1 {
		t.Columns = append(t.Columns, paper.Column{Label: "From"})
	}
	for _, s := range r.Shares {
		row := paper.Text(s.Label, number(s.Player), number(s.Team), paper.ScaleOf("%").Value(s.Share), string(s.Source))
		t.Rows = append(t.Rows, row[:len(t.Columns)])
	}
	return t
}

// moreTitle names what is folded away.
func (r *Report) moreTitle() string {
	var words []string
	if len(r.Possessions) > 0 {
		words = append(words, "possessions")
	}
	if len(r.Choices.Else) > 0 {
		words = append(words, "choices")
	}
	if len(r.Work.Chains) > 0 {
		words = append(words, "chains")
	}
	if r.besideLog() {
		words = append(words, "totals")
	}
	if len(r.Figures) > 0 {
		words = append(words, "every figure")
	}
	return paper.Upper(paper.And(words))
}

// more are the tables that are folded away.
func (r *Report) more() (all []paper.Table) {
	if len(r.Possessions) > 0 {
		t := paper.Table{ID: "possessions-table", Caption: "What each possession led to", Stack: true,
			Columns: columns(5, "Clock", "Half", "Began from", "Jobs", "Ended in")}
		for _, p := range r.Possessions {
			t.Rows = append(t.Rows, paper.Text(p.From.Time(), count(p.Half), cmp.Or(p.Start, "–"), strings.Join(p.Jobs, ", "),
				cmp.Or(p.End, "–")))
		}
		all = append(all, t)
	}
	if len(r.Choices.Else) > 0 {
		t := paper.Table{ID: "else-table", Caption: "Choices, and what else was on", Stack: true,
			Columns: columns(4, "Clock", "What", "Choice", "What else was on")}
		for _, c := range r.Choices.Else {
			t.Rows = append(t.Rows, paper.Text(r.at(c.Clock), c.Label, cmp.Or(c.Choice, "–"), cmp.Or(c.Options, "–")))
		}
		all = append(all, t)
	}
	if len(r.Work.Chains) > 0 {
		t := paper.Table{ID: "chains-table", Caption: "The longest chains of jobs", Stack: true,
			Columns: columns(3, "From", "To", "Jobs")}
		for _, c := range r.Work.Chains {
			t.Rows = append(t.Rows, paper.Text(r.at(c.From), r.at(c.To), strings.Join(c.Words, ", ")))
		}
		all = append(all, t)
	}
	if r.besideLog() {
		all = append(all, r.countTable("Totals of the whole match, beside the log of a part"))
	}
	if len(r.Figures) > 0 {
		all = append(all, r.figureTable())
	}
	return all
}

// besideLog says whether totals tell of what the log does not cover.
func (r *Report) besideLog() bool { return r.Basis == PartLog && len(r.Jobs) > 0 && len(r.Counts) > 0 }

func (r *Report) figureTable() paper.Table {
	t := paper.Table{ID: "figures-table", Caption: "Figures of this match",
		Columns: columns(1, "Figure", "This match", "Stands on", "Level then", "This match alone fits", "Reads")}
	for _, f := range r.Figures {
		scale := paper.ScaleOf(f.Unit)
		basis := string(f.Source)
		if f.Unit == "%" {
			basis = number(f.Numerator) + " of " + number(f.Denominator) + ", " + basis
		}
		level, fits, reads := "–", "–", ""
		if f.Level != nil {
			level = scale.Value(*f.Level)
		}
		if f.Fits != nil {
			fits = scale.Range(f.Fits.Lo, f.Fits.Hi)
		}
		if f.Level != nil && f.Fits != nil {
			switch {
			case *f.Level < f.Fits.Lo:
				reads = "above"
			case *f.Level > f.Fits.Hi:
				reads = "below"
			default:
				reads = "as the level"
			}
		}
		t.Rows = append(t.Rows, paper.Text(f.Label, scale.Value(f.Value), basis, level, fits, reads))
	}
	if r.own() {
		t.Columns = t.Columns[:3]
		for i := range t.Rows {
			t.Rows[i] = t.Rows[i][:3]
		}
	}
	return t
}

func (r *Report) momentTable() *paper.Table {
	if len(r.Moments) == 0 {
		return nil
	}
	t := paper.Table{ID: "moments-table", Caption: "Moments, in order", Stack: true,
		Columns: columns(4, "Clock", "What", "Note", "Video")}
	for _, m := range r.Moments {
		video := m.VideoFile
		if m.VideoFrom != nil {
			video = strings.TrimSpace(fmt.Sprintf("%s %s", video, models.Clock{Second: int(*m.VideoFrom)}.Time()))
		}
		t.Rows = append(t.Rows, []paper.Cell{{Text: r.at(m.Clock)},
			{Text: m.Kind.Label(), Under: strings.Join(m.Details, ", ")}, {Text: cmp.Or(m.Note, "–")},
			{Text: cmp.Or(video, "–")}})
	}
	return &t
}
