package chart

import "math"

// scale is a value axis. Its ends lie on ticks, so that labels can be given ready-made; ticks are half a step apart
// and every second one, the multiples of the whole step, has a label.
type scale struct {
	lo, hi float64
	ticks  []float64
	labels []string
}

// newScale lays out an axis that holds lo to hi in about `want` labelled steps. For any input it has ends and a few
// ticks: numbers too large to draw become farthest, and NaN counts as 0.
func newScale(lo, hi float64, want int, f Format) scale {
	lo, hi = widen(drawable(min(lo, hi)), drawable(max(lo, hi)), f)
	mantissa, exponent := chooseStep(lo, hi, want, f)
	half := func(k float64) float64 {
		// Dividing by a power of ten keeps 0.3 at 0.3; multiplying by 0.1 does not.
		if exponent < 0 {
			return k * mantissa / 2 / math.Pow10(-exponent)
		}
		return k * mantissa / 2 * math.Pow10(exponent)
	}
	const slack = 1e-9
	first, last := math.Floor(lo/half(1)+slack), math.Ceil(hi/half(1)-slack)

	decimals := -exponent
	if mantissa != math.Trunc(mantissa) {
		decimals++
	}
	if f.Percent {
		decimals -= 2
	}
	written := Format{Percent: f.Percent, Decimals: max(0, decimals)}
	s := scale{lo: half(first), hi: half(last)}
	for n := range int(last-first) + 1 {
		k := first + float64(n)
		label := ""
		if math.Mod(k, 2) == 0 {
			label = written.Value(half(k))
		}
		s.ticks, s.labels = append(s.ticks, half(k)), append(s.labels, label)
	}
	return s
}

const (
	// farthest is how far from zero an axis reaches: a hundredth of what a number holds, so that steps on it are
	// numbers too.
	farthest = math.MaxFloat64 / 100
	// finest is the least part of its distance from zero that an axis spans. Beyond, neighbouring ticks would be the
	// same number: a float64 holds 15 digits, and the ticks take up a few of them.
	finest = 1e-9
)

func drawable(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return max(-farthest, min(v, farthest))
}

// widen keeps a percentage within 0 and 100, and gives a season that hardly varies, by the decimals it is written
// with, a little height to stand in.
func widen(lo, hi float64, f Format) (float64, float64) {
	least := 0.4 * math.Pow10(-f.Decimals)
	if f.Percent {
		lo, hi = math.Max(lo, 0), math.Min(hi, 1)
		least = 0.02
	}
	least = max(least, finest*max(math.Abs(lo), math.Abs(hi)))
	if hi-lo >= least {
		return lo, hi
	}
	lo, hi = (lo+hi-least)/2, (lo+hi+least)/2
	switch {
	case f.Percent && lo < 0:
		return 0, least
	case f.Percent && hi > 1:
		return 1 - least, 1
	}
	return lo, hi
}

// chooseStep finds the step of 1, 2 or 5 times a power of ten (or 25 %) that gives a number of steps nearest to
// `want`, and of two equally near the smaller.
func chooseStep(lo, hi float64, want int, f Format) (mantissa float64, exponent int) {
	mantissas := []float64{1, 2, 5}
	if f.Percent {
		mantissas = []float64{1, 2, 2.5, 5}
	}
	start := int(math.Floor(math.Log10((hi-lo)/float64(want)))) - 1
	best := math.Inf(1)
	for e := start; e <= start+3; e++ {
		for _, m := range mantissas {
			if m == 2.5 && e != -1 {
				continue
			}
			steps := (hi - lo) / (m * math.Pow10(e))
			if off := math.Abs(steps - float64(want)); off < best {
				best, mantissa, exponent = off, m, e
			}
		}
	}
	return mantissa, exponent
}

// extent gathers what an axis must hold.
type extent struct {
	lo, hi float64
	any    bool
}

func (e *extent) value(v *float64) {
	if v == nil {
		return
	}
	if !e.any {
		e.lo, e.hi, e.any = *v, *v, true
	}
	e.lo, e.hi = math.Min(e.lo, *v), math.Max(e.hi, *v)
}

func (e *extent) interval(r *Range) {
	if r != nil {
		e.value(&r.Lower)
		e.value(&r.Upper)
	}
}

func (e *extent) level(l *Level) {
	if l != nil {
		e.value(&l.Value)
		e.interval(l.Inner)
		e.interval(l.Outer)
	}
}
