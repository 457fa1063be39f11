package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Law is what a season fit says about a player's matches to come, in few enough numbers to keep. With η the linear
// predictor of a full match of average difficulty, at home as often as away,
//
//	η = level + match,   level ~ N(Level, SD²),   match ~ N(0, Match²) in each match anew,
//	a match's own η = η + Minutes·log(length) + Difficulty·(difficulty − Usual) + Home·(home − ½)
//
//	rate        count ~ negative binomial, mean exposure·e^η, dispersion Kappa        exposure in full matches
//	            of what a match usually offers, length in full matches of minutes
//	proportion  successes ~ beta-binomial of exposure trials, mean 1/(1 + e^−η), dispersion Kappa
//	mean        mean of exposure actions ~ normal, mean η, variance Kappa/exposure
//	rating      one coach's grade ~ normal, mean η, variance Kappa, rounded to a grade from 1 to 5; Match has the coach
//
// The fit's own distribution is a mixture over its beliefs about spreads. Level and SD are the mixture's moments, and
// Kappa its mean: the loss is too small for scores to see (see the test beside it).
type Law struct {
	Family     Family  `json:"f"`
	Level      float64 `json:"l"`
	SD         float64 `json:"s"`
	Match      float64 `json:"m,omitempty"`
	Kappa      float64 `json:"k,omitempty"`
	Minutes    float64 `json:"e,omitempty"`
	Difficulty float64 `json:"d,omitempty"`
	Usual      float64 `json:"u,omitempty"`
	Home       float64 `json:"h,omitempty"`
}

// Played is a match that was played, as a law sees it: count, successes, mean of the actions or grade, in so many full
// matches, trials or actions (1 for a grade). NaN is not recorded.
//
// Length, of a rate, is how many full matches of minutes were played, where the exposure is more or less because the
// match offered more or less: the exponent of minutes is of those alone. 0 is as many as the exposure.
type Played struct{ Value, Exposure, Difficulty, Home, Length float64 }

// Law gives the law of a player's matches at a time on the scale of Data.Time, or of the next one where at is NaN. It
// errs on a player whom the fit has not seen, and on a fit without figures.
func (r Result) Law(player string, at float64) (Law, error) {
	s := r.season
	if s == nil {
		return Law{}, fmt.Errorf("law: the fit has no figures (method %s)", r.Method)
	}
	j, ok := s.player[player]
	if !ok {
		return Law{}, fmt.Errorf("law: no match of player %q has minutes or trials", player)
	}
	tau := s.now
	if !math.IsNaN(at) {
		tau = s.layout.tau(at)
	}
	return s.law(j, tau), nil
}

func (s *season) law(j int, tau float64) Law {
	l := Law{Family: s.family}
	x := s.ofPlayer(j, tau)
	var anew float64 // variance that each match has of its own
	for i := range s.beliefs {
		b := &s.beliefs[i]
		anew += b.weight * (b.match*b.match + b.coach*b.coach) * s.layout.unit * s.layout.unit
		l.Kappa += b.weight * b.kappa
	}
	var variance float64
	switch s.family {
	case Rate, Proportion:
		l.Level, variance = s.predictive(x, j, tau, 1, 1).linear()
	default:
		_, action := s.predictive(x, j, tau, 1, 1).normal.moments()
		mean, all := s.predictive(x, j, tau, 1, math.MaxFloat64).normal.moments()
		l.Level, variance, l.Kappa = mean, all*all, max(action*action-all*all, 0)
		if s.layout.grades { // the law rounds; what rounding adds to the variance of the rows comes in with that
			l.Kappa = max(l.Kappa-roundedVariance, 0)
		}
	}
	l.SD, l.Match = math.Sqrt(max(variance-anew, 0)), math.Sqrt(anew)
	s.covariates(&l)
	return l
}

// linear gives mean and variance of η among the points of a count's distribution for one full match or one trial. The
// points are Gauss's for a normal η, so both are exact.
func (d predictive) linear() (mean, variance float64) {
	eta := func(k predictivePoint) float64 {
		if d.family == Rate {
			return math.Log(max(k.mean, math.SmallestNonzeroFloat64))
		}
		p := min(max(k.mean, 1e-15), 1-1e-15)
		return math.Log(p) - math.Log1p(-p)
	}
	for _, k := range d.points {
		mean += k.weight * eta(k)
	}
	for _, k := range d.points {
		e := eta(k) - mean
		variance += k.weight * e * e
	}
	return mean, variance
}

// covariates fills what a match's circumstances do to η: the mean effects of the columns that they move.
func (s *season) covariates(l *Law) {
	nan := math.NaN()
	moves := func(c occasion) (effect float64) {
		from, to := make([]float64, s.q), make([]float64, s.q)
		s.layout.fill(from, occasion{Time: s.layout.time[0], Difficulty: nan, Home: nan, Minutes: nan})
		s.layout.fill(to, c)
		for j := range to {
			for i := range s.beliefs {
				effect += s.beliefs[i].weight * s.beliefs[i].beta[j] * (to[j] - from[j])
			}
		}
		return effect * s.layout.unit
	}
	usual := occasion{Time: s.layout.time[0], Difficulty: nan, Home: nan, Minutes: nan}
	if s.layout.minutes {
		c := usual
		c.Minutes = s.layout.full * math.E
		l.Minutes = moves(c)
	}
	if s.layout.difficulty[1] > 0 {
		c := usual
		l.Usual = s.layout.difficulty[0]
		c.Difficulty = l.Usual + 1
		l.Difficulty = moves(c)
	}
	if s.layout.home {
		c := usual
		c.Home = 1
		l.Home = 2 * moves(c)
	}
}

// shift is what a match's circumstances add to η.
func (l Law) shift(p Played) (eta float64) {
	if l.Family == Rate && p.Exposure > 0 {
		length := p.Length
		if !(length > 0) {
			length = p.Exposure
		}
		eta += l.Minutes * math.Log(length)
	}
	if l.Difficulty != 0 && !math.IsNaN(p.Difficulty) {
		eta += l.Difficulty * (p.Difficulty - l.Usual)
	}
	if l.Home != 0 && !math.IsNaN(p.Home) {
		eta += l.Home * (p.Home - 0.5)
	}
	return eta
}

// Sum adds up matches as a numerator and a denominator, whose quotient is the figure of all of them.
func Sum(f Family, played []Played) (numerator, denominator float64) {
	for _, p := range played {
		denominator += p.Exposure
		if f == Mean || f == Rating {
			numerator += p.Value * p.Exposure
		} else {
			numerator += p.Value
		}
	}
	return numerator, denominator
}

// Place says where the sum over matches fell in the law's distribution, given how long the matches were, how hard, and
// where. The matches have the level in common and nothing else: given the level, means and variances add up, and the
// sum of counts is taken for a negative binomial (beta-binomial) with them. For one match of counts that is exact
// except for the match's own effect, which is added to the level. It is false without exposure.
func (l Law) Place(played []Played) (Place, bool) {
	y, exposure := Sum(l.Family, played)
	if !(exposure > 0) {
		return Place{}, false
	}
	switch l.Family {
	case Mean:
		mean, variance := l.meanOver(played, exposure)
		p := phi((y/exposure - mean) / math.Sqrt(variance+l.SD*l.SD))
		return Place{p, p}, true
	case Rating:
		mean, variance := l.meanOver(played, exposure)
		sd := math.Sqrt(variance + l.SD*l.SD)
		return gradePlace(math.Round(y/exposure), mean, sd), true
	}
	d := l.counts(played, exposure)
	less, equal := d.below(y)
	return Place{less, min(less+equal, 1)}, true
}

// gradePlace rounds a normal grade to whole grades, the ends with all beyond them.
func gradePlace(grade, mean, sd float64) Place {
	p := Place{phi((grade - 0.5 - mean) / sd), phi((grade + 0.5 - mean) / sd)}
	if grade <= leastGrade {
		p.Below = 0
	}
	if grade >= mostGrade {
		p.UpTo = 1
	}
	return p
}

const leastGrade, mostGrade = 1, 5

// meanOver gives mean and variance of the mean over all actions of some matches, the level held.
func (l Law) meanOver(played []Played, exposure float64) (mean, variance float64) {
	mean = l.Level
	for _, p := range played {
		w := p.Exposure / exposure
		mean += w * l.shift(p)
		variance += w * w * l.Match * l.Match
	}
	return mean, variance + l.Kappa/exposure
}

// counts is the distribution of a sum of counts or successes.
func (l Law) counts(played []Played, exposure float64) predictive {
	d := predictive{family: l.Family, exposure: 1, trials: exposure}
	sd, match := l.SD, l.Match
	if len(played) == 1 {
		sd, match = math.Hypot(sd, match), 0
	}
	for _, h := range hermite21 {
		k := l.given(l.Level+h[0]*sd, match, played, exposure)
		k.weight = h[1]
		d.level += k.weight * k.mean
		d.points = append(d.points, k)
	}
	return d
}

// given is the sum of counts (mean count), or of successes (mean share), given the level: with a match's own mean m_k
// and, of its effect and chance together, variance m_k + c_k m_k²,
//
//	rate        m_k = e_k e^(η + Match²/2),   c_k = (1 + Kappa) e^(Match²) − 1
//	            sum: mean M = Σ m_k, variance M + κM²,   κ = Σ c_k m_k² / M²
//
// and for a proportion likewise with the variance of a beta-binomial, whose κ solves
//
//	N p̄ (1 − p̄)(1 + Nκ)/(1 + κ) = Σ variances
func (l Law) given(level, match float64, played []Played, exposure float64) predictivePoint {
	if l.Family == Rate {
		var m, v float64
		for _, p := range played {
			mk := p.Exposure * math.Exp(level+l.shift(p)+match*match/2)
			m += mk
			v += ((1+l.Kappa)*math.Exp(match*match) - 1) * mk * mk
		}
		return predictivePoint{mean: m, kappa: v / max(m*m, math.SmallestNonzeroFloat64)}
	}
	var m, v float64
	for _, p := range played {
		var share, square float64
		for _, h := range hermite5 {
			q, _ := logit(level + l.shift(p) + h[0]*match)
			share += h[1] * q
			square += h[1] * q * q
		}
		n := p.Exposure
		m += n * share
		own := n * (share - square) * (1 + n*l.Kappa) / (1 + l.Kappa) // chance, averaged over the match's effect
		v += own + n*n*max(square-share*share, 0)
	}
	p := m / exposure
	ratio := v / max(exposure*p*(1-p), math.SmallestNonzeroFloat64)
	k := predictivePoint{mean: p}
	if exposure > 1 && ratio > 1 {
		k.kappa = (ratio - 1) / max(exposure-ratio, 1e-9)
	}
	return k
}

// hermite21 is hermite5 with 21 points: steps of the level that a sum over many matches does not show.
var hermite21 = func() (rule [21][2]float64) {
	const n = len(rule)
	d, e, first := make([]float64, n), make([]float64, n), make([]float64, n)
	for k := range n - 1 {
		e[k] = math.Sqrt(float64(k + 1))
	}
	first[0] = 1
	jacobiEigen(d, e, first)
	for i := range rule {
		rule[i] = [2]float64{d[i], first[i] * first[i]}
	}
	return rule
}()

// draw draws the figure of some matches to come, given the level.
func (l Law) draw(random *rand.Rand, level float64, played []Played, exposure float64) float64 {
	switch l.Family {
	case Mean, Rating:
		mean, variance := l.meanOver(played, exposure)
		return mean + level - l.Level + math.Sqrt(variance)*random.NormFloat64()
	case Rate:
		k := l.given(level, l.Match, played, exposure)
		return drawCount(random, k.mean, k.kappa) / exposure
	}
	k := l.given(level, l.Match, played, exposure)
	return drawSuccesses(random, exposure, k.mean, k.kappa) / exposure
}

// Ahead is the probability that player a has more than player b (per full match, as a share, or as a mean) over as
// many matches to come of each, ties set aside. Exposures are those of each match, full matches or trials or actions.
// The levels of the two are drawn jointly, from the draws that ranks are counted off; chance in their matches is drawn
// anew for each. Draws follow from the seed and the names. It errs as Law and HeadToHead do.
func (r Result) Ahead(a, b string, matches int, exposureA, exposureB float64, seed uint64) (float64, error) {
	la, err := r.Law(a, math.NaN())
	if err != nil {
		return 0, err
	}
	lb, err := r.Law(b, math.NaN())
	if err != nil {
		return 0, err
	}
	if matches < 1 || !(exposureA > 0 && exposureB > 0) {
		return 0, fmt.Errorf("ahead: %d matches of %v and %v: want at least one, with exposure", matches, exposureA,
			exposureB)
	}
	j := r.season.joint
	if j == nil {
		return 0, fmt.Errorf("ahead: the %d players of the fit are not told apart", len(r.season.player))
	}
	x, y := r.season.drawnLevels(j.eta[j.row[a]]), r.season.drawnLevels(j.eta[j.row[b]])
	return ahead(la, lb, x, y, matches, exposureA, exposureB, named(seed, a+" "+b, 0)), nil
}

const aheadDraws = 1000

// drawnLevels are draws of η of a level as a law has it, at most aheadDraws and evenly picked.
func (s *season) drawnLevels(eta []float32) []float64 {
	n := min(len(eta), aheadDraws)
	levels := make([]float64, n)
	for d := range levels {
		levels[d] = s.layout.centre + s.layout.unit*float64(eta[d*len(eta)/n])
	}
	return levels
}

// ahead draws the matches of two players, given draws of their levels.
func ahead(
	a, b Law, levelsA, levelsB []float64, matches int, exposureA, exposureB float64, random *rand.Rand,
) float64 {
	many := func(f Family, exposure float64) ([]Played, float64) {
		if f == Proportion || f == Mean {
			exposure = max(1, math.Round(exposure))
		}
		one := Played{Exposure: exposure, Difficulty: math.NaN(), Home: math.NaN()}
		return slices.Repeat([]Played{one}, matches), exposure * float64(matches)
	}
	playedA, inA := many(a.Family, exposureA)
	playedB, inB := many(b.Family, exposureB)
	var more, less float64
	for d := range levelsA {
		x := a.draw(random, levelsA[d], playedA, inA)
		y := b.draw(random, levelsB[d], playedB, inB)
		switch {
		case x > y:
			more++
		case x < y:
			less++
		}
	}
	return (more + 0.5) / (more + less + 1) // what draws cannot tell from certain is not said to be certain
}
