package trend

import "math"

// Apart is how far a player's level is from the mean of a group's levels.
type Apart struct {
	Level    float64 // the mean of the group's levels
	Mean, SD float64 // of the distance from it
	Above    float64 // probability that the player's level is above it
}

// Distance is how far a player's level is from the mean of the levels of the group that the prior was fitted to, the
// player among them, jointly. With L_j the level of player j
// of n, own_j the share of it that comes from their own matches, and m the group's mean, given the relative spread h,
//
//	D = L_i − L̄,   E D = E L_i − Σ E L_j/n
//	Var D = (1 − 1/n)² v_i + Σ_{j≠i} v_j/n² + (own_i − own̄)² Var(m),   v_j = Var(L_j | m)
//
// because levels are independent given m, and the doubt about m is common to all: it moves a level by 1 − own_j. Over
// h means and variances are those of a mixture. A player whose totals match no one's in the group is compared with all
// of them from outside. Above takes L̄ + D for the family's conjugate distribution, which is as skew as levels are.
func (p Prior) Distance(player []Match, group [][]Match) Apart {
	totals := make([]Match, 0, len(group))
	self, _ := sum(p.family, player)
	i := -1
	for _, ms := range group {
		if t, n := sum(p.family, ms); n > 0 {
			if i < 0 && t == self {
				i = len(totals)
			}
			totals = append(totals, t)
		}
	}
	n := float64(len(totals))
	if i < 0 {
		i, totals = len(totals), append(totals, self)
	}
	in := func(j int) float64 { // the share of player j in the group's mean
		if float64(j) < n {
			return 1 / n
		}
		return 0
	}
	var a Apart
	var square float64
	for _, k := range p.fit.nodes {
		var all, d, v, common float64
		for j, t := range totals {
			m, variance, own := p.posterior(t, k)
			w := -in(j)
			if j == i {
				w++
			}
			all += in(j) * m
			d += w * m
			v += w * w * max(variance-(1-own)*(1-own)*k.varMean, 0)
			common += w * (1 - own)
		}
		v += common * common * k.varMean
		a.Level += k.weight * all
		a.Mean += k.weight * d
		square += k.weight * (v + d*d)
	}
	a.SD = math.Sqrt(max(square-a.Mean*a.Mean, 0))
	if a.Above = 0.5; a.SD > 0 || a.Mean != 0 {
		a.Above = 1 - p.distribution(a.Level+a.Mean, a.SD*a.SD).cdf(a.Level)
	}
	return a
}
