package trend

import (
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// If matches differ by more than chance, a season's 95 % interval contains the true level in 93 to 98.5 % of seasons.
// The truth is simulated: gamma-Poisson counts of a given variance over mean, and beta-binomial successes of a given
// design effect, twelve matches each, φ learned from the fourteen players of a group.
func TestASeasonsIntervalHoldsWhereMatchesDifferByMoreThanChance(t *testing.T) {
	const groups, players, each = 400, 14, 12
	src := rand.NewPCG(7, 11)
	count := func(mean, ratio float64) Match { // variance over mean of a match's count
		shape := mean / (ratio - 1)
		lambda := distuv.Gamma{Alpha: shape, Beta: shape / mean, Src: src}.Rand()
		return Match{distuv.Poisson{Lambda: lambda, Src: src}.Rand(), 1}
	}
	share := func(p, effect float64) Match { // ten trials; effect = 1 + 9ρ, ρ the correlation of two trials of a match
		rho := (effect - 1) / 9
		scale := (1 - rho) / rho
		q := distuv.Beta{Alpha: p * scale, Beta: (1 - p) * scale, Src: src}.Rand()
		return Match{distuv.Binomial{N: 10, P: q, Src: src}.Rand(), 10}
	}
	type world struct {
		family Family
		truth  float64
		match  func() Match
	}
	var worlds []world
	for _, ratio := range []float64{1.25, 2, 3} {
		for _, total := range []float64{5, 10, 20} {
			worlds = append(worlds, world{Rate, total / each, func() Match { return count(total/each, ratio) }})
		}
		for _, p := range []float64{0.2, 0.5, 0.8} {
			worlds = append(worlds, world{Proportion, p, func() Match { return share(p, ratio) }})
		}
	}
	for _, w := range worlds {
		held, plain := 0, 0
		for range groups {
			group := make([][]Match, players)
			for i := range group {
				for range each {
					group[i] = append(group[i], w.match())
				}
			}
			phi := Dispersion(w.family, group)
			for _, matches := range group {
				total, _ := sum(w.family, matches)
				if iv, ok := SeasonInterval(w.family, total, phi, 0.95); ok && iv.Lo <= w.truth && w.truth <= iv.Hi {
					held++
				}
				if iv, ok := SeasonInterval(w.family, total, 1, 0.95); ok && iv.Lo <= w.truth && w.truth <= iv.Hi {
					plain++
				}
			}
		}
		if share := float64(held) / (groups * players); share < 0.93 || share > 0.985 {
			t.Errorf("%s of %.3g: held in %.3f of seasons, and in %.3f without the dispersion", w.family, w.truth, share,
				float64(plain)/(groups*players))
		}
	}
}

func TestTheDispersionOfASeasonIsNeverBelowChance(t *testing.T) {
	if iv, ok := SeasonInterval(Rate, Match{5, 10}, 0.9, 0.95); ok {
		t.Errorf("φ of 0.9 gave %v", iv)
	}
	same := [][]Match{{{3, 1}, {3, 1}, {3, 1}}, {{2, 1}, {2, 1}}}
	if phi := Dispersion(Rate, same); phi != 1 {
		t.Errorf("players who never vary have φ = %v, want 1", phi)
	}
}
