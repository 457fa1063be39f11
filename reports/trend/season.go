package trend

import "math"

// A season fit. Everything lives on the scale of the linear predictor η: log for Rate, logit for Proportion, and for
// Mean and Rating the values less their mean, over their own SD, with actions counted in units of their mean, so that
// one set of priors serves every indicator and a change of units changes nothing.
//
//	η = intercept + group + difficulty + home + trend·τ + (1 + γ) log(minutes/full match) + role
//	    + A_p + B_p τ + V_m + C_c
//
// Time τ is in seasons, 0 where the data begin; s is the share of a season that the data span. A player's level A is
// that of the beginning, which earlier seasons and the group tell of; what a slope adds until now is independent of
// it, so that players spread as a season goes on. (With A in the middle, levels at the start would be taken to spread
// as much as those now: intervals of the start were too wide, those of now too narrow.) Of a season that is over, the
// middle is the beginning: real players spread no more at its end than at its start, and the season after is forecast
// better. The priors are chosen by what is known of squads before any data; three scales are learned over an academy
// (scales.go):
//
//   - The intercept is all but free (SD 3).
//   - Position groups differ with SD 0.5, a factor of 1.6; one SD of expected difficulty and playing at home move a
//     match by SD 0.15. What a whole season makes of a whole squad has SD 0.08 √s to begin with;
//     of rates, the mean that the academy's squads show together.
//   - The exponent of minutes strays from 1 by SD 0.15: substitutes play differently, but not by a different law.
//   - A player with earlier seasons starts from them (earlier.go), a new one from the newcomers' mean and from what k
//     other rates lend, each with SD 0.12/√k for one SD of it (lend.go).
//   - A slope is B_p ~ N(0, σ_B² s): a whole season's change, less of it believed the less of the season is seen.
//   - Levels at other dates follow one law, A_p + B_p τ + W: W are innovations, see belief.wander. Now, the next
//     match, forecasts, outlooks and what is met all read it.
//   - SDs lean towards zero, half-normal (Gelman 2006, Bayesian Analysis 1): of scale 0.7 for players' levels, 0.15
//     for σ_B to begin with, 0.10 for σ_w, what a year makes of a level, 0.2 for matches, 0.4 for coaches' severity
//     and for 1/√θ and 1/√φ, 1.5 for σ. Level and slope are independent.
//
// The SDs ψ (in logs) are integrated over a small grid: the mode of their posterior under the Laplace approximation,
// its curvature there, and the points of a central composite design in those axes, each axis stretched on either side
// to where the posterior has fallen as a normal would (Rue, Martino & Chopin 2009, JRSS B 71, §6.5). Each point weighs
// what the posterior says about it.
//
// Given ψ, effects are normal about their mean, not their mode: to first order the mean is b̂ + ½ V Σ_i h_i ℓ‴_i ã_i,
// which makes the mean of e^η that of the skewed posterior (for one Poisson count exactly that of its gamma
// posterior).
const (
	priorIntercept = 3
	priorGroup     = 0.5
	priorCovariate = 0.15 // difficulty, home, exponent of minutes
	priorKept      = 0.1  // of what is kept of an earlier level beyond all of it
	priorNewcomer  = 0.3
	priorSquad     = 0.3
	priorLent      = 0.12
	leanLevel      = 0.7
	wanders        = 0.125 // share of a random walk in how levels move, see belief.wander
	leanMatch      = 0.2
	leanCoach      = 0.4
	leanDispersion = 0.4
	leanSigma      = 1.5
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
	joint   *joint // nil: players are not compared
}

// posed is a season's model before it is searched.
type posed struct {
	layout layout
	design design
	model  *laplaceModel
	hyper  *hyper
}

// pose builds the model of a season. It is not ok, and says why, when there is nothing to fit.
func pose(d Data, o Options) (p posed, why string, ok bool) {
	rows := newDesign(d, o, nil).rows
	if len(rows) == 0 {
		return posed{}, "no row has " + d.opportunity(), false
	}
	if why := d.nothing(rows); why != "" {
		return posed{}, why, false
	}
	l := newLayout(d, o, rows)
	if !(l.unit > 1e-12*math.Abs(l.centre)) {
		return posed{}, "the values do not vary", false
	}
	g, m := newSeasonModel(d, o, l)
	limit := o.Limit && (d.Family == Rate || d.Family == Proportion)
	h := newHyper(g.factors, limit, m.quadratic, o.Scales, l.span, l.pasts(g.factors[0].levels))
	h.from = o.from
	return posed{l, g, m, h}, "", true
}

// search finds the posterior of a season, and where the search for ψ ended; nil if it did not converge. known, if not
// nil, are the SDs (as hyper.set takes them), which are then held instead of explored.
func (p posed) search(d Data, o Options, known []float64) (*season, minimum) {
	l, g, m, h := p.layout, p.design, p.model, p.hyper
	var end minimum
	var grid []belief
	if known == nil {
		end, grid = h.explore(m, g)
	} else {
		end = minimum{x: known, value: h.objective(m)(known, nil), converged: true}
		if !math.IsInf(end.value, 1) {
			grid = []belief{m.believe(1, g, h)}
		}
	}
	// Where rounding stops the search (trials by the thousand), a mode of ψ known to a thousandth of log-posterior is
	// enough: the grid weighs its points by their own.
	const enough = 1e-3
	if grid == nil || !end.converged && !(end.decrement < enough) {
		return nil, end
	}
	s := &season{
		layout: l, q: len(g.names), slope: g.factors[0].k == 2, match: g.match >= 0, coach: g.coach >= 0,
		options: o, family: d.Family, player: map[string]int{}, beliefs: grid,
	}
	for j, name := range g.factors[0].levels {
		s.player[name] = j
	}
	if l.rise != 0 {
		for i := range grid {
			grid[i].beta[s.trendColumn()] += l.rise
		}
	}
	s.start, s.now = l.first, l.last()
	if l.span > 0 && (o.Start != 0 || o.Now != 0) {
		s.start, s.now = l.clamp(l.tau(o.Start)), l.clamp(l.tau(o.Now))
	}
	s.place(d, g)
	return s, end
}

// fitSeason fits with priors; when the search fails, players get their empirical-Bayes level and the reader a note.
// known, if not nil, are the SDs, which are then held instead of explored: to check what exploring costs.
func fitSeason(d Data, o Options, known []float64) (Result, error) {
	p, why, ok := pose(d, o)
	if !ok {
		return saysNothing(d, why, len(newDesign(d, o, nil).rows)), nil
	}
	s, end := p.search(d, o, known)
	if s == nil {
		return fallback(d, o, "the search for the best fit did not settle"), nil
	}
	g, m, h := p.design, p.model, p.hyper
	r := newResult(g, "season")
	r.Questions = d.questions(o, g.rows)
	r.Remarks = d.remarks(g.rows)
	r.Notes = append(append(r.Notes, r.Questions...), r.Remarks...)
	r.Notes = append(r.Notes, o.Earlier.toCheck()...)
	r.Converged, r.GradientNorm = true, math.Sqrt(dot(end.gradient, end.gradient))
	r.LogLikelihood = -end.value
	r.season = s
	s.summarise(&r, g)
	if h.set(m, end.x); m.mode() {
		s.drawTogether(m, func(j int) float64 { c, _ := h.ownScale(j); return c })
	}
	s.describe(&r, d)
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
		g.offset[r] += l.earlier[d.Player[i]].mean
		if l.rise != 0 {
			g.offset[r] += l.rise * l.tau(d.Time[i])
		}
	}
	precision := make([]float64, q)
	for j, v := range sd {
		precision[j] = 1 / (v * v)
	}
	m := newLaplaceModel(g, true, precision)
	m.again = 0.05   // H changes by a hundredth or less in such a step, and the error of the next is as small a share
	m.settled = 1e-6 // what is believed of ψ needs log-posteriors to a thousandth, not standard errors by differences
	return g, m
}

// sketchSeason looks at the scales without the rest of a fit. It errs where there is nothing to look at.
func sketchSeason(d Data, o Options) (sketch, error) {
	if err := d.Validate(); err != nil {
		return sketch{}, err
	}
	if o.Scales.Trend == 0 {
		o.Scales.Trend = sketchTrend
	}
	if o.Earlier != nil {
		o.from = o.Earlier.end
	}
	p, _, ok := pose(d, o)
	if !ok || o.Plain {
		return sketch{}, errTooLittle
	}
	f := p.hyper.objective(p.model)
	end := p.hyper.mode(f)
	if math.IsInf(end.value, 1) || math.IsInf(f(end.x, nil), 1) {
		return sketch{}, errTooLittle
	}
	s := &season{
		layout: p.layout, q: len(p.design.names), options: o, family: d.Family,
		beliefs: []belief{p.model.believe(1, p.design, p.hyper)},
	}
	k := s.sketch(p, f, end.x)
	k.end = p.hyper.ended(end)
	return k, nil
}
