package scenario

import (
	"hash/fnv"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// dice is one stream of random numbers. Every part of the simulation has its own, named after what is drawn: a change
// to one part does not change the others' draws.
type dice struct {
	*rand.Rand
	source rand.Source
}

// stream returns the dice for one purpose, such as the stints of one match.
func stream(seed uint64, purpose string, of ...int64) dice {
	name := fnv.New64a()
	name.Write([]byte(purpose))
	for _, n := range of {
		for shift := 0; shift < 64; shift += 8 {
			name.Write([]byte{byte(n >> shift)})
		}
	}
	source := rand.NewPCG(seed, name.Sum64())
	return dice{Rand: rand.New(source), source: source}
}

// chance is true with probability p.
func (d dice) chance(p float64) bool { return d.Float64() < p }

// between returns a whole number from low to high, both included.
func (d dice) between(low, high int) int { return low + d.IntN(high-low+1) }

// normal returns a normal number with a mean and a standard deviation.
func (d dice) normal(mean, sd float64) float64 { return mean + sd*d.NormFloat64() }

// count returns a negative binomial count: variance mean + mean²/theta.
func (d dice) count(mean, theta float64) int {
	if mean <= 0 {
		return 0
	}
	lambda := distuv.Gamma{Alpha: theta, Beta: theta / mean, Src: d.source}.Rand()
	if lambda <= 0 {
		return 0
	}
	return int(distuv.Poisson{Lambda: lambda, Src: d.source}.Rand())
}

// share returns a beta number with a mean and a precision: the probability of success that one match holds for a
// player, so that successes of trials drawn with it are beta-binomial.
func (d dice) share(mean, precision float64) float64 {
	p := distuv.Beta{Alpha: mean * precision, Beta: (1 - mean) * precision, Src: d.source}.Rand()
	return min(max(p, 0.001), 0.999)
}

// positive returns a number above zero with a mean and a coefficient of variation (gamma).
func (d dice) positive(mean, variation float64) float64 {
	alpha := 1 / (variation * variation)
	return distuv.Gamma{Alpha: alpha, Beta: alpha / mean, Src: d.source}.Rand()
}

// weighted returns an index with a probability in proportion to its weight, or -1 where no weight is above zero.
func (d dice) weighted(weights []float64) int {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	if total <= 0 {
		return -1
	}
	at := d.Float64() * total
	last := -1
	for i, w := range weights {
		if w <= 0 {
			continue
		}
		if last = i; at < w {
			return i
		}
		at -= w
	}
	return last
}

// pick returns one of a list, each with the same probability.
func pick[T any](d dice, list []T) T { return list[d.IntN(len(list))] }

// odds is a list of codes with their weights.
type odds []struct {
	code   string
	weight float64
}

// of returns one code of a list by weight.
func (d dice) of(list odds) string {
	total := 0.0
	for _, o := range list {
		total += o.weight
	}
	at := d.Float64() * total
	for _, o := range list {
		if at < o.weight {
			return o.code
		}
		at -= o.weight
	}
	return list[len(list)-1].code
}

func logit(p float64) float64    { return math.Log(p / (1 - p)) }
func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// round returns x to a number of decimals, as a person would write it down.
func round(x float64, decimals int) float64 {
	scale := math.Pow(10, float64(decimals))
	return math.Round(x*scale) / scale
}
