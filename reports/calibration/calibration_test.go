package calibration

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/trend"
)

// engine simulates forecasts of an engine that says spreads by a factor of what they are, and what came of them.
func engine(random *rand.Rand, factor float64) ([]models.Forecast, []models.ForecastPair) {
	var said []models.Forecast
	var pairs []models.ForecastPair
	origins := []models.Date{"2025-09-06", "2025-09-13", "2025-09-20", "2025-09-27"}
	on := models.Date("2025-11-01")
	for player := range int64(150) {
		for _, origin := range origins {
			truth := trend.Law{
				Family: trend.Rate, Level: 3 + 0.3*random.NormFloat64(), SD: 0.4, Kappa: 0.02,
			}
			level := truth.Level + truth.SD*random.NormFloat64()
			mu := math.Exp(level)
			count := poisson(random, mu*gamma(random, 1/truth.Kappa)*truth.Kappa)
			law := truth
			law.SD, law.Kappa = truth.SD*factor, truth.Kappa*factor*factor
			place, _ := law.Place([]trend.Played{{Value: count, Exposure: 1, Difficulty: math.NaN(), Home: math.NaN()}})
			said = append(said, models.Forecast{
				PlayerID: player, Indicator: "carries", Origin: origin, Family: models.Rate,
				MadeAt: time.Date(2025, 9, 30, 0, 0, 0, 0, time.UTC),
				Next:   models.ForecastCame{On: &on, Matches: 1, Value: count, Of: 1, Below: place.Below, UpTo: place.UpTo},
			})
			// Of two players one is ahead by so much on the logit scale; the engine is surer by the factor.
			ahead := 1.2 * random.NormFloat64()
			p := models.ForecastPair{
				PlayerID: player, OtherID: 1000 + player, Indicator: "carries", Origin: origin, Family: models.Rate,
				MadeAt: time.Date(2025, 9, 30, 0, 0, 0, 0, time.UTC),
				Chance: 1 / (1 + math.Exp(-ahead/math.Pow(factor, 3))), SettledOn: &on,
			}
			if random.Float64() < 1/(1+math.Exp(-ahead)) {
				p.Value = 1
			} else {
				p.OtherValue = 1
			}
			pairs = append(pairs, p)
		}
	}
	return said, pairs
}

// poisson and gamma draw by the textbook, apart from the engine's own draws: counting arrivals, and Marsaglia & Tsang
// 2000 for shapes of at least 1.
func poisson(random *rand.Rand, mu float64) (n float64) {
	for t := random.ExpFloat64(); t < mu; t += random.ExpFloat64() {
		n++
	}
	return n
}

func gamma(random *rand.Rand, shape float64) float64 {
	d := shape - 1.0/3
	for {
		x := random.NormFloat64()
		v := math.Pow(1+x/math.Sqrt(9*d), 3)
		if v > 0 && math.Log(random.Float64()) < x*x/2+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

func TestAnEngineThatHoldsAndOneThatIsTooSureAreToldApart(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	holds := func(s *Share, p float64) bool { return s.Lo <= p && p <= s.Hi }
	const runs = 20
	var surprised, covered, beyond int
	for range runs {
		r := Of(engine(random, 1))
		next, pairs := r.Families[0].Next, r.Families[0].Pairs
		if *next.UnevenBy < 0.05 {
			surprised++
		}
		if holds(next.Within80, 0.8) && holds(next.Within95, 0.95) {
			covered++
		}
		for _, b := range pairs.Reliability {
			if !holds(&b.Share, b.Said) {
				beyond++
			}
		}
		if *pairs.Brier.Skill <= 0 {
			t.Errorf("the engine that holds is worse than the base rate: %+v", pairs.Brier)
		}
		r = Of(engine(random, 0.5))
		next, pairs = r.Families[0].Next, r.Families[0].Pairs
		if *next.UnevenBy > 0.001 || next.Within80.Hi >= 0.8 || next.Within95.Hi >= 0.95 {
			t.Errorf("the engine that is too sure passes: %+v", next)
		}
		if next.PIT[0].Lo <= 0.1 || next.PIT[9].Lo <= 0.1 {
			t.Errorf("the transforms of the engine that is too sure are not at the ends: %+v", next.PIT)
		}
		if last := pairs.Reliability[len(pairs.Reliability)-1]; holds(&last.Share, last.Said) {
			t.Errorf("what is said with %.2f and happens in %.2f passes", last.Said, last.Rate)
		}
		if *pairs.Brier.Skill > 0.15 {
			t.Errorf("the engine that is too sure has a skill of %.2f", *pairs.Brier.Skill)
		}
	}
	// Of 20 runs one is a surprise at 0.05, and four are beyond 3 in 1,000 times; of 200 bins ten are.
	if surprised > 4 || covered < 14 || beyond > 22 {
		t.Errorf("the engine that holds: a surprise in %d runs, intervals right in %d, %d bins beyond theirs", surprised,
			covered, beyond)
	}
}

func TestTooLittleIsSaidAndNotScored(t *testing.T) {
	said, pairs := engine(rand.New(rand.NewPCG(1, 1)), 1)
	for _, c := range []struct {
		name  string
		said  []models.Forecast
		pairs []models.ForecastPair
	}{{"few forecasts", said[:99], pairs[:99]}, {"few players", few(said), nil}} {
		r := Of(c.said, c.pairs)
		next := r.Families[0].Next
		if next.Enough || next.PIT != nil || next.Within80 != nil || r.Families[0].Pairs.Brier != nil {
			t.Errorf("%s are scored: %+v", c.name, next)
		}
		var text strings.Builder
		if err := r.Print(&text); err != nil || !strings.Contains(text.String(), "next match: too little: ") {
			t.Errorf("%s: %v, %s", c.name, err, text.String())
		}
	}
	var none strings.Builder
	if err := Of(nil, nil).Print(&none); err != nil ||
		!strings.Contains(none.String(), "No forecasts yet: ") {
		t.Errorf("nothing at all: %v, %s", err, none.String())
	}
}

// few gives all forecasts to nine players.
func few(said []models.Forecast) []models.Forecast {
	all := append([]models.Forecast(nil), said...)
	for i := range all {
		all[i].PlayerID %= 9
	}
	return all
}

func TestTheSameForecastsGiveTheSameAccount(t *testing.T) {
	said, pairs := engine(rand.New(rand.NewPCG(1, 2)), 1)
	var one, two strings.Builder
	if err := Of(said, pairs).Print(&one); err != nil {
		t.Fatal(err)
	}
	if err := Of(said, pairs).Print(&two); err != nil || one.String() != two.String() {
		t.Errorf("two accounts differ (%v):\n%s\n%s", err, one.String(), two.String())
	}
	for _, want := range []string{"in the 80% interval", "uneven", "Brier score", "saying the base rate", "600 settled"} {
		if !strings.Contains(one.String(), want) {
			t.Errorf("the account lacks %q:\n%s", want, one.String())
		}
	}
}

func TestAPValueIsNeverNothing(t *testing.T) {
	for p, want := range map[float64]string{0: "p < 0.001", 0.0009: "p < 0.001", 0.001: "p = 0.001", 0.25: "p = 0.250"} {
		if got := chance(p); got != want {
			t.Errorf("%v: %q, want %q", p, got, want)
		}
	}
}

// Forecasts that nothing could be compared with are counted in view: readers judge whether the others stand for them.
func TestForecastsWithNothingToCompareWithAreCounted(t *testing.T) {
	said, pairs := engine(rand.New(rand.NewPCG(1, 2)), 1)
	for i := range said[:7] {
		said[i].Next.Matches = 0
	}
	var account strings.Builder
	if err := Of(said, pairs).Print(&account); err != nil {
		t.Fatal(err)
	}
	if want := ", 7 without a figure to compare with\n"; !strings.Contains(account.String(), want) {
		t.Errorf("the account lacks %q:\n%s", want, account.String())
	}
}
