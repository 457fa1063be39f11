package evidence

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/paper"
)

// dayOf is a day as a place on a time line; 0 for what is no day.
func dayOf(d models.Date) float64 {
	t, err := d.Time()
	if err != nil {
		return 0
	}
	return float64(t.Unix()) / (24 * 60 * 60)
}

// Small draws one indicator over the season, small enough to stand beside others on the same time line. Percentages
// run from 0 to 100%, counts from 0. Its table is that of Trend.
func (p *Player) Small(l *IndicatorLine) (paper.Figure, error) {
	scale := paper.ScaleOf(l.Unit)
	s := chart.Small{Title: p.titled(l.Label), Format: chart.Format{Percent: l.Unit == "%", Decimals: scale.Decimals},
		Others: "others"}
	unusual := map[int64]bool{}
	if l.Trend != nil {
		for _, o := range l.Trend.Odd {
			unusual[o.MatchID] = true
		}
		s.Before = earlierSeasons(l.Trend, l.Earlier)
	}
	for _, m := range p.squadMatches() {
		point := l.Point(m.ID)
		if level := l.levelOn(m.Date, point); level != nil {
			s.Levels = append(s.Levels, chart.DayLevel{Day: dayOf(m.Date), Level: chart.Level{Value: level.Mean,
				Inner: &chart.Range{Lower: level.Range80.Lo, Upper: level.Range80.Hi}}})
		}
		if point == nil {
			continue
		}
		mark := chart.Ordinary
		switch {
		case p.Squad != nil && m.squad() != p.Squad.ID:
			mark = chart.OtherTeam
		case unusual[m.ID]:
			mark = chart.Unusual
		}
		s.Points = append(s.Points, chart.Point{Day: dayOf(m.Date), Value: point.Value, Mark: mark,
			Label: paper.Day(string(m.Date)) + ", " + m.Opponent})
	}
	if l.Level != nil && (len(s.Levels) == 0 || s.Levels[len(s.Levels)-1].Value != l.Level.Mean) {
		s.Levels = p.endingAt(s.Levels, l.Level)
	}
	if c := l.Comparison; c != nil {
		s.Group, s.Mean = &chart.Range{Lower: c.Range80.Lo, Upper: c.Range80.Hi}, c.Mean
	}
	p.stretch(&s)
	s.Scale = smallScale(&s)
	figure := p.Trend(l).Figure
	if l.Level != nil {
		figure.Reading = p.shortReading(l)
	}
	return p.drawn(s, figure)
}

// direction says which way a level goes. Beside a level, "too little to say" would take the level back.
func (p *Player) direction(t *models.TrendFigures, better models.Better) string {
	if t.Verdict == models.VerdictTooLittle {
		return "Too little to say which way"
	}
	return paper.Upper(p.VerdictWords(t, better))
}

// shortReading says what a small picture shows, in few words.
func (p *Player) shortReading(l *IndicatorLine) string {
	scale, words := paper.ScaleOf(l.Unit), "Level"
	if l.Trend != nil && l.Trend.Start != nil {
		words = p.direction(l.Trend, l.Better)
	}
	words += fmt.Sprintf("%s: now %s, likely %s.", p.ForSquad(), scale.Value(l.Level.Mean),
		scale.Range(l.Level.Range80.Lo, l.Level.Range80.Hi))
	if c := l.Comparison; c != nil && p.Edition == PlayerEdition { // staff have it in a table
		words += " " + c.Sentence(scale)
	}
	if l.Squads != nil || l.OnlySquad != "" {
		words += " From " + matchesOf(l) + "."
	}
	return words + sentences(l.Notes) + p.otherSquads(l)
}

// endingAt adds the level now at the end of the time line.
func (p *Player) endingAt(levels []chart.DayLevel, now *Level) []chart.DayLevel {
	matches := p.squadMatches()
	if len(matches) == 0 {
		return levels
	}
	last := dayOf(matches[len(matches)-1].Date)
	levels = slices.DeleteFunc(levels, func(l chart.DayLevel) bool { return l.Day >= last })
	return append(levels, chart.DayLevel{Day: last, Level: chart.Level{Value: now.Mean,
		Inner: &chart.Range{Lower: now.Range80.Lo, Upper: now.Range80.Hi}}})
}

// SmallSkill draws the grades of one skill as Small draws an indicator, from 1 to 5. It is false without a trend.
func (p *Player) SmallSkill(l *SkillLine) (paper.Figure, bool, error) {
	if l.Trend == nil || len(p.squadMatches()) < 2 {
		return paper.Figure{}, false, nil
	}
	s := chart.Small{Title: p.titled(l.Label), Format: chart.Format{Decimals: 1},
		Scale: chart.Range{Lower: 1, Upper: 5}}
	table := paper.Table{Caption: l.Label + ": the level of the grades on each day.",
		Columns: []paper.Column{{Label: "Day"}, {Label: "Level", Numeric: true}, {Label: "Likely (80%)", Numeric: true}}}
	grade := paper.Scale{Factor: 1, Decimals: 1}
	for i := range l.Trend.Curve {
		c := &l.Trend.Curve[i]
		s.Levels = append(s.Levels, chart.DayLevel{Day: dayOf(c.Date), Level: chart.Level{Value: c.Mean,
			Inner: &chart.Range{Lower: c.Range80.Lo, Upper: c.Range80.Hi}}})
		table.Rows = append(table.Rows, paper.Text(paper.Day(string(c.Date)), grade.Value(c.Mean),
			grade.Range(c.Range80.Lo, c.Range80.Hi)))
	}
	s.Before = earlierSeasons(l.Trend, l.Earlier)
	table.Rows = slices.Concat(earlierRows(l.Trend, l.Earlier, grade), table.Rows)
	if len(s.Levels) == 0 {
		s.Levels = p.endingAt(nil, &Level{Mean: l.Trend.Now.Mean, Range80: interval80(l.Trend.Now)})
		table.Rows = append(table.Rows, paper.Text("now", grade.Value(l.Trend.Now.Mean),
			grade.Range(l.Trend.Now.Range80.Lo, l.Trend.Now.Range80.Hi)))
	}
	p.stretch(&s)
	words := "Now " + grade.Value(l.Trend.Now.Mean) + ", likely " + grade.Range(l.Trend.Now.Range80.Lo,
		l.Trend.Now.Range80.Hi) + "."
	if !l.Acts() {
		words = p.direction(l.Trend, models.Higher) + ". " + words
	}
	figure, err := p.drawn(s, paper.Figure{ID: "skill-" + strings.ReplaceAll(l.Code, "_", "-"), Title: l.Label,
		Reading: words, Table: table})
	return figure, true, err
}

func (p *Player) drawn(s chart.Small, f paper.Figure) (paper.Figure, error) {
	picture, err := s.Draw()
	if err != nil {
		return f, fmt.Errorf("draw %s: %w", f.Title, err)
	}
	f.Picture = picture
	return f, nil
}

// earlierSeasons are the last season and the one before as they stand left of the time line, the older first: the
// level at the end as this season's fit has it, and its course as that season's trends have it.
func earlierSeasons(t *models.TrendFigures, courses []Course) (all []chart.NamedLevel) {
	for _, b := range slices.Backward(t.Before[:min(len(t.Before), mostEarlier)]) {
		one := chart.NamedLevel{Label: shortSeason(b.Season), Level: chart.Level{Value: b.Mean,
			Inner: &chart.Range{Lower: b.Range80.Lo, Upper: b.Range80.Hi}}}
		if c := courseOf(courses, b.Season); c != nil {
			one.Span = chart.Range{Lower: dayOf(c.Starts), Upper: dayOf(c.Ends)}
			for i := range c.Levels {
				one.Course = append(one.Course, chart.DayLevel{Day: dayOf(c.Levels[i].Date),
					Level: chart.Level{Value: c.Levels[i].Mean}})
			}
		}
		all = append(all, one)
	}
	return all
}

// earlierRows are the same for a table with a day, a level and its likely range.
func earlierRows(t *models.TrendFigures, courses []Course, scale paper.Scale) (rows [][]paper.Cell) {
	for _, b := range slices.Backward(t.Before) {
		if c := courseOf(courses, b.Season); c != nil {
			for _, then := range c.Levels {
				rows = append(rows, paper.Text(paper.Day(string(then.Date)), scale.Value(then.Mean),
					scale.Range(then.Range80.Lo, then.Range80.Hi)))
			}
		}
		rows = append(rows, paper.Text("end of "+b.Season, scale.Value(b.Mean), scale.Range(b.Range80.Lo, b.Range80.Hi)))
	}
	return rows
}

// shortSeason shortens the name of a season to what fits under a picture: "2024-25" to "24-25".
func shortSeason(name string) string {
	if len(name) == len("2024-25") && strings.HasPrefix(name, "20") {
		return name[2:]
	}
	if all := []rune(name); len(all) > 6 {
		return string(all[:6])
	}
	return name
}

// stretch sets the time line of a picture: that of the player's matches, the same for every picture.
func (p *Player) stretch(s *chart.Small) {
	matches := p.squadMatches()
	if len(matches) == 0 {
		return
	}
	first, last := matches[0].Date, matches[len(matches)-1].Date
	s.Span = chart.Range{Lower: dayOf(first), Upper: dayOf(last)}
	if s.Span.Upper-s.Span.Lower < 1 {
		s.Span.Upper++
	}
	s.Ticks = monthTicks(first, last, max(2, mostTicks-max(0, len(s.Before)-1)))
	for _, spell := range p.Spells {
		to := s.Span.Upper
		if spell.Until != nil {
			to = min(to, dayOf(*spell.Until))
		}
		from := max(s.Span.Lower, dayOf(spell.From))
		if to < from {
			continue // before the first match or after the last
		}
		kind := chart.Modified
		if spell.Status == models.Unavailable {
			kind = chart.Unavailable
		}
		s.Spells = append(s.Spells, chart.DaySpell{From: from, To: to, Kind: kind})
	}
}

// mostTicks is how many months find room under a picture beside earlier seasons.
const mostTicks = 4

// monthTicks are the beginnings of months between two days, not too many; of a short time its two ends.
func monthTicks(first, last models.Date, most int) []chart.Tick {
	from, err := first.Time()
	if err != nil {
		return nil
	}
	var all []chart.Tick
	month := time.Date(from.Year(), from.Month(), 1, 0, 0, 0, 0, time.UTC)
	for ; models.DateOf(month) <= last; month = month.AddDate(0, 1, 0) {
		if day := models.DateOf(month); day >= first {
			all = append(all, chart.Tick{Day: dayOf(day), Label: month.Format("Jan")})
		}
	}
	if len(all) < 3 {
		return []chart.Tick{{Day: dayOf(first), Label: paper.ShortDay(string(first))},
			{Day: dayOf(last), Label: paper.ShortDay(string(last))}}
	}
	every := (len(all) + most - 1) / most
	var some []chart.Tick
	for i := 0; i < len(all); i += every {
		some = append(some, all[i])
	}
	return some
}

// smallScale is from 0 to all for a percentage, from 0 for a count, and holds everything drawn.
func smallScale(s *chart.Small) chart.Range {
	if s.Format.Percent {
		return chart.Range{Lower: 0, Upper: 1}
	}
	lo, hi := 0.0, 0.0
	hold := func(values ...float64) {
		for _, v := range values {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	for _, p := range s.Points {
		hold(p.Value)
	}
	for _, l := range s.Levels {
		hold(l.Inner.Lower, l.Inner.Upper)
	}
	for _, l := range s.Before {
		hold(l.Inner.Lower, l.Inner.Upper)
		for _, then := range l.Course {
			hold(then.Value)
		}
	}
	if g := s.Group; g != nil {
		hold(g.Lower, g.Upper)
	}
	return chart.Ends(lo, hi, s.Format)
}
