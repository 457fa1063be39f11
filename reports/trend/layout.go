package trend

import (
	"fmt"
	"math"
	"slices"
)

// layout turns a row into η's columns and back.
type layout struct {
	family       Family
	groups       []string
	difficulty   [2]float64 // mean, SD; SD 0: no such column
	home         bool
	time         [2]float64 // where τ is 0, and the length of a season; length 0: no time
	first        float64    // τ of the first of the data
	span         float64    // share of a season in the data
	trend        bool
	trendScale   float64 // SD of what a whole season makes of a whole squad
	rise         float64 // and its mean, as far as the data's share of a season goes
	squads       []string
	earlier      map[string]past // on the scale of η
	newcomer     bool            // players with and without earlier seasons
	minutes      bool
	full         float64
	role         [][2]float64
	centre, unit float64 // of values; Rate and Proportion: the intercept's start, 1
	action       float64 // mean number of actions
	grades       bool    // Rating: all from 1 to 5, and nothing said about one is outside
}

func (s layout) tau(t float64) float64 {
	if s.time[1] == 0 {
		return 0
	}
	return (t - s.time[0]) / s.time[1]
}

// clamp keeps τ to the dates with data.
func (s layout) clamp(tau float64) float64 { return min(max(tau, s.first), s.last()) }

// last is τ of the last of the data.
func (s layout) last() float64 { return s.first + s.span }

// pasts gives what earlier seasons say about players by name; nil when they say nothing of any.
func (s layout) pasts(names []string) []past {
	if len(s.earlier) == 0 {
		return nil
	}
	out := make([]past, len(names))
	for j, name := range names {
		out[j] = s.earlier[name]
	}
	return out
}

// names lists the fixed effects with the SDs of their priors.
func (s layout) names() (names []string, sd []float64) {
	add := func(name string, v float64) { names, sd = append(names, name), append(sd, v) }
	add("(Intercept)", priorIntercept)
	for _, g := range s.groups {
		add("group"+g, priorGroup)
	}
	if s.difficulty[1] > 0 {
		add("opponent", priorCovariate)
	}
	if s.home {
		add("home", priorCovariate)
	}
	if s.trend {
		add("t", s.trendScale*math.Sqrt(s.span))
	}
	if s.minutes {
		add("log(minutes)", priorCovariate)
	}
	if len(s.earlier) > 0 {
		add("earlier", priorKept)
	}
	if s.newcomer {
		add("newcomer", priorNewcomer)
	}
	for _, q := range s.squads {
		add("squad"+q, priorSquad)
	}
	for j := range s.role {
		add(fmt.Sprintf("role%d", j+1), priorLent/math.Sqrt(float64(len(s.role))))
	}
	return names, sd
}

// occasion is one match of one player, played or to be played. NaN, or the zero of a string, is average or not known.
type occasion struct {
	Player, Group, Squad      string
	Time                      float64
	Difficulty, Home, Minutes float64
	Trials                    float64 // Proportion and Mean: expected; NaN: as many as usual
	Role                      []float64
}

// fill sets x to one occasion's columns. NaN is average.
func (s layout) fill(x []float64, c occasion) {
	clear(x)
	x[0] = 1
	j := 1
	before, returning := s.earlier[c.Player]
	if i := slices.Index(s.groups, c.Group); i >= 0 && !returning { // an earlier level holds its group's
		x[j+i] = 1
	}
	j += len(s.groups)
	or := func(v, otherwise float64) float64 {
		if math.IsNaN(v) {
			return otherwise
		}
		return v
	}
	if s.difficulty[1] > 0 {
		x[j] = (or(c.Difficulty, s.difficulty[0]) - s.difficulty[0]) / s.difficulty[1]
		j++
	}
	if s.home {
		x[j] = or(c.Home, 0.5) - 0.5
		j++
	}
	if s.trend {
		x[j] = s.tau(c.Time)
		j++
	}
	if s.minutes {
		x[j] = math.Log(or(c.Minutes, s.full) / s.full)
		j++
	}
	if len(s.earlier) > 0 {
		x[j] = before.mean
		j++
	}
	if s.newcomer {
		if !returning {
			x[j] = 1
		}
		j++
	}
	if i := slices.Index(s.squads, c.Squad); i >= 0 {
		x[j+i] = 1
	}
	j += len(s.squads)
	for k, r := range s.role {
		if k < len(c.Role) && r[1] > 0 && !returning {
			x[j+k] = (or(c.Role[k], r[0]) - r[0]) / r[1]
		}
	}
}

// occasion reads row i of the data.
func (d Data) occasion(i int) occasion {
	nan := math.NaN()
	c := occasion{Player: d.Player[i], Time: nan, Difficulty: nan, Home: nan, Minutes: nan, Trials: nan}
	if d.Group != nil {
		c.Group = d.Group[i]
	}
	if d.Squad != nil {
		c.Squad = d.Squad[i]
	}
	for _, v := range []struct {
		to *float64
		of []float64
	}{{&c.Time, d.Time}, {&c.Difficulty, d.Difficulty}, {&c.Home, d.Home}, {&c.Minutes, d.Minutes},
		{&c.Trials, d.Trials}} {
		if v.of != nil {
			*v.to = v.of[i]
		}
	}
	for _, r := range d.Role {
		c.Role = append(c.Role, r[i])
	}
	return c
}

// newLayout measures the data.
func newLayout(d Data, o Options, rows []int) layout {
	s := layout{family: d.Family, full: o.fullMatch(), unit: 1, action: 1, grades: d.graded(rows)}
	moments := func(column []float64) [2]float64 {
		var n, m, q float64
		for _, i := range rows {
			if v := column[i]; !math.IsNaN(v) {
				n++
				m += v
			}
		}
		m /= max(n, 1)
		for _, i := range rows {
			if v := column[i]; !math.IsNaN(v) {
				q += (v - m) * (v - m)
			}
		}
		sd := math.Sqrt(q / max(n, 1))
		if sd <= 1e-9*math.Abs(m) {
			sd = 0
		}
		return [2]float64{m, sd}
	}
	s.groups, s.squads = distinct(d.Group, rows), distinct(d.Squad, rows)
	if d.Difficulty != nil {
		s.difficulty = moments(d.Difficulty)
	}
	s.home = d.Home != nil && moments(d.Home)[1] > 0
	if d.Time != nil {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, i := range rows {
			lo, hi = min(lo, d.Time[i]), max(hi, d.Time[i])
		}
		if hi > lo {
			s.time = [2]float64{lo, max(o.Season, hi-lo)}
			s.span = (hi - lo) / s.time[1]
			if o.over {
				s.time[0], s.first = (lo+hi)/2, -s.span/2
			}
			s.trend, s.trendScale = !o.NoTime, o.Scales.orStart().Trend
			if s.trend && d.Family == Rate {
				s.rise = o.Scales.Rise * math.Sqrt(s.span)
			}
		}
	}
	if d.Family == Rate && d.Minutes != nil {
		s.minutes = moments(d.Minutes)[1] > 0
	}
	for _, r := range d.Role {
		s.role = append(s.role, moments(r))
	}
	var num, den float64
	for _, i := range rows {
		switch d.Family {
		case Rate:
			num, den = num+d.Value[i], den+d.exposure(i, s.full)
		case Proportion:
			num, den = num+d.Value[i], den+d.Trials[i]
		default:
			w := 1.0
			if d.Trials != nil && d.Family == Mean {
				w = d.Trials[i]
			}
			num, den = num+w*d.Value[i], den+w
		}
	}
	switch d.Family {
	case Rate:
		s.centre = math.Log((num + 0.5) / (den + 0.5))
	case Proportion:
		s.centre = math.Log((num + 0.5) / (den - num + 0.5))
	default:
		s.centre = num / den
		s.action = den / float64(len(rows))
		var q float64
		for _, i := range rows {
			w := 1.0
			if d.Trials != nil && d.Family == Mean {
				w = d.Trials[i]
			}
			q += w * (d.Value[i] - s.centre) * (d.Value[i] - s.centre)
		}
		s.unit = math.Sqrt(q / den)
	}
	s.addEarlier(d, o.Earlier, rows)
	return s
}

// addEarlier keeps what earlier seasons say about the players with rows.
func (s *layout) addEarlier(d Data, e *Earlier, rows []int) {
	if e == nil {
		return
	}
	s.earlier = map[string]past{}
	for _, i := range rows {
		l, ok := e.levels[d.Player[i]]
		if !ok {
			s.newcomer = true
			continue
		}
		s.earlier[d.Player[i]] = past{l.Mean / s.unit, l.Variance / (s.unit * s.unit), l.Years}
	}
	if len(s.earlier) == 0 {
		s.newcomer = false
	}
}

// distinct lists the different texts of some rows in their order.
func distinct(column []string, rows []int) []string {
	if column == nil {
		return nil
	}
	seen := map[string]bool{}
	var out []string
	for _, i := range rows {
		if !seen[column[i]] {
			seen[column[i]] = true
			out = append(out, column[i])
		}
	}
	slices.Sort(out)
	return out
}

// graded reports whether every row is a grade from 1 to 5.
func (d Data) graded(rows []int) bool {
	return d.Family == Rating && !slices.ContainsFunc(rows, func(i int) bool {
		return d.Value[i] < leastGrade || d.Value[i] > mostGrade
	})
}
