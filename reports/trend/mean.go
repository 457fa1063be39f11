package trend

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// MeanInterval estimates one player's value per action from k matches, x_j the mean of n_j actions in match j:
//
//	x_j ~ normal(μ, σ²/n_j)
//	μ̂ = Σ n_j x_j / Σ n_j,   σ̂² = Σ n_j (x_j − μ̂)² / (k − 1),   μ̂ ± t √(σ̂² / Σ n_j)
//
// with t the Student quantile of (1 + level)/2 on k − 1 degrees of freedom: weighted least squares with an intercept
// only. The spread comes from differences between matches, so it holds for actions that vary together within one.
// The interval is absent (false) with fewer than two matches; the mean is then 0 if there is no match at all. A plain
// mean of ratings is the same with every n_j = 1.
// Source: Student 1908, Biometrika 6; weighted as in Draper & Smith, Applied Regression Analysis.
func MeanInterval(matches []Match, level float64) (mean float64, iv Interval, ok bool) {
	total, k := sum(Mean, matches)
	if k == 0 {
		return 0, Interval{}, false
	}
	mean = total.Numerator / total.Denominator
	if k < 2 || !(level > 0 && level < 1) {
		return mean, Interval{}, false
	}
	var s float64
	for _, m := range matches {
		if m.counts(Mean) {
			r := m.Numerator/m.Denominator - mean
			s += m.Denominator * r * r
		}
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(k - 1)}.Quantile((1 + level) / 2)
	half := t * math.Sqrt(s/float64(k-1)/total.Denominator)
	return mean, Interval{mean - half, mean + half}, true
}
