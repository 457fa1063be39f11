package selection

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"throughline/models"
)

// ranked are candidates with composites in falling order, and the chances that one is ahead of another: those by pair,
// and otherwise of neighbours that are alike.
func ranked(n int, ahead func(a, b int) float64) (*Place, []int, Chances) {
	p, in, c := &Place{Wanted: 1}, []int{}, Chances{}
	for i := range n {
		p.Candidates = append(p.Candidates, Candidate{PlayerID: int64(i + 1), Name: string(rune('A' + i)),
			Composite: &models.Estimate{Mean: -float64(i)}})
		in, c.Ahead = append(in, i), append(c.Ahead, make([]float64, n))
		for k := range n {
			switch {
			case k > i:
				c.Ahead[i][k] = ahead(i, k)
			case k < i:
				c.Ahead[i][k] = 1 - ahead(k, i)
			}
		}
	}
	return p, in, c
}

// Who is told apart and who is not, each said once. The chance of a pair is that of Φ for levels 0.3 apart, or 0.5.
func TestWhoCanBeToldApartIsSaidOnce(t *testing.T) {
	slope := func(by float64) func(a, b int) float64 {
		return func(a, b int) float64 { return distuv.UnitNormal.CDF(by * float64(b-a)) }
	}
	for about, c := range map[string]struct {
		n     int
		ahead func(a, b int) float64
		want  []string
	}{
		"two alike": {2, slope(0.1), []string{"A and B cannot be told apart by these figures.",
			"Decide by what you have seen."}},
		"two apart": {2, slope(2), []string{"A is most likely ahead of B (98%)."}},
		"three apart": {3, slope(2), []string{"A is most likely ahead of B and C (98% or more).",
			"B is most likely ahead of C (98%)."}},
		"only the ends apart": {3, slope(0.7), []string{"A is most likely ahead of C (92%).",
			"A and B cannot be told apart by these figures.", "B and C cannot be told apart by these figures."}},
		"two ahead of two": {4, func(a, b int) float64 { return 0.6 + 0.35*float64(b/2-a/2) },
			[]string{"A and B are most likely ahead of C and D (95% or more).",
				"A and B cannot be told apart by these figures.", "C and D cannot be told apart by these figures."}},
		"one who varies most": {3, func(a, b int) float64 { return []float64{0.95, 0.7}[min(a+b-1, 1)] },
			[]string{"A is most likely ahead of B (95%).", "B and C cannot be told apart by these figures."}},
		"surely": {3, slope(4), []string{"A is most likely ahead of B and C (more than 99%).",
			"B is most likely ahead of C (more than 99%)."}},
		"long runs": {8, slope(0.3), []string{"A is most likely ahead of F, G and H (93% or more).",
			"B is most likely ahead of G and H (93% or more).", "C is most likely ahead of H (93%).",
			"A and E, and the 3 between them, cannot be told apart by these figures.",
			"B and F, and the 3 between them, cannot be told apart by these figures.",
			"C and G, and the 3 between them, cannot be told apart by these figures.",
			"D and H, and the 3 between them, cannot be told apart by these figures."}},
		"one ahead of many": {8, func(a, _ int) float64 { return 0.6 + 0.35*float64(1-min(a, 1)) },
			[]string{"A is most likely ahead of B and 6 others (95% or more).",
				"B, C, D, E, F, G and H cannot be told apart by these figures."}},
		"one long run": {8, slope(0), []string{"A, B, C, D, E, F, G and H cannot be told apart by these figures.",
			"Decide by what you have seen."}},
	} {
		p, in, chances := ranked(c.n, c.ahead)
		p.say(in, chances)
		if !slices.Equal(p.Sentences, c.want) {
			t.Errorf("%s: %q; want %q", about, p.Sentences, c.want)
		}
	}
}

// However many the candidates, there are fewer than two sentences for each, and none names more than a few.
func TestSentencesDoNotGrowWithTheSquareOfTheCandidates(t *testing.T) {
	for _, by := range []float64{0.05, 0.3, 0.7, 2} {
		for _, n := range []int{8, 40} {
			p, in, chances := ranked(n, func(a, b int) float64 { return distuv.UnitNormal.CDF(by * float64(b-a)) })
			p.say(in, chances)
			words := len(strings.Fields(strings.Join(p.Sentences, " ")))
			if len(p.Sentences) > 2*n || words > 40*n {
				t.Errorf("%d candidates, %.2f apart: %d sentences of %d words", n, by, len(p.Sentences), words)
			}
		}
	}
	var all [][]models.Draws
	for own := range slices.Chunk(normals(models.DrawsKept, slices.Repeat([]distuv.Normal{distuv.UnitNormal}, 16)...), 2) {
		all = append(all, []models.Draws{own[0], own[1], nil})
	}
	p := placeOf(all...)
	meetingOf().compose(p)
	if len(p.Order) != 8 || len(p.Turns) != 7*2 || len(p.Pairs) != 8*7/2 || len(p.Resolved) != 8*2 ||
		len(p.Sentences) > 16 || len(p.Changes) > 3 {
		t.Errorf("of 8 candidates: order %v, %d turns, %d pairs, %d resolved; says %q and %q", p.Order, len(p.Turns),
			len(p.Pairs), len(p.Resolved), p.Sentences, p.Changes)
	}
}

// shifted is a place of three with turns of its two neighbours and leads.
func shifted(first int, turns, leads []Turn, resolved ...Resolved) *Place {
	p, _, _ := ranked(3, func(int, int) float64 { return 0.5 })
	p.Shifts = Shifts{First: first, Turns: turns, Leads: leads, Resolved: resolved}
	return p
}

func TestTheSmallestChangeOfOneWeightIsSaid(t *testing.T) {
	turn := func(a, b int64, criterion string, share, at float64) Turn {
		of := Turn{PlayerID: a, OtherID: b, Criterion: criterion, Share: share, Above: at >= share}
		if !math.IsNaN(at) {
			of.At = &at
		}
		return of
	}
	none := turn(1, 2, "Contact", 0.2, math.NaN())
	far, near := turn(1, 2, "Contact", 0.2, 0.7), turn(2, 3, "Tackle", 0.8, 0.5)
	for about, c := range map[string]struct {
		of   *Place
		want []string
	}{
		"none": {shifted(1, []Turn{none}, nil), []string{"No change of a single weight would change the order."}},
		"not of the first": {shifted(1, []Turn{none, near}, nil), []string{"The smallest change of one weight that changes " +
			"the order: “Tackle” from 80% of all weight to less than 50%. Then C would be ahead of B.",
			"No change of a single weight would change who comes first."}},
		"of the first by itself": {shifted(1, []Turn{far, near}, []Turn{far}), []string{"The smallest change of one weight " +
			"that changes the order: “Tackle” from 80% of all weight to less than 50%. Then C would be ahead of B.",
			"The smallest that changes who comes first: “Contact” from 20% of all weight to more than 70%. Then B would " +
				"come first."}},
		"the same": {shifted(1, []Turn{far}, []Turn{far}), []string{"The smallest change of one weight that changes the " +
			"order: “Contact” from 20% of all weight to more than 70%. Then B would be ahead of A. That changes " +
			"who comes first."}},
		"two are wanted": {shifted(2, []Turn{far}, []Turn{near}), []string{"The smallest change of one weight that changes " +
			"the order: “Contact” from 20% of all weight to more than 70%. Then B would be ahead of A.",
			"The smallest that changes who is among the first 2: “Tackle” from 80% of all weight to less than 50%. Then C " +
				"would be among the first 2."}},
		"a small change": {shifted(1, []Turn{turn(1, 2, "Contact", 0.2, 0.203)}, nil), []string{"The smallest change of " +
			"one weight that changes the order: “Contact” from 20% of all weight to a little more. Then B would be ahead " +
			"of A.",
			"No change of a single weight would change who comes first."}},
	} {
		if got := c.of.weightWords(); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q; want %q", about, got, c.want)
		}
	}
}

func TestWhetherMoreEvidenceCouldChangeTheOrderIsSaid(t *testing.T) {
	of := func(chance float64) Resolved { return Resolved{PlayerID: 3, Criterion: "Contact", Chance: chance} }
	for about, c := range map[string]struct {
		of   *Place
		want string
	}{
		"one in four": {shifted(1, nil, nil, of(0.1), of(0.24)), "More evidence of C on “Contact” could change who " +
			"comes first: in about 1 of 4 cases, if we knew it exactly."},
		"of the first two": {shifted(2, nil, nil, of(0.24)), "More evidence of C on “Contact” could change who is " +
			"among the first 2: in about 1 of 4 cases, if we knew it exactly."},
		"unlikely": {shifted(1, nil, nil, of(0.03)), "More evidence of any one candidate on any one criterion is unlikely " +
			"to change who comes first (at most 3%)."},
		"nothing to know": {shifted(1, nil, nil, of(0)), ""},
	} {
		if got := c.of.evidenceWords(); got != c.want {
			t.Errorf("%s: %q; want %q", about, got, c.want)
		}
	}
	ranged := shifted(1, nil, nil, of(0))
	ranged.Candidates[0].Composite.Range95 = models.Range{Lo: -1, Hi: 1}
	if got := ranged.evidenceWords(); !strings.HasSuffix(got, "(less than 1%).") {
		t.Errorf("levels with a range: %q", got)
	}
	for p, want := range map[float64]string{0.05: "about 1 of 20", 0.11: "about 1 of 9", 0.34: "about 1 of 3",
		0.45: "about half", 0.58: "about half", 0.7: "more than half"} {
		if got := cases(p); !strings.HasPrefix(got, want) {
			t.Errorf("%v is said as %q; want %q", p, got, want)
		}
	}
}

// One candidate, all criteria in words, and no candidate: nothing is compared, and it says why.
func TestWhereThereIsNothingToCompareItSaysSo(t *testing.T) {
	known := normals(models.DrawsKept, distuv.UnitNormal, distuv.UnitNormal)
	one := placeOf([]models.Draws{known[0], known[1], nil})
	inWords := placeOf([]models.Draws{nil, nil, nil}, []models.Draws{nil, nil, nil})
	gaps := placeOf([]models.Draws{known[0], known[1], nil}, []models.Draws{nil, nil, nil})
	for about, c := range map[string]struct {
		of        *Place
		composite int
		want      string
	}{
		"one candidate": {one, 1, "There is one candidate, and no one to compare them with."},
		"in words":      {inWords, 0, ""},
		"one with figures": {gaps, 1, "Only Ask has a composite: there is nothing to compare it with. Decide by what you " +
			"have seen."},
		"no candidate": {placeOf(), 0, ""},
	} {
		meetingOf().compose(c.of)
		n := 0
		for _, of := range c.of.Candidates {
			if of.Composite != nil {
				n++
			}
			if of.First != nil {
				t.Errorf("%s: %s has a chance of being first", about, of.Name)
			}
		}
		if got := strings.Join(c.of.Sentences, " "); got != c.want || n != c.composite || len(c.of.Changes) > 0 ||
			len(c.of.Pairs) > 0 {
			t.Errorf("%s: %q, %d composites, %q; want %q and %d", about, got, n, c.of.Changes, c.want, c.composite)
		}
	}
	if !slices.ContainsFunc(inWords.Notes, func(n string) bool { return strings.Contains(n, "nothing is compared") }) {
		t.Errorf("criteria in words: %q", inWords.Notes)
	}
}
