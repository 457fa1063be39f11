package trend

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// hyper is the posterior of ψ as a search sees it, all SDs in logs: [α,] players' level, [their slope,] [match,]
// [coach,] and, where players have an earlier season, what a year makes of a level (see Earlier).
type hyper struct {
	factors []factor
	limit   bool
	lean    []float64 // scale of each SD's half-normal
	alike   float64   // degrees of freedom of the slopes' SD, see Scales
	lambda  []triangle
	span    float64 // share of a season in the data: slopes have SD √span times theirs
	pasts   []past  // of the first factor's levels, or nil
	slope   int     // where in ψ the slopes' SD is, or −1
	between int     // where in ψ the SD of a year is, or −1
	scale   []float64
	year    float64  // the SD of a year as last set
	names   []string // of ψ
	from    *begin   // where the search for the mode begins; nil: anywhere
}

// past is what earlier seasons say about a player's level on the scale of η. years 0: nothing.
type past struct{ mean, variance, years float64 }

func newHyper(factors []factor, limit, normal bool, scales Scales, span float64, pasts []past) *hyper {
	h := &hyper{factors: factors, limit: limit, lambda: make([]triangle, len(factors)), span: span, between: -1,
		slope: -1}
	scales = scales.orStart()
	h.alike = scales.Alike
	switch {
	case normal:
		h.add("sigma", leanSigma)
	case !limit:
		h.add("dispersion", leanDispersion)
	}
	for _, f := range factors {
		switch f.name {
		case "player":
			h.add("player", leanLevel)
			if f.k == 2 {
				h.slope = len(h.lean)
				h.add("slope", scales.Slope)
			}
		case "match":
			h.add(f.name, leanMatch)
		default:
			h.add(f.name, leanCoach)
		}
	}
	if slices.ContainsFunc(pasts, func(p past) bool { return p.years > 0 }) {
		h.pasts, h.between = pasts, len(h.lean)
		h.add("year", scales.Year)
		h.scale = make([]float64, len(pasts))
	}
	return h
}

// add adds an SD to ψ.
func (h *hyper) add(name string, lean float64) {
	h.names, h.lean = append(h.names, name), append(h.lean, lean)
}

// set gives the model its κ and Λ.
func (h *hyper) set(m *laplaceModel, x []float64) {
	i := 0
	m.kappa = 0
	if !h.limit {
		m.kappa = math.Exp(2 * x[0])
		i++
	}
	if h.pasts != nil {
		h.year = math.Exp(x[h.between])
		level, year := math.Exp(x[i]), h.year*h.year
		for j, p := range h.pasts {
			h.scale[j] = 1
			if p.years > 0 {
				h.scale[j] = math.Sqrt(p.variance+year*p.years) / level
			}
		}
		m.sys.scaleLevels(&h.factors[0], h.scale)
	}
	for f, fac := range h.factors {
		m.lambda[f] = triangle{math.Exp(x[i])}
		i++
		if fac.k == 2 {
			m.lambda[f][2] = math.Exp(x[i]) * math.Sqrt(h.span)
			i++
		}
	}
}

// ownScale is c of a level of the first factor, and the mean that earlier seasons give it.
func (h *hyper) ownScale(j int) (c, mean float64) {
	if h.pasts == nil {
		return 1, 0
	}
	return h.scale[j], h.pasts[j].mean
}

// logPrior is the log density of ψ and its gradient: of an SD in logs, n (log r − r²/2) with r = SD/scale, n = 1 but
// for the slopes'.
func (h *hyper) logPrior(x, gradient []float64) (v float64) {
	for i, lean := range h.lean {
		n, r := 1.0, math.Exp(x[i])/lean
		if i == h.slope {
			n = h.alike
		}
		v += n * (math.Log(r) - r*r/2)
		gradient[i] += n * (1 - r*r)
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
		if gradient != nil {
			h.gradient(m, x, gradient)
			for i := range gradient {
				gradient[i] = -gradient[i] - prior[i]
			}
		}
		return -v
	}
}

// gradient fills the derivatives of F by ψ. A player with earlier seasons has a level's variance v + σ_w² years
// whatever σ_A is, so that only the others' levels tell of σ_A:
//
//	∂F/∂log σ_A = Σ_new G_j,   ∂F/∂log σ_w = Σ_returning G_j σ_w² years/(v + σ_w² years),   G_j = ∂F/∂log c_j
func (h *hyper) gradient(m *laplaceModel, x, gradient []float64) {
	k := m.gradient(nil, h.lambda)
	i := 0
	if !h.limit {
		gradient[0] = 2 * m.kappa * k
		i++
	}
	level := i
	for f, fac := range h.factors {
		l, g := m.lambda[f], h.lambda[f]
		gradient[i] = g[0] * l[0]
		i++
		if fac.k == 2 {
			gradient[i] = g[2] * l[2]
			i++
		}
	}
	if h.pasts == nil {
		return
	}
	year := math.Exp(2 * x[h.between])
	gradient[level], gradient[h.between] = 0, 0
	for j, p := range h.pasts {
		g := m.byLevel[j] * m.lambda[0][0]
		if p.years > 0 {
			gradient[h.between] += g * year * p.years / (p.variance + year*p.years)
		} else {
			gradient[level] += g
		}
	}
}

// gridPoint is a point of a design with its weight.
type gridPoint struct {
	x      []float64
	weight float64
}

// explore finds the mode of ψ, lays the grid and returns the belief at each of its points; nil if there is no mode.
func (h *hyper) explore(m *laplaceModel, g design) (minimum, []belief) {
	n := len(h.lean)
	f := h.objective(m)
	end := h.mode(f)
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
			hessian.SetSym(i, j, hessian.At(i, j)+(gradient[j]-end.gradient[j])/step*map[bool]float64{true: 1,
				false: 0.5}[i == j])
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
			grid = append(grid, m.believe(logWeight, g, h))
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

// begin is where a like search ended, and the inverse Hessian there: fits of one indicator differ little in their SDs.
type begin struct {
	names      []string
	x, inverse []float64
}

func (h *hyper) ended(m minimum) *begin { return &begin{h.names, m.x, m.inverse} }

// mode searches the mode of ψ.
func (h *hyper) mode(f func(x, gradient []float64) float64) minimum {
	n := len(h.lean)
	start, inverse := make([]float64, n), make([]float64, n*n)
	for i, lean := range h.lean {
		start[i], inverse[i*n+i] = math.Log(0.5*lean), 0.1
	}
	if h.from != nil {
		h.from.fill(h.names, start, inverse)
	}
	return minimise(f, start, inverse, 1e-6, 100)
}

// fill takes from b what it has of the SDs in names.
func (b *begin) fill(names []string, start, inverse []float64) {
	for i, name := range names {
		k := slices.Index(b.names, name)
		if k < 0 {
			continue
		}
		start[i] = b.x[k]
		for j, other := range names {
			if l := slices.Index(b.names, other); l >= 0 {
				inverse[i*len(names)+j] = b.inverse[k*len(b.names)+l]
			}
		}
	}
}

// composite is a central composite design in n dimensions: the centre, two points on each axis and the corners of a
// cube (half of them from four dimensions on), all at radius f₀√n, weighted so that a standard normal keeps its total
// and its variance.
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
