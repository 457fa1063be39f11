package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// crossed simulates rows of players, matches and coaches; with many coaches it is they who are eliminated.
func crossed(random *rand.Rand, f Family, coaches int) Data {
	d := Data{Family: f}
	for p := range 9 {
		for m := range 7 {
			if random.Float64() < 0.3 {
				continue
			}
			t := float64(m) / 3
			n := float64(1 + random.IntN(40))
			d.Player = append(d.Player, fmt.Sprint(p))
			d.Match = append(d.Match, fmt.Sprint(m))
			d.Coach = append(d.Coach, fmt.Sprint(random.IntN(coaches)))
			d.Time = append(d.Time, t)
			d.Difficulty = append(d.Difficulty, float64(1+random.IntN(5)))
			d.Minutes = append(d.Minutes, 20+60*random.Float64())
			d.Trials = append(d.Trials, n)
			switch f {
			case Rate:
				d.Value = append(d.Value, drawCount(random, 6*math.Exp(0.3*random.NormFloat64()), 0.2))
			case Proportion:
				d.Value = append(d.Value, drawSuccesses(random, n, 0.2+0.5*random.Float64(), 0.1))
			default:
				d.Value = append(d.Value, 3+random.NormFloat64())
			}
		}
	}
	return d
}

// sameGradient compares a gradient with central differences.
func sameGradient(t *testing.T, what string, f func(x, gradient []float64) float64, x []float64) {
	t.Helper()
	got, none := make([]float64, len(x)), make([]float64, len(x))
	if v := f(x, got); math.IsInf(v, 0) || math.IsNaN(v) {
		t.Fatalf("%s: value %v", what, v)
	}
	const h = 1e-4
	norm := math.Sqrt(dot(got, got))
	for i := range x {
		at := x[i]
		x[i] = at + h
		up := f(x, none)
		x[i] = at - h
		down := f(x, none)
		x[i] = at + 2*h
		up2 := f(x, none)
		x[i] = at - 2*h
		down2 := f(x, none)
		x[i] = at
		want := (8*(up-down) - (up2 - down2)) / (12 * h)
		if !(math.Abs(got[i]-want) <= 1e-6*(1+norm)) {
			t.Errorf("%s, parameter %d of %v: gradient %.8f, difference %.8f", what, i, x, got[i], want)
		}
	}
}

func TestGradientsAgreeWithDifferencesEverywhere(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 2))
	for _, f := range []Family{Rate, Proportion, Mean, Rating} {
		for _, coaches := range []int{3, 30} {
			d := crossed(random, f, coaches)
			g := newDesign(d, Options{}, d.Time)
			if err := g.plainColumns(d, Options{}); err != nil {
				t.Fatal(err)
			}
			n := parameters(g.factors)
			// Points of every kind: ordinary, negative, with a slope that follows the level, with vanished variances.
			for k, lambda := range [][]float64{{0.4, 0.1, 0.3, 0.2, 0.3}, {-0.5, 0.3, -0.2, 0.1, -0.6}, {0.3, 0.4, 0, 0.2, 0},
				{0, 0, 0, 0, 0}, {0, 0.3, 0.2, 0.7, 0.1}, {1.5, -1, 0.8, 1.2, 1}} {
				what := fmt.Sprintf("%s, %d coaches, point %d", f, coaches, k)
				if f == Mean || f == Rating {
					m := newNormalModel(g)
					l := make([]triangle, len(g.factors))
					sameGradient(t, what, func(x, gradient []float64) float64 {
						unpack(g.factors, x, m.lambda)
						v := m.solve()
						m.gradient(l)
						pack(g.factors, l, gradient)
						return v
					}, append([]float64(nil), lambda[:n]...))
					continue
				}
				for _, alpha := range []float64{0, 0.05, 0.5, -0.8} {
					m := newLaplaceModel(g, false, nil)
					x := []float64{0.2 + 0.1*random.NormFloat64(), 0.1, -0.2}
					if f == Rate {
						x[0] += 1.5
					}
					x = append(append(x, alpha), lambda[:n]...)
					sameGradient(t, fmt.Sprintf("%s, α %v", what, alpha), m.objective(false), x)
					sameGradient(t, what+", at the limit", m.objective(true), append(append([]float64(nil), x[:3]...), lambda[:n]...))
				}
			}
			for _, e := range []*Earlier{nil, earlierOfHalf(d)} {
				o := Options{Earlier: e}
				l := newLayout(d, o, g.rows)
				sg, m := newSeasonModel(d, o, l)
				m.settled = 1e-9 // differences ask for more digits than a season does
				h := newHyper(sg.factors, false, m.quadratic, Scales{}, l.span, l.pasts(sg.factors[0].levels))
				for range 6 {
					x := make([]float64, len(h.lean))
					for i := range x {
						x[i] = -1.5 + 0.8*random.NormFloat64()
					}
					what := fmt.Sprintf("%s, %d coaches, season, earlier %v", f, coaches, e != nil)
					sameGradient(t, what, h.objective(m), x)
				}
			}
		}
	}
}

// earlierOfHalf makes up an earlier season of every other player.
func earlierOfHalf(d Data) *Earlier {
	e := &Earlier{levels: map[string]Past{}}
	for i, name := range d.Player {
		if _, ok := e.levels[name]; !ok && i%2 == 0 {
			e.levels[name] = Past{Mean: 0.3 * math.Sin(float64(i)), Variance: 0.02 + 0.01*float64(i%3), Years: 1 + float64(i%2)}
		}
	}
	return e
}
