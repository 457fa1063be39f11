package trend

import "math"

const leanRate = 0.5 // relative SD of rates between players of a group where the data say nothing

// fitRate fits the gamma–Poisson pair to totals Y_i in exposure E_i:
//
//	λ_i ~ gamma(shape a, rate a/m),  Y_i | λ_i ~ Poisson(λ_i E_i)  ⇒  Y_i ~ negative binomial(mean m E_i, size a)
//	log L(m, a) = Σ log Γ(a+Y_i)/Γ(a) + Y_i log(m E_i) + a log a − (a+Y_i) log(a + m E_i)
//
// with m profiled out at each relative spread h = 1/√a. Given h, m solves Σ (Y_i − m E_i)/(a + m E_i) = 0, which has
// one root. Y and E need not be whole numbers. lean is A of Prior; 0 gives the plain maximum, whose h may be at its
// lower bound (no spread). With no event at all, m is Jeffreys' ½/ΣE. Source: Robbins 1956, Proc 3rd Berkeley Symp 1;
// Efron & Morris 1975, J Am Stat Assoc 70.
func fitRate(totals []Match, lean float64) spread {
	var y, e float64
	for _, t := range totals {
		y += t.Numerator
		e += t.Denominator
	}
	m := 0.5 / e
	f := func(h float64) float64 { return leaning(h, lean) }
	if y >= leastEvents {
		f = func(h float64) float64 {
			a := 1 / (h * h)
			m := rateMean(totals, a, y/e)
			l := leaning(h, lean)
			for _, t := range totals {
				mu := m * t.Denominator
				l += logRising(a, t.Numerator) - a*math.Log1p(mu/a)
				if t.Numerator > 0 {
					l += t.Numerator * math.Log(mu/(a+mu))
				}
			}
			return l
		}
	}
	h := maximise(leastSpread, 5, f)
	if y >= leastEvents {
		m = rateMean(totals, 1/(h*h), y/e)
	}
	at := func(h float64) (a, varMean float64) { return 1 / (h * h), rateVariance(totals, m, 1/(h*h)) }
	s := spread{mean: m, nodes: believe(leastSpread, 5, f, at)}
	s.strength, s.varMean = at(h)
	return s
}

func rateMean(totals []Match, a, start float64) float64 {
	lo, hi := math.Inf(1), 0.0
	for _, t := range totals {
		r := t.Numerator / t.Denominator
		lo, hi = min(lo, r), max(hi, r)
	}
	return root(lo, hi, start, func(m float64) (g, slope float64) {
		for _, t := range totals {
			d := a + m*t.Denominator
			g += (t.Numerator - m*t.Denominator) / d
			slope -= t.Denominator * (a + t.Numerator) / (d * d)
		}
		return g, slope
	})
}

// rateVariance is the inverse Fisher information of m: Var(Y_i) = m E_i (1 + m E_i/a).
func rateVariance(totals []Match, m, a float64) float64 {
	var info float64
	for _, t := range totals {
		info += t.Denominator / (m * (1 + m*t.Denominator/a))
	}
	return 1 / info
}

// rateDispersion is the variance of match counts about each player's own rate, relative to Poisson:
//
//	φ̂ = Σ (y_ij − μ_ij)² / Σ μ_ij (1 − e_ij/E_i),   μ_ij = Y_i e_ij/E_i
//
// and at least 1. The sum below has the expectation of the sum above when counts are Poisson, exactly, given each
// player's total (a multinomial). Sums, not Pearson's mean of ratios, because it is the variance of a season's total
// that is wanted, and so that a minute on the pitch cannot decide it.
func rateDispersion(players [][]Match) float64 {
	var num, den float64
	for _, ms := range players {
		t, _ := sum(Rate, ms)
		for _, m := range ms {
			if m.counts(Rate) {
				share := m.Denominator / t.Denominator
				r := m.Numerator - t.Numerator*share
				num += r * r
				den += t.Numerator * share * (1 - share)
			}
		}
	}
	return dispersion(num, den)
}

func dispersion(num, den float64) float64 {
	if den < 1e-9 {
		return 1
	}
	return max(1, num/den)
}
