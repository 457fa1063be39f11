package trend

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
)

// Prediction is one match predicted from matches before it. Counts for Rate, successes for Proportion, values
// otherwise.
type Prediction struct {
	Row    int // of the data predicted, from 0
	Player string
	Actual float64
	Mean   float64
	Lo80   float64
	Hi80   float64
	// LogScoreMean is the log-probability of the actual count were it Poisson (Proportion: binomial) at Mean, so that
	// methods compare; NaN for Mean and Rating. LogScorePredictive is that of the engine's own distribution (a density
	// for Mean and Rating).
	LogScoreMean, LogScorePredictive float64
	PIT                              float64 // randomised for counts
}

// Total is a player's sum over all their predicted matches.
type Total struct {
	Player          string
	Actual, Mean    float64
	Lo80, Hi80, PIT float64
}

// Forecast predicts rows of d (row numbers from 0, of players whom the fit has seen; others are left out) from a
// season fit. What is random, to break ties of counts and to add up totals, follows from seed and the players' names
// only.
func (r Result) Forecast(d Data, rows []int, seed uint64) ([]Prediction, []Total, error) {
	s := r.season
	if s == nil {
		return nil, nil, fmt.Errorf("forecast: the fit is not a season fit with figures (method %s)", r.Method)
	}
	if err := d.Validate(); err != nil {
		return nil, nil, fmt.Errorf("forecast: %w", err)
	}
	var predictions []Prediction
	later := map[string][]int{}
	var order []string
	for _, i := range rows {
		j, ok := s.player[d.Player[i]]
		if !ok || !d.HasOpportunity(i) {
			continue
		}
		if later[d.Player[i]] == nil {
			order = append(order, d.Player[i])
		}
		later[d.Player[i]] = append(later[d.Player[i]], i)
		one := s.occasion(d, i, j)
		y := d.Value[i]
		p := Prediction{Row: i, Player: d.Player[i], Actual: y, Mean: one.mean(), LogScoreMean: math.NaN(),
			LogScorePredictive: one.logScore(y)}
		q := one.quantiles([]float64{0.1, 0.9})
		p.Lo80, p.Hi80 = q[0], q[1]
		switch s.family {
		case Rate:
			p.LogScoreMean = logNegativeBinomial(y, max(p.Mean, 1e-6), 0)
		case Proportion:
			p.LogScoreMean = logBetaBinomial(y, d.Trials[i], p.Mean/d.Trials[i], 0)
		}
		less, equal := one.below(y)
		p.PIT = less + equal*named(seed, d.Player[i], i).Float64()
		predictions = append(predictions, p)
	}
	if s.family == Mean || s.family == Rating {
		return predictions, nil, nil
	}
	totals := make([]Total, 0, len(order))
	for _, name := range order {
		totals = append(totals, s.total(d, name, later[name], named(seed, name, -1)))
	}
	return predictions, totals, nil
}

// named is a random source of its own for a player and row.
func named(seed uint64, name string, row int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s %d", name, row)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// occasion is the predictive distribution of row i for player j.
func (s *season) occasion(d Data, i, j int) predictive {
	c := d.occasion(i)
	x := make([]float64, s.q)
	s.layout.fill(x, c)
	exposure := 1.0 // a share or a grade is of no length
	if s.family == Rate {
		exposure = d.exposure(i, s.layout.full)
	}
	return s.predictive(x, j, s.tauOf(c), exposure, d.trialsOf(i))
}

func (s *season) tauOf(c occasion) float64 {
	if math.IsNaN(c.Time) {
		return s.now
	}
	return s.layout.tau(c.Time)
}

// total adds up a player's rows by simulation: ψ by its weights, then fixed effects, level and slope jointly, then
// each match's own effect and chance.
func (s *season) total(d Data, name string, rows []int, random *rand.Rand) Total {
	const draws = 1000
	j, q := s.player[name], s.q
	n := q + 2
	x := make([]float64, len(rows)*n)
	t := Total{Player: name}
	exposure, taus := make([]float64, len(rows)), make([]float64, len(rows))
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b int) int { return cmp.Compare(s.tauOf(d.occasion(a)), s.tauOf(d.occasion(b))) })
	for k, i := range rows {
		c := d.occasion(i)
		s.layout.fill(x[k*n:k*n+q], c)
		x[k*n+q], x[k*n+q+1] = 1, s.tauOf(c)
		taus[k] = s.tauOf(c)
		exposure[k] = d.exposure(i, s.layout.full)
		t.Actual += d.Value[i]
	}
	sums := make([]float64, 0, draws)
	z, eta := make([]float64, n), make([]float64, len(rows))
	taken, share := 0, 0.0
	for b := range s.beliefs {
		belief := &s.beliefs[b]
		share += belief.weight
		upTo := int(math.Round(share * draws))
		if upTo == taken {
			continue
		}
		mean, root := belief.joint(j)
		for ; taken < upTo; taken++ {
			for a := range z {
				z[a] = random.NormFloat64()
			}
			var sum, walked, gone float64
			for k := range rows {
				if w := belief.wander(s.layout, taus[k]); w > gone {
					walked += math.Sqrt(w-gone) * random.NormFloat64()
					gone = w
				}
				xk := x[k*n : (k+1)*n]
				eta[k] = dot(xk, mean)
				for a := range n {
					var v float64
					for c := a; c < n; c++ {
						v += root[c*n+a] * xk[c]
					}
					eta[k] += v * z[a]
				}
				m := s.layout.natural(eta[k] + walked + belief.match*random.NormFloat64())
				if s.family == Rate {
					sum += drawCount(random, m*exposure[k], belief.kappa)
				} else {
					sum += drawSuccesses(random, d.Trials[rows[k]], m, belief.kappa)
				}
			}
			sums = append(sums, sum)
		}
	}
	slices.Sort(sums)
	less, equal := 0.0, 0.0
	for _, v := range sums {
		t.Mean += v / float64(len(sums))
		if v < t.Actual {
			less++
		} else if v == t.Actual {
			equal++
		}
	}
	at := func(p float64) float64 { return sums[min(int(p*float64(len(sums))), len(sums)-1)] }
	t.Lo80, t.Hi80 = at(0.1), at(0.9)
	t.PIT = (less + equal*random.Float64()) / float64(len(sums))
	return t
}
