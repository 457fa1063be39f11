package trend

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// This file scores settled forecasts: it compares what was said with what happened. Everything is a pure function of
// both; randomness comes from a seed.

// Place is where an outcome y fell in its forecast's distribution F: Below is P(Y < y), UpTo is P(Y ≤ y). The two are
// equal for a figure that varies continuously.
type Place struct{ Below, UpTo float64 }

// Randomised is the probability integral transform of a figure that may be a count: u uniform between P(Y < y) and P(Y
// ≤ y). Where the forecasts' distributions are right, it is uniform on 0 to 1, counts or not: given y it is uniform
// over y's own step of F, and the steps fill 0 to 1 as often as they are long (Czado, Gneiting & Held 2009, Biometrics
// 65, §2.1). U is drawn by the seed and the forecast's name: the same forecast always gets the same u.
func (p Place) Randomised(seed uint64, name string) float64 {
	h := fnv.New64a()
	h.Write([]byte(name)) // never fails
	u := rand.New(rand.NewPCG(seed, h.Sum64())).Float64()
	return p.Below + u*(p.UpTo-p.Below)
}

// Covered turns transforms into forecasts of the event that the outcome is in the central interval of a level. An
// interval of a count cannot hold its level exactly: its ends are whole numbers. With randomised transforms each end
// counts by the share of it that the level needs, so that right forecasts hold the level for counts too.
func Covered(pits []float64, clusters []string, level float64) []Happened {
	of := make([]Happened, len(pits))
	for i, u := range pits {
		of[i] = Happened{Said: level, Is: math.Abs(u-0.5) <= level/2, Cluster: clusters[i]}
	}
	return of
}

// PITHistogram is the non-randomised histogram of the transform, in shares of equal bins over 0 to 1, which add to 1:
// each forecast is spread evenly over its step from P(Y < y) to P(Y ≤ y) instead of being put at a random point of
// it. It is
//
//	F̄(b/B) − F̄((b−1)/B),   F̄ the mean over forecasts of
//	F(u | y) = min(max((u − Below)/(UpTo − Below), 0), 1)
//
// Source: Czado, Gneiting & Held 2009, Biometrics 65, §2.1, equation (2).
func PITHistogram(places []Place, bins int) []float64 {
	shares := make([]float64, bins)
	upTo := func(u float64, p Place) float64 {
		if !(p.UpTo > p.Below) { // a point: all of it at once
			if u > p.Below || u >= 1 {
				return 1
			}
			return 0
		}
		return min(max((u-p.Below)/(p.UpTo-p.Below), 0), 1)
	}
	for _, p := range places {
		before := 0.0
		for b := range shares {
			at := upTo(float64(b+1)/float64(bins), p)
			shares[b] += (at - before) / float64(len(places))
			before = at
		}
	}
	return shares
}

// Happened is a forecast of an event and what came of it.
type Happened struct {
	Said    float64 // the probability, 0 to 1
	Is      bool    // whether it happened
	Cluster string  // forecasts of one cluster may share their luck: of one player
}

// Share is how often something happened among forecasts, with an interval that allows for clusters.
type Share struct {
	N, Clusters int
	Effective   float64 // as many independent ones would tell as much
	Rate        float64
	Interval95  Interval
}

// ClusteredShare is the share of forecasts whose event happened, with Wilson's interval at 95 % for as many
// independent forecasts as the clusters are worth. With p̂ the share, r_c the sum over a cluster of
// (happened − p̂), and C clusters,
//
//	v = C/(C−1) Σ_c r_c² / n²        the variance of p̂ between clusters
//	d = max(1, v / (p̂(1−p̂)/n))     the design effect, and n/d the effective number
//
// Where all or none happened, v says nothing: d is then what clusters that share one fate cost, Σ n_c²/n (Kish 1965,
// Survey Sampling, §5.4, with a correlation of 1). So it is where there is one cluster. Source: Korn & Graubard 1998,
// Survey Methodology 24, §2, who put the effective number into Clopper and Pearson's limits; here it goes into
// Wilson's. It is false for no forecast.
func ClusteredShare(of []Happened) (Share, bool) {
	if len(of) == 0 {
		return Share{}, false
	}
	n := float64(len(of))
	var happened float64
	for _, h := range of {
		happened += one(h.Is)
	}
	p := happened / n
	sums, sizes, order := map[string]float64{}, map[string]float64{}, []string{}
	for _, h := range of {
		if sizes[h.Cluster] == 0 {
			order = append(order, h.Cluster)
		}
		sums[h.Cluster] += one(h.Is) - p
		sizes[h.Cluster]++
	}
	c := float64(len(order))
	var between, alike float64
	for _, name := range order {
		between += sums[name] * sums[name]
		alike += sizes[name] * sizes[name] / n
	}
	design := alike
	if p > 0 && p < 1 && c > 1 {
		design = max(1, c/(c-1)*between/(n*p*(1-p)))
	}
	s := Share{N: len(of), Clusters: len(order), Effective: n / design, Rate: p}
	s.Interval95, _ = WilsonInterval(p*s.Effective, s.Effective, 0.95)
	return s, true
}

func one(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// Bin is the forecasts that said about the same.
type Bin struct {
	Said  float64 // mean of what they said
	Share         // how often it happened
}

// Reliability puts forecasts into equal bins by their probability and returns the bins that are not empty, in order.
// If forecasts are right, things happen as often as they say. Source: Murphy & Winkler 1977, Applied Statistics 26
// (reliability diagrams).
func Reliability(of []Happened, bins int) []Bin {
	in := make([][]Happened, bins)
	for _, h := range of {
		in[binOf(h.Said, bins)] = append(in[binOf(h.Said, bins)], h)
	}
	var out []Bin
	for _, some := range in {
		s, ok := ClusteredShare(some)
		if !ok {
			continue
		}
		b := Bin{Share: s}
		for _, h := range some {
			b.Said += h.Said / float64(len(some))
		}
		out = append(out, b)
	}
	return out
}

func binOf(p float64, bins int) int { return min(max(int(p*float64(bins)), 0), bins-1) }

// Brier is the mean squared error of forecasts of an event, and what it is made of.
type Brier struct {
	N                                    int
	Score                                float64 // 0 is perfect, 0.25 is what saying one half always gets
	Base                                 float64 // how often it happened
	Reliability, Resolution, Uncertainty float64
	Within                               float64
	// 1 − Score/Uncertainty: against saying the base rate always; NaN where that errs never
	Skill float64
}

// BrierScore is the score of Brier 1950, Monthly Weather Review 78, for one of two outcomes,
//
//	B = 1/n Σ (p_i − o_i)²
//
// and its partition (Murphy 1973, Journal of Applied Meteorology 12) over bins k of n_k forecasts, of mean forecast
// p̄_k, in which a share ō_k happened, with ō the share of all:
//
//	Reliability 1/n Σ n_k (p̄_k − ō_k)²   Resolution 1/n Σ n_k (ō_k − ō)²   Uncertainty ō(1 − ō)
//	B = Reliability − Resolution + Uncertainty + Within
//
// Murphy's forecasts take one value in a bin. Where they differ within it, Within is their variance there less twice
// their covariance with what happened (Stephenson, Coelho & Jolliffe 2008, Weather and Forecasting 23, equation 11),
// which makes the sum exact. It is false without forecasts.
func BrierScore(of []Happened, bins int) (Brier, bool) {
	if len(of) == 0 {
		return Brier{}, false
	}
	n := float64(len(of))
	b := Brier{N: len(of)}
	type sums struct{ n, p, o, pp, po float64 }
	in := make([]sums, bins)
	for _, h := range of {
		k, o := &in[binOf(h.Said, bins)], one(h.Is)
		k.n++
		k.p += h.Said
		k.o += o
		k.pp += h.Said * h.Said
		k.po += h.Said * o
		b.Base += o / n
		b.Score += (h.Said - o) * (h.Said - o) / n
	}
	for _, k := range in {
		if k.n == 0 {
			continue
		}
		p, o := k.p/k.n, k.o/k.n
		b.Reliability += k.n * (p - o) * (p - o) / n
		b.Resolution += k.n * (o - b.Base) * (o - b.Base) / n
		b.Within += (k.pp - k.n*p*p - 2*(k.po-k.n*p*o)) / n
	}
	b.Uncertainty = b.Base * (1 - b.Base)
	b.Skill = math.NaN()
	if b.Uncertainty > 0 {
		b.Skill = 1 - b.Score/b.Uncertainty
	}
	return b, true
}

// Uniform is how transforms are spread over equal bins of 0 to 1, and how surprising that is where they are uniform.
type Uniform struct {
	Bins []Share
	// P is the probability of a spread at least as uneven; NaN for fewer than five forecasts expected in a bin, where its
	// distribution is not known.
	P float64
}

// UniformPIT tests randomised transforms: Pearson's X² over the bins, divided by the design effect of the clusters
// (the mean of the bins' own, Rao & Scott 1981, J Am Stat Assoc 76, first-order correction) and compared with χ² with
// bins − 1 degrees of freedom. Clusters are those of the transforms.
func UniformPIT(pits []float64, clusters []string, bins int) Uniform {
	u := Uniform{P: math.NaN()}
	n := float64(len(pits))
	if n == 0 {
		return u
	}
	var x2, design float64
	for b := range bins {
		of := make([]Happened, len(pits))
		for i, v := range pits {
			of[i] = Happened{Is: binOf(v, bins) == b, Cluster: clusters[i]}
		}
		s, _ := ClusteredShare(of)
		u.Bins = append(u.Bins, s)
		expected := n / float64(bins)
		seen := s.Rate * n
		x2 += (seen - expected) * (seen - expected) / expected
		design += n / s.Effective / float64(bins)
	}
	if n/float64(bins) >= 5 {
		u.P = 1 - gammaCDF(x2/design/2, float64(bins-1)/2)
	}
	return u
}
