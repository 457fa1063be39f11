package trend

import "math"

// PoissonInterval is the exact interval for a Poisson rate λ from y events in exposure e (1 for a plain count), at a
// confidence level 1 − α in (0, 1):
//
//	lower  G(α/2; y)/e  (0 when y = 0),   upper  G(1 − α/2; y + 1)/e
//
// with G(p; k) the p-quantile of the gamma distribution of shape k and scale 1. It is false unless y ≥ 0 and e > 0.
// Source: Garwood 1936, Biometrika 28.
func PoissonInterval(count, exposure, level float64) (Interval, bool) {
	if !(count >= 0 && exposure > 0) || math.IsInf(count, 1) || math.IsInf(exposure, 1) || !(level > 0 && level < 1) {
		return Interval{}, false
	}
	a := (1 - level) / 2
	iv := Interval{0, gammaQuantile(1-a, count+1) / exposure}
	if count > 0 {
		iv.Lo = gammaQuantile(a, count) / exposure
	}
	return iv, !math.IsInf(iv.Hi, 0)
}
