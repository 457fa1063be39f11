package trend

import (
	"math"
	"testing"
)

func TestTallyEqualsTheSumOfItsTerms(t *testing.T) {
	for _, n := range []int{0, 1, 5, 24, 25, 33, 40, 47, 48, 49, 96, 100, 1000, 12345} {
		rule := newTally(n)
		for _, a := range []float64{0.001, 0.3, 1} {
			for _, k := range []float64{0, 1e-9, 1e-3, 0.05, 1, 30} {
				var l, s1, s2, s3, m1, m2, m3 float64
				for j := range n {
					x := float64(j)
					r := 1 / (a + x*k)
					l += math.Log(a + x*k)
					s1 += r
					s2 += r * r
					s3 += r * r * r
					m1 += x * r
					m2 += x * r * r
					m3 += x * r * r * r
				}
				g1, g2 := rule.powers(a, k)
				g3, h1, h2, h3 := rule.moments(a, k)
				for i, c := range [][2]float64{{rule.logs(a, k), l}, {g1, s1}, {g2, s2}, {g3, s3}, {h1, m1}, {h2, m2}, {h3, m3}} {
					if !(math.Abs(c[0]-c[1]) <= 1e-11*max(1, math.Abs(c[1]))) {
						t.Errorf("n=%d a=%g κ=%g sum %d: %.15g, want %.15g", n, a, k, i, c[0], c[1])
					}
				}
			}
		}
	}
}

// The derivatives of both kernels against central differences of the values below them.
func TestKernelDerivativesAgreeWithDifferences(t *testing.T) {
	const h = 1e-5
	for name, k := range map[string]func(i int) kernel{
		"counts": func(i int) kernel { return newCounts([]float64{[]float64{0, 1, 7, 60, 300}[i]}) },
		"shares": func(i int) kernel {
			return newShares([]float64{[]float64{0, 1, 7, 30, 300}[i]}, []float64{[]float64{1, 1, 9, 60, 900}[i]})
		},
	} {
		for i := range 5 {
			k := k(i)
			at := func(eta, kappa float64) (l, l1, w float64) {
				var a, b [1]float64
				l = k.inner([]float64{eta}, kappa, a[:], b[:])
				return l, a[0], b[0]
			}
			for _, eta := range []float64{-3, -0.4, 0.2, 2, 4.5} {
				for _, kappa := range []float64{2 * h, 0.02, 0.2, 1.5} {
					_, l1, w := at(eta, kappa)
					var third, firstK, secondK [1]float64
					lk := k.outer([]float64{eta}, kappa, third[:], firstK[:], secondK[:])
					up, upD, upW := at(eta+h, kappa)
					dn, dnD, dnW := at(eta-h, kappa)
					hk := min(h, kappa/200)
					ku, kuD, kuW := at(eta, kappa+hk)
					kd, kdD, kdW := at(eta, kappa-hk)
					for j, c := range [][2]float64{
						{l1, (up - dn) / 2 / h}, {-w, (upD - dnD) / 2 / h}, {third[0], -(upW - dnW) / 2 / h},
						{lk, (ku - kd) / 2 / hk}, {firstK[0], (kuD - kdD) / 2 / hk}, {secondK[0], -(kuW - kdW) / 2 / hk},
					} {
						if !(math.Abs(c[0]-c[1]) <= 2e-4*max(1, math.Abs(c[1]))) {
							t.Errorf("%s row %d η=%g κ=%g derivative %d: %.8g, difference %.8g", name, i, eta, kappa, j, c[0], c[1])
						}
					}
				}
			}
		}
	}
}
