package trend

// within is how the rows of one block see the columns of X inside. Most columns do not move within a block: the
// intercept, a player's group and squad, what an earlier season says about them. So a block has few columns X̃ of its
// own: those that move in it, and one of ones for all that do not. Sums over rows are sums over X̃, and each column of
// X then takes its multiple:
//
//	x_j = t_j x̃_a(j),   Σ w x_j x_l = t_j t_l Σ w x̃_a(j) x̃_a(l)
type within struct {
	seen []seen
	g    int       // columns of X̃
	x    []float64 // X̃, row by row
}

// seen is a column of X that is not zero in the block: so many times the block's own.
type seen struct {
	column, own int
	times       float64
}

// newWithin looks at the rows of a block, q columns each.
func newWithin(x []float64, q int) within {
	var w within
	if q == 0 || len(x) == 0 {
		return w
	}
	var still []seen
	for j := range q {
		first, moves := x[j], false
		for i := j; i < len(x); i += q {
			moves = moves || x[i] != first
		}
		switch {
		case moves:
			w.seen = append(w.seen, seen{j, w.g, 1})
			w.g++
		case first != 0:
			still = append(still, seen{j, 0, first})
		}
	}
	moving := len(w.seen)
	for _, c := range still {
		c.own = moving
		w.seen = append(w.seen, c)
	}
	if len(still) > 0 {
		w.g++
	}
	for i := 0; i < len(x); i += q {
		for _, c := range w.seen[:moving] {
			w.x = append(w.x, x[i+c.column])
		}
		if len(still) > 0 {
			w.x = append(w.x, 1)
		}
	}
	return w
}

// row is X̃ of the block's row i, counted from its first.
func (w *within) row(i int) []float64 { return w.x[i*w.g : (i+1)*w.g] }

// spread adds what was summed over X̃ to the columns of X: k entries each.
func (w *within) spread(sums []float64, k int, to []float64) {
	for _, c := range w.seen {
		for a := range k {
			to[c.column*k+a] += c.times * sums[c.own*k+a]
		}
	}
}

// gather adds up over X what is given by its columns, k entries each, for X̃: its inverse in the sense of spread.
func (w *within) gather(of []float64, k int, sums []float64) {
	clear(sums[:w.g*k])
	for _, c := range w.seen {
		for a := range k {
			sums[c.own*k+a] += c.times * of[c.column*k+a]
		}
	}
}
