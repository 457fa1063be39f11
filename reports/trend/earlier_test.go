package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// simulateSeasons draws players' seasons, the earliest first. Levels change by N(0, year²) from one to the next, and
// every season has newcomers.
func simulateSeasons(random *rand.Rand, seasons, players int, year float64) (data []Data, truth map[string]float64) {
	level, truth := map[string]float64{}, map[string]float64{}
	for s := range seasons {
		d := Data{Family: Rate}
		for p := range players {
			name := fmt.Sprintf("p%02d", p+s*players/5)
			if _, ok := level[name]; !ok {
				level[name] = 0.4 * random.NormFloat64()
			} else {
				level[name] += year * random.NormFloat64()
			}
			truth[name] = 6 * math.Exp(level[name])
			for m := range 6 + 10*min(seasons-1-s, 1) {
				d.Player, d.Squad = append(d.Player, name), append(d.Squad, fmt.Sprint(p%2))
				d.Match, d.Time = append(d.Match, fmt.Sprint(m)), append(d.Time, float64(7*m))
				d.Value = append(d.Value, drawCount(random, truth[name], 0.05))
			}
		}
		data = append(data, d)
	}
	return data, truth
}

func fitSquad(tb testing.TB, indicators []Indicator) []*Result {
	tb.Helper()
	results, err := FitSquad(tb.Context(), indicators)
	if err != nil {
		tb.Fatal(err)
	}
	return results
}

// Forecasts of chains of two and three seasons are right, and narrower than those of one season. The squads are those
// of one academy, whose scales are learned together. TREND_SIMULATE is how many squads a long run takes, TREND_SEED
// draws others.
func TestChainsOfSeasonsHoldTheTruthMoreNarrowly(t *testing.T) {
	for _, seasons := range []int{2, 3} {
		random := rand.New(rand.NewPCG(uint64(seasons), 9+seed(t)))
		var held, held95, narrow share
		squads, room := min(squadsOf(t), 12), 0.03
		if long := squadsOf(t); long >= 200 {
			squads, room = min(long, simulatedTogether), 0
		}
		var chains, seasonsAlone []Indicator
		var truths []map[string]float64
		for k := range squads {
			data, truth := simulateSeasons(random, seasons, 30, 0.15)
			one := Indicator{Name: fmt.Sprint(k), Data: data[seasons-1], Options: Options{Season: 200}}
			one.Data.Squad = nil
			seasonsAlone = append(seasonsAlone, one)
			for s := seasons - 2; s >= 0; s-- {
				one.Before = append(one.Before, data[s])
			}
			chains, truths = append(chains, one), append(truths, truth)
		}
		alone, chained := fitSquad(t, seasonsAlone), fitSquad(t, chains)
		for k, r := range chained {
			for i, p := range r.Players {
				held.add(p.Now.Interval80.holds(truths[k][p.Name]))
				held95.add(p.Now.Interval95.holds(truths[k][p.Name]))
				if len(p.Before) > 0 {
					one := alone[k].Players[i]
					narrow.add(width(p.Now.Interval80)/p.Now.Mean < width(one.Now.Interval80)/one.Now.Mean)
				}
			}
		}
		t.Logf("%d seasons: 80 %% hold %.3f, 95 %% hold %.3f of %.0f, narrower %.3f", seasons, held.rate(), held95.rate(),
			held.of, narrow.rate())
		if r, w := held.rate(), held95.rate(); r < 0.77-room || r > 0.83+room || w < 0.93-room || w > 0.97+room {
			t.Errorf("%d seasons: 80 %% intervals hold %.3f, 95 %% ones %.3f", seasons, r, w)
		}
		if narrow.rate() < 0.9 {
			t.Errorf("%d seasons: only %.3f of returning players' intervals are narrower", seasons, narrow.rate())
		}
	}
}

func TestAnOlderSeasonCountsForHalfAndAYearWithoutOnePasses(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 9))
	data, _ := simulateSeasons(random, 1, 20, 0)
	last, err := FitEarlier(data, Options{})
	if err != nil {
		t.Fatal(err)
	}
	older, err := FitEarlier([]Data{{Family: Rate}, data[0]}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for name, p := range last.levels {
		q := older.levels[name]
		if q.Mean != p.Mean || q.Variance != 2*p.Variance || p.Years != 1 || q.Years != 2 {
			t.Errorf("%s: last season %+v, the one before %+v", name, p, q)
		}
	}
}

// A slip in an earlier season moves no level of this one, and is shown with the player to check.
func TestARowFarOutOfAnEarlierSeasonIsSetAsideAndShown(t *testing.T) {
	for f, value := range map[Family]func(*rand.Rand, int, int) float64{Rate: fives, Mean: metres, Rating: grades} {
		past, now := drawnSeason(f, 12, 10, value), drawnSeason(f, 12, 4, value)
		kept := everyRow(past)
		clean, err := FitEarlier([]Data{past.Rows(append(kept[:33:33], kept[34:]...))}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		want := seasonFit(t, now, Options{Season: 200, Earlier: clean})
		past.Value[33] = 500
		e, err := FitEarlier([]Data{{Family: f}, past}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if a := e.asideOf("p03"); len(a) == 1 && (a[0].Expected < 1 || a[0].Expected > 9) {
			t.Errorf("%s: %v was expected where the others have about 5 (grades: 3)", f, a[0].Expected)
		}
		if a := e.asideOf("p03"); len(a) != 1 || a[0].Row != 33 || a[0].Back != 2 || !a[0].Aside || a[0].Value != 500 {
			t.Errorf("%s: set aside two seasons before: %+v", f, a)
		}
		if e, err = FitEarlier([]Data{past}, Options{}); err != nil {
			t.Fatal(err)
		}
		got := seasonFit(t, now, Options{Season: 200, Earlier: e})
		for i, p := range got.Players {
			near(t, string(f)+" "+p.Name, p.Now.Mean, want.Players[i].Now.Mean, 1e-4)
			if slip := p.Name == "p03"; slip != (len(p.AsideBefore) == 1) {
				t.Errorf("%s: %s is asked to check %+v", f, p.Name, p.AsideBefore)
			}
		}
		if said := strings.Join(got.Notes, "; "); !strings.Contains(said, "of earlier seasons, 1 row is ") ||
			!strings.Contains(said, "check it, p03: 500 where") {
			t.Errorf("%s: notes %q", f, said)
		}
	}
}

// What to look at in an earlier season is said with the season that starts from it.
func TestASeasonSaysWhatToCheckInTheSeasonsBefore(t *testing.T) {
	none, seconds, now := drawnSeason(Rate, 12, 10, fives), drawnSeason(Rate, 12, 10, fives),
		drawnSeason(Rate, 12, 4, fives)
	for i := range none.Value {
		none.Value[i] = 0
		seconds.Minutes[i] *= 60
	}
	e, err := FitEarlier([]Data{seconds, none}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	said := strings.Join(seasonFit(t, now, Options{Season: 200, Earlier: e}).Notes, "; ")
	for _, want := range []string{"season 1 before: 120 of 120 rows have minutes longer than two full matches",
		"season 2 before: too little to learn from, so it counts as a season without figures"} {
		if !strings.Contains(said, want) {
			t.Errorf("notes %q, want %q", said, want)
		}
	}
}

func TestGradesStartFromEarlierSeasonsToo(t *testing.T) {
	d := referenceData(t, Rating, "coach_ratings.csv", "score", "")
	e, err := FitEarlier([]Data{d}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	few := take(d, func(i int) bool { return i%12 == 0 })
	alone, with := seasonFit(t, few, Options{}), seasonFit(t, few, Options{Earlier: e})
	for i, p := range with.Players {
		if p.Now != nil && width(p.Now.Interval80) > width(alone.Players[i].Now.Interval80) {
			t.Errorf("%s: %v with an earlier season, %v without", p.Name, p.Now.Interval80, alone.Players[i].Now.Interval80)
		}
	}
}

func TestStartAndNowStayWithinTheDatesWithData(t *testing.T) {
	d := referenceData(t, Rate, "squad_season.csv", "carries", "")
	want := seasonFit(t, d, Options{})
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range d.Time {
		lo, hi = min(lo, v), max(hi, v)
	}
	got := seasonFit(t, d, Options{Start: lo - 5, Now: hi + 5})
	for i, p := range want.Players {
		if p.Now != nil && (*got.Players[i].Now != *p.Now || *got.Players[i].Start != *p.Start) {
			t.Errorf("%s: fixtures not yet played moved %v to %v", p.Name, *p.Now, *got.Players[i].Now)
		}
	}
}
