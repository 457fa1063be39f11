package trend

import "math"

// WilsonInterval is the score interval for a proportion p from x successes in n trials, at a confidence level in (0,
// 1):
//
//	(2x + z² ± z √(z² + 4x(1 − x/n))) / (2(n + z²)),   z the normal quantile of (1 + level)/2
//
// It stays within 0 to 1 and has width even at 0 or n successes. It is false unless 0 ≤ x ≤ n and n > 0.
// Source: Wilson 1927, J Am Stat Assoc 22; method 3 of Newcombe 1998, Stat Med 17.
func WilsonInterval(successes, trials, level float64) (Interval, bool) {
	if !(trials > 0 && successes >= 0 && successes <= trials) || math.IsInf(trials, 1) || !(level > 0 && level < 1) {
		return Interval{}, false
	}
	z := normalQuantile((1 + level) / 2)
	q := 1 - successes/trials
	half := z * math.Sqrt(z*z+4*successes*q)
	d := 2 * (trials + z*z)
	iv := Interval{(2*successes + z*z - half) / d, (2*successes + z*z + half) / d}
	// Rounding must not push the exact ends past their bounds.
	if successes == 0 {
		iv.Lo = 0
	}
	if successes == trials {
		iv.Hi = 1
	}
	return iv, true
}
