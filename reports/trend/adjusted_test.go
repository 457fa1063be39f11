package trend

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// coachRatings are the grades of coach_ratings.csv.
func coachRatings(tb testing.TB) Data {
	d := Data{Family: Rating}
	for _, row := range table(tb, "coach_ratings.csv") {
		d.Player, d.Match = append(d.Player, row["player"]), append(d.Match, row["match"])
		d.Coach, d.Value = append(d.Coach, row["coach"]), append(d.Value, number(tb, row["score"]))
	}
	return d
}

// coach_ratings_adjusted.csv holds what lme4 1.1-31 (R 4.2.2) gives for score ~ 1 + (1 | player) + (1 | coach) +
// (1 | match): the intercept plus each player's conditional mode, and each coach's conditional mode; the lines that
// made it are in testdata/reference/SOURCES.md.
func TestAdjustedGradesAndSeveritiesAreThoseOfLme4(t *testing.T) {
	a, err := Adjust(coachRatings(t))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]float64{}
	for _, row := range table(t, "coach_ratings_adjusted.csv") {
		want[row["kind"]+" "+row["name"]] = number(t, row["value"])
	}
	if len(a.Players)+len(a.Coaches) != len(want) {
		t.Fatalf("%d players and %d coaches, want %d in all", len(a.Players), len(a.Coaches), len(want))
	}
	for _, p := range a.Players {
		near(t, p.Player, p.Level.Mean, want["player "+p.Player], 2e-5)
	}
	for _, c := range a.Coaches {
		near(t, c.Coach, c.Stricter.Mean, -want["coach "+c.Coach], 2e-5)
	}
	for what, v := range map[string][2]float64{"mean": {a.Mean, 3.235945}, "players": {a.SD.PlayerLevel, 0.468511},
		"occasions": {a.SD.Match, 0.234003}, "coaches": {a.SD.Coach, 0.131531}, "rest": {a.SD.Residual, 0.687945}} {
		near(t, what, v[0], v[1], 2e-5)
	}
}

// gradedSeason is a simulated season: coaches of a severity each, of SD severity, who each grade a share of the
// players, drawn anew for each coach, in most of some matches, to whole grades.
type gradedSeason struct {
	players, coaches, matches int
	severity, share           float64
}

// draw returns the grades, each player's true level by name, as the average coach would grade it on the average day,
// and each coach's severity, as Adjusted has it.
func (s gradedSeason) draw(random *rand.Rand) (d Data, levels, severity map[string]float64) {
	d, levels, severity = Data{Family: Rating}, map[string]float64{}, map[string]float64{}
	level, strict, day := make([]float64, s.players), make([]float64, s.coaches), make([]float64, s.matches)
	var strictness, days float64 // their means
	for c := range strict {
		strict[c] = s.severity * random.NormFloat64()
		strictness += strict[c] / float64(s.coaches)
	}
	for m := range day {
		day[m] = 0.2 * random.NormFloat64()
		days += day[m] / float64(s.matches)
	}
	for p := range level {
		level[p] = 3 + 0.6*random.NormFloat64()
		levels[fmt.Sprint("p", p)] = level[p] - strictness + days
	}
	for c := range strict {
		severity[fmt.Sprint("c", c)] = strict[c] - strictness
	}
	for c := range strict {
		for _, p := range random.Perm(s.players)[:int(math.Round(s.share*float64(s.players)))] {
			for m := range day {
				if random.Float64() < 0.3 {
					continue
				}
				g := math.Round(level[p] - strict[c] + day[m] + 0.7*random.NormFloat64())
				d.Player, d.Match = append(d.Player, fmt.Sprint("p", p)), append(d.Match, fmt.Sprint("m", m))
				d.Coach, d.Value = append(d.Coach, fmt.Sprint("c", c)), append(d.Value, min(max(g, 1), 5))
			}
		}
	}
	return d, levels, severity
}

// rankCorrelation is Spearman's, with ties at their mean rank.
func rankCorrelation(x, y []float64) float64 {
	ranks := func(of []float64) []float64 {
		order := make([]int, len(of))
		for i := range order {
			order[i] = i
		}
		slices.SortFunc(order, func(a, b int) int { return cmp.Compare(of[a], of[b]) })
		out := make([]float64, len(of))
		for i := 0; i < len(order); {
			j := i
			for j < len(order) && of[order[j]] == of[order[i]] {
				j++
			}
			for k := i; k < j; k++ {
				out[order[k]] = float64(i+j-1) / 2
			}
			i = j
		}
		return out
	}
	a, b := ranks(x), ranks(y)
	var sa, sb, ab, aa, bb float64
	n := float64(len(x))
	for i := range a {
		sa, sb = sa+a[i]/n, sb+b[i]/n
	}
	for i := range a {
		ab, aa, bb = ab+(a[i]-sa)*(b[i]-sb), aa+(a[i]-sa)*(a[i]-sa), bb+(b[i]-sb)*(b[i]-sb)
	}
	return ab / math.Sqrt(aa*bb)
}

// adjustedShown is what simulated seasons show: mean Spearman correlations with the truth, and shares of intervals
// that hold it.
type adjustedShown struct{ adjusted, raw, players80, players95, coaches80, coaches95 float64 }

func simulateGrades(t *testing.T, s gradedSeason, seasons int) (out adjustedShown) {
	t.Helper()
	random := rand.New(rand.NewPCG(1, 8))
	var players, coaches float64
	holds := func(iv Interval, v float64) float64 {
		if iv.Lo <= v && v <= iv.Hi {
			return 1
		}
		return 0
	}
	for range seasons {
		d, level, severity := s.draw(random)
		a, err := Adjust(d)
		if err != nil {
			t.Fatal(err)
		}
		var adjusted, raw, truth []float64
		for _, p := range a.Players {
			is := level[p.Player]
			adjusted, raw, truth = append(adjusted, p.Level.Mean), append(raw, p.Raw), append(truth, is)
			players++
			out.players80 += holds(p.Level.Interval80, is)
			out.players95 += holds(p.Level.Interval95, is)
		}
		for _, c := range a.Coaches {
			coaches++
			out.coaches80 += holds(c.Stricter.Interval80, severity[c.Coach])
			out.coaches95 += holds(c.Stricter.Interval95, severity[c.Coach])
		}
		out.adjusted += rankCorrelation(adjusted, truth) / float64(seasons)
		out.raw += rankCorrelation(raw, truth) / float64(seasons)
	}
	out.players80, out.players95 = out.players80/players, out.players95/players
	out.coaches80, out.coaches95 = out.coaches80/coaches, out.coaches95/coaches
	return out
}

// 100 seasons: 5 coaches, each seeing another 40 % of 30 players in most of 10 matches, severity of SD 0.5 of a grade.
// Intervals are of the latent level: what the ends of the scale cut off costs them a few in a hundred (without the
// ends they hold .80 and .95).
func TestAdjustedGradesAreNearerTheTruthThanRawMeans(t *testing.T) {
	s := simulateGrades(t, gradedSeason{30, 5, 10, 0.5, 0.4}, 100)
	t.Logf("%+v", s)
	if s.adjusted < s.raw+0.03 {
		t.Errorf("adjusted grades correlate %.3f with the truth, raw means %.3f: want 0.03 more", s.adjusted, s.raw)
	}
	for what, c := range map[string][3]float64{
		"80 % of players": {s.players80, 0.74, 0.86}, "95 % of players": {s.players95, 0.91, 0.985},
		"80 % of coaches": {s.coaches80, 0.72, 0.88}, "95 % of coaches": {s.coaches95, 0.91, 0.99},
	} {
		if c[0] < c[1] || c[0] > c[2] {
			t.Errorf("intervals of %s hold %.3f", what, c[0])
		}
	}
}

// given is grades by words: player, coach, grade.
func given(rows ...string) Data {
	d := Data{Family: Rating}
	for _, row := range rows {
		var player, coach string
		var grade float64
		if _, err := fmt.Sscan(row, &player, &coach, &grade); err != nil {
			panic(err)
		}
		d.Player, d.Coach, d.Value = append(d.Player, player), append(d.Coach, coach), append(d.Value, grade)
	}
	return d
}

// strictB are grades of a strict coach b, one below a's for four of five; p6 and p7 are graded by one coach each.
var strictB = given("p1 a 3", "p1 b 2", "p2 a 4", "p2 b 3", "p3 a 2", "p3 b 1", "p4 a 5", "p4 b 4", "p5 a 3", "p5 b 3",
	"p6 a 4", "p7 b 4")

func TestAStrictCoachsPlayerIsRaisedAboveALenientCoachs(t *testing.T) {
	a, err := Adjust(strictB)
	if err != nil {
		t.Fatal(err)
	}
	p6, p7 := a.Players[5], a.Players[6]
	if p6.Raw != 4 || p7.Raw != 4 || !(p7.Level.Mean > p6.Level.Mean+0.3) {
		t.Errorf("b's 4 is %.2f, a's 4 is %.2f", p7.Level.Mean, p6.Level.Mean)
	}
	b := a.Coaches[1]
	if b.Coach != "b" || b.Grades != 6 || b.Players != 6 || b.Shared != 5 || !(b.Stricter.Mean > 0.2) ||
		math.Abs(b.Stricter.Mean+a.Coaches[0].Stricter.Mean) > 1e-9 {
		t.Errorf("severities %+v", a.Coaches)
	}
	for _, p := range a.Players {
		iv := p.Level.Interval95
		if !(iv.Lo >= 1 && iv.Lo < p.Level.Interval80.Lo && p.Level.Interval80.Hi < iv.Hi && iv.Hi <= 5) &&
			iv.Lo != 1 && iv.Hi != 5 {
			t.Errorf("%s: %+v", p.Player, p.Level)
		}
	}
}

func TestTheOrderOfGradesDoesNotMatter(t *testing.T) {
	var back []int
	for i := range strictB.Value {
		back = append(back, len(strictB.Value)-1-i)
	}
	a, err1 := Adjust(strictB)
	b, err2 := Adjust(strictB.Rows(back))
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	for _, p := range a.Players {
		i := slices.IndexFunc(b.Players, func(q AdjustedGrade) bool { return q.Player == p.Player })
		near(t, p.Player, b.Players[i].Level.Mean, p.Level.Mean, 1e-5)
		near(t, p.Player, b.Players[i].Level.Interval80.Lo, p.Level.Interval80.Lo, 1e-4)
	}
}

func TestWhatGradesCannotTellIsSaid(t *testing.T) {
	for what, c := range map[string]struct {
		d    Data
		note string
	}{
		"one coach":         {given("p1 a 3", "p1 a 2", "p2 a 4", "p2 a 5", "p3 a 3"), "one coach gave all the grades"},
		"one coach each":    {given("p1 a 3", "p1 a 2", "p2 b 4", "p2 b 5", "p3 b 3"), OneCoachEach},
		"two circles apart": {given("p1 a 3", "p1 b 2", "p2 c 4", "p2 d 5", "p3 c 3", "p4 a 2"), "2 circles"},
		"nothing missing":   {strictB, ""},
	} {
		a, err := Adjust(c.d)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		if said := strings.Join(a.Notes, "; "); !strings.Contains(said, c.note) || (c.note == "") != (said == "") {
			t.Errorf("%s: said %q", what, said)
		}
		if (len(a.Coaches) == 0) != (what == "one coach") {
			t.Errorf("%s: severities %+v", what, a.Coaches)
		}
	}
	for what, d := range map[string]Data{"three grades": given("p1 a 3", "p2 a 4", "p2 b 3"),
		"one grade": given("p1 a 3", "p2 a 3", "p1 b 3", "p2 b 3")} {
		if _, err := Adjust(d); !errors.Is(err, ErrTooLittle) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, err := Adjust(Data{Family: Rate}); err == nil || errors.Is(err, ErrTooLittle) {
		t.Errorf("counts are adjusted: %v", err)
	}
}
