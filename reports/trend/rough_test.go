package trend

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// Numbers of every size, in squads of every shape, give figures or a refusal, and never a NaN, a panic or an inverted
// interval.
func TestRoughDataGiveFiguresOrARefusal(t *testing.T) {
	random := rand.New(rand.NewPCG(99, 1))
	sizes := []float64{1, 1, 1, 3, 40, 2000, 1e6}
	size := func() float64 { return sizes[random.IntN(len(sizes))] }
	for round := range 150 {
		f := []Family{Rate, Proportion, Mean, Rating}[round%4]
		d := Data{Family: f}
		players, matches := 1+random.IntN(12), 1+random.IntN(10)
		big, far := size(), size()*float64(1-2*random.IntN(2))
		home, groups := random.IntN(3) > 0, 1+random.IntN(3)
		for p := range players {
			for m := range matches {
				if random.Float64() < 0.3 {
					continue
				}
				n := math.Floor(big * random.Float64() * 2)
				y := math.Floor(n * math.Pow(random.Float64(), 3))
				minutes := math.Floor(90 * random.Float64())
				switch {
				case f == Mean || f == Rating:
					y = far * (1 + random.NormFloat64()*math.Pow(10, float64(-random.IntN(8))))
				case f == Rate && minutes == 0:
					y = 0
				}
				if random.Float64() < 0.05 && f == Rate && minutes > 0 {
					y = min(50*y, greatestCount)
				}
				d.Player = append(d.Player, fmt.Sprint(p))
				d.Match = append(d.Match, fmt.Sprint(m))
				d.Group = append(d.Group, fmt.Sprint(p%groups))
				d.Time = append(d.Time, float64(m)*far)
				d.Difficulty = append(d.Difficulty, float64(random.IntN(5)))
				if home {
					d.Home = append(d.Home, float64(random.IntN(2)))
				}
				d.Minutes = append(d.Minutes, minutes)
				d.Trials = append(d.Trials, n)
				d.Value = append(d.Value, y)
				if f == Rating {
					d.Coach = append(d.Coach, fmt.Sprint(random.IntN(4)))
				}
			}
		}
		for _, plain := range []bool{false, true} {
			what := fmt.Sprintf("round %d, %s, plain %v, %d rows of size %g about %g", round, f, plain, len(d.Value), big, far)
			r, err := Fit(d, Options{Plain: plain})
			if err != nil {
				if !plain || !errors.Is(err, ErrTooLittle) {
					t.Errorf("%s: %v", what, err)
				}
				continue
			}
			if !r.Converged && len(r.Notes) == 0 {
				t.Errorf("%s: not converged and no note", what)
			}
			if !plain && !r.Converged {
				t.Logf("%s: not converged, %s %v", what, r.Method, r.Notes)
			}
			finiteResult(t, what, r)
		}
	}
}
