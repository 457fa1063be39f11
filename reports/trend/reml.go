package trend

import (
	"math"
	"slices"
)

// normalModel is a fit of Mean or Rating:
//
//	y = Xβ + ZΛb + ε,   b ~ N(0, σ²I),   ε_i ~ N(0, σ²/w_i)
//
// Λ is relative to σ here, so that σ and β can be profiled out exactly. With r² = Σ w ε̂² + b̂'b̂ at the solution of
// H (b, β) = Ã'Wy, X inside H, and ν = n − columns of X, the restricted log-likelihood is
//
//	ℓ(Λ) = −½ [log|H| + ν (1 + log(2π r²/ν)) − Σ log w],   σ̂² = r²/ν
//	∂ℓ/∂Λ = −T + (ν/r²) Σ_i w_i ε̂_i z_i b_i'
//
// because r² is itself a minimum over (b, β), and ∂log|H|/∂Λ = 2T (system.traces).
// Source of ℓ: Bates, Mächler, Bolker & Walker 2015, J Stat Softw 67(1), eq. 39–42.
type normalModel struct {
	sys     *system
	factors []factor
	y, w    []float64 // in the system's order of rows
	centre  float64   // taken from y, for digits

	blocks, bord  []float64
	fitted, resid []float64
	logW, size    float64 // Σ log w, Σ w y²
	lambda        []triangle
	trace         []triangle
	r2            float64
}

func newNormalModel(g design) *normalModel {
	m := &normalModel{factors: g.factors, sys: newSystem(g.factors, len(g.rows), g.x, len(g.names))}
	s := m.sys
	n := s.n
	m.y, m.w = make([]float64, n), make([]float64, n)
	var sw float64
	for r, i := range s.row {
		m.y[r], m.w[r] = g.y[i], g.trials[i]
		m.logW += math.Log(m.w[r])
		m.centre += m.w[r] * m.y[r]
		m.size += m.w[r] * m.y[r] * m.y[r]
		sw += m.w[r]
	}
	m.centre /= sw
	for r := range m.y {
		m.y[r] -= m.centre
	}
	s.gather(m.w)
	m.blocks, m.bord = make([]float64, len(s.pattern)*s.k), make([]float64, s.nb)
	m.fitted, m.resid = make([]float64, n), make([]float64, n)
	m.lambda, m.trace = make([]triangle, len(g.factors)), make([]triangle, len(g.factors))
	return m
}

// solve finds b̂ and β̂ for m.lambda and returns the restricted log-likelihood, −Inf if the system cannot be
// solved.
func (m *normalModel) solve() float64 {
	s := m.sys
	if !s.factorise(m.lambda, nil) {
		return math.Inf(-1)
	}
	clear(m.blocks)
	clear(m.bord)
	for r := range m.resid {
		m.resid[r] = m.w[r] * m.y[r]
	}
	s.apply(m.resid, m.blocks, m.bord)
	s.solve(m.blocks, m.bord)
	clear(m.fitted)
	s.predict(m.fitted, m.blocks, m.bord, m.fitted)
	m.r2 = dot(m.blocks, m.blocks)
	random := m.bord[:s.nb-s.q]
	m.r2 += dot(random, random)
	for r := range m.resid {
		e := m.y[r] - m.fitted[r]
		m.resid[r] = m.w[r] * e
		m.r2 += m.w[r] * e * e
	}
	if !(m.r2 > 1e-20*m.size) {
		return math.Inf(-1) // the effects explain the values to the last digit
	}
	nu := float64(s.n - s.q)
	return -0.5 * (s.logDet + nu*(1+math.Log(2*math.Pi*m.r2/nu)) - m.logW)
}

// gradient is ∂ℓ/∂Λ at the solution; it inverts the system.
func (m *normalModel) gradient(to []triangle) {
	s := m.sys
	s.invert()
	s.traces(m.w, nil, m.trace)
	c := float64(s.n-s.q) / m.r2
	s.effectMoments(m.resid, m.blocks, m.bord, to)
	for f := range to {
		for i := range to[f] {
			to[f][i] = c*to[f][i] - m.trace[f][i]
		}
	}
}

// parameters counts the free entries of all Λ, and pack and unpack move them to and from a search's vector.
func parameters(factors []factor) (n int) {
	for _, f := range factors {
		n += 2*f.k - 1
	}
	return n
}

func pack(factors []factor, l []triangle, x []float64) {
	i := 0
	for f := range factors {
		i += copy(x[i:], l[f][:2*factors[f].k-1])
	}
}

func unpack(factors []factor, x []float64, l []triangle) {
	i := 0
	for f := range factors {
		n := 2*factors[f].k - 1
		l[f] = triangle{}
		copy(l[f][:n], x[i:i+n])
		i += n
	}
}

// fit maximises the restricted likelihood and leaves the model solved and its system inverted at the maximum.
func (m *normalModel) fit() minimum {
	n := parameters(m.factors)
	start, scale := make([]float64, n), make([]float64, n)
	m.start(start, scale)
	g := make([]triangle, len(m.factors))
	last := make([]float64, n)
	objective := func(x, gradient []float64) float64 {
		copy(last, x)
		unpack(m.factors, x, m.lambda)
		v := m.solve()
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return math.Inf(1)
		}
		m.gradient(g)
		pack(m.factors, g, gradient)
		for i := range gradient {
			gradient[i] = -gradient[i]
		}
		return -v
	}
	end := minimise(objective, start, scale, 1e-9, 500)
	if !slices.Equal(last, end.x) && !math.IsInf(end.value, 1) {
		objective(end.x, slices.Clone(end.gradient))
	}
	return end
}

// start guesses Λ, and how well each of its entries is known, as a search's vectors. A factor's variance is that of
// its raw means beyond what their sizes explain; the residual variance is what is left within players when the other
// factors' are taken off. Slopes start with half the level's SD over one SD of time. A log SD known from effects of
// reliabilities s_j has information 2 Σ s_j².
func (m *normalModel) start(start, variance []float64) {
	s := m.sys
	between, within, spread := make([]float64, len(m.factors)), make([]float64, len(m.factors)),
		make([]float64, len(m.factors))
	weights := make([][]float64, len(m.factors))
	for f, fac := range m.factors {
		sum, weight := make([]float64, len(fac.levels)), make([]float64, len(fac.levels))
		var total, square, t1, t2 float64
		for r, i := range s.row {
			j := fac.of[i]
			sum[j] += m.w[r] * m.y[r]
			weight[j] += m.w[r]
			total += m.w[r]
			square += m.w[r] * m.y[r] * m.y[r]
			if fac.k == 2 {
				t := fac.z[i*2+1]
				t1 += m.w[r] * t
				t2 += m.w[r] * t * t
			}
		}
		var means, wsq float64
		for j := range sum {
			means += sum[j] * sum[j] / weight[j]
			wsq += weight[j] * weight[j]
		}
		levels := float64(len(sum))
		within[f] = (square - means) / max(float64(s.n)-levels, 1)
		between[f] = 0.25 * within[f]
		if d := total - wsq/total; d > 0 {
			between[f] = max((means-(levels-1)*within[f])/d, 0)
		}
		spread[f] = math.Sqrt(max(t2/total-t1*t1/total/total, 0))
		weights[f] = weight
	}
	residual := within[0]
	for f := range m.factors[1:] {
		residual -= between[f+1]
	}
	residual = max(residual, 0.2*within[0])
	i := 0
	for f, fac := range m.factors {
		l := 1.0
		if residual > 0 {
			l = math.Sqrt(min(max(between[f]/residual, 0.01), 100))
		}
		var information float64
		for _, w := range weights[f] {
			r := l * l * w / (1 + l*l*w)
			information += 2 * r * r
		}
		information = max(information, 1)
		start[i], variance[i] = l, l*l/information
		i++
		if fac.k == 2 {
			slope := l / 2
			if spread[f] > 0 {
				slope /= spread[f]
			}
			start[i+1] = slope
			variance[i], variance[i+1] = slope*slope/information, slope*slope/information
			i += 2
		}
	}
}
