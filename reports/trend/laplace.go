package trend

import "math"

// laplaceModel is a fit of Rate or Proportion (and, in season fits, of every family):
//
//	η = offset + Xβ + ZΛb,   b ~ N(0, I),   y_i ~ kernel(η_i, κ)
//
// With J(b) = Σ ℓ_i(η_i) − ½ b'b, b̂ its maximum, w = −ℓ″ and H = Ã'WÃ + I there (ã_i = Λ'z_i), the Laplace
// log-likelihood of ψ = (β, κ, Λ) is
//
//	F(ψ) = J(b̂) − ½ log|H|
//
// The columns of X are either outside the approximation (plain fits: β is a parameter) or inside (season fits: they
// belong to b, with normal priors of precision P on them and ½ Σ log P added to F).
//
// Gradient. J is stationary in b, so only its explicit part counts. With V = H⁻¹, leverages h_i = ã_i'V ã_i and
// c = −ℓ‴, and because b̂ moves with ψ by H db̂ = ∂_ψ(Ã'ℓ' − b),
//
//	d log|H| = Σ 2T·dΛ + Σ_i h_i (c_i dη_i − ∂ℓ″_i/∂κ dκ),   dη_i = x_i'dβ + z_i'dΛ b̂ + ã_i'db̂
//
// The part through db̂ needs one more solve, s = V Σ_i h_i c_i ã_i (the adjoint), whatever the number of parameters.
// With r_i = ã_i's and g_i = h_i c_i − r_i w_i,
//
//	∂F/∂β = Σ x_i (ℓ'_i − ½ g_i)
//	∂F/∂κ = Σ ∂ℓ_i/∂κ + ½ Σ (h_i ∂ℓ″_i/∂κ − r_i ∂ℓ'_i/∂κ)
//	∂F/∂Λ = Σ z_i [(ℓ'_i − ½ g_i) b̂ − ½ ℓ'_i s]' − T
//
// κ = α² is searched in α, which may cross zero as the entries of Λ may: F is even in them.
type laplaceModel struct {
	sys       *system
	factors   []factor
	kernel    kernel
	quadratic bool      // one Newton step is all
	settled   float64   // twice the gain of a Newton step after which the mode is found
	again     float64   // likewise, after which the next step takes H once more
	offset    []float64 // rows in the system's order from here on
	x         []float64 // n×q when β is outside, else nil
	q         int
	precision []float64 // of the columns inside

	beta   []float64 // outside
	lambda []triangle
	kappa  float64

	blocks, bord     []float64 // b̂; kept from one ψ to the next as a warm start
	fixedPart        []float64 // offset + Xβ
	eta              []float64
	first, w, search []float64
	value            float64 // J(b̂)

	third, firstK, secondK, h, r   []float64
	gE, gB, tryE, tryB, tryEta, sE []float64
	sB                             []float64
	trace, moment, moment2         []triangle
	byLevel                        []float64 // ∂F/∂Λ11 by level of the first factor, when they have scales (gradient)
}

// newLaplaceModel builds the model; precision nil and inside false keeps β outside.
func newLaplaceModel(g design, inside bool, precision []float64) *laplaceModel {
	n, q := len(g.rows), len(g.names)
	m := &laplaceModel{factors: g.factors, precision: precision, settled: 1e-9}
	if inside {
		m.sys = newSystem(g.factors, n, g.x, q)
	} else {
		m.sys = newSystem(g.factors, n, nil, 0)
		m.q = q
		m.x = make([]float64, n*q)
		m.beta = make([]float64, q)
	}
	s := m.sys
	y, trials := make([]float64, n), make([]float64, n)
	m.offset = make([]float64, n)
	for r, i := range s.row {
		y[r], trials[r], m.offset[r] = g.y[i], g.trials[i], g.offset[i]
		if !inside {
			copy(m.x[r*q:(r+1)*q], g.x[i*q:(i+1)*q])
		}
	}
	switch g.family {
	case Rate:
		m.kernel = newCounts(y)
	case Proportion:
		m.kernel = newShares(y, trials)
	default:
		m.kernel, m.quadratic = &measures{y, trials}, true
	}
	m.lambda = make([]triangle, len(g.factors))
	m.trace, m.moment, m.moment2 = make([]triangle, len(g.factors)), make([]triangle, len(g.factors)),
		make([]triangle, len(g.factors))
	ne := len(s.pattern) * s.k
	for _, v := range []*[]float64{&m.blocks, &m.gE, &m.tryE, &m.sE} {
		*v = make([]float64, ne)
	}
	for _, v := range []*[]float64{&m.bord, &m.gB, &m.tryB, &m.sB} {
		*v = make([]float64, s.nb)
	}
	for _, v := range []*[]float64{&m.fixedPart, &m.eta, &m.tryEta, &m.first, &m.w, &m.search, &m.third, &m.firstK,
		&m.secondK, &m.h, &m.r} {
		*v = make([]float64, n)
	}
	return m
}

// joint is J at an η and b.
func (m *laplaceModel) joint(eta, blocks, bord []float64) float64 {
	s := m.sys
	v := m.kernel.inner(eta, m.kappa, m.first, m.w)
	random := bord[:s.nb-s.q]
	v -= 0.5 * (dot(blocks, blocks) + dot(random, random))
	for j, p := range m.precision {
		b := bord[s.nb-s.q+j]
		v -= 0.5 * p * b * b
	}
	return v
}

// mode finds b̂ for the present ψ by Newton's method with step halving, from where b stands, and leaves H factored
// there. It is false if it finds none or H is not positive definite.
func (m *laplaceModel) mode() bool {
	const most = 100
	s := m.sys
	copy(m.fixedPart, m.offset)
	if m.x != nil {
		for r := range m.fixedPart {
			m.fixedPart[r] += dot(m.x[r*m.q:(r+1)*m.q], m.beta)
		}
	}
	// Λ'z of this ψ are needed before the first prediction.
	s.setScaled(m.lambda)
	s.predict(m.fixedPart, m.blocks, m.bord, m.eta)
	m.value = m.joint(m.eta, m.blocks, m.bord)
	if math.IsInf(m.value, -1) || math.IsNaN(m.value) {
		clear(m.blocks)
		clear(m.bord)
		copy(m.eta, m.fixedPart)
		if m.value = m.joint(m.eta, m.blocks, m.bord); math.IsInf(m.value, -1) || math.IsNaN(m.value) {
			return false
		}
	}
	last := false // the step just taken was so small that the next Hessian is the mode's own
	gain := math.Inf(1)
	for range most {
		if last && m.quadratic {
			return true // its Hessian is the same everywhere
		}
		if last {
			s.gather(m.w)
			return s.factorise(m.lambda, m.precision)
		}
		if !(gain < m.again) && !m.curve() {
			return false
		}
		clear(m.gE)
		clear(m.gB)
		s.apply(m.first, m.gE, m.gB)
		for i, b := range m.blocks {
			m.gE[i] -= b
		}
		x0 := s.nb - s.q
		for j, b := range m.bord {
			if j < x0 {
				m.gB[j] -= b
			} else if m.precision != nil {
				m.gB[j] -= m.precision[j-x0] * b
			}
		}
		copy(m.sE, m.gE)
		copy(m.sB, m.gB)
		s.solve(m.sE, m.sB)
		gain = dot(m.sE, m.gE) + dot(m.sB, m.gB) // twice what the step is expected to gain
		if !(gain >= 0) {
			return false
		}
		length := 1.0
		for {
			for i := range m.tryE {
				m.tryE[i] = m.blocks[i] + length*m.sE[i]
			}
			for i := range m.tryB {
				m.tryB[i] = m.bord[i] + length*m.sB[i]
			}
			s.predict(m.fixedPart, m.tryE, m.tryB, m.tryEta)
			v := m.joint(m.tryEta, m.tryE, m.tryB)
			if v >= m.value+1e-4*length*gain || gain < 1e-7 && v >= m.value-1e-9*(1+math.Abs(m.value)) {
				m.value = v
				break
			}
			if length /= 2; length < 1e-8 {
				return false
			}
		}
		m.blocks, m.tryE = m.tryE, m.blocks
		m.bord, m.tryB = m.tryB, m.bord
		m.eta, m.tryEta = m.tryEta, m.eta
		// A step squares Newton's error: from a gain of 1e-9 (a step of 3e-5 SD) to 1e-10 SD and less.
		last = (gain < m.settled || m.quadratic) && length == 1
	}
	return false
}

// curve factors H where b stands, with Fisher's weight where the curvature is wrong or nearly so.
func (m *laplaceModel) curve() bool {
	for i, w := range m.w {
		f := 0.0
		if w <= 0 {
			f = m.kernel.fisher(i, m.eta[i], m.kappa)
		}
		m.search[i] = max(w, f)
	}
	m.sys.gather(m.search)
	return m.sys.factorise(m.lambda, m.precision)
}

// logLikelihood is F at the mode; mode must have succeeded.
func (m *laplaceModel) logLikelihood() float64 {
	v := m.value - 0.5*m.sys.logDet
	for _, p := range m.precision {
		v += 0.5 * math.Log(p)
	}
	return v
}

// gradient fills ∂F/∂β (when outside) and ∂F/∂Λ and gives ∂F/∂κ; mode must have succeeded. It inverts the system.
func (m *laplaceModel) gradient(beta []float64, lambda []triangle) (kappa float64) {
	s := m.sys
	kappa = m.kernel.outer(m.eta, m.kappa, m.third, m.firstK, m.secondK)
	// The adjoint solve needs the factor, the leverages its inverse: the solve is done with V itself (adjoint).
	s.invert()
	s.traces(m.w, m.h, m.trace)
	clear(m.sE)
	clear(m.sB)
	for i, h := range m.h {
		m.r[i] = -h * m.third[i]
	}
	s.apply(m.r, m.sE, m.sB)
	s.multiply(m.sE, m.sB, m.gE, m.gB)
	clear(m.r)
	s.predict(m.r, m.gE, m.gB, m.r)
	for i, h := range m.h {
		kappa += 0.5 * (h*m.secondK[i] - m.r[i]*m.firstK[i])
		m.r[i] = m.first[i] - 0.5*(-h*m.third[i]-m.r[i]*m.w[i])
	}
	if m.x != nil {
		clear(beta)
		for i, v := range m.r {
			for j, x := range m.x[i*m.q : (i+1)*m.q] {
				beta[j] += x * v
			}
		}
	}
	m.gradientByLevel()
	s.effectMoments(m.r, m.blocks, m.bord, lambda)
	s.effectMoments(m.first, m.gE, m.gB, m.moment)
	for f := range lambda {
		for i := range lambda[f] {
			lambda[f][i] += -0.5*m.moment[f][i] - m.trace[f][i]
		}
	}
	return kappa
}

// gradientByLevel fills byLevel: ∂F/∂Λ11 level by level, which is the derivative by log c_j over Λ11 (see
// scaleLevels).
func (m *laplaceModel) gradientByLevel() {
	s := m.sys
	if s.levelOf == nil {
		return
	}
	if m.byLevel == nil {
		m.byLevel = make([]float64, len(s.levelTrace))
	}
	for j, t := range s.levelTrace {
		m.byLevel[j] = -t
	}
	effects, solved, k := m.blocks, m.gE, s.k
	z, width, col := s.z, s.k, 0
	if s.eliminated != 0 {
		b := s.borderOf(0)
		effects, solved, k = m.bord[b.at:], m.gB[b.at:], b.k
		z, width, col = s.zb, s.m, b.col
	}
	for r, j := range s.levelOf {
		m.byLevel[j] += z[r*width+col] * (m.r[r]*effects[j*k] - 0.5*m.first[r]*solved[j*k])
	}
}
