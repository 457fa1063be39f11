package trend

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// Compared against Efron & Morris 1975, JASA 70, and 1977, Sci Am 236: 18 batters, hits in 45 at bats. Their
// James–Stein factor 1 − (k−3)σ²/S uses (k−3)/S for 1/(τ²+σ²) where restricted maximum likelihood uses (k−1)/S, so
// ours gives theirs.
func TestShrinkageAgreesWithEfronAndMorris(t *testing.T) {
	hits := []float64{18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7}
	rest := []float64{.346, .298, .276, .222, .273, .270, .263, .210, .269, .230, .264, .256, .303, .264, .226, .286,
		.316, .200}
	k := float64(len(hits))
	var x, v []float64
	var all float64
	for _, h := range hits {
		all += h / 45 / k
	}
	for _, h := range hits {
		x, v = append(x, h/45), append(v, all*(1-all)/45)
	}
	fit := fitMean(x, v, 0)
	reml := fit.strength / (fit.strength + v[0])
	factor := 1 - (1-reml)*(k-3)/(k-1)
	near(t, "James–Stein factor", factor, .212, 5e-4)
	var raw, js float64
	for i := range x {
		raw += (x[i] - rest[i]) * (x[i] - rest[i])
		s := fit.mean + factor*(x[i]-fit.mean)
		js += (s - rest[i]) * (s - rest[i])
	}
	near(t, "squared error unshrunk", raw, .0755, 5e-5)
	near(t, "squared error shrunk", js, .0214, 5e-5)

	// The beta–binomial levels of the same batters: no worse than the published shrinkage, to its printed .022.
	var players [][]Match
	for _, h := range hits {
		players = append(players, []Match{{h, 45}})
	}
	p, err := FitPrior(Proportion, players)
	if err != nil {
		t.Fatal(err)
	}
	var bb float64
	for i := range players {
		d := p.Level(players[i]).Mean - rest[i]
		bb += d * d
	}
	if bb > .0225 {
		t.Errorf("squared error of beta–binomial levels %.4f, want at most .022", bb)
	}
}

// Compared against Viechtbauer 2010, J Stat Softw 36(3): 13 trials of BCG vaccine (Colditz et al. 1994), log risk
// ratios; REML τ² = 0.3132, estimate −0.7145, standard error 0.1798. Counts from memory; the agreement confirms them.
func TestMeanFitAgreesWithPublishedMetaAnalysis(t *testing.T) {
	var x, v []float64
	for _, c := range [][4]float64{
		{4, 119, 11, 128}, {6, 300, 29, 274}, {3, 228, 11, 209}, {62, 13536, 248, 12619}, {33, 5036, 47, 5761},
		{180, 1361, 372, 1079}, {8, 2537, 10, 619}, {505, 87886, 499, 87892}, {29, 7470, 45, 7232}, {17, 1699, 65, 1600},
		{186, 50448, 141, 27197}, {5, 2493, 3, 2338}, {27, 16886, 29, 17825},
	} {
		n1, n2 := c[0]+c[1], c[2]+c[3]
		x = append(x, math.Log(c[0]/n1/(c[2]/n2)))
		v = append(v, 1/c[0]-1/n1+1/c[2]-1/n2)
	}
	fit := fitMean(x, v, 0)
	near(t, "τ²", fit.strength, 0.3132, 5e-5)
	near(t, "mean", fit.mean, -0.7145, 5e-5)
	near(t, "standard error", math.Sqrt(fit.varMean), 0.1798, 5e-5)
}

// Compared against the eight schools of Rubin 1981, J Educ Stat 6, whose maximum is at no spread at all (Chung et al.
// 2013, Psychometrika 78): the plain fit finds it, the leaning fit avoids it.
func TestSpreadIsNeverEstimatedAsNone(t *testing.T) {
	x := []float64{28, 8, -3, 7, -1, 1, 18, 12}
	var v []float64
	for _, se := range []float64{15, 10, 16, 11, 9, 11, 10, 18} {
		v = append(v, se*se)
	}
	if s := math.Sqrt(fitMean(x, v, 0).strength); s > 0.05 {
		t.Errorf("plain τ = %g, want the boundary", s)
	}
	if s := math.Sqrt(fitMean(x, v, 5).strength); s < 1 || s > 15 {
		t.Errorf("leaning τ = %g, want well inside", s)
	}
}

// Compared against R 4.2.2 on the 37 players of squad A, tackles_made, totals y and exposures e = minutes/80:
// optim(c(log(sum(y)/sum(e)),1), function(p) -sum(dnbinom(y, size=exp(p[2]), mu=exp(p[1])*e, log=TRUE)),
// control=list(reltol=1e-15, maxit=5000)) The dispersion: m <- glm(y~player-1+offset(log(e)), poisson);
// sum(residuals(m,"response")^2)/sum(fitted(m)*(1-hatvalues(m))) Leaning and level: h = 1/sqrt(size) on 1500 even
// points of log(h) from .05 to 3, the mean profiled by optimize at each, on y/φ, e/φ with lgamma terms and + log(h) -
// h/.5; moments of the mixture; qgamma and pgamma.
func TestRateFitAgreesWithR(t *testing.T) {
	names, players := contactSquad(t, "squad A", "tackles_made")
	plain := fitRate(totals(Rate, players), 0)
	near(t, "mean", plain.mean, 2.96886793628, 1e-6)
	near(t, "size", plain.strength, 3.84002663568, 1e-5)

	p, err := FitPrior(Rate, players)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "dispersion", p.phi, 1.23515065715, 1e-9)
	near(t, "leaning mean", p.fit.mean, 2.97643820848, 1e-6)
	near(t, "leaning size", p.fit.strength, 4.00936338299, 1e-5)
	own := players[slices.Index(names, "player 003")]
	if tot, _ := sum(Rate, own); tot.Numerator != 47 || math.Abs(tot.Denominator-18.6875) > 1e-9 {
		t.Fatalf("totals of player 003: %v", tot)
	}
	l := p.Level(own)
	near(t, "level", l.Mean, 2.55211317027, 1e-6)
	near(t, "95 % lower", l.Interval95.Lo, 1.83798581414, 1e-6)
	near(t, "80 % lower", l.Interval80.Lo, 2.06124976052, 1e-6)
	near(t, "80 % upper", l.Interval80.Hi, 3.06909391417, 1e-6)
	near(t, "95 % upper", l.Interval95.Hi, 3.38162490187, 1e-6)
	near(t, "above the group", l.AboveGroup, 0.141911787378, 1e-6)
}

// Compared against R 4.2.2 on squad_season.csv, dominant of carries, totals S of N:
// optim(c(0,2), function(p) {mu <- plogis(p[1]); k <- exp(p[2]);
// -sum(lbeta(mu*k+S,(1-mu)*k+N-S)-lbeta(mu*k,(1-mu)*k))}, control=list(reltol=1e-15, maxit=5000)) The dispersion by
// its formula; leaning and level on S/φ, N/φ with + log(h) - h/.3, h = 1/sqrt(k+1), on 1500 points of log(h) as for
// rates; qbeta and pbeta.
func TestProportionFitAgreesWithR(t *testing.T) {
	players := squadSeason(t, "dominant", "carries")
	plain := fitProportion(totals(Proportion, players), 0)
	near(t, "mean", plain.mean, 0.494494130086, 1e-6)
	near(t, "precision", plain.strength, 9.29301804533, 1e-5)

	p, err := FitPrior(Proportion, players)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "dispersion", p.phi, 1.93977035159, 1e-9)
	near(t, "leaning mean", p.fit.mean, 0.500481391923, 1e-6)
	near(t, "leaning precision", p.fit.strength, 11.9903662536, 1e-5)
	l := p.Level(players[0])
	near(t, "level", l.Mean, 0.630316143417, 1e-6)
	near(t, "95 % lower", l.Interval95.Lo, 0.484524897816, 1e-6)
	near(t, "80 % lower", l.Interval80.Lo, 0.536232258863, 1e-6)
	near(t, "80 % upper", l.Interval80.Hi, 0.721782817531, 1e-6)
	near(t, "95 % upper", l.Interval95.Hi, 0.764893478875, 1e-6)
	near(t, "above the group", l.AboveGroup, 0.959978516871, 1e-6)
}

// Compared against R 4.2.2 on squad_season.csv, metres per carry: σ² = summary(lm(metres/carries~player,
// weights=carries))$sigma^2; optimize of the REML log-likelihood + log(t) - t/(.3*sigma), then 3000 points of log(t);
// qnorm and pnorm.
func TestMeanFitAgreesWithR(t *testing.T) {
	players := squadSeason(t, "metres", "carries")
	p, err := FitPrior(Mean, players)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "σ²", p.sigma2, 4.53169336291, 1e-9)
	near(t, "mean", p.fit.mean, 3.12852449081, 1e-6)
	near(t, "τ", math.Sqrt(p.fit.strength), 0.951231508479, 1e-6)
	near(t, "variance of the mean", p.fit.varMean, 0.0251197550277, 1e-6)
	l := p.Level(players[0])
	near(t, "level", l.Mean, 3.61562711391, 1e-6)
	near(t, "95 % lower", l.Interval95.Lo, 3.11580190103, 1e-6)
	near(t, "80 % lower", l.Interval80.Lo, 3.28880897382, 1e-6)
	near(t, "80 % upper", l.Interval80.Hi, 3.942445254, 1e-6)
	near(t, "95 % upper", l.Interval95.Hi, 4.11545232679, 1e-6)
	near(t, "above the group", l.AboveGroup, 0.971938215467, 1e-6)
}

// Compared against forecast_baseline.R (base R; gamma–Poisson empirical Bayes after Robbins 1956 and Efron & Morris
// 1975): learn from twelve match dates of each of 18 squads, predict each later appearance; mean Poisson log score.
// The plain fit reproduces it. Ours gains 0.0008 and 0.0003 for tackles and carries, loses 0.0012 and 0.0002 for
// errors and passes; over the four together the rule is that it does not lose beyond noise. Predictions of one squad
// share its fits, so differences are independent between squads only.
func TestRateLevelsForecastAsWellAsTheBaseline(t *testing.T) {
	rows := table(t, "contact_season_totals.csv.gz")
	dates := map[string]bool{}
	for _, r := range rows {
		dates[r["match_date"]] = true
	}
	var order []string
	for d := range dates {
		order = append(order, d)
	}
	slices.Sort(order)
	first := day(t, order[0])
	lost := map[string]float64{} // by squad, per prediction, over the four counts
	for _, c := range []struct {
		count    string
		baseline float64
	}{{"tackles_made", -1.9024}, {"carries", -2.3879}, {"errors", -1.8596}, {"passes", -2.4862}} {
		type key struct{ squad, player string }
		train, index := map[string][][]Match{}, map[key]int{}
		for _, r := range rows {
			if (day(t, r["match_date"])-first)/7 >= 12 {
				continue
			}
			k := key{r["squad"], r["player"]}
			i, ok := index[k]
			if !ok {
				i = len(train[k.squad])
				index[k] = i
				train[k.squad] = append(train[k.squad], nil)
			}
			train[k.squad][i] = append(train[k.squad][i], Match{number(t, r[c.count]), number(t, r["minutes"]) / 80})
		}
		plain, ours := map[string]spread{}, map[string]Prior{}
		for q, players := range train {
			plain[q] = fitRate(totals(Rate, players), 0)
			p, err := FitPrior(Rate, players)
			if err != nil {
				t.Fatal(err)
			}
			ours[q] = p
		}
		var n, base, score float64
		for _, r := range rows {
			k := key{r["squad"], r["player"]}
			i, ok := index[k]
			if !ok || (day(t, r["match_date"])-first)/7 < 12 {
				continue
			}
			y, e := number(t, r[c.count]), number(t, r["minutes"])/80
			lg, _ := math.Lgamma(y + 1)
			logScore := func(level float64) float64 {
				mu := max(level*e, 1e-6)
				return y*math.Log(mu) - mu - lg
			}
			own := train[k.squad][i]
			tot, _ := sum(Rate, own)
			f := plain[k.squad]
			b := logScore((f.strength + tot.Numerator) / (f.strength/f.mean + tot.Denominator))
			s := logScore(ours[k.squad].Level(own).Mean)
			base, score = base+b, score+s
			lost[k.squad] += (b - s) / 3940
			n++
		}
		if n != 3940 {
			t.Errorf("%s: %g predictions, want 3940", c.count, n)
		}
		near(t, c.count+": plain score", base/n, c.baseline, 1e-4)
		t.Logf("%s: baseline %.4f, ours %.4f", c.count, base/n, score/n)
	}
	var total, squares float64
	for _, d := range lost {
		total += d
	}
	for _, d := range lost {
		d -= total / float64(len(lost))
		squares += d * d
	}
	if noise := math.Sqrt(squares); total > 2*noise {
		t.Errorf("lost %.4f to the baseline over four counts, beyond noise of %.4f", total, noise)
	} else {
		t.Logf("lost %.4f to the baseline over four counts, noise %.4f", total, noise)
	}
}

// Coverage where the truth is known: invented levels, counts over-dispersed from match to match (variance μ + μ²/4).
func TestIntervalsHoldTheTruthUnderOverdispersion(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	in80, in95, n := 0.0, 0.0, 0.0
	for range 150 {
		var truth []float64
		var players [][]Match
		for range 12 {
			l := 8 * sampleGamma(rnd, 9) / 9
			var ms []Match
			for range 10 {
				e := 0.2 + 0.8*rnd.Float64()
				ms = append(ms, Match{samplePoisson(rnd, l*e*sampleGamma(rnd, 4)/4), e})
			}
			truth, players = append(truth, l), append(players, ms)
		}
		p, err := FitPrior(Rate, players)
		if err != nil {
			t.Fatal(err)
		}
		for i := range players {
			l := p.Level(players[i])
			n++
			if l.Interval80.Lo <= truth[i] && truth[i] <= l.Interval80.Hi {
				in80++
			}
			if l.Interval95.Lo <= truth[i] && truth[i] <= l.Interval95.Hi {
				in95++
			}
		}
	}
	t.Logf("coverage %.3f of 0.80, %.3f of 0.95", in80/n, in95/n)
	if in80/n < 0.77 || in80/n > 0.86 || in95/n < 0.93 || in95/n > 0.98 {
		t.Errorf("coverage %.3f of 0.80, %.3f of 0.95", in80/n, in95/n)
	}
}

func sampleGamma(r *rand.Rand, shape int) (g float64) {
	for range shape {
		g += r.ExpFloat64()
	}
	return g
}

func samplePoisson(r *rand.Rand, mu float64) (y float64) {
	for s := r.ExpFloat64(); s < mu; s += r.ExpFloat64() {
		y++
	}
	return y
}

// invented makes a group of players of one family, some with no match.
func invented(f Family, r *rand.Rand, players, matches int) [][]Match {
	out := make([][]Match, players)
	for i := range out {
		level := 0.2 + 0.6*r.Float64()
		for range matches {
			m := Match{Denominator: float64(1 + r.IntN(12))}
			switch f {
			case Rate:
				m.Denominator /= 12
				m.Numerator = samplePoisson(r, 10*level*m.Denominator)
			case Proportion:
				for range int(m.Denominator) {
					if r.Float64() < level {
						m.Numerator++
					}
				}
			case Mean:
				m.Numerator = m.Denominator*5*level + math.Sqrt(m.Denominator)*r.NormFloat64()
			}
			out[i] = append(out[i], m)
		}
	}
	return out
}

func fitted(tb testing.TB, f Family, players [][]Match) Prior {
	tb.Helper()
	p, err := FitPrior(f, players)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

func TestLevelLiesBetweenOwnFigureAndGroup(t *testing.T) {
	for _, f := range []Family{Rate, Proportion, Mean} {
		players := invented(f, rand.New(rand.NewPCG(3, 4)), 20, 8)
		p := fitted(t, f, players)
		g := p.Group().Mean
		for i, ms := range players {
			for k := range ms {
				tot, _ := sum(f, ms[:k+1])
				own, l := tot.Numerator/tot.Denominator, p.Level(ms[:k+1])
				if l.Mean < min(own, g)-1e-9 || l.Mean > max(own, g)+1e-9 {
					t.Errorf("%s player %d after %d: level %g outside own %g and group %g", f, i, k+1, l.Mean, own, g)
				}
				if !(l.Interval95.Lo < l.Interval80.Lo && l.Interval80.Lo < l.Mean && l.Mean < l.Interval80.Hi &&
					l.Interval80.Hi < l.Interval95.Hi) {
					t.Errorf("%s player %d after %d: %+v", f, i, k+1, l)
				}
			}
		}
	}
}

// A level that moves away from the group may widen at first, because a rate's variance grows with the rate; what never
// widens is a level at the group's mean, a rate's width relative to its level where there are events, a run of matches
// without any, and a season that is lived twice.
func TestMoreMatchesOfTheSameNeverWiden(t *testing.T) {
	for _, f := range []Family{Rate, Proportion, Mean} {
		players := invented(f, rand.New(rand.NewPCG(5, 6)), 15, 6)
		p := fitted(t, f, players)
		var ms []Match
		before := p.Level(ms)
		for range 30 {
			ms = append(ms, Match{p.Group().Mean * 2, 2})
			after := p.Level(ms)
			near(t, string(f)+": level", after.Mean, before.Mean, 1e-12)
			if width(after.Interval95) > width(before.Interval95)+1e-9 || width(after.Interval80) > width(before.Interval80)+
				1e-9 {
				t.Errorf("%s: %v widened to %v", f, before.Interval95, after.Interval95)
			}
			before = after
		}
		for n, none := 0, []Match(nil); n < 20 && f != Mean; n++ {
			none = append(none, Match{0, 1})
			if a, b := p.Level(none), p.Level(none[:n]); n > 0 && width(a.Interval95) > width(b.Interval95)+1e-9 {
				t.Errorf("%s: %d matches without success, %v widened to %v", f, n, b.Interval95, a.Interval95)
			}
		}
		for i, ms := range players {
			once, twice := p.Level(ms), p.Level(slices.Repeat(ms, 2))
			if width(twice.Interval95) >= width(once.Interval95) || width(twice.Interval80) >= width(once.Interval80) {
				t.Errorf("%s, player %d: %v widened to %v", f, i, once.Interval95, twice.Interval95)
			}
		}
	}
	p := fitted(t, Rate, invented(Rate, rand.New(rand.NewPCG(5, 6)), 15, 6))
	for _, rate := range []float64{3, 50} {
		var ms []Match
		before := p.Level(ms)
		for range 30 {
			ms = append(ms, Match{rate, 1})
			after := p.Level(ms)
			if width(after.Interval95)/after.Mean > width(before.Interval95)/before.Mean+1e-9 {
				t.Errorf("rate %g: relative width grew from %v to %v", rate, before, after)
			}
			before = after
		}
	}
}

func width(iv Interval) float64 { return iv.Hi - iv.Lo }

func TestOrderOfPlayersDoesNotMatter(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, f := range []Family{Rate, Proportion, Mean} {
		players := invented(f, r, 12, 5)
		p := fitted(t, f, players)
		for range 5 {
			mixed := slices.Clone(players)
			r.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
			q := fitted(t, f, mixed)
			for _, ms := range players {
				near(t, string(f), q.Level(ms).Interval95.Hi, p.Level(ms).Interval95.Hi, 1e-6)
			}
		}
	}
}

// The unit of a mean (metres or yards) changes every figure in proportion.
func TestMeanFollowsItsUnit(t *testing.T) {
	players := invented(Mean, rand.New(rand.NewPCG(9, 10)), 10, 6)
	var other [][]Match
	for _, ms := range players {
		var o []Match
		for _, m := range ms {
			o = append(o, Match{m.Numerator * 1000, m.Denominator})
		}
		other = append(other, o)
	}
	p, q := fitted(t, Mean, players), fitted(t, Mean, other)
	near(t, "SD", q.Group().SD, 1000*p.Group().SD, 1e-6)
	near(t, "upper", q.Level(other[0]).Interval95.Hi, 1000*p.Level(players[0]).Interval95.Hi, 1e-6)
}

func TestThinGroupsStillGiveHonestWidth(t *testing.T) {
	zeros := [][]Match{{{0, 1}, {0, 1}}, {{0, .5}}, {{0, 1}}}
	alike := [][]Match{{{4, 8}, {4, 8}}, {{4, 8}, {4, 8}}, {{4, 8}}}
	for _, c := range []struct {
		name    string
		family  Family
		players [][]Match
	}{
		{"one player", Rate, [][]Match{{{4, 1}, {5, 1}}}},
		{"one player, one match", Rate, [][]Match{{{4, 1}}}},
		{"no event", Rate, zeros},
		{"no difference", Rate, alike},
		{"players without matches", Rate, [][]Match{{}, {{4, 1}}, nil, {{2, 0}}}},
		{"one player", Proportion, [][]Match{{{4, 8}, {5, 8}}}},
		{"all succeed", Proportion, [][]Match{{{4, 4}}, {{8, 8}}}},
		{"none succeeds", Proportion, [][]Match{{{0, 4}}, {{0, 8}}}},
		{"a single trial", Proportion, [][]Match{{{1, 1}}}},
		{"no difference", Proportion, alike},
		{"one player", Mean, [][]Match{{{4, 8}, {5, 8}}}},
		{"a match each", Mean, [][]Match{{{4, 8}}, {{5, 8}}}},
	} {
		p, err := FitPrior(c.family, c.players)
		if err != nil {
			t.Errorf("%s, %s: %v", c.family, c.name, err)
			continue
		}
		g, l := p.Group(), p.Level(c.players[0])
		if !(g.SD > 0 && width(g.Range80) > 0 && width(l.Interval80) > 0 && width(l.Interval95) > width(l.Interval80)) {
			t.Errorf("%s, %s: group %+v, level %+v", c.family, c.name, g, l)
		}
		if empty := p.Level(nil); empty.Matches != 0 || empty.OwnWeight != 0 ||
			math.Abs(empty.Mean-g.Mean) > 1e-12*math.Abs(g.Mean) {
			t.Errorf("%s, %s: level of no matches %+v is not the group's %+v", c.family, c.name, empty, g)
		}
	}
}

func TestFewerPlayersMakeAWiderGroup(t *testing.T) {
	two := [][]Match{{{4, 1}, {6, 1}}, {{5, 1}, {3, 1}}}
	many := slices.Repeat(two, 15)
	if a, b := width(fitted(t, Rate, two).Level(nil).Interval95),
		width(fitted(t, Rate, many).Level(nil).Interval95); a <= b {
		t.Errorf("a newcomer's width %g beside 2 players, %g beside 30", a, b)
	}
}

func TestFitPriorRefusesWhatCannotBe(t *testing.T) {
	for _, c := range []struct {
		family  Family
		players [][]Match
		want    string
	}{
		{"share", [][]Match{{{1, 1}}}, "none of rate, proportion, mean"},
		{Rate, nil, "too few"},
		{Rate, [][]Match{{{3, 0}}}, "too few"},
		{Rate, [][]Match{{{1, 1}}, {{1, 1}, {-1, 1}}}, "player 2, match 2"},
		{Proportion, [][]Match{{{3, 2}}}, "3 of 2 cannot be a proportion"},
		{Mean, [][]Match{{{math.NaN(), 1}, {1, 1}}}, "player 1, match 1"},
		{Mean, [][]Match{{{3, 2}}}, "single match"},
	} {
		if _, err := FitPrior(c.family, c.players); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %v: error %v, want %q", c.family, c.players, err, c.want)
		}
	}
}

// Compared against R 4.2.2: lgamma(1e5+7.5)-lgamma(1e5) and sum(log(25+0:9)).
func TestLogRisingKeepsItsDigits(t *testing.T) {
	near(t, "(1e5) rising 7.5", logRising(1e5, 7.5), 86.3471847316, 1e-11)
	near(t, "25 rising 10", logRising(25, 10), 33.7960981441, 1e-11)
	near(t, "1e12 rising 3", logRising(1e12, 3), math.Log(1e12)+math.Log(1e12+1)+math.Log(1e12+2), 1e-15)
	near(t, "3 rising 4", logRising(3, 4), math.Log(3*4*5*6), 1e-14)
}

// Compared against Abramowitz & Stegun 6.4: ψ′(1) = π²/6, ψ′(1/2) = π²/2; and the recurrence ψ′(x+1) = ψ′(x) − 1/x².
func TestTrigamma(t *testing.T) {
	near(t, "ψ′(1)", trigamma(1), math.Pi*math.Pi/6, 1e-13)
	near(t, "ψ′(1/2)", trigamma(.5), math.Pi*math.Pi/2, 1e-13)
	near(t, "ψ′(12.5)", trigamma(12.5), trigamma(11.5)-1/(11.5*11.5), 1e-14)
}

// Compared against R 4.2.2: qgamma(c(.025,.975),.05), qgamma(c(.025,.975),2e6), qbeta(c(.025,.1,.975),.3,40).
func TestQuantilesAgreeWithR(t *testing.T) {
	near(t, "gamma .05 upper", gammaQuantile(.975, .05), 0.567173761754, 1e-9)
	if q := gammaQuantile(.025, .05); math.Abs(math.Log(q/5.31566188991e-33)) > 1e-3 {
		t.Errorf("gamma .05 lower = %g", q)
	}
	near(t, "gamma 2e6 lower", gammaQuantile(.025, 2e6), 1997229.13963, 1e-9)
	near(t, "gamma 2e6 upper", gammaQuantile(.975, 2e6), 2002772.75468, 1e-9)
	near(t, "beta lower", beta{.3, 40}.quantile(.025), 8.03430537221e-08, 1e-12)
	near(t, "beta .1", beta{.3, 40}.quantile(.1), 8.16432513764e-06, 1e-10)
	near(t, "beta upper", beta{.3, 40}.quantile(.975), 0.0467929123729, 1e-9)
}

// finite fails on anything that could not be printed or drawn.
func finite(t *testing.T, what string, xs ...float64) {
	t.Helper()
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("%s: %v", what, xs)
		}
	}
}

func FuzzFitPriorAndLevel(f *testing.F) {
	f.Add(byte(0), 3.0, 1.0, 0.0, 0.5, 7.0, 0.0, 2.0, 1.0)
	f.Add(byte(1), 3.0, 4.0, 0.0, 5.0, 7.0, 7.0, 0.0, 0.0)
	f.Add(byte(2), -3.0, 4.0, 2.5, 5.0, 7.0, 7.0, 0.0, 1.0)
	f.Add(byte(0), 1e6, 1e-6, 0.0, 1e6, 1.0, 1.0, 0.0, 1e-6)
	f.Add(byte(1), 1e6, 1e6, 0.0, 1e6, 1e-9, 1e-6, 1e6, 1e6)
	f.Add(byte(2), 1e6, 1e-6, -1e6, 1e-6, 1e-300, 1e6, 0.0, 1.0)
	f.Add(byte(2), 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0)
	f.Add(byte(1), 0.0, 1.0, 0.0, 1.0, 1e-12, 1.0, 0.0, 1e6)
	f.Add(byte(0), 5e-324, 1.0, 0.0, 1.0, 5e-324, 1e6, 0.0, 1.0)
	f.Add(byte(2), 5e-324, 9.0, 0.0, 1.0, 0.0, 5e5, 0.0, 0.9) // found by fuzzing: a spread whose square is zero
	f.Add(byte(0), math.NaN(), 1.0, math.Inf(1), 1.0, -1.0, 1e6, 0.0, -1.0)
	f.Fuzz(func(t *testing.T, kind byte, a, b, c, d, e, g, h, i float64) {
		family := []Family{Rate, Proportion, Mean}[kind%3]
		players := [][]Match{{{a, b}, {c, d}}, {{e, g}}, {{h, i}, {a, i}}, nil}
		for _, m := range players[0] {
			if iv, ok := MatchInterval(family, m, 0.95); ok {
				finite(t, "match interval", iv.Lo, iv.Hi)
			}
		}
		if mean, iv, ok := MeanInterval(players[0], 0.8); ok {
			finite(t, "mean interval", mean, iv.Lo, iv.Hi)
		}
		median, iv, _ := MedianInterval([]float64{a, b, c, d, e, g, h, i}, 0.95)
		finite(t, "median", median, iv.Lo, iv.Hi)
		p, err := FitPrior(family, players)
		if err != nil {
			return
		}
		gr := p.Group()
		finite(t, "group", gr.Mean, gr.SD, gr.Range80.Lo, gr.Range80.Hi, gr.Dispersion)
		for _, ms := range players {
			l := p.Level(ms)
			finite(t, "level", l.Mean, l.Interval80.Lo, l.Interval80.Hi, l.Interval95.Lo, l.Interval95.Hi, l.OwnWeight,
				l.AboveGroup)
			if l.Interval95.Lo > l.Interval80.Lo || l.Interval80.Lo > l.Interval80.Hi || l.Interval80.Hi > l.Interval95.Hi ||
				l.AboveGroup < 0 || l.AboveGroup > 1 || l.OwnWeight < 0 || l.OwnWeight > 1 {
				t.Fatalf("%s: level %+v", family, l)
			}
			if family == Proportion && (l.Interval95.Lo < 0 || l.Interval95.Hi > 1) {
				t.Fatalf("proportion outside 0 to 1: %+v", l)
			}
		}
	})
}

func BenchmarkFitPrior(b *testing.B) {
	for _, f := range []Family{Rate, Proportion, Mean} {
		players := invented(f, rand.New(rand.NewPCG(1, 1)), 40, 25)
		b.Run(string(f), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := FitPrior(f, players); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkLevel(b *testing.B) {
	for _, f := range []Family{Rate, Proportion, Mean} {
		players := invented(f, rand.New(rand.NewPCG(1, 1)), 40, 25)
		p := fitted(b, f, players)
		b.Run(string(f), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				p.Level(players[0])
			}
		})
	}
}

// Where every match is alike, the search for the group's mean begins at the answer, and must stay there.
func TestPlayersWhoAreAllAlikeHaveTheirOwnMean(t *testing.T) {
	var players [][]Match
	for range 7 {
		var ms []Match
		for range 6 {
			ms = append(ms, Match{Numerator: 5, Denominator: 10})
		}
		players = append(players, ms)
	}
	for _, f := range []Family{Proportion, Rate} {
		prior, err := FitPrior(f, players)
		if err != nil {
			t.Fatal(err)
		}
		if mean := prior.Group().Mean; math.Abs(mean-0.5) > 1e-9 {
			t.Errorf("%s: the group's mean is %v, want 0.5", f, mean)
		}
	}
}
