package trend

import (
	"math"
	"slices"
)

// MedianInterval gives the median of per-match values and its distribution-free confidence limits, the order
// statistics x(r) and x(n+1−r) with the largest rank r such that
//
//	P(B ≤ r − 1) ≤ (1 − level)/2,   B ~ binomial(n, ½)
//
// the narrowest symmetric pair whose coverage is at least level. At 95 % this gives the ranks of published tables: 2–9
// of 10, 4–12 of 15, 6–15 of 20, 8–18 of 25. The limits are absent (false) when even the extremes do not reach the
// level (fewer than 6 values at 95 %). Values that are not finite are left out; the median of none is 0. Source:
// binomial tables, e.g. Conover, Practical Nonparametric Statistics; use in performance profiles: James, Mellalieu &
// Jones 2005, J Sports Sci 23(1).
func MedianInterval(values []float64, level float64) (median float64, iv Interval, ok bool) {
	x := make([]float64, 0, len(values))
	for _, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			x = append(x, v)
		}
	}
	n := len(x)
	if n == 0 {
		return 0, Interval{}, false
	}
	slices.Sort(x)
	median = x[n/2]
	if n%2 == 0 {
		median = x[n/2-1]/2 + x[n/2]/2
	}
	r := medianRank(n, level)
	if r == 0 {
		return median, Interval{}, false
	}
	return median, Interval{x[r-1], x[n-r]}, true
}

// medianRank is the lower of the two ranks, counted from 1; 0 if n is too small for the level.
func medianRank(n int, level float64) int {
	if !(level > 0 && level < 1) {
		return 0
	}
	tail := (1 - level) / 2
	lgn, _ := math.Lgamma(float64(n + 1))
	var below float64
	for k := 0; k <= (n-1)/2; k++ {
		a, _ := math.Lgamma(float64(k + 1))
		b, _ := math.Lgamma(float64(n - k + 1))
		below += math.Exp(lgn - a - b - float64(n)*math.Ln2)
		if below > tail {
			return k
		}
	}
	return (n + 1) / 2
}
