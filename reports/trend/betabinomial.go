package trend

import "gonum.org/v1/gonum/mathext"

const leanProportion = 0.3 // SD of proportions between players over √(μ(1−μ)) where the data say nothing

// fitProportion fits the beta–binomial pair to S_i successes in N_i trials:
//
//	p_i ~ beta(μκ, (1−μ)κ),  S_i | p_i ~ binomial(N_i, p_i)
//	log L(μ, κ) = Σ log (μκ)_S + log ((1−μ)κ)_{N−S} − log (κ)_N,   (a)_y = Γ(a+y)/Γ(a)
//
// with μ profiled out at each relative spread h = 1/√(κ+1), the root of the intraclass correlation. Given h, log L is
// concave in μ. S and N need not be whole numbers. lean is A of Prior; 0 gives the plain maximum, whose h may be at
// its lower bound (no spread). With no success, or no failure, μ is Jeffreys' (ΣS + ½)/(ΣN + 1). Source: Skellam 1948,
// J R Stat Soc B 10; Griffiths 1973, Biometrics 29.
func fitProportion(totals []Match, lean float64) spread {
	var s, n float64
	for _, t := range totals {
		s += t.Numerator
		n += t.Denominator
	}
	mu, known := (s+0.5)/(n+1), s >= leastEvents && n-s >= leastEvents
	f := func(h float64) float64 { return leaning(h, lean) }
	if known {
		f = func(h float64) float64 {
			k := 1/(h*h) - 1
			mu := proportionMean(totals, k, s/n)
			l := leaning(h, lean)
			for _, t := range totals {
				l += logRising(mu*k, t.Numerator) + logRising((1-mu)*k, t.Denominator-t.Numerator) - logRising(k, t.Denominator)
			}
			return l
		}
	}
	h := maximise(leastSpread, 0.98, f)
	if known {
		mu = proportionMean(totals, 1/(h*h)-1, s/n)
	}
	at := func(h float64) (k, varMean float64) { return 1/(h*h) - 1, proportionVariance(totals, mu, 1/(h*h)-1) }
	fit := spread{mean: mu, nodes: believe(leastSpread, 0.98, f, at)}
	fit.strength, fit.varMean = at(h)
	return fit
}

func proportionMean(totals []Match, k, start float64) float64 {
	return root(1e-12, 1-1e-12, start, func(mu float64) (g, slope float64) {
		a, b := mu*k, (1-mu)*k
		da, db := mathext.Digamma(a), mathext.Digamma(b)
		ta, tb := trigamma(a), trigamma(b)
		for _, t := range totals {
			s, f := t.Numerator, t.Denominator-t.Numerator
			if s > 0 {
				g += mathext.Digamma(a+s) - da
				slope += k * (trigamma(a+s) - ta)
			}
			if f > 0 {
				g -= mathext.Digamma(b+f) - db
				slope += k * (trigamma(b+f) - tb)
			}
		}
		return g, slope
	})
}

// proportionVariance is the variance of μ under Jeffreys' prior, two trials' worth, with the information of moments:
// Var(S_i/N_i) = μ(1−μ)(1 + (N_i−1)ρ)/N_i, ρ = 1/(κ+1).
func proportionVariance(totals []Match, mu, k float64) float64 {
	rho := 1 / (k + 1)
	trials := 2.0
	for _, t := range totals {
		// Fewer than one trial is what remains of one when φ is large; it cannot tell more than its share.
		trials += t.Denominator / max(1, 1+(t.Denominator-1)*rho)
	}
	return mu * (1 - mu) / trials
}

// proportionDispersion is the variance of match successes about each player's own proportion, relative to binomial:
//
//	φ̂ = Σ (s_ij − n_ij p_i)² / Σ n_ij p_i (1 − p_i) (N_i − n_ij)/(N_i − 1),   p_i = S_i/N_i
//
// and at least 1. The sum below has the expectation of the sum above when successes are binomial, exactly, given each
// player's total (a hypergeometric). Players with a single trial tell nothing.
func proportionDispersion(players [][]Match) float64 {
	var num, den float64
	for _, ms := range players {
		t, _ := sum(Proportion, ms)
		if t.Denominator <= 1 {
			continue
		}
		p := t.Numerator / t.Denominator
		for _, m := range ms {
			if m.counts(Proportion) {
				r := m.Numerator - m.Denominator*p
				num += r * r
				den += m.Denominator * p * (1 - p) * (t.Denominator - m.Denominator) / (t.Denominator - 1)
			}
		}
	}
	return dispersion(num, den)
}
