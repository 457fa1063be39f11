package trend

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// Scales are the scales of three priors, learned over an academy's fits (LearnScales). 0 is where learning starts.
type Scales struct {
	Slope float64 // chi: SD of what a whole season makes of a level
	Alike float64 // the degrees of freedom of that chi; 1 is half-normal, more where indicators' slopes vary alike
	Year  float64 // half-normal: SD of what the time between two seasons makes of it
	Trend float64 // normal: SD of what a whole season makes of a whole squad
	Rise  float64 // and its mean, of rates alone: squads of one academy move the same way. Where learning starts is 0
}

// Where learning starts. On adult professionals the slope's best start was 0.10; juniors change more, and 0.15 is the
// least that anyone has tried on them.
const (
	startSlope = 0.15
	startYear  = 0.10
	startTrend = 0.08
	startAlike = 1
	// sketches leave a squad's trend free: what a prior about none took from it, the players' slopes would take up
	sketchTrend = 0.4
)

func (s Scales) orStart() Scales {
	for _, v := range []struct {
		of    *float64
		start float64
	}{{&s.Slope, startSlope}, {&s.Year, startYear}, {&s.Trend, startTrend},
		{&s.Alike, startAlike}} {
		if !(*v.of > 0) {
			*v.of = v.start
		}
	}
	return s
}

// Sketch is what one fit says about the scales, in few enough numbers to keep for the fits of an academy's other
// squads. It names no player.
type Sketch struct {
	// The log-likelihood of each SD at some sizes, other SDs at their mode, less the highest; nil: not in the model.
	Slope, Year []float64
	// The squad's trend without its prior, per whole season, with its variance and the share of a season seen.
	Trend, Variance, Share float64
	Rate                   bool
}

// sketch is a Sketch and where its search ended.
type sketch struct {
	Sketch
	end *begin
}

var sketchSD = []float64{0.01, 0.03, 0.06, 0.1, 0.15, 0.22, 0.3, 0.42, 0.6}

// sketch looks at the scales from the mode of ψ.
func (s *season) sketch(p posed, f func(x, gradient []float64) float64, mode []float64) sketch {
	none := make([]float64, len(mode))
	at := func(i int) (l []float64) {
		if i < 0 {
			return nil
		}
		x := append([]float64(nil), mode...)
		for _, sd := range sketchSD {
			x[i] = math.Log(sd)
			l = append(l, -f(x, nil)-p.hyper.logPrior(x, none))
		}
		return l
	}
	k := sketch{Sketch: Sketch{Slope: belowBest(at(p.hyper.slope)), Year: belowBest(at(p.hyper.between))}}
	k.addTrend(s)
	return k
}

// belowBest subtracts the highest from log-likelihoods, and keeps each of them finite; nil if the highest is not
// finite.
func belowBest(l []float64) []float64 {
	const least = -700 // nothing, in a sum of exponentials
	if len(l) == 0 || math.IsInf(slices.Max(l), 0) {
		return nil
	}
	best := slices.Max(l)
	for i := range l {
		l[i] = max(l[i]-best, least)
	}
	return l
}

// addTrend takes the squad's trend out of what is believed of it: a normal belief (μ, v) under a prior N(0, p) comes
// from an estimate of variance 1/(1/v − 1/p).
func (k *sketch) addTrend(s *season) {
	if !s.layout.trend || !(s.layout.span > 0) {
		return
	}
	k.Rate = s.family == Rate
	j := s.trendColumn()
	m := make(mixture, len(s.beliefs))
	for i := range s.beliefs {
		b := &s.beliefs[i]
		m[i] = component{b.weight, b.beta[j], math.Sqrt(max(b.vxx[j*s.q+j], 0))}
	}
	mean, sd := m.moments()
	p := math.Pow(s.options.Scales.orStart().Trend, 2) * s.layout.span
	if rest := 1/(sd*sd) - 1/p; rest > 1e-6/p {
		k.Variance, k.Share = 1/rest, s.layout.span
		k.Trend = s.layout.rise + mean/(sd*sd)*k.Variance
	}
}

// learnScales is empirical Bayes over fits: each scale s by its posterior, log-normal about its start (SD 1.2),
//
//	slope         Π_k ∫ chi(σ; s, n) L_k(σ) dσ      σ² ~ s² χ²_n/n: half-normal for n = 1, σ = s for n → ∞
//	year          Π_k ∫ chi(σ; s, 1) L_k(σ) dσ
//	trend         Π_k N(t_k; m √span_k, var_k + s² span_k), see risen; m is of this season's rates, 0 for all else
//
// and of it the mean of log s. How alike the slopes' SDs are is learned with their scale, p(log n) even: a half-normal
// holds many SDs near zero, which fits in which all vary alike refute, and whose intervals of the change would be too
// narrow. Source: Efron 2010, Large-Scale Inference, §1; here what is learned is a scale.
func learnScales(sketches, before []Sketch) Scales {
	all := slices.Concat(sketches, before)
	var slopes, years [][]float64
	for _, k := range all {
		if len(k.Slope) == len(sketchSD) {
			slopes = append(slopes, exponentials(k.Slope))
		}
		if len(k.Year) == len(sketchSD) {
			years = append(years, exponentials(k.Year))
		}
	}
	const (
		doubt      = 1.2  // SD of the log of a scale
		wider      = 1.03 // what is learned is not known: intervals of the change would hold too little
		widerSlope = 0.2  // a half-normal holds most of its SDs below its scale
		widerTrend = 2.0  // a few squads tell little of how differently squads move
	)
	slope, alike := learnScale(startSlope, doubt, alikeChoices, func(s, n float64) float64 { return chis(slopes, s, n) })
	year, _ := learnScale(startYear, doubt, []float64{1}, func(s, n float64) float64 { return chis(years, s, n) })
	trend, _ := learnScale(startTrend, doubt, []float64{1}, func(s, _ float64) float64 {
		_, l := risen(sketches, s)
		for _, k := range before {
			_, one := risen([]Sketch{{Trend: k.Trend, Variance: k.Variance, Share: k.Share}}, s)
			l += one
		}
		return l
	})
	rise, _ := risen(sketches, trend)
	slope *= wider + widerSlope/alike
	return Scales{Slope: slope, Alike: alike, Year: year, Trend: widerTrend * trend, Rise: rise}
}

// risen gives the mean of m, what a season makes of all rates of an academy, and the log-likelihood of s with m taken
// out. In half of all academies nothing moves them all. A squad seen for a share a of a season has an estimate t of
// variance v:
//
//	t ~ N(m √a, v + s² a),   m = 0 with probability ½, else m ~ N(0, 0.2²); 0 for what is no rate
//	W = 1/0.2² + Σ a/(v + s² a),   S = Σ t √a/(v + s² a)
//	B = e^(S²/2W)/(0.2 √W), the odds that something moves them (a Bayes factor),   E(m | t) = B/(1 + B) S/W
//
// Without the half at 0, chance alone would move all squads alike, by a tenth of what is unknown of a level. Source:
// Mitchell & Beauchamp 1988, J Am Stat Assoc 83 (a prior with a spike).
func risen(sketches []Sketch, s float64) (m, logLikelihood float64) {
	const wide = 0.2
	w, sum := 1/(wide*wide), 0.0
	for _, k := range sketches {
		if !(k.Variance > 0) {
			continue
		}
		v := k.Variance + s*s*k.Share
		logLikelihood -= 0.5 * (math.Log(v) + k.Trend*k.Trend/v)
		if k.Rate {
			w += k.Share / v
			sum += k.Trend * math.Sqrt(k.Share) / v
		}
	}
	const most = 700 // of an exponential, that it is a number
	odds := math.Exp(min(0.5*(sum*sum/w-math.Log(w*wide*wide)), most))
	return odds / (1 + odds) * sum / w, logLikelihood + math.Log((1+odds)/2)
}

var alikeChoices = []float64{1, 2, 4, 8, 16}

// learnScale gives the means of log s and log n over their posterior.
func learnScale(start, doubt float64, alike []float64, logLikelihood func(s, n float64) float64) (
	scale, freedom float64,
) {
	const points, reach = 61, 3.5
	type point struct{ logS, logN, post float64 }
	var grid []point
	best := math.Inf(-1)
	for _, n := range alike {
		for i := range points {
			z := reach * (2*float64(i)/(points-1) - 1)
			p := point{math.Log(start) + z, math.Log(n), -z * z / (2 * doubt * doubt)}
			p.post += logLikelihood(math.Exp(p.logS), n)
			best = max(best, p.post)
			grid = append(grid, p)
		}
	}
	var sum, logS, logN float64
	for _, p := range grid {
		w := math.Exp(p.post - best)
		sum += w
		logS += w * p.logS
		logN += w * p.logN
	}
	return math.Exp(logS / sum), math.Exp(logN / sum)
}

// chis is Σ log ∫ chi(σ; s, n) L_k(σ) dσ of likelihoods, by the points of sketchSD as steps in log σ.
func chis(likelihoods [][]float64, s, n float64) (sum float64) {
	weights := make([]float64, len(sketchSD))
	upTo := func(sd float64) float64 { return mathext.GammaIncReg(n/2, n*sd*sd/(2*s*s)) }
	var total, below float64
	for i, sd := range sketchSD {
		above := 1.0
		if i < len(sketchSD)-1 {
			above = upTo(math.Sqrt(sd * sketchSD[i+1]))
		}
		weights[i] = above - below
		total, below = total+weights[i], above
	}
	for i := range weights {
		weights[i] /= total
	}
	for _, l := range likelihoods {
		sum += math.Log(dot(weights, l))
	}
	return sum
}

func exponentials(logs []float64) []float64 {
	e := make([]float64, len(logs))
	for i, v := range logs {
		e[i] = math.Exp(v)
	}
	return e
}
