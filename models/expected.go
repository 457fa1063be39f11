package models

import (
	"cmp"
	"slices"
)

// CellShrinkage is the number of carries, k, that the whole counts for in the expectation of a cell: a cell of k carries lies
// halfway between its own mean and that of all carries.
const CellShrinkage = 10

// Expectation says how many metres a carry is expected to make in a width, a ball speed and a zone.
type Expectation struct {
	mean  float64 // of all carries
	cells map[cellKey]float64
}

type cellKey struct{ width, speed, zone string }

func (c *CarryCell) key() cellKey { return cellKey{c.Width, c.Speed, c.Zone} }

// Expected forms the expectation from the cells of a squad's season. For a cell of n carries that made Σm metres in all
//
//	E = (Σm + k·m̄) / (n + k)
//
// with m̄ the mean of all carries and k = CellShrinkage: the mean of the cell, shrunk to the whole the more, the fewer carries it has.
// It is the posterior mean of a normal mean with a normal prior whose variance is 1/k of that of one carry. Cells in which nothing was
// carried are left out; without any, every expectation is 0.
func Expected(cells []CarryCell) Expectation {
	type sum struct{ carries, metres float64 }
	sums := map[cellKey]sum{}
	var all sum
	for i := range cells {
		c := &cells[i]
		if !(c.Carries > 0) {
			continue
		}
		s := sums[c.key()]
		sums[c.key()] = sum{s.carries + c.Carries, s.metres + c.Metres}
		all = sum{all.carries + c.Carries, all.metres + c.Metres}
	}
	e := Expectation{cells: make(map[cellKey]float64, len(sums))}
	if all.carries > 0 {
		e.mean = all.metres / all.carries
	}
	for key, s := range sums {
		e.cells[key] = shrunk(s.metres, s.carries, e.mean, CellShrinkage)
	}
	return e
}

// shrunk is (Σ + k·m̄) / (n + k).
func shrunk(sum, n, mean, k float64) float64 { return (sum + k*mean) / (n + k) }

// Metres returns the metres that a carry is expected to make: those of its cell, or of all carries where the cell was not seen.
func (e Expectation) Metres(width, speed, zone string) float64 {
	if m, ok := e.cells[cellKey{width, speed, zone}]; ok {
		return m
	}
	return e.mean
}

// Observations returns the observations of MetresOverExpected of some cells, one for each player and match, sorted by player
// and match. Unlike other observations' their numerator, the metres made less the metres expected, may be below 0. The denominator is the number of
// carries.
func (e Expectation) Observations(cells []CarryCell) []Observation {
	sorted := slices.Clone(cells)
	// By cell as well, so that the sum does not depend on the order given, to the last bit.
	slices.SortStableFunc(sorted, func(a, b CarryCell) int {
		return cmp.Or(cmp.Compare(a.PlayerID, b.PlayerID), cmp.Compare(a.MatchID, b.MatchID),
			cmp.Compare(a.Width, b.Width), cmp.Compare(a.Speed, b.Speed), cmp.Compare(a.Zone, b.Zone))
	})
	var out []Observation
	for i := range sorted {
		c := &sorted[i]
		if !(c.Carries > 0) {
			continue
		}
		n := len(out) - 1
		if n < 0 || out[n].PlayerID != c.PlayerID || out[n].MatchID != c.MatchID {
			out = append(out, Observation{AcademyID: c.AcademyID, PlayerID: c.PlayerID, MatchID: c.MatchID, Indicator: MetresOverExpected, Source: FromLog})
			n++
		}
		out[n].Numerator += c.Metres - c.Carries*e.Metres(c.Width, c.Speed, c.Zone)
		out[n].Denominator += c.Carries
	}
	return out
}
