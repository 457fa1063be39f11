package trend

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What is said about a player against the mean of the group's levels comes true as often, where levels and matches are
// simulated, gamma and gamma-Poisson: the chance, and the 80 % range of the distance.
func TestADistanceFromTheGroupsLevelsHolds(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 1))
	const groups, tenths = 1500, 10
	for _, size := range []int{6, 12} {
		var n, said, is, spread [tenths]float64
		covered, total := 0.0, 0.0
		for range groups {
			levels, matches := make([]float64, size), make([][]Match, size)
			truth := 0.0
			for i := range size {
				levels[i] = 4 * drawGamma(random, 8) / 8
				truth += levels[i] / float64(size)
				for range 10 {
					matches[i] = append(matches[i], Match{drawCount(random, levels[i], 0.1), 1})
				}
			}
			p, err := FitPrior(Rate, matches)
			if err != nil {
				t.Fatal(err)
			}
			for i := range size {
				a := p.Distance(matches[i], matches)
				chance := a.Above
				b := binOf(chance, tenths)
				n[b]++
				said[b] += chance
				spread[b] += chance * (1 - chance)
				is[b] += one(levels[i] > truth)
				covered += one(math.Abs(levels[i]-truth-a.Mean) <= normalQuantile(0.9)*a.SD)
				total++
			}
		}
		for b := range n {
			if z := (is[b] - said[b]) / math.Sqrt(spread[b]); math.Abs(z) > 4 {
				t.Errorf("%d players: %.3f said, %.3f true, %.1f standard errors", size, said[b]/n[b], is[b]/n[b], z)
			}
		}
		if share := covered / total; share < 0.77 || share > 0.83 {
			t.Errorf("%d players: 80 %% ranges of the distance hold %.3f", size, share)
		}
	}
}

// By hand: without a spread of the mean, and equal weights, the distances of all players add up to none.
func TestDistancesAddUpToNone(t *testing.T) {
	matches := [][]Match{{{3, 1}, {4, 1}}, {{6, 1}, {7, 1}}, {{1, 1}, {2, 1}}, {{5, 1}, {5, 1}}}
	p, err := FitPrior(Rate, matches)
	if err != nil {
		t.Fatal(err)
	}
	var all float64
	for _, ms := range matches {
		a := p.Distance(ms, matches)
		all += a.Mean
		if !(a.SD > 0) {
			t.Errorf("a distance of %v is certain", a.Mean)
		}
	}
	near(t, "sum", all, 0, 1e-9)
	if a := p.Distance([]Match{{30, 1}}, matches); !(a.Mean > 0 && a.Above > 0.5) {
		t.Errorf("a player from outside with many is at %+v", a)
	}
}
