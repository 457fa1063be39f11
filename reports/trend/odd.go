package trend

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

const oddTail = 0.01 // a match with less than this share further out on its side is out of the ordinary

// oddMatches finds the matches that do not fit their player. Each is judged by what the others say about it: at the
// mode of ψ, the row's own contribution, normal with precision w and score ℓ', is taken out of the distribution of
// its η (exact for the normal families),
//
//	variance v/(1 − wv),   mean η̂ − v ℓ'/(1 − wv)
//
// Source: the cavity distribution, e.g. Vehtari, Mononen, Tolvanen, Sivula & Winther 2016, JMLR 17, §3.
func (s *season) oddMatches(r *Result, d Data, g design, m *laplaceModel, h *hyper, psi []float64) {
	h.set(m, psi)
	if !m.mode() {
		return
	}
	sys := m.sys
	sys.invert()
	sys.traces(m.w, m.h, m.trace)
	freedom := float64(len(sys.row))
	for k := range sys.row {
		freedom -= m.w[k] * m.h[k]
	}
	at := map[string]int{}
	r.apart = apart{}
	for i := range r.Players {
		at[r.Players[i].Name] = i
	}
	for k, i := range sys.row {
		row := g.rows[i]
		rest := 1 - m.w[k]*m.h[k]
		if !(rest > 1e-6) {
			continue
		}
		v := max(m.h[k]/rest, 0)
		mean := m.eta[k] - v*m.first[k]
		w := without{row: row, mean: mean, sd: math.Sqrt(v), kappa: m.kappa, action: g.trials[i],
			trials: d.trialsOf(row), opponent: s.opponent(d, row)}
		r.apart[d.Player[row]] = append(r.apart[d.Player[row]], w)
		one, value := s.figure(w), d.Value[row]
		if math.Abs(value-one.mean()) < 2*one.spread() { // cannot be in a tail of a hundredth, and most are not
			continue
		}
		tail := one.tail(value, freedom)
		if tail < oddTail {
			p := &r.Players[at[d.Player[row]]]
			match := ""
			if d.Match != nil {
				match = d.Match[row]
			}
			p.Odd = append(p.Odd, OddMatch{Row: row, Match: match, Value: value, Expected: one.mean(), Tail: max(tail, 0)})
		}
	}
}

// tail is the share of figures at least as far out on the side of a value. The σ of a normal figure was estimated with
// the row in it, which hides a row that is far out among few. With z its distance in units of that σ, on ν degrees of
// freedom, the distance in units of a σ without it is z √((ν − 1)/(ν − z²)), which has Student's distribution on ν −
// 1: the externally studentised residual, Cook & Weisberg 1982, Residuals and Influence in Regression, §2.2.
func (d predictive) tail(value, freedom float64) float64 {
	if d.normal == nil {
		less, equal := d.below(value)
		return min(less+equal, 1-less)
	}
	mean, sd := d.normal.moments()
	z := math.Abs(value-mean) / sd
	if !(freedom > 3) {
		return phi(-z)
	}
	if z*z >= freedom {
		return 0
	}
	t := z * math.Sqrt((freedom-1)/(freedom-z*z))
	return distuv.StudentsT{Sigma: 1, Nu: freedom - 1}.CDF(-t)
}

// trialsOf gives a row's trials, 1 without a column.
func (d Data) trialsOf(i int) float64 {
	if d.Trials == nil {
		return 1
	}
	return d.Trials[i]
}
