package reliability

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Metric says how far apart two values are, squared.
type Metric int

const (
	Nominal  Metric = iota // codes without an order: 0 or 1
	Ordinal                // grades: by how many values lie between them
	Interval               // the difference of numbers
	Ratio                  // their difference by their sum
)

// Alpha is Krippendorff's alpha of units that judges gave values, with gaps (NaN) allowed: 1 is perfect agreement, 0 is
// what chance would give, less is worse. values[u] are the values of unit u; a unit with fewer than two tells nothing.
// It errs with no such unit, and where all values are the same, so that nothing could have differed. Source:
// Krippendorff 2011, Computing Krippendorff's Alpha-Reliability. With m_u values of unit u, n of all units with two or
// more, n_c of them of value c, and the coincidences o_ck = Σ_u (pairs c, k of unit u)/(m_u − 1),
//
//	α = 1 − (n − 1) Σ_c Σ_k o_ck δ²_ck / Σ_c Σ_k n_c n_k δ²_ck
//
//	δ²_ck    nominal 0 or 1    ordinal (Σ_{g from c to k} n_g − (n_c + n_k)/2)²
//	         interval (c − k)²    ratio ((c − k)/(c + k))²
func Alpha(values [][]float64, m Metric) (float64, error) {
	c := newCoincidences(values)
	if len(c.units) == 0 {
		return 0, fmt.Errorf("alpha: no unit of %d has values of two judges", len(values))
	}
	if len(c.values) == 1 {
		return 0, fmt.Errorf("alpha: all values are %v: want some that differ", c.values[0])
	}
	return c.alpha(c.many, m), nil
}

// coincidences are units by their values: each is given as places among the distinct values, in order. Units with the
// same values are kept once, with how many there are.
type coincidences struct {
	values []float64
	units  [][]int   // the different ones
	many   []float64 // how many units are like each
	like   []int     // for each unit, which of the different ones it is like
}

func newCoincidences(values [][]float64) coincidences {
	var c coincidences
	var kept [][]float64
	for _, unit := range values {
		unit = slices.DeleteFunc(slices.Clone(unit), math.IsNaN)
		if len(unit) < 2 {
			continue
		}
		slices.Sort(unit)
		kept = append(kept, unit)
		c.values = append(c.values, unit...)
	}
	slices.Sort(c.values)
	c.values = slices.Compact(c.values)
	known := map[string]int{}
	for _, unit := range kept {
		places := make([]int, len(unit))
		for i, v := range unit {
			places[i], _ = slices.BinarySearch(c.values, v)
		}
		at, seen := known[fmt.Sprint(places)]
		if !seen {
			at = len(c.units)
			known[fmt.Sprint(places)] = at
			c.units, c.many = append(c.units, places), append(c.many, 0)
		}
		c.many[at]++
		c.like = append(c.like, at)
	}
	return c
}

// alpha takes each of the different units so many times. Where none of them could differ it is 1.
func (c coincidences) alpha(many []float64, m Metric) float64 {
	size := len(c.values)
	count, together := make([]float64, size), make([]float64, size*size) // n_c and o_ck
	n := 0.0
	for u, unit := range c.units {
		if many[u] == 0 {
			continue
		}
		for i, a := range unit {
			count[a] += many[u]
			n += many[u]
			for j, b := range unit {
				if i != j {
					together[a*size+b] += many[u] / float64(len(unit)-1)
				}
			}
		}
	}
	apart := c.apart(count, m)
	var observed, expected float64
	for a := range size {
		for b := range size {
			d := apart(a, b)
			observed += together[a*size+b] * d
			expected += count[a] * count[b] * d
		}
	}
	if expected == 0 {
		return 1
	}
	return 1 - (n-1)*observed/expected
}

// apart is δ² between two places.
func (c coincidences) apart(count []float64, m Metric) func(a, b int) float64 {
	switch m {
	case Nominal:
		return func(a, b int) float64 {
			if a == b {
				return 0
			}
			return 1
		}
	case Ordinal:
		below := make([]float64, len(count)+1)
		for i, v := range count {
			below[i+1] = below[i] + v
		}
		return func(a, b int) float64 {
			a, b = min(a, b), max(a, b)
			if a == b {
				return 0
			}
			d := below[b+1] - below[a] - (count[a]+count[b])/2
			return d * d
		}
	case Ratio:
		return func(a, b int) float64 {
			if c.values[a] == c.values[b] {
				return 0
			}
			d := (c.values[a] - c.values[b]) / (c.values[a] + c.values[b])
			return d * d
		}
	}
	return func(a, b int) float64 { d := c.values[a] - c.values[b]; return d * d }
}

// AlphaInterval is the 95 % interval of Alpha: percentiles over 2,000 samples of the units, drawn with replacement.
// Units are drawn, not judges' values, because values of one unit belong together (Zapf, Castell, Morawietz & Karch
// 2016, BMC Med Res Methodol 16:93). The same values and seed give the same interval. It errs as Alpha does, and with
// fewer than ten units, whose samples tell too little.
func AlphaInterval(values [][]float64, m Metric, seed uint64) (lo, hi float64, err error) {
	const samples, least = 2000, 10
	if _, err := Alpha(values, m); err != nil {
		return 0, 0, err
	}
	c := newCoincidences(values)
	if len(c.like) < least {
		return 0, 0, fmt.Errorf("alpha: %d units have values of two judges: an interval takes %d", len(c.like), least)
	}
	random := rand.New(rand.NewPCG(seed, 3))
	drawn := make([]float64, samples)
	many := make([]float64, len(c.units))
	for s := range drawn {
		clear(many)
		for range c.like {
			many[c.like[random.IntN(len(c.like))]]++
		}
		drawn[s] = c.alpha(many, m)
	}
	slices.Sort(drawn)
	return drawn[samples/40], drawn[samples-1-samples/40], nil
}
