package trend

import (
	"math"
	"math/rand/v2"
	"testing"
)

// By hand: grades 2, 2 by one coach and 4, 4 by another have mean 3, sums −2 and 2, V = 2·8/16 = 1, and t of one
// degree 12.706 (tables): the whole scale. Grades 3, 4 by each of three coaches: their sums are 0, so that independent
// grades decide: s² = 1.5/5 = 0.3, and 3.5 ± 2.571 √(0.3/6).
func TestTheMeanOfGradesAllowsForCoachesAndStaysOnTheScale(t *testing.T) {
	half := 2.5706 * math.Sqrt(0.3/6)
	equal := 3.1824 * math.Sqrt(1.0/12/4)
	for _, c := range []struct {
		grades   []Grade
		mean     float64
		interval Interval
		ok       bool
	}{
		{[]Grade{{"a", 2}, {"a", 2}, {"b", 4}, {"b", 4}}, 3, Interval{1, 5}, true},
		{[]Grade{{"a", 3}, {"a", 4}, {"b", 3}, {"b", 4}, {"c", 3}, {"c", 4}}, 3.5, Interval{3.5 - half, 3.5 + half}, true},
		{[]Grade{{"a", 5}, {"b", 5}, {"a", 5}, {"b", 5}}, 5, Interval{5 - equal, 5}, true},
		{[]Grade{{"a", 3}, {"a", 4}}, 3.5, Interval{}, false},
		{nil, 0, Interval{}, false},
	} {
		mean, iv, ok := GradesInterval(c.grades, 0.95)
		if ok != c.ok || math.Abs(mean-c.mean) > 1e-12 || math.Abs(iv.Lo-c.interval.Lo) > 1e-3 ||
			math.Abs(iv.Hi-c.interval.Hi) > 1e-3 {
			t.Errorf("%v: %v in %v, %v, want %v in %v", c.grades, mean, iv, ok, c.mean, c.interval)
		}
	}
}

// Five coaches who differ grade a player: the interval that takes grades for independent is too narrow, this holds.
func TestTheMeanOfGradesHoldsWhereCoachesDiffer(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 9))
	const times = 3000
	held, naive := 0.0, 0.0
	for range times {
		var given []Grade
		var plain []Match
		for c := range 5 {
			strict := 0.6 * random.NormFloat64()
			for range 2 + c%3 {
				v := 3 + strict + 0.6*random.NormFloat64()
				given = append(given, Grade{string(rune('a' + c)), v})
				plain = append(plain, Match{v, 1})
			}
		}
		if _, iv, ok := GradesInterval(given, 0.95); ok && iv.holds(3) {
			held += 1.0 / times
		}
		if _, iv, ok := MeanInterval(plain, 0.95); ok && iv.holds(3) {
			naive += 1.0 / times
		}
	}
	if held < 0.92 || held > 0.985 || naive > 0.88 {
		t.Errorf("held in %.3f of times, and in %.3f as independent grades", held, naive)
	}
}
