package trend

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// leastSpread is the smallest relative spread considered: a thousandth is none.
const leastSpread = 1e-3

// leaning is the log of h exp(−h/A); see Prior.
func leaning(h, a float64) float64 {
	if a <= 0 {
		return 0
	}
	return math.Log(h) - h/a
}

// maximise finds the highest point of f over [lo, hi], 0 < lo: a grid on the log scale, because a spread's likelihood
// can have a flat tail and a second hump, then golden sections around the best of it.
func maximise(lo, hi float64, f func(float64) float64) float64 {
	const points = 24
	a, b := math.Log(lo), math.Log(hi)
	step := (b - a) / (points - 1)
	best, at := math.Inf(-1), 0
	for i := range points {
		if v := f(math.Exp(a + float64(i)*step)); v > best {
			best, at = v, i
		}
	}
	a, b = a+float64(max(at-1, 0))*step, a+float64(min(at+1, points-1))*step
	g := (math.Sqrt(5) - 1) / 2
	c, d := b-g*(b-a), a+g*(b-a)
	fc, fd := f(math.Exp(c)), f(math.Exp(d))
	for b-a > 1e-7 {
		if fc >= fd {
			b, d, fd = d, c, fc
			c = b - g*(b-a)
			fc = f(math.Exp(c))
		} else {
			a, c, fc = c, d, fd
			d = a + g*(b-a)
			fd = f(math.Exp(d))
		}
	}
	return math.Exp((a + b) / 2)
}

// believe turns f, the log of a density of h over [lo, hi], into nodes with weights that sum to 1. A coarse grid on
// the log scale finds where the density is not negligible, and an even fine one covers that. at gives the strength and
// the variance of the mean for h.
func believe(lo, hi float64, f func(float64) float64, at func(h float64) (strength, varMean float64)) []node {
	const coarse, fine, negligible = 24, 25, 10
	density := func(l float64) float64 { return f(math.Exp(l)) + l } // of log h
	a, b := math.Log(lo), math.Log(hi)
	step := (b - a) / (coarse - 1)
	var found [coarse]float64
	best := math.Inf(-1)
	for i := range found {
		found[i] = density(a + float64(i)*step)
		best = max(best, found[i])
	}
	first, last := coarse, -1
	for i, v := range found {
		if v > best-negligible {
			first, last = min(first, i), i
		}
	}
	a, b = a+float64(max(first-1, 0))*step, a+float64(min(last+1, coarse-1))*step
	step = (b - a) / (fine - 1)
	nodes := make([]node, fine)
	best = math.Inf(-1)
	for i := range nodes {
		l := a + float64(i)*step
		nodes[i].strength, nodes[i].varMean = at(math.Exp(l))
		nodes[i].weight = density(l)
		best = max(best, nodes[i].weight)
	}
	var total float64
	for i := range nodes {
		nodes[i].weight = math.Exp(nodes[i].weight - best)
		total += nodes[i].weight
	}
	for i := range nodes {
		nodes[i].weight /= total
	}
	return nodes
}

// root finds where the decreasing function g crosses zero in [lo, hi]: Newton steps, halving when one leaves the
// bracket.
func root(lo, hi, x float64, g func(float64) (value, slope float64)) float64 {
	x = min(max(x, lo), hi)
	for range 100 {
		v, s := g(x)
		switch {
		case v == 0:
			return x
		case v > 0:
			lo = x
		default:
			hi = x
		}
		next := x - v/s
		if !(next > lo && next < hi) {
			next = lo/2 + hi/2
		}
		if math.Abs(next-x) <= 1e-13*math.Abs(x) {
			return next
		}
		x = next
	}
	return x
}

// logRising is log Γ(a+y)/Γ(a), a > 0, y ≥ 0. For large a the difference of log-gammas would lose every digit, so
// Stirling's series is differenced term by term: Abramowitz & Stegun 6.1.40.
func logRising(a, y float64) float64 {
	if y == 0 {
		return 0
	}
	if a < 20 {
		p, _ := math.Lgamma(a + y)
		q, _ := math.Lgamma(a)
		return p - q
	}
	tail := func(x float64) float64 {
		x2 := x * x
		return (1.0/12 - (1.0/360-(1.0/1260-1.0/(1680*x2))/x2)/x2) / x
	}
	return (a+y-0.5)*math.Log1p(y/a) + y*(math.Log(a)-1) + tail(a+y) - tail(a)
}

// trigamma is the second derivative of log Γ at x > 0: recurrence and Abramowitz & Stegun 6.4.12.
func trigamma(x float64) (t float64) {
	for ; x < 10; x++ {
		t += 1 / (x * x)
	}
	z := 1 / (x * x)
	return t + 1/x + z/2 + z/x*(1.0/6-z*(1.0/30-z*(1.0/42-z*(1.0/30-z*5/66))))
}

func normalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// distribution is what a level's uncertainty looks like.
type distribution interface {
	cdf(x float64) float64
	quantile(p float64) float64
}

// point is a level known without doubt; half of it lies on either side of itself.
type point float64

func (d point) quantile(float64) float64 { return float64(d) }
func (d point) cdf(x float64) float64 {
	switch {
	case x < float64(d):
		return 0
	case x > float64(d):
		return 1
	}
	return 0.5
}

type normal struct{ mu, sigma float64 }

func (d normal) cdf(x float64) float64      { return distuv.UnitNormal.CDF((x - d.mu) / d.sigma) }
func (d normal) quantile(p float64) float64 { return d.mu + d.sigma*normalQuantile(p) }

type gamma struct{ shape, rate float64 }

func (d gamma) cdf(x float64) float64      { return gammaCDF(x*d.rate, d.shape) }
func (d gamma) quantile(p float64) float64 { return gammaQuantile(p, d.shape) / d.rate }

type beta struct{ a, b float64 }

func (d beta) cdf(x float64) float64 {
	if x <= 0 {
		return 0
	}
	if x >= 1 {
		return 1
	}
	if min(d.a, d.b) > large {
		m := d.a / (d.a + d.b)
		return distuv.UnitNormal.CDF((x - m) / math.Sqrt(m*(1-m)/(d.a+d.b+1)))
	}
	return mathext.RegIncBeta(d.a, d.b, x)
}

func (d beta) quantile(p float64) float64 {
	if min(d.a, d.b) > large {
		m := d.a / (d.a + d.b)
		return m + math.Sqrt(m*(1-m)/(d.a+d.b+1))*normalQuantile(p)
	}
	return invert(p, 0, 1, mathext.InvRegIncBeta(d.a, d.b, p), d.cdf)
}

// large is the shape beyond which a normal (of the cube root for a gamma) is as good as the incomplete functions.
const large = 1e6

func gammaCDF(x, shape float64) float64 {
	if x <= 0 {
		return 0
	}
	if shape > large {
		return distuv.UnitNormal.CDF((math.Cbrt(x/shape) - 1 + 1/(9*shape)) * 3 * math.Sqrt(shape))
	}
	return mathext.GammaIncReg(shape, x)
}

// gammaQuantile is the p-quantile of a gamma of scale 1; beyond large by Wilson & Hilferty 1931, PNAS 17.
func gammaQuantile(p, shape float64) float64 {
	if !(shape > 0) {
		return 0 // the library would not return
	}
	if shape > large {
		c := 1 - 1/(9*shape) + normalQuantile(p)/(3*math.Sqrt(shape))
		return shape * c * c * c
	}
	return invert(p, 0, shape+60*math.Sqrt(shape)+60, mathext.GammaIncRegInv(shape, p), func(x float64) float64 {
		return gammaCDF(x, shape)
	})
}

// invert returns the guess when it is indeed the p-quantile of cdf, and searches [lo, hi] when it is not: library
// inverses are quick but stray at small shapes.
func invert(p, lo, hi, guess float64, cdf func(float64) float64) float64 {
	if guess >= lo && guess <= hi && math.Abs(cdf(guess)-p) <= 1e-9 {
		return guess
	}
	for range 1100 {
		mid := lo/2 + hi/2
		if mid <= lo || mid >= hi {
			break
		}
		if cdf(mid) < p {
			lo = mid
		} else {
			hi = mid
		}
		if hi-lo <= 1e-13*hi {
			break
		}
	}
	return lo/2 + hi/2
}
