package trend

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Grade is one coach's grade, from 1 to 5.
type Grade struct {
	Coach string
	Value float64
}

// roundedVariance is what rounding to whole grades adds to the variance of a grade (Sheppard 1898, Proc London Math
// Soc 29): even equal grades are no more exact than that.
const roundedVariance = 1.0 / 12

// GradesInterval gives the mean ḡ of n grades by C coaches with the interval that allows for a coach's grades going
// together, because one coach is stricter than another:
//
//	V = C/(C − 1) Σ_c (Σ_{i by c} (g_i − ḡ))² / n²,   ḡ ± t √V with t of C − 1 degrees of freedom,
//
// and at least what independent grades would have, s²/n with n − 1 degrees and s² no less than 1/12. The interval ends
// at the ends of the scale. It is absent (false) with a single coach, whose strictness nothing tells, and the mean of
// no grade is 0.
// Source: Liang & Zeger 1986, Biometrika 73, with the t distribution of few clusters as in Cameron & Miller 2015,
// J Human Resources 50, §VI.
func GradesInterval(grades []Grade, level float64) (mean float64, iv Interval, ok bool) {
	n := float64(len(grades))
	if n == 0 {
		return 0, Interval{}, false
	}
	for _, g := range grades {
		mean += g.Value / n
	}
	sums := map[string]float64{}
	var square float64
	for _, g := range grades {
		sums[g.Coach] += g.Value - mean
		square += (g.Value - mean) * (g.Value - mean)
	}
	c := float64(len(sums))
	if c < 2 || !(level > 0 && level < 1) {
		return mean, Interval{}, false
	}
	var between float64
	for _, g := range grades { // over the grades, because the order of a map would show in the last digit
		if s, left := sums[g.Coach]; left {
			between += s * s
			delete(sums, g.Coach)
		}
	}
	half := func(variance, freedom float64) float64 {
		return distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile((1+level)/2) * math.Sqrt(variance)
	}
	wide := max(half(c/(c-1)*between/(n*n), c-1), half(max(square/(n-1), roundedVariance)/n, n-1))
	return mean, Interval{mean - wide, mean + wide}.graded(), true
}
