package reliability

import "math"

// OfMean is the reliability of the mean of k judges' grades, from that of one judge's: Spearman 1910 and Brown 1910, Br
// J Psychol 3, k r/(1 + (k−1) r). k need not be whole.
func OfMean(one, k float64) float64 { return k * one / (1 + (k-1)*one) }

// MostJudges is the largest number of judges that JudgesFor answers with.
const MostJudges = 200

// JudgesFor is how many judges' mean reaches a reliability wanted (0 to 1, neither end), from that of one judge's: the
// least whole k with OfMean(one, k) ≥ wanted. It is false where not even MostJudges would: one judge's reliability is
// then close to 0, which an estimate does not tell from 0.
func JudgesFor(one, wanted float64) (judges int, ok bool) {
	if one >= wanted {
		return 1, true
	}
	const rounding = 1e-9 // of a quotient that is whole
	k := math.Ceil(wanted*(1-one)/(one*(1-wanted)) - rounding)
	if !(one > 0) || k > MostJudges {
		return 0, false
	}
	return int(k), true
}
