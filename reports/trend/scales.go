package trend

import "math"

// Scales are the scales of three priors, learned over an academy's fits (LearnScales). 0 is where learning starts.
type Scales struct {
	Slope float64 // half-normal: SD of what a whole season makes of a level
	Year  float64 // half-normal: SD of what the time between two seasons makes of it
	Trend float64 // normal: what a whole season makes of a whole squad
}

// Where learning starts. On adult professionals the slope's best start was 0.10; juniors change more, and 0.15 is the
// least that anyone has tried on them.
const (
	startSlope = 0.15
	startYear  = 0.10
	startTrend = 0.08
)

func (s Scales) orStart() Scales {
	for _, v := range []struct {
		of    *float64
		start float64
	}{{&s.Slope, startSlope}, {&s.Year, startYear}, {&s.Trend, startTrend}} {
		if !(*v.of > 0) {
			*v.of = v.start
		}
	}
	return s
}

// sketch is what one fit says of the scales: the log-likelihood of each SD at sketchSD, other SDs at their mode (nil:
// not in the model), and the squad's trend without its prior, per whole season, with its variance and the share of a
// season seen.
type sketch struct {
	slope, year            []float64
	trend, variance, share float64
	mode                   []float64 // of ψ
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
	k := sketch{slope: at(p.hyper.slope), year: at(p.hyper.between)}
	k.addTrend(s)
	return k
}

// addTrend takes the squad's trend out of what is believed of it: a normal belief (μ, v) under a prior N(0, p) comes
// from an estimate of variance 1/(1/v − 1/p).
func (k *sketch) addTrend(s *season) {
	if !s.layout.trend || !(s.layout.span > 0) {
		return
	}
	j := s.trendColumn()
	m := make(mixture, len(s.beliefs))
	for i := range s.beliefs {
		b := &s.beliefs[i]
		m[i] = component{b.weight, b.beta[j], math.Sqrt(max(b.vxx[j*s.q+j], 0))}
	}
	mean, sd := m.moments()
	p := math.Pow(s.options.Scales.orStart().Trend, 2) * s.layout.span
	if rest := 1/(sd*sd) - 1/p; rest > 1e-6/p {
		k.variance, k.share = 1/rest, s.layout.span
		k.trend = mean / (sd * sd) * k.variance
	}
}

// learnScales is empirical Bayes over fits: each scale s by its posterior, log-normal about its start (SD 1.2),
//
//	slope, year   Π_k ∫ half-normal(σ; s) L_k(σ) dσ
//	trend         Π_k N(t_k; 0, var_k + s² span_k)
//
// and of it the mean of log s. Source: Efron 2010, Large-Scale Inference, §1; here what is learned is a scale.
func learnScales(sketches []sketch) Scales {
	var slopes, years [][]float64
	for _, k := range sketches {
		if k.slope != nil {
			slopes = append(slopes, k.slope)
		}
		if k.year != nil {
			years = append(years, k.year)
		}
	}
	const (
		widerSlope = 1.2 // a half-normal holds most of its SDs below its scale
		widerTrend = 2.0 // squads of one academy move the same way, which a prior about none does not know
	)
	return Scales{
		Slope: widerSlope * learnScale(startSlope, func(s float64) float64 { return halfNormals(slopes, s) }),
		Year:  learnScale(startYear, func(s float64) float64 { return halfNormals(years, s) }),
		Trend: widerTrend * learnScale(startTrend, func(s float64) (l float64) {
			for _, k := range sketches {
				if k.variance > 0 {
					v := k.variance + s*s*k.share
					l -= 0.5 * (math.Log(v) + k.trend*k.trend/v)
				}
			}
			return l
		}),
	}
}

func learnScale(start float64, logLikelihood func(s float64) float64) float64 {
	const points, reach, doubt = 61, 3.5, 1.2
	var logs, posts [points]float64
	best := math.Inf(-1)
	for i := range points {
		z := reach * (2*float64(i)/(points-1) - 1)
		logs[i] = math.Log(start) + z
		posts[i] = logLikelihood(math.Exp(logs[i])) - z*z/(2*doubt*doubt)
		best = max(best, posts[i])
	}
	var sum, mean float64
	for i, p := range posts {
		w := math.Exp(p - best)
		sum += w
		mean += w * logs[i]
	}
	return math.Exp(mean / sum)
}

// halfNormals is Σ log ∫ half-normal(σ; s) L_k(σ) dσ, by the points of sketchSD as steps in log σ.
func halfNormals(logs [][]float64, s float64) (sum float64) {
	weights := make([]float64, len(sketchSD))
	var total float64
	for i, sd := range sketchSD {
		lo, hi := 0.0, math.Inf(1)
		if i > 0 {
			lo = math.Sqrt(sd * sketchSD[i-1])
		}
		if i < len(sketchSD)-1 {
			hi = math.Sqrt(sd * sketchSD[i+1])
		}
		weights[i] = math.Erf(hi/(s*math.Sqrt2)) - math.Erf(lo/(s*math.Sqrt2))
		total += weights[i]
	}
	for _, l := range logs {
		best := math.Inf(-1)
		for _, v := range l {
			best = max(best, v)
		}
		if math.IsInf(best, -1) {
			continue
		}
		var p float64
		for i, v := range l {
			p += weights[i] / total * math.Exp(v-best)
		}
		sum += math.Log(p) + best
	}
	return sum
}
