package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
)

// squadTruth is a simulated squad: hyperparameters drawn evenly from the stated range, which is not the engine's
// prior.
type squadTruth struct {
	family                           Family // "" is Rate
	level, slope, theta, rate, match float64
	now, change                      []float64 // natural scale, by player
	worthwhile                       float64
}

func (q squadTruth) corner() int {
	c := 0
	for i, high := range []bool{q.level > 0.4, q.slope > 0.375, q.theta > 22.5, q.rate > math.Sqrt(30)} {
		if high {
			c |= 1 << i
		}
	}
	return c
}

// psi are the true hyperparameters as hyper.set takes them.
func (q squadTruth) psi() []float64 {
	return []float64{-0.5 * math.Log(q.theta), math.Log(q.level), math.Log(q.slope), math.Log(q.match)}
}

// drawTruth draws hyperparameters: level SD .2–.6, slope SD .05–.7 a season, θ 5–40, rates 1–30 a match, match SD
// .02–.2.
func drawTruth(random *rand.Rand) squadTruth {
	u := func(lo, hi float64) float64 { return lo + (hi-lo)*random.Float64() }
	return squadTruth{level: u(0.2, 0.6), slope: u(0.05, 0.7), theta: u(5, 40), rate: math.Exp(u(0, math.Log(30))),
		match: u(0.02, 0.2)}
}

// simulateSquad draws a squad of players and matches. Levels are drawn for the season's beginning; slopes add to them.
func simulateSquad(random *rand.Rand, q squadTruth, players, matches int) (Data, squadTruth) {
	u := func(lo, hi float64) float64 { return lo + (hi-lo)*random.Float64() }
	d := Data{Family: Rate}
	if q.family != "" {
		d.Family = q.family
	}
	// A Mean's and a Proportion's η lie about 0; σ of a Mean is 1 a match of typical actions.
	base := math.Log(q.rate)
	natural := math.Exp
	switch d.Family {
	case Proportion:
		base, natural = 0, func(eta float64) float64 { p, _ := logit(eta); return p }
	case Mean:
		base, natural = 0, func(eta float64) float64 { return eta }
	}
	effect := make([]float64, matches)
	for m := range effect {
		effect[m] = q.match * random.NormFloat64()
	}
	group := make([]float64, 5)
	for g := range group {
		group[g] = 0.3 * random.NormFloat64()
	}
	trend := 0.15 * random.NormFloat64()
	var sum, square float64
	for p := range players {
		a, b := q.level*random.NormFloat64(), q.slope*random.NormFloat64()+trend
		eta := func(tau float64) float64 { return base + group[p%5] + a + b*tau }
		first := len(d.Value)
		for m := range matches {
			if m > 0 && m < matches-1 && random.Float64() > 0.75 || (m == 0 || m == matches-1) && random.Float64() > 0.9 {
				continue
			}
			tau := float64(m) / float64(matches-1)
			minutes := math.Round(u(60, 80))
			if random.Float64() < 0.3 {
				minutes = math.Round(u(10, 40))
			}
			mu := natural(eta(tau) + effect[m])
			trials := 1 + drawPoisson(random, q.rate*minutes/80)
			d.Player = append(d.Player, fmt.Sprintf("p%03d", p))
			d.Group = append(d.Group, fmt.Sprintf("g%d", p%5))
			d.Match = append(d.Match, fmt.Sprintf("m%02d", m))
			d.Time = append(d.Time, tau)
			d.Minutes = append(d.Minutes, minutes)
			switch d.Family {
			case Proportion:
				d.Trials = append(d.Trials, trials)
				d.Value = append(d.Value, drawSuccesses(random, trials, mu, 1/q.theta))
			case Mean:
				d.Trials = append(d.Trials, trials)
				d.Value = append(d.Value, mu+random.NormFloat64()*math.Sqrt(q.rate/trials))
			default:
				d.Value = append(d.Value, drawCount(random, mu*minutes/80, 1/q.theta))
			}
		}
		if len(d.Value) == first { // a player who never played is not in the squad's figures
			continue
		}
		now := natural(eta(1))
		q.now = append(q.now, now)
		q.change = append(q.change, now-natural(eta(0)))
		sum += now
		square += now * now
	}
	n := float64(len(q.now))
	q.worthwhile = 0.2 * math.Sqrt((square-sum*sum/n)/(n-1))
	return d, q
}

// calibration is what a run of simulated squads shows.
type calibration struct {
	squads              int
	level80, change80   [17]share // by corner; the last is all
	level95, change95   share
	firm, falseFirm     float64
	bestFirm, bestFalse float64 // given the true hyperparameters
}

type share struct{ in, of float64 }

func (s *share) add(in bool) {
	s.of++
	if in {
		s.in++
	}
}

func (s *share) join(o *share) { s.in, s.of = s.in+o.in, s.of+o.of }

func (s share) rate() float64 { return s.in / max(s.of, 1) }

func (iv Interval) holds(x float64) bool { return x >= iv.Lo && x <= iv.Hi }

func calibrate(tb testing.TB, seed uint64, squads, players, matches int,
	truth func(*rand.Rand) squadTruth) (c calibration) {
	tb.Helper()
	random := rand.New(rand.NewPCG(seed, 20))
	c.squads = squads
	var truths []squadTruth
	var together []Indicator
	for k := range squads {
		d, q := simulateSquad(random, truth(random), players, matches)
		truths = append(truths, q)
		together = append(together, Indicator{Name: fmt.Sprint(k), Data: d})
	}
	results, err := FitSquad(tb.Context(), together)
	if err != nil {
		tb.Fatal(err)
	}
	for k, fitted := range results {
		d, q, r := together[k].Data, truths[k], *fitted
		if !r.Converged {
			tb.Error("not converged")
		}
		best := r
		if d.Family != Mean { // whose ψ is on a scale that the data set
			if best, err = fitSeason(d, Options{}, q.psi()); err != nil {
				tb.Fatal(err)
			}
		}
		count := func(p Player, i int, firm, wrong *float64) {
			up, down := p.Verdict == Improving, p.Verdict == Declining
			if !up && !down {
				return
			}
			*firm++
			if up && q.change[i] <= q.worthwhile || down && q.change[i] >= -q.worthwhile {
				*wrong++
			}
		}
		for i, p := range r.Players {
			for _, k := range []int{q.corner(), 16} {
				c.level80[k].add(p.Now.Interval80.holds(q.now[i]))
				c.change80[k].add(p.Change.Interval80.holds(q.change[i]))
			}
			c.level95.add(p.Now.Interval95.holds(q.now[i]))
			c.change95.add(p.Change.Interval95.holds(q.change[i]))
			count(p, i, &c.firm, &c.falseFirm)
			count(best.Players[i], i, &c.bestFirm, &c.bestFalse)
		}
	}
	return c
}

func (c calibration) String() string {
	s := fmt.Sprintf("%d squads: 80%% of level %.3f, of change %.3f; 95%% of level %.3f, of change %.3f; firm %.0f, "+
		"false %.3f; with the true hyperparameters firm %.0f, false %.3f; power %.3f of it",
		c.squads, c.level80[16].rate(), c.change80[16].rate(), c.level95.rate(), c.change95.rate(), c.firm,
		c.falseFirm/max(c.firm, 1), c.bestFirm, c.bestFalse/max(c.bestFirm, 1),
		(c.firm-c.falseFirm)/max(c.bestFirm-c.bestFalse, 1))
	for k := range 16 {
		s += fmt.Sprintf("\ncorner %04b (n %.0f): level %.3f change %.3f", k, c.level80[k].of, c.level80[k].rate(),
			c.change80[k].rate())
	}
	return s
}

// The bars are for 200 squads; a short run has room for its own Monte-Carlo error (players of a squad share its
// hyperparameters, so squads are the units). TREND_CALIBRATION=200 is the full run.
func TestIntervalsAndVerdictsHoldOnSimulatedSquads(t *testing.T) {
	squads := 24
	if v := os.Getenv("TREND_CALIBRATION"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil {
			t.Fatal(err)
		}
		squads = n
	}
	c := calibrate(t, 1, squads, 30, 20, drawTruth)
	t.Log(c)
	room := 0.0 // beyond the bars, which are for 200 squads
	if squads < 200 {
		room = 0.04
	}
	within := func(what string, r, lo, hi float64) {
		t.Helper()
		if r < lo-room || r > hi+room {
			t.Errorf("%s cover %.3f, want %.2f to %.2f", what, r, lo, hi)
		}
	}
	within("80 % intervals of the level now", c.level80[16].rate(), 0.77, 0.83)
	within("80 % intervals of the change", c.change80[16].rate(), 0.77, 0.83)
	within("95 % intervals of the level now", c.level95.rate(), 0.93, 0.97)
	within("95 % intervals of the change", c.change95.rate(), 0.93, 0.97)
	for k := range 16 {
		if c.level80[k].of >= 10*30 { // a handful of squads says little of a corner
			within(fmt.Sprintf("corner %04b: 80 %% intervals of the level now", k), c.level80[k].rate(), 0.70, 0.99)
			within(fmt.Sprintf("corner %04b: 80 %% intervals of the change", k), c.change80[k].rate(), 0.70, 0.99)
		}
	}
	rate := c.falseFirm / max(c.firm, 1)
	if se := math.Sqrt(0.1 * 0.9 / max(c.firm, 1)); rate > 0.10+2*se {
		t.Errorf("%.3f of %.0f firm verdicts are false", rate, c.firm)
	}
	if power := (c.firm - c.falseFirm) / max(c.bestFirm-c.bestFalse, 1); power < 0.9-4*room {
		t.Errorf("power %.3f of the same rule given the true hyperparameters", power)
	}
}

// The other families hold as well, more roughly, in a short run.
func TestIntervalsHoldOnSimulatedProportionsAndMeans(t *testing.T) {
	for _, f := range []Family{Proportion, Mean} {
		c := calibrate(t, 2, 30, 30, 20, func(random *rand.Rand) squadTruth {
			q := drawTruth(random)
			q.family = f
			return q
		})
		t.Logf("%s: %s", f, strings.SplitN(c.String(), "\n", 2)[0])
		for what, s := range map[string]share{"level": c.level80[16], "change": c.change80[16]} {
			if r := s.rate(); r < 0.73 || r > 0.87 {
				t.Errorf("%s: 80 %% intervals of the %s cover %.3f", f, what, r)
			}
		}
		if rate := c.falseFirm / max(c.firm, 1); rate > 0.1+2*math.Sqrt(0.09/max(c.firm, 1)) {
			t.Errorf("%s: %.3f of %.0f firm verdicts are false", f, rate, c.firm)
		}
	}
}
