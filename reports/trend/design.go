package trend

import (
	"fmt"
	"math"
	"slices"
)

// design is what a fit works on: the rows with an opportunity, their responses, columns of X and factors.
type design struct {
	family Family
	rows   []int // of Data
	y      []float64
	trials []float64 // Proportion: trials; Mean: actions; else 1
	offset []float64 // Rate: log of full matches played; else 0
	x      []float64 // len(rows) × len(names)
	names  []string
	// factors in the order player, match, coach; match and coach are -1 when absent
	factors      []factor
	match, coach int
	notes        []string
}

// columns builds up X column by column.
type columns struct {
	names  []string
	values [][]float64
}

func (c *columns) add(name string, values []float64) {
	c.names = append(c.names, name)
	c.values = append(c.values, values)
}

// newDesign takes the rows with an opportunity and their factors; X stays empty. time is the column of players'
// slopes, by rows of d, or nil.
func newDesign(d Data, o Options, time []float64) design {
	g := design{family: d.Family, match: -1, coach: -1}
	for i := range d.Value {
		if d.HasOpportunity(i) {
			g.rows = append(g.rows, i)
		}
	}
	n := len(g.rows)
	g.y, g.trials, g.offset = make([]float64, n), make([]float64, n), make([]float64, n)
	for r, i := range g.rows {
		g.y[r], g.trials[r] = d.Value[i], 1
		if d.Trials != nil && d.Family != Rating {
			g.trials[r] = d.Trials[i]
		}
		if d.Family == Rate {
			g.offset[r] = math.Log(d.exposure(i, o.fullMatch()))
		}
	}
	if o.NoSlope {
		time = nil
	}
	g.factors = append(g.factors, newFactor("player", g.text(d.Player), g.pick(time)))
	if d.Match != nil && !o.NoMatch {
		g.match = len(g.factors)
		g.factors = append(g.factors, newFactor("match", g.text(d.Match), nil))
	}
	if d.Coach != nil {
		g.coach = len(g.factors)
		g.factors = append(g.factors, newFactor("coach", g.text(d.Coach), nil))
	}
	return g
}

// newFactor numbers the levels in order of first appearance; a slope is added when t is not nil.
func newFactor(name string, of []string, t []float64) factor {
	f := factor{name: name, of: make([]int, len(of)), k: 1}
	at := map[string]int{}
	for i, s := range of {
		j, ok := at[s]
		if !ok {
			j = len(f.levels)
			at[s] = j
			f.levels = append(f.levels, s)
		}
		f.of[i] = j
	}
	if t != nil {
		f.k = 2
	}
	f.z = make([]float64, len(of)*f.k)
	for i := range of {
		f.z[i*f.k] = 1
		if t != nil {
			f.z[i*2+1] = t[i]
		}
	}
	return f
}

// pick and text take the kept rows of a column; nil stays nil.
func (g *design) pick(column []float64) []float64 {
	if column == nil {
		return nil
	}
	out := make([]float64, len(g.rows))
	for r, i := range g.rows {
		out[r] = column[i]
	}
	return out
}

func (g *design) text(column []string) []string {
	if column == nil {
		return nil
	}
	out := make([]string, len(g.rows))
	for r, i := range g.rows {
		out[r] = column[i]
	}
	return out
}

// plainColumns gives X of a plain fit: intercept, groups by treatment coding, difficulty, home, time. Columns that
// follow from earlier ones are left out with a note.
func (g *design) plainColumns(d Data, o Options) error {
	n := len(g.rows)
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	var c columns
	c.add("(Intercept)", ones)
	if d.Group != nil {
		groups := newFactor("group", g.text(d.Group), nil)
		reference := 0
		if o.Reference != "" {
			if reference = slices.Index(groups.levels, o.Reference); reference < 0 {
				return fmt.Errorf("reference group %q does not occur", o.Reference)
			}
		}
		for j, name := range groups.levels {
			if j == reference {
				continue
			}
			v := make([]float64, n)
			for i, of := range groups.of {
				if of == j {
					v[i] = 1
				}
			}
			c.add("group"+name, v)
		}
	}
	for _, e := range []struct {
		name   string
		column []float64
	}{{"opponent", d.Difficulty}, {"home", d.Home}, {"t", d.Time}} {
		if e.column == nil || e.name == "t" && o.NoTime {
			continue
		}
		v := g.pick(e.column)
		for i := range v {
			if math.IsNaN(v[i]) {
				return rowError(g.rows[i], e.name, "not recorded; a plain fit needs it, a season fit does not")
			}
		}
		c.add(e.name, v)
	}
	g.setColumns(c)
	return nil
}

// setColumns keeps the columns that add something to those before them (Gram–Schmidt, twice for rounding).
func (g *design) setColumns(c columns) {
	var basis [][]float64
	var kept [][]float64
	for j, v := range c.values {
		rest := append([]float64(nil), v...)
		for range 2 {
			for _, b := range basis {
				a := dot(b, rest)
				for i := range rest {
					rest[i] -= a * b[i]
				}
			}
		}
		size, left := math.Sqrt(dot(v, v)), math.Sqrt(dot(rest, rest))
		if !(left > 1e-7*size) {
			g.notes = append(g.notes, fmt.Sprintf("%s is left out: the rows cannot tell it from the other effects", c.names[j]))
			continue
		}
		for i := range rest {
			rest[i] /= left
		}
		basis = append(basis, rest)
		kept = append(kept, v)
		g.names = append(g.names, c.names[j])
	}
	q := len(kept)
	g.x = make([]float64, len(g.rows)*q)
	for j, v := range kept {
		for i := range v {
			g.x[i*q+j] = v[i]
		}
	}
}
