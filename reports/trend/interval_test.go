package trend

import (
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Compared against Newcombe 1998, Stat Med 17, table I, method 3.
func TestWilsonIntervalAgreesWithNewcombe(t *testing.T) {
	for _, c := range []struct{ x, n, lo, hi float64 }{
		{81, 263, .2553, .3662}, {15, 148, .0624, .1605}, {0, 20, 0, .1611}, {1, 29, .0061, .1718},
	} {
		iv, ok := WilsonInterval(c.x, c.n, 0.95)
		if !ok {
			t.Fatalf("%g/%g: no interval", c.x, c.n)
		}
		near(t, "lower", iv.Lo, c.lo, 5e-5)
		near(t, "upper", iv.Hi, c.hi, 5e-5)
	}
	if iv, _ := WilsonInterval(0, 7, 0.95); iv.Lo != 0 {
		t.Errorf("no success: lower end %g, want exactly 0", iv.Lo)
	}
	if iv, _ := WilsonInterval(7, 7, 0.95); iv.Hi != 1 {
		t.Errorf("all successes: upper end %g, want exactly 1", iv.Hi)
	}
}

// Compared against Garwood 1936, Biometrika 28.
func TestPoissonIntervalAgreesWithGarwood(t *testing.T) {
	for _, c := range []struct{ y, lo, hi float64 }{
		{0, 0, 3.689}, {1, .0253, 5.572}, {5, 1.623, 11.668}, {10, 4.795, 18.390}, {19, 11.439, 29.671},
	} {
		iv, ok := PoissonInterval(c.y, 1, 0.95)
		if !ok {
			t.Fatalf("%g: no interval", c.y)
		}
		near(t, "lower", iv.Lo, c.lo, 5e-4/max(1, c.lo))
		near(t, "upper", iv.Hi, c.hi, 5e-4/max(1, c.hi))
		rate, _ := PoissonInterval(c.y, 0.5, 0.95)
		near(t, "upper of a rate over half a match", rate.Hi, 2*iv.Hi, 1e-12)
	}
}

// Compared against binomial tables (Conover, Practical Nonparametric Statistics).
func TestMedianLimitsAreThePublishedRanks(t *testing.T) {
	for _, c := range []struct{ n, lo, hi int }{{10, 2, 9}, {15, 4, 12}, {20, 6, 15}, {25, 8, 18}} {
		x := make([]float64, c.n)
		for i := range x {
			x[(i*7)%c.n] = float64(i + 1) // out of order where 7 and n share no factor, complete for all four
		}
		median, iv, ok := MedianInterval(x, 0.95)
		if !ok || iv != (Interval{float64(c.lo), float64(c.hi)}) {
			t.Errorf("n = %d: ranks %v, want %d–%d", c.n, iv, c.lo, c.hi)
		}
		near(t, "median", median, float64(c.n+1)/2, 1e-12)
	}
}

// P(all six on one side of the median) = 2/64 < 0.05 < 2/32.
func TestMedianHasNoLimitsBelowSixValues(t *testing.T) {
	if _, _, ok := MedianInterval([]float64{1, 2, 3, 4, 5}, 0.95); ok {
		t.Error("five values gave 95 % limits")
	}
	if _, iv, ok := MedianInterval([]float64{6, 5, 4, 3, 2, 1}, 0.95); !ok || iv != (Interval{1, 6}) {
		t.Errorf("six values: %v, %v", iv, ok)
	}
}

// For every n the chosen ranks cover at least 95 %, and the next ones inside do not (the definition, from the binomial
// distribution of an independent library).
func TestMedianRanksAreTheNarrowestThatCover(t *testing.T) {
	for n := 1; n <= 300; n++ {
		b := distuv.Binomial{N: float64(n), P: 0.5}
		r := medianRank(n, 0.95)
		if r > 0 && b.CDF(float64(r-1)) > 0.025+1e-12 {
			t.Errorf("n = %d: rank %d covers less than 95 %%", n, r)
		}
		if b.CDF(float64(r)) <= 0.025-1e-12 {
			t.Errorf("n = %d: rank %d is wider than needed", n, r)
		}
	}
}

// Compared against R 4.2.2 on player p01 of squad_season.csv:
// w <- s[s$player=="p01"&s$carries>0,]; f <- lm(I(metres/carries)~1, weights=carries, data=w); coef(f); confint(f)
func TestMeanIntervalAgreesWithWeightedLeastSquares(t *testing.T) {
	mean, iv, ok := MeanInterval(squadSeason(t, "metres", "carries")[0], 0.95)
	if !ok {
		t.Fatal("no interval")
	}
	near(t, "mean", mean, 3.65230769231, 1e-11)
	near(t, "lower", iv.Lo, 2.83657501603, 1e-9)
	near(t, "upper", iv.Hi, 4.46804036858, 1e-9)
}

// Compared against Student 1908, Biometrika 6, section IX: additional sleep of ten patients under the second drug,
// mean 2.33 hours; R 4.2.2 t.test(sleep$extra[11:20])$conf.int gives 0.8976775 and 3.7623225.
func TestMeanIntervalOfEqualWeightsIsStudents(t *testing.T) {
	var ms []Match
	for _, x := range []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4} {
		ms = append(ms, Match{x, 1})
	}
	mean, iv, _ := MeanInterval(ms, 0.95)
	near(t, "mean", mean, 2.33, 1e-12)
	near(t, "lower", iv.Lo, 0.8976775, 1e-7)
	near(t, "upper", iv.Hi, 3.7623225, 1e-7)
}

func TestMeanIntervalNeedsTwoMatches(t *testing.T) {
	if mean, _, ok := MeanInterval([]Match{{6, 2}, {9, 0}}, 0.95); ok || mean != 3 {
		t.Errorf("one match with actions: mean %g, interval %v", mean, ok)
	}
}

func TestImpossibleInputGivesNoInterval(t *testing.T) {
	for _, m := range []Match{{-1, 3}, {1, 0}, {1, -1}} {
		for _, f := range []Family{Rate, Proportion, Mean} {
			if iv, ok := MatchInterval(f, m, 0.95); ok {
				t.Errorf("%s %v: %v", f, m, iv)
			}
		}
	}
	if iv, ok := MatchInterval(Proportion, Match{4, 3}, 0.95); ok {
		t.Errorf("4 successes of 3: %v", iv)
	}
	if iv, ok := MatchInterval(Rate, Match{4, 1}, 1); ok {
		t.Errorf("certainty: %v", iv)
	}
	if iv, ok := MatchInterval(Rate, Match{4, 1}, 0.95); !ok || iv.Lo > 4 || iv.Hi < 4 {
		t.Errorf("4 in a full match: %v, %v", iv, ok)
	}
}
