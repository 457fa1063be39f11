package pages

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/consistency"
	"throughline/reports/paper"
)

// consistencyAddress is the page about how far coaches' grades of a squad's season agree.
func consistencyAddress(squad, season int64) string {
	return fmt.Sprintf("/squads/%d/seasons/%d/consistency", squad, season)
}

// consistencyPage is the report with its tables.
type consistencyPage struct {
	*consistency.Report
	Skilled      paper.Table // a row for each skill
	Correlated   *paper.Table
	Strict       *paper.Table // over all skills
	StrictSkills *paper.Table // in each skill
	Notes        []skillNote
	Doubles      []doubleLog // matches that two people logged
}

// skillNote is what cannot be told, and about which skills.
type skillNote struct {
	Skills []string
	Text   string
}

// Said is the note as a sentence, or two.
func (n skillNote) Said() string { return paper.And(n.Skills) + ": " + n.Text }

// noted adds what cannot be told about a skill. Notes that are alike stand once.
func noted(all []skillNote, skill, text string) []skillNote {
	for i := range all {
		if all[i].Text == text {
			all[i].Skills = append(all[i].Skills, skill)
			return all
		}
	}
	return append(all, skillNote{[]string{skill}, text})
}

// consistency is GET /squads/:squad/seasons/:season/consistency.
func (p *Pages) consistency(c *gin.Context, who models.Who) error {
	squad, err := id(c, "squad")
	if err != nil {
		return err
	}
	season, err := id(c, "season")
	if err != nil {
		return err
	}
	var page consistencyPage
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page.Report, err = consistency.Read(tx, consistency.Request{SquadID: squad, SeasonID: season, Who: who,
			Now: who.Local(p.now())})
		if err != nil {
			return err
		}
		page.Doubles, err = doubleLogs(tx, season, squad)
		return err
	})
	if err != nil {
		return err
	}
	page.lay()
	return p.render(c, http.StatusOK, "consistency", "How far grades agree", page)
}

var grades = paper.Scale{Factor: 1, Decimals: 1}

// lay puts the figures into tables.
func (page *consistencyPage) lay() {
	page.Skilled = paper.Table{ID: "skills", Stack: true, Caption: "How far grades of each skill can be relied on.",
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
	for _, s := range page.Skills {
		page.Skilled.Rows = append(page.Skilled.Rows, skillRow(s))
		if c := s.Correlations; c != nil {
			row := []paper.Cell{{Text: s.Label, Under: paper.Plural(c.Coaches, "coach", "coaches")}}
			for _, v := range []float64{c.One1, c.One2, c.One3, c.Mean1, c.Mean2, c.Mean3} {
				row = append(row, paper.Cell{Text: paper.Number(v, 2)})
			}
			six.Rows = append(six.Rows, row)
		}
		for _, coach := range s.Severity {
			strict.Rows = append(strict.Rows, append([]paper.Cell{{Text: s.Label}}, severityRow(coach)...))
		}
		for _, note := range s.Notes {
			page.Notes = noted(page.Notes, s.Label, note)
		}
	}
	all := severityTable("strict", "How strict over all skills.")
	for _, coach := range page.Severity {
		all.Rows = append(all.Rows, severityRow(coach))
	}
	for table, into := range map[*paper.Table]**paper.Table{&six: &page.Correlated, &strict: &page.StrictSkills,
		&all: &page.Strict} {
		if len(table.Rows) > 0 {
			*into = table
		}
	}
}

func skillRow(s consistency.Skill) []paper.Cell {
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

func severityRow(s consistency.Severity) []paper.Cell {
	words := s.Words()
	if s.Range80.Lo <= 0 && s.Range80.Hi >= 0 {
		words = "Not surely stricter or more lenient."
	}
	return []paper.Cell{
		{Text: s.Coach, Under: fmt.Sprintf("%s of %s; others graded %d of them too",
			paper.Plural(s.Grades, "grade", "grades"), paper.Plural(s.Players, "player", "players"), s.Shared)},
		{Text: words},
		{Text: grades.Value(s.Mean), Under: grades.Range(s.Range80.Lo, s.Range80.Hi)},
	}
}
