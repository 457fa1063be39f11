package trend

import "math"

// measures is the normal kernel of Mean and Rating in season fits, κ = σ²: ℓ = −½ log(2πκ/n) − n (y − η)²/(2κ).
// Laplace's approximation is exact for it.
type measures struct{ y, n []float64 }

func (k *measures) inner(eta []float64, kappa float64, first, w []float64) (l float64) {
	for i, y := range k.y {
		w[i] = k.n[i] / kappa
		e := y - eta[i]
		first[i] = w[i] * e
		l += 0.5 * (math.Log(w[i]/(2*math.Pi)) - first[i]*e)
	}
	return l
}

func (k *measures) outer(eta []float64, kappa float64, third, firstK, secondK []float64) (lk float64) {
	for i, y := range k.y {
		w := k.n[i] / kappa
		e := y - eta[i]
		third[i] = 0
		firstK[i] = -w * e / kappa
		secondK[i] = w / kappa
		lk += 0.5 * (w*e*e - 1) / kappa
	}
	return lk
}

func (k *measures) fisher(i int, _, kappa float64) float64 { return k.n[i] / kappa }
