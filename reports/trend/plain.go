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
	end := m.fit()
	if math.IsInf(end.value, 1) || math.IsNaN(end.value) {
		return Result{}, fmt.Errorf("%w: the values do not vary beyond the model's effects", errTooLittle)
	}
	r := newResult(g, "REML")
	r.LogLikelihood = -end.value
	r.Converged, r.GradientNorm = end.converged, math.Sqrt(dot(end.gradient, end.gradient))
	r.noteConvergence()
	s := m.sys
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
