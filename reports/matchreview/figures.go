package matchreview

import (
	"math"

	"throughline/models"
	"throughline/reports/evidence"
)

// Figure is the value of an indicator in this match.
type Figure struct {
	Code        string        `json:"code"`
	Label       string        `json:"label"`
	Unit        string        `json:"unit"`
	Better      models.Better `json:"better"`
	Headline    bool          `json:"headline"` // of the player's position group
	Value       float64       `json:"value"`
	Numerator   float64       `json:"numerator"`
	Denominator float64       `json:"denominator"`
	Source      models.Source `json:"source"`
	// The level of the trend on the day of the match; for staff. It is of a usual match, so the opponent is not in it.
	Level *float64 `json:"level,omitempty"`
	// The levels that fit this match alone; for staff.
	Fits *models.Range `json:"fits_80,omitempty"`
	// Where the match is out of the ordinary, what the trend expected of it, the opponent considered; for staff.
	Odd *models.OddMatch `json:"odd,omitempty"`
}

// ExpectedFigure is what was recorded of a headline indicator beside what was expected of it: from the player's level
// then, the opponent, home or away, the minutes and what team-mates did, and everything but the match's own figure.
type ExpectedFigure struct {
	Code     string        `json:"code"`
	Label    string        `json:"label"`
	Unit     string        `json:"unit"`
	Better   models.Better `json:"better"`
	Recorded float64       `json:"recorded"`     // a count, successes or a mean
	Of       float64       `json:"of,omitempty"` // the trials, if it is a number of successes
	Expected float64       `json:"expected"`     // the mean of what was expected, as recorded
	Range80  models.Range  `json:"range_80"`     // expected four times in five
	Opponent bool          `json:"opponent"`     // whether the opponent's difficulty is part of it
	Reads    Reading       `json:"reads"`        // whether the recorded lies above, below or within the range
}

// Reading is how a figure lies to its range.
type Reading string

// The readings.
const (
	Above  Reading = "above"
	Below  Reading = "below"
	Within Reading = "within"
)

// Codes lists the readings.
func (Reading) Codes() []Reading { return []Reading{Above, Below, Within} }

// expect adds what was expected of a headline indicator; for staff.
func (r *Report) expect(l *evidence.IndicatorLine) {
	if r.own() || !l.Headline || l.Trend == nil {
		return
	}
	for _, e := range l.Trend.Expected {
		if e.MatchID != r.Match.ID {
			continue
		}
		f := ExpectedFigure{Code: l.Code, Label: l.Label, Unit: l.Unit, Better: l.Better, Recorded: e.Value, Of: e.Of,
			Expected: e.Expected, Range80: e.Range80, Opponent: e.Opponent, Reads: Within}
		if e.Value > e.Range80.Hi {
			f.Reads = Above
		} else if e.Value < e.Range80.Lo {
			f.Reads = Below
		}
		r.Expected = append(r.Expected, f)
	}
}

// ShareLine is the player's share, more than none, of the team's count in the minutes that the player was on the pitch
// and watched.
type ShareLine struct {
	Label  string  `json:"label"`
	Player float64 `json:"player"`
	// the team's count times the part of the match that was watched or, of totals, played
	Team  float64 `json:"team"`
	Share float64 `json:"share"` // the player’s share of the team’s, 0 to 1
	// where the player's count is from: totals count all of their minutes, a log those watched
	Source models.Source `json:"source"`
}

// readFigures reads the indicators of the season, and keeps what this match has of them.
func (r *Report) readFigures(src Source, of *evidence.Player) error {
	if of.Match(r.Match.ID) == nil {
		return nil
	}
	if err := of.ReadTrends(src); err != nil {
		return err
	}
	if err := of.ReadIndicators(src); err != nil {
		return err
	}
	indicators, err := src.Indicators()
	if err != nil {
		return err
	}
	numerators := map[string]string{}
	for _, i := range indicators {
		if i.Family == models.Rate {
			numerators[i.Code] = i.Numerator
		}
	}
	teams, err := src.TeamTotals(models.TeamTotalsFilter{MatchID: r.Match.ID, Scope: models.WholeTeam})
	if err != nil {
		return err
	}
	for i := range of.Indicators {
		l := &of.Indicators[i]
		r.expect(l)
		for k := range l.Points {
			if p := &l.Points[k]; p.MatchID == r.Match.ID {
				r.Figures = append(r.Figures, r.figure(l, p))
				for _, t := range teams {
					r.addShare(l.Label, p, t.Counts[numerators[l.Code]])
				}
			}
		}
	}
	if !r.own() {
		for _, u := range of.Unusual() {
			if u.Match.ID == r.Match.ID {
				r.Unusual = u.What
			}
		}
		if len(r.Unusual) > 0 {
			r.MayExplain = append(r.MayExplain, of.Match(r.Match.ID).Explains()...)
		}
	}
	return r.expectMetres(src)
}

func (r *Report) figure(l *evidence.IndicatorLine, p *evidence.Point) Figure {
	f := Figure{Code: l.Code, Label: l.Label, Unit: l.Unit, Better: l.Better, Headline: l.Headline, Value: p.Value,
		Numerator: p.Numerator, Denominator: p.Denominator, Source: p.Source}
	if r.own() || l.Trend == nil {
		return f
	}
	for _, c := range l.Trend.Curve {
		if c.Date == r.Match.Date {
			f.Level = new(c.Mean)
		}
	}
	for i := range l.Trend.Odd {
		if o := l.Trend.Odd[i]; o.MatchID == r.Match.ID && o.Season == "" {
			f.Odd = &o
		}
	}
	if p.Plausible80 != nil {
		f.Fits = &models.Range{Lo: p.Plausible80.Lo, Hi: p.Plausible80.Hi}
	}
	return f
}

func (r *Report) addShare(label string, p *evidence.Point, team float64) {
	s := ShareLine{Label: label, Player: p.Numerator, Team: team * p.Watched(), Source: p.Source}
	if s.Share = s.Player / s.Team; s.Player > 0 && s.Team > 0 && !math.IsInf(s.Share, 0) {
		r.Shares = append(r.Shares, s)
	}
}

// expectMetres fills in the metres over expected by zone and width. For staff: what is expected of one carry would tell
// a player what the others made. It stands only where its sum is the match's figure, which a reader who sees a part of
// the squad does not get.
func (r *Report) expectMetres(src Source) error {
	var whole *Figure
	for i := range r.Figures {
		if r.Figures[i].Code == models.MetresOverExpected {
			whole = &r.Figures[i]
		}
	}
	if r.own() || whole == nil || r.Match.SquadID == nil {
		return nil
	}
	cells, err := src.CarryCells(models.ObservationFilter{SeasonID: r.Season.ID, SquadID: *r.Match.SquadID})
	if err != nil {
		return err
	}
	expected := models.Expected(cells)
	over, sum := make([]float64, len(r.Carries)), 0.0
	for i := range r.Jobs {
		j := &r.Jobs[i]
		metres, measured := j.of.Measures["metres"]
		if j.Kind != models.KindCarry || !measured {
			continue
		}
		d := j.of.Details
		e, known := expected.Metres(r.Player.ID, d["width"], d["speed"], d["zone"])
		if !known {
			return nil
		}
		for k := range r.Carries {
			if l := &r.Carries[k]; l.Zone == zoneOf(j) && l.Width == widthOf(j) {
				over[k] += metres - e
			}
		}
		sum += metres - e
	}
	if math.Abs(sum-whole.Numerator) > 1e-6 {
		return nil
	}
	for k := range r.Carries {
		if r.Carries[k].Measured > 0 {
			r.Carries[k].OverExpected = new(over[k])
		}
	}
	return nil
}
