package trend

import (
	"fmt"
	"math"
)

// LevelAt gives a player's level (of an average match, on the natural scale) at a time on the scale of Data.Time;
// outside the data that of their nearest day. It errs on a player whom the fit has not seen, and on a fit without
// figures.
func (r Result) LevelAt(player string, at float64) (Estimate, error) {
	s := r.season
	if s == nil {
		return Estimate{}, fmt.Errorf("level: the fit has no figures (method %s)", r.Method)
	}
	j, ok := s.player[player]
	if !ok {
		return Estimate{}, fmt.Errorf("level: no match of player %q has minutes or trials", player)
	}
	if math.IsNaN(at) || math.IsInf(at, 0) {
		return Estimate{}, fmt.Errorf("level of %q at %v: want an ordinary number", player, at)
	}
	tau := s.layout.clamp(s.layout.tau(at)) // before and after the data, that of their first and last day
	return s.layout.estimate(s.level(s.ofPlayer(j, tau), j, tau)), nil
}
