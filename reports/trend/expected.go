package trend

import (
	"cmp"
	"math"
	"slices"
)

// Expectation is what was expected of a row's figure, judged by everything but the row itself: the player's other
// matches, what the squad did in this one, the opponent's difficulty, home or away, and minutes.
type Expectation struct {
	Row        int
	Mean       float64  // a count, a number of successes, a mean or a grade, as Data.Value
	Interval80 Interval // of the figure, its own chance included
	// whether the opponent's difficulty is recorded and the season's opponents differ in it
	Opponent bool
}

// without is what everything but a row says of the row's η: normal about mean. See oddMatches.
type without struct {
	row           int
	mean, sd      float64
	kappa, action float64 // of the family's chance; actions counted in units of their mean
	trials        float64
	opponent      bool
}

// apart are the rows of each player.
type apart map[string][]without

// figure is the distribution of a row's figure.
func (s *season) figure(w without) predictive {
	one := predictive{family: s.family, layout: s.layout, exposure: 1, trials: w.trials}
	switch s.family {
	case Rate, Proportion:
		for _, q := range hermite5 {
			eta := w.mean + q[0]*w.sd
			mu, _ := logit(eta)
			if s.family == Rate {
				mu = math.Exp(eta)
			}
			one.level += q[1] * mu
			one.points = append(one.points, predictivePoint{q[1], mu, w.kappa})
		}
	default:
		sd := math.Sqrt(w.sd*w.sd+w.kappa/w.action) * s.layout.unit
		if s.layout.grades { // next to a scale's end most grades are equal; the next one is no slip
			sd = max(sd, math.Sqrt(roundedVariance))
		}
		one.level = s.layout.natural(w.mean)
		one.normal = mixture{{1, one.level, sd}}
	}
	return one
}

// Expected returns what was expected of each row of a player, in the order of the data. It is empty if the model could
// not be fitted: then nothing is known of opponents.
func (r *Result) Expected(player string) []Expectation {
	if r.season == nil {
		return nil
	}
	all := slices.Clone(r.asides[player])
	for _, w := range r.apart[player] {
		all = append(all, expectation(w.row, r.season.figure(w), w.opponent))
	}
	slices.SortFunc(all, func(a, b Expectation) int { return cmp.Compare(a.Row, b.Row) })
	return all
}

func expectation(row int, of predictive, opponent bool) Expectation {
	ends := of.quantiles([]float64{0.1, 0.9})
	return Expectation{Row: row, Mean: of.mean(), Interval80: Interval{ends[0], ends[1]}, Opponent: opponent}
}

// opponent says whether a row's opponent is in what is expected of it.
func (s *season) opponent(d Data, row int) bool {
	return s.layout.difficulty[1] > 0 && !math.IsNaN(d.Difficulty[row])
}
