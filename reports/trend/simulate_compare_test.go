package trend

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
)

// together is what simulated squads show of everything that is said of several players at once.
type together struct {
	rank         share // whether a randomised 80 % interval of the rank holds the true one
	tenths       map[string]*[10][]cell
	pairs        float64
	firm, untrue float64
	expected     float64 // firm verdicts that the fits themselves expect to be false
}

// compareTogether fits some squads together and compares ranks, chances and firm verdicts with the truth.
func (s *together) compareTogether(tb testing.TB, random *rand.Rand, c course, squads int) {
	tb.Helper()
	drawn, results := drawAndFit(tb, random, c, squads)
	firm, expected := Firm(results)
	s.firm, s.expected = s.firm+float64(firm), s.expected+expected
	for k, r := range results {
		s.squad(tb, random, r, drawn[k].path)
	}
}

func (s *together) squad(tb testing.TB, random *rand.Rand, r *Result, path [][]float64) {
	tb.Helper()
	now, mean := make([]float64, len(path)), 0.0
	var names []string
	for i := range path {
		now[i] = math.Exp(path[i][simulatedPlayed-1])
		mean += now[i] / float64(len(path))
		names = append(names, fmt.Sprintf("p%02d", i))
	}
	order := slices.Clone(now)
	slices.SortFunc(order, func(a, b float64) int { return cmp.Compare(b, a) })
	here := map[string]*[10]cell{"ahead of the mean": {}, "head to head": {}}
	for _, p := range r.Players {
		i, err := strconv.Atoi(p.Name[1:])
		if err != nil {
			tb.Fatal(err)
		}
		s.pairs++
		change := path[i][simulatedPlayed-1] - path[i][0]
		if p.Verdict == Improving && !(change > 0) || p.Verdict == Declining && !(change < 0) {
			s.untrue++
		}
		rank, below := slices.Index(order, now[i]), 0.0
		for _, q := range p.Standing.Chances[:rank] {
			below += q
		}
		place := below + random.Float64()*p.Standing.Chances[rank]
		s.rank.add(place >= 0.1 && place <= 0.9)
		c, ok := r.Compare(p.Name, names)
		if !ok {
			tb.Fatal("no comparison")
		}
		addTenth(here["ahead of the mean"], c.Ahead, now[i] > mean)
		other := (i + 1 + random.IntN(len(path)-1)) % len(path)
		h, err := r.HeadToHead(p.Name, names[other])
		if err != nil {
			tb.Fatal(err)
		}
		addTenth(here["head to head"], h, now[i] > now[other])
	}
	for f, cells := range here {
		for t := range cells {
			s.tenths[f][t] = append(s.tenths[f][t], cells[t])
		}
	}
}

func addTenth(to *[10]cell, said float64, came bool) {
	t := &to[min(int(10*said), 9)]
	t.n++
	t.said += said
	if came {
		t.came++
	}
}

// TREND_SIMULATE is how many squads of each course a long run takes, see .ci/simulate.
func TestSimulatedRanksChancesAndFirmVerdictsHold(t *testing.T) {
	squads := 20
	if v := os.Getenv("TREND_SIMULATE"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil {
			t.Fatal(err)
		}
		squads = n
	}
	room := 0.0 // beyond the bars, which are for 200 squads
	if squads < 200 {
		room = 0.04
	}
	for k, c := range courses {
		if squads < 200 && k != 1 && !c.still {
			continue
		}
		random := rand.New(rand.NewPCG(uint64(k), 7))
		s := &together{tenths: map[string]*[10][]cell{"ahead of the mean": {}, "head to head": {}}}
		for left := squads; left > 0; left -= simulatedTogether {
			s.compareTogether(t, random, c, min(left, simulatedTogether))
		}
		s.check(t, c, room)
	}
}

func (s *together) check(t *testing.T, c course, room float64) {
	t.Helper()
	t.Logf("%s: ranks cover %.3f of %.0f; firm %.0f of %.0f, false %.0f, expected %.1f", c.name, s.rank.rate(), s.rank.of,
		s.firm, s.pairs, s.untrue, s.expected)
	if r := s.rank.rate(); r < 0.76-room || r > 0.86+room {
		t.Errorf("%s: 80 %% intervals of ranks cover %.3f", c.name, r)
	}
	most := 0.05
	if c.walk > 0 {
		most = 0.12
	}
	switch rate := s.untrue / max(s.firm, 1); {
	case c.still:
		if s.firm > (0.003+room/10)*s.pairs {
			t.Errorf("%s: %.0f of %.0f are firm", c.name, s.firm, s.pairs)
		}
	case rate > most+2*math.Sqrt(most*(1-most)/max(s.firm, 1)):
		t.Errorf("%s: %.3f of %.0f firm verdicts are false", c.name, rate, s.firm)
	}
	for f, tenths := range s.tenths {
		beyond, line := 0, ""
		for _, cells := range tenths {
			said, came, z := off(cells)
			line += fmt.Sprintf(" %.2f/%.2f(%+.1f)", said, came, z)
			if math.Abs(z) > 2 {
				beyond++
			}
			if math.Abs(z) > 3.5 {
				t.Errorf("%s: %s said %.3f, came %.3f, %.1f SE", c.name, f, said, came, z)
			}
		}
		t.Logf("%s: %s said/came (SE)%s", c.name, f, line)
		if beyond > 1 && room == 0 {
			t.Errorf("%s: %d tenths of %s are beyond 2 SE", c.name, beyond, f)
		}
	}
}
