package trend

import "math"

// tally sums a smooth function over j = 0, 1, …, n−1 as Σ w_q f(x_q). The terms of overdispersed counts are sums of
// log(a + jκ) and of powers of 1/(a + jκ); written so, they keep their digits as κ → 0, where differences of log-gamma
// functions lose them. The first terms are taken one by one. The rest are in panels [m, 2m), each replaced by the
// Gauss rule of its own points (the discrete uniform measure: Gram's polynomials), exact to degree 19; the pole of f
// is at least m away from a panel of half-length m/2, so the relative error is below 1e-13.
type tally struct{ x, w []float64 }

const tallied = 24 // terms one by one

var (
	tallyX = func() (x [tallied]float64) {
		for j := range x {
			x[j] = float64(j)
		}
		return x
	}()
	tallyW = func() (w [tallied]float64) {
		for j := range w {
			w[j] = 1
		}
		return w
	}()
)

// newTally makes the rule for n terms.
func newTally(n int) tally {
	if n <= tallied {
		return tally{tallyX[:n:n], tallyW[:n:n]}
	}
	t := tally{append([]float64(nil), tallyX[:]...), append([]float64(nil), tallyW[:]...)}
	for m := tallied; m < n; m *= 2 {
		t.panel(float64(m), min(m, n-m))
	}
	return t
}

// panel adds the rule for from, from+1, …, from+n−1. The monic polynomials orthogonal over n equidistant points have
// the recurrence coefficients (n−1)/2 and k²(n²−k²)/(4(4k²−1)); nodes and weights are the eigenvalues and the first
// components of their Jacobi matrix. Source: Gautschi, Orthogonal Polynomials: Computation and Approximation, 2004,
// §1.5.
func (t *tally) panel(from float64, n int) {
	const order = 10
	if n <= order {
		for j := range n {
			t.x, t.w = append(t.x, from+float64(j)), append(t.w, 1)
		}
		return
	}
	var d, e, first [order]float64
	N := float64(n)
	for k := range order {
		d[k] = from + (N-1)/2
		if k > 0 {
			kk := float64(k * k)
			e[k-1] = math.Sqrt(kk * (N*N - kk) / (4 * (4*kk - 1)))
		}
	}
	first[0] = 1
	jacobiEigen(d[:], e[:], first[:])
	for k := range order {
		t.x, t.w = append(t.x, d[k]), append(t.w, N*first[k]*first[k])
	}
}

// jacobiEigen replaces the diagonal d of a symmetric tridiagonal matrix (off-diagonal e) by its eigenvalues and first,
// a unit vector at the start, by the first components of the eigenvectors: implicit QL (Golub & Welsch 1969, Math Comp
// 23).
func jacobiEigen(d, e, first []float64) {
	n := len(d)
	for l := range n {
		for range 60 {
			m := l
			for ; m < n-1; m++ {
				s := math.Abs(d[m]) + math.Abs(d[m+1])
				if math.Abs(e[m]) <= 1e-16*s {
					break
				}
			}
			if m == l {
				break
			}
			g := (d[l+1] - d[l]) / (2 * e[l])
			r := math.Hypot(g, 1)
			g = d[m] - d[l] + e[l]/(g+math.Copysign(r, g))
			s, c, p := 1.0, 1.0, 0.0
			for i := m - 1; i >= l; i-- {
				f, b := s*e[i], c*e[i]
				r = math.Hypot(f, g)
				e[i+1] = r
				if r == 0 {
					d[i+1] -= p
					e[m] = 0
					break
				}
				s, c = f/r, g/r
				g = d[i+1] - p
				r = (d[i]-g)*s + 2*c*b
				p = s * r
				d[i+1] = g + p
				g = c*r - b
				first[i+1], first[i] = s*first[i]+c*first[i+1], c*first[i]-s*first[i+1]
			}
			d[l] -= p
			e[l] = g
			e[m] = 0
		}
	}
}

// logs is Σ w log(a + xκ).
func (t tally) logs(a, k float64) (s float64) {
	product := 1.0
	for j, x := range t.x {
		v := a + x*k
		if t.w[j] != 1 {
			s += t.w[j] * math.Log(v)
			continue
		}
		product *= v
		if j&7 == 7 { // eight at a time: fewer logarithms, and no overflow (see beyond)
			s += math.Log(product)
			product = 1
		}
	}
	return s + math.Log(product)
}

// powers gives Σ w r and Σ w r², r = 1/(a + xκ).
func (t tally) powers(a, k float64) (s1, s2 float64) {
	for j, x := range t.x {
		r := 1 / (a + x*k)
		wr := t.w[j] * r
		s1 += wr
		s2 += wr * r
	}
	return s1, s2
}

// moments gives Σ w r³ and Σ w x r, Σ w x r², Σ w x r³.
func (t tally) moments(a, k float64) (s3, m1, m2, m3 float64) {
	for j, x := range t.x {
		r := 1 / (a + x*k)
		c := t.w[j] * r
		m1 += x * c
		c *= r
		m2 += x * c
		c *= r
		s3 += c
		m3 += x * c
	}
	return s3, m1, m2, m3
}
