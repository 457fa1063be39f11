package trend

import (
	"math"
)

// predictive is the distribution of one match's figure: the points of a mixture over what is believed of ψ, of the
// level and of the match, each with its own family's chance.
type predictive struct {
	family   Family
	layout   layout
	exposure float64 // Rate: full matches; else 1
	trials   float64 // Proportion and Mean
	points   []predictivePoint
	normal   mixture // Mean and Rating, on the natural scale
	level    float64 // mean of the level on the natural scale
}

// predictivePoint is a mean (count, share) with its dispersion κ.
type predictivePoint struct{ weight, mean, kappa float64 }

// predictive builds the distribution for player j (−1: one not seen) with columns x at τ.
func (s *season) predictive(x []float64, j int, tau, exposure, trials float64) predictive {
	d := predictive{family: s.family, layout: s.layout, exposure: exposure, trials: trials}
	for i := range s.beliefs {
		b := &s.beliefs[i]
		mean, v := b.at(x, j, tau)
		v += b.wander(s.layout, tau)
		switch s.family {
		case Rate, Proportion:
			sd := math.Sqrt(v + b.match*b.match)
			for _, h := range hermite5 {
				m := s.layout.natural(mean + h[0]*sd)
				d.level += b.weight * h[1] * m
				d.points = append(d.points, predictivePoint{b.weight * h[1], m * exposure, b.kappa})
			}
		default:
			v += b.match*b.match + b.coach*b.coach + b.kappa*s.layout.action/max(trials, 1e-9)
			m := s.layout.natural(mean)
			d.level += b.weight * m
			d.normal = append(d.normal, component{b.weight, m, math.Sqrt(v) * s.layout.unit})
		}
	}
	return d
}

// mean is the expected figure: a count, a number of successes, a mean or a grade.
func (d predictive) mean() float64 {
	switch d.family {
	case Rate:
		return d.level * d.exposure
	case Proportion:
		return d.level * d.trials
	}
	return d.level
}

// walk visits P(Y = y) for y = from 0 on until visit is false, for counts.
func (d predictive) walk(visit func(y int, p float64) bool) {
	type state struct{ logP, kappa, mean float64 }
	at := make([]state, len(d.points))
	for i, k := range d.points {
		at[i] = state{d.logMass(0, k), k.kappa, k.mean}
	}
	for y := 0; ; y++ {
		var p float64
		for i := range at {
			a := &at[i]
			if a.logP > -745 {
				p += d.points[i].weight * math.Exp(a.logP)
			}
			f := float64(y)
			if d.family == Rate {
				a.logP += math.Log((1 + f*a.kappa) * a.mean / ((f + 1) * (1 + a.kappa*a.mean)))
			} else if f < d.trials {
				a.logP += math.Log((d.trials - f) * (a.mean + f*a.kappa) / ((f + 1) * (1 - a.mean + (d.trials-f-1)*a.kappa)))
			}
		}
		if !visit(y, p) || d.family == Proportion && float64(y) >= d.trials {
			return
		}
	}
}

// logMass is the log-probability of a count under one point.
func (d predictive) logMass(y float64, k predictivePoint) float64 {
	if d.family == Rate {
		return logNegativeBinomial(y, k.mean, k.kappa)
	}
	return logBetaBinomial(y, d.trials, k.mean, k.kappa)
}

// logNegativeBinomial is the log-probability of y with mean μ and variance μ + κμ².
func logNegativeBinomial(y, mu, kappa float64) float64 {
	g, _ := math.Lgamma(y + 1)
	if mu <= 0 {
		if y == 0 {
			return 0
		}
		return math.Inf(-1)
	}
	v, _ := logOver(kappa * mu)
	l := -g - mu*v
	if y > 0 {
		l += y * math.Log(mu/(1+kappa*mu))
		if kappa > 0 {
			l += logRising(1/kappa, y) + y*math.Log(kappa)
		}
	}
	return l
}

// logBetaBinomial is the log-probability of y of n with mean p and precision 1/κ.
func logBetaBinomial(y, n, p, kappa float64) float64 {
	if p <= 0 || p >= 1 {
		if p <= 0 && y == 0 || p >= 1 && y == n {
			return 0
		}
		return math.Inf(-1)
	}
	l := logChoose(n, y)
	if kappa < 1e-12 {
		return l + y*math.Log(p) + (n-y)*math.Log1p(-p)
	}
	return l + logRising(p/kappa, y) + logRising((1-p)/kappa, n-y) - logRising(1/kappa, n)
}

const countable = 5000 // beyond it a count's distribution is as good as continuous

// spread is the SD of the figure.
func (d predictive) spread() float64 {
	if d.normal != nil {
		_, sd := d.normal.moments()
		return sd
	}
	mean := d.mean()
	var v float64
	for _, k := range d.points {
		m, own := k.mean, k.mean+k.kappa*k.mean*k.mean
		if d.family == Proportion {
			m = d.trials * k.mean
			own = m * (1 - k.mean) * (1 + d.trials*k.kappa) / (1 + k.kappa)
		}
		v += k.weight * (own + (m-mean)*(m-mean))
	}
	return math.Sqrt(v)
}

// variation is the SD of the figure about the level, what is unknown of the level left out; of a share for Proportion.
func (d predictive) variation() float64 {
	if d.normal != nil {
		return d.spread()
	}
	var v float64
	for _, k := range d.points {
		own := k.mean + k.kappa*k.mean*k.mean
		if d.family == Proportion {
			own = k.mean * (1 - k.mean) * (1 + d.trials*k.kappa) / (1 + k.kappa) / d.trials
		}
		v += k.weight * own
	}
	return math.Sqrt(v)
}

// below gives P(Y < y) and P(Y = y); for a normal figure P(Y ≤ y) and 0.
func (d predictive) below(y float64) (less, equal float64) {
	if d.normal != nil {
		return d.normal.cdf(y), 0
	}
	if d.mean() > countable {
		return phi((y - d.mean()) / d.spread()), 0
	}
	d.walk(func(k int, p float64) bool {
		if float64(k) >= y {
			equal = p
			return false
		}
		less += p
		return true
	})
	return min(less, 1), equal
}

// quantile is the smallest figure with at least p at or below it.
func (d predictive) quantile(p float64) float64 {
	if d.normal != nil {
		q := d.normal.quantile(p)
		if d.layout.grades {
			return min(max(q, leastGrade), mostGrade)
		}
		return q
	}
	if d.mean() > countable {
		return math.Round(max(0, d.mean()+d.spread()*normalQuantile(p)))
	}
	q := d.quantiles([]float64{p})
	return q[0]
}

// quantiles serves several probabilities in increasing order in one walk.
func (d predictive) quantiles(ps []float64) []float64 {
	out := make([]float64, len(ps))
	if d.normal != nil || d.mean() > countable {
		for i, p := range ps {
			out[i] = d.quantile(p)
		}
		return out
	}
	i, sum := 0, 0.0
	d.walk(func(y int, p float64) bool {
		sum += p
		for i < len(ps) && (sum >= ps[i] || y > 20*countable) {
			out[i] = float64(y)
			i++
		}
		return i < len(ps)
	})
	for ; i < len(ps); i++ { // rounding kept the sum of a proportion below p
		out[i] = d.trials
	}
	return out
}

// logScore is the log-probability (density, for Mean and Rating) of a figure.
func (d predictive) logScore(y float64) float64 {
	best := math.Inf(-1)
	terms := make([]float64, 0, len(d.points)+len(d.normal))
	for _, k := range d.points {
		terms = append(terms, math.Log(k.weight)+d.logMass(y, k))
	}
	for _, c := range d.normal {
		z := (y - c.mean) / c.sd
		terms = append(terms, math.Log(c.weight)-0.5*z*z-math.Log(c.sd*math.Sqrt(2*math.Pi)))
	}
	for _, v := range terms {
		best = max(best, v)
	}
	if math.IsInf(best, -1) {
		return best
	}
	var sum float64
	for _, v := range terms {
		sum += math.Exp(v - best)
	}
	return best + math.Log(sum)
}

// estimate gives mean and intervals of the figure: of a share, for Proportion.
func (d predictive) estimate() Estimate {
	q := d.quantiles([]float64{0.025, 0.1, 0.9, 0.975})
	e := Estimate{d.mean(), Interval{q[1], q[2]}, Interval{q[0], q[3]}}
	if d.family == Proportion {
		for _, v := range []*float64{&e.Mean, &e.Interval80.Lo, &e.Interval80.Hi, &e.Interval95.Lo, &e.Interval95.Hi} {
			*v /= d.trials
		}
	}
	return e
}
