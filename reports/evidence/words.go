package evidence

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// Evidence says what a line stands on: "61 of 142 in 14 matches".
func (l *IndicatorLine) Evidence() string {
	in := paper.Plural(l.Matches, "match", "matches")
	switch l.Family {
	case models.Proportion:
		return fmt.Sprintf("%s of %s in %s", paper.Number(l.Numerator, 0), paper.Number(l.Denominator, 0), in)
	case models.Mean:
		return fmt.Sprintf("%s in %s", paper.Plural(int(l.Denominator), "action", "actions"), in)
	}
	words := fmt.Sprintf("%s in %s", paper.Number(l.Numerator, 0), in)
	if l.TeamShare != nil {
		words += fmt.Sprintf(", %s of the team’s in the same minutes", paper.ScaleOf("%").Value(l.TeamShare.Share))
	}
	if l.WithoutMinutes > 0 {
		words += ", not counting " + paper.Plural(l.WithoutMinutes, "match", "matches") + " without minutes"
	}
	return words
}

// MinutesWords are the minutes of a match that count, or that they were not recorded.
func (m *MatchLine) MinutesWords() string {
	if m.MinutesNotRecorded && m.Stop == nil {
		return "not recorded"
	}
	return paper.Number(m.Minutes, 0)
}

// CountWords are the counts of a match without minutes, in the catalogue's order.
func (m *MatchLine) CountWords() string {
	var words []string
	for _, c := range models.CountCatalogue() {
		if n, ok := m.Counts[c.Code]; ok {
			words = append(words, paper.Lower(c.Label)+" "+strconv.FormatFloat(n, 'f', -1, 64))
		}
	}
	return strings.Join(words, ", ")
}

// Evidence says what one match's value stands on: "4 of 7".
func (p *Point) Evidence(f models.Family) string {
	switch f {
	case models.Proportion:
		return paper.Number(p.Numerator, 0) + " of " + paper.Number(p.Denominator, 0)
	case models.Mean:
		return "of " + paper.Number(p.Denominator, 0)
	}
	return ""
}

// Against names the other side: "v Oakford", "at Oakford", or, for another team, "for Highcombe School v Oakford".
func (m *MatchLine) Against() string {
	side := "v " + m.Opponent
	if m.Venue != nil && *m.Venue == models.Away {
		side = "at " + m.Opponent
	}
	if m.Other != "" {
		return "for " + m.Other + " " + side
	}
	return side
}

// Full names the match by its day and sides, with what to bear in mind of it: "12 Oct 2025 v Oakford (score 24–17,
// difficulty 4)".
func (m *MatchLine) Full() string {
	return paper.Day(string(m.Date)) + " " + m.Against() + m.Bracketed()
}

// Bracketed is Circumstances as it follows the name of a match: in brackets, empty for none.
func (m *MatchLine) Bracketed() string {
	if c := m.Circumstances(); c != "" {
		return " (" + c + ")"
	}
	return ""
}

// inSquad is Against with the squad whose match it was, of a player of several.
func (m *MatchLine) inSquad() string {
	if m.Squad == "" {
		return m.Against()
	}
	return m.Against() + ", " + m.Squad
}

// Circumstances are what to bear in mind of a match: its score, how hard it was, whether the player started, and
// whether they were fit.
func (m *MatchLine) Circumstances() string {
	var parts []string
	if m.Score != nil {
		parts = append(parts, fmt.Sprintf("score %d–%d", m.Score.Ours, m.Score.Theirs))
	}
	if m.Difficulty != nil {
		parts = append(parts, fmt.Sprintf("difficulty %d", *m.Difficulty))
	}
	if m.Started != nil && !*m.Started {
		parts = append(parts, "from the bench")
	}
	if m.Spell != nil {
		parts = append(parts, string(m.Spell.Status))
	}
	return strings.Join(parts, ", ")
}

// MomentInWords names a moment in a match, such as "12 Oct 2025 v Oakford, 1st half 23:10: Tackle, dominant".
func MomentInWords(m *MatchLine, i *models.Involvement) string {
	what := strings.Join(append([]string{i.Kind.Label()}, i.InWords()...), ", ")
	if i.Note != "" {
		what += ", " + i.Note
	}
	return fmt.Sprintf("%s %s, %s: %s", paper.Day(string(m.Date)), m.Against(), i.Clock, what)
}

// Anchor is where a paper shows the moment.
func (m *MomentLine) Anchor() string { return fmt.Sprintf("moment-%d", m.ID) }

// Range prints an interval, or nothing if it is nil.
func Range(s paper.Scale, iv *trend.Interval) string {
	if iv == nil {
		return ""
	}
	return s.Range(iv.Lo, iv.Hi)
}

// SquadSparkline is Sparkline over the matches of one squad.
func (p *Player) SquadSparkline(s *SquadFigure) template.HTML { return p.sparkline(s.line, s.SquadID) }

// SquadEvidence is Evidence of one squad's figures.
func (s *SquadFigure) SquadEvidence() string {
	l := *s.line
	l.TeamShare = s.TeamShare
	return l.Evidence()
}

// Sparkline draws the indicator match by match, small enough for a table's cell.
func (p *Player) Sparkline(l *IndicatorLine) template.HTML { return p.sparkline(l, 0) }

// sparkline draws the matches of a squad, of all for 0.
func (p *Player) sparkline(l *IndicatorLine, squad int64) template.HTML {
	values := make([]*float64, 0, len(p.Matches))
	for i := range p.Matches {
		if p.Matches[i].Other != "" || squad != 0 && p.Matches[i].squad() != squad {
			continue
		}
		values = append(values, l.value(p.Matches[i].ID))
	}
	spark := chart.Spark{Values: values}
	if l.Comparison != nil {
		spark.Reference = l.Comparison.Mean
	}
	return chart.Sparkline(spark)
}

// value returns the indicator's value in a match, or nil.
func (l *IndicatorLine) value(match int64) *float64 {
	if p := l.Point(match); p != nil {
		return &p.Value
	}
	return nil
}

// Point returns the indicator in a match, or nil.
func (l *IndicatorLine) Point(match int64) *Point {
	for i := range l.Points {
		if l.Points[i].MatchID == match {
			return &l.Points[i]
		}
	}
	return nil
}
