package reliability

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.5f, want %.5f", what, got, want)
	}
}

// Six targets and four judges of Shrout & Fleiss 1979, Psychol Bull 86, tables 2 and 4.
var sixByFour = [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}}

func TestTheSixCorrelationsAreThePublishedOnes(t *testing.T) {
	r, err := ShroutFleiss(sixByFour)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"ICC(1,1)", r.One1, 0.1657}, {"ICC(2,1)", r.One2, 0.2898}, {"ICC(3,1)", r.One3, 0.7148},
		{"ICC(1,k)", r.Mean1, 0.4428}, {"ICC(2,k)", r.Mean2, 0.6201}, {"ICC(3,k)", r.Mean3, 0.9093},
	} {
		near(t, c.what, c.got, c.want, 0.00005)
	}
	// Spearman and Brown take one judge's to the mean of four's (Shrout & Fleiss 1979, p. 426: .29 to .62).
	near(t, "the mean of four", OfMean(r.One2, 4), r.Mean2, 1e-12)
}

// Where everyone is graded by everyone, the components' reliability is ICC(2,1).
func TestComponentsOfACompleteTableAreTheCorrelation(t *testing.T) {
	var grades []Grade
	for i, row := range sixByFour {
		for j, g := range row {
			grades = append(grades, Grade{fmt.Sprint("unit ", i), fmt.Sprint("judge ", j), g})
		}
	}
	c, err := FromGrades(grades)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the reliability of one", c.One(), 0.2898, 0.0001)
}

// lme4 1.1-31: lmer(score ~ 1 + (1 | player:match) + (1 | coach)) of coach_ratings.csv, in which most players have
// grades of two coaches a match, and some of one.
func TestComponentsWithGapsAreThoseOfTheReference(t *testing.T) {
	file, err := os.Open("../../testdata/reference/coach_ratings.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll() // player, group, match, week, t, coach, score
	if err != nil {
		t.Fatal(err)
	}
	var grades []Grade
	for _, row := range rows[1:] {
		g, err := strconv.ParseFloat(row[6], 64)
		if err != nil {
			t.Fatal(err)
		}
		grades = append(grades, Grade{row[0] + " " + row[2], row[5], g})
	}
	c, err := FromGrades(grades)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the units' variance", c.Unit, 0.282214809, 1e-5)
	near(t, "the judges'", c.Judge, 0.014573038, 1e-5)
	near(t, "what is left", c.Residual, 0.460233224, 1e-5)
	near(t, "the reliability of one", c.One(), 0.3727965, 1e-5)
}

func TestSoManyJudgesAreNeededAndNoFewer(t *testing.T) {
	for one := 0.02; one < 1; one += 0.07 {
		k, ok := JudgesFor(one, 0.8)
		if !ok || OfMean(one, float64(k)) < 0.8-1e-9 || k > 1 && OfMean(one, float64(k-1)) >= 0.8 {
			t.Errorf("one judge's %.2f: %d judges reach %.4f", one, k, OfMean(one, float64(k)))
		}
	}
	if k, ok := JudgesFor(0.5, 0.8); !ok || k != 4 { // 0.8·0.5/(0.5·0.2) is 4 exactly
		t.Errorf("0.5 needs %d", k)
	}
	for _, one := range []float64{-0.1, 0, 7e-11} { // what a fit leaves of 0 is not read as thousands of millions
		if k, ok := JudgesFor(one, 0.8); ok {
			t.Errorf("%d judges who tell nothing are said to reach 0.8 together", k)
		}
	}
}

// Four observers and twelve units of Krippendorff 2011, Computing Krippendorff's Alpha-Reliability, section C, with the
// four metrics' results there.
var observers = func() (units [][]float64) {
	rows := []string{"1 2 3 3 2 1 4 1 2 . . .",
		"1 2 3 3 2 2 4 1 2 5 . 3", ". 3 3 3 2 3 4 2 2 5 1 .", "1 2 3 3 2 4 4 1 2 5 1 ."}
	units = make([][]float64, 12)
	for _, row := range rows {
		for u, v := range strings.Fields(row) {
			g := math.NaN()
			if v != "." {
				g = float64(v[0] - '0')
			}
			units[u] = append(units[u], g)
		}
	}
	return units
}()

func TestAlphaIsThePublishedOneInAllFourMetrics(t *testing.T) {
	for m, want := range map[Metric]float64{Nominal: 0.743, Ordinal: 0.815, Interval: 0.849, Ratio: 0.797} {
		got, err := Alpha(observers, m)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "alpha", got, want, 0.0005)
	}
}

// The interval holds the alpha of very many units 95 times in 100, near enough.
func TestTheIntervalOfAlphaHoldsTheTruth(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	draw := func(units int) (values [][]float64) {
		for range units {
			level := random.NormFloat64()
			var unit []float64
			for range 3 {
				unit = append(unit, min(max(math.Round(3+level+0.7*random.NormFloat64()), 1), 5))
			}
			values = append(values, unit)
		}
		return values
	}
	truth, err := Alpha(draw(20_000), Ordinal)
	if err != nil {
		t.Fatal(err)
	}
	const tries = 200
	held := 0
	for k := range tries {
		lo, hi, err := AlphaInterval(draw(60), Ordinal, uint64(k))
		if err != nil {
			t.Fatal(err)
		}
		if lo <= truth && truth <= hi {
			held++
		}
	}
	if held < tries*89/100 || held > tries*99/100 {
		t.Errorf("%d of %d intervals hold %.3f", held, tries, truth)
	}
}

func TestWhatTellsNothingIsRefused(t *testing.T) {
	nan := math.NaN()
	for what, grades := range map[string][][]float64{
		"one target": {{1, 2}}, "one judge": {{1}, {2}}, "a gap": {{1, 2}, {3}}, "no number": {{1, nan}, {3, 4}},
		"one grade": {{3, 3}, {3, 3}},
	} {
		if r, err := ShroutFleiss(grades); err == nil {
			t.Errorf("%s: %+v", what, r)
		}
	}
	for what, values := range map[string][][]float64{"single values": {{1, nan}, {2}}, "one value": {{3, 3}, {3, 3}}} {
		if a, err := Alpha(values, Ordinal); err == nil {
			t.Errorf("%s: %v", what, a)
		}
	}
	for what, grades := range map[string][]Grade{
		"one judge each": {{"a", "x", 1}, {"a", "x", 2}, {"b", "y", 3}},
		"one unit each":  {{"a", "x", 1}, {"a", "y", 2}, {"b", "z", 3}, {"b", "w", 3}},
		"one grade":      {{"a", "x", 3}, {"a", "y", 3}, {"b", "x", 3}, {"b", "y", 3}},
	} {
		if c, err := FromGrades(grades); err == nil {
			t.Errorf("%s: %+v", what, c)
		}
	}
	if lo, hi, err := AlphaInterval(sixByFour, Ordinal, 1); err == nil {
		t.Errorf("an interval of six units: %v to %v", lo, hi)
	}
}

// units are grades of a table: judge j's grade of unit i, 0 for none.
func units(table [][]float64) (all []Grade) {
	for i, row := range table {
		for j, g := range row {
			if g != 0 {
				all = append(all, Grade{fmt.Sprint("unit ", i), fmt.Sprint("judge ", j), g})
			}
		}
	}
	return all
}

// Shrout & Fleiss 1979 as above; a unit of one grade does not spoil the design, one that a judge missed does.
func TestASummaryGivesTheSixWhereTheDesignAllowsAndComponentsOtherwise(t *testing.T) {
	whole := Summarise(units(sixByFour), 1)
	if whole.Six == nil || whole.SixJudges != 4 || whole.Units != 6 || whole.ByTwo != 6 || whole.Judges != 4 {
		t.Fatalf("a whole table: %+v", whole)
	}
	near(t, "ICC(2,1)", whole.Six.One2, 0.2898, 0.0001)
	near(t, "of one", whole.One, 0.2898, 0.0001)
	// k·.2898/(1 + (k − 1)·.2898) is .8 at k = 9.80 (Spearman 1910, Brown 1910).
	if whole.Needed == nil || *whole.Needed != 10 || whole.Alpha == nil || whole.Alpha95 != nil {
		t.Errorf("a whole table: %+v", whole)
	}
	single := Summarise(append(units(sixByFour), Grade{"unit 7", "judge 1", 4}), 1)
	if single.Six == nil || *single.Six != *whole.Six || single.Units != 7 || single.ByTwo != 6 {
		t.Errorf("with a unit of one grade: %+v", single)
	}
	for what, grades := range map[string][]Grade{
		"a gap":        units([][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 0}, {7, 1, 2, 6}}),
		"other judges": units([][]float64{{9, 2, 0, 0}, {6, 3, 0, 0}, {0, 0, 6, 3}, {0, 4, 2, 0}}),
	} {
		s := Summarise(grades, 1)
		if s.Six != nil || s.Components == nil || s.Alpha == nil || s.Apart != nil {
			t.Errorf("%s: %+v, %v", what, s, s.Apart)
		}
	}
	none := Summarise(units([][]float64{{3, 0}, {0, 4}}), 1)
	if none.Six != nil || none.Components != nil || none.Apart == nil || none.Alpha != nil || none.NoAlpha == nil {
		t.Errorf("no unit of two judges: %+v", none)
	}
}
