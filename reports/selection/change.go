package selection

import (
	"cmp"
	"math"
	"slices"

	"throughline/models"
)

// What would change the order of the candidates, which is that of the means of their composites.
//
// The share of criterion k is s_k = w_k / Σ w, and m_ik is the mean of candidate i's standardised level: the mean of
// their composite is M_i = Σ_k s_k m_ik.
//
// # A change of one weight
//
// Let the share of k be x, between 0 and 1, and rescale the others in proportion: s_j becomes
// s_j (1 − x) / (1 − s_k).
// For a ahead of b, with d_j = m_aj − m_bj,
//
//	M_a − M_b = x d_k + (1 − x) r,   r = Σ_j≠k s_j d_j / (1 − s_k)
//
// which is linear in x, and 0 at x = r / (r − d_k). Because a is ahead at s_k, b is ahead for some share only where r
// and d_k have opposite signs: for shares above x where d_k < 0, below x where r < 0. Otherwise no share of k swaps
// them, and so where k is the only criterion.
//
// # More evidence
//
// Suppose candidate c's level on k were known, as z. Draws of different criteria are independent, so only k tells of
// the others, as far as their levels on it vary with c's. By the regression of joint normals, from memory,
//
//	E(M_i | z) = M_i + s_k β_i (z − m_ck),   β_i = Cov(Z_ik, Z_ck) / Var(Z_ck),   β_c = 1
//
// A candidate a of the first few and one b of the rest change places where (M_a − M_b) + s_k (β_a − β_b) t < 0,
// for t = z − m_ck. So the first few stay the same for t in an interval around 0. The chance that they do not is the
// share of c's draws outside it: the evidence is judged before it is seen (preposterior analysis: Raiffa and
// Schlaifer 1961, Applied Statistical Decision Theory; from memory). For two candidates whose levels are independent
// and normal it is Φ(−(M_a − M_b) / (s_k σ_ck)).

// Turn is the share of one criterion from which one candidate is ahead of another who is ahead now, while the other
// criteria keep their proportions.
type Turn struct {
	PlayerID  int64    `json:"player_id"`    // who is ahead now
	OtherID   int64    `json:"other_id"`     // who would be ahead
	Criterion string   `json:"criterion"`    // its label
	Share     float64  `json:"share"`        // of the weights that enter, now; 0 to 1
	At        *float64 `json:"at,omitempty"` // the share at which they are level; absent where none swaps them
	Above     bool     `json:"above"`        // true where greater shares swap them, false where smaller ones do
}

// by is how far the share must move.
func (t Turn) by() float64 { return math.Abs(*t.At - t.Share) }

// Resolved says what it would do to the order if a candidate's level on one criterion were known exactly.
type Resolved struct {
	PlayerID  int64   `json:"player_id"` // the candidate
	Criterion string  `json:"criterion"` // its label
	Chance    float64 `json:"chance"`    // that others would be the first ones, see Place.First
}

// standing is what the order of candidates stands on: shares by criterion, and levels by candidate and criterion.
type standing struct {
	shares []float64
	z      [][]models.Draws
	m      [][]float64 // means of z
	means  []float64   // of composites
	order  []int       // of candidates, by means; equal ones as they were written down
	first  int         // how many of the order are looked at together: a change is one between them and the rest
}

// standingOf orders candidates by their composites. There are at least two, and each has every level.
func standingOf(z [][]models.Draws, weights []float64, wanted int) *standing {
	s := &standing{z: z, first: wanted}
	if s.first >= len(z) {
		s.first = 1
	}
	total := 0.0
	for _, w := range weights {
		total += w
	}
	for _, w := range weights {
		s.shares = append(s.shares, w/total)
	}
	for i := range z {
		own, composed := make([]float64, len(weights)), 0.0
		for k := range weights {
			own[k] = mean(z[i][k])
			composed += s.shares[k] * own[k]
		}
		s.m, s.means, s.order = append(s.m, own), append(s.means, composed), append(s.order, i)
	}
	slices.SortStableFunc(s.order, func(a, b int) int { return cmp.Compare(s.means[b], s.means[a]) })
	return s
}

// turn is the share of k at which b is level with a, who is ahead, and whether greater shares have b ahead. It is NaN
// where b is ahead for no share.
func (s *standing) turn(a, b, k int) (at float64, above bool) {
	rest := 0.0
	for j, share := range s.shares {
		if j != k {
			rest += share * (s.m[a][j] - s.m[b][j])
		}
	}
	d, r := s.m[a][k]-s.m[b][k], rest/(1-s.shares[k])
	if len(s.shares) == 1 || !(d < 0 && r >= 0) && !(d >= 0 && r < 0) {
		return math.NaN(), false
	}
	return r / (r - d), d < 0
}

// lead are the two candidates, one of the first few and one of the rest, who change places first as the share of k
// grows, or falls. It is false where none do.
func (s *standing) lead(k int, above bool) (a, b int, at float64, found bool) {
	for _, one := range s.order[:s.first] {
		for _, other := range s.order[s.first:] {
			x, up := s.turn(one, other, k)
			if math.IsNaN(x) || up != above || found && math.Abs(x-s.shares[k]) >= math.Abs(at-s.shares[k]) {
				continue
			}
			a, b, at, found = one, other, x, true
		}
	}
	return a, b, at, found
}

// resolved is the chance that others would be the first few if c's level on k were known.
func (s *standing) resolved(c, k int) float64 {
	own, middle := s.z[c][k], s.m[c][k]
	spread := covariance(own, own, middle, middle)
	if spread == 0 {
		return 0
	}
	slope := make([]float64, len(s.z))
	for i := range s.z {
		slope[i] = s.shares[k] * covariance(s.z[i][k], own, s.m[i][k], middle) / spread
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	for _, a := range s.order[:s.first] {
		for _, b := range s.order[s.first:] {
			switch t := -(s.means[a] - s.means[b]) / (slope[a] - slope[b]); {
			case slope[a] < slope[b]:
				hi = min(hi, t)
			case slope[a] > slope[b]:
				lo = max(lo, t)
			}
		}
	}
	outside := 0
	for _, z := range own {
		if t := z - middle; t < lo || t > hi {
			outside++
		}
	}
	return float64(outside) / float64(len(own))
}

func covariance(x, y models.Draws, mx, my float64) float64 {
	sum := 0.0
	for d := range min(len(x), len(y)) {
		sum += (x[d] - mx) * (y[d] - my)
	}
	return sum / float64(len(x))
}

// change finds what would change the order of the candidates of a place who have a composite.
func (r *reader) change(p *Place, in []int, weights []float64, criteria []int) {
	z := make([][]models.Draws, len(in))
	for n, i := range in {
		for _, k := range criteria {
			z[n] = append(z[n], p.Candidates[i].z[k])
		}
	}
	s := standingOf(z, weights, p.Wanted)
	p.First = s.first
	player := func(n int) int64 { return p.Candidates[in[n]].PlayerID }
	for _, n := range s.order {
		p.Order = append(p.Order, player(n))
	}
	turn := func(a, b, k int, at float64, above bool) Turn {
		t := Turn{PlayerID: player(a), OtherID: player(b), Criterion: r.m.Criteria[criteria[k]].Label, Share: s.shares[k],
			Above: above}
		if !math.IsNaN(at) {
			t.At = &at
		}
		return t
	}
	for n, b := range s.order[1:] {
		for k := range criteria {
			at, above := s.turn(s.order[n], b, k)
			p.Turns = append(p.Turns, turn(s.order[n], b, k, at, above))
		}
	}
	for k, of := range criteria {
		for _, above := range []bool{false, true} {
			if a, b, at, found := s.lead(k, above); found {
				p.Leads = append(p.Leads, turn(a, b, k, at, above))
			}
		}
		if r.m.Criteria[of].InWords() {
			continue // a mark is known
		}
		for n := range in {
			p.Resolved = append(p.Resolved, Resolved{PlayerID: player(n), Criterion: r.m.Criteria[of].Label,
				Chance: s.resolved(n, k)})
		}
	}
}
