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
	falseRate    = 0.10 // expected share of false ones among firm verdicts, at most
	leastMatches = 4
	leastMinutes = 160
)

// Judge gives every player of the results (a squad's indicators) his verdict. A firm one needs a probability of at least
// 0.90 and a place among the surest: taken in order of probability, those verdicts are firm whose mean probability of being
// false is at most 0.10 (the posterior expected false-discovery rate: Müller, Parmigiani, Robert & Rousseau 2004, JASA 99).
// The order of results and players does not matter.
func Judge(results []*Result) {
	type candidate struct {
		player      *Player
		probability float64
	}
	var sure []candidate
	for _, r := range results {
		for i := range r.Players {
			p := &r.Players[i]
			p.Verdict = p.soft(r.Minutes)
			if most := max(p.Improved, p.Declined); p.Verdict != TooLittle && most >= firm {
				sure = append(sure, candidate{p, most})
			}
		}
	}
	slices.SortStableFunc(sure, func(a, b candidate) int { return cmp.Compare(b.probability, a.probability) })
	var expected float64
	for i, c := range sure {
		expected += 1 - c.probability
		if expected > falseRate*float64(i+1) {
			break
		}
		c.player.Verdict = Declining
		if c.player.Improved > c.player.Declined {
			c.player.Verdict = Improving
		}
	}
}

// soft is the verdict short of a firm one. minutes tells whether minutes were recorded at all.
func (p *Player) soft(minutes bool) Verdict {
	if p.Change == nil || p.Matches < leastMatches || minutes && p.Minutes < leastMinutes {
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
