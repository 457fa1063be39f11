package models

import (
	"cmp"
	"slices"
)

// CellShrinkage is the number of carries, k, that the whole counts for in the expectation of a cell: a cell of k
// carries lies halfway between its own mean and that of all carries.
const CellShrinkage = 10

// Expectation says how many metres a player's carry is expected to make in a width, a ball speed and a zone, by the
// carries of the squad's other players. It never tells what one player made: it stands on LeastOthers others or more,
// and is withheld where there are fewer.
type Expectation struct {
	pools [levels]map[cellKey]*pool
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

type carried struct{ carries, metres float64 }

func (c carried) plus(d carried) carried  { return carried{c.carries + d.carries, c.metres + d.metres} }
func (c carried) minus(d carried) carried { return carried{c.carries - d.carries, c.metres - d.metres} }

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
// with m̄ the mean of all the others' carries and k = CellShrinkage: the mean of the cell, shrunk to the whole the
// more, the fewer carries it has. It is the posterior mean of a normal mean with a normal prior whose variance is 1/k
// of that of one carry. The cell is that of width, speed and zone; where fewer than LeastOthers others carried in it,
// that of width and speed, then of width, then the whole.
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
			made := carried{c.Carries, c.Metres}
			p.all, p.by[c.PlayerID] = p.all.plus(made), p.by[c.PlayerID].plus(made)
		}
	}
	return e
}

// shrunk is (Σ + k·m̄) / (n + k).
func shrunk(sum, n, mean, k float64) float64 { return (sum + k*mean) / (n + k) }

// Metres returns the metres that a carry of a player is expected to make, and false where fewer than LeastOthers
// others carried at all.
func (e Expectation) Metres(player int64, width, speed, zone string) (float64, bool) {
	all, enough := e.pools[whole][cellKey{}].others(player)
	if !enough {
		return 0, false
	}
	mean := all.metres / all.carries
	for level := range whole {
		if c, enough := e.pools[level][cellKey{width, speed, zone}.at(level)].others(player); enough {
			return shrunk(c.metres, c.carries, mean, CellShrinkage), true
		}
	}
	return mean, true
}

// Observations returns the observations of MetresOverExpected of some cells, one for each player and match, sorted by
// player and match. Unlike other observations' their numerator, the metres made less the metres expected, may be below
// 0. The denominator is the number of carries. A player with fewer than LeastOthers others to be held against has
// none.
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
