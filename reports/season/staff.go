package season

import (
	"fmt"
	"strings"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// The staff's edition is at most four printed pages before its appendices, whatever people write. All of each text
// stands in the appendices.
const (
	staffGoals   = 4  // goals that are open
	staffNotes   = 2  // notes, the latest
	staffUnusual = 5  // matches out of the ordinary, the latest
	staffSkills  = 6  // skills that are drawn
	staffDangers = 2  // acts of dangerous play, the latest
	codeWords    = 12 // of the codes of a moment
	staffWords   = 30 // of each text
)

// viewStaff fills in what the staff's edition has before its appendices.
func (r *Report) viewStaff(v *view) (err error) {
	v.HeadTable = r.headTable()
	v.Beside = r.beside()
	v.ShortSkills = r.shortSkills()
	v.Unusual = r.unusual()
	v.NoNotesToPrint = true
	for _, n := range v.NoteItems[:min(len(v.NoteItems), staffNotes)] {
		n.Text = paper.Short(n.Text, staffWords)
		v.LatestNotes = append(v.LatestNotes, n)
		v.NoNotesToPrint = v.NoNotesToPrint && n.StaffOnly
	}
	for i := range v.Moments {
		v.Moments[i].What = paper.Short(v.Moments[i].What, codeWords)
	}
	for _, one := range v.Dangers[max(0, len(v.Dangers)-staffDangers):] {
		whole := len(one.Note)
		one.Note, one.Anchor = paper.Short(one.Note, staffWords), ""
		v.LatestDangers = append(v.LatestDangers, one)
		v.AllDangers = v.AllDangers || len(one.Note) < whole
	}
	if n := len(v.Dangers) - len(v.LatestDangers); n > 0 {
		v.MoreDangers, v.AllDangers = fmt.Sprintf("The appendices have %d more.", n), true
	}
	for _, g := range r.openGoals() {
		if len(v.OpenGoals) < staffGoals {
			v.OpenGoals = append(v.OpenGoals, r.staffGoal(g))
		}
	}
	for i := range r.Skills {
		f, drawn, err := r.of.SmallSkill(&r.Skills[i])
		if err != nil {
			return err
		}
		if drawn && len(v.SkillFigures) < staffSkills {
			v.SkillFigures = append(v.SkillFigures, f)
		}
	}
	return nil
}

// staffGoal is an open goal in short.
func (r *Report) staffGoal(g *evidence.GoalLine) openGoal {
	scale := paper.ScaleOf(g.Unit)
	item := openGoal{On: g.On, Target: scale.Value(g.Target), By: paper.Day(string(g.By)),
		Actions: paper.Short(g.Actions, staffWords), Stands: "No figure for it yet."}
	if g.Now != nil {
		item.Stands = "Now " + scale.Value(*g.Now)
		if g.Now80 != nil {
			item.Stands += ", likely " + scale.Range(g.Now80[0], g.Now80[1])
		}
		item.Stands += r.forSquad(g) + "."
	}
	switch o := g.Outlook; {
	case o == nil:
	case o.Met:
		item.Stands += " Met, as the figures say."
	default:
		item.Stands += " The chance of reaching it in time is " + paper.Chance(o.Reached) + " " + o.Assumes() + "."
	}
	if g.By < r.today() {
		item.Stands += " Its day has passed."
	}
	return item
}

// headTable compares the headline figures like with like.
func (r *Report) headTable() *paper.Table {
	t := &paper.Table{ID: "headline-table", Caption: "Headline figures of the position. " +
		"We expect an 80% range to be right four times in five.",
		Columns: []paper.Column{{Label: "Figure"}, {Label: r.levelLabel() + " (80%)", Numeric: true}, {Label: "Trend"},
			{Label: "Compared with", Numeric: true}, {Label: "Right is better",
				Title: "the level and its likely range beside the middle of the group, in standard deviations between players"},
			{Label: "Chance ahead", Numeric: true}}}
	before := false
	for i := range r.Indicators {
		l := &r.Indicators[i]
		if !l.Headline || r.Summary.Matches < 2 {
			continue
		}
		scale := paper.ScaleOf(l.Unit)
		levels := r.levelCells(l, scale)
		if l.Level != nil {
			levels[0].Under = evidence.Range(scale, &l.Level.Range80)
		}
		picture := paper.Cell{}
		if c := l.Comparison; c != nil && c.Standard != nil && l.Better != models.Neither {
			picture.Image = chart.Beside(l.Label+" beside the group", *c.Standard,
				chart.Range{Lower: c.Standard80.Lo, Upper: c.Standard80.Hi})
		}
		last := paper.Cell{Text: "–"}
		if l.Trend != nil && len(l.Trend.Before) > 0 {
			b := l.Trend.Before[0]
			before = true
			last = paper.Cell{Text: scale.Value(b.Mean), Under: b.Season + ", " + scale.Range(b.Range80.Lo, b.Range80.Hi)}
			if len(l.Trend.Before) > 1 {
				b := l.Trend.Before[1]
				last.Under += "; " + b.Season + ": " + scale.Value(b.Mean)
			}
		}
		t.Rows = append(t.Rows, []paper.Cell{{Text: l.Label, Under: together(l) + paper.Plural(l.Matches, "match",
			"matches")}, levels[0], levels[1], levels[2], picture, levels[3], last})
	}
	if before {
		t.Columns = append(t.Columns, paper.Column{Label: "Last season", Numeric: true})
	}
	for i := range t.Rows {
		t.Rows[i] = t.Rows[i][:len(t.Columns)]
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

// beside is what stands beside every comparison: birth quarter and age band.
func (r *Report) beside() string {
	var words []string
	if q := r.Player.BirthQuarter; q > 0 {
		words = append(words, fmt.Sprintf("Born in quarter %d of 4 of the age band’s year; quarter 1 are the oldest.", q))
	}
	if r.Squad != nil && r.Squad.AgeBand > 0 {
		band := fmt.Sprintf("The squad is under %d.", r.Squad.AgeBand)
		if r.Player.PlaysUp {
			band += " The player is young enough for the band below and plays above it."
		}
		words = append(words, band)
	}
	return strings.Join(words, " ")
}

// asOwn is how far apart an adjusted grade and the player's own are, from which the report says so: half a grade.
const asOwn = 0.5

// shortSkills are the skills with the coaches' view and the player's own.
func (r *Report) shortSkills() *paper.Table {
	t := &paper.Table{ID: "skills-short", Caption: "Skills from 1 to 5: what coaches give, with how strict each is " +
		"taken out, and how the player sees it.",
		Columns: []paper.Column{{Label: "Skill"}, {Label: "Adjusted grade (80%)", Numeric: true}, {Label: "Trend"},
			{Label: "Player’s own", Numeric: true}, {Label: "Next step"}}}
	grade := paper.Scale{Factor: 1, Decimals: 1}
	for i := range r.Skills {
		s := &r.Skills[i]
		row := append([]paper.Cell{{Text: s.Label}}, dashes(3)...)
		if s.Ratings > 0 {
			row[1] = gradeCell(s)
		}
		if s.Trend != nil {
			row[2] = paper.Cell{Text: r.skillTrend(s).Text} // the pictures have the rest
		}
		if s.SelfMean != nil {
			row[3] = paper.Cell{Text: grade.Value(*s.SelfMean), Under: ownView(s)}
		}
		next := paper.Cell{Text: paper.Short(s.Next, staffWords)}
		if words := s.CallsInWords(); words != "" {
			next = paper.Cell{Text: paper.Upper(words) + ". Act on it first."}
		}
		t.Rows = append(t.Rows, append(row, next))
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

// ownView says how the player's own grades stand to the coaches'; empty without both.
func ownView(s *evidence.SkillLine) string {
	if s.Ratings == 0 {
		return ""
	}
	switch apart := *s.SelfMean - s.Grade(); {
	case apart >= asOwn:
		return "higher than coaches"
	case apart <= -asOwn:
		return "lower than coaches"
	}
	return "about as coaches"
}

// unusualMatch is a match out of the ordinary: which, with the link to its review, and what was unusual.
type unusualMatch struct{ On, Link, Words string }

// unusual are the latest matches out of the ordinary, each with what may explain it.
func (r *Report) unusual() (all []unusualMatch) {
	matches := r.of.Unusual()
	if r.Summary.Matches < 2 {
		return nil
	}
	for _, u := range matches[max(0, len(matches)-staffUnusual):] {
		why := "Nothing recorded about the match may explain it."
		if known := u.Match.Explains(); len(known) > 0 {
			why = "About the match: " + strings.Join(known, "; ") + "."
		}
		all = append(all, unusualMatch{
			On:   joined(", ", paper.Day(string(u.Match.Date))+" "+u.Match.Against(), u.Match.Squad),
			Link: r.review(u.Match.ID), Words: strings.Join(u.What, "; ") + ". " + why,
		})
	}
	return all
}

// talkTable is the table of the pictures of a talk sheet.
func (r *Report) talkTable() *paper.Table {
	t := &paper.Table{ID: "talk-table", Caption: "The pictures in numbers.", Columns: []paper.Column{{Label: "Figure"},
		{Label: "Season", Numeric: true}, {Label: "Level now", Numeric: true}, {Label: "Likely (80%)", Numeric: true},
		{Label: "Most others", Numeric: true}}}
	for _, code := range r.Headlines {
		l := r.of.Indicator(code)
		scale := paper.ScaleOf(l.Unit)
		row := append([]paper.Cell{{Text: l.Label}, {Text: scale.Value(l.Season)}}, dashes(3)...)
		if l.Level != nil {
			row[2].Text, row[3].Text = scale.Value(l.Level.Mean), evidence.Range(scale, &l.Level.Range80)
		}
		if c := l.Comparison; c != nil {
			row[4].Text = scale.Range(c.Range80.Lo, c.Range80.Hi)
		}
		t.Rows = append(t.Rows, row)
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}
