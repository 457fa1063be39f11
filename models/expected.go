package models

import (
	"cmp"
	"maps"
	"slices"
)

// The number of carries, k, that the whole counts for in the expectation of a cell: a cell of k carries lies halfway
// between its own mean and that of all carries. It is estimated (see shrinkage) and kept within these bounds; where
// nothing can be estimated it is usualShrinkage, our choice.
const (
	leastShrinkage = 1
	usualShrinkage = 10
	mostShrinkage  = 200
)

// NeverNegative says whether an indicator's figures cannot be below 0: all that is counted is at least 0, and only what
// is compared with an expectation can fall short of it.
func NeverNegative(indicator string) bool { return indicator != MetresOverExpected }

// Expectation says how many metres a player's carry is expected to make in a width, a ball speed and a zone, by the
// carries of the squad's other players. It never reveals what one player made: it uses at least LeastOthers others,
// and is withheld with fewer.
type Expectation struct {
	pools [levels]map[cellKey]*pool
	keys  [levels][]cellKey // of the pools, in order, so that sums do not depend on that of a map
}

// The cells of an expectation, from the finest to the whole: each leaves out one more of what a carry is described by.
const (
	byZone = iota
	bySpeed
	byWidth
	whole
	levels
)

type cellKey struct{ width, speed, zone string }

func (c *CarryCell) cell() cellKey { return cellKey{c.Width, c.Speed, c.Zone} }

// at is the cell that a carry belongs to at a level.
func (k cellKey) at(level int) cellKey {
	switch level {
	case bySpeed:
		return cellKey{k.width, k.speed, ""}
	case byWidth:
		return cellKey{k.width, "", ""}
	case whole:
		return cellKey{}
	}
	return k
}

// pool is what was carried in a cell, in all and by player.
type pool struct {
	all carried
	by  map[int64]carried
}

// carried sums up the rows of a cell: one row is a player's carries of one match. square is Σ metres²/carries over
// the rows.
type carried struct{ carries, metres, square, rows float64 }

func (c carried) plus(d carried) carried {
	return carried{c.carries + d.carries, c.metres + d.metres, c.square + d.square, c.rows + d.rows}
}

func (c carried) minus(d carried) carried {
	return carried{c.carries - d.carries, c.metres - d.metres, c.square - d.square, c.rows - d.rows}
}

func (c carried) mean() float64 { return c.metres / c.carries }

// others returns what the others carried, and whether they are enough to be shown.
func (p *pool) others(player int64) (carried, bool) {
	if p == nil {
		return carried{}, false
	}
	own, carries := p.by[player]
	n := len(p.by)
	if carries {
		n--
	}
	return p.all.minus(own), n >= LeastOthers
}

// Expected forms the expectation from the cells of a squad's season. For a player's carry, in a cell in which the
// others made n carries and Σm metres in all
//
//	E = (Σm + k·m̄) / (n + k)
//
// with m̄ the mean of all the others' carries: the mean of the cell, shrunk to the whole the more, the fewer carries
// it has. It is the posterior mean of a normal mean with a normal prior whose variance is 1/k of that of one carry; k
// is estimated from the others' carries too (see shrinkage). The cell is that of width, speed and zone; where fewer
// than LeastOthers others carried in it, that of width and speed, then of width, then the whole.
//
// The player's own carries are left out: a figure that is reckoned against others must not lean on itself. Cells in
// which nothing was carried are left out too.
func Expected(cells []CarryCell) Expectation {
	e := Expectation{}
	for level := range e.pools {
		e.pools[level] = map[cellKey]*pool{}
	}
	for i := range cells {
		c := &cells[i]
		if !(c.Carries > 0) {
			continue
		}
		for level := range e.pools {
			key := c.cell().at(level)
			p := e.pools[level][key]
			if p == nil {
				p = &pool{by: map[int64]carried{}}
				e.pools[level][key] = p
			}
			made := carried{c.Carries, c.Metres, c.Metres * c.Metres / c.Carries, 1}
			p.all, p.by[c.PlayerID] = p.all.plus(made), p.by[c.PlayerID].plus(made)
		}
	}
	for level := range e.pools {
		e.keys[level] = slices.SortedFunc(maps.Keys(e.pools[level]), func(a, b cellKey) int {
			return cmp.Or(cmp.Compare(a.width, b.width), cmp.Compare(a.speed, b.speed), cmp.Compare(a.zone, b.zone))
		})
	}
	return e
}

// shrunk is (Σ + k·m̄) / (n + k).
func shrunk(sum, n, mean, k float64) float64 { return (sum + k*mean) / (n + k) }

// Metres returns the metres that a carry of a player is expected to make, and false if fewer than LeastOthers others
// carried at all.
func (e Expectation) Metres(player int64, width, speed, zone string) (float64, bool) {
	all, enough := e.pools[whole][cellKey{}].others(player)
	if !enough {
		return 0, false
	}
	mean := all.mean()
	for level := range whole {
		if c, enough := e.pools[level][cellKey{width, speed, zone}.at(level)].others(player); enough {
			return shrunk(c.metres, c.carries, mean, e.shrinkage(level, player)), true
		}
	}
	return mean, true
}

// shrinkage estimates k = σ²/τ² among the cells of a level, a player's own carries left out: σ² the variance of one
// carry within a cell, τ² that of the cells' means. With n_j carries of mean x_j in row j, N_c carries of mean x̄_c in
// cell c, J rows and C cells in all,
//
//	σ̂² = Σ_c Σ_j n_j (x_j − x̄_c)² / (J − C),   τ̂² = (Σ_c N_c (x̄_c − x̄)² − (C − 1) σ̂²) / (N − Σ_c N_c²/N)
//
// Where the cells differ by no more than chance, k is its upper bound; with a single cell, or no cell of two rows, it
// is the usual one.
// Source: the analysis of variance of unbalanced classes, Searle, Casella & McCulloch 1992, Variance Components, §3.6.
func (e Expectation) shrinkage(level int, player int64) float64 {
	var all carried
	var within, squares, cells float64
	between := 0.0 // Σ N_c x̄_c²
	for _, key := range e.keys[level] {
		p := e.pools[level][key]
		c := p.all.minus(p.by[player])
		if !(c.carries > 0) || c.rows < 0.5 {
			continue
		}
		cells++
		all = all.plus(c)
		between += c.metres * c.mean()
		within += max(c.square-c.metres*c.mean(), 0)
		squares += c.carries * c.carries
	}
	if cells < 2 || all.rows-cells < 0.5 {
		return usualShrinkage
	}
	sigma2 := within / (all.rows - cells)
	tau2 := (between - all.metres*all.mean() - (cells-1)*sigma2) / (all.carries - squares/all.carries)
	if !(tau2 > 0) {
		return mostShrinkage
	}
	return min(max(sigma2/tau2, leastShrinkage), mostShrinkage)
}

// Observations returns the observations of MetresOverExpected of some cells, one for each player and match, sorted by
// player and match. The numerator is the metres made less the metres expected; unlike other numerators it may be below
// 0. The denominator is the number of carries. A player with fewer than LeastOthers others to compare with has none.
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
		expected, enough := e.Metres(c.PlayerID, c.Width, c.Speed, c.Zone)
		if !enough {
			continue
		}
		n := len(out) - 1
		if n < 0 || out[n].PlayerID != c.PlayerID || out[n].MatchID != c.MatchID {
			out = append(out, Observation{
				AcademyID: c.AcademyID, PlayerID: c.PlayerID, MatchID: c.MatchID, Indicator: MetresOverExpected, Source: FromLog,
			})
			n++
		}
		out[n].Numerator += c.Metres - c.Carries*expected
		out[n].Denominator += c.Carries
	}
	return out
}
