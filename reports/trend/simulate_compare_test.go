package trend

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// together is what simulated squads show of everything that is said about several players at once.
type together struct {
	rank         share // whether a randomised 80 % interval of the rank holds the true one
	pairs        float64
	firm, untrue float64
	expected     float64 // firm verdicts that the fits themselves expect to be false
}

// compareTogether compares a squad's ranks, chances and firm verdicts with the truth.
func (s *simulated) compareTogether(tb testing.TB, random *rand.Rand, r *Result, path [][]float64) {
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
	circle := r.Circle(names)
	var ahead, heads [10]cell
	for _, p := range r.Players {
		i := playerOf(tb, p.Name)
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
		c, ok := circle.Compare(p.Name)
		if !ok {
			tb.Fatal("no comparison")
		}
		addTenth(&ahead, c.Ahead, now[i] > mean)
		other := (i + 1 + random.IntN(len(path)-1)) % len(path)
		h, err := r.HeadToHead(p.Name, names[other])
		if err != nil {
			tb.Fatal(err)
		}
		addTenth(&heads, h, now[i] > now[other])
	}
	s.add("chance ahead", ahead)
	s.add("head to head", heads)
}

// join adds what another academy shows.
func (s *together) join(o *together) {
	s.rank.join(&o.rank)
	s.pairs, s.firm = s.pairs+o.pairs, s.firm+o.firm
	s.untrue, s.expected = s.untrue+o.untrue, s.expected+o.expected
}

func addTenth(to *[10]cell, said float64, came bool) {
	t := &to[min(int(10*said), 9)]
	t.n++
	t.said += said
	if came {
		t.came++
	}
}

func (s *together) check(t *testing.T, c course, room float64) {
	t.Helper()
	t.Logf("%s: ranks cover %.3f of %.0f; firm %.0f of %.0f, false %.0f, expected %.1f", c.name, s.rank.rate(), s.rank.of,
		s.firm, s.pairs, s.untrue, s.expected)
	if r := s.rank.rate(); r < 0.76-room || r > 0.86+room {
		t.Errorf("%s: 80 %% intervals of ranks cover %.3f", c.name, r)
	}
	most := 0.05 + 2*math.Sqrt(0.05*0.95/max(s.firm, 1))
	if c.walk > 0 {
		most = 0.12
	}
	switch rate := s.untrue / max(s.firm, 1); {
	case c.still:
		if s.firm > (0.003+room/10)*s.pairs {
			t.Errorf("%s: %.0f of %.0f are firm", c.name, s.firm, s.pairs)
		}
	case rate > most+room:
		t.Errorf("%s: %.3f of %.0f firm verdicts are false", c.name, rate, s.firm)
	}
}
