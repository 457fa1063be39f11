package trend

import (
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
)

var acrossCounts = []string{"carries", "catches", "errors", "kicks", "passes", "ruck_arrivals", "tackles_made"}

// lastSeason is SOURCES.md, "Across seasons: what to beat": by origin, means over the seven counts of "this season"
// and "with last", each at the mean and predictive.
type bars struct {
	n                  float64
	thisMean, thisPred float64
	lastMean, lastPred float64
	least, leastPred   float64 // what the fit with the season before must gain on "with last"
}

var acrossOrigins = []string{"2025-09-20", "2025-10-11", "2025-11-22"}

var acrossBars = func() map[string]bars {
	mean := func(v ...float64) (m float64) {
		for _, x := range v {
			m += x / float64(len(v))
		}
		return m
	}
	return map[string]bars{
		"2025-09-20": {
			n:        6497,
			thisMean: mean(-2.4745, -2.2760, -1.9629, -2.7666, -2.5779, -1.8088, -2.0387),
			thisPred: mean(-2.4442, -2.2548, -1.9542, -2.7264, -2.5183, -1.7726, -1.9959),
			lastMean: mean(-2.4038, -2.2239, -1.9277, -2.6958, -2.4891, -1.7255, -1.9586),
			lastPred: mean(-2.3937, -2.2156, -1.9246, -2.6795, -2.4649, -1.7113, -1.9451),
			least:    0.002, leastPred: 0.006,
		},
		"2025-10-11": {
			n:        5878,
			thisMean: mean(-2.4185, -2.2306, -1.9178, -2.6976, -2.4944, -1.7564, -1.9951),
			thisPred: mean(-2.4020, -2.2161, -1.9124, -2.6755, -2.4609, -1.7334, -1.9665),
			lastMean: mean(-2.3882, -2.1950, -1.8978, -2.6664, -2.4424, -1.7038, -1.9507),
			lastPred: mean(-2.3800, -2.1874, -1.8948, -2.6541, -2.4260, -1.6941, -1.9375),
			least:    0, leastPred: 0.005,
		},
		"2025-11-22": {
			n:        3954,
			thisMean: mean(-2.3825, -2.2097, -1.8869, -2.6483, -2.4419, -1.7063, -1.9448),
			thisPred: mean(-2.3733, -2.2012, -1.8834, -2.6365, -2.4252, -1.6916, -1.9303),
			lastMean: mean(-2.3703, -2.1938, -1.8768, -2.6424, -2.4210, -1.6776, -1.9288),
			lastPred: mean(-2.3640, -2.1882, -1.8742, -2.6334, -2.4106, -1.6706, -1.9197),
			least:    -0.001, leastPred: 0.004,
		},
	}
}()

// twoSeasons is contact_two_seasons.csv.gz by column.
type twoSeasons struct {
	season, squad, player, match []string
	day, minutes                 []float64
	counts                       map[string][]float64
}

var readTwoSeasons = sync.OnceValue(func() *twoSeasons {
	tb := &testing.T{}
	s := &twoSeasons{counts: map[string][]float64{}}
	for _, r := range table(tb, "contact_two_seasons.csv.gz") {
		s.season, s.squad = append(s.season, r["season"]), append(s.squad, r["squad"])
		s.player, s.match = append(s.player, r["player"]), append(s.match, r["match_date"]+r["opponent"])
		s.day, s.minutes = append(s.day, float64(day(tb, r["match_date"]))), append(s.minutes, number(tb, r["minutes"]))
		for _, c := range acrossCounts {
			s.counts[c] = append(s.counts[c], number(tb, r[c]))
		}
	}
	return s
})

// data gives one count of the rows to keep.
func (s *twoSeasons) data(count string, keep func(i int) bool) Data {
	d := Data{Family: Rate}
	for i := range s.day {
		if keep(i) {
			d.Player, d.Match, d.Squad = append(d.Player, s.player[i]), append(d.Match, s.match[i]), append(d.Squad, s.squad[i])
			d.Time, d.Minutes = append(d.Time, s.day[i]), append(d.Minutes, s.minutes[i])
			d.Value = append(d.Value, s.counts[count][i])
		}
	}
	return d
}

const contactSeasonDays = 22 * 7 // from the first round to the last

// acrossScores are the scores of one count and origin, by squad.
type acrossScores struct {
	n, mean, predictive float64
	bySquad, thisSquad  []float64 // sums of log scores at the mean: the engine's, this season's empirical Bayes
	covered             share
}

// across forecasts one count of one squad after another from an origin.
func across(tb testing.TB, count, origin string, o Options, with bool, squads []string, lend bool) (a acrossScores) {
	tb.Helper()
	s := readTwoSeasons()
	last := float64(day(tb, origin))
	if with {
		e, err := FitEarlier([]Data{s.data(count, func(i int) bool { return s.season[i] == "2024-25" })}, o)
		if err != nil {
			tb.Fatal(err)
		}
		o.Earlier = e
	}
	o.Season = contactSeasonDays
	type outcome struct {
		p      []Prediction
		t      []Total
		thisEB float64
	}
	results := make([]outcome, len(squads))
	var wait sync.WaitGroup
	gate := make(chan bool, 2)
	for k, q := range squads {
		gate <- true
		wait.Go(func() {
			defer func() { <-gate }()
			d := s.data(count, func(i int) bool { return s.season[i] == "2025-26" && s.squad[i] == q })
			d.Squad = nil
			known := take(d, func(i int) bool { return d.Time[i] <= last })
			if lend {
				var others []Data
				for _, c := range acrossCounts {
					if c != count {
						others = append(others, s.data(c, func(i int) bool {
							return s.season[i] == "2025-26" && s.squad[i] == q && s.day[i] <= last
						}))
					}
				}
				lent, err := Lend(others, o)
				if err != nil {
					tb.Error(err)
				}
				known.Role, d.Role = lent.Columns(known.Player), lent.Columns(d.Player)
			}
			var rows []int
			for i := range d.Value {
				if d.Time[i] > last {
					rows = append(rows, i)
				}
			}
			r, err := Fit(known, o)
			if err != nil || !r.Converged {
				tb.Error(q, err, r.Notes)
				return
			}
			p, t, err := r.Forecast(d, rows, 1)
			if err != nil {
				tb.Error(err)
			}
			results[k] = outcome{p, t, thisSeason(known, d, p)}
		})
	}
	wait.Wait()
	for _, r := range results {
		var sum float64
		for _, p := range r.p {
			a.n++
			sum += p.LogScoreMean
			a.predictive += p.LogScorePredictive
		}
		a.mean += sum
		a.bySquad, a.thisSquad = append(a.bySquad, sum), append(a.thisSquad, r.thisEB)
		for _, t := range r.t {
			a.covered.add(t.PIT >= 0.1 && t.PIT <= 0.9)
		}
	}
	return a
}

// thisSeason is the log score at the mean of gamma-Poisson empirical Bayes of the season's totals so far.
func thisSeason(known, d Data, predictions []Prediction) (sum float64) {
	sums := map[string]Match{}
	for i, p := range known.Player {
		m := sums[p]
		sums[p] = Match{m.Numerator + known.Value[i], m.Denominator + known.Minutes[i]/80}
	}
	var list []Match
	for _, p := range sortedNames(sums) {
		list = append(list, sums[p])
	}
	base := fitRate(list, 0)
	for _, p := range predictions {
		m := sums[p.Player]
		mu := (m.Numerator + base.strength) / (m.Denominator + base.strength/base.mean) * d.Minutes[p.Row] / 80
		sum += logNegativeBinomial(p.Actual, max(mu, 1e-6), 0)
	}
	return sum
}

func contactSquads() []string {
	all := slices.Clone(readTwoSeasons().squad)
	slices.Sort(all)
	return slices.Compact(all)
}

// TREND_FORECAST names the origins ("all": every one) of the long run, see .ci/forecast.
func TestForecastTable(t *testing.T) {
	asked := os.Getenv("TREND_FORECAST")
	if asked == "" {
		t.Skip("a long run: TREND_FORECAST=all")
	}
	origins, counts, squads := acrossOrigins, acrossCounts, contactSquads()
	if asked != "all" {
		origins = strings.Split(asked, ",")
	}
	if c := os.Getenv("TREND_COUNTS"); c != "" {
		counts = strings.Split(c, ",")
	}
	modes := []string{"earlier", "alone", "lent"}
	if m := os.Getenv("TREND_MODES"); m != "" {
		modes = strings.Split(m, ",")
	}
	for _, origin := range origins {
		for _, mode := range modes {
			var gain, gainPred, n float64
			var covered share
			for _, c := range counts {
				a := across(t, c, origin, Options{}, mode == "earlier" || mode == "both", squads, mode == "lent" || mode == "both")
				var diff []float64
				for k, v := range a.bySquad {
					diff = append(diff, v-a.thisSquad[k])
				}
				d, se := sumAndError(diff)
				gain += a.mean / a.n / float64(len(counts))
				gainPred += a.predictive / a.n / float64(len(counts))
				n = a.n
				covered.in += a.covered.in
				covered.of += a.covered.of
				t.Logf("%s %-8s %-14s n %.0f mean %.4f predictive %.4f; on this season %+.4f ± %.4f; cover %.3f", origin, mode, c,
					a.n,
					a.mean/a.n, a.predictive/a.n, d/a.n, se/a.n, a.covered.rate())
				if mode != "earlier" && d < -2*se {
					t.Errorf("%s %s %s: worse than this season by 2 SE", origin, mode, c)
				}
			}
			if len(counts) < len(acrossCounts) {
				continue
			}
			b := acrossBars[origin]
			t.Logf("%s %-8s n %.0f: on with last %+.4f (mean), %+.4f (predictive); on this season %+.4f, %+.4f; cover %.3f",
				origin, mode, n,
				gain-b.lastMean, gainPred-b.lastPred, gain-b.thisMean, gainPred-b.thisPred, covered.rate())
			if n != b.n {
				t.Errorf("%.0f predictions, want %.0f", n, b.n)
			}
			if least, ok := map[string]float64{"alone": 0.001, "lent": 0.003}[mode]; ok && origin == "2025-11-22" &&
				gain-b.thisMean < least {
				t.Errorf("%s %s: the gain on this season is short of %+.3f", origin, mode, least)
			}
			if mode == "earlier" && (gain-b.lastMean < b.least || gainPred-b.lastPred < b.leastPred) {
				t.Errorf("%s: with last season gains are short of %+.4f and %+.4f", origin, b.least, b.leastPred)
			}
			if r := covered.rate(); r < 0.75 || r > 0.85 {
				t.Errorf("%s %s: 80 %% intervals of totals cover %.3f", origin, mode, r)
			}
		}
	}
}
