package trend

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// mixture is a mixture of normals.
type mixture []component

type component struct{ weight, mean, sd float64 }

func (m mixture) moments() (mean, sd float64) {
	for _, c := range m {
		mean += c.weight * c.mean
	}
	var v float64
	for _, c := range m {
		v += c.weight * (c.sd*c.sd + (c.mean-mean)*(c.mean-mean))
	}
	return mean, math.Sqrt(v)
}

func (m mixture) cdf(x float64) (p float64) {
	for _, c := range m {
		if c.sd == 0 {
			if x >= c.mean {
				p += c.weight
			}
			continue
		}
		p += c.weight * phi((x-c.mean)/c.sd)
	}
	return min(p, 1)
}

// phi is the standard normal distribution function.
func phi(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

func (m mixture) quantile(p float64) float64 {
	mean, sd := m.moments()
	if sd == 0 {
		return mean
	}
	if len(m) == 1 {
		return mean + sd*distuv.UnitNormal.Quantile(p)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	z := distuv.UnitNormal.Quantile(p)
	for _, c := range m { // the quantile lies among the components' own
		lo, hi = min(lo, c.mean+z*c.sd), max(hi, c.mean+z*c.sd)
	}
	return secant(lo, hi, p, m.cdf)
}

// knot is where a distribution function was asked, and what it said.
type knot struct{ x, p float64 }

// secant finds x in [lo, hi] with f(x) = p for an increasing f.
func secant(lo, hi, p float64, f func(float64) float64) float64 {
	if !(hi > lo) {
		return lo
	}
	return between(knot{lo, f(lo)}, knot{hi, f(hi)}, p, f)
}

// between finds x with f(x) = p between two knots, the nearer of them where it is beyond: regula falsi in the Illinois
// form, which keeps its bracket.
func between(from, to knot, p float64, f func(float64) float64) float64 {
	lo, a, hi, b := from.x, from.p-p, to.x, to.p-p
	if a >= 0 {
		return lo
	}
	if b <= 0 {
		return hi
	}
	tol := 1e-9 * (hi - lo)
	for range 200 {
		x := hi - b*(hi-lo)/(b-a)
		if !(x > lo && x < hi) {
			x = lo/2 + hi/2
		}
		v := f(x) - p
		if math.Abs(v) < 1e-7 || hi-lo < tol {
			return x
		}
		if v < 0 {
			lo, a = x, v
			b /= 2
		} else {
			hi, b = x, v
			a /= 2
		}
	}
	return lo/2 + hi/2
}

// quantiles finds the 2.5, 10, 90 and 97.5 % points in [lo, hi] of an increasing f with a mean and an SD: each between
// two neighbours of where f has been asked already, at first a normal's points.
func quantiles(lo, hi, mean, sd float64, f func(float64) float64) (q [4]float64) {
	if !(hi > lo) {
		return [4]float64{lo, lo, lo, lo}
	}
	known := []knot{{lo, f(lo)}, {hi, f(hi)}}
	for _, z := range []float64{-2.1, -1.85, -1.35, -1.2, 1.2, 1.35, 1.85, 2.1} {
		if x := mean + z*sd; x > lo && x < hi {
			known = append(known, knot{x, f(x)})
		}
	}
	slices.SortFunc(known, func(a, b knot) int { return cmp.Compare(a.x, b.x) })
	for i, p := range []float64{0.025, 0.1, 0.9, 0.975} {
		k := 1
		for k < len(known)-1 && known[k].p < p {
			k++
		}
		q[i] = between(known[k-1], known[k], p, f)
	}
	return q
}

// hermite5 are the Gauss points and weights of the standard normal: a mean over it is Σ w f(x).
var hermite5 = func() (rule [5][2]float64) {
	d, e, first := make([]float64, 5), []float64{1, math.Sqrt2, math.Sqrt(3), 2, 0}, []float64{1, 0, 0, 0, 0}
	jacobiEigen(d, e, first)
	for i := range rule {
		rule[i] = [2]float64{d[i], first[i] * first[i]}
	}
	return rule
}()

// change is the distribution of g(η₂) − g(η₁) for a mixture of bivariate normals: given their middle m = (η₁ + η₂)/2
// (by quadrature), it increases with the difference δ = η₂ − η₁, which is normal.
type change struct {
	family Family
	parts  []changePart
}

type changePart struct{ weight, middle, delta, sd float64 }

// pair is a bivariate normal of a mixture, by middle and difference of the two η.
type pair struct{ weight, middle, delta, varMiddle, varDelta, cov float64 }

// newPair takes both means, both variances and the covariance.
func newPair(weight, m1, m2, v1, v2, c12 float64) pair {
	return pair{weight, (m1 + m2) / 2, m2 - m1, max((v1+v2+2*c12)/4, 0), max(v1+v2-2*c12, 0), (v2 - v1) / 2}
}

// condensed merges components of like spread until at most most are left, keeping means, variances and covariance: the
// points of a grid differ little, and each costs time in every quantile. It reorders its argument.
func condensed(parts []pair, most int) []pair {
	if len(parts) <= most {
		return parts
	}
	slices.SortFunc(parts, func(a, b pair) int { return cmp.Compare(a.varDelta, b.varDelta) })
	out := make([]pair, 0, most)
	i, share := 0, 0.0
	for g := range most {
		first := i
		for i < len(parts) && (i == first || share+parts[i].weight/2 <= float64(g+1)/float64(most)) {
			share += parts[i].weight
			i++
		}
		if g == most-1 {
			i = len(parts)
		}
		var p pair
		for _, o := range parts[first:i] {
			p.weight += o.weight
			p.middle += o.weight * o.middle
			p.delta += o.weight * o.delta
		}
		if p.weight == 0 {
			continue
		}
		p.middle /= p.weight
		p.delta /= p.weight
		for _, o := range parts[first:i] {
			w, dm, dd := o.weight/p.weight, o.middle-p.middle, o.delta-p.delta
			p.varMiddle += w * (o.varMiddle + dm*dm)
			p.varDelta += w * (o.varDelta + dd*dd)
			p.cov += w * (o.cov + dm*dd)
		}
		out = append(out, p)
	}
	return out
}

// newChange adds centre to both η; for the normal families unit turns η into the natural scale.
func newChange(f Family, centre, unit float64, parts []pair) change {
	c := change{family: f}
	for _, p := range condensed(parts, 7) {
		if f == Mean || f == Rating {
			c.parts = append(c.parts, changePart{p.weight, 0, unit * p.delta, unit * math.Sqrt(p.varDelta)})
			continue
		}
		slope, rest := 0.0, p.varDelta
		if p.varMiddle > 0 {
			slope = p.cov / p.varMiddle
			rest = max(rest-p.cov*slope, 0)
		}
		for _, h := range hermite5 {
			z := h[0] * math.Sqrt(p.varMiddle)
			c.parts = append(c.parts, changePart{p.weight * h[1], p.middle + centre + z, p.delta + slope*z, math.Sqrt(rest)})
		}
	}
	return c
}

// delta is the difference in η that makes a change of x at middle m: ±Inf beyond what is possible.
func (c change) delta(x, m float64) float64 {
	switch c.family {
	case Rate: // e^m·2 sinh(δ/2) = x
		return 2 * math.Asinh(x*math.Exp(-m)/2)
	case Proportion: // sinh(δ/2) = x (cosh m + cosh(δ/2)), a quadratic in e^(δ/2)
		if math.Abs(x) >= 1 {
			return math.Inf(int(math.Copysign(1, x)))
		}
		xc := x * math.Cosh(m)
		root := math.Sqrt(xc*xc + 1 - x*x)
		if xc < 0 { // the same root without cancellation
			return 2 * math.Log((1+x)/(root-xc))
		}
		return 2 * math.Log((xc+root)/(1-x))
	}
	return x
}

func (c change) cdf(x float64) (p float64) {
	for _, k := range c.parts {
		d := c.delta(x, k.middle) - k.delta
		switch {
		case k.sd > 0:
			p += k.weight * phi(d/k.sd)
		case d >= 0:
			p += k.weight
		}
	}
	return min(p, 1)
}

// value is the change of a difference δ at middle m.
func (c change) value(delta, m float64) float64 {
	switch c.family {
	case Rate:
		return 2 * math.Exp(m) * math.Sinh(delta/2)
	case Proportion:
		return math.Sinh(delta/2) / (math.Cosh(m) + math.Cosh(delta/2))
	}
	return delta
}

func (c change) estimate() Estimate {
	var mean, square float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, k := range c.parts {
		if c.family == Mean || c.family == Rating {
			mean += k.weight * k.delta
			square += k.weight * (k.delta*k.delta + k.sd*k.sd)
		} else {
			for _, h := range hermite5 {
				v := c.value(k.delta+h[0]*k.sd, k.middle)
				mean += k.weight * h[1] * v
				square += k.weight * h[1] * v * v
			}
		}
		lo, hi = min(lo, c.value(k.delta-3*k.sd, k.middle)), max(hi, c.value(k.delta+3*k.sd, k.middle))
	}
	q := quantiles(lo, hi, mean, math.Sqrt(max(square-mean*mean, 0)), c.cdf)
	return Estimate{mean, Interval{q[1], q[2]}, Interval{q[0], q[3]}}
}
