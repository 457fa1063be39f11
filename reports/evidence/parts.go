package evidence

import (
	"slices"

	"throughline/models"
	"throughline/reports/trend"
)

// SquadFigure is an indicator in one squad's matches, for a player with figures for several squads.
type SquadFigure struct {
	SquadID     int64   `json:"squad_id"`
	Squad       string  `json:"squad"`   // the squad's name
	Matches     int     `json:"matches"` // how many matches have the indicator
	Numerator   float64 `json:"numerator"`
	Denominator float64 `json:"denominator"` // full matches, trials or actions
	// the value over these matches, in the indicator's unit
	Season   float64         `json:"season"`
	Season95 *trend.Interval `json:"season_95,omitempty"` // the 95 % range of that value
	Median   *float64        `json:"median,omitempty"`    // the median of the countable matches
	Median95 *trend.Interval `json:"median_95,omitempty"`
	// how many matches have enough data for a value of their own
	Countable int      `json:"countable"`
	Best      *Extreme `json:"best,omitempty"`
	Worst     *Extreme `json:"worst,omitempty"`
	TeamShare *Share   `json:"team_share,omitempty"`

	line *IndicatorLine // these matches alone
}

// SquadSummary says what one squad's part of the season is based on, for a player who played for several squads.
type SquadSummary struct {
	SquadID   int64   `json:"squad_id"`
	Squad     string  `json:"squad"` // the squad's name
	FullMatch int     `json:"full_match"`
	Matches   int     `json:"matches"`
	Started   int     `json:"started"`
	Minutes   float64 `json:"minutes"` // the recorded minutes
	// how many matches have no recorded minutes
	WithoutMinutes int `json:"without_minutes,omitempty"`
	Logged         int `json:"logged"` // how many matches with figures from an involvement log
	Totals         int `json:"totals"` // how many matches with figures from totals
	Bare           int `json:"bare"`   // how many matches have no figures
}

// unnamed stands for a squad that the caller may not see.
const unnamed = "another squad"

// For says for which squad: "for the Under 18", or "for another squad" where its name is not to be seen.
func For(squad string) string {
	if squad == unnamed {
		return "for " + squad
	}
	return "for the " + squad
}

// sumBySquad says what each squad's part of the season was made of, in the order in which the player came to them; nil
// if all is of one.
func (p *Player) sumBySquad() (all []SquadSummary) {
	if len(p.squads) < 2 {
		return nil
	}
	for i := range p.Matches {
		m := &p.Matches[i]
		if m.squad() == 0 {
			continue
		}
		k := slices.IndexFunc(all, func(s SquadSummary) bool { return s.SquadID == m.squad() })
		if k < 0 {
			k, all = len(all), append(all, SquadSummary{SquadID: m.squad(), Squad: p.squads[m.squad()],
				FullMatch: m.FullMatch})
		}
		all[k].add(m)
	}
	return all
}

func (s *SquadSummary) add(m *MatchLine) {
	s.Matches++
	s.Minutes += m.Minutes
	if m.untimed() {
		s.WithoutMinutes++
	}
	if m.Started != nil && *m.Started {
		s.Started++
	}
	switch m.Source {
	case models.FromLog:
		s.Logged++
	case models.FromTotals:
		s.Totals++
	default:
		s.Bare++
	}
}

// ForSquad names the squad that levels are of, such as " for the Under 18", of a player who played for several; empty
// for anyone else.
func (p *Player) ForSquad() string {
	if len(p.squads) < 2 || p.Squad == nil {
		return ""
	}
	return " " + For(p.Squad.Name)
}

// CountedFor is how many matches of an indicator are of the squad that the player is compared with.
func (p *Player) CountedFor(l *IndicatorLine) int {
	if p.Squad == nil || l.Squads == nil && (l.OnlySquad == "" || l.OnlySquad == p.Squad.Name) {
		return l.Matches
	}
	for i := range l.Squads {
		if l.Squads[i].SquadID == p.Squad.ID {
			return l.Squads[i].Matches
		}
	}
	return 0
}

// PartLine is one indicator in parts of the matches, such as the quarters of the player's own time on the pitch.
type PartLine struct {
	Indicator string `json:"indicator"`
	Label     string `json:"label"`
	Unit      string `json:"unit"`
	// true for quarters of the player's own time; false for phases 1 to 3 and from phase 4 on
	Quarters bool `json:"quarters"`
	// the squad whose matches these are, if the player has figures for several; absent for all squads together
	SquadID int64  `json:"squad_id,omitempty"`
	Squad   string `json:"squad,omitempty"` // the squad's name
	// the names of the squads added together, if there are several
	Together []string `json:"together,omitempty"`

	Parts []PartFigure `json:"parts"` // the parts, in the order of play
}

// PartFigure is the figure for one part of the match. The first three quarters together come after the four single
// quarters, for comparison with the last one.
type PartFigure struct {
	Part        string  `json:"part"` // the part's code, such as q4
	Label       string  `json:"label"`
	Matches     int     `json:"matches"` // how many matches with figures for this part
	Numerator   float64 `json:"numerator"`
	Denominator float64 `json:"denominator"` // full matches, trials or actions
	Value       float64 `json:"value"`       // the value, in the indicator's unit
}

const firstThree = "q1_q3"

// bySquad splits an indicator's matches by squad, in the order in which the player came to them; nil if all are of
// one.
func (p *Player) bySquad(of *IndicatorLine) (all []SquadFigure) {
	for i := range of.Points {
		o := &of.Points[i]
		k := slices.IndexFunc(all, func(s SquadFigure) bool { return s.SquadID == o.squad })
		if k < 0 {
			k, all = len(all), append(all, SquadFigure{SquadID: o.squad, Squad: p.squads[o.squad], line: &IndicatorLine{
				Code: of.Code, Label: of.Label, Family: of.Family, Unit: of.Unit, Better: of.Better,
				Dispersion: of.Dispersion}})
		}
		all[k].line.Points = append(all[k].line.Points, *o)
	}
	if len(all) < 2 {
		return nil
	}
	for i := range all {
		all[i].fill()
	}
	return all
}

// fill takes what describe says about the matches of one squad.
func (s *SquadFigure) fill() {
	l := s.line
	l.describe()
	s.Matches, s.Numerator, s.Denominator, s.Season, s.Season95 = len(l.Points), l.Numerator, l.Denominator, l.Season,
		l.Season95
	s.Median, s.Median95, s.Countable, s.Best, s.Worst = l.Median, l.Median95, l.Countable, l.Best, l.Worst
	l.Matches = s.Matches
}

// compared are the matches of the squad that the player is compared with, and their places.
func (p *Player) compared(points []Point) (own []Point, places []int) {
	for i := range points {
		if p.Squad == nil || points[i].squad == p.Squad.ID {
			own, places = append(own, points[i]), append(places, i)
		}
	}
	return own, places
}

// partLines are the indicators in parts of the matches, in the catalogue's order: of a player with figures for several
// squads for each squad, and then for all of them together.
func (p *Player) partLines(catalogue []models.Indicator, points map[string][]Point) []PartLine {
	lines := []PartLine{}
	for i := range catalogue {
		in := &catalogue[i]
		for _, quarters := range []bool{true, false} {
			lines = append(lines, p.partsOf(in, quarters, points)...)
		}
	}
	return lines
}

func (p *Player) partsOf(in *models.Indicator, quarters bool, points map[string][]Point) (lines []PartLine) {
	whole := partLine(in, quarters, points, 0)
	if len(whole.Parts) == 0 {
		return nil
	}
	for i := range p.Matches {
		id := p.Matches[i].squad()
		if id == 0 || slices.ContainsFunc(lines, func(l PartLine) bool { return l.SquadID == id }) {
			continue
		}
		if l := partLine(in, quarters, points, id); len(l.Parts) > 0 {
			l.SquadID, l.Squad = id, p.squads[id]
			lines = append(lines, l)
			whole.Together = append(whole.Together, l.Squad)
		}
	}
	switch {
	case len(lines) == 1 && len(p.squads) > 1:
		return lines
	case len(lines) < 2:
		whole.Together = nil
		return []PartLine{whole}
	}
	return append(lines, whole)
}

// partLine is an indicator in parts of the matches of a squad, of all for 0.
func partLine(in *models.Indicator, quarters bool, points map[string][]Point, squad int64) PartLine {
	l := PartLine{Indicator: in.Code, Label: in.Label, Unit: in.Unit, Quarters: quarters}
	early := PartFigure{Part: firstThree, Label: "First three quarters"}
	for _, part := range models.Parts() {
		if part.Quarter > 0 != quarters {
			continue
		}
		ps := points[in.Code+"."+part.Code]
		if squad != 0 {
			ps = slices.DeleteFunc(slices.Clone(ps), func(o Point) bool { return o.squad != squad })
		}
		if len(ps) == 0 {
			continue
		}
		f := PartFigure{Part: part.Code, Label: part.Label}
		f.add(ps)
		if part.Quarter > 0 && part.Quarter < 4 {
			early.add(ps)
		}
		l.Parts = append(l.Parts, f)
	}
	if early.Denominator > 0 {
		l.Parts = append(l.Parts, early)
	}
	return l
}

func (f *PartFigure) add(points []Point) {
	f.Matches = max(f.Matches, len(points))
	for i := range points {
		f.Numerator += points[i].Numerator
		f.Denominator += points[i].Denominator
	}
	f.Value = f.Numerator / f.Denominator
}

// Part returns a part of a line, nil if it has no figure.
func (l *PartLine) Part(code string) *PartFigure {
	if i := slices.IndexFunc(l.Parts, func(f PartFigure) bool { return f.Part == code }); i >= 0 {
		return &l.Parts[i]
	}
	return nil
}
