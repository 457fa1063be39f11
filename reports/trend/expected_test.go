package trend

import (
	"math"
	"testing"
)

// What is expected of a row is what a fit without the row predicts for it, each fitted anew: to a twentieth of the
// figure's spread, because the expectation holds the standard deviations at their mode. The data are published, see
// testdata/reference/SOURCES.md.
func TestWhatIsExpectedOfARowIsWhatAFitWithoutItPredicts(t *testing.T) {
	for _, c := range squadSeasons[:3] {
		d := referenceData(t, c.family, c.file, c.value, c.trials)
		r := seasonFit(t, d, Options{NoMatch: true})
		checked := 0
		for i := 5; i < len(d.Value) && checked < 4; i += 61 {
			if !d.HasOpportunity(i) {
				continue
			}
			checked++
			var got *Expectation
			for _, e := range r.Expected(d.Player[i]) {
				if e.Row == i {
					got = &e
				}
			}
			if got == nil {
				t.Fatalf("%s, row %d: nothing is expected", c.name, i)
			}
			rows := everyRow(d)
			rest, err := fitSeason(d.Rows(append(rows[:i:i], rows[i+1:]...)), Options{NoMatch: true}, nil)
			if err != nil {
				t.Fatal(err)
			}
			want, known := rest.season.expects(d, i)
			if !known {
				t.Fatalf("%s, row %d: no player without it", c.name, i)
			}
			ends, spread := want.quantiles([]float64{0.1, 0.9}), want.spread()
			if math.Abs(got.Mean-want.mean()) > spread/20 || math.Abs(got.Interval80.Lo-ends[0]) > max(1, spread/5) ||
				math.Abs(got.Interval80.Hi-ends[1]) > max(1, spread/5) {
				t.Errorf("%s, row %d: expected %.3f, %v; a fit without it predicts %.3f, %v", c.name, i, got.Mean,
					got.Interval80, want.mean(), ends)
			}
		}
	}
}

// Harder opponents lower what is expected, minutes scale it, and without difficulties no opponent is claimed.
func TestWhatIsExpectedUsesTheOpponentAndTheMinutes(t *testing.T) {
	d := drawnSeason(Rate, 12, 12, fives)
	d.Difficulty, d.Minutes = make([]float64, len(d.Value)), make([]float64, len(d.Value))
	for i := range d.Value {
		hard := i%2 == 0
		d.Minutes[i], d.Difficulty[i], d.Value[i] = 80, 2, 12
		if hard {
			d.Difficulty[i], d.Value[i] = 5, 4
		}
		if i%3 == 0 {
			d.Minutes[i], d.Value[i] = 40, d.Value[i]/2
		}
	}
	means := func(d Data) (hard, easy, half float64, opponent bool) {
		r := seasonFit(t, d, Options{NoMatch: true})
		opponent = true
		n := [3]float64{}
		for _, p := range r.Players {
			for _, e := range r.Expected(p.Name) {
				opponent = opponent && e.Opponent
				switch i := e.Row; {
				case d.Minutes[i] == 40 && i%2 == 1:
					half, n[2] = half+e.Mean, n[2]+1
				case d.Minutes[i] == 40:
				case i%2 == 0:
					hard, n[0] = hard+e.Mean, n[0]+1
				default:
					easy, n[1] = easy+e.Mean, n[1]+1
				}
			}
		}
		return hard / n[0], easy / n[1], half / n[2], opponent
	}
	hard, easy, half, opponent := means(d)
	if !(hard < easy-2) || !(math.Abs(half/easy-0.5) < 0.1) || !opponent {
		t.Errorf("hard %.1f, easy %.1f, half of the minutes %.1f, opponent %v", hard, easy, half, opponent)
	}
	d.Difficulty = nil
	if hard, easy, _, opponent := means(d); math.Abs(hard-easy) > 2 || opponent {
		t.Errorf("without difficulties: hard %.1f, easy %.1f, opponent %v", hard, easy, opponent)
	}
}
