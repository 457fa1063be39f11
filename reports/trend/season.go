package trend

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// A season fit. Everything lives on the scale of the linear predictor η: log for Rate, logit for Proportion, and for Mean
// and Rating the values less their mean, over their own SD, with actions counted in units of their mean, so that one set of
// priors serves every indicator and a change of units changes nothing.
//
//	η = intercept + group + difficulty + home + trend·τ + (1 + γ) log(minutes/full match) + role + A_p + B_p τ + V_m + C_c
//
// τ runs from −½ at the first date of the data to +½ at the last. The priors are chosen by what is known of squads before
// any data, not fitted to any season:
//
//   - The intercept is all but free (SD 3).
//   - Position groups differ with SD 0.5, a factor of 1.6; one SD of expected difficulty and playing at home move a match by
//     SD 0.15. A squad's common trend has SD 0.15: coaching, pitches and tactics move everyone a little, and a dozen dates
//     cannot tell more from chance.
//   - The exponent of minutes strays from 1 by SD 0.15: substitutes play differently, but not by a different law.
//   - One SD of what is known of a player's role moves his level by SD 0.15: levels differ with SD 0.5, and two indicators
//     of the same players correlate by 0.3 or so.
//   - SDs lean towards zero, half-normal (Gelman 2006, Bayesian Analysis 1): of scale 0.7 for players' levels, 0.6 for their
//     change over the season (seldom more than what separates players), 0.2 for matches, 0.4 for coaches' severity and for
//     1/√θ and 1/√φ, 1.5 for σ. The correlation's Fisher z is normal, SD 0.5.
//
// The SDs ψ (in logs, the correlation in Fisher's z) are integrated over a small grid: the mode of their posterior under the
// Laplace approximation, its curvature there, and the points of a central composite design in those axes, each axis
// stretched on either side to where the posterior has fallen as a normal would (Rue, Martino & Chopin 2009, JRSS B 71, §6.5).
// Each point weighs what the posterior says of it.
//
// Given ψ, effects are normal about their mean, not their mode: to first order the mean is b̂ + ½ V Σ_i h_i ℓ‴_i ã_i, which
// makes the mean of e^η that of the skewed posterior (for one Poisson count exactly that of its gamma posterior).
const (
	priorIntercept = 3
	priorGroup     = 0.5
	priorCovariate = 0.15 // difficulty, home, exponent of minutes, role
	priorTrend     = 0.15
	leanLevel      = 0.7
	leanSlope      = 0.6
	leanMatch      = 0.2
	leanCoach      = 0.4
	leanDispersion = 0.4
	leanSigma      = 1.5
	priorFisherZ   = 0.5
)

// season is what a season fit keeps for levels, outlooks and forecasts.
type season struct {
	layout  layout
	beliefs []belief
	player  map[string]int
	xOf     []float64 // players' own columns: q each, at η of an average match
	q       int
	slope   bool
	match   bool
	coach   bool
	start   float64 // τ at which levels are reported
	now     float64
	options Options
	family  Family
}

// belief is one point of the grid: its weight and, given it, means and covariances of the fixed effects (q) and of each
// player's level and slope (u = Λb).
type belief struct {
	weight       float64
	kappa        float64
	match, coach float64 // SDs
	sd           [2]float64
	corr         float64
	beta, vxx    []float64 // q, q×q
	u            [][2]float64
	vuu          [][3]float64 // level, both, slope
	vux          []float64    // players × 2 × q
	matches      modes
	coaches      modes
}

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

// onward is τ as players' slopes see it beyond the data, and common as the squad's trend does. Where a player stands at the
// end of a trend is partly development, which stays, and partly form, which fades; with even odds, half of the way from the
// season's middle is kept, and the other half fades within weeks. What a whole squad has in common is the opposition, the
// pitches and who keeps the count as much as it is coaching: all of it fades.
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

// Occasion is one match of one player, played or to be played. NaN, or the zero of a string, is average or not known.
type Occasion struct {
	Player, Group             string
	Time                      float64
	Difficulty, Home, Minutes float64
	Trials                    float64 // Proportion and Mean: expected; NaN: as many as usual
	Role                      []float64
}

// fill sets x to one occasion's columns. NaN is average.
func (s layout) fill(x []float64, c Occasion) {
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
func (d Data) occasion(i int) Occasion {
	nan := math.NaN()
	c := Occasion{Player: d.Player[i], Time: nan, Difficulty: nan, Home: nan, Minutes: nan, Trials: nan}
	if d.Group != nil {
		c.Group = d.Group[i]
	}
	for _, v := range []struct {
		to *float64
		of []float64
	}{{&c.Time, d.Time}, {&c.Difficulty, d.Difficulty}, {&c.Home, d.Home}, {&c.Minutes, d.Minutes}, {&c.Trials, d.Trials}} {
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

// fitSeason fits with priors; when the search fails, players get their empirical-Bayes level and the reader a note. known, if
// not nil, are the SDs (as hyper.set takes them), which are then held instead of explored: to check what exploring costs.
func fitSeason(d Data, o Options, known []float64) (Result, error) {
	rows := newDesign(d, o, nil).rows
	if len(rows) == 0 {
		return tooLittle(d, "no row has an opportunity"), nil
	}
	l := newLayout(d, o, rows)
	if !(l.unit > 1e-12*math.Abs(l.centre)) {
		return tooLittle(d, "the values do not vary"), nil
	}
	g, m := newSeasonModel(d, o, l)
	h := newHyper(g.factors, o.Limit && (d.Family == Rate || d.Family == Proportion), m.quadratic)
	var end minimum
	var grid []belief
	if known == nil {
		end, grid = h.explore(m, g)
	} else {
		end = minimum{x: known, value: h.objective(m)(known, nil), converged: true}
		if !math.IsInf(end.value, 1) {
			grid = []belief{m.believe(1, g)}
		}
	}
	if grid == nil {
		return fallback(d, o, "the search for the best fit failed"), nil
	}
	r := newResult(g, "season")
	r.Converged, r.GradientNorm = end.converged, math.Sqrt(dot(end.gradient, end.gradient))
	r.noteConvergence()
	r.LogLikelihood = -end.value
	s := &season{
		layout: l, q: len(g.names), slope: g.factors[0].k == 2, match: g.match >= 0, coach: g.coach >= 0,
		options: o, family: d.Family, player: map[string]int{}, beliefs: grid,
	}
	for j, name := range g.factors[0].levels {
		s.player[name] = j
	}
	s.start, s.now = -0.5, 0.5
	if l.time[1] == 0 {
		s.start, s.now = 0, 0
	} else if o.Start != 0 || o.Now != 0 {
		s.start, s.now = l.tau(o.Start), l.tau(o.Now)
	}
	r.season = s
	s.summarise(&r, g)
	s.describe(&r, d, g)
	s.oddMatches(&r, d, g, m, h, end.x)
	return r, nil
}

// newSeasonModel builds the design on the scale of η and its model.
func newSeasonModel(d Data, o Options, l layout) (design, *laplaceModel) {
	var time []float64
	if l.time[1] > 0 {
		time = make([]float64, len(d.Time))
		for i, t := range d.Time {
			time[i] = l.tau(t)
		}
	}
	g := newDesign(d, o, time)
	var sd []float64
	g.names, sd = l.names()
	q := len(g.names)
	g.x = make([]float64, len(g.rows)*q)
	for r, i := range g.rows {
		l.fill(g.x[r*q:(r+1)*q], d.occasion(i))
		if d.Family == Mean || d.Family == Rating {
			g.y[r] = (g.y[r] - l.centre) / l.unit
			g.trials[r] /= l.action
		} else {
			g.offset[r] += l.centre
		}
	}
	precision := make([]float64, q)
	for j, v := range sd {
		precision[j] = 1 / (v * v)
	}
	return g, newLaplaceModel(g, true, precision)
}

// hyper is the posterior of ψ as a search sees it: [log α,] then per factor log SD, or log SDs of level and slope and
// Fisher's z.
type hyper struct {
	factors []factor
	limit   bool
	lean    []float64 // scale of each SD's half-normal; 0 marks z
	lambda  []triangle
}

func newHyper(factors []factor, limit, normal bool) *hyper {
	h := &hyper{factors: factors, limit: limit, lambda: make([]triangle, len(factors))}
	switch {
	case normal:
		h.lean = append(h.lean, leanSigma)
	case !limit:
		h.lean = append(h.lean, leanDispersion)
	}
	for _, f := range factors {
		switch f.name {
		case "player":
			h.lean = append(h.lean, leanLevel)
			if f.k == 2 {
				h.lean = append(h.lean, leanSlope, 0)
			}
		case "match":
			h.lean = append(h.lean, leanMatch)
		default:
			h.lean = append(h.lean, leanCoach)
		}
	}
	return h
}

// set gives the model its κ and Λ.
func (h *hyper) set(m *laplaceModel, x []float64) {
	i := 0
	m.kappa = 0
	if !h.limit {
		m.kappa = math.Exp(2 * x[0])
		i++
	}
	for f, fac := range h.factors {
		sd := math.Exp(x[i])
		m.lambda[f] = triangle{sd}
		i++
		if fac.k == 2 {
			slope, rho := math.Exp(x[i]), math.Tanh(x[i+1])
			m.lambda[f] = triangle{sd, rho * slope, math.Sqrt(1-rho*rho) * slope}
			i += 2
		}
	}
}

// logPrior is the log density of ψ and its gradient: of an SD in logs, log r − r²/2 with r = SD/scale; of z, normal.
func (h *hyper) logPrior(x, gradient []float64) (v float64) {
	for i, lean := range h.lean {
		if lean == 0 {
			z := x[i] / priorFisherZ
			v -= z * z / 2
			gradient[i] -= z / priorFisherZ
			continue
		}
		r := math.Exp(x[i]) / lean
		v += math.Log(r) - r*r/2
		gradient[i] += 1 - r*r
	}
	return v
}

// objective is −log posterior of ψ with its gradient (nil: the value only).
func (h *hyper) objective(m *laplaceModel) func(x, gradient []float64) float64 {
	prior := make([]float64, len(h.lean))
	return func(x, gradient []float64) float64 {
		for _, v := range x {
			if !(v > -15 && v < 5) {
				return math.Inf(1)
			}
		}
		h.set(m, x)
		if !m.mode() {
			return math.Inf(1)
		}
		clear(prior)
		v := m.logLikelihood() + h.logPrior(x, prior)
		if math.IsNaN(v) {
			return math.Inf(1)
		}
		if gradient == nil {
			return -v
		}
		k := m.gradient(nil, h.lambda)
		i := 0
		if !h.limit {
			gradient[0] = 2 * m.kappa * k
			i++
		}
		for f, fac := range h.factors {
			l, g := m.lambda[f], h.lambda[f]
			gradient[i] = g[0] * l[0]
			i++
			if fac.k == 2 {
				rho := math.Tanh(x[i+1])
				gradient[i] = g[1]*l[1] + g[2]*l[2]
				gradient[i+1] = math.Exp(x[i]) * math.Sqrt(1-rho*rho) * (g[1]*math.Sqrt(1-rho*rho) - g[2]*rho)
				i += 2
			}
		}
		for i := range gradient {
			gradient[i] = -gradient[i] - prior[i]
		}
		return -v
	}
}

// gridPoint is a point of a design with its weight.
type gridPoint struct {
	x      []float64
	weight float64
}

// explore finds the mode of ψ, lays the grid and says what is believed at each of its points; nil when there is no mode.
func (h *hyper) explore(m *laplaceModel, g design) (minimum, []belief) {
	n := len(h.lean)
	start, variance := make([]float64, n), make([]float64, n)
	for i, lean := range h.lean {
		variance[i] = 0.1
		if lean > 0 {
			start[i] = math.Log(0.5 * lean)
		}
	}
	f := h.objective(m)
	end := minimise(f, start, variance, 1e-4, 100)
	if math.IsInf(end.value, 1) || math.IsNaN(end.value) {
		return end, nil
	}
	// Curvature by differences of the gradient.
	const step = 0.03
	x, gradient := slices.Clone(end.x), make([]float64, n)
	hessian := mat.NewSymDense(n, nil)
	for i := range n {
		x[i] = end.x[i] + step
		if math.IsInf(f(x, gradient), 1) {
			copy(gradient, end.gradient)
		}
		x[i] = end.x[i]
		for j := range n {
			hessian.SetSym(i, j, hessian.At(i, j)+(gradient[j]-end.gradient[j])/step*map[bool]float64{true: 1, false: 0.5}[i == j])
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(hessian, true) {
		return end, nil
	}
	var axes mat.Dense
	eigen.VectorsTo(&axes)
	sd := eigen.Values(nil)
	for i, v := range sd {
		sd[i] = 1 / math.Sqrt(max(v, 0.25)) // an SD is not less known than within a factor of e² or so
	}
	at := func(z []float64) []float64 {
		x := slices.Clone(end.x)
		for i, zi := range z {
			for j := range x {
				x[j] += axes.At(j, i) * sd[i] * zi
			}
		}
		return x
	}
	// How far the posterior really falls on either side of each axis.
	stretch := make([][2]float64, n)
	z := make([]float64, n)
	for i := range n {
		for side, sign := range []float64{-1, 1} {
			z[i] = sign * math.Sqrt2
			fall := f(at(z), nil) - end.value
			stretch[i][side] = 1 / math.Sqrt(min(max(fall, 0.25), 4))
		}
		z[i] = 0
	}
	const negligible = 1e-3
	var grid []belief
	best := math.Inf(-1)
	for _, p := range composite(n) {
		length := 0.0
		logWeight := math.Log(p.weight)
		scaled := make([]float64, n)
		for i, zi := range p.x {
			length += zi * zi
			s := (stretch[i][0] + stretch[i][1]) / 2
			if zi < 0 {
				s = stretch[i][0]
			} else if zi > 0 {
				s = stretch[i][1]
			}
			scaled[i] = zi * s
			logWeight += math.Log(s)
		}
		logWeight += length/2 - f(at(scaled), nil) + end.value
		if logWeight > best+math.Log(negligible) {
			best = max(best, logWeight)
			grid = append(grid, m.believe(logWeight, g))
		}
	}
	var total float64
	for i := range grid {
		grid[i].weight = math.Exp(grid[i].weight - best)
		total += grid[i].weight
	}
	grid = slices.DeleteFunc(grid, func(b belief) bool { return b.weight < negligible*total })
	total = 0
	for _, b := range grid {
		total += b.weight
	}
	for i := range grid {
		grid[i].weight /= total
	}
	return end, grid
}

// composite is a central composite design in n dimensions: the centre, two points on each axis and the corners of a cube
// (half of them from four dimensions on), all at radius f₀√n, weighted so that a standard normal keeps its total and its
// variance.
func composite(n int) []gridPoint {
	const f0 = 1.1
	radius := f0 * math.Sqrt(float64(n))
	var points []gridPoint
	if n > 1 {
		for c := range 1 << n {
			sign := 1
			x := make([]float64, n)
			for i := range x {
				x[i] = f0
				if c>>i&1 == 1 {
					x[i], sign = -f0, -sign
				}
			}
			if n < 4 || sign == 1 {
				points = append(points, gridPoint{x: x})
			}
		}
	}
	for i := range n {
		for _, v := range []float64{-radius, radius} {
			x := make([]float64, n)
			x[i] = v
			points = append(points, gridPoint{x: x})
		}
	}
	for i := range points {
		points[i].weight = 1 / (f0 * f0 * float64(len(points)))
	}
	return append(points, gridPoint{make([]float64, n), 1 - 1/(f0*f0)})
}

// believe summarises the model at its mode: corrected means and covariances.
func (m *laplaceModel) believe(weight float64, g design) belief {
	s := m.sys
	q, k := s.q, g.factors[0].k
	players := len(g.factors[0].levels)
	b := belief{weight: weight, kappa: m.kappa, beta: make([]float64, q), vxx: make([]float64, q*q)}
	l := m.lambda[0]
	b.sd[0], b.sd[1] = math.Abs(l[0]), math.Hypot(l[1], l[2])
	if b.sd[1] > 0 {
		b.corr = l[1] / b.sd[1]
	}
	if g.match >= 0 {
		b.match = m.lambda[g.match][0]
	}
	if g.coach >= 0 {
		b.coach = m.lambda[g.coach][0]
	}
	blocks, bord := m.meanEffects()
	x0 := s.nb - q
	for i := range q {
		b.beta[i] = bord[x0+i]
		copy(b.vxx[i*q:(i+1)*q], s.s[(x0+i)*s.nb+x0:(x0+i+1)*s.nb])
	}
	b.u, b.vuu = make([][2]float64, players), make([][3]float64, players)
	b.vux = make([]float64, players*2*q)
	if g.match >= 0 {
		b.matches = s.modesOf(g.match, g.factors[g.match], m.lambda[g.match], blocks, bord, 1, nil)
	}
	if g.coach >= 0 {
		b.coaches = s.modesOf(g.coach, g.factors[g.coach], m.lambda[g.coach], blocks, bord, 1, nil)
	}
	at := 0
	for _, o := range s.borders {
		if o.factor == 0 {
			at = o.at
		}
	}
	for p := range players {
		var own []float64
		var v [4]float64
		cross := make([]float64, 2*q) // of b with the fixed effects
		if s.eliminated == 0 {
			own = blocks[p*k : (p+1)*k]
			var vpb []float64
			v, vpb = s.blockOf(p)
			first := len(s.pattern[p]) - q
			for j := range q {
				for a := range k {
					cross[a*q+j] = vpb[(first+j)*k+a]
				}
			}
		} else {
			i := at + p*k
			own = bord[i : i+k]
			for a := range k {
				for c := range k {
					v[a*k+c] = s.s[(i+a)*s.nb+i+c]
				}
				copy(cross[a*q:(a+1)*q], s.s[(i+a)*s.nb+x0:(i+a+1)*s.nb])
			}
		}
		b.u[p][0], b.u[p][1] = l.effect(own)
		vl, vs, both := l.covariance(k, v)
		b.vuu[p] = [3]float64{vl, both, vs}
		to := b.vux[p*2*q : (p+1)*2*q]
		for j := range q {
			to[j] = l[0] * cross[j]
			if k == 2 {
				to[q+j] = l[1]*cross[j] + l[2]*cross[q+j]
			}
		}
	}
	return b
}

// meanEffects gives the means of b to first order beyond its mode; it leaves the system inverted.
func (m *laplaceModel) meanEffects() (blocks, bord []float64) {
	s := m.sys
	s.invert()
	blocks, bord = slices.Clone(m.blocks), slices.Clone(m.bord)
	if m.quadratic {
		return blocks, bord
	}
	m.kernel.outer(m.eta, m.kappa, m.third, m.firstK, m.secondK)
	s.traces(m.w, m.h, m.trace)
	clear(m.gE)
	clear(m.gB)
	for i, h := range m.h {
		m.r[i] = 0.5 * h * m.third[i]
	}
	s.apply(m.r, m.gE, m.gB)
	s.multiply(m.gE, m.gB, m.sE, m.sB)
	for i, v := range m.sE {
		blocks[i] += v
	}
	for i, v := range m.sB {
		bord[i] += v
	}
	return blocks, bord
}
