package trend

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// belief is one point of the grid: its weight and, given it, means and covariances of the fixed effects (q) and of
// each player's level and slope (u = Λb).
type belief struct {
	weight       float64
	kappa        float64
	match, coach float64 // SDs
	sd           [2]float64
	wholeSlope   float64   // SD of a slope, were the whole season seen
	year         float64   // SD of what a year makes of a level
	beta, vxx    []float64 // q, q×q
	u            [][2]float64
	vuu          [][3]float64 // level, both, slope
	vux          []float64    // players × 2 × q
	matches      modes
	coaches      modes
}

// believe summarises the model at its mode: corrected means and covariances.
func (m *laplaceModel) believe(weight float64, g design, h *hyper) belief {
	s := m.sys
	q, k := s.q, g.factors[0].k
	players := len(g.factors[0].levels)
	b := belief{weight: weight, kappa: m.kappa, beta: make([]float64, q), vxx: make([]float64, q*q)}
	l := m.lambda[0]
	b.sd[0], b.sd[1] = math.Abs(l[0]), math.Hypot(l[1], l[2])
	b.year = h.year
	if h.span > 0 {
		b.wholeSlope = b.sd[1] / math.Sqrt(h.span)
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
		c, mean := h.ownScale(p)
		b.u[p][0], b.u[p][1] = l.effect(own)
		b.u[p][0] = mean + c*b.u[p][0]
		vl, vs, both := l.covariance(k, v)
		b.vuu[p] = [3]float64{c * c * vl, c * both, vs}
		to := b.vux[p*2*q : (p+1)*2*q]
		for j := range q {
			to[j] = c * l[0] * cross[j]
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

// at gives mean and variance of x'β + A + Bτ for player j (−1: a player not seen) under one belief.
func (b *belief) at(x []float64, j int, tau float64) (mean, variance float64) {
	return dot(x, b.beta) + b.effect(j, tau), max(b.cov(x, x, j, tau, tau), 0)
}

func (b *belief) effect(j int, tau float64) float64 {
	if j < 0 {
		return 0
	}
	return b.u[j][0] + b.u[j][1]*tau
}

// cov is the covariance of x'β + A + Bτ between two occasions of the same player.
func (b *belief) cov(x, y []float64, j int, tau, upsilon float64) (v float64) {
	q := len(b.beta)
	for i, xi := range x {
		if xi != 0 {
			v += xi * dot(b.vxx[i*q:(i+1)*q], y)
		}
	}
	if j < 0 {
		level, slope := b.sd[0], b.sd[1]
		return v + level*level + slope*slope*tau*upsilon
	}
	u := b.vuu[j]
	v += u[0] + u[1]*(tau+upsilon) + u[2]*tau*upsilon
	own := b.vux[j*2*q : (j+1)*2*q]
	for i := range q {
		level, slope := own[i], own[q+i]
		v += x[i]*(level+slope*upsilon) + y[i]*(level+slope*tau)
	}
	return v
}

// joint gives the mean of (β, level, slope) of player j and the lower triangular root of its covariance.
func (b *belief) joint(j int) (mean, root []float64) {
	q := len(b.beta)
	n := q + 2
	mean = append(slices.Clone(b.beta), b.u[j][0], b.u[j][1])
	c := mat.NewSymDense(n, nil)
	for i := range q {
		for k := range i + 1 {
			c.SetSym(i, k, b.vxx[i*q+k])
		}
		c.SetSym(q, i, b.vux[j*2*q+i])
		c.SetSym(q+1, i, b.vux[j*2*q+q+i])
	}
	c.SetSym(q, q, b.vuu[j][0])
	c.SetSym(q+1, q, b.vuu[j][1])
	c.SetSym(q+1, q+1, b.vuu[j][2])
	root = make([]float64, n*n)
	for i := range n { // Cholesky, with zero for what does not vary
		for k := range i + 1 {
			v := c.At(i, k) - dot(root[i*n:i*n+k], root[k*n:k*n+k])
			switch {
			case i == k:
				root[i*n+i] = math.Sqrt(max(v, 0))
			case root[k*n+k] > 1e-9:
				root[i*n+k] = v / root[k*n+k]
			}
		}
	}
	return mean, root
}

// wander is the variance of W, the movement of a level besides its slope. Levels may move along lines or wander, and
// twenty matches cannot tell which. The regression line of a random walk of variance w² a season has a slope of
// variance 6/5 w²: were all of σ_B² a walk, w² would be 5/6 σ_B². Beyond the data the walk adds up. Within, the line
// leaves 2/15 w² of it at either end, 1/9 σ_B², and less in the middle. W has a share of both (wanders), at which
// intervals and outlooks hold for lines and for walks alike: none is too little for walks, and half too much for
// lines.
func (b *belief) wander(l layout, tau float64) float64 {
	if l.span == 0 {
		return 0
	}
	within := math.Abs(2*(l.clamp(tau)-l.first)/l.span - 1) // 1 at either end of the data, 0 in the middle
	season := b.wholeSlope * b.wholeSlope
	return wanders * season * (l.span/9*within*within + 5.0/6*max(tau-l.last(), 0))
}
