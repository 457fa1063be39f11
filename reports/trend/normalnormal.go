package trend

import "math"

const leanMean = 0.3 // SD of levels between players over the per-action σ where the data say nothing

// fitMean fits the normal–normal pair to means x_i of known sampling variance v_i = σ²/N_i:
//
//	μ_i ~ normal(m, τ²),  x_i | μ_i ~ normal(μ_i, v_i),  W_i = 1/(τ² + v_i)
//	log L_REML(τ) = −½ Σ log(τ² + v_i) − ½ log ΣW_i − ½ Σ W_i (x_i − m)²,   m = ΣW_i x_i/ΣW_i
//
// τ² is estimated by restricted maximum likelihood. lean is Aσ of Prior, in the unit of x; 0 gives the plain maximum,
// whose τ may be at its lower bound, 0.0001 of the scale of the data (no spread). spread.strength is τ².
// Source: Efron & Morris 1975, J Am Stat Assoc 70; REML: Patterson & Thompson 1971, Biometrika 58.
func fitMean(x, v []float64, lean float64) spread {
	lo, hi := x[0], x[0]
	var sd float64
	for i := range x {
		lo, hi = min(lo, x[i]), max(hi, x[i])
		sd = max(sd, math.Sqrt(v[i]))
	}
	size := max(hi-lo, sd, lean)
	if size <= 1e-12*max(1, math.Abs(lo), math.Abs(hi)) {
		return spread{mean: x[0], nodes: []node{{weight: 1}}}
	}
	f := func(tau float64) float64 {
		m, w := weightedMean(x, v, tau*tau)
		l := leaning(tau, lean) - 0.5*math.Log(w)
		for i := range x {
			s := tau*tau + v[i]
			l -= 0.5 * (math.Log(s) + (x[i]-m)*(x[i]-m)/s)
		}
		return l
	}
	at := func(tau float64) (tau2, varMean float64) {
		_, w := weightedMean(x, v, tau*tau)
		return tau * tau, 1 / w
	}
	tau := maximise(1e-4*size, 10*size, f)
	s := spread{nodes: believe(1e-4*size, 10*size, f, at)}
	s.mean, _ = weightedMean(x, v, tau*tau)
	s.strength, s.varMean = at(tau)
	return s
}

// weightedMean is the precision-weighted mean and the sum of weights.
func weightedMean(x, v []float64, tau2 float64) (m, w float64) {
	for i := range x {
		wi := 1 / (tau2 + v[i])
		m += wi * x[i]
		w += wi
	}
	return m / w, w
}

// withinVariance is σ² per action, pooled over players:
//
//	σ̂² = Σ n_ij (x_ij − x_i)² / Σ (k_i − 1),   x_i = Σ n_ij x_ij / N_i,  k_i matches of player i
//
// When no player has two matches, what differs within players cannot be told from what differs between them, and the
// whole spread of the players is taken for it.
func withinVariance(players [][]Match, totals []Match) float64 {
	var s, df float64
	for _, ms := range players {
		t, k := sum(Mean, ms)
		if k < 2 {
			continue
		}
		s += weightedSquares(ms, t)
		df += float64(k - 1)
	}
	if df > 0 {
		return s / df
	}
	all, k := sum(Mean, totals)
	return weightedSquares(totals, all) / float64(k-1)
}

func weightedSquares(ms []Match, t Match) (s float64) {
	for _, m := range ms {
		if m.counts(Mean) {
			r := m.Numerator/m.Denominator - t.Numerator/t.Denominator
			s += m.Denominator * r * r
		}
	}
	return s
}
