package trend

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Prior is what a group of players (one position group, one indicator, one season) says about a player before their
// own matches are counted. The zero value is not usable; FitPrior makes one.
//
// Each family has a conjugate pair, fitted to the players' season totals by maximum marginal likelihood:
//
//	rate        λ_i ~ gamma,   Y_i | λ_i ~ Poisson(λ_i E_i)        (fitRate)
//	proportion  p_i ~ beta,    S_i | p_i ~ binomial(N_i, p_i)      (fitProportion)
//	mean        μ_i ~ normal,  X_i | μ_i ~ normal(μ_i, σ²/N_i)     (fitMean)
//
// A dozen players often cannot tell a small spread between players from none, and a spread estimated as zero would
// give every player the group's level with no doubt at all. So the likelihood of the relative spread h (SD between
// players: of λ over its mean; of p over √(μ(1−μ)); of μ_i over the per-action σ) is multiplied by h exp(−h/A): zero
// is never chosen, and where the data say nothing (one player, no event at all) the answer is A. The form is that of
// Chung, Rabe-Hesketh, Dorie, Gelman & Liu 2013, Psychometrika 78; A (0.5, 0.3, 0.3) is our choice. A player's level
// averages over what remains unknown of h: held at its best value, 80 % intervals held the truth 75 % of the time in
// groups of twelve, and 73 % in groups of five.
//
// Matches of one player differ by more than chance alone allows. A dispersion φ ≥ 1, estimated from differences
// between matches of the same player, divides counts and denominators, so that every match counts for less and the
// intervals hold (quasi-likelihood: Wedderburn 1974, Biometrika 61). The σ² of a mean holds it already.
type Prior struct {
	family  Family
	players int
	phi     float64
	sigma2  float64 // per action, Mean only
	fit     spread
}

// spread is the fitted distribution of levels between players.
type spread struct {
	mean     float64 // of the levels
	strength float64 // rate: shape of the gamma; proportion: α + β of the beta; mean: τ², the variance
	varMean  float64 // sampling variance of mean
	nodes    []node  // what is believed of the strength; mean is held
}

// node is one strength, the variance of the mean under it, and its share of belief.
type node struct{ strength, varMean, weight float64 }

// Level is a player's underlying level of an indicator, on its natural scale, with the player's own matches and the
// group's weighed together.
type Level struct {
	Mean       float64  `json:"mean"`
	Interval80 Interval `json:"interval_80"`
	Interval95 Interval `json:"interval_95"`
	Matches    int      `json:"matches"` // how many matches counted
	// the share of the mean that comes from the player's own matches, from 0 (none) to 1
	OwnWeight float64 `json:"own_weight"`
	// the probability that the level is above the group's mean; below is 1 minus this
	AboveGroup float64 `json:"above_group"`
}

// Group is the distribution of levels in a group of players.
type Group struct {
	Players    int // with at least one match that counted
	Mean       float64
	SD         float64  // between players
	Range80    Interval // the middle 80 % of levels
	Dispersion float64  // φ ≥ 1: variance between matches of one player relative to chance alone; 1 for a Mean
}

// FitPrior learns the levels of a group from each player's matches (players[i] are those of player i, in any order).
// Matches without opportunity are left out. It is an error if the family is unknown, a match is impossible (negative
// or not finite, more successes than trials, a number beyond a million), nothing is left to learn from, or, for a
// Mean, there is a single match, which shows no spread of any kind.
func FitPrior(f Family, players [][]Match) (Prior, error) {
	if f != Rate && f != Proportion && f != Mean {
		return Prior{}, fmt.Errorf("fit levels of a group: family %q is none of rate, proportion, mean", f)
	}
	totals := make([]Match, 0, len(players))
	used := 0
	for i, ms := range players {
		for j, m := range ms {
			if !m.possible(f) {
				return Prior{}, fmt.Errorf("fit levels of a group: player %d, match %d: %g of %g cannot be a %s", i+1, j+1,
					m.Numerator, m.Denominator, f)
			}
		}
		if t, n := sum(f, ms); n > 0 {
			totals = append(totals, t)
			used += n
		}
	}
	if len(totals) == 0 {
		return Prior{}, fmt.Errorf("fit levels of a group: %w", ErrTooLittle)
	}
	p := Prior{family: f, players: len(totals), phi: 1}
	switch f {
	case Rate:
		p.phi = rateDispersion(players)
		p.fit = fitRate(scale(totals, p.phi), leanRate)
	case Proportion:
		p.phi = proportionDispersion(players)
		p.fit = fitProportion(scale(totals, p.phi), leanProportion)
	case Mean:
		if used < 2 {
			return Prior{}, fmt.Errorf("fit levels of a group: a single match shows no spread: %w", ErrTooLittle)
		}
		x, v := make([]float64, len(totals)), make([]float64, len(totals))
		p.sigma2 = withinVariance(players, totals)
		for i, t := range totals {
			x[i], v[i] = t.Numerator/t.Denominator, p.sigma2/t.Denominator
		}
		lean := leanMean * math.Sqrt(p.sigma2)
		if lean == 0 {
			lean = slices.Max(x) - slices.Min(x) // players who never vary: their differences are the only scale
		}
		p.fit = fitMean(x, v, lean)
	}
	return p, nil
}

// ErrTooLittle is returned, wrapped, where there are too few matches to learn anything from.
var ErrTooLittle = errors.New("too few matches to learn from")

func scale(totals []Match, phi float64) []Match {
	for i := range totals {
		totals[i].Numerator /= phi
		totals[i].Denominator /= phi
	}
	return totals
}

// Level weighs a player's matches (any number, none included; impossible ones and those without opportunity are left
// out) with the group. Mean lies between the player's own figure and the group's mean. The intervals are central
// posterior intervals: the family's conjugate distribution with the posterior's mean and variance, the variance
// including what is unknown of the group's mean and spread,
//
//	Var = E[Var(level | h)] + Var(E[level | h]),   Var(level | h) of the conjugate posterior + (1 − own_h)² Var(mean | h)
//
// as in Kass & Steffey 1989, J Am Stat Assoc 84.
func (p Prior) Level(matches []Match) Level {
	t, n := sum(p.family, matches)
	g := p.fit
	var mean, variance, own, square float64
	for _, k := range g.nodes {
		m, v, o := p.posterior(t, k)
		mean += k.weight * m
		variance += k.weight * v
		own += k.weight * o
		square += k.weight * (m - g.mean) * (m - g.mean)
	}
	variance += max(0, square-(mean-g.mean)*(mean-g.mean))
	d := p.distribution(mean, variance)
	return Level{
		Mean:       mean,
		Interval80: Interval{d.quantile(0.1), d.quantile(0.9)},
		Interval95: Interval{d.quantile(0.025), d.quantile(0.975)},
		Matches:    n,
		OwnWeight:  min(own, 1),
		AboveGroup: 1 - d.cdf(g.mean),
	}
}

// posterior is a level's mean, variance and own weight under one strength of the prior, t being the player's totals.
func (p Prior) posterior(t Match, k node) (mean, variance, own float64) {
	g := p.fit.mean
	switch p.family {
	case Rate:
		y, e := t.Numerator/p.phi, t.Denominator/p.phi
		b := k.strength / g
		own = e / (b + e)
		mean = (k.strength + y) / (b + e)
		variance = mean/(b+e) + (1-own)*(1-own)*k.varMean
	case Proportion:
		s, e := t.Numerator/p.phi, t.Denominator/p.phi
		own = e / (k.strength + e)
		mean = (g*k.strength + s) / (k.strength + e)
		// The mean's own variance takes from p(1−p) what it adds, so that a beta can always have the sum.
		u := (1 - own) * (1 - own) * k.varMean
		variance = max(0, mean*(1-mean)-u)/(k.strength+e+1) + u
	case Mean:
		if t.Denominator == 0 {
			return g, k.strength + k.varMean, 0
		}
		x, v := t.Numerator/t.Denominator, p.sigma2/t.Denominator
		own = 1
		if v > 0 {
			own = k.strength / (k.strength + v)
		}
		mean = g + own*(x-g)
		variance = own*v + (1-own)*(1-own)*k.varMean
	}
	return mean, variance, own
}

// Group describes the group that the prior was fitted to.
func (p Prior) Group() Group {
	v := p.fit.strength
	switch p.family {
	case Rate:
		v = p.fit.mean * p.fit.mean / p.fit.strength
	case Proportion:
		v = p.fit.mean * (1 - p.fit.mean) / (p.fit.strength + 1)
	}
	d := p.distribution(p.fit.mean, v)
	return Group{
		Players:    p.players,
		Mean:       p.fit.mean,
		SD:         math.Sqrt(v),
		Range80:    Interval{d.quantile(0.1), d.quantile(0.9)},
		Dispersion: p.phi,
	}
}

// distribution is the family's conjugate distribution with a given mean and variance.
func (p Prior) distribution(mean, variance float64) distribution {
	if variance <= 0 {
		return point(mean)
	}
	switch p.family {
	case Rate:
		return gamma{shape: mean * mean / variance, rate: mean / variance}
	case Proportion:
		k := max(mean*(1-mean)/variance-1, 1e-3) // a beta's variance is below μ(1−μ), but rounding may carry it past
		return beta{mean * k, (1 - mean) * k}
	}
	return normal{mean, math.Sqrt(variance)}
}
