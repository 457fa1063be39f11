package trend

import (
	"fmt"
	"math"
)

// Outlook is what a fit says about a goal.
type Outlook struct {
	Level    Estimate // at the date, on the natural scale
	Reached  float64  // probability that the level is at or beyond the target at the date
	Now      float64  // probability that it is there now
	Met      bool     // it is there now with probability 0.9: the level, not a single match
	Observed bool     // the date is within the data
}

const metProbability = 0.9

// Outlook says how likely a player's level is at or beyond target (on the natural scale; at most target when lower is
// better) at a time on the scale of Data.Time. Beyond the data the level goes on along its slope, with growing doubt.
// It is an error if the fit has not seen the player, or has no levels.
func (r Result) Outlook(player string, target, at float64) (Outlook, error) {
	s := r.season
	if s == nil {
		return Outlook{}, fmt.Errorf("outlook: the fit has no figures (method %s)", r.Method)
	}
	j, ok := s.player[player]
	if !ok {
		return Outlook{}, fmt.Errorf("outlook: no match of player %q has minutes or trials", player)
	}
	if math.IsNaN(target) || math.IsNaN(at) || math.IsInf(at, 0) {
		return Outlook{}, fmt.Errorf("outlook of %q: target %v at %v: want ordinary numbers", player, target, at)
	}
	tau := s.layout.tau(at)
	beyond := func(m mixture) float64 {
		p := m.cdf(s.layout.linear(target))
		if s.options.LowerIsBetter {
			return p
		}
		return 1 - p
	}
	then := s.level(s.ofPlayer(j, tau), j, tau)
	o := Outlook{Level: s.layout.estimate(then), Reached: beyond(then), Observed: tau <= s.layout.last()}
	o.Now = beyond(s.level(s.ofPlayer(j, s.now), j, s.now))
	o.Met = o.Now >= metProbability
	return o, nil
}
