package trend

import "math"

// Family says how the matches of an indicator vary by chance.
type Family string

// The families of indicators.
const (
	Rate       Family = "rate"
	Proportion Family = "proportion"
	Mean       Family = "mean"
)

// Match is what one player did in one match, for one indicator: count and full matches played (Rate), successes and
// trials (Proportion), or sum and number of actions (Mean). A denominator below 1e-6 means that there was no
// opportunity: the match is left out, and never read as a zero.
type Match struct{ Numerator, Denominator float64 }

// Interval is a closed range of plausible values, on the scale of what it describes.
type Interval struct {
	Lo float64 `json:"lo"`
	Hi float64 `json:"hi"`
}

const (
	leastDenominator = 1e-6 // five thousandths of a second of an 80-minute match
	leastEvents      = 1e-6 // of a whole group; fewer are none
	greatestValue    = 1e6  // of one match; beyond it a number is a slip, and arithmetic would lose digits
)

// counts reports whether the match carries usable information.
func (m Match) counts(f Family) bool {
	return m.Denominator >= leastDenominator && m.possible(f)
}

// possible reports whether the match can have happened, with or without opportunity.
func (m Match) possible(f Family) bool {
	if !(math.Abs(m.Numerator) <= greatestValue && m.Denominator >= 0 && m.Denominator <= greatestValue) {
		return false
	}
	switch f {
	case Rate:
		return m.Numerator >= 0
	case Proportion:
		return m.Numerator >= 0 && m.Numerator <= m.Denominator
	}
	return true
}

// MatchInterval gives the range of underlying levels that fit a single match at a confidence level in (0, 1): exact
// Poisson for a rate, Wilson for a proportion. It is false for a mean, whose spread one match does not show, and for a
// match without opportunity.
func MatchInterval(f Family, m Match, level float64) (Interval, bool) {
	if !m.counts(f) {
		return Interval{}, false
	}
	switch f {
	case Rate:
		return PoissonInterval(m.Numerator, m.Denominator, level)
	case Proportion:
		return WilsonInterval(m.Numerator, m.Denominator, level)
	}
	return Interval{}, false
}

// sum adds up the matches that count.
func sum(f Family, matches []Match) (total Match, n int) {
	for _, m := range matches {
		if m.counts(f) {
			total.Numerator += m.Numerator
			total.Denominator += m.Denominator
			n++
		}
	}
	return total, n
}
