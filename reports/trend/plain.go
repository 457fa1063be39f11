package trend

import (
	"fmt"
	"math"
)

// fitPlain fits without priors, as reference software does.
func fitPlain(d Data, o Options) (Result, error) {
	g := newDesign(d, o, d.Time)
	if err := g.plainColumns(d, o); err != nil {
		return Result{}, err
	}
	if len(g.rows) <= len(g.names) || len(g.rows) < 3 {
		return Result{}, fmt.Errorf("%w (%d rows, %d fixed effects)", errTooLittle, len(g.rows), len(g.names))
	}
	if g.family == Mean || g.family == Rating {
		return fitREML(g)
	}
	return fitLaplace(g, o)
}

func fitREML(g design) (Result, error) {
	m := newNormalModel(g)
	// A response that the fixed effects explain to the last digit leaves nothing to estimate a variance from.
	var square, size float64
	for r := range m.y {
		square += m.w[r] * m.y[r] * m.y[r]
		size += m.w[r] * (m.y[r] + m.centre) * (m.y[r] + m.centre)
	}
	clear(m.lambda)
	if v := m.solve(); math.IsInf(v, 0) || math.IsNaN(v) || !(m.r2 > 1e-20*size) || !(square > 0) {
		return Result{}, fmt.Errorf("%w: the values do not vary beyond the fixed effects", errTooLittle)
	}
	end := m.fit()
	unpack(m.factors, end.x, m.lambda)
	r := newResult(g, "REML")
	r.LogLikelihood = m.solve()
	if math.IsInf(r.LogLikelihood, 0) || math.IsNaN(r.LogLikelihood) || !(m.r2 > 1e-20*size) {
		return Result{}, fmt.Errorf("%w: the values do not vary beyond the model's effects", errTooLittle)
	}
	r.Converged, r.GradientNorm = end.converged, math.Sqrt(dot(end.gradient, end.gradient))
	r.noteConvergence()
	s := m.sys
	s.invert()
	sigma := math.Sqrt(m.r2 / float64(s.n-s.q))
	for j, name := range g.names {
		at := s.nb - s.q + j
		e := Effect{name, m.bord[at], sigma * math.Sqrt(s.s[at*s.nb+at])}
		if name == "(Intercept)" {
			e.Estimate += m.centre
		}
		r.Fixed = append(r.Fixed, e)
	}
	r.setSpreads(g, m.lambda, sigma)
	r.SD.Residual = sigma
	r.setModes(g, func(f int) modes {
		return s.modesOf(f, g.factors[f], m.lambda[f], m.blocks, m.bord, sigma, nil)
	})
	return r, nil
}
