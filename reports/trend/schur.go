package trend

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// factorise factors H for one Λ per factor and the precisions P of the columns of X inside (nil: none). It is false
// when H is not positive definite.
func (s *system) factorise(l []triangle, precision []float64) bool {
	s.setScaled(l)
	s.scaleDense(l, precision)
	if !s.eliminate(l) {
		return false
	}
	nb := s.nb
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

// scaleDense starts S as Λ'BΛ + diag(1, P); only its upper triangle is used.
func (s *system) scaleDense(l []triangle, precision []float64) {
	nb, q := s.nb, s.q
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
}

// eliminate factors the blocks D_p and takes C_p D_p⁻¹ C_p' off S. It is false when a block is not positive definite.
func (s *system) eliminate(l []triangle) bool {
	s.logDet = 0
	if s.k == 0 {
		return true
	}
	k, nb := s.k, s.nb
	le := l[s.eliminated]
	for p := range s.pattern {
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
		for i, bi := range pat { // in order, so that this is the upper triangle
			row := s.s[int(bi)*nb:][:nb]
			if k == 1 {
				ei := e[i]
				for j, bj := range pat[i:] {
					row[bj] -= ei * cs[i+j]
				}
				continue
			}
			e0, e1 := e[2*i], e[2*i+1]
			own := cs[2*i:]
			for j, bj := range pat[i:] {
				row[bj] -= e0*own[2*j] + e1*own[2*j+1]
			}
		}
	}
	return true
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
