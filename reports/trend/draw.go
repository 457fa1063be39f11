package trend

import (
	"math"
	"math/rand/v2"
)

// drawCount draws from the negative binomial as a gamma mixture of Poissons.
func drawCount(random *rand.Rand, mu, kappa float64) float64 {
	if kappa > 1e-9 {
		mu *= drawGamma(random, 1/kappa) * kappa
	}
	return drawPoisson(random, mu)
}

// drawSuccesses draws from the beta-binomial.
func drawSuccesses(random *rand.Rand, n, p, kappa float64) (y float64) {
	if kappa > 1e-9 {
		a, b := drawGamma(random, p/kappa), drawGamma(random, (1-p)/kappa)
		if a+b > 0 {
			p = a / (a + b)
		}
	}
	if n > countable {
		return math.Round(min(max(n*p+math.Sqrt(n*p*(1-p))*random.NormFloat64(), 0), n))
	}
	for range int(n) {
		if random.Float64() < p {
			y++
		}
	}
	return y
}

// drawGamma draws a gamma of a shape, scale 1: Marsaglia & Tsang 2000, ACM Trans Math Softw 26.
func drawGamma(random *rand.Rand, shape float64) float64 {
	if shape < 1 {
		return drawGamma(random, shape+1) * math.Pow(random.Float64(), 1/shape)
	}
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := random.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v *= v * v
		if u := random.Float64(); math.Log(u) < 0.5*x*x+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

// drawPoisson multiplies uniforms for small means and halves large ones through a gamma (Ahrens & Dieter 1974,
// Computing 12).
func drawPoisson(random *rand.Rand, mu float64) (y float64) {
	for mu > 15 {
		m := math.Floor(mu * 7 / 8)
		g := drawGamma(random, m)
		if g > mu { // the m-th event comes after the end: how many of the m−1 before it
			p := mu / g
			for range int(m) - 1 {
				if random.Float64() < p {
					y++
				}
			}
			return y
		}
		y += m
		mu -= g
	}
	limit := math.Exp(-mu)
	for p := random.Float64(); p > limit; p *= random.Float64() {
		y++
	}
	return y
}
