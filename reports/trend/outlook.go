package trend

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Outlook is what a fit says of a goal.
type Outlook struct {
	Level    Estimate // at the date, on the natural scale
	Reached  float64  // probability that the level is at or beyond the target at the date
	Now      float64  // probability that it is there now
	Met      bool     // it is there now with probability 0.9: the level, not a single match
	Observed bool     // the date is within the data
}

const metProbability = 0.9

// Outlook says how likely a player's level is at or beyond target (on the natural scale; at most target when lower is
// better) at a time on the scale of Data.Time. Beyond the data, half of what the season's trend has made of the level
// is taken for form that fades. It errs on a player whom the fit has not seen, and on a fit without figures.
func (r Result) Outlook(player string, target, at float64) (Outlook, error) {
	s := r.season
	if s == nil {
		return Outlook{}, fmt.Errorf("outlook: the fit has no figures (method %s)", r.Method)
	}
	j, ok := s.player[player]
	if !ok {
		return Outlook{}, fmt.Errorf("outlook: no match of player %q with an opportunity", player)
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
	then := s.level(s.ofPlayer(j, tau), j, onward(tau))
	o := Outlook{Level: s.layout.estimate(then), Reached: beyond(then), Observed: tau <= 0.5}
	o.Now = beyond(s.level(s.ofPlayer(j, s.now), j, onward(s.now)))
	o.Met = o.Now >= metProbability
	return o, nil
}

// HeadToHead gives the probability that a's level now is better than b's. The two are correlated by the effects they
// share: given those, and setting aside what single matches have in common, they are independent.
func (r Result) HeadToHead(a, b string) (float64, error) {
	s := r.season
	if s == nil {
		return 0, fmt.Errorf("head to head: the fit has no figures (method %s)", r.Method)
	}
	i, ok := s.player[a]
	if !ok {
		return 0, fmt.Errorf("head to head: no match of player %q with an opportunity", a)
	}
	j, ok := s.player[b]
	if !ok {
		return 0, fmt.Errorf("head to head: no match of player %q with an opportunity", b)
	}
	if i == j {
		return 0.5, nil
	}
	tau, q := onward(s.now), s.q
	x, y := s.ofPlayer(i, s.now), s.ofPlayer(j, s.now)
	difference := make(mixture, 0, len(s.beliefs))
	for k := range s.beliefs {
		v := &s.beliefs[k]
		m1, v1 := v.at(x, i, tau)
		m2, v2 := v.at(y, j, tau)
		var chol mat.Cholesky
		vxx := mat.NewSymDense(q, append([]float64(nil), v.vxx...))
		if !chol.Factorize(vxx) {
			return 0, fmt.Errorf("head to head: the fixed effects of the fit are not told apart")
		}
		// Cov(η, β) of each, and through β their covariance.
		c1, c2 := v.withFixed(x, i, tau), v.withFixed(y, j, tau)
		var solved mat.VecDense
		if err := chol.SolveVecTo(&solved, mat.NewVecDense(q, c2)); err != nil {
			return 0, fmt.Errorf("head to head: %w", err)
		}
		cov := dot(c1, solved.RawVector().Data)
		difference = append(difference, component{v.weight, m1 - m2, math.Sqrt(max(v1+v2-2*cov, 0))})
	}
	p := 1 - difference.cdf(0)
	if s.options.LowerIsBetter {
		p = 1 - p
	}
	return p, nil
}
