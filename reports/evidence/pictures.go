package evidence

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// The anchors of the figures that are not trends.
const (
	OverviewID = "overview"
	SkillsID   = "skills"
)

// Overview sets the player's headline indicators on one scale: standard deviations between players, to the right is
// better. It is false if there is nothing to compare.
func (p *Player) Overview() (paper.Drawing, bool) {
	bars := chart.Bars{Title: "Where " + p.Person.Name + " stands"}
	reading := "Each dot is the player’s level, and the bar is its likely range. The middle line is the middle of the " +
		"group. Right of the line is better."
	if p.Edition == PlayerEdition {
		bars.Title, bars.Unit = "You and the group", "distance from the middle of the group"
		reading = "Each dot is your level, and the bar is its likely range. The middle line is the middle of the group. " +
			"Right of the line is better."
	}
	table := paper.Table{
		Caption: "How far each figure is from the middle of the group. One is a standard deviation between players. Plus " +
			"is better.",
		Columns: []paper.Column{{Label: "Figure"}, {Label: "Distance", Numeric: true},
			{Label: "Likely (80%)", Numeric: true},
			{Label: "Compared with"}},
	}
	if p.ForSquad() != "" {
		reading += " Levels are those" + p.ForSquad() + "."
	}
	z := paper.Scale{Factor: 1, Decimals: 2}
	for i := range p.Indicators {
		l := &p.Indicators[i]
		if !l.Headline || l.Better == models.Neither || l.Comparison == nil || l.Comparison.Standard == nil {
			continue
		}
		c, scale := l.Comparison, paper.ScaleOf(l.Unit)
		bars.Rows = append(bars.Rows, chart.Row{
			Label: l.Label, Value: c.Standard, Interval: &chart.Range{Lower: c.Standard80.Lo, Upper: c.Standard80.Hi},
			Note: scale.Value(l.Level.Mean) + ", " + c.Against + " " + c.Words(scale),
		})
		table.Rows = append(table.Rows, paper.Text(l.Label, z.Value(*c.Standard), z.Range(c.Standard80.Lo, c.Standard80.Hi),
			c.Against))
	}
	return paper.Drawing{Chart: bars, Figure: paper.Figure{
		ID: OverviewID, Title: bars.Title, Table: table,
		Reading: reading,
	}}, len(bars.Rows) > 0
}

// Trend draws one indicator over the season: each match, the level at the time, and the group.
func (p *Player) Trend(l *IndicatorLine) paper.Drawing {
	scale := paper.ScaleOf(l.Unit)
	t := chart.Trend{
		Title: p.titled(l.Label), Unit: axis(l), Format: chart.Format{Percent: l.Unit == "%",
			Decimals: scale.Decimals},
		Spells: p.chartSpells(p.squadMatches()),
	}
	table := paper.Table{
		Caption: l.Label + ": each match, and the level on that day.",
		Columns: []paper.Column{{Label: "Match"}, {Label: "Value", Numeric: true}, {Label: "Of", Numeric: true},
			{Label: "Match alone (80%)", Numeric: true, Title: "the likely range (80%) from this match alone"},
			{Label: "Level then", Numeric: true},
			{Label: "Likely (80%)", Numeric: true}, {Label: "95% range", Numeric: true}},
	}
	unusual := map[int64]bool{}
	if l.Trend != nil {
		for _, o := range l.Trend.Odd {
			unusual[o.MatchID] = true
		}
	}
	l.drawBefore(&t, &table)
	var level *Level
	for _, m := range p.squadMatches() {
		mark := chart.Match{Label: paper.ShortDay(string(m.Date))}
		if unusual[m.ID] {
			mark.Mark = chart.Unusual
		}
		if p.Squad != nil && m.squad() != p.Squad.ID {
			mark.Mark, mark.For = chart.OtherTeam, For(m.Squad)
		}
		p := l.Point(m.ID)
		if then := l.levelOn(m.Date, p); then != nil {
			level = then
		}
		if p != nil {
			mark.Value = &p.Value
			row := paper.Text(paper.Day(string(m.Date))+" "+m.inSquad(), scale.Value(p.Value),
				paper.Number(p.Denominator, denominatorDecimals(l.Family)), Range(scale, p.Plausible80), "–", "–", "–")
			row[0].Under = m.Circumstances()
			if p.Plausible80 != nil {
				mark.Whisker = &chart.Range{Lower: p.Plausible80.Lo, Upper: p.Plausible80.Hi}
			}
			if level != nil {
				row[4].Text, row[5].Text, row[6].Text = scale.Value(level.Mean), Range(scale, &level.Range80),
					Range(scale, &level.Range95)
			}
			table.Rows = append(table.Rows, row)
		}
		if level != nil {
			mark.Level = &chart.Level{
				Value: level.Mean,
				Inner: &chart.Range{Lower: level.Range80.Lo, Upper: level.Range80.Hi},
				Outer: &chart.Range{Lower: level.Range95.Lo, Upper: level.Range95.Hi},
			}
		}
		t.Matches = append(t.Matches, mark)
	}
	if c := l.Comparison; c != nil {
		t.Group = &chart.Reference{Label: c.Against, Value: c.Mean, Range: &chart.Range{Lower: c.Range80.Lo,
			Upper: c.Range80.Hi}}
	}
	figure := paper.Figure{ID: "trend-" + strings.ReplaceAll(l.Code, "_", "-"), Title: l.Label, Reading: p.reading(l),
		Table: table}
	return paper.Drawing{Figure: figure, Chart: t}
}

// drawBefore puts the levels at the ends of earlier seasons before the season's matches, the oldest first, on the same
// axis.
func (l *IndicatorLine) drawBefore(t *chart.Trend, table *paper.Table) {
	if l.Trend == nil {
		return
	}
	scale := paper.ScaleOf(l.Unit)
	for _, b := range slices.Backward(l.Trend.Before) {
		in, out := trend.Interval(b.Range80), trend.Interval(b.Range95)
		t.Matches = append(t.Matches, chart.Match{Label: b.Season, Level: &chart.Level{
			Value: b.Mean, Inner: &chart.Range{Lower: in.Lo, Upper: in.Hi}, Outer: &chart.Range{Lower: out.Lo, Upper: out.Hi},
		}})
		if c := courseOf(l.Earlier, b.Season); c != nil {
			for i := range c.Levels {
				then := &c.Levels[i]
				in, out := trend.Interval(then.Range80), trend.Interval(then.Range95)
				table.Rows = append(table.Rows, paper.Text(paper.Day(string(then.Date)), "–", "–", "–",
					scale.Value(then.Mean),
					Range(scale, &in), Range(scale, &out)))
			}
		}
		table.Rows = append(table.Rows, paper.Text("end of "+b.Season, "–", "–", "–", scale.Value(b.Mean),
			Range(scale, &in), Range(scale, &out)))
	}
	for i := range t.Spells {
		t.Spells[i].From += len(l.Trend.Before)
		t.Spells[i].To += len(l.Trend.Before)
	}
}

// levelOn is the level on a match's day: that of the trend, or, without one, as the matches up to then show it.
func (l *IndicatorLine) levelOn(d models.Date, p *Point) *Level {
	if l.Trend != nil {
		if e := curveAt(l.Trend, d); e != nil {
			return &Level{Mean: e.Mean, Range80: interval80(e), Range95: trend.Interval(e.Range95)}
		}
		return nil
	}
	if p == nil || p.Running == nil {
		return nil
	}
	return &Level{Mean: p.Running.Mean, Range80: p.Running.Interval80, Range95: p.Running.Interval95}
}

// denominatorDecimals prints full matches with two decimals, trials and actions whole.
func denominatorDecimals(f models.Family) int {
	if f == models.Rate {
		return 2
	}
	return 0
}

func axis(l *IndicatorLine) string {
	switch l.Family {
	case models.Rate:
		return "per full match"
	case models.Proportion:
		return ""
	}
	return map[string]string{"m": "metres", "s": "seconds"}[l.Unit]
}

// otherSquads names the squads whose matches a picture shows as hollow squares.
func (p *Player) otherSquads(l *IndicatorLine) string {
	var others []string
	for i := range l.Squads {
		if s := &l.Squads[i]; p.Squad != nil && s.SquadID != p.Squad.ID {
			others = append(others, For(s.Squad))
		}
	}
	if len(others) == 0 {
		return ""
	}
	return " Hollow squares are matches " + paper.And(others) + "."
}

// matchesOf says on how many matches a line stands, by squad where they are of several.
func matchesOf(l *IndicatorLine) string {
	if l.Squads == nil {
		words := paper.Plural(l.Matches, "match", "matches")
		if l.OnlySquad != "" {
			words += " " + For(l.OnlySquad)
		}
		return words
	}
	var parts []string
	for i := range l.Squads {
		s := &l.Squads[i]
		parts = append(parts, paper.Plural(s.Matches, "match", "matches")+" "+For(s.Squad))
	}
	return paper.And(parts)
}

// seasonOf is a line's value over the season, by squad where it has several.
func seasonOf(l *IndicatorLine, scale paper.Scale) string {
	if l.Squads == nil {
		return fmt.Sprintf("%s over the season, from %s.", scale.Value(l.Season), matchesOf(l))
	}
	var parts []string
	for i := range l.Squads {
		s := &l.Squads[i]
		parts = append(parts, fmt.Sprintf("%s %s, from %s", scale.Value(s.Season), For(s.Squad),
			paper.Plural(s.Matches, "match", "matches")))
	}
	return "Over the season " + strings.Join(parts, ", and ") + "."
}

// reading says in words what a trend shows.
func (p *Player) reading(l *IndicatorLine) string {
	scale := paper.ScaleOf(l.Unit)
	if l.Level == nil {
		missing := "That is too little for a level."
		if p.Edition == PlayerEdition {
			missing = "There is no level yet."
		}
		return seasonOf(l, scale) + " " + missing + sentences(l.Notes) + p.otherSquads(l)
	}
	words := fmt.Sprintf("Level%s %s, likely %s.", p.ForSquad(), scale.Value(l.Level.Mean),
		scale.Range(l.Level.Range80.Lo, l.Level.Range80.Hi))
	if t := l.Trend; t != nil && t.Start != nil {
		words = fmt.Sprintf("%s%s: from %s to %s, likely %s now.", paper.Upper(p.VerdictWords(t, l.Better)), p.ForSquad(),
			scale.Value(t.Start.Mean), scale.Value(t.Now.Mean), scale.Range(t.Now.Range80.Lo, t.Now.Range80.Hi))
	}
	if c := l.Comparison; c != nil {
		words += " " + c.Sentence(scale)
	}
	return words + sentences(l.Notes) + fmt.Sprintf(" From %s.", matchesOf(l)) + p.otherSquads(l)
}

// sentences makes notes sentences that follow others.
func sentences(notes []string) (words string) {
	for _, n := range notes {
		words += " " + paper.Upper(strings.TrimSuffix(n, ".")) + "."
	}
	return words
}

// titled is a picture's title; to a player it is theirs.
func (p *Player) titled(label string) string {
	if p.Edition == PlayerEdition {
		return label + ", your matches"
	}
	return label + ", " + p.Person.Name
}

// squadMatches are the matches that figures can come from.
func (p *Player) squadMatches() []MatchLine {
	return slices.DeleteFunc(slices.Clone(p.Matches), func(m MatchLine) bool { return m.Other != "" })
}

// chartSpells places the spells of limited availability among the dates of a chart's columns.
func (p *Player) chartSpells(columns []MatchLine) []chart.Spell {
	var spells []chart.Spell
	for _, s := range p.Spells {
		from := slices.IndexFunc(columns, func(m MatchLine) bool { return m.Date >= s.From })
		if from < 0 {
			from = len(columns)
		}
		to := len(columns)
		if s.Until != nil {
			if i := slices.IndexFunc(columns, func(m MatchLine) bool { return m.Date > *s.Until }); i >= 0 {
				to = i
			}
		}
		kind := chart.Modified
		if s.Status == models.Unavailable {
			kind = chart.Unavailable
		}
		spells = append(spells, chart.Spell{From: from, To: max(from, to), Kind: kind})
	}
	return spells
}

// Grades draws the skill with the most grades by coaches, in order of date. It is false if none has two.
func (p *Player) Grades() (paper.Drawing, bool) {
	var s *SkillLine
	for i := range p.Skills {
		if s == nil || p.Skills[i].Ratings > s.Ratings {
			s = &p.Skills[i]
		}
	}
	if s == nil || s.Ratings < 2 {
		return paper.Drawing{}, false
	}
	if p.Edition == PlayerEdition {
		return p.shownGrades(s), true
	}
	c := chart.Rating{Title: p.titled(s.Label)}
	table := paper.Table{
		Caption: s.Label + ": every grade that counts.",
		Columns: []paper.Column{{Label: "For"}, {Label: "By"}, {Label: "Grade", Numeric: true}, {Label: "Comment"}},
	}
	var given []trend.Grade
	date := models.Date("")
	for _, g := range s.Grades {
		if !g.Counts {
			continue
		}
		if len(c.Occasions) == 0 || g.Date != date {
			c.Occasions = append(c.Occasions, chart.Occasion{Label: paper.ShortDay(string(g.Date))})
			date = g.Date
		}
		o := &c.Occasions[len(c.Occasions)-1]
		rater, value := g.Rater, float64(g.Grade)
		if g.Self {
			rater = "own grade"
			o.Self = &value
		} else {
			if !slices.Contains(c.Coaches, rater) {
				c.Coaches = append(c.Coaches, rater)
			}
			o.Grades = append(o.Grades, chart.Grade{Coach: rater, Value: value})
			given = append(given, trend.Grade{Coach: strconv.FormatInt(g.RaterID, 10), Value: value})
		}
		row := paper.Text(paper.Day(string(g.Date))+" "+g.On, rater, paper.Number(value, 0), g.Comment)
		row[3].Under = g.beside()
		if m := p.Match(g.match); m != nil {
			row[0].Under = m.Circumstances()
		}
		row[2].Under = joined("; ", g.wording(s.Label), EarlierInWords(g.Earlier))
		if g.Squad != "" {
			row[0].Text += ", " + g.Squad
		}
		table.Rows = append(table.Rows, row)
		if mean, iv, ok := trend.GradesInterval(given, 0.95); len(given) > 0 {
			o.Mean = &chart.Level{Value: mean}
			if ok {
				o.Mean.Outer = &chart.Range{Lower: iv.Lo, Upper: iv.Hi}
			}
		}
	}
	band := "The band is its 95% range."
	if s.Mean95 == nil {
		band = "One coach alone gives no range."
	}
	calls := ""
	if words := s.CallsInWords(); words != "" {
		calls = " It " + words + "."
	}
	return paper.Drawing{Chart: c, Figure: paper.Figure{
		ID: SkillsID, Title: s.Label + ", graded by coaches", Table: table,
		Reading: fmt.Sprintf("The average is %s of 5, from %s. %s", paper.Number(s.Mean, 1), s.GradesInWords(),
			band) + calls,
	}}, true
}

// wording is what the grade looked like when it was given and, if the skill was called otherwise then, what.
func (g *GradeLine) wording(now string) string {
	if g.Label == "" || g.Label == now {
		return g.Words
	}
	return joined(" ", "Then called “"+g.Label+"”.", g.Words)
}

// beside says, under a comment, who reads it and how many moments show what the grade is for.
func (g *GradeLine) beside() string {
	var words []string
	if g.CommentShared {
		words = append(words, "shared with the player")
	}
	if n := len(g.Evidence); n > 0 {
		words = append(words, paper.Plural(n, "moment", "moments")+" as evidence")
	}
	return strings.Join(words, ", ")
}

// EarlierInWords says what a grade was before it was changed, such as "was 3 until 2 May 2026"; empty if it never was.
func EarlierInWords(all []models.EarlierGrade) string {
	var was []string
	for _, e := range all {
		was = append(was, fmt.Sprintf("%d until %s", e.Grade, paper.Day(string(e.Until))))
	}
	if was == nil {
		return ""
	}
	return "was " + strings.Join(was, ", ")
}

// shownGrades draws what a player is shown of a skill: one grade for each match or block, of all coaches together.
func (p *Player) shownGrades(s *SkillLine) paper.Drawing {
	const coaches = "your coaches"
	c := chart.Rating{Title: p.titled(s.Label), Coaches: []string{coaches}}
	table := paper.Table{
		Caption: s.Label + ": what your coaches gave, without names.",
		Columns: []paper.Column{{Label: "For"}, {Label: "Coaches", Numeric: true}, {Label: "Grade", Numeric: true},
			{Label: "Your grade", Numeric: true}, {Label: "Comments"}},
	}
	days := map[models.Date]*chart.Occasion{}
	var order []models.Date
	at := func(day models.Date) *chart.Occasion {
		if days[day] == nil {
			days[day] = &chart.Occasion{Label: paper.ShortDay(string(day))}
			order = append(order, day)
		}
		return days[day]
	}
	own := map[string]paper.Cell{}
	for _, g := range s.Grades {
		value := float64(g.Grade)
		at(g.Date).Self = &value
		own[string(g.Date)+g.On] = paper.Cell{Text: paper.Number(value, 0), Under: g.wording(s.Label)}
	}
	for _, g := range s.Shown {
		row := paper.Text(joined(", ", paper.Day(string(g.Date))+" "+g.On, g.Squad), strconv.Itoa(g.Coaches), "–", "–",
			strings.Join(g.Comments, " · "))
		if g.Grade != nil {
			at(g.Date).Grades = append(at(g.Date).Grades, chart.Grade{Coach: coaches, Value: *g.Grade})
			row[2].Text = paper.Number(*g.Grade, 1)
		} else {
			row[2].Under = "one coach only"
		}
		if grade, there := own[string(g.Date)+g.On]; there {
			row[3] = grade
		}
		table.Rows = append(table.Rows, row)
	}
	slices.Sort(order)
	for _, day := range order {
		c.Occasions = append(c.Occasions, *days[day])
	}
	return paper.Drawing{Chart: c, Figure: paper.Figure{
		ID: SkillsID, Title: s.Label + ", graded by your coaches", Table: table,
		Reading: fmt.Sprintf("The average is %s of 5, from %s. A grade is shown when two coaches or more gave one.",
			paper.Number(s.Mean, 1), s.GradesInWords()),
	}}
}

// joined joins those of some texts that are not empty.
func joined(by string, texts ...string) string {
	return strings.Join(slices.DeleteFunc(texts, func(t string) bool { return t == "" }), by)
}
