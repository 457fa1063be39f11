package trend

import "math"

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
	sys           *system
	factors       []factor
	y, w          []float64 // in the system's order of rows
	centre        float64   // taken from y, for digits
	rhsE, rhsB    []float64 // raw Z'Wy
	blocks, bord  []float64
	fitted, resid []float64
	logW          float64
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

// solve finds b̂ and β̂ for m.lambda and gives the restricted log-likelihood, −Inf when H is singular.
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

// effectMoments gives for each factor Σ_i v_i z_i b_i', of which a derivative by Λ is made.
func (s *system) effectMoments(v, blocks, border []float64, to []triangle) {
	clear(to)
	k, m := s.k, s.m
	for p, pat := range s.pattern {
		for r := s.start[p]; r < s.start[p+1]; r++ {
			if k > 0 {
				to[s.eliminated].accumulate(s.z[r*k:(r+1)*k], blocks[p*k:(p+1)*k], v[r])
			}
			for _, b := range s.borders {
				i := r*m + b.col
				at := int(pat[s.loc[i]])
				to[b.factor].accumulate(s.zb[i:i+b.k], border[at:at+b.k], v[r])
			}
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

// fit maximises the restricted likelihood.
func (m *normalModel) fit() minimum {
	n := parameters(m.factors)
	start, scale := make([]float64, n), make([]float64, n)
	l := m.start()
	pack(m.factors, l, start)
	// The first guess of the curvature: a log SD known from J effects, each with reliability s, has information 2Js².
	i := 0
	for f := range m.factors {
		const reliability = 0.7
		info := 2 * reliability * reliability * float64(len(m.factors[f].levels))
		for j := range 2*m.factors[f].k - 1 {
			v := l[f][j]
			if j == 1 {
				v = l[f][2]
			}
			scale[i] = max(v*v, 1e-8) / max(info, 1)
			i++
		}
	}
	g := make([]triangle, len(m.factors))
	objective := func(x, gradient []float64) float64 {
		unpack(m.factors, x, m.lambda)
		v := m.solve()
		if math.IsInf(v, -1) || math.IsNaN(v) {
			return math.Inf(1)
		}
		m.gradient(g)
		pack(m.factors, g, gradient)
		for i := range gradient {
			gradient[i] = -gradient[i]
		}
		return -v
	}
	return minimise(objective, start, scale, 1e-9, 500)
}

// start guesses Λ by moments: the variance of a factor's raw means beyond what their sizes explain, against the variance
// within; slopes start with half the level's SD over one SD of time.
func (m *normalModel) start() []triangle {
	s := m.sys
	l := make([]triangle, len(m.factors))
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
		var between, wsq float64
		for j := range sum {
			between += sum[j] * sum[j] / weight[j]
			wsq += weight[j] * weight[j]
		}
		levels, n := float64(len(sum)), float64(s.n)
		within := (square - between) / max(n-levels, 1)
		ratio := 0.25
		if d := total - wsq/total; d > 0 && within > 0 {
			ratio = (between - (levels-1)*within) / d / within
		}
		l[f][0] = math.Sqrt(min(max(ratio, 0.01), 100))
		if fac.k == 2 {
			sd := math.Sqrt(max(t2/total-t1*t1/total/total, 0))
			if sd > 0 {
				l[f][2] = l[f][0] / 2 / sd
			}
		}
	}
	return l
}
