package chart

import (
	"math"
	"slices"
	"testing"
)

// FuzzScale gives an axis whatever numbers there are. Its own rules are all that is checked: finite ends that hold
// what can be held, and few ticks, in order and each a number of its own.
func FuzzScale(f *testing.F) {
	for _, at := range [][2]float64{
		{0, 1}, {1e16, 1e16}, {1e16, 1e16 + 2}, {9007199254740993, 9007199254740999}, {-1e16, 3}, {5e-324, 1e-300},
		{0, 1e-300},
		{-math.MaxFloat64, math.MaxFloat64}, {math.Inf(-1), math.Inf(1)}, {math.NaN(), 1}, {3, -3}, {1e300, 1e300},
		{0.3, 0.3},
	} {
		f.Add(at[0], at[1], uint8(5), uint8(1), false)
		f.Add(at[0], at[1], uint8(0), uint8(6), true)
	}
	f.Fuzz(func(t *testing.T, lo, hi float64, want, decimals uint8, percent bool) {
		steps := int(want%20) + 1
		s := newScale(lo, hi, steps, Format{Decimals: int(decimals % 7), Percent: percent})
		if !finite(s.lo) || !finite(s.hi) || s.lo >= s.hi {
			t.Fatalf("%v to %v gives an axis from %v to %v", lo, hi, s.lo, s.hi)
		}
		if n := len(s.ticks); n < 2 || n > 8*steps+8 || n != len(s.labels) {
			t.Errorf("%v to %v in %d steps gives %d ticks and %d labels", lo, hi, steps, n, len(s.labels))
		}
		for i, tick := range s.ticks {
			if !finite(tick) || i > 0 && tick <= s.ticks[i-1] {
				t.Errorf("%v to %v gives the ticks %v", lo, hi, s.ticks)
				break
			}
		}
		slack := 1e-6 * (s.hi/2 - s.lo/2)
		inside := func(v float64) bool { return s.lo-slack <= v && v <= s.hi+slack }
		if !percent && !slices.ContainsFunc([]float64{lo, hi}, func(v float64) bool {
			return !finite(v) || math.Abs(v) > farthest
		}) {
			if !inside(lo) || !inside(hi) {
				t.Errorf("%v to %v lies outside the axis from %v to %v", lo, hi, s.lo, s.hi)
			}
		}
	})
}
