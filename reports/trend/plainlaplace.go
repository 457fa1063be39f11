package trend

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// fitLaplace fits Rate or Proportion by maximum Laplace likelihood. A first, rough search treats β as part of the
// mode, so that it has few parameters and tells β's covariance; the second is the real one, from there.
func fitLaplace(g design, o Options) (Result, error) {
	rough := newLaplaceModel(g, true, nil)
	if err := rough.startFixed(g); err != nil {
		return Result{}, err
	}
	nv := parameters(g.factors)
	if !o.Limit {
		nv++
	}
	start, scale := rough.startSpreads(o.Limit)
	first := minimise(rough.objective(o.Limit), start, scale, 1e-2, 60)
	m := newLaplaceModel(g, false, nil)
	q := m.q
	n := q + nv
	begin, inverse := make([]float64, n), make([]float64, n*n)
	copy(begin[q:], first.x)
	rough.set(first.x, o.Limit)
	if math.IsInf(first.value, 1) || !rough.mode() {
		return Result{}, fmt.Errorf("%w (no fit at any start)", errTooLittle)
	}
	s := rough.sys
	s.invert()
	for i := range q {
		at := s.nb - q + i
		begin[i] = rough.bord[at]
		copy(inverse[i*n:i*n+q], s.s[at*s.nb+s.nb-q:at*s.nb+s.nb])
	}
	for i := range nv {
		copy(inverse[(q+i)*n+q:(q+i)*n+n], first.inverse[i*nv:(i+1)*nv])
	}
	copy(m.blocks, rough.blocks)
	copy(m.bord, rough.bord[:s.nb-q])

	f := m.objective(o.Limit)
	end := minimise(f, begin, inverse, 1e-9, 300)
	if math.IsInf(end.value, 1) || math.IsNaN(end.value) {
		return Result{}, fmt.Errorf("%w (no fit at any start)", errTooLittle)
	}
	r := newResult(g, "Laplace")
	r.Converged, r.GradientNorm = end.converged, math.Sqrt(dot(end.gradient, end.gradient))
	r.noteConvergence()
	r.LogLikelihood = -end.value

	covariance, moves := m.curvature(f, end, o.Limit)
	for j, name := range g.names {
		e := Effect{name, end.x[j], math.NaN()}
		if covariance != nil {
			e.SE = math.Sqrt(covariance.At(j, j))
		}
		r.Fixed = append(r.Fixed, e)
	}
	if covariance == nil {
		r.Notes = append(r.Notes, "the likelihood is too flat at its best point to give standard errors")
	}
	m.set(end.x, o.Limit)
	m.mode()
	m.sys.invert()
	r.Dispersion = 1 / m.kappa
	if o.Limit {
		r.Dispersion = math.NaN()
	}
	r.setSpreads(g, m.lambda, 1)
	r.setModes(g, func(f int) modes {
		var extra func(int) (float64, float64)
		if covariance != nil {
			extra = func(j int) (level, slope float64) {
				at := moves.of(f, j)
				return quadratic(covariance, moves.columns, at, 0), quadratic(covariance, moves.columns, at, 1)
			}
		}
		return m.sys.modesOf(f, g.factors[f], m.lambda[f], m.blocks, m.bord, 1, extra)
	})
	return r, nil
}

// startFixed sets the intercept to the whole's rate or share. All zeros (or all successes) have no maximum: the
// intercept would run away.
func (m *laplaceModel) startFixed(g design) error {
	var y, of float64
	for i, v := range g.y {
		y += v
		if g.family == Rate {
			of += math.Exp(g.offset[i])
		} else {
			of += g.trials[i]
		}
	}
	share := (y + 0.5) / (of + 0.5)
	if g.family == Proportion {
		share = (y + 0.5) / (of - y + 0.5)
	}
	if len(g.names) > 0 {
		m.bord[m.sys.nb-m.sys.q] = math.Log(share)
	}
	if y == 0 {
		return fmt.Errorf("%w: there is not one in all rows", errTooLittle)
	}
	if g.family == Proportion && y == of {
		return fmt.Errorf("%w: every trial is a success", errTooLittle)
	}
	return nil
}

// startSpreads gives a first α and Λ as a search's vector, with guesses of their variances.
func (m *laplaceModel) startSpreads(limit bool) (start, variance []float64) {
	if !limit {
		start = append(start, 0.3)
		variance = append(variance, 0.09*5/float64(m.sys.n))
	}
	for _, f := range m.factors {
		level := 0.3
		if f.name != "player" {
			level = 0.15
		}
		v := func(l float64) float64 { return l * l / max(float64(len(f.levels)), 4) }
		start, variance = append(start, level), append(variance, v(level))
		if f.k == 2 {
			var t1, t2 float64
			for i := range f.of {
				t := f.z[2*i+1]
				t1 += t
				t2 += t * t
			}
			n := float64(len(f.of))
			slope := level
			if sd := math.Sqrt(max(t2/n-t1*t1/n/n, 0)); sd > 0 {
				slope = 0.5 * level / sd
			}
			start, variance = append(start, 0, slope), append(variance, v(slope), v(slope))
		}
	}
	return start, variance
}

// set takes ψ from a search's vector: β (when outside), α (unless at the limit), Λ.
func (m *laplaceModel) set(x []float64, limit bool) {
	copy(m.beta, x[:m.q])
	x = x[m.q:]
	m.kappa = 0
	if !limit {
		m.kappa = x[0] * x[0]
		x = x[1:]
	}
	unpack(m.factors, x, m.lambda)
}

// objective is −F with its gradient, for a search.
func (m *laplaceModel) objective(limit bool) func(x, gradient []float64) float64 {
	lambda := make([]triangle, len(m.factors))
	return func(x, gradient []float64) float64 {
		m.set(x, limit)
		if !m.mode() {
			return math.Inf(1)
		}
		v := m.logLikelihood()
		k := m.gradient(gradient[:m.q], lambda)
		rest := gradient[m.q:]
		if !limit {
			rest[0] = 2 * x[m.q] * k
			rest = rest[1:]
		}
		pack(m.factors, lambda, rest)
		for i := range gradient {
			gradient[i] = -gradient[i]
		}
		return -v
	}
}

// moves are the derivatives of all effects u by the outer parameters: one column of effects for each parameter.
type moves struct {
	columns [][]float64
	model   *laplaceModel
}

// of tells where factor f's level j stands in a column.
func (v moves) of(f, j int) []int {
	s := v.model.sys
	k := v.model.factors[f].k
	at := j * k
	if f != s.eliminated {
		at = len(v.model.blocks)
		for _, b := range s.borders {
			if b.factor == f {
				at += b.at + j*k
			}
		}
	}
	if k == 1 {
		return []int{at}
	}
	return []int{at, at + 1}
}

// effects lists all u = Λb̂ in one column.
func (m *laplaceModel) effects() []float64 {
	u := append(append([]float64(nil), m.blocks...), m.bord[:m.sys.nb-m.sys.q]...)
	for f, fac := range m.factors {
		for j := range fac.levels {
			at := moves{nil, m}.of(f, j)
			l, s := m.lambda[f].effect(u[at[0] : at[0]+fac.k])
			u[at[0]] = l
			if fac.k == 2 {
				u[at[1]] = s
			}
		}
	}
	return u
}

// curvature gives the covariance of the outer parameters, the inverse of −∂²F by differences of the gradient, and how
// the effects move with them. Parameters at zero (a variance that vanished) are held there when the curvature is not
// definite with them; nil when it is not definite without them either.
func (m *laplaceModel) curvature(f func(x, gradient []float64) float64, end minimum, limit bool) (*mat.SymDense,
	moves) {
	n := len(end.x)
	x, gradient := append([]float64(nil), end.x...), make([]float64, n)
	hessian := make([]float64, n*n)
	mv := moves{make([][]float64, n), m}
	base := make([]float64, n)
	f(x, base)
	u0 := m.effects()
	for i := range n {
		h := 1e-3 * math.Sqrt(max(end.inverse[i*n+i], 1e-10))
		x[i] = end.x[i] + h
		f(x, gradient)
		x[i] = end.x[i]
		for j := range n {
			hessian[i*n+j] = (gradient[j] - base[j]) / h
		}
		mv.columns[i] = m.effects()
		for j := range u0 {
			mv.columns[i][j] = (mv.columns[i][j] - u0[j]) / h
		}
	}
	for _, dropZeros := range []bool{false, true} {
		var kept []int
		for i := range n {
			if i < m.q || !dropZeros || math.Abs(end.x[i]) > 1e-3 {
				kept = append(kept, i)
			}
		}
		h := mat.NewSymDense(len(kept), nil)
		for a, i := range kept {
			for b, j := range kept[:a+1] {
				h.SetSym(a, b, (hessian[i*n+j]+hessian[j*n+i])/2)
			}
		}
		var c mat.Cholesky
		if !c.Factorize(h) {
			continue
		}
		var inv mat.SymDense
		if err := c.InverseTo(&inv); err != nil {
			continue
		}
		full := mat.NewSymDense(n, nil)
		for a, i := range kept {
			for b, j := range kept[:a+1] {
				full.SetSym(i, j, inv.At(a, b))
			}
		}
		return full, mv
	}
	return nil, mv
}

// quadratic is d'Cd for the derivatives d of the effect at[which] by the outer parameters; 0 when there is no such
// effect.
func quadratic(c *mat.SymDense, columns [][]float64, at []int, which int) (v float64) {
	if which >= len(at) {
		return 0
	}
	for i := range columns {
		for j := range columns {
			v += columns[i][at[which]] * c.At(i, j) * columns[j][at[which]]
		}
	}
	return v
}
