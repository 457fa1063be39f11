package trend

import "math"

const commonTrend = 0.15 // SD of what a season makes of a whole group's levels, on the scale of η

// TimedMatch is a match with its time, in any unit.
type TimedMatch struct {
	Match
	Time float64
}

// RangeNow is the middle 80 % of the levels of a group of players at the last of their matches: the middle 80 % of the
// season's levels (FitPrior), moved by what the group has in common. It uses only these players' matches: players
// outside the group have no part in it. Errors are those of FitPrior.
//
// The common trend b, per season on the scale of η, has one Newton step of its posterior about 0, with prior SD
// commonTrend: of a match with numerator y, denominator e and the player's own level p,
//
//	score U = Σ (y − e p)(τ − τ̄_i) / φ,   information I = Σ e v(p) (τ − τ̄_i)² / φ,   b = U / (I + 1/commonTrend²)
//
// v(p) = p for a rate (η = log p) and p(1 − p) for a proportion (logit); for a mean y/e is in units of its SD, v = 1.
// τ̄_i is the mean time of player i's opportunities, which takes each player's own level out of b.
func RangeNow(f Family, players [][]TimedMatch) (Interval, error) {
	matches := make([][]Match, len(players))
	first, last := math.Inf(1), math.Inf(-1)
	for i, ms := range players {
		for _, m := range ms {
			matches[i] = append(matches[i], m.Match)
			if m.counts(f) {
				first, last = min(first, m.Time), max(last, m.Time)
			}
		}
	}
	prior, err := FitPrior(f, matches)
	if err != nil {
		return Interval{}, err
	}
	iv := prior.Group().Range80
	if !(last > first) {
		return iv, nil
	}
	var score, information, lag, exposure float64
	unit := 1.0
	if f == Mean {
		unit = math.Sqrt(prior.sigma2)
	}
	for i, ms := range players {
		t, _ := sum(f, matches[i])
		if t.Denominator == 0 || unit == 0 {
			continue
		}
		p, mean := t.Numerator/t.Denominator, 0.0
		for _, m := range ms {
			if m.counts(f) {
				mean += m.Denominator * (m.Time - last) / (last - first) / t.Denominator
			}
		}
		v := map[Family]float64{Rate: p, Proportion: p * (1 - p), Mean: 1}[f]
		for _, m := range ms {
			if m.counts(f) {
				tau := (m.Time-last)/(last-first) - mean
				score += (m.Numerator - m.Denominator*p) / unit * tau / prior.phi
				information += m.Denominator * v * tau * tau / prior.phi
			}
		}
		lag -= t.Denominator * mean
		exposure += t.Denominator
	}
	if exposure == 0 {
		return iv, nil
	}
	moved := score / (information + 1/(commonTrend*commonTrend)) * lag / exposure
	return Interval{f.moved(iv.Lo, moved, unit), f.moved(iv.Hi, moved, unit)}, nil
}

// moved is a level moved by so much on the scale of η.
func (f Family) moved(level, by, unit float64) float64 {
	switch f {
	case Rate:
		return level * math.Exp(by)
	case Proportion:
		odds := math.Exp(by) * level
		return odds / (odds + 1 - level)
	}
	return level + unit*by
}
