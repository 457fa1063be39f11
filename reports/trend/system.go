package trend

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// factor groups the rows: by player, by match, by coach. Each of its levels has k effects, with design z (n×k: 1, or 1 and
// time), and they vary as u = Λb with b standard normal and Λ lower triangular.
type factor struct {
	name   string
	levels []string
	of     []int // row → level
	k      int   // 1 or 2
	z      []float64
}

// triangle is Λ of a factor: l11, l21, l22; of a factor with one effect, only the first counts. Signs carry no meaning, and
// zero is an ordinary value.
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
// The factor with the most effects is eliminated: its blocks D (k×k) are independent given the rest, the border (the other
// factors, then the columns of X when they are inside). With C_p the border's rows against block p,
//
//	S = B − Σ_p C_p D_p⁻¹ C_p',   log|H| = Σ log|D_p| + log|S|
//
// and only S, the Schur complement, is factored as a dense matrix. C_p is kept for the border entries that occur together
// with block p, its pattern. Rows are sorted by block, so that each block is worked on in one go.
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
	x              []float64 // n×q
	cAt            []int     // block → where its C begins in C and E

	// filled by gather: raw cross-products Z'WZ
	d, c, b []float64
	// filled by factorise
	zs, zbs   []float64 // Λ'z
	di        []float64 // D⁻¹, k×k each
	e         []float64 // C D⁻¹, pattern×k each
	s         []float64 // upper Cholesky factor of S, then (invert) S⁻¹ whole
	logDet    float64
	local, vp []float64
}

// border is a factor of the border: the effects of its level j are k entries from at + j·k on, before end; in a row's
// design they stand from col on.
type border struct{ factor, at, end, k, col int }

// newSystem sorts the rows and finds the patterns. x is n×q, row by row; q is 0 when no fixed effect is inside.
func newSystem(factors []factor, n int, x []float64, q int) *system {
	s := &system{n: n, q: q, eliminated: -1}
	for f := range factors {
		if s.eliminated < 0 || len(factors[f].levels)*factors[f].k > len(factors[s.eliminated].levels)*factors[s.eliminated].k {
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
	s.x = make([]float64, n*q)
	s.pattern = make([][]int32, blocks)
	s.cAt = make([]int, blocks+1)
	where := make([]int32, s.nb)
	for i := range where {
		where[i] = -1
	}
	most := 0
	for p := range blocks {
		var pat []int32
		for r := s.start[p]; r < s.start[p+1]; r++ {
			i := s.row[r]
			if s.k > 0 {
				copy(s.z[r*s.k:], factors[s.eliminated].z[i*s.k:(i+1)*s.k])
			}
			copy(s.x[r*q:], x[i*q:(i+1)*q])
			for _, b := range s.borders {
				f := factors[b.factor]
				for c := range b.k {
					j := b.at + f.of[i]*b.k + c
					if where[j] < 0 {
						where[j] = int32(len(pat))
						pat = append(pat, int32(j))
					}
					s.zb[r*s.m+b.col+c] = f.z[i*b.k+c]
					s.loc[r*s.m+b.col+c] = where[j]
				}
			}
		}
		for _, j := range pat {
			where[j] = -1
		}
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
	return s
}

// gather adds up Z'WZ for weights w (in the system's order of rows).
func (s *system) gather(w []float64) {
	clear(s.d)
	clear(s.c)
	clear(s.b)
	k, m, q, nb := s.k, s.m, s.q, s.nb
	x0 := nb - q
	for p := range s.pattern {
		pat := s.pattern[p]
		xl := len(pat) - q
		c := s.c[s.cAt[p]:s.cAt[p+1]]
		d := s.d[p*k*k : (p+1)*k*k]
		for r := s.start[p]; r < s.start[p+1]; r++ {
			z, zb, x := s.z[r*k:(r+1)*k], s.zb[r*m:(r+1)*m], s.x[r*q:(r+1)*q]
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
					c[(xl+j)*k+a] += wz * v
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
				for j, v := range x {
					bi[x0+j] += wz * v
				}
			}
			for i, v := range x {
				wz := w[r] * v
				bi := s.b[(x0+i)*nb+x0:][:q]
				for j := i; j < q; j++ {
					bi[j] += wz * x[j]
				}
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

// factorise factors H for one Λ per factor and the precisions P of the columns of X inside (nil: none). It is false when H is
// not positive definite.
func (s *system) factorise(l []triangle, precision []float64) bool {
	k, nb, q := s.k, s.nb, s.q
	var le triangle
	if s.eliminated >= 0 {
		le = l[s.eliminated]
	}
	s.setScaled(l)

	// S starts as Λ'BΛ + diag(1, P); only its upper triangle is used.
	copy(s.s, s.b)
	for _, b := range s.borders {
		lf := l[b.factor]
		for j := b.at; j < b.end; j += b.k {
			if b.k == 1 {
				for i := range j {
					s.s[i*nb+j] *= lf[0]
				}
				row := s.s[j*nb : (j+1)*nb]
				row[j] *= lf[0] * lf[0]
				for i := j + 1; i < nb; i++ {
					row[i] *= lf[0]
				}
				row[j]++
				continue
			}
			for i := range j {
				r := s.s[i*nb+j : i*nb+j+2]
				r[0], r[1] = lf[0]*r[0]+lf[1]*r[1], lf[2]*r[1]
			}
			r0, r1 := s.s[j*nb:(j+1)*nb], s.s[(j+1)*nb:(j+2)*nb]
			a, b, c := r0[j], r0[j+1], r1[j+1]
			r0[j] = lf[0]*lf[0]*a + 2*lf[0]*lf[1]*b + lf[1]*lf[1]*c + 1
			r0[j+1] = lf[2] * (lf[0]*b + lf[1]*c)
			r1[j+1] = lf[2]*lf[2]*c + 1
			for i := j + 2; i < nb; i++ {
				r0[i], r1[i] = lf[0]*r0[i]+lf[1]*r1[i], lf[2]*r1[i]
			}
		}
	}
	for j := range precision {
		s.s[(nb-q+j)*nb+nb-q+j] += precision[j]
	}

	s.logDet = 0
	for p := range s.pattern {
		if k == 0 {
			break
		}
		pat := s.pattern[p]
		d, di := s.d[p*k*k:(p+1)*k*k], s.di[p*k*k:(p+1)*k*k]
		var det float64
		if k == 1 {
			det = le[0]*le[0]*d[0] + 1
			di[0] = 1 / det
		} else {
			a := le[0]*le[0]*d[0] + 2*le[0]*le[1]*d[1] + le[1]*le[1]*d[3] + 1
			b := le[2] * (le[0]*d[1] + le[1]*d[3])
			c := le[2]*le[2]*d[3] + 1
			det = a*c - b*b
			if !(a > 0) {
				return false
			}
			di[0], di[1], di[2], di[3] = c/det, -b/det, -b/det, a/det
		}
		if !(det > 0) {
			return false
		}
		s.logDet += math.Log(det)
		c, e := s.c[s.cAt[p]:s.cAt[p+1]], s.e[s.cAt[p]:s.cAt[p+1]]
		cs := s.vp[:len(c)]
		s.scaleBorder(p, l, c, cs)
		for i := range pat {
			if k == 1 {
				cs[i] *= le[0]
				e[i] = cs[i] * di[0]
				continue
			}
			u, v := cs[2*i], cs[2*i+1]
			u, v = le[0]*u+le[1]*v, le[2]*v
			cs[2*i], cs[2*i+1] = u, v
			e[2*i], e[2*i+1] = u*di[0]+v*di[2], u*di[1]+v*di[3]
		}
		// The pattern is in no order: of (i, j) and (j, i), the one in the upper triangle is updated.
		for i, bi := range pat {
			if k == 1 {
				ei := e[i]
				for j, bj := range pat[:i+1] {
					s.s[int(min(bi, bj))*nb+int(max(bi, bj))] -= ei * cs[j]
				}
				continue
			}
			e0, e1 := e[2*i], e[2*i+1]
			for j, bj := range pat[:i+1] {
				s.s[int(min(bi, bj))*nb+int(max(bi, bj))] -= e0*cs[2*j] + e1*cs[2*j+1]
			}
		}
	}
	if nb == 0 {
		return !math.IsNaN(s.logDet)
	}
	if _, ok := lapack64.Potrf(blas64.Symmetric{N: nb, Stride: nb, Uplo: blas.Upper, Data: s.s}); !ok {
		return false
	}
	for j := range nb {
		s.logDet += 2 * math.Log(s.s[j*nb+j])
	}
	return !math.IsNaN(s.logDet) && !math.IsInf(s.logDet, 0)
}

// scaleBorder gives Λ_b'C for the border's side of one block.
func (s *system) scaleBorder(p int, l []triangle, c, to []float64) {
	k := s.k
	copy(to, c)
	pat := s.pattern[p]
	for i := 0; i < len(pat)-s.q; {
		j := int(pat[i])
		b := s.borders[0]
		for _, o := range s.borders[1:] {
			if j >= o.at {
				b = o
			}
		}
		lf := l[b.factor]
		for a := range k {
			if b.k == 1 {
				to[i*k+a] *= lf[0]
			} else {
				u, v := to[i*k+a], to[(i+1)*k+a]
				to[i*k+a], to[(i+1)*k+a] = lf[0]*u+lf[1]*v, lf[2]*v
			}
		}
		i += b.k
	}
}

// apply adds Ã'v to the vector of effects (blocks first, then the border); v is in the system's order of rows.
func (s *system) apply(v, blocks, border []float64) {
	k, m, q := s.k, s.m, s.q
	x0 := s.nb - q
	for p := range s.pattern {
		pat := s.pattern[p]
		for r := s.start[p]; r < s.start[p+1]; r++ {
			for a := range k {
				blocks[p*k+a] += s.zs[r*k+a] * v[r]
			}
			for j := range m {
				border[pat[s.loc[r*m+j]]] += s.zbs[r*m+j] * v[r]
			}
			for j := range q {
				border[x0+j] += s.x[r*q+j] * v[r]
			}
		}
	}
}

// predict sets eta to offset + Ãb.
func (s *system) predict(offset, blocks, border, eta []float64) {
	k, m, q := s.k, s.m, s.q
	x0 := s.nb - q
	for p := range s.pattern {
		pat := s.pattern[p]
		for r := s.start[p]; r < s.start[p+1]; r++ {
			v := offset[r]
			for a := range k {
				v += s.zs[r*k+a] * blocks[p*k+a]
			}
			for j := range m {
				v += s.zbs[r*m+j] * border[pat[s.loc[r*m+j]]]
			}
			for j := range q {
				v += s.x[r*q+j] * border[x0+j]
			}
			eta[r] = v
		}
	}
}

// solve overwrites a right-hand side by H⁻¹ of it; to be called between factorise and invert.
func (s *system) solve(blocks, border []float64) {
	k := s.k
	for p, pat := range s.pattern {
		e := s.e[s.cAt[p]:s.cAt[p+1]]
		for i, j := range pat {
			for a := range k {
				border[j] -= e[i*k+a] * blocks[p*k+a]
			}
		}
	}
	if s.nb > 0 {
		t := blas64.Triangular{N: s.nb, Stride: s.nb, Uplo: blas.Upper, Diag: blas.NonUnit, Data: s.s}
		v := blas64.Vector{N: s.nb, Inc: 1, Data: border}
		blas64.Trsv(blas.Trans, t, v)
		blas64.Trsv(blas.NoTrans, t, v)
	}
	for p, pat := range s.pattern {
		di := s.di[p*k*k : (p+1)*k*k]
		b := blocks[p*k : (p+1)*k]
		switch k {
		case 1:
			b[0] *= di[0]
		case 2:
			b[0], b[1] = di[0]*b[0]+di[1]*b[1], di[2]*b[0]+di[3]*b[1]
		}
		e := s.e[s.cAt[p]:s.cAt[p+1]]
		for i, j := range pat {
			for a := range k {
				b[a] -= e[i*k+a] * border[j]
			}
		}
	}
}

// multiply gives V times a vector, after invert.
func (s *system) multiply(blocks, border, toBlocks, toBorder []float64) {
	k, nb := s.k, s.nb
	right := append([]float64(nil), border...)
	for p, pat := range s.pattern {
		e := s.e[s.cAt[p]:s.cAt[p+1]]
		for i, j := range pat {
			for a := range k {
				right[j] -= e[i*k+a] * blocks[p*k+a]
			}
		}
	}
	for j := range nb {
		toBorder[j] = dot(s.s[j*nb:(j+1)*nb], right)
	}
	for p, pat := range s.pattern {
		e := s.e[s.cAt[p]:s.cAt[p+1]]
		for a := range k {
			v := 0.0
			for c := range k {
				v += s.di[(p*k+a)*k+c] * blocks[p*k+c]
			}
			for i, j := range pat {
				v -= e[i*k+a] * toBorder[j]
			}
			toBlocks[p*k+a] = v
		}
	}
}

// invert replaces the factor of S by S⁻¹, which is the border's part of V = H⁻¹.
func (s *system) invert() {
	nb := s.nb
	if nb == 0 {
		return
	}
	lapack64.Potri(blas64.Triangular{N: nb, Stride: nb, Uplo: blas.Upper, Diag: blas.NonUnit, Data: s.s})
	for i := range nb {
		for j := range i {
			s.s[i*nb+j] = s.s[j*nb+i]
		}
	}
}

// blockOf gives, after invert, the parts of V that belong to block p: V_pp (k×k) and V_pb (pattern×k).
func (s *system) blockOf(p int) (vpp [4]float64, vpb []float64) {
	k, nb := s.k, s.nb
	pat := s.pattern[p]
	e := s.e[s.cAt[p]:s.cAt[p+1]]
	vpb = s.vp[:len(e)]
	np := len(pat)
	for i, bi := range pat {
		row := s.s[int(bi)*nb:][:nb]
		loc := s.local[i*np : (i+1)*np]
		for j, bj := range pat {
			loc[j] = row[bj]
		}
	}
	copy(vpp[:], s.di[p*k*k:(p+1)*k*k])
	for i := range pat {
		loc := s.local[i*np : (i+1)*np]
		switch k {
		case 1:
			var u float64
			for j, v := range loc {
				u += v * e[j]
			}
			vpb[i] = -u
			vpp[0] += u * e[i]
		case 2:
			var u, w float64
			for j, v := range loc {
				u += v * e[2*j]
				w += v * e[2*j+1]
			}
			vpb[2*i], vpb[2*i+1] = -u, -w
			vpp[0] += u * e[2*i]
			vpp[1] += u * e[2*i+1]
			vpp[2] += w * e[2*i]
			vpp[3] += w * e[2*i+1]
		}
	}
	return vpp, vpb
}

// traces gives, after invert, for each factor T = Σ_i w_i z_i (V ã_i)' (entries 11, 21, 22), of which ∂ log|H| / ∂Λ is twice,
// and, unless h is nil, the leverages h_i = ã_i'V ã_i.
func (s *system) traces(w, h []float64, t []triangle) {
	clear(t)
	k, m, q := s.k, s.m, s.q
	v := make([]float64, m)
	for p := range s.pattern {
		vpp, vpb := s.blockOf(p)
		np := len(s.pattern[p])
		xl := np - q
		var te triangle
		for r := s.start[p]; r < s.start[p+1]; r++ {
			z, zb, x := s.zs[r*k:(r+1)*k], s.zbs[r*m:(r+1)*m], s.x[r*q:(r+1)*q]
			loc := s.loc[r*m : (r+1)*m]
			var ve [2]float64
			for a := range k {
				u := 0.0
				for c, zc := range z {
					u += vpp[a*k+c] * zc
				}
				for j, zj := range zb {
					u += vpb[int(loc[j])*k+a] * zj
				}
				for j, xj := range x {
					u += vpb[(xl+j)*k+a] * xj
				}
				ve[a] = u
			}
			for i, li := range loc {
				u := 0.0
				for c, zc := range z {
					u += vpb[int(li)*k+c] * zc
				}
				row := s.local[int(li)*np:][:np]
				for j, zj := range zb {
					u += row[loc[j]] * zj
				}
				for j, xj := range x {
					u += row[xl+j] * xj
				}
				v[i] = u
			}
			if h != nil {
				u := 0.0
				for a, za := range z {
					u += za * ve[a]
				}
				for j, zj := range zb {
					u += zj * v[j]
				}
				for i, xi := range x {
					row := s.local[(xl+i)*np:][:np]
					vi := 0.0
					for c, zc := range z {
						vi += vpb[(xl+i)*k+c] * zc
					}
					for j, zj := range zb {
						vi += row[loc[j]] * zj
					}
					for j, xj := range x {
						vi += row[xl+j] * xj
					}
					u += xi * vi
				}
				h[r] = u
			}
			raw := s.z[r*k : (r+1)*k]
			te.accumulate(raw, ve[:k], w[r])
			for _, b := range s.borders {
				t[b.factor].accumulate(s.zb[r*m+b.col:][:b.k], v[b.col:b.col+b.k], w[r])
			}
		}
		if k > 0 {
			for i := range te {
				t[s.eliminated][i] += te[i]
			}
		}
	}
}

// accumulate adds w·z v', lower triangle.
func (l *triangle) accumulate(z, v []float64, w float64) {
	switch len(z) {
	case 1:
		l[0] += w * z[0] * v[0]
	case 2:
		l[0] += w * z[0] * v[0]
		l[1] += w * z[1] * v[0]
		l[2] += w * z[1] * v[1]
	}
}
