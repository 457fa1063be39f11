package reliability

import "math"

// OfMean is the reliability of the mean of k judges' grades, from that of one judge's: Spearman 1910 and Brown 1910, Br
// J Psychol 3, k r/(1 + (k−1) r). k need not be whole.
func OfMean(one, k float64) float64 { return k * one / (1 + (k-1)*one) }

// JudgesFor is how many judges' mean reaches a reliability wanted (0 to 1, neither end), from that of one judge's: the
// least whole k with OfMean(one, k) ≥ wanted. It is false where no number of judges would, because one judge's
// reliability is 0 or less.
func JudgesFor(one, wanted float64) (judges int, ok bool) {
	if !(one > 0) {
		return 0, false
	}
	if one >= wanted {
		return 1, true
	}
	const rounding = 1e-9 // of a quotient that is whole
	return int(math.Ceil(wanted*(1-one)/(one*(1-wanted)) - rounding)), true
}
