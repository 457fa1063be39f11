package trend

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// kernel is the log-likelihood ℓ_i(η_i, κ) of the rows of a count family, κ ≥ 0 being the overdispersion (1/θ, 1/φ).
// A dash stands for ∂/∂η.
type kernel interface {
	// inner fills ℓ' and w = −ℓ″ and gives Σ ℓ, −Inf when an η is beyond what numbers hold.
	inner(eta []float64, kappa float64, first, w []float64) float64
	// outer fills ℓ‴, ∂ℓ'/∂κ and ∂ℓ″/∂κ and gives Σ ∂ℓ/∂κ.
	outer(eta []float64, kappa float64, third, firstK, secondK []float64) float64
	// fisher gives an always positive stand-in for w of row i, to search with.
	fisher(i int, eta, kappa float64) float64
}

// counts is the negative binomial with mean μ = e^η and variance μ + κμ², κ = 1/θ; κ = 0 is the Poisson:
//
//	ℓ      = Σ_{j<y} log(1 + jκ) − log y! + yη − (y + 1/κ) log(1 + κμ)
//	ℓ'     = (y − μ)/(1 + κμ)
//	ℓ″     = −(1 + κy) μ/(1 + κμ)²
//	ℓ‴     = −(1 + κy) μ (1 − κμ)/(1 + κμ)³
//	∂ℓ/∂κ  = Σ_{j<y} j/(1 + jκ) − yμ/(1 + κμ) − ∂g/∂κ,   g = log(1 + κμ)/κ,   ∂g/∂κ = (μ/(1 + κμ) − g)/κ
//	∂ℓ'/∂κ = −μ (y − μ)/(1 + κμ)²
//	∂ℓ″/∂κ = −μ (y − 2μ − κμy)/(1 + κμ)³
type counts struct {
	y        []float64
	constant float64 // −Σ log y!
	all      tally   // of every row together: the rising terms do not depend on η
}

func newCounts(y []float64) *counts {
	c := &counts{y: y}
	// Terms taken one by one are merged over the rows; panels stay as they are, one set for each distinct count.
	rows := map[float64]float64{}
	for _, v := range y {
		rows[v]++
		g, _ := math.Lgamma(v + 1)
		c.constant -= g
	}
	direct := make([]float64, tallied)
	for v, n := range rows {
		for j := range min(int(v), tallied) {
			direct[j] += n
		}
	}
	for j, w := range direct {
		if w > 0 {
			c.all.x, c.all.w = append(c.all.x, float64(j)), append(c.all.w, w)
		}
	}
	for _, v := range sortedKeys(rows) {
		if v > tallied {
			t := newTally(int(v))
			for j := tallied; j < len(t.x); j++ {
				c.all.x, c.all.w = append(c.all.x, t.x[j]), append(c.all.w, t.w[j]*rows[v])
			}
		}
	}
	return c
}

const (
	beyond    = 80   // of η: e^80 is no count of anything, and products of eight e^−80 are still numbers
	dispersed = 1e12 // of κ, likewise
)

func (c *counts) inner(eta []float64, kappa float64, first, w []float64) float64 {
	l := c.constant
	if kappa > 0 {
		for j, x := range c.all.x {
			l += c.all.w[j] * math.Log1p(x*kappa)
		}
	}
	for i, y := range c.y {
		h := eta[i]
		if !(math.Abs(h) < beyond && kappa < dispersed) {
			return math.Inf(-1)
		}
		mu := math.Exp(h)
		x := kappa * mu
		v := 1 / (1 + x)
		if x < 0.01 {
			g, _ := logOver(x)
			l += y*(h-x*g) - mu*g
		} else {
			l += y*h - (y+1/kappa)*math.Log1p(x)
		}
		first[i] = (y - mu) * v
		w[i] = (1 + kappa*y) * mu * v * v
	}
	return l
}

// logOver gives log(1+x)/x and its derivative by x.
func logOver(x float64) (v, slope float64) {
	if x < 0.01 {
		for k := 12; k >= 1; k-- { // Σ (−x)^(k−1)/k
			v = 1/float64(k) - x*v
		}
		for k := 12; k >= 2; k-- { // −Σ (k−1)(−x)^(k−2)/k
			slope = float64(k-1)/float64(k) - x*slope
		}
		return v, -slope
	}
	v = math.Log1p(x) / x
	return v, (1/(1+x) - v) / x
}

func (c *counts) outer(eta []float64, kappa float64, third, firstK, secondK []float64) float64 {
	var lk float64
	for j, x := range c.all.x {
		lk += c.all.w[j] * x / (1 + x*kappa)
	}
	for i, y := range c.y {
		mu := math.Exp(eta[i])
		x := kappa * mu
		v := 1 / (1 + x)
		mv2 := mu * v * v
		_, slope := logOver(x) // g = μ·log(1+x)/x, so ∂g/∂κ = μ²·slope
		lk -= y*mu*v + mu*mu*slope
		third[i] = -(1 + kappa*y) * mv2 * v * (1 - x)
		firstK[i] = -mv2 * (y - mu)
		secondK[i] = -mv2 * v * (y - 2*mu - x*y)
	}
	return lk
}

func (c *counts) fisher(i int, eta, kappa float64) float64 {
	mu := math.Exp(eta)
	return mu / (1 + kappa*mu)
}

// shares is the beta-binomial with mean p = 1/(1 + e^−η) and precision φ = 1/κ; κ = 0 is the binomial. With q = 1 − p,
//
//	ℓ = log C(n, y) + Σ_{j<y} log(p + jκ) + Σ_{j<n−y} log(q + jκ) − Σ_{j<n} log(1 + jκ)
//
// and with A_k = Σ_{j<y} (p + jκ)^−k, B_k = Σ_{j<y} j (p + jκ)^−k, a star for the same of q and n − y,
//
//	f_p = A_1 − A_1*,   f_pp = −A_2 − A_2*,   f_ppp = 2A_3 − 2A_3*
//	f_κ = B_1 + B_1* − Σ_{j<n} j/(1 + jκ),   f_pκ = −B_2 + B_2*,   f_ppκ = 2B_3 + 2B_3*
//	p' = pq,   p″ = pq(q − p),   p‴ = pq(1 − 6pq)
//	ℓ' = f_p p',   ℓ″ = f_pp p'² + f_p p″,   ℓ‴ = f_ppp p'³ + 3 f_pp p' p″ + f_p p‴
//	∂ℓ/∂κ = f_κ,   ∂ℓ'/∂κ = f_pκ p',   ∂ℓ″/∂κ = f_ppκ p'² + f_pκ p″
//
// It is not log-concave in η.
type shares struct {
	n        []float64
	won      []tally // y
	lost     []tally // n − y
	all      []tally // Σ over rows of the last sum, by distinct n
	times    []float64
	constant float64 // Σ log C(n, y)
}

func newShares(y, n []float64) *shares {
	s := &shares{n: n}
	made := map[float64]tally{}
	get := func(v float64) tally {
		t, ok := made[v]
		if !ok {
			t = newTally(int(v))
			made[v] = t
		}
		return t
	}
	rows := map[float64]float64{}
	for i := range y {
		s.won, s.lost = append(s.won, get(y[i])), append(s.lost, get(n[i]-y[i]))
		rows[n[i]]++
		s.constant += logChoose(n[i], y[i])
	}
	for _, v := range sortedKeys(rows) {
		s.all, s.times = append(s.all, get(v)), append(s.times, rows[v])
	}
	return s
}

func logChoose(n, y float64) float64 {
	a, _ := math.Lgamma(n + 1)
	b, _ := math.Lgamma(y + 1)
	c, _ := math.Lgamma(n - y + 1)
	return a - b - c
}

// logit gives p and 1 − p, each with all its digits.
func logit(eta float64) (p, q float64) {
	e := math.Exp(-math.Abs(eta))
	p, q = 1/(1+e), e/(1+e)
	if eta < 0 {
		p, q = q, p
	}
	return p, q
}

func (s *shares) inner(eta []float64, kappa float64, first, w []float64) float64 {
	l := s.constant
	if kappa > 0 {
		for j, t := range s.all {
			l -= s.times[j] * t.logs(1, kappa)
		}
	}
	for i, h := range eta {
		if !(math.Abs(h) < beyond && kappa < dispersed) {
			return math.Inf(-1)
		}
		p, q := logit(h)
		l += s.won[i].logs(p, kappa) + s.lost[i].logs(q, kappa)
		a1, a2 := s.won[i].powers(p, kappa)
		b1, b2 := s.lost[i].powers(q, kappa)
		pq := p * q
		first[i] = (a1 - b1) * pq
		w[i] = (a2+b2)*pq*pq - first[i]*(q-p)
	}
	return l
}

func (s *shares) outer(eta []float64, kappa float64, third, firstK, secondK []float64) float64 {
	var lk float64
	for j, t := range s.all {
		_, m1, _, _ := t.moments(1, kappa)
		lk -= s.times[j] * m1
	}
	for i, h := range eta {
		p, q := logit(h)
		a1, a2 := s.won[i].powers(p, kappa)
		b1, b2 := s.lost[i].powers(q, kappa)
		a3, am1, am2, am3 := s.won[i].moments(p, kappa)
		b3, bm1, bm2, bm3 := s.lost[i].moments(q, kappa)
		pq, d := p*q, q-p
		lk += am1 + bm1
		third[i] = pq * (2*(a3-b3)*pq*pq - 3*(a2+b2)*pq*d + (a1-b1)*(1-6*pq))
		firstK[i] = (bm2 - am2) * pq
		secondK[i] = 2*(am3+bm3)*pq*pq + firstK[i]*d
	}
	return lk
}

func (s *shares) fisher(i int, eta, kappa float64) float64 {
	p, q := logit(eta)
	n := s.n[i]
	return n * p * q * (1 + kappa) / (1 + n*kappa)
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }
