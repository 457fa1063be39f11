package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// half splits a simulated squad's rows at the middle date: the first half as data, and the rows of the second.
func half(d Data, mid float64) (first Data, later []int) {
	var rows []int
	for i, t := range d.Time {
		if t <= mid {
			rows = append(rows, i)
		} else {
			later = append(later, i)
		}
	}
	pick := func(column []float64) (out []float64) {
		if column == nil {
			return nil
		}
		for _, i := range rows {
			out = append(out, column[i])
		}
		return out
	}
	names := func(column []string) (out []string) {
		for _, i := range rows {
			out = append(out, column[i])
		}
		return out
	}
	first = Data{
		Family: d.Family, Player: names(d.Player), Group: names(d.Group), Match: names(d.Match), Time: pick(d.Time),
		Minutes: pick(d.Minutes), Trials: pick(d.Trials), Value: pick(d.Value),
	}
	return first, later
}

// playedOf is row i of data as a law sees it.
func playedOf(d Data, i int) Played {
	p := Played{Value: d.Value[i], Exposure: d.trialsOf(i), Difficulty: math.NaN(), Home: math.NaN()}
	if d.Family == Rate {
		p.Exposure = d.Minutes[i] / fullMatch
	}
	return p
}

const fullMatch = 80

// A law stands in for the fit's own distribution: single matches and totals fall at the same places in both.
func TestALawSaysWhatTheFitSays(t *testing.T) {
	for _, family := range []Family{Rate, Proportion, Mean} {
		random := rand.New(rand.NewPCG(3, uint64(len(family))))
		truth := squadTruth{family: family, level: 0.4, slope: 0.15, theta: 15, rate: 6, match: 0.1}
		d, _ := simulateSquad(random, truth, 24, 16)
		if family != Rate {
			d.Minutes = nil
		}
		first, later := half(d, 0)
		r, err := Fit(first, Options{FullMatch: fullMatch})
		if err != nil || r.season == nil {
			t.Fatal(family, err)
		}
		predictions, totals, err := r.Forecast(d, later, 5)
		if err != nil {
			t.Fatal(err)
		}
		var apart []float64
		for _, p := range predictions {
			l, err := r.Law(p.Player, d.Time[p.Row])
			if err != nil {
				t.Fatal(err)
			}
			at, ok := l.Place([]Played{playedOf(d, p.Row)})
			if !ok {
				t.Fatalf("%s: no place of %+v", family, playedOf(d, p.Row))
			}
			u := named(5, p.Player, p.Row).Float64()
			apart = append(apart, math.Abs(at.Below+u*(at.UpTo-at.Below)-p.PIT))
		}
		slices.Sort(apart)
		if worst, usual := apart[len(apart)-1], apart[len(apart)/2]; worst > 0.05 || usual > 0.015 {
			t.Errorf("%s: places of single matches differ by up to %.3f, half of them by %.3f", family, worst, usual)
		}
		for _, total := range totals {
			var all []Played
			var middle float64
			for _, i := range later {
				if d.Player[i] == total.Player {
					all = append(all, playedOf(d, i))
					middle += d.Time[i]
				}
			}
			l, err := r.Law(total.Player, middle/float64(len(all)))
			if err != nil {
				t.Fatal(err)
			}
			at, _ := l.Place(all)
			if total.PIT < at.Below-0.06 || total.PIT > at.UpTo+0.06 {
				t.Errorf("%s: the total of %s is at %.3f in the fit's draws, and at %.3f to %.3f in the law", family,
					total.Player, total.PIT, at.Below, at.UpTo)
			}
		}
	}
}

// A law's circumstances are those of the fit's columns.
func TestALawKnowsMinutesDifficultyAndVenue(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 2))
	d, _ := simulateSquad(random, squadTruth{level: 0.3, slope: 0.1, theta: 20, rate: 12, match: 0.05}, 24, 14)
	for i := range d.Value {
		d.Difficulty = append(d.Difficulty, float64(1+i%5))
		d.Home = append(d.Home, float64(i%2))
		d.Value[i] = math.Round(d.Value[i] * math.Exp(0.4*d.Home[i]-0.1*d.Difficulty[i]+0.3))
	}
	r, err := Fit(d, Options{FullMatch: fullMatch})
	if err != nil {
		t.Fatal(err)
	}
	effects := map[string]float64{}
	for _, e := range r.Fixed {
		effects[e.Name] = e.Estimate
	}
	l, err := r.Law(d.Player[0], math.NaN())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "home", l.Home, effects["home"], 1e-9)
	near(t, "minutes", l.Minutes, effects["log(minutes)"], 1e-9)
	near(t, "difficulty", l.Difficulty*r.season.layout.difficulty[1], effects["opponent"], 1e-9)
	if l.Home < 0.2 || l.Difficulty > -0.05 {
		t.Errorf("home %v and difficulty %v: the simulated effects are 0.4 and −0.1", l.Home, l.Difficulty)
	}
	j := r.season.player[d.Player[0]]
	if next := r.Players[0].Next; d.Player[0] == r.Players[0].Name {
		near(t, "the next match", l.counts([]Played{{Exposure: 1, Difficulty: math.NaN(), Home: math.NaN()}}, 1).mean(),
			next.Mean, 0.02*next.Mean)
	} else {
		t.Errorf("player %d is not the first", j)
	}
}

// A sum of counts is compared with a simulation of the law's own sentence.
func TestPlacesOfSumsAreThoseOfTheLawsOwnDraws(t *testing.T) {
	for _, l := range []Law{
		{Family: Rate, Level: 0.7, SD: 0.25, Match: 0.15, Kappa: 0.1, Minutes: 0.1},
		{Family: Rate, Level: -1, SD: 0.4, Match: 0.1, Kappa: 0.02},
		{Family: Proportion, Level: 0.8, SD: 0.3, Match: 0.2, Kappa: 0.08},
		{Family: Mean, Level: 3, SD: 0.4, Match: 0.3, Kappa: 4},
		{Family: Rating, Level: 3.4, SD: 0.3, Match: 0.2, Kappa: 0.4},
	} {
		random := rand.New(rand.NewPCG(17, uint64(len(l.Family))))
		for _, matches := range []int{1, 6} {
			if l.Family == Rating && matches > 1 {
				continue // a law of grades is of the next one
			}
			const draws = 4000
			var within, sum float64
			for range draws {
				var played []Played
				level := l.Level + l.SD*random.NormFloat64()
				for range matches {
					p := Played{Exposure: 1, Difficulty: math.NaN(), Home: math.NaN()}
					eta := level + l.Match*random.NormFloat64()
					switch l.Family {
					case Rate:
						p.Exposure = 0.25 + 0.75*random.Float64()
						p.Value = drawCount(random, p.Exposure*math.Exp(eta+l.shift(p)), l.Kappa)
					case Proportion:
						p.Exposure = float64(2 + random.IntN(10))
						share, _ := logit(eta)
						p.Value = drawSuccesses(random, p.Exposure, share, l.Kappa)
					case Mean:
						p.Exposure = float64(1 + random.IntN(9))
						p.Value = eta + math.Sqrt(l.Kappa/p.Exposure)*random.NormFloat64()
					case Rating:
						p.Value = min(max(math.Round(eta+math.Sqrt(l.Kappa)*random.NormFloat64()), 1), 5)
					}
					played = append(played, p)
				}
				at, ok := l.Place(played)
				if !ok {
					t.Fatalf("no place of %+v", played)
				}
				u := at.Below + random.Float64()*(at.UpTo-at.Below)
				sum += u / draws
				if math.Abs(u-0.5) <= 0.4 {
					within += 1.0 / draws
				}
			}
			name := fmt.Sprintf("%s over %d matches", l.Family, matches)
			near(t, name+": mean of the transforms", sum, 0.5, 0.015) // 3 SE are 0.014
			near(t, name+": share within 80 %", within, 0.8, 0.02)    // 3 SE are 0.019
		}
	}
}

// The probability to have more is compared with draws match by match; players swapped make the rest of 1, and what two
// levels have in common cannot decide between them.
func TestAheadIsTheChanceToHaveMore(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 9))
	a := Law{Family: Rate, Level: 1.2, SD: 0.2, Match: 0.1, Kappa: 0.05}
	b := Law{Family: Rate, Level: 1, SD: 0.3, Match: 0.1, Kappa: 0.05}
	levels := func(l Law, shared []float64) []float64 {
		out := make([]float64, aheadDraws)
		for d := range out {
			out[d] = l.Level + l.SD*random.NormFloat64()
			if shared != nil {
				out[d] = l.Level + l.SD*shared[d]
			}
		}
		return out
	}
	even := ahead(a, a, levels(a, nil), levels(a, nil), 5, 1, 1, random)
	near(t, "a player against an equal", even, 0.5, 0.05) // 3 SE are 0.047
	p := ahead(a, b, levels(a, nil), levels(b, nil), 5, 1, 0.5, random)
	q := ahead(b, a, levels(b, nil), levels(a, nil), 5, 0.5, 1, random)
	near(t, "both ways", p+q, 1, 0.06)
	var more, all float64
	for range 20000 {
		var x, y float64
		la, lb := a.Level+a.SD*random.NormFloat64(), b.Level+b.SD*random.NormFloat64()
		for range 5 {
			x += drawCount(random, math.Exp(la+a.Match*random.NormFloat64()), a.Kappa)
			y += drawCount(random, 0.5*math.Exp(lb+b.Match*random.NormFloat64()), b.Kappa)
		}
		if x != 2*y {
			all++
		}
		if x > 2*y {
			more++
		}
	}
	near(t, "against draws match by match", p, more/all, 0.05)
	shared := make([]float64, aheadDraws)
	for d := range shared {
		shared[d] = random.NormFloat64()
	}
	together := ahead(a, b, levels(a, shared), levels(b, shared), 200, 1, 1, random)
	apart := ahead(a, b, levels(a, nil), levels(b, nil), 200, 1, 1, random)
	if together < apart+0.1 {
		t.Errorf("with levels that go together a is ahead with %.2f, apart with %.2f: want the first clearly higher",
			together, apart)
	}
}

// Over many matches of two players chance is gone, and who has more is whose level is higher: the head-to-head.
func TestAheadOverManyMatchesIsTheHeadToHead(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	d, _ := simulateSquad(random, squadTruth{level: 0.4, slope: 0.1, theta: 20, rate: 10, match: 0.02}, 20, 12)
	r, err := Fit(d, Options{FullMatch: fullMatch})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 6 {
		a, b := r.Players[i].Name, r.Players[i+6].Name
		want, err := r.HeadToHead(a, b)
		if err != nil {
			t.Fatal(err)
		}
		got, err := r.Ahead(a, b, 4000, 1, 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, a+" against "+b, got, want, 0.05)
	}
}

// Grades are whole: their rows vary by their rounding too (1/12, Sheppard 1898), and the law rounds again. So what it
// keeps is the variance before rounding. The truth is simulated.
func TestALawOfGradesDoesNotRoundTwice(t *testing.T) {
	const sd = 0.6
	d := drawnSeason(Rating, 40, 40, func(random *rand.Rand, p, _ int) float64 {
		return math.Round(min(max(3+0.4*float64(p%3-1)+sd*random.NormFloat64(), 1), 5))
	})
	r, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	l, err := r.Law("p01", math.NaN())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "variance of a grade before it is rounded", l.Kappa, sd*sd, 0.03)
}

// The exponent of minutes is of minutes alone: a match that offered twice the usual counts twice, whether the player
// played all of it or half, and is no longer a match for that.
func TestWhatAMatchOfferedIsExposureAndNotMinutes(t *testing.T) {
	l := Law{Family: Rate, Level: 1, Minutes: -0.5}
	nan := math.NaN()
	for _, c := range []struct{ length, offered float64 }{{1, 2}, {0.5, 2}, {0.25, 0.8}} {
		p := Played{Exposure: c.length * c.offered, Length: c.length, Difficulty: nan, Home: nan}
		want := math.E * c.offered * math.Sqrt(c.length) // e^1 · offered · length^(1 − ½)
		near(t, fmt.Sprint(c), l.counts([]Played{p}, p.Exposure).mean(), want, 1e-12)
	}
}
