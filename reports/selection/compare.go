package selection

import (
	"slices"

	"throughline/models"
)

// Chances are what joint draws of composites say: draw d of one candidate goes with draw d of every other.
type Chances struct {
	Rank  [][]float64 // candidate × rank: the probability of that rank, 0 for the first
	Ahead [][]float64 // candidate × candidate: the probability that the one is ahead of the other
}

// chancesOf counts ranks and pairs off joint draws. Candidates who are level in a draw share its ranks equally.
func chancesOf(draws []models.Draws) Chances {
	n := len(draws)
	c := Chances{Rank: make([][]float64, n), Ahead: make([][]float64, n)}
	for i := range n {
		c.Rank[i], c.Ahead[i] = make([]float64, n), make([]float64, n)
	}
	if n == 0 {
		return c
	}
	share := 1 / float64(len(draws[0]))
	for d := range draws[0] {
		for i := range n {
			better, level := 0, 1
			for k := range n {
				switch own, other := draws[i][d], draws[k][d]; {
				case k == i:
				case other > own:
					better++
				case other == own:
					level++
					c.Ahead[i][k] += share / 2
				default:
					c.Ahead[i][k] += share
				}
			}
			for rank := better; rank < better+level; rank++ {
				c.Rank[i][rank] += share / float64(level)
			}
		}
	}
	return c
}

// composite is the weighted mean of standardised levels, draw by draw: Σ w_k z_k / Σ w_k.
func composite(z []models.Draws, weights []float64) models.Draws {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	c := make(models.Draws, len(z[0]))
	for k := range z {
		for d := range c {
			c[d] += weights[k] / total * z[k][d]
		}
	}
	return c
}

// estimate is the mean of draws, with the middle 80 % and 95 %.
func estimate(draws models.Draws) models.Estimate {
	sorted := slices.Sorted(slices.Values(draws))
	at := func(p float64) float64 { return sorted[min(int(p*float64(len(sorted))), len(sorted)-1)] }
	return models.Estimate{Mean: mean(draws), Range80: models.Range{Lo: at(0.1), Hi: at(0.9)},
		Range95: models.Range{Lo: at(0.025), Hi: at(0.975)}}
}

func mean(draws models.Draws) float64 {
	sum := 0.0
	for _, x := range draws {
		sum += x
	}
	return sum / float64(len(draws))
}
