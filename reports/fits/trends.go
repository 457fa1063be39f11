package fits

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
	"throughline/reports/trend"
)

// trends turns what a fit found into the trends of its players.
func (d *Data) trends(s *subject, r *trend.Result) []models.Trend {
	var all []models.Trend
	around := circles{of: r, made: map[string]*trend.Circle{}}
	adjusted, shuffled := s.adjusted(), s.shuffle()
	for i := range r.Players {
		p := &r.Players[i]
		id, err := strconv.ParseInt(p.Name, 10, 64)
		if err != nil || p.Matches == 0 && len(p.Odd) == 0 {
			continue
		}
		f := models.TrendFigures{
			Verdict: string(p.Verdict), Matches: p.Matches, Minutes: p.Minutes, Trials: p.Trials, Converged: r.Converged,
			Method: method(r), Note: note(r, p), Checks: r.Questions, Remarks: r.Remarks,
			Start: s.estimate(p.Start), Now: s.estimate(p.Now), Change: estimate(p.Change), Next: s.estimate(p.Next),
			Improved: number(p.Improved), Declined: number(p.Declined), Worthwhile: number(r.Worthwhile),
			Variation: number(p.Variation), FalseSign: number(p.FalseSign), Compared: around.compared(p, s.byPosition),
		}
		if f.Compared != nil && !s.signed() {
			f.Compared.Range80 = f.Compared.Range80.NotNegative()
		}
		if s.fit.Data.Family == trend.Rate {
			f.WithoutMinutes = d.untimed[id]
		}
		if p.Standing != nil {
			f.Standing = &models.Standing{Of: p.Standing.Of, Rank: p.Standing.Rank, Rank80: models.Range(p.Standing.Rank80)}
		}
		for _, o := range p.Odd {
			f.Odd = append(f.Odd, s.odd(o))
		}
		for _, o := range p.AsideBefore {
			f.Odd = append(f.Odd, d.oddBefore(s, o))
		}
		if headlines, _ := models.Headlines(models.Group(d.groups[id])); slices.Contains(headlines, s.indicator) {
			f.Expected = s.expected(r, p.Name)
		}
		f.Before, f.Curve = d.levelsBefore(s, p), d.curve(s, r, p.Name)
		f.Goals, f.Adjusted = d.outlooks(s, r, id), adjusted[p.Name]
		all = append(all, models.Trend{PlayerID: id, Indicator: s.indicator, Skill: s.skill, Figures: f,
			Draws: s.draws(r, p.Name, id, f.Now, shuffled)})
	}
	return all
}

// shuffle is the order in which the draws of the subject are kept. All fits draw from the same seed: without it, two
// subjects' draws would go together, which nothing in the data says.
func (s *subject) shuffle() []int {
	h := fnv.New64a()
	_, _ = h.Write([]byte(s.indicator + "/" + s.skill))
	return rand.New(rand.NewPCG(h.Sum64(), models.DrawsKept)).Perm(models.DrawsKept)
}

// draws are joint draws of a player's level now. Where the fit has none, as with a simpler level, they are of a normal
// law about the level, on its own.
func (s *subject) draws(r *trend.Result, player string, id int64, now *models.Estimate, order []int) models.Draws {
	if now == nil {
		return nil
	}
	joint := r.LevelDraws(player, models.DrawsKept)
	if joint == nil {
		h := fnv.New64a()
		_, _ = h.Write([]byte(s.indicator + "/" + s.skill))
		random := rand.New(rand.NewPCG(h.Sum64(), uint64(id)))
		sd := (now.Range80.Hi - now.Range80.Lo) / (2 * distuv.UnitNormal.Quantile(0.9))
		joint = make([]float64, models.DrawsKept)
		for d := range joint {
			joint[d] = now.Mean + sd*random.NormFloat64()
		}
	}
	kept := make(models.Draws, len(joint))
	for d := range kept {
		kept[d] = joint[order[d]]
		if !s.signed() {
			kept[d] = max(kept[d], 0)
		}
	}
	return kept
}

// method says whether the model was fitted, or a simpler level stands in.
func method(r *trend.Result) models.LevelMethod {
	if r.Method == "empirical Bayes" {
		return models.EmpiricalBayes
	}
	return models.FittedTrend
}

// odd is what is out of the ordinary: a match, or a training block.
func (s *subject) odd(o trend.OddMatch) models.OddMatch {
	odd := models.OddMatch{MatchID: s.matches[o.Row], Value: o.Value, Expected: o.Expected, Tail: o.Tail,
		SetAside: o.Aside}
	if data := &s.fit.Data; data.Family == trend.Proportion {
		odd.Of = data.Trials[o.Row]
	}
	if odd.MatchID == 0 {
		odd.Block, odd.Date = s.blocks[o.Row], s.dates[o.Row]
	}
	return odd
}

// expected is what was expected of each of the player's matches.
func (s *subject) expected(r *trend.Result, player string) (all []models.ExpectedMatch) {
	for _, e := range r.Expected(player) {
		one := models.ExpectedMatch{MatchID: s.matches[e.Row], Value: s.fit.Data.Value[e.Row], Expected: e.Mean,
			Range80: models.Range(e.Interval80), Opponent: e.Opponent}
		if !s.signed() {
			one.Range80 = one.Range80.NotNegative()
		}
		if s.fit.Data.Family == trend.Proportion {
			one.Of = s.fit.Data.Trials[e.Row]
		}
		all = append(all, one)
	}
	return all
}

// oddBefore is what is out of the ordinary in an earlier season.
func (d *Data) oddBefore(s *subject, o trend.OddMatch) models.OddMatch {
	odd := s.past[o.Back-1].odd(o)
	odd.Season, odd.Date = d.earlier[o.Back-1], s.past[o.Back-1].dates[o.Row]
	return odd
}

// curve is the level on the days of the squad's matches, and before and after the subject's own data the level at
// their ends; nil if the fit has none.
func (d *Data) curve(s *subject, r *trend.Result, player string) []models.CurvePoint {
	var points []models.CurvePoint
	first, last := slices.Min(s.fit.Data.Time), slices.Max(s.fit.Data.Time)
	for _, date := range d.days {
		t, err := day(date)
		if err != nil {
			return nil
		}
		level, err := r.LevelAt(player, min(max(t-d.origin, first), last))
		if err != nil {
			return nil
		}
		at := s.estimate(&level)
		if at == nil {
			return nil
		}
		points = append(points, models.CurvePoint{Date: date, Estimate: *drawn(at)})
	}
	return points
}

// outlooks says how likely the player's open goals on the subject are to be reached.
func (d *Data) outlooks(s *subject, r *trend.Result, player int64) []models.GoalOutlook {
	var all []models.GoalOutlook
	for _, g := range d.goals[goalKey(s.indicator, s.skill, player)] {
		t, err := day(g.By)
		if err != nil {
			continue
		}
		o, err := r.Outlook(strconv.FormatInt(player, 10), g.Target, t-d.origin)
		if err != nil {
			continue // no figures of the player: nothing to say about the goal either
		}
		all = append(all, models.GoalOutlook{GoalID: g.ID, Target: g.Target, By: g.By, Observed: o.Observed,
			Reached: o.Reached, Now: o.Now, Met: o.Met})
	}
	return all
}

// note is what a reader must know of a player's figures: that a simpler level stands in, or that the fit is to be read
// with care.
func note(r *trend.Result, p *trend.Player) string {
	if p.Note == "" && !r.Converged {
		return "the search for the best fit did not settle: read with care"
	}
	return p.Note
}

// circles are those that a fit's players are compared in, each made once.
type circles struct {
	of   *trend.Result
	made map[string]*trend.Circle // by label; nil if too few have data
}

// compared holds a player's level now against the levels now of the narrowest circle with enough others; nil for none.
func (c *circles) compared(p *trend.Player, byPosition bool) *models.Compared {
	for _, ring := range rings(p.Group, byPosition) {
		if against, ok := c.labelled(ring).Compare(p.Name); ok {
			return shownComparison(against, ring.label, c.of.LowerIsBetter)
		}
	}
	return nil
}

// labelled is the circle of the players of some position groups.
func (c *circles) labelled(of ring) *trend.Circle {
	if made, ok := c.made[of.label]; ok {
		return made
	}
	var names []string
	for i := range c.of.Players {
		if o := &c.of.Players[i]; of.has(o.Group) {
			names = append(names, o.Name)
		}
	}
	c.made[of.label] = c.of.Circle(names)
	return c.made[of.label]
}

func shownComparison(c trend.Comparison, against string, lower bool) *models.Compared {
	shown := &models.Compared{Against: against, Players: c.Of, Mean: c.Mean, Range80: models.Range(c.Range80),
		Ahead: c.Ahead}
	if !(c.SD > 0) {
		return shown
	}
	sign := 1.0
	if lower {
		sign = -1
	}
	standard := sign * c.Distance.Mean / c.SD
	around := models.Range{Lo: sign * c.Distance.Interval80.Lo / c.SD, Hi: sign * c.Distance.Interval80.Hi / c.SD}
	if lower {
		around.Lo, around.Hi = around.Hi, around.Lo
	}
	shown.Standard, shown.Standard80 = &standard, &around
	return shown
}

// number leaves out what is not there.
func number(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// signed says whether a subject's figures can be below 0.
func (s *subject) signed() bool { return !models.NeverNegative(s.indicator) }

// estimate is an estimate of the subject's level or figure, within what those can be.
func (s *subject) estimate(e *trend.Estimate) *models.Estimate {
	if s.signed() {
		return estimate(e)
	}
	return estimate(e).NotNegative()
}

// estimate leaves out what is not there, or not finite at some end.
func estimate(e *trend.Estimate) *models.Estimate {
	if e == nil {
		return nil
	}
	for _, x := range []float64{e.Mean, e.Interval80.Lo, e.Interval80.Hi, e.Interval95.Lo, e.Interval95.Hi} {
		if number(x) == nil {
			return nil
		}
	}
	return &models.Estimate{Mean: e.Mean, Range80: models.Range(e.Interval80), Range95: models.Range(e.Interval95)}
}

// drawn rounds an estimate to five digits, more than a picture can show: a curve is most of what is kept of a trend.
func drawn(e *models.Estimate) *models.Estimate {
	round := func(x float64) float64 {
		if x == 0 {
			return 0
		}
		unit := math.Pow(10, 5-math.Ceil(math.Log10(math.Abs(x))))
		return math.Round(x*unit) / unit
	}
	return &models.Estimate{
		Mean:    round(e.Mean),
		Range80: models.Range{Lo: round(e.Range80.Lo), Hi: round(e.Range80.Hi)},
		Range95: models.Range{Lo: round(e.Range95.Lo), Hi: round(e.Range95.Hi)},
	}
}
