package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// poissonPlace is where a count falls among a Poisson's.
func poissonPlace(y int, mean float64) Place {
	var p Place
	for k := range y + 1 {
		p.Below = p.UpTo
		p.UpTo += math.Exp(logNegativeBinomial(float64(k), mean, 0))
	}
	return p
}

// Compared against the same sums worked out in another language from the definition in Czado, Gneiting & Held 2009:
// four forecasts Poisson(2), whose outcomes were 0, 1, 2 and 4.
func TestTheHistogramOfCountsSpreadsEachOverItsStep(t *testing.T) {
	var places []Place
	for _, y := range []int{0, 1, 2, 4} {
		places = append(places, poissonPlace(y, 2))
	}
	near(t, "P(Y < 2)", places[2].Below, 0.4060058497098381, 1e-12)
	near(t, "P(Y ≤ 4)", places[3].UpTo, 0.9473469826562889, 1e-12)
	got := PITHistogram(places, 4)
	for i, want := range []float64{0.35590800309158277, 0.23090800309158283, 0.1631839938168344, 0.25} {
		near(t, fmt.Sprintf("bin %d", i+1), got[i], want, 1e-12)
	}
	var sum float64
	for _, v := range PITHistogram(append(places, Place{0.3, 0.3}, Place{0, 0}, Place{1, 1}), 4) {
		sum += v
	}
	near(t, "sum of the shares, with forecasts of continuous figures too", sum, 1, 1e-12)
}

func TestARandomisedTransformIsInItsStepAndTheSameAgain(t *testing.T) {
	p := Place{0.2, 0.7}
	a, b := p.Randomised(1, "one"), p.Randomised(1, "two")
	if a < 0.2 || a > 0.7 || b < 0.2 || b > 0.7 || a == b {
		t.Errorf("transforms %v and %v: want two different ones from 0.2 to 0.7", a, b)
	}
	if again := p.Randomised(1, "one"); again != a {
		t.Errorf("again %v, was %v", again, a)
	}
	if got := (Place{0.4, 0.4}).Randomised(1, "one"); got != 0.4 {
		t.Errorf("a continuous figure's transform is %v, want 0.4", got)
	}
}

// Compared against scikit-learn's documentation of brier_score_loss (0.0375, from memory), and against the partition
// worked out in exact fractions in another language: Score 9/50.
func TestTheBrierScoreAndItsPartition(t *testing.T) {
	small := []Happened{{Said: 0.1}, {Said: 0.9, Is: true}, {Said: 0.8, Is: true}, {Said: 0.3}}
	b, _ := BrierScore(small, 10)
	near(t, "score", b.Score, 0.0375, 1e-15)

	said := []float64{0.05, 0.1, 0.15, 0.25, 0.35, 0.4, 0.45, 0.55, 0.6, 0.7, 0.85, 0.95}
	is := []bool{false, false, true, false, false, true, false, true, false, true, true, true}
	var of []Happened
	for i := range said {
		of = append(of, Happened{Said: said[i], Is: is[i]})
	}
	b, _ = BrierScore(of, 5)
	near(t, "score", b.Score, 0.18, 1e-12)
	near(t, "reliability", b.Reliability, 0.04402777777777778, 1e-12)
	near(t, "resolution", b.Resolution, 0.09722222222222222, 1e-12)
	near(t, "uncertainty", b.Uncertainty, 0.25, 1e-12)
	near(t, "within", b.Within, -0.016805555555555556, 1e-12)
	near(t, "sum", b.Reliability-b.Resolution+b.Uncertainty+b.Within, b.Score, 1e-12)
	near(t, "skill", b.Skill, 0.28, 1e-12)
	if always, _ := BrierScore([]Happened{{Said: 1, Is: true}}, 5); always.Score != 0 || !math.IsNaN(always.Skill) {
		t.Errorf("what always happened has score %v and skill %v, want 0 and none", always.Score, always.Skill)
	}
	if _, ok := BrierScore(nil, 5); ok {
		t.Error("a score of no forecast")
	}
}

// Compared against the formula worked out in another language: clusters of 4 of 5, 1 of 5 and 3 of 6.
func TestAShareAllowsForClusters(t *testing.T) {
	var of []Happened
	for c, k := range [][2]int{{4, 5}, {1, 5}, {3, 6}} {
		for i := range k[1] {
			of = append(of, Happened{Is: i < k[0], Cluster: fmt.Sprint(c)})
		}
	}
	s, _ := ClusteredShare(of)
	near(t, "effective number", s.Effective, 9.481481481481481, 1e-12)
	near(t, "lower", s.Interval95.Lo, 0.23151621953254814, 1e-9)
	near(t, "upper", s.Interval95.Hi, 0.7684837804674519, 1e-9)
	// Every forecast a cluster of its own is Wilson's interval itself: Newcombe 1998, Stat Med 17, table I, method 3.
	of = nil
	for i := range 263 {
		of = append(of, Happened{Is: i < 81, Cluster: fmt.Sprint(i)})
	}
	s, _ = ClusteredShare(of)
	near(t, "lower, alone", s.Interval95.Lo, .2553, 1e-3) // C/(C − 1) leaves a trace
	near(t, "upper, alone", s.Interval95.Hi, .3662, 1e-3)
	all := []Happened{{Is: true, Cluster: "a"}, {Is: true, Cluster: "a"}, {Is: true, Cluster: "b"},
		{Is: true, Cluster: "b"}}
	if s, _ := ClusteredShare(all); s.Effective != 2 {
		t.Errorf("two clusters of two that share one fate are worth %v forecasts, want 2", s.Effective)
	}
}

func TestReliabilityKeepsWhatWasSaidBesideWhatHappened(t *testing.T) {
	of := []Happened{{Said: 0.1, Cluster: "a"}, {Said: 0.2, Is: true, Cluster: "b"}, {Said: 1, Is: true, Cluster: "c"}}
	bins := Reliability(of, 4)
	if len(bins) != 2 || bins[0].N != 2 || bins[1].N != 1 {
		t.Fatalf("bins %+v: want two forecasts in the first and one in the last", bins)
	}
	near(t, "said", bins[0].Said, 0.15, 1e-12)
	near(t, "happened", bins[0].Rate, 0.5, 1e-12)
	near(t, "said in the last", bins[1].Said, 1, 1e-12)
}

// Uniform transforms are seldom surprising, as often as they should be; transforms of forecasts that are too sure
// always are. Clusters that share their luck are no surprise either.
func TestUnevenTransformsAreASurpriseAndUniformOnesAreNot(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 1))
	surprised := func(draw func(cluster float64) float64) float64 {
		n := 0.0
		for range 200 {
			var pits []float64
			var clusters []string
			for c := range 60 {
				z := random.NormFloat64()
				for range 5 {
					pits, clusters = append(pits, draw(z)), append(clusters, fmt.Sprint(c))
				}
			}
			if UniformPIT(pits, clusters, 10).P < 0.05 {
				n++
			}
		}
		return n / 200
	}
	if got := surprised(func(float64) float64 { return random.Float64() }); got > 0.1 {
		t.Errorf("uniform transforms are a surprise in %v of runs, want about 0.05", got)
	}
	shared := func(z float64) float64 { return phi(0.7*z + math.Sqrt(1-0.49)*random.NormFloat64()) }
	if got := surprised(shared); got > 0.12 {
		t.Errorf("uniform transforms in clusters are a surprise in %v of runs, want about 0.05", got)
	}
	if got := surprised(func(float64) float64 { return phi(2 * random.NormFloat64()) }); got < 0.99 {
		t.Errorf("transforms of forecasts half as wide as they should be are a surprise in %v of runs", got)
	}
	if few := UniformPIT([]float64{0.1, 0.2}, []string{"a", "b"}, 10); !math.IsNaN(few.P) {
		t.Errorf("two transforms have a surprise of %v, want none", few.P)
	}
}
