package trend

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

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

// explore finds the mode of ψ, lays the grid and says what is believed at each of its points; nil when there is no
// mode.
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
	end := minimise(f, start, variance, 1e-6, 100)
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
