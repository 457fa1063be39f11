package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// drawnSeason is a squad's season: players in groups, matches every week, values as value draws them.
func drawnSeason(f Family, players, matches int, value func(random *rand.Rand, player, match int) float64) Data {
	random := rand.New(rand.NewPCG(21, 4))
	d := Data{Family: f}
	for p := range players {
		for m := range matches {
			d.Player = append(d.Player, fmt.Sprintf("p%02d", p))
			d.Match = append(d.Match, fmt.Sprintf("m%02d", m))
			d.Group = append(d.Group, fmt.Sprintf("g%d", p%2))
			d.Time = append(d.Time, float64(7*m))
			switch f {
			case Rate:
				d.Minutes = append(d.Minutes, 60+20*random.Float64())
			case Proportion, Mean:
				d.Trials = append(d.Trials, 10)
			case Rating:
				d.Coach = append(d.Coach, fmt.Sprintf("c%d", (p+m)%2))
			}
			d.Value = append(d.Value, value(random, p, m))
		}
	}
	return d
}

func fives(random *rand.Rand, _, _ int) float64 { return drawPoisson(random, 5) }
func halves(random *rand.Rand, _, _ int) float64 {
	return drawSuccesses(random, 10, 0.5, 0)
}
func metres(random *rand.Rand, _, _ int) float64 { return 5 + random.NormFloat64() }
func grades(random *rand.Rand, p, _ int) float64 {
	return math.Round(min(max(3+0.5*float64(p%3-1)+0.7*random.NormFloat64(), 1), 5))
}

// sound refuses figures that are none: not finite, in no order, outside what there can be.
func sound(t *testing.T, r Result, lo, hi float64) {
	t.Helper()
	for _, p := range r.Players {
		for what, e := range map[string]*Estimate{"start": p.Start, "now": p.Now, "next": p.Next} {
			if e == nil {
				continue
			}
			order := []float64{lo, e.Interval95.Lo, e.Interval80.Lo, e.Interval80.Hi, e.Interval95.Hi, hi}
			for i := range len(order) - 1 {
				if !(order[i] <= order[i+1]+1e-9) {
					t.Errorf("%s, %s: %+v", p.Name, what, *e)
					break
				}
			}
			if math.IsNaN(e.Mean) || math.IsInf(e.Mean, 0) || e.Mean < lo-1e-9 || e.Mean > hi+1e-9 {
				t.Errorf("%s, %s: mean %v", p.Name, what, e.Mean)
			}
		}
		if s := p.Standing; s != nil && (s.Of <= leastOthers || s.Rank < 1 || s.Rank > float64(s.Of)) {
			t.Errorf("%s: standing %+v", p.Name, *s)
		}
	}
}

// Each odd input is refused with what is wrong, or answered with a note and figures that can be. says is a part of the
// error, or of a note.
func TestOddInputsAreRefusedOrAnsweredWithANote(t *testing.T) {
	inf := math.Inf(1)
	seconds := drawnSeason(Rate, 12, 10, fives)
	for i := range seconds.Minutes {
		seconds.Minutes[i] *= 60
	}
	far := drawnSeason(Rate, 12, 10, fives)
	far.Value[33] = 500
	mean := drawnSeason(Mean, 12, 10, metres)
	mean.Value[33] = 1e6
	twice := drawnSeason(Rate, 12, 10, fives)
	twice.Match[5] = twice.Match[4]
	graded := drawnSeason(Rating, 6, 8, grades)
	graded.Match[9], graded.Coach[9] = graded.Match[8], graded.Coach[8]
	each := drawnSeason(Rating, 8, 8, grades)
	for i := range each.Coach {
		each.Coach[i] = "c" + each.Player[i][2:]
	}
	top := drawnSeason(Rating, 8, 8, func(random *rand.Rand, p, m int) float64 {
		if p%4 == 0 {
			return 5
		}
		return grades(random, p, m)
	})
	gap := drawnSeason(Rate, 12, 10, fives)
	for i := range gap.Time {
		if i%10 == 9 {
			gap.Time[i] += 5000
		}
	}
	day := drawnSeason(Rate, 12, 10, fives)
	clear(day.Time)
	sets := drawnSeason(Rate, 12, 10, func(random *rand.Rand, p, _ int) float64 {
		return drawPoisson(random, 5+25*float64(p/6))
	})
	for i := range sets.Match {
		sets.Match[i] += fmt.Sprint(sets.Player[i] >= "p06")
	}
	last := drawnSeason(Rate, 12, 5, fives)
	for i := range last.Time {
		last.Time[i] += 105
	}
	alone := drawnSeason(Rate, 12, 10, fives)
	for i := range alone.Group {
		alone.Group[i] = alone.Player[i]
	}
	for _, c := range []struct {
		name    string
		data    Data
		options Options
		says    string
		lo, hi  float64
	}{
		{"no event in 200 appearances", drawnSeason(Rate, 20, 10, func(*rand.Rand, int, int) float64 {
			return 0
		}), Options{},
			"too little to say: no event in 200 appearances", 0, inf},
		{"all successes", drawnSeason(Proportion, 12, 10, func(*rand.Rand, int, int) float64 { return 10 }), Options{},
			"too little to say: nothing but successes", 0, 1},
		{"a 500 among fives", far, Options{}, "first p03: 500 where", 0, 20},
		{"a mean of a million", mean, Options{}, "first p03: 1e+06 where", 0, 12},
		{"a grade at an end", top, Options{}, "", 1, 5},
		{"minutes in seconds", seconds, Options{}, "are they seconds?", 0, inf},
		{"a match twice", twice, Options{}, `player "p00" has match "m04" in row 5 already`, 0, inf},
		{"a grade twice", graded, Options{}, `by coach "c1" in row 9 already`, 1, 5},
		{"one coach each", each, Options{}, "graded by one coach only", 1, 5},
		{"each player a group", alone, Options{}, "", 0, inf},
		{"one match", drawnSeason(Rate, 12, 1, fives), Options{}, "changes are not judged", 0, inf},
		{"one player", drawnSeason(Rate, 1, 10, fives), Options{}, "changes are not judged", 0, inf},
		{"two players", drawnSeason(Rate, 2, 10, fives), Options{}, "", 0, inf},
		{"one row", drawnSeason(Rate, 1, 1, fives), Options{}, "", 0, inf},
		{"counts in millions", drawnSeason(Rate, 12, 10, func(random *rand.Rand, _, _ int) float64 {
			return 3e6 + math.Round(1e5*random.NormFloat64())
		}), Options{}, "", 1e6, 1e7},
		{"a gap of 5,000 days", gap, Options{}, "is a date wrong?", 0, inf},
		{"one date for all", day, Options{}, "changes are not judged", 0, inf},
		{"two sets of players", sets, Options{}, "2 sets that share no match", 0, inf},
		{"recorded in the last five of twenty matches", last, Options{Start: 0, Now: 133}, "", 0, 30},
		{"fixtures not yet played", drawnSeason(Rate, 12, 10, fives), Options{Start: 0, Now: 400}, "", 0, 30},
		{"halves", drawnSeason(Proportion, 12, 10, halves), Options{}, "", 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Fit(c.data, c.options)
			said := strings.Join(r.Notes, "; ")
			if err != nil {
				said = err.Error()
			}
			if !strings.Contains(said, c.says) {
				t.Errorf("said %q, want %q in it", said, c.says)
			}
			if err == nil {
				sound(t, r, c.lo, c.hi)
			}
		})
	}
}

// A row far out is kept among the odd matches, marked; the levels of all are those of the data without it.
func TestARowFarOutIsSetAsideFromLevelsAndShown(t *testing.T) {
	d := drawnSeason(Rate, 12, 10, fives)
	kept := make([]int, 0, len(d.Value))
	for i := range d.Value {
		if i != 33 {
			kept = append(kept, i)
		}
	}
	want, err := Fit(d.Rows(kept), Options{})
	if err != nil {
		t.Fatal(err)
	}
	d.Value[33] = 500
	got, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range got.Players {
		near(t, p.Name, p.Now.Mean, want.Players[i].Now.Mean, 1e-6)
		for _, o := range p.Odd {
			if o.Aside != (o.Row == 33) {
				t.Errorf("%s: %+v", p.Name, o)
			}
		}
	}
	if odd := find(t, got, "p03").Odd; len(odd) == 0 || odd[len(odd)-1].Value != 500 {
		t.Errorf("the row is not shown: %+v", odd)
	}
	plain, err := Fit(d, Options{Plain: true})
	if err != nil || plain.Rows != len(d.Value) {
		t.Errorf("a plain fit of %d rows takes %d, %v", len(d.Value), plain.Rows, err)
	}
}

// Minutes are no part of a share: a match of ten minutes with ten trials is forecast as one of eighty.
func TestAProportionsForecastIsNotMultipliedByMinutes(t *testing.T) {
	d := drawnSeason(Proportion, 12, 10, halves)
	d.Minutes = make([]float64, len(d.Value))
	for i := range d.Minutes {
		d.Minutes[i] = []float64{10, 80}[i%2]
	}
	r, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	got, _, err := r.Forecast(d, []int{0, 1}, 1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low end of ten minutes and of eighty", got[0].Lo80, got[1].Lo80, 0.5)
	near(t, "log score of the mean", got[0].LogScoreMean, logBetaBinomial(d.Value[0], 10, got[0].Mean/10, 0), 1e-9)
	if !(got[0].Lo80 >= 2) {
		t.Errorf("of ten trials at a half, at least %v", got[0].Lo80)
	}
}

func TestTheFloorOfMinutesHoldsForEveryFamily(t *testing.T) {
	for f, value := range map[Family]func(*rand.Rand, int, int) float64{
		Rate: fives, Proportion: halves, Mean: metres, Rating: grades} {
		d := drawnSeason(f, 12, 10, value)
		d.Minutes = make([]float64, len(d.Value))
		for i := range d.Minutes {
			if d.Minutes[i] = 80; d.Player[i] == "p03" {
				d.Minutes[i] = 15
			}
		}
		r, err := Fit(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range r.Players {
			if few := p.Name == "p03"; few != (p.Verdict == TooLittle) {
				t.Errorf("%s: %s of %v minutes is %s", f, p.Name, p.Minutes, p.Verdict)
			}
		}
	}
}
