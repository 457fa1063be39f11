package trend

import (
	"math"
	"slices"
)

// natural turns an η of an average match (without its offset) into the indicator's natural scale.
func (s layout) natural(eta float64) float64 {
	switch s.family {
	case Rate:
		return math.Exp(s.centre + eta)
	case Proportion:
		p, _ := logit(s.centre + eta)
		return p
	}
	v := s.centre + s.unit*eta
	if s.grades {
		return min(max(v, leastGrade), mostGrade)
	}
	return v
}

// graded keeps a range of grades within those there are.
func (iv Interval) graded() Interval {
	return Interval{min(max(iv.Lo, leastGrade), mostGrade), min(max(iv.Hi, leastGrade), mostGrade)}
}

// linear is natural's inverse: ±Inf for what the scale cannot reach.
func (s layout) linear(v float64) float64 {
	switch s.family {
	case Rate:
		return math.Log(max(v, 0)) - s.centre
	case Proportion:
		return math.Log(max(v, 0)) - math.Log(max(1-v, 0)) - s.centre
	}
	return (v - s.centre) / s.unit
}

// level is the distribution of a player's level (on the scale of η) at τ.
func (s *season) level(x []float64, j int, tau float64) mixture {
	m := make(mixture, len(s.beliefs))
	for i := range s.beliefs {
		b := &s.beliefs[i]
		mean, v := b.at(x, j, tau)
		m[i] = component{b.weight, mean, math.Sqrt(v + b.wander(s.layout, tau))}
	}
	return m
}

// estimate turns a distribution of η into an estimate on the natural scale.
func (s layout) estimate(m mixture) Estimate {
	e := Estimate{
		Interval80: Interval{s.natural(m.quantile(0.1)), s.natural(m.quantile(0.9))},
		Interval95: Interval{s.natural(m.quantile(0.025)), s.natural(m.quantile(0.975))},
	}
	for _, c := range m {
		switch s.family {
		case Rate:
			e.Mean += c.weight * s.natural(c.mean+c.sd*c.sd/2)
		case Proportion:
			for _, h := range hermite5 {
				e.Mean += c.weight * h[1] * s.natural(c.mean+h[0]*c.sd)
			}
		default:
			e.Mean += c.weight * s.natural(c.mean)
		}
	}
	return e
}

// ofPlayer gives a player's own columns: an average match, the full of it, at home as often as away.
func (s *season) ofPlayer(j int, tau float64) []float64 {
	x := slices.Clone(s.xOf[j*s.q : (j+1)*s.q])
	if s.layout.trend {
		x[s.trendColumn()] = tau
	}
	return x
}

func (s *season) trendColumn() int {
	j := 1 + len(s.layout.groups)
	if s.layout.difficulty[1] > 0 {
		j++
	}
	if s.layout.home {
		j++
	}
	return j
}

// summarise fills what belongs to the squad: fixed effects, spreads, modes.
func (s *season) summarise(r *Result, g design) {
	unit := s.layout.unit
	var kappa float64
	sd := Spreads{}
	for _, b := range s.beliefs {
		kappa += b.weight * b.kappa
		sd.PlayerLevel += b.weight * b.sd[0] * unit
		sd.PlayerSlope += b.weight * b.sd[1] * unit
		sd.Match += b.weight * b.match * unit
		sd.Year += b.weight * b.year * unit
		sd.Coach += b.weight * b.coach * unit
		sd.Residual += b.weight * math.Sqrt(b.kappa) * unit
	}
	r.SD.PlayerLevel = sd.PlayerLevel
	if s.slope {
		r.SD.PlayerSlope = sd.PlayerSlope
	}
	if len(s.layout.earlier) > 0 {
		r.SD.Year = sd.Year
	}
	if s.match {
		r.SD.Match = sd.Match
	}
	if s.coach {
		r.SD.Coach = sd.Coach
	}
	switch {
	case s.family == Mean || s.family == Rating:
		r.SD.Residual = sd.Residual * math.Sqrt(s.layout.action)
	case !s.options.Limit:
		r.Dispersion = 1 / kappa
	}
	if s.match {
		r.Matches = s.averaged(g.factors[g.match].levels, func(b *belief) modes { return b.matches })
	}
	if s.coach {
		r.Coaches = s.averaged(g.factors[g.coach].levels, func(b *belief) modes { return b.coaches })
	}
	for j, name := range g.names {
		m := make(mixture, len(s.beliefs))
		for i, b := range s.beliefs {
			m[i] = component{b.weight, b.beta[j] * unit, math.Sqrt(max(b.vxx[j*s.q+j], 0)) * unit}
		}
		e := Effect{Name: name}
		e.Estimate, e.SE = m.moments()
		if j == 0 {
			e.Estimate += s.layout.centre
		}
		r.Fixed = append(r.Fixed, e)
	}
}

// averaged gives the means and SDs of a factor's effects over what is believed, in units of the values.
func (s *season) averaged(names []string, of func(b *belief) modes) []Mode {
	out := make([]Mode, len(names))
	for j, name := range names {
		m := make(mixture, len(s.beliefs))
		for i := range s.beliefs {
			e := of(&s.beliefs[i])
			m[i] = component{s.beliefs[i].weight, e.level[j] * s.layout.unit, e.levelSD[j] * s.layout.unit}
		}
		out[j].Name = name
		out[j].Mode, out[j].SD = m.moments()
	}
	return out
}

// place sets the columns of an average match of each player, at the last of their own.
func (s *season) place(d Data, g design) {
	last := map[string]int{} // player → their last row
	for i, name := range d.Player {
		if k, ok := last[name]; !ok || d.Time == nil || d.Time[i] >= d.Time[k] {
			last[name] = i
		}
	}
	s.xOf = make([]float64, len(g.factors[0].levels)*s.q)
	for name, j := range s.player {
		c := d.occasion(last[name])
		c.Difficulty, c.Home, c.Minutes, c.Time = math.NaN(), math.NaN(), math.NaN(), s.layout.time[0]
		s.layout.fill(s.xOf[j*s.q:(j+1)*s.q], c)
	}
}

// describe fills the players.
func (s *season) describe(r *Result, d Data) {
	r.Players = roster(d)
	r.Minutes = d.Minutes != nil
	n := 0
	for i := range r.Players {
		p := &r.Players[i]
		j, ok := s.player[p.Name]
		if !ok {
			p.Note = "no match has " + d.opportunity()
			continue
		}
		s.describePlayer(p, j)
		now := s.layout.estimate(s.level(s.ofPlayer(j, s.now), j, s.now))
		p.Now = &now
		p.Before, p.AsideBefore = s.options.Earlier.before(p.Name), s.options.Earlier.asideOf(p.Name)
		n++
	}
	if r.Worthwhile = s.options.Worthwhile; !(r.Worthwhile > 0) {
		r.Worthwhile = worthwhile(r.Players)
	}
	r.LowerIsBetter = s.options.LowerIsBetter
	if s.slope && s.now > s.start {
		for i := range r.Players {
			if p := &r.Players[i]; p.Now != nil {
				s.describeChange(p, s.player[p.Name], r)
			}
		}
	}
	if r.Worthwhile == 0 && n > 0 || !s.slope {
		r.Notes = append(r.Notes, "changes are not judged: that takes dates, slopes and at least two players")
	}
	s.standings(r)
	Judge([]*Result{r})
}

// describePlayer fills a player's effects, variation and next match.
func (s *season) describePlayer(p *Player, j int) {
	level, slope := make(mixture, len(s.beliefs)), make(mixture, len(s.beliefs))
	for i, b := range s.beliefs {
		level[i] = component{b.weight, b.u[j][0] * s.layout.unit, math.Sqrt(max(b.vuu[j][0], 0)) * s.layout.unit}
		slope[i] = component{b.weight, b.u[j][1] * s.layout.unit, math.Sqrt(max(b.vuu[j][2], 0)) * s.layout.unit}
	}
	p.LevelMode, p.LevelModeSD = level.moments()
	p.SlopeMode, p.SlopeModeSD = slope.moments()
	if !s.slope {
		p.SlopeMode, p.SlopeModeSD = math.NaN(), math.NaN()
	}
	next := s.predictive(s.ofPlayer(j, s.now), j, s.now, 1, p.usualTrials())
	p.Variation = next.variation()
	e := next.estimate()
	p.Next = &e
}

// usualTrials is how many trials a player has in a match.
func (p *Player) usualTrials() float64 {
	if p.Trials > 0 && p.Matches > 0 {
		return max(1, math.Round(p.Trials/float64(p.Matches)))
	}
	return 1
}

// describeChange fills start, change and the probabilities of its being worthwhile, which need to know what is.
func (s *season) describeChange(p *Player, j int, r *Result) {
	from, to := s.ofPlayer(j, s.start), s.ofPlayer(j, s.now)
	tau0, tau1 := s.start, s.now
	start := s.layout.estimate(s.level(from, j, tau0))
	p.Start = &start
	parts := make([]pair, len(s.beliefs))
	for i := range s.beliefs {
		b := &s.beliefs[i]
		m1, v1 := b.at(from, j, tau0)
		m2, v2 := b.at(to, j, tau1)
		parts[i] = newPair(b.weight, m1, m2, v1+b.wander(s.layout, tau0), v2+b.wander(s.layout, tau1),
			b.cov(from, to, j, tau0, tau1))
	}
	c := newChange(s.family, s.layout.centre, s.layout.unit, parts)
	e := c.estimate()
	p.Change = &e
	if !(r.Worthwhile > 0) {
		return
	}
	p.Improved, p.Declined = 1-c.cdf(r.Worthwhile), c.cdf(-r.Worthwhile)
	below := c.cdf(0)
	p.FalseSign = min(below, 1-below)
	if r.LowerIsBetter {
		p.Improved, p.Declined = p.Declined, p.Improved
	}
}
