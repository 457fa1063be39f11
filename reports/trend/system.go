package trend

import "slices"

// factor groups the rows: by player, by match, by coach. Each of its levels has k effects, with design z (n×k: 1, or 1
// and time), and they vary as u = Λb with b standard normal and Λ lower triangular.
type factor struct {
	name   string
	levels []string
	of     []int // row → level
	k      int   // 1 or 2
	z      []float64
}

// triangle is Λ of a factor: l11, l21, l22; of a factor with one effect, only the first counts. Signs carry no
// meaning, and zero is an ordinary value.
type triangle [3]float64

// scale gives Λ'z.
func (l triangle) scale(z, to []float64) {
	if len(z) == 1 {
		to[0] = l[0] * z[0]
		return
	}
	to[0], to[1] = l[0]*z[0]+l[1]*z[1], l[2]*z[1]
}

// effect gives u = Λb.
func (l triangle) effect(b []float64) (level, slope float64) {
	if len(b) == 1 {
		return l[0] * b[0], 0
	}
	return l[0] * b[0], l[1]*b[0] + l[2]*b[1]
}

// system is the sparse structure of
//
//	H = Ã'WÃ + diag(1, …, 1, P),   row ã_i of Ã = (Λ'z_i of each factor, x_i)
//
// The factor with the most effects is eliminated: its blocks D (k×k) are independent given the rest, the border (the
// other factors, then the columns of X when they are inside). With C_p the border's rows against block p,
//
//	S = B − Σ_p C_p D_p⁻¹ C_p',   log|H| = Σ log|D_p| + log|S|
//
// and only S, the Schur complement, is factored as a dense matrix. C_p is kept for the border entries that occur
// together with block p, its pattern. Rows are sorted by block, so that each block is worked on in one go.
type system struct {
	n, k, m, q, nb int // rows; effects of a block; border effects of a row; columns of X inside; size of the border
	row            []int
	eliminated     int   // which factor
	start          []int // block → its first row; one more at the end
	z              []float64
	borders        []border
	zb             []float64 // n×m
	loc            []int32   // n×m: where in the block's pattern
	pattern        [][]int32
	within         []within // the columns of X inside, by block
	cAt            []int    // block → where its C begins in C and E

	// filled by gather: raw cross-products Z'WZ
	d, c, b []float64
	// filled by factorise
	zs, zbs   []float64 // Λ'z
	di        []float64 // D⁻¹, k×k each
	e         []float64 // C D⁻¹, pattern×k each
	s         []float64 // upper Cholesky factor of S, then (invert) S⁻¹ whole
	logDet    float64
	local, vp []float64
	byX       byX
	// of the first factor's levels, when they have scales of their own (see scaleLevels): the level of each row, and,
	// filled by traces, each one's share of T11
	levelOf    []int
	levelTrace []float64
}

// byX are sums over the columns X̃ of a block (see within): with themselves, with the block's effects, and with each
// border effect of the block's pattern.
type byX struct{ x, z, border []float64 }

// border is a factor of the border: the effects of its level j are k entries from at + j·k on, before end; in a row's
// design they stand from col on.
type border struct{ factor, at, end, k, col int }

// newSystem sorts the rows and finds the patterns. x is n×q, row by row; q is 0 when no fixed effect is inside.
func newSystem(factors []factor, n int, x []float64, q int) *system {
	s := &system{n: n, q: q, eliminated: -1}
	for f := range factors {
		if s.eliminated < 0 || len(factors[f].levels)*factors[f].k > len(
			factors[s.eliminated].levels)*factors[s.eliminated].k {
			s.eliminated = f
		}
	}
	blocks := 1 // no factor at all: one block without effects
	of := make([]int, n)
	if s.eliminated >= 0 {
		e := factors[s.eliminated]
		s.k, blocks, of = e.k, len(e.levels), e.of
	}
	for f := range factors {
		if f != s.eliminated {
			at := s.nb
			s.nb += len(factors[f].levels) * factors[f].k
			s.borders = append(s.borders, border{f, at, s.nb, factors[f].k, s.m})
			s.m += factors[f].k
		}
	}
	firstX := s.nb
	s.nb += q

	s.start = make([]int, blocks+1)
	for _, p := range of {
		s.start[p+1]++
	}
	for p := range blocks {
		s.start[p+1] += s.start[p]
	}
	s.row = make([]int, n)
	at := append([]int(nil), s.start...)
	for i, p := range of {
		s.row[at[p]] = i
		at[p]++
	}
	s.z, s.zs = make([]float64, n*s.k), make([]float64, n*s.k)
	s.zb, s.zbs, s.loc = make([]float64, n*s.m), make([]float64, n*s.m), make([]int32, n*s.m)
	s.pattern, s.within = make([][]int32, blocks), make([]within, blocks)
	s.cAt = make([]int, blocks+1)
	where := make([]int32, s.nb)
	for i := range where {
		where[i] = -1
	}
	most := 0
	own := []float64{} // rows of X of one block
	for p := range blocks {
		var pat []int32
		own = own[:0]
		visit := func(do func(r, col, c, j int, f *factor)) {
			for r := s.start[p]; r < s.start[p+1]; r++ {
				for _, b := range s.borders {
					f := &factors[b.factor]
					for c := range b.k {
						do(r, b.col+c, c, b.at+f.of[s.row[r]]*b.k+c, f)
					}
				}
			}
		}
		visit(func(_, _, _, j int, _ *factor) {
			if where[j] < 0 {
				where[j] = 0
				pat = append(pat, int32(j))
			}
		})
		slices.Sort(pat)
		for l, j := range pat {
			where[j] = int32(l)
		}
		visit(func(r, col, c, j int, f *factor) {
			s.zb[r*s.m+col] = f.z[s.row[r]*f.k+c]
			s.loc[r*s.m+col] = where[j]
		})
		for _, j := range pat {
			where[j] = -1
		}
		for r := s.start[p]; r < s.start[p+1]; r++ {
			i := s.row[r]
			if s.k > 0 {
				copy(s.z[r*s.k:], factors[s.eliminated].z[i*s.k:(i+1)*s.k])
			}
			own = append(own, x[i*q:(i+1)*q]...)
		}
		s.within[p] = newWithin(own, q)
		for j := range q {
			pat = append(pat, int32(firstX+j))
		}
		s.pattern[p] = pat
		s.cAt[p+1] = s.cAt[p] + len(pat)*s.k
		most = max(most, len(pat))
	}
	s.d, s.di = make([]float64, blocks*s.k*s.k), make([]float64, blocks*s.k*s.k)
	s.c, s.e = make([]float64, s.cAt[blocks]), make([]float64, s.cAt[blocks])
	s.b, s.s = make([]float64, s.nb*s.nb), make([]float64, s.nb*s.nb)
	s.local, s.vp = make([]float64, most*most), make([]float64, most*max(s.k, 1))
	s.byX = byX{make([]float64, q*q), make([]float64, q*s.k), make([]float64, most*q)}
	return s
}

// gather adds up Z'WZ for weights w (in the system's order of rows).
func (s *system) gather(w []float64) {
	clear(s.d)
	clear(s.c)
	clear(s.b)
	for p := range s.pattern {
		s.gatherBlock(p, w)
	}
}

func (s *system) gatherBlock(p int, w []float64) {
	k, m, q, nb := s.k, s.m, s.q, s.nb
	x0 := nb - q
	pat, in := s.pattern[p], &s.within[p]
	c, d := s.c[s.cAt[p]:s.cAt[p+1]], s.d[p*k*k:(p+1)*k*k]
	g := in.g
	xx, xz := s.byX.x[:g*g], s.byX.z[:g*k]
	clear(xx)
	clear(xz)
	for r := s.start[p]; r < s.start[p+1]; r++ {
		z, zb, x := s.z[r*k:(r+1)*k], s.zb[r*m:(r+1)*m], in.row(r-s.start[p])
		loc := s.loc[r*m : (r+1)*m]
		for a, za := range z {
			wz := w[r] * za
			for b, v := range z {
				d[a*k+b] += wz * v
			}
			for j, v := range zb {
				c[int(loc[j])*k+a] += wz * v
			}
			for j, v := range x {
				xz[j*k+a] += wz * v
			}
		}
		for i, v := range zb {
			wz := w[r] * v
			bi := s.b[int(pat[loc[i]])*nb:][:nb]
			for j, v := range zb {
				if pat[loc[j]] >= pat[loc[i]] {
					bi[pat[loc[j]]] += wz * v
				}
			}
			for _, o := range in.seen {
				bi[x0+o.column] += wz * o.times * x[o.own]
			}
		}
		for i, v := range x {
			wx := w[r] * v
			for j := i; j < g; j++ {
				xx[i*g+j] += wx * x[j]
			}
		}
	}
	in.spread(xz, k, c[(len(pat)-q)*k:])
	for _, i := range in.seen {
		bi := s.b[(x0+i.column)*nb+x0:][:q]
		for _, j := range in.seen {
			if j.column >= i.column {
				bi[j.column] += i.times * j.times * xx[min(i.own, j.own)*g+max(i.own, j.own)]
			}
		}
	}
}

// setScaled computes Λ'z for every row.
func (s *system) setScaled(l []triangle) {
	for r := range s.n {
		if s.k > 0 {
			l[s.eliminated].scale(s.z[r*s.k:(r+1)*s.k], s.zs[r*s.k:(r+1)*s.k])
		}
		for _, b := range s.borders {
			i := r*s.m + b.col
			l[b.factor].scale(s.zb[i:i+b.k], s.zbs[i:i+b.k])
		}
	}
}

// apply adds Ã'v to the vector of effects (blocks first, then the border); v is in the system's order of rows.
func (s *system) apply(v, blocks, border []float64) {
	k, m := s.k, s.m
	fixed := border[s.nb-s.q:]
	for p, pat := range s.pattern {
		in := &s.within[p]
		sums := s.byX.x[:in.g]
		clear(sums)
		for r := s.start[p]; r < s.start[p+1]; r++ {
			for a := range k {
				blocks[p*k+a] += s.zs[r*k+a] * v[r]
			}
			for j := range m {
				border[pat[s.loc[r*m+j]]] += s.zbs[r*m+j] * v[r]
			}
			for j, x := range in.row(r - s.start[p]) {
				sums[j] += x * v[r]
			}
		}
		in.spread(sums, 1, fixed)
	}
}

// predict sets eta to offset + Ãb.
func (s *system) predict(offset, blocks, border, eta []float64) {
	k, m := s.k, s.m
	fixed := border[s.nb-s.q:]
	for p, pat := range s.pattern {
		in := &s.within[p]
		sums := s.byX.x[:in.g]
		in.gather(fixed, 1, sums)
		for r := s.start[p]; r < s.start[p+1]; r++ {
			v := offset[r]
			for a := range k {
				v += s.zs[r*k+a] * blocks[p*k+a]
			}
			for j := range m {
				v += s.zbs[r*m+j] * border[pat[s.loc[r*m+j]]]
			}
			eta[r] = v + dot(in.row(r-s.start[p]), sums)
		}
	}
}

// scaleLevels gives the levels of the first factor scales of their own: the effect of level j is c_j Λ11 b. The next
// gather sees them.
func (s *system) scaleLevels(f *factor, c []float64) {
	if s.levelOf == nil {
		s.levelOf, s.levelTrace = make([]int, s.n), make([]float64, len(f.levels))
		for r, i := range s.row {
			s.levelOf[r] = f.of[i]
		}
	}
	if s.eliminated == 0 {
		for r, j := range s.levelOf {
			s.z[r*s.k] = c[j]
		}
		return
	}
	at := s.borderOf(0).col
	for r, j := range s.levelOf {
		s.zb[r*s.m+at] = c[j]
	}
}

// borderOf is the border of a factor that is not eliminated.
func (s *system) borderOf(factor int) border {
	i := slices.IndexFunc(s.borders, func(b border) bool { return b.factor == factor })
	return s.borders[i]
}
