package selection

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
)

// levels are a standing of candidates whose levels are known: a number for each criterion.
func levels(weights []float64, first int, m ...[]float64) *standing {
	z := make([][]models.Draws, len(m))
	for i, own := range m {
		for _, x := range own {
			z[i] = append(z[i], models.Draws{x})
		}
	}
	return standingOf(z, weights, first)
}

// orderAt is the order of the candidates by composites worked out anew, with x as the share of k.
func (s *standing) orderAt(k int, x float64) []int {
	weights := make([]float64, len(s.shares))
	for j, share := range s.shares {
		weights[j] = share * (1 - x) / (1 - s.shares[k])
	}
	weights[k] = x
	order, means := slices.Clone(s.order), make([]float64, len(s.z))
	for i := range s.z {
		means[i] = mean(composite(s.z[i], weights))
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if means[a] > means[b] {
			return -1
		}
		return 1
	})
	return order
}

// ahead says whether a is before b in an order.
func ahead(order []int, a, b int) bool { return slices.Index(order, a) < slices.Index(order, b) }

// Composites are made again with the share of one criterion just before and just after that at which two candidates
// are said to change places, and over all shares where they are said not to.
func TestTheShareThatSwapsTwoIsWhereTheirCompositesMeet(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	const least = 1e-6
	swaps, never := 0, 0
	for range 200 {
		m := make([][]float64, 5)
		for i := range m {
			m[i] = []float64{random.NormFloat64(), random.NormFloat64(), random.NormFloat64()}
		}
		s := levels([]float64{1 + random.Float64(), 2 * random.Float64(), 1}, 1+random.IntN(3), m...)
		for k := range s.shares {
			for n, b := range s.order[1:] {
				a := s.order[n]
				at, above := s.turn(a, b, k)
				if math.IsNaN(at) {
					never++
					for x := 0.0; x < 1; x += 0.01 {
						if !ahead(s.orderAt(k, x), a, b) {
							t.Fatalf("%v of %v: no share is said to swap two, and %v does", s.shares, m, x)
						}
					}
					continue
				}
				swaps++
				side := -least
				if above {
					side = least
				}
				if !ahead(s.orderAt(k, at-side), a, b) || ahead(s.orderAt(k, at+side), a, b) || above != (at > s.shares[k]) {
					t.Fatalf("%v of %v: a share of %v does not swap two", s.shares, m, at)
				}
			}
			for _, above := range []bool{false, true} {
				s.leadIsNearest(t, k, above)
			}
		}
	}
	if swaps < 100 || never < 100 {
		t.Errorf("%d swaps and %d without one were tried", swaps, never)
	}
}

// leadIsNearest looks in small steps for the nearest share of k at which others are the first ones.
func (s *standing) leadIsNearest(t *testing.T, k int, above bool) {
	t.Helper()
	const step = 0.002
	by := -step
	if above {
		by = step
	}
	_, _, at, found := s.lead(k, above)
	for x := s.shares[k]; x >= 0 && x <= 1; x += by {
		same := true
		for _, i := range s.orderAt(k, x)[:s.first] {
			same = same && slices.Contains(s.order[:s.first], i)
		}
		if !same {
			if !found || math.Abs(x-at) > step {
				t.Fatalf("others are first at a share of %v; said to be at %v, %v", x, at, found)
			}
			return
		}
	}
	if found && (at > step && at < 1-step) {
		t.Fatalf("others are said to be first at a share of %v, and are at none", at)
	}
}

// With one criterion its share is 1 whatever its weight, and who is better at everything is ahead for all weights.
func TestSomeOrdersNoWeightChanges(t *testing.T) {
	for about, s := range map[string]*standing{
		"one criterion":        levels([]float64{3}, 1, []float64{1}, []float64{0.9}),
		"better at everything": levels([]float64{3, 1}, 1, []float64{1, 0.5}, []float64{0.9, 0.4}),
		"level on the rest":    levels([]float64{3, 1}, 1, []float64{1, 0.5}, []float64{0.9, 0.5}),
	} {
		for k := range s.shares {
			if at, _ := s.turn(0, 1, k); !math.IsNaN(at) {
				t.Errorf("%s: the share %v of criterion %d is said to swap them", about, at, k)
			}
		}
	}
}

// For two candidates with independent normal levels, the chance that a is behind once Z_ak ~ N(m, σ²) is known is
// P(M_a − M_b + s_k (Z_ak − m) < 0) = Φ(−(M_a − M_b) / (s_k σ)). A third who is last can only come first by
// their own.
func TestTheChanceThatEvidenceChangesTheOrderIsThatOfNormals(t *testing.T) {
	weights := []float64{3, 1}
	laws := []distuv.Normal{{Mu: 0.5, Sigma: 0.6}, {Mu: 0.2, Sigma: 0.3}, {Mu: 0.3, Sigma: 0.2}, {Mu: 0.1, Sigma: 1.5},
		{Mu: 0, Sigma: 0.9}, {Mu: 0, Sigma: 0.4}}
	z := normals(200_000, laws...)
	s := standingOf([][]models.Draws{{z[0], z[1]}, {z[2], z[3]}, {z[4], z[5]}}, weights, 1)
	composed := func(i int) float64 { return 0.75*laws[2*i].Mu + 0.25*laws[2*i+1].Mu }
	for i, against := range []int{1, 0, 0} {
		for k, share := range s.shares {
			want := distuv.UnitNormal.CDF(-math.Abs(composed(i)-composed(against)) / (share * laws[2*i+k].Sigma))
			near(t, "the chance that who comes first changes", s.resolved(i, k), want, 0.004)
		}
	}
	// with two wanted, the second and the third are compared: the first may fall behind the third, and the
	// third may pass the second
	s = standingOf(s.z, weights, 2)
	for i, against := range []int{2, 2, 1} {
		want := distuv.UnitNormal.CDF(-math.Abs(composed(i)-composed(against)) / (0.75 * laws[2*i].Sigma))
		near(t, "the chance that the first two change", s.resolved(i, 0), want, 0.004)
	}
}

// Levels with a common part C and own parts: Z_a = C + A, Z_b = C + B. Once Z_a is known, the part of it that is common
// moves b too, by β = Var(C) / (Var(C) + Var(A)), so the chance is Φ(−(m_a − m_b) / ((1 − β) σ_a)).
func TestEvidenceThatSaysAsMuchOfBothChangesLess(t *testing.T) {
	const a, b, common, own = 0.4, 0.1, 0.8, 0.4
	z := normals(200_000, distuv.UnitNormal, distuv.UnitNormal, distuv.UnitNormal)
	first, second := make(models.Draws, len(z[0])), make(models.Draws, len(z[0]))
	for d := range z[0] {
		first[d], second[d] = a+common*z[0][d]+own*z[1][d], b+common*z[0][d]+own*z[2][d]
	}
	spread := math.Hypot(common, own)
	slope := common * common / (spread * spread)
	s := standingOf([][]models.Draws{{first}, {second}}, []float64{1}, 1)
	near(t, "the chance", s.resolved(0, 0), distuv.UnitNormal.CDF(-(a-b)/((1-slope)*spread)), 0.004)
	same := standingOf([][]models.Draws{{first}, {first}}, []float64{1}, 1)
	if got := same.resolved(0, 0); got != 0 {
		t.Errorf("knowing what two share changes their order with a chance of %v", got)
	}
	marks := standingOf([][]models.Draws{{marked(4)}, {marked(3)}}, []float64{1}, 1)
	if got := marks.resolved(0, 0); got != 0 {
		t.Errorf("a mark that is known changes the order with a chance of %v", got)
	}
}
