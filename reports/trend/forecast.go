package trend

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Prediction is one match predicted from matches before it. Counts for Rate, successes for Proportion, values otherwise.
type Prediction struct {
	Row    int // of the data predicted, from 0
	Player string
	Actual float64
	Mean   float64
	Lo80   float64
	Hi80   float64
	// LogScoreMean is the log-probability of the actual count were it Poisson (Proportion: binomial) at Mean, so that methods
	// compare; NaN for Mean and Rating. LogScorePredictive is that of the engine's own distribution (a density for Mean and
	// Rating).
	LogScoreMean, LogScorePredictive float64
	PIT                              float64 // randomised for counts
}

// Total is a player's sum over all his predicted matches.
type Total struct {
	Player          string
	Actual, Mean    float64
	Lo80, Hi80, PIT float64
}

// Forecast predicts rows of d (row numbers from 0, of players whom the fit has seen; others are left out) from a season fit.
// What is random, to break ties of counts and to add up totals, follows from seed and the players' names only.
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
		if !ok || !d.opportunity(i) {
			continue
		}
		if later[d.Player[i]] == nil {
			order = append(order, d.Player[i])
		}
		later[d.Player[i]] = append(later[d.Player[i]], i)
		one := s.occasion(d, i, j)
		y := d.Value[i]
		p := Prediction{Row: i, Player: d.Player[i], Actual: y, Mean: one.mean(), LogScoreMean: math.NaN(), LogScorePredictive: one.logScore(y)}
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
	exposure := 1.0
	if d.Minutes != nil {
		exposure = d.Minutes[i] / s.layout.full
	}
	return s.predictive(x, j, s.tauOf(c), exposure, d.trialsOf(i))
}

func (s *season) tauOf(c Occasion) float64 {
	if math.IsNaN(c.Time) {
		return s.now
	}
	return s.layout.tau(c.Time)
}

// total adds up a player's rows by simulation: ψ by its weights, then fixed effects, level and slope jointly, then each
// match's own effect and chance.
func (s *season) total(d Data, name string, rows []int, random *rand.Rand) Total {
	const draws = 1000
	j, q := s.player[name], s.q
	n := q + 2
	x := make([]float64, len(rows)*n)
	t := Total{Player: name}
	exposure := make([]float64, len(rows))
	for k, i := range rows {
		c := d.occasion(i)
		s.layout.fill(x[k*n:k*n+q], c)
		x[k*n+q], x[k*n+q+1] = 1, onward(s.tauOf(c))
		exposure[k] = 1
		if d.Minutes != nil {
			exposure[k] = d.Minutes[i] / s.layout.full
		}
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
			var sum float64
			for k := range rows {
				xk := x[k*n : (k+1)*n]
				eta[k] = dot(xk, mean)
				for a := range n {
					var v float64
					for c := a; c < n; c++ {
						v += root[c*n+a] * xk[c]
					}
					eta[k] += v * z[a]
				}
				m := s.layout.natural(eta[k] + belief.match*random.NormFloat64())
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

// joint gives the mean of (β, level, slope) of player j and the lower triangular root of its covariance.
func (b *belief) joint(j int) (mean, root []float64) {
	q := len(b.beta)
	n := q + 2
	mean = append(slices.Clone(b.beta), b.u[j][0], b.u[j][1])
	c := mat.NewSymDense(n, nil)
	for i := range q {
		for k := range i + 1 {
			c.SetSym(i, k, b.vxx[i*q+k])
		}
		c.SetSym(q, i, b.vux[j*2*q+i])
		c.SetSym(q+1, i, b.vux[j*2*q+q+i])
	}
	c.SetSym(q, q, b.vuu[j][0])
	c.SetSym(q+1, q, b.vuu[j][1])
	c.SetSym(q+1, q+1, b.vuu[j][2])
	root = make([]float64, n*n)
	for i := range n { // Cholesky, with zero for what does not vary
		for k := range i + 1 {
			v := c.At(i, k) - dot(root[i*n:i*n+k], root[k*n:k*n+k])
			switch {
			case i == k:
				root[i*n+i] = math.Sqrt(max(v, 0))
			case root[k*n+k] > 1e-9:
				root[i*n+k] = v / root[k*n+k]
			}
		}
	}
	return mean, root
}

// drawCount draws from the negative binomial as a gamma mixture of Poissons.
func drawCount(random *rand.Rand, mu, kappa float64) float64 {
	if kappa > 1e-9 {
		mu *= drawGamma(random, 1/kappa) * kappa
	}
	return drawPoisson(random, mu)
}

// drawSuccesses draws from the beta-binomial.
func drawSuccesses(random *rand.Rand, n, p, kappa float64) (y float64) {
	if kappa > 1e-9 {
		a, b := drawGamma(random, p/kappa), drawGamma(random, (1-p)/kappa)
		if a+b > 0 {
			p = a / (a + b)
		}
	}
	if n > countable {
		return math.Round(min(max(n*p+math.Sqrt(n*p*(1-p))*random.NormFloat64(), 0), n))
	}
	for range int(n) {
		if random.Float64() < p {
			y++
		}
	}
	return y
}

// drawGamma draws a gamma of a shape, scale 1: Marsaglia & Tsang 2000, ACM Trans Math Softw 26.
func drawGamma(random *rand.Rand, shape float64) float64 {
	if shape < 1 {
		return drawGamma(random, shape+1) * math.Pow(random.Float64(), 1/shape)
	}
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := random.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v *= v * v
		if u := random.Float64(); math.Log(u) < 0.5*x*x+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

// drawPoisson multiplies uniforms for small means and halves large ones through a gamma (Ahrens & Dieter 1974, Computing 12).
func drawPoisson(random *rand.Rand, mu float64) (y float64) {
	for mu > 15 {
		m := math.Floor(mu * 7 / 8)
		g := drawGamma(random, m)
		if g > mu { // the m-th event comes after the end: how many of the m−1 before it
			p := mu / g
			for range int(m) - 1 {
				if random.Float64() < p {
					y++
				}
			}
			return y
		}
		y += m
		mu -= g
	}
	limit := math.Exp(-mu)
	for p := random.Float64(); p > limit; p *= random.Float64() {
		y++
	}
	return y
}

// Role says what a player's matches of another indicator tell about his role: the log of his empirical-Bayes level
// (Prior; log odds for a Proportion), by player. The uncertainty of lending it is the fit's own: Data.Role columns come in
// with a coefficient that is estimated, and shrunk.
func Role(d Data, o Options) (map[string]float64, error) {
	if err := d.Validate(); err != nil {
		return nil, fmt.Errorf("role: %w", err)
	}
	if d.Family != Rate && d.Family != Proportion {
		return nil, fmt.Errorf("role: want a rate or a proportion, have a %s", d.Family)
	}
	var names []string
	var matches [][]Match
	at := map[string]int{}
	for i, name := range d.Player {
		j, ok := at[name]
		if !ok {
			j = len(names)
			at[name] = j
			names, matches = append(names, name), append(matches, nil)
		}
		if d.opportunity(i) {
			m := Match{d.Value[i], 1}
			if d.Family == Proportion {
				m.Denominator = d.Trials[i]
			} else if d.Minutes != nil {
				m.Denominator = d.Minutes[i] / o.fullMatch()
			}
			matches[j] = append(matches[j], m)
		}
	}
	prior, err := FitPrior(d.Family, matches)
	if err != nil {
		return nil, fmt.Errorf("role: %w", err)
	}
	role := make(map[string]float64, len(names))
	for j, name := range names {
		v := prior.Level(matches[j]).Mean
		if d.Family == Proportion {
			v /= max(1-v, 1e-9)
		}
		role[name] = math.Log(max(v, 1e-9))
	}
	return role, nil
}
