package trend

import (
	"cmp"
	"slices"
)

// Verdict says in a word what a season did to a player's level.
type Verdict string

// The verdicts. Improving and Declining are firm: see Judge.
const (
	Improving         Verdict = "improving"
	ProbablyImproving Verdict = "probably improving"
	Steady            Verdict = "steady"
	ProbablyDeclining Verdict = "probably declining"
	Declining         Verdict = "declining"
	Unclear           Verdict = "unclear"
	TooLittle         Verdict = "too little to say"
)

const (
	firm         = 0.90 // probability of a firm verdict, at least
	probable     = 0.75 // and of a probable one
	falseRate    = 0.05 // expected share of false signs among firm verdicts, at most
	leastMatches = 4
	leastMinutes = 160
)

// Judge gives all players of the results (a squad's indicators) a verdict. A firm one needs two things: a probability
// of at least 0.90 that the change is worthwhile, and a place among the surest signs. The candidates are taken in
// order of their local false-sign rate; those are firm whose mean rate, over them and all surer ones, is at most 0.05.
// That mean is the posterior expected share of false signs among the firm verdicts (Stephens 2017, Biostatistics 18,
// §2; the rule is that of Müller, Parmigiani, Robert & Rousseau 2004, JASA 99). The order of results and players does
// not matter: equal rates are firm together or not at all.
func Judge(results []*Result) {
	sure := candidates(results)
	slices.SortStableFunc(sure, func(a, b *Player) int { return cmp.Compare(a.FalseSign, b.FalseSign) })
	var sum float64
	for first := 0; first < len(sure); {
		next := first
		for ; next < len(sure) && sure[next].FalseSign == sure[first].FalseSign; next++ {
			sum += sure[next].FalseSign
		}
		if sum > falseRate*float64(next) {
			return
		}
		for _, p := range sure[first:next] {
			p.Verdict = p.direction()
		}
		first = next
	}
}

// Firm counts the firm verdicts among the results, and how many of them are expected to be false: that the true change
// is zero or has the other sign. A nil result is ignored.
func Firm(results []*Result) (verdicts int, expectedFalse float64) {
	for _, r := range results {
		if r == nil {
			continue
		}
		for i := range r.Players {
			if p := &r.Players[i]; p.Verdict == Improving || p.Verdict == Declining {
				verdicts++
				expectedFalse += p.FalseSign
			}
		}
	}
	return verdicts, expectedFalse
}

// candidates gives every player the verdict short of a firm one, and returns those who may get one.
func candidates(results []*Result) (sure []*Player) {
	for _, r := range results {
		for i := range r.Players {
			p := &r.Players[i]
			p.Verdict = p.soft(r.Minutes)
			if p.Verdict != TooLittle && max(p.Improved, p.Declined) >= firm {
				sure = append(sure, p)
			}
		}
	}
	return sure
}

// direction is the firm verdict of a player who gets one.
func (p *Player) direction() Verdict {
	if p.Improved > p.Declined {
		return Improving
	}
	return Declining
}

// soft is the verdict short of a firm one. minutes tells whether minutes were recorded at all; of a player without
// those of some match, only matches count.
func (p *Player) soft(minutes bool) Verdict {
	if p.Change == nil || p.Matches < leastMatches || minutes && !p.unknown && p.Minutes < leastMinutes {
		return TooLittle
	}
	switch {
	case p.Improved >= probable:
		return ProbablyImproving
	case p.Declined >= probable:
		return ProbablyDeclining
	case 1-p.Improved-p.Declined >= probable:
		return Steady
	}
	return Unclear
}
