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

// oddInput is what a careless file holds, and what must be said about it: says is a part of the error, or of a note.
type oddInput struct {
	name    string
	data    Data
	options Options
	says    string
	lo, hi  float64                      // figures that can be
	check   func(t *testing.T, r Result) // of an answer; nil for what is refused
}

// changed is a drawn season with something wrong in it.
func changed(d Data, slip func(d *Data)) Data {
	slip(&d)
	return d
}

// nothingSaid wants every player to be too little to say, with the reason and without a level.
func nothingSaid(why string) func(t *testing.T, r Result) {
	return func(t *testing.T, r Result) {
		for _, p := range r.Players {
			if p.Verdict != TooLittle || p.Now != nil || p.Change != nil || p.Standing != nil ||
				!strings.Contains(p.Note, why) {
				t.Errorf("%s: %s, now %v, note %q", p.Name, p.Verdict, p.Now, p.Note)
			}
		}
	}
}

// levelsWithin wants every level now within a range, and nothing said beyond it.
func levelsWithin(lo, hi float64) func(t *testing.T, r Result) {
	return func(t *testing.T, r Result) {
		for _, p := range r.Players {
			if !(p.Now.Mean >= lo && p.Now.Mean <= hi && p.Now.Interval80.Lo >= lo && p.Now.Interval80.Hi <= hi) {
				t.Errorf("%s: %+v, want within %v to %v", p.Name, *p.Now, lo, hi)
			}
		}
	}
}

// noChange wants levels and no change of any.
func noChange(t *testing.T, r Result) {
	for _, p := range r.Players {
		if p.Now == nil || p.Change != nil || p.Verdict != TooLittle {
			t.Errorf("%s: now %v, change %v, %s", p.Name, p.Now, p.Change, p.Verdict)
		}
	}
}

func noStanding(t *testing.T, r Result) {
	for _, p := range r.Players {
		if p.Standing != nil {
			t.Errorf("%s: standing %+v", p.Name, *p.Standing)
		}
		if _, ok := r.Circle([]string{p.Name}).Compare(p.Name); ok {
			t.Errorf("%s is compared with none but themselves", p.Name)
		}
	}
}

// likeOf wants the levels of another season: what differs has no part in them.
func likeOf(of Data, o Options, tolerance float64) func(t *testing.T, r Result) {
	return func(t *testing.T, r Result) {
		want, err := Fit(of, o)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range r.Players {
			near(t, p.Name+" now", p.Now.Mean, want.Players[i].Now.Mean, tolerance)
			near(t, p.Name+" start", p.Start.Mean, want.Players[i].Start.Mean, tolerance)
			near(t, p.Name+" change", p.Change.Interval95.Hi, want.Players[i].Change.Interval95.Hi, tolerance)
		}
	}
}

// withinScale wants every figure of a grade inside 1 to 5, the level on any day and forecasts of grades too.
func withinScale(data Data) func(t *testing.T, r Result) {
	return func(t *testing.T, r Result) {
		inside := func(what string, values ...float64) {
			for _, v := range values {
				if !(v >= 1 && v <= 5) {
					t.Errorf("%s: %v is no grade", what, v)
				}
			}
		}
		for _, p := range r.Players {
			for _, day := range []float64{-30, 0, 20, 60, 200} {
				e, err := r.LevelAt(p.Name, day)
				if err != nil {
					t.Fatal(err)
				}
				inside(p.Name+" level", e.Mean, e.Interval95.Lo, e.Interval95.Hi, e.Interval80.Lo, e.Interval80.Hi)
			}
			if c := p.Change; c != nil && (c.Interval95.Lo < -4 || c.Interval95.Hi > 4) {
				t.Errorf("%s: change %+v", p.Name, *c)
			}
		}
		forecasts, _, err := r.Forecast(data, []int{0, 1, 2}, 1)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range forecasts {
			inside(f.Player+" forecast", f.Mean, f.Lo80, f.Hi80)
		}
	}
}

func oddInputs() []oddInput {
	inf := math.Inf(1)
	plain := drawnSeason(Rate, 12, 10, fives)
	draw := func(f Family, value func(*rand.Rand, int, int) float64) Data { return drawnSeason(f, 12, 10, value) }
	five := func() Data { return drawnSeason(Rate, 12, 10, fives) }
	coach := func(d *Data) {
		for i := range d.Coach {
			d.Coach[i] = "c" + d.Player[i][2:]
		}
	}
	top := drawnSeason(Rating, 8, 8, func(random *rand.Rand, p, m int) float64 {
		if p%4 == 0 {
			return 5
		}
		return grades(random, p, m)
	})
	bottom := drawnSeason(Rating, 8, 8, func(random *rand.Rand, p, m int) float64 {
		return math.Min(2, math.Max(1, grades(random, p, m)-2))
	})
	late := func(by float64) func(d *Data) {
		return func(d *Data) {
			for i := range d.Time {
				d.Time[i] += by
			}
		}
	}
	last := changed(drawnSeason(Rate, 12, 5, fives), late(105))
	return []oddInput{
		{name: "no event in 200 appearances", hi: inf, says: "too little to say: no event in 200 appearances",
			data:  drawnSeason(Rate, 20, 10, func(*rand.Rand, int, int) float64 { return 0 }),
			check: nothingSaid("no event in 200 appearances")},
		{name: "no success", hi: 1, says: "too little to say: no event in 120 appearances",
			data:  draw(Proportion, func(*rand.Rand, int, int) float64 { return 0 }),
			check: nothingSaid("no event in 120 appearances")},
		{name: "all successes", hi: 1, says: "too little to say: nothing but successes",
			data:  draw(Proportion, func(*rand.Rand, int, int) float64 { return 10 }),
			check: nothingSaid("nothing but successes in 120 appearances")},
		{name: "a 500 among fives", hi: 20, says: "check it, p03: 500 where",
			data: changed(five(), func(d *Data) { d.Value[33] = 500 }), check: levelsWithin(2.5, 8.5)},
		{name: "a mean of a million", lo: -1, hi: 12, says: "check it, p03: 1000000 where",
			data: changed(draw(Mean, metres), func(d *Data) { d.Value[33] = 1e6 }), check: levelsWithin(4, 6)},
		{name: "grades at the upper end", lo: 1, hi: 5, data: top, check: withinScale(top)},
		{name: "grades at the lower end", lo: 1, hi: 5, data: bottom, check: withinScale(bottom)},
		{name: "a grade of 30", lo: 1, hi: 5, says: "check it, p03: 30 where", check: levelsWithin(1, 5),
			data: changed(drawnSeason(Rating, 12, 10, grades), func(d *Data) { d.Value[33] = 30 })},
		{name: "minutes in seconds", hi: inf, says: "are they seconds?",
			data: changed(five(), func(d *Data) {
				for i := range d.Minutes {
					d.Minutes[i] *= 60
				}
			})},
		{name: "minutes of one match in seconds", hi: 20, says: "12 of 120 rows have minutes longer than two full matches",
			data: changed(five(), func(d *Data) {
				for i := range d.Minutes {
					if d.Match[i] == "m04" {
						d.Minutes[i] *= 60
					}
				}
			})},
		{name: "a match twice", says: `player "p00" has match "m04" already; give one row for each (row 5)`,
			data: changed(five(), func(d *Data) { d.Match[5] = d.Match[4] })},
		{name: "a grade twice", says: `by coach "c1" already; give one row for each (row 9)`,
			data: changed(drawnSeason(Rating, 6, 8, grades), func(d *Data) {
				d.Match[9], d.Coach[9] = d.Match[8], d.Coach[8]
			})},
		{name: "one coach each", lo: 1, hi: 5, says: "graded by one coach only",
			data: changed(drawnSeason(Rating, 8, 8, grades), coach)},
		{name: "a standing of 1 of 1", hi: inf, check: noStanding,
			data: changed(five(), func(d *Data) { d.Group = d.Player })},
		{name: "one match", hi: inf, says: "changes are not judged", data: drawnSeason(Rate, 12, 1, fives),
			check: noChange},
		{name: "one player", hi: inf, says: "changes are not judged", data: drawnSeason(Rate, 1, 10, fives),
			check: func(t *testing.T, r Result) {
				noStanding(t, r)
				levelsWithin(2, 9)(t, r)
				if p := r.Players[0]; p.Verdict == Improving || p.Verdict == Declining {
					t.Errorf("one player is %s", p.Verdict)
				}
			}},
		{name: "two players", hi: inf, data: drawnSeason(Rate, 2, 10, fives), check: noStanding},
		{name: "one row", hi: inf, data: drawnSeason(Rate, 1, 1, fives), says: "changes are not judged", check: noChange},
		{name: "counts in millions", lo: 1e6, hi: 1e7, check: levelsWithin(2.9e6, 5.5e6),
			data: changed(draw(Rate, func(random *rand.Rand, _, _ int) float64 {
				return 3e6 + math.Round(1e5*random.NormFloat64())
			}), func(d *Data) {
				for i := range d.Minutes {
					d.Minutes[i] = 60
				}
			})},
		{name: "a gap of 5,000 days", hi: inf, says: "is a date wrong?", check: levelsWithin(2.5, 9),
			data: changed(five(), func(d *Data) {
				for i := range d.Time {
					if i%10 == 9 {
						d.Time[i] += 5000
					}
				}
			})},
		{name: "one date for all", hi: inf, says: "changes are not judged", check: noChange,
			data: changed(five(), func(d *Data) { clear(d.Time) })},
		{name: "two clusters of players", hi: inf, says: "2 sets that share no match",
			data: changed(draw(Rate, func(random *rand.Rand, p, _ int) float64 {
				return drawPoisson(random, 5+25*float64(p/6))
			}), func(d *Data) {
				for i := range d.Match {
					d.Match[i] += fmt.Sprint(d.Player[i] >= "p06")
				}
			})},
		{name: "recorded in the last five of twenty matches", hi: 30, data: last, options: Options{Start: 0, Now: 133},
			check: likeOf(last, Options{}, 1e-9)},
		{name: "fixtures not yet played", hi: 30, data: plain, options: Options{Start: 0, Now: 400},
			check: likeOf(plain, Options{}, 1e-9)},
	}
}

// Each odd input is refused with what is wrong, or answered with a note and figures that can be.
func TestOddInputsAreRefusedOrAnsweredWithANote(t *testing.T) {
	for _, c := range oddInputs() {
		t.Run(c.name, func(t *testing.T) {
			r, err := Fit(c.data, c.options)
			said := strings.Join(r.Notes, "; ")
			if err != nil {
				said = err.Error()
			}
			if !strings.Contains(said, c.says) {
				t.Errorf("said %q, want %q in it", said, c.says)
			}
			if err != nil {
				return
			}
			sound(t, r, c.lo, c.hi)
			if c.check != nil {
				c.check(t, r)
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
