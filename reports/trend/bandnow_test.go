package trend

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Twenty players whose rates rise by a fifth over the season (simulated): the range of levels at its end holds the
// middle 80 % of them better than that of the season's levels does.
func TestARangeOfLevelsNowFollowsARiseOfAll(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	const squads, players, matches, rise = 40, 20, 16, 0.2
	now, season := 0.0, 0.0
	for range squads {
		timed, plain := make([][]TimedMatch, players), make([][]Match, players)
		for p := range players {
			base := math.Log(10) + 0.3*random.NormFloat64()
			for m := range matches {
				tau := float64(m) / (matches - 1)
				one := Match{drawPoisson(random, math.Exp(base+rise*tau)), 1}
				timed[p] = append(timed[p], TimedMatch{one, 7 * float64(m)})
				plain[p] = append(plain[p], one)
			}
		}
		iv, err := RangeNow(Rate, timed)
		if err != nil {
			t.Fatal(err)
		}
		prior, err := FitPrior(Rate, plain)
		if err != nil {
			t.Fatal(err)
		}
		// The truth: the middle 80 % of the levels at the end are 10·e^(0.2 ± 1.2816·0.3).
		truth := 10 * math.Exp(rise) * math.Cosh(0.3*normalQuantile(0.9))
		now += math.Log((iv.Lo+iv.Hi)/2/truth) / squads
		was := prior.Group().Range80
		season += math.Log((was.Lo+was.Hi)/2/truth) / squads
	}
	if math.Abs(now) > 0.05 || season > -0.08 {
		t.Errorf("the middle is off by %.3f in logs, that of the season's levels by %.3f", now, season)
	}
}
