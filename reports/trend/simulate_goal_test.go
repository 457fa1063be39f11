package trend

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// goalSquads is how many squads the chances to reach a goal are asked of.
const goalSquads = 200

// fifths are chances in fifths with what came, by squad.
type fifths [5][]cell

// add puts a squad's chances with the others'.
func (f *fifths) add(here [5]cell) {
	for k := range here {
		f[k] = append(f[k], here[k])
	}
}

// saying counts a chance and what came in the fifth of what was said.
func saying(here *[5]cell, said float64, came bool) {
	c := &here[min(int(5*said), 4)]
	c.n, c.said = c.n+1, c.said+said
	if came {
		c.came++
	}
}

// check prints the fifths and refuses any beyond 3 standard errors and, strictly, a second one beyond 2. Squads are
// the units of the errors. Cautious says that chances may lie nearer to the middle than what comes.
func (f *fifths) check(t *testing.T, what string, strictly, cautious bool) {
	t.Helper()
	beyond := 0
	for k, cells := range f {
		var n float64
		for _, c := range cells {
			n += c.n
		}
		said, came, z := off(cells)
		t.Logf("%s: fifth %d, %5.0f goals: said %.3f, came %.3f (%+.1f SE)", what, k+1, n, said, came, z)
		if cautious && (z < 0) == (said < 0.5) {
			continue
		}
		if math.Abs(z) > 2 {
			beyond++
		}
		if math.Abs(z) > 3 {
			t.Errorf("%s: fifth %d said %.3f and %.3f came, %+.1f SE", what, k+1, said, came, z)
		}
	}
	if strictly && beyond > 1 {
		t.Errorf("%s: %d fifths are beyond 2 SE", what, beyond)
	}
}

// spreadOf is what players of a fit differ by, on the natural scale, as a goal's question has it.
func spreadOf(r *Result) float64 { return r.Worthwhile / 0.2 }

// TestGoalOutlooksComeAsOftenAsTheySay sets each player a goal as a coach would, somewhere between a spread below and
// a spread above the level of the day, for the last match that the levels are followed to, and counts what comes. In
// each course no fifth may be beyond 3 standard errors. At most one may be beyond 2 over 200 squads of all courses,
// forty of each, and over the 200 squads of the first, whose slopes the fits expect.
//
// Of 200 squads of linear 0.3 alone, three seeds gave −2.4, −1.7 and −0.8 SE in the first fifth and −2.2, +3.1
// and +0.1 in the last; all others lie within 2. The last fifth changes its sign with the seed: squads of an academy
// share one learned scale of slopes, which the errors by squad leave out. In the first, chances were said 0.006 to
// 0.020 too high under each seed. Three seeds do not tell that from chance.
func TestGoalOutlooksComeAsOftenAsTheySay(t *testing.T) {
	squads := min(squadsOf(t), goalSquads)
	var mixed fifths
	for k, c := range courses {
		if !wanted(c) || k > 0 && os.Getenv("TREND_SIMULATE") == "" {
			continue
		}
		random := rand.New(rand.NewPCG(uint64(k), 77+seed(t)))
		drawn, results := drawAndFit(t, random, c, squads)
		var all fifths
		for n, r := range results {
			var here [5]cell
			for _, p := range r.Players {
				target := p.Now.Mean + spreadOf(r)*(2*random.Float64()-1)
				if target <= 0 {
					continue // no rate is that low, and no coach sets it
				}
				o, err := r.Outlook(p.Name, target, simulatedMatches-1)
				if err != nil {
					t.Fatal(err)
				}
				path := drawn[n].path[playerOf(t, p.Name)]
				saying(&here, o.Reached, math.Exp(path[simulatedMatches-1]) >= target)
			}
			all.add(here)
		}
		// Where nothing changes, chances lean to the middle as intervals of the change are wide.
		all.check(t, c.name, squads == goalSquads && k == 0, c.still)
		for f := range mixed {
			mixed[f] = append(mixed[f], all[f][:min(squads, goalSquads/len(courses))]...)
		}
	}
	if squads == goalSquads && os.Getenv("TREND_COURSE") == "" {
		mixed.check(t, "all courses", true, false)
	}
}

// TestGoalsOfARealSeason says, after twelve weeks of a real season, how likely the mean of a player's later matches
// reaches a target around the level of the day, and counts what came. The chance is that of the matches themselves:
// their counts scatter around the level.
func TestGoalsOfARealSeason(t *testing.T) {
	var pooled fifths
	for k, count := range []string{"tackles_made", "carries", "errors", "passes"} {
		squads, data, week := contactSeason(t, count)
		random := rand.New(rand.NewPCG(uint64(k), 78))
		var all fifths
		for _, q := range squads {
			here := realGoals(t, random, data[q], week[q])
			all.add(here)
			pooled.add(here)
		}
		all.check(t, count, false, false)
	}
	pooled.check(t, "all four counts", true, false)
}

// realGoals are the goals of a squad's players: what was said after week 12, and what came.
func realGoals(t *testing.T, random *rand.Rand, d Data, week []int) (here [5]cell) {
	t.Helper()
	r, err := Fit(take(d, func(i int) bool { return week[i] <= 12 }), Options{Season: contactSeasonDays})
	if err != nil {
		t.Fatal(err)
	}
	rest := map[string][]int{}
	for i, p := range d.Player {
		if week[i] > 12 && d.HasOpportunity(i) {
			rest[p] = append(rest[p], i)
		}
	}
	for _, p := range r.Players {
		rows := rest[p.Name]
		if len(rows) == 0 || p.Now == nil {
			continue
		}
		var matches, came float64
		for _, i := range rows {
			matches, came = matches+d.Minutes[i]/80, came+d.Value[i]
		}
		target := math.Ceil((p.Now.Mean + spreadOf(&r)*(2*random.Float64()-1)) * matches)
		if target <= 0 {
			continue
		}
		// A sum of half a count less is one that no draw equals: the share of draws below it is that below the target.
		asked := d
		asked.Value = make([]float64, len(d.Value))
		asked.Value[rows[0]] = target - 0.5
		said := 1 - r.season.total(asked, p.Name, rows, random).PIT
		saying(&here, said, came >= target)
	}
	return here
}
