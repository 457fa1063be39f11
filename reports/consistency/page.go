package consistency

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"html/template"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

//go:embed consistency.html
var files embed.FS

// Page draws consistency reports. It is safe for concurrent use.
type Page struct{ t *template.Template }

// NewPage returns a page.
func NewPage() (*Page, error) {
	t, err := paper.Template(files, "consistency.html")
	return &Page{t}, err
}

// view is a report with its tables.
type view struct {
	*Report
	MadeOn, For  string
	Skilled      paper.Table  // a row for each skill
	Correlated   *paper.Table // the three that are nil have no row
	Strict       *paper.Table // over all skills
	StrictSkills *paper.Table // in each skill
	Notes        []skillNote
	Apart        []apart
	Compared     *paper.Table // pairs of logs
	Others       []other      // matches that two people logged and that were not compared
}

// skillNote is what cannot be told, and about which skills.
type skillNote struct {
	Skills []string
	Text   string
	all    int // how many skills there are
}

// Said is the note as a sentence, or two.
func (n skillNote) Said() string {
	if n.all > 1 && len(n.Skills) == n.all {
		return fmt.Sprintf("All %d skills: %s", n.all, n.Text)
	}
	labels := make([]string, len(n.Skills))
	for i, s := range n.Skills {
		if labels[i] = s; i > 0 {
			labels[i] = paper.Lower(s)
		}
	}
	return paper.And(labels) + ": " + n.Text
}

// apart is a disagreement in words.
type apart struct {
	Disagreement
	Link, Day string // Link is empty in a file
}

// other is a match that two people logged.
type other struct {
	Said  string
	Pairs []pairLink
}

type pairLink struct{ Link, Said string }

// noted adds what cannot be told about a skill. Notes that are alike stand once.
func noted(all []skillNote, skill, text string, skills int) []skillNote {
	for i := range all {
		if all[i].Text == text {
			all[i].Skills = append(all[i].Skills, skill)
			return all
		}
	}
	return append(all, skillNote{[]string{skill}, text, skills})
}

// Sheet draws a report.
func (p *Page) Sheet(_ context.Context, r *Report) (paper.Sheet, error) {
	v := view{Report: r, MadeOn: paper.Day(string(cmp.Or(r.madeOn, models.DateOf(r.MadeAt)))),
		For: "for the coaches of this squad: coaches have letters, loggers have numbers"}
	if r.Named {
		v.For = "for managers alone: it names coaches. Do not pass it on"
	}
	v.laySkills()
	v.layDisagreements()
	v.layLogs()
	var b strings.Builder
	if err := p.t.ExecuteTemplate(&b, "consistency", v); err != nil {
		return paper.Sheet{}, fmt.Errorf("draw the consistency report of %s: %w", r.Squad.Name, err)
	}
	return paper.Sheet{Title: r.Title(), Body: template.HTML(b.String())}, nil // from the template, which escapes
}

var grades = paper.Scale{Factor: 1, Decimals: 1}

// laySkills puts what is known of each skill into tables.
func (v *view) laySkills() {
	v.Skilled = paper.Table{ID: "skills", Stack: true, Caption: "How far grades of each skill can be relied on.",
		Columns: []paper.Column{{Label: "Skill"},
			{Label: "One coach", Numeric: true, Title: "reliability of one coach’s grade"},
			{Label: "Mean of two", Numeric: true, Title: "reliability of the mean of two coaches’ grades"},
			{Label: "Coaches for 0.8", Numeric: true, Title: "how many coaches’ mean reaches a reliability of 0.8"},
			{Label: "Alpha (95%)", Numeric: true, Title: "agreement beyond chance, with its 95% interval"}}}
	six := paper.Table{ID: "correlations", Stack: true,
		Caption: "The six correlations, where the same coaches graded all.",
		Columns: []paper.Column{{Label: "Skill"}, {Label: "ICC(1,1)", Numeric: true}, {Label: "ICC(2,1)", Numeric: true},
			{Label: "ICC(3,1)", Numeric: true}, {Label: "ICC(1,k)", Numeric: true}, {Label: "ICC(2,k)", Numeric: true},
			{Label: "ICC(3,k)", Numeric: true}}}
	strict := severityTable("strict-skills", "How strict in each skill.", paper.Column{Label: "Skill"})
	for _, s := range v.Skills {
		v.Skilled.Rows = append(v.Skilled.Rows, skillRow(s))
		if c := s.Correlations; c != nil {
			row := []paper.Cell{{Text: s.Label, Under: paper.Plural(c.Coaches, "coach", "coaches")}}
			for _, r := range []float64{c.One1, c.One2, c.One3, c.Mean1, c.Mean2, c.Mean3} {
				row = append(row, paper.Cell{Text: paper.Number(r, 2)})
			}
			six.Rows = append(six.Rows, row)
		}
		for _, coach := range s.Severity {
			strict.Rows = append(strict.Rows, append([]paper.Cell{{Text: s.Label}}, severityRow(coach, "player", "players")...))
		}
		for _, note := range s.Notes {
			v.Notes = noted(v.Notes, s.Label, note, len(v.Skills))
		}
	}
	all := severityTable("strict", "How strict over all skills.")
	for _, coach := range v.Severity {
		all.Rows = append(all.Rows, severityRow(coach, "player’s skill", "players’ skills"))
	}
	v.Correlated, v.StrictSkills, v.Strict = six.UnlessEmpty(), strict.UnlessEmpty(), all.UnlessEmpty()
}

// Printed says that the sheet is made for others, and none of them is “you”.
func (v view) Printed() bool { return v.called.you == 0 }

func skillRow(s Skill) []paper.Cell {
	figure := func(v *float64) paper.Cell {
		if v == nil {
			return paper.Cell{Text: "–"}
		}
		return paper.Cell{Text: paper.Number(*v, 2)}
	}
	needed, alpha := paper.Cell{Text: "–"}, figure(s.Alpha)
	if s.CoachesFor80 != nil {
		needed.Text = fmt.Sprint(*s.CoachesFor80)
	}
	if s.Alpha95 != nil {
		alpha.Under = paper.Number(s.Alpha95.Lo, 2) + " to " + paper.Number(s.Alpha95.Hi, 2)
	}
	return []paper.Cell{
		{Text: s.Label, Under: fmt.Sprintf("%s by %s; %d of %d graded by two or more",
			paper.Plural(s.Grades, "grade", "grades"), paper.Plural(s.Coaches, "coach", "coaches"), s.ByTwo, s.Graded)},
		figure(s.OneCoach), figure(s.TwoCoaches), needed, alpha,
	}
}

func severityTable(id, caption string, first ...paper.Column) paper.Table {
	return paper.Table{ID: id, Stack: true, Caption: caption, Columns: append(first, paper.Column{Label: "Coach"},
		paper.Column{Label: "In words"},
		paper.Column{Label: "Stricter by (80%)", Numeric: true,
			Title: "grades below the coaches’ average, with the likely range"})}
}

// severityRow is a coach’s row; one and many name what they graded.
func severityRow(s Severity, one, many string) []paper.Cell {
	words := s.Words()
	if s.Range80.Lo <= 0 && s.Range80.Hi >= 0 {
		words = "Not surely stricter or more lenient."
	}
	return []paper.Cell{
		{Text: s.Coach, Under: fmt.Sprintf("%s of %s; others graded %d of them too",
			paper.Plural(s.Grades, "grade", "grades"), paper.Plural(s.Players, one, many), s.Shared)},
		{Text: words},
		{Text: grades.Value(s.Mean), Under: grades.Range(s.Range80.Lo, s.Range80.Hi)},
	}
}

func (v *view) layDisagreements() {
	for _, d := range v.Disagreements {
		one := apart{Disagreement: d, Day: paper.Day(string(d.Date))}
		if !v.unlinked {
			one.Link = fmt.Sprintf("/players/%d", d.PlayerID)
		}
		v.Apart = append(v.Apart, one)
	}
}

// layLogs puts pairs of logs into a table, and those that were not compared into a list.
func (v *view) layLogs() {
	t := paper.Table{ID: "logs", Stack: true, Caption: "Two loggers of one match.",
		Columns: []paper.Column{{Label: "Player and match"}, {Label: "Loggers"},
			{Label: "In both", Numeric: true, Title: "involvements in both logs, of all that either has"},
			{Label: "Kappa", Numeric: true, Title: "agreement on the kind beyond chance: 1 is full, 0 is chance"},
			{Label: "Read most differently"}}}
	for _, d := range v.Loggers.Doubles {
		match := d.Opponent + ", " + paper.Day(string(d.Date))
		var left other
		for _, p := range d.Pairs {
			link := ""
			if !v.unlinked {
				link = fmt.Sprintf("/logs/%d/agreement/%d", p.FirstLog, p.SecondLog)
			}
			by := p.First + " and " + p.Second
			if p.Found == nil {
				left.Said = d.Player + ", " + match
				left.Pairs = append(left.Pairs, pairLink{link, by})
				continue
			}
			t.Rows = append(t.Rows, []paper.Cell{{Text: d.Player, Under: match}, {Text: by, Link: link}, p.Found.cell(),
				{Text: p.Found.kappaWords()}, p.Found.misreadCell()})
		}
		if len(left.Pairs) > 0 {
			v.Others = append(v.Others, left)
		}
	}
	v.Compared = t.UnlessEmpty()
}

// cell says how many involvements are in both logs.
func (f *Found) cell() paper.Cell {
	if f.Either == 0 {
		return paper.Cell{Text: "–", Under: paper.Number(f.Minutes, 0) + " min"}
	}
	return paper.Cell{Text: fmt.Sprintf("%d of %d", f.Matched, f.Either), Under: paper.Number(f.Minutes, 0) + " min"}
}

func (f *Found) kappaWords() string {
	if f.Kappa == nil {
		return "–"
	}
	return paper.Number(*f.Kappa, 2)
}

func (f *Found) misreadCell() paper.Cell {
	if f.Misread == nil {
		return paper.Cell{Text: "nothing stands out"}
	}
	return paper.Cell{Text: f.Misread.Words, Under: fmt.Sprintf("%d of %d differ", f.Misread.Disagreed, f.Misread.Both)}
}
