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
	time         [2]float64 // middle, span; span 0: no time
	trend        bool
	minutes      bool
	full         float64
	role         [][2]float64
	centre, unit float64 // of values; Rate and Proportion: the intercept's start, 1
	action       float64 // mean number of actions
}

func (s layout) tau(t float64) float64 {
	if s.time[1] == 0 {
		return 0
	}
	return (t - s.time[0]) / s.time[1]
}

// onward is τ as players' slopes see it beyond the data, and common as the squad's trend does. Where a player stands
// at the end of a trend is partly development, which stays, and partly form, which fades; with even odds, half of the
// way from the season's middle is kept, and the other half fades within weeks. What a whole squad has in common is the
// opposition, the pitches and who keeps the count as much as it is coaching: all of it fades.
func onward(tau float64) float64 { return (min(tau, seasonEnd) + common(tau)) / 2 }

func common(tau float64) float64 {
	const fading = 0.1
	if tau <= seasonEnd {
		return tau
	}
	return seasonEnd * math.Exp(-(tau-seasonEnd)/fading)
}

const seasonEnd = 0.5 // τ of the data's last date

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
		add("t", priorTrend)
	}
	if s.minutes {
		add("log(minutes)", priorCovariate)
	}
	for j := range s.role {
		add(fmt.Sprintf("role%d", j+1), priorCovariate)
	}
	return names, sd
}

// occasion is one match of one player, played or to be played. NaN, or the zero of a string, is average or not known.
type occasion struct {
	Player, Group             string
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
	if i := slices.Index(s.groups, c.Group); i >= 0 {
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
		x[j] = common(s.tau(c.Time))
		j++
	}
	if s.minutes {
		x[j] = math.Log(or(c.Minutes, s.full) / s.full)
		j++
	}
	for k, r := range s.role {
		if k < len(c.Role) && r[1] > 0 {
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
	s := layout{family: d.Family, full: o.fullMatch(), unit: 1, action: 1}
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
	if d.Group != nil {
		for _, i := range rows {
			if !slices.Contains(s.groups, d.Group[i]) {
				s.groups = append(s.groups, d.Group[i])
			}
		}
		slices.Sort(s.groups)
	}
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
			s.time = [2]float64{(lo + hi) / 2, hi - lo}
			s.trend = !o.NoTime
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
			e := 1.0
			if d.Minutes != nil {
				e = d.Minutes[i] / s.full
			}
			num, den = num+d.Value[i], den+e
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
	return s
}
