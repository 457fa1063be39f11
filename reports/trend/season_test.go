package trend

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

var squadSeasons = []struct {
	name, file, value, trials string
	family                    Family
}{
	{"rate", "squad_season.csv", "carries", "", Rate},
	{"proportion", "squad_season.csv", "dominant", "carries", Proportion},
	{"mean", "squad_season.csv", "metres", "carries", Mean},
	{"rating", "coach_ratings.csv", "score", "", Rating},
}

func seasonFit(tb testing.TB, d Data, o Options) Result {
	tb.Helper()
	r, err := Fit(d, o)
	if err != nil {
		tb.Fatal(err)
	}
	if !r.Converged {
		tb.Error("not converged")
	}
	return r
}

func find(tb testing.TB, r Result, name string) Player {
	tb.Helper()
	i := slices.IndexFunc(r.Players, func(p Player) bool { return p.Name == name })
	if i < 0 {
		tb.Fatalf("no player %s", name)
	}
	return r.Players[i]
}

// samePlayer compares every figure of a player to a relative tolerance; by scales what is on the natural scale.
func samePlayer(t *testing.T, got, want Player, by, tol float64) {
	t.Helper()
	check := func(what string, g, w float64) {
		t.Helper()
		if math.IsNaN(g) && math.IsNaN(w) {
			return
		}
		if !(math.Abs(g-w) <= tol*max(1, math.Abs(w))) {
			t.Errorf("%s, %s = %.10g, want %.10g", want.Name, what, g, w)
		}
	}
	estimate := func(what string, g, w *Estimate) {
		t.Helper()
		if g == nil || w == nil {
			if g != w {
				t.Errorf("%s, %s: one is missing", want.Name, what)
			}
			return
		}
		check(what+" mean", g.Mean/by, w.Mean)
		check(what+" 80 low", g.Interval80.Lo/by, w.Interval80.Lo)
		check(what+" 80 high", g.Interval80.Hi/by, w.Interval80.Hi)
		check(what+" 95 low", g.Interval95.Lo/by, w.Interval95.Lo)
		check(what+" 95 high", g.Interval95.Hi/by, w.Interval95.Hi)
	}
	estimate("start", got.Start, want.Start)
	estimate("now", got.Now, want.Now)
	estimate("change", got.Change, want.Change)
	estimate("next", got.Next, want.Next)
	check("improved", got.Improved, want.Improved)
	check("declined", got.Declined, want.Declined)
	check("variation", got.Variation/by, want.Variation)
	if got.Verdict != want.Verdict || len(got.Odd) != len(want.Odd) {
		t.Errorf("%s: %s with %d odd matches, want %s with %d", want.Name, got.Verdict, len(got.Odd), want.Verdict,
			len(want.Odd))
	}
	if want.Standing != nil {
		if g, w := got.Standing.Rank, want.Standing.Rank; math.Abs(g-w) > 2e-3 { // a draw in thousands may tie and turn
			t.Errorf("%s, rank = %v, want %v", want.Name, g, w)
		}
	}
}

func reorder(d Data, order []int) Data {
	out := Data{Family: d.Family}
	for _, i := range order {
		one := take(d, func(k int) bool { return k == i })
		out.Player = append(out.Player, one.Player...)
		out.Match = append(out.Match, one.Match...)
		out.Coach = append(out.Coach, one.Coach...)
		out.Group = append(out.Group, one.Group...)
		out.Time = append(out.Time, one.Time...)
		out.Difficulty = append(out.Difficulty, one.Difficulty...)
		out.Home = append(out.Home, one.Home...)
		out.Minutes = append(out.Minutes, one.Minutes...)
		out.Trials = append(out.Trials, one.Trials...)
		out.Value = append(out.Value, one.Value...)
	}
	return out
}

func TestOrderOfRowsAndPlayersDoesNotMatterToASeason(t *testing.T) {
	for _, c := range squadSeasons {
		t.Run(c.name, func(t *testing.T) {
			d := referenceData(t, c.family, c.file, c.value, c.trials)
			want := seasonFit(t, d, Options{})
			order := rand.New(rand.NewPCG(5, 6)).Perm(len(d.Value))
			got := seasonFit(t, reorder(d, order), Options{})
			for _, p := range want.Players {
				samePlayer(t, find(t, got, p.Name), p, 1, 1e-5)
			}
		})
	}
}

func TestAPlayerWithoutDataChangesNobody(t *testing.T) {
	d := referenceData(t, Rate, "squad_season.csv", "carries", "")
	want := seasonFit(t, d, Options{})
	d.Player = append([]string{"bench"}, d.Player...)
	d.Match = append([]string{"m01"}, d.Match...)
	d.Group = append([]string{"wing"}, d.Group...)
	for _, c := range []*[]float64{&d.Time, &d.Difficulty, &d.Home, &d.Minutes, &d.Value} {
		*c = append([]float64{0}, *c...)
	}
	got := seasonFit(t, d, Options{})
	for _, p := range want.Players {
		samePlayer(t, find(t, got, p.Name), p, 1, 0)
	}
	if b := find(t, got, "bench"); b.Verdict != TooLittle || b.Now != nil || b.Note == "" {
		t.Errorf("the player without data: %+v", b)
	}
}

func TestScalingMetresScalesResults(t *testing.T) {
	const by = 1.0936 // yards
	d := referenceData(t, Mean, "squad_season.csv", "metres", "carries")
	want := seasonFit(t, d, Options{})
	for i := range d.Value {
		d.Value[i] *= by
	}
	got := seasonFit(t, d, Options{})
	for _, p := range want.Players {
		samePlayer(t, find(t, got, p.Name), p, by, 1e-6)
	}
	near(t, "worthwhile", got.Worthwhile/by, want.Worthwhile, 1e-6)
	near(t, "residual SD", got.SD.Residual/by, want.SD.Residual, 1e-6)
}

// With ψ and the scale held, a normal player's intervals depend on how much they played and not on how well: more
// never widens.
func TestMoreActionsNeverWidenAnInterval(t *testing.T) {
	d := referenceData(t, Mean, "squad_season.csv", "metres", "carries")
	rows := newDesign(d, Options{}, nil).rows
	l := newLayout(d, Options{}, rows)
	psi := []float64{math.Log(0.6), math.Log(0.6), math.Log(0.8), math.Log(0.25)}
	widths := func(d Data) (v []float64) {
		g, m := newSeasonModel(d, Options{}, l)
		h := newHyper(g.factors, false, true, Scales{}, l.span, nil)
		h.set(m, psi)
		if !m.mode() {
			t.Fatal("no mode")
		}
		s := &season{layout: l, q: len(g.names), family: Mean, beliefs: []belief{m.believe(1, g, h)}}
		x := make([]float64, s.q)
		for j := range g.factors[0].levels {
			for _, tau := range []float64{0, 0.5, 1} {
				l.fill(x, occasion{Time: l.time[0] + tau*l.time[1], Difficulty: math.NaN(), Home: math.NaN(), Minutes: math.NaN()})
				_, sd := s.level(x, j, tau).moments()
				v = append(v, sd)
			}
		}
		return v
	}
	before := widths(d)
	for _, i := range []int{3, 100, 555} {
		more := d
		more.Trials = slices.Clone(d.Trials)
		more.Trials[i] += 4
		for k, v := range widths(more) {
			if v > before[k]*(1+1e-12) {
				t.Errorf("row %d with more actions: SD %d is %.15g, was %.15g", i, k, v, before[k])
			}
		}
	}
}

// For counts the same holds on average over what might have been counted.
func TestMoreMinutesNarrowIntervalsOnAverage(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 3))
	var short, long float64
	for range 30 {
		q := squadTruth{level: 0.4, slope: 0.3, theta: 12, rate: 5, match: 0.1}
		d, q := simulateSquad(random, q, 12, 10)
		less, err := fitSeason(d, Options{}, q.psi())
		if err != nil {
			t.Fatal(err)
		}
		for i := range d.Minutes { // the same squad, each match half as long again
			d.Value[i] += drawCount(random, d.Value[i]/2, 0)
			d.Minutes[i] *= 1.5
		}
		more, err := fitSeason(d, Options{}, q.psi())
		if err != nil {
			t.Fatal(err)
		}
		for i := range less.Players {
			short += math.Log(width(less.Players[i].Now.Interval80) / less.Players[i].Now.Mean)
			long += math.Log(width(more.Players[i].Now.Interval80) / more.Players[i].Now.Mean)
		}
	}
	if !(long < short) {
		t.Errorf("mean log relative width with more minutes %.4f, with fewer %.4f", long, short)
	}
}

func TestIntervalsAreNestedAndChangeFitsItsEnds(t *testing.T) {
	for _, c := range squadSeasons {
		r := seasonFit(t, referenceData(t, c.family, c.file, c.value, c.trials), Options{})
		for _, p := range r.Players {
			for what, e := range map[string]*Estimate{"start": p.Start, "now": p.Now, "change": p.Change, "next": p.Next} {
				if !(e.Interval95.Lo <= e.Interval80.Lo && e.Interval80.Lo <= e.Mean && e.Mean <= e.Interval80.Hi &&
					e.Interval80.Hi <= e.Interval95.Hi) {
					t.Errorf("%s %s %s: %+v", c.name, p.Name, what, *e)
				}
			}
			near(t, c.name+" "+p.Name+" mean change", p.Change.Mean, p.Now.Mean-p.Start.Mean, 0.02)
			if s := p.Improved + p.Declined; !(p.Improved >= 0 && p.Declined >= 0 && s <= 1+1e-9) {
				t.Errorf("%s %s: improved %v, declined %v", c.name, p.Name, p.Improved, p.Declined)
			}
			if p.Standing == nil || p.Standing.Rank < 1 || p.Standing.Rank > float64(p.Standing.Of) ||
				p.Standing.Rank80.Lo > p.Standing.Rank80.Hi {
				t.Errorf("%s %s: standing %+v", c.name, p.Name, p.Standing)
			}
		}
	}
}

// The change's distribution against simulation of the same bivariate normal.
func TestChangeAgreesWithSimulation(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 8))
	const m1, m2, v1, v2, c12, centre = 0.2, -0.3, 0.09, 0.06, 0.03, 0.5
	l := math.Sqrt(v2 - c12*c12/v1)
	for _, f := range []Family{Rate, Proportion, Mean} {
		lay := layout{family: f, centre: centre, unit: 1}
		c := newChange(f, centre, 1, []pair{newPair(1, m1, m2, v1, v2, c12)})
		var draws []float64
		for range 200000 {
			z1, z2 := random.NormFloat64(), random.NormFloat64()
			e1 := m1 + math.Sqrt(v1)*z1
			e2 := m2 + c12/math.Sqrt(v1)*z1 + l*z2
			draws = append(draws, lay.natural(e2)-lay.natural(e1))
		}
		slices.Sort(draws)
		e := c.estimate()
		spread := draws[180000] - draws[20000]
		for _, q := range []struct{ got, want float64 }{
			{e.Interval80.Lo, draws[20000]}, {e.Interval80.Hi, draws[180000]}, {e.Interval95.Lo, draws[5000]},
			{e.Interval95.Hi, draws[195000]},
		} {
			if !(math.Abs(q.got-q.want) < 0.01*spread) {
				t.Errorf("%s: quantile %.4f, simulated %.4f", f, q.got, q.want)
			}
		}
	}
}

func TestDegenerateInputGivesSenseOrTooLittle(t *testing.T) {
	type row struct {
		player, match, group    string
		t, opp, home, min, n, y float64
	}
	build := func(f Family, rows []row) Data {
		d := Data{Family: f}
		for _, r := range rows {
			d.Player, d.Match, d.Group = append(d.Player, r.player), append(d.Match, r.match), append(d.Group, r.group)
			d.Time, d.Difficulty, d.Home = append(d.Time, r.t), append(d.Difficulty, r.opp), append(d.Home, r.home)
			d.Minutes, d.Trials, d.Value = append(d.Minutes, r.min), append(d.Trials, r.n), append(d.Value, r.y)
		}
		if f == Rating {
			d.Coach = slices.Clone(d.Match)
		}
		return d
	}
	var many, zeros, full, flat, away []row
	for p := range 6 {
		for m := range 8 {
			r := row{fmt.Sprint("p", p), fmt.Sprint("m", m), fmt.Sprint("g", p%2), float64(m), float64(1 + m%3), float64(m % 2),
				80, 5, float64((p*m + m) % 4)}
			many = append(many, r)
			z := r
			z.y = 0
			zeros = append(zeros, z)
			z.y = z.n
			full = append(full, z)
			z = r
			if p%2 == 0 {
				z.y = 2
			}
			flat = append(flat, z)
			z = r
			z.home = 0
			away = append(away, z)
		}
	}
	none := slices.Clone(many)
	for i := range none {
		none[i].min, none[i].n, none[i].y = 0, 0, 0
	}
	lone := many[:1]
	onePlayer := many[:8]
	var oneMatch []row
	for _, r := range many {
		if r.match == "m3" {
			oneMatch = append(oneMatch, r)
		}
	}
	for name, rows := range map[string][]row{
		"nothing": nil, "one row": lone, "one player": onePlayer, "one match": oneMatch, "three rows": many[:3],
		"all zeros": zeros, "all successes": full,
		"a group without variance": flat, "no home matches": away, "no opportunity": none, "ordinary": many,
	} {
		for _, f := range []Family{Rate, Proportion, Mean, Rating} {
			for _, plain := range []bool{false, true} {
				d := build(f, rows)
				r, err := Fit(d, Options{Plain: plain})
				if err != nil {
					if !plain || !errors.Is(err, ErrTooLittle) {
						t.Errorf("%s, %s, plain %v: %v", name, f, plain, err)
					}
					continue
				}
				if !r.Converged && !plain {
					t.Errorf("%s, %s: not converged", name, f)
				}
				finiteResult(t, fmt.Sprintf("%s, %s, plain %v", name, f, plain), r)
				if name == "ordinary" && !plain && r.Players[0].Now == nil {
					t.Errorf("%s, %s: no level", name, f)
				}
				if name == "one player" && !plain && (r.Players[0].Now == nil || r.Players[0].Verdict != Unclear ||
					!math.IsNaN(r.Players[0].Improved) || len(r.Notes) == 0) {
					t.Errorf("%s, %s: judged without anyone to compare with: %+v", name, f, r.Players[0])
				}
				for _, p := range r.Players {
					if !plain && p.Matches < leastMatches && p.Verdict != TooLittle {
						t.Errorf("%s, %s: %d matches, verdict %s", name, f, p.Matches, p.Verdict)
					}
				}
			}
		}
	}
}

func finiteResult(t *testing.T, what string, r Result) {
	t.Helper()
	for _, e := range r.Fixed {
		if math.IsNaN(e.Estimate) || math.IsInf(e.Estimate, 0) || math.IsInf(e.SE, 0) || math.IsNaN(e.SE) && r.Converged &&
			len(r.Notes) == 0 {
			t.Errorf("%s: %s = %v ± %v", what, e.Name, e.Estimate, e.SE)
		}
	}
	for _, p := range r.Players {
		for k, e := range map[string]*Estimate{"start": p.Start, "now": p.Now, "change": p.Change, "next": p.Next} {
			if e != nil {
				finite(t, what+" "+p.Name+" "+k, e.Mean, e.Interval80.Lo, e.Interval80.Hi, e.Interval95.Lo, e.Interval95.Hi)
				if width(e.Interval95) < width(e.Interval80) {
					t.Errorf("%s %s %s: %+v", what, p.Name, k, *e)
				}
			}
		}
		if p.Change != nil && r.Worthwhile > 0 {
			finite(t, what+" "+p.Name+" probabilities", p.Improved, p.Declined)
		}
	}
}

func TestOutlookAndHeadToHeadFollowTheLevels(t *testing.T) {
	d := referenceData(t, Rate, "squad_season.csv", "carries", "")
	r := seasonFit(t, d, Options{})
	p := r.Players[0]
	for _, c := range []struct{ target, want float64 }{{p.Now.Interval80.Lo, 0.9}, {p.Now.Interval80.Hi, 0.1},
		{p.Now.Interval95.Hi, 0.025}, {0, 1}, {1e6, 0}} {
		o, err := r.Outlook(p.Name, c.target, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "reached", o.Reached, c.want, 1e-4)
		near(t, "now", o.Now, c.want, 1e-4)
		if o.Met != (o.Now >= 0.9) {
			t.Errorf("met %v at %v", o.Met, o.Now)
		}
	}
	if _, err := r.Outlook("nobody", 1, 0); err == nil {
		t.Error("an outlook of nobody")
	}
	best, worst := r.Players[0], r.Players[0]
	for _, p := range r.Players {
		if p.Now.Mean > best.Now.Mean {
			best = p
		}
		if p.Now.Mean < worst.Now.Mean {
			worst = p
		}
	}
	ab, err := r.HeadToHead(best.Name, worst.Name)
	if err != nil {
		t.Fatal(err)
	}
	ba, err := r.HeadToHead(worst.Name, best.Name)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "both ways", ab+ba, 1, 1e-9)
	if !(ab > 0.99) {
		t.Errorf("best against worst: %v", ab)
	}
}

func TestLowerIsBetterTurnsTheVerdictsRound(t *testing.T) {
	d := referenceData(t, Rate, "squad_season.csv", "carries", "")
	up, down := seasonFit(t, d, Options{}), seasonFit(t, d, Options{LowerIsBetter: true})
	turn := map[Verdict]Verdict{Improving: Declining, Declining: Improving, ProbablyImproving: ProbablyDeclining,
		ProbablyDeclining: ProbablyImproving}
	for i, p := range up.Players {
		want, ok := turn[p.Verdict]
		if !ok {
			want = p.Verdict
		}
		q := down.Players[i]
		if q.Verdict != want || q.Improved != p.Declined {
			t.Errorf("%s: %s turns to %s", p.Name, p.Verdict, q.Verdict)
		}
		near(t, "rank", q.Standing.Rank, float64(p.Standing.Of+1)-p.Standing.Rank, 1e-9)
	}
}

func TestFitSquadFitsAllAndStopsWhenTold(t *testing.T) {
	var list []Indicator
	for _, c := range squadSeasons {
		list = append(list, Indicator{Name: c.name, Data: referenceData(t, c.family, c.file, c.value, c.trials)})
	}
	list = append(list, Indicator{Name: "impossible",
		Data: Data{Family: Rate, Player: []string{"a"}, Value: []float64{-1}}})
	results, err := FitSquad(context.Background(), list)
	if err == nil || results[4] != nil {
		t.Error("an impossible count went through")
	}
	for i, r := range results[:4] {
		if r == nil || len(r.Players) != 40 {
			t.Errorf("%s: no result", list[i].Name)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := FitSquad(ctx, list); err == nil {
		t.Error("a cancelled squad went through")
	}
}

// A firm verdict needs a probability, and company whose expected share of false signs stays at 0.05 or less. The rates
// below are made up; the running means are worked out by hand.
func TestAVerdictIsFirmOnlyWhileTheExpectedShareOfFalseSignsHolds(t *testing.T) {
	for _, c := range []struct {
		name  string
		rates []float64 // local false-sign rates of candidates, each with a probability of 0.92
		firm  []bool
	}{
		{"all are sure", []float64{0.01, 0.02, 0.03}, []bool{true, true, true}},
		{"one is not", []float64{0.07}, []bool{false}},
		{"two sure ones carry a third", []float64{0.02, 0.03, 0.09}, []bool{true, true, true}},        // mean 0.0467
		{"a fourth is too many", []float64{0.09, 0.02, 0.09, 0.03}, []bool{false, true, false, true}}, // 0.23 / 4 = 0.0575
		{"the limit itself", []float64{0.04, 0.06}, []bool{true, true}},
	} {
		r := &Result{}
		for _, rate := range c.rates {
			r.Players = append(r.Players, Player{Matches: 10, Change: &Estimate{}, Improved: 0.92, Declined: 0.001,
				FalseSign: rate})
		}
		Judge([]*Result{r})
		for i, p := range r.Players {
			want := ProbablyImproving
			if c.firm[i] {
				want = Improving
			}
			if p.Verdict != want {
				t.Errorf("%s: candidate %d is %s, want %s", c.name, i, p.Verdict, want)
			}
		}
	}
}

func TestAVerdictShortOfFirmFollowsItsProbability(t *testing.T) {
	r := &Result{Minutes: true}
	for _, p := range [][2]float64{{0.89, 0.001}, {0.75, 0.001}, {0.5, 0.001}, {0.1, 0.1}, {0.01, 0.8}, {0.001, 0.95}} {
		r.Players = append(r.Players, Player{Matches: 10, Minutes: 600, Change: &Estimate{}, Improved: p[0], Declined: p[1]})
	}
	r.Players = append(r.Players, Player{Matches: 3, Minutes: 240, Change: &Estimate{}, Improved: 1},
		Player{Matches: 5, Minutes: 159, Change: &Estimate{}, Improved: 1})
	Judge([]*Result{r})
	want := []Verdict{ProbablyImproving, ProbablyImproving, Unclear, Steady, ProbablyDeclining, Declining, TooLittle,
		TooLittle}
	for i, p := range r.Players {
		if p.Verdict != want[i] {
			t.Errorf("player %d: %s, want %s", i, p.Verdict, want[i])
		}
	}
}

// A grade may be hidden from a coach: the fits beside it are to the byte as they are with other grades.
func TestGradesMoveNothingButTheTrendsOfTheirSkill(t *testing.T) {
	fit := func(turned bool) (counted, graded string) {
		var list []Indicator
		for _, c := range squadSeasons {
			d := referenceData(t, c.family, c.file, c.value, c.trials)
			if turned && c.family == Rating {
				for i := range d.Value {
					d.Value[i] = 1 + 4*float64(i%2) // no player has a level any more
				}
			}
			list = append(list, Indicator{Name: c.name, Data: d})
		}
		results, err := FitSquad(t.Context(), list)
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range results {
			text := fmt.Sprint(r.Worthwhile)
			for _, p := range r.Players {
				text += fmt.Sprint(p.Name, p.Verdict, *p.Now, *p.Change, p.Improved, p.Declined)
			}
			if list[i].Data.Family == Rating {
				graded += text
			} else {
				counted += text
			}
		}
		return counted, graded
	}
	counted, graded := fit(false)
	again, turned := fit(true)
	if graded == turned {
		t.Fatal("other grades give the same trends: nothing is compared")
	}
	if counted != again {
		t.Error("other grades give other trends of what is counted")
	}
}
