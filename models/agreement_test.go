package models

import (
	"math"
	"slices"
	"testing"
)

// Cohen 1960, Educational and Psychological Measurement 20, table 2b: 200 cases in three categories by two judges, κ =
// .492.
func TestKappaGivesCohensExample(t *testing.T) {
	got, ok := kappa([][]int{{88, 14, 18}, {10, 40, 10}, {2, 6, 12}})
	if !ok || math.Abs(got-.492) > .0005 {
		t.Errorf("kappa = %.4f, %v, want .492", got, ok)
	}
}

func TestKappaAtItsEnds(t *testing.T) {
	for _, c := range []struct {
		table [][]int
		want  float64
		ok    bool
	}{
		{[][]int{{5, 0}, {0, 7}}, 1, true},   // full agreement
		{[][]int{{4, 4}, {4, 4}}, 0, true},   // as chance has it
		{[][]int{{0, 6}, {6, 0}}, -1, true},  // never, both half and half
		{[][]int{{9, 0}, {0, 0}}, 0, false},  // one code only: chance alone agrees
		{[][]int{{0, 0}, {0, 0}}, 0, false},  // nothing
		{[][]int{{0, 20}, {0, 0}}, 0, true},  // each judge one code, not the same
		{[][]int{{10, 0}, {10, 0}}, 0, true}, // one judge always says the same
	} {
		if got, ok := kappa(c.table); ok != c.ok || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v: kappa = %v, %v, want %v, %v", c.table, got, ok, c.want, c.ok)
		}
	}
}

func TestAgreePairsWhatBothLogged(t *testing.T) {
	a := fullLog(1,
		did(KindCarry, clk(1, 5, 0), "contact", "won", "gain_line", "over"),
		did(KindCarry, clk(1, 5, 4), "contact", "won"),
		did(KindCarry, clk(1, 20, 0), "contact", "even"),
		did(KindCarry, clk(1, 30, 0), "contact", "lost"),
		did(KindTackle, clk(1, 5, 1), "result", "won"),
		did(KindKick, clk(1, 6, 0), "result", "touch"),
	)
	b := fullLog(2,
		did(KindCarry, clk(1, 5, 2), "contact", "won", "gain_line", "level"),
		did(KindCarry, clk(1, 5, 5), "contact", "even"),
		did(KindCarry, clk(1, 20, 4), "contact", "even"), // 4 seconds off: another one
		did(KindCarry, clk(1, 30, 3)),                    // without a contact: no opinion
		did(KindCarry, clk(2, 60, 0), "contact", "won"),
		did(KindCarry, clk(1, 41, 0), "contact", "won"), // added time: not the 41st minute of half 2
	)
	a.Involvements = append(a.Involvements, did(KindCarry, clk(2, 41, 0), "contact", "won"))
	b.Log.Kinds = []Kind{KindTackle, KindCarry}
	got := Agree(match80(), a, b)
	if got.Minutes != 80 || !slices.Equal(got.Kinds, []Kind{KindCarry, KindTackle}) {
		t.Errorf("%v minutes of %v", got.Minutes, got.Kinds)
	}
	want := []KindAgreement{{KindCarry, 3, 2, 3, 1, nil}, {KindTackle, 0, 1, 0, 1, nil}}
	if !slices.Equal(got.ByKind, want) || got.CountsEqual != 0 || got.CountsWithinOne != 2 ||
		got.Matched != 3 || got.OnlyA != 3 || got.OnlyB != 3 {
		t.Errorf("agreement %+v, want %+v", got, want)
	}
	if got.Share() != 3.0/9 {
		t.Errorf("share %v, want a third", got.Share())
	}
	if len(got.Details) != 2 || got.Details[0].Detail != "contact" || got.Details[0].Both != 2 ||
		got.Details[0].Agreed != 1 || got.Details[0].Share() != 0.5 ||
		got.Details[1].Detail != "gain_line" || got.Details[1].Agreed != 0 {
		t.Errorf("details %+v", got.Details)
	}
}

// Four carries within a few seconds: pairing the first two that fit would leave the last alone.
func TestAgreePairsAsManyAsCanBeAndTheNearest(t *testing.T) {
	at := func(seconds ...int) LoggedPlay {
		l := fullLog(1)
		for _, s := range seconds {
			l.Involvements = append(l.Involvements, did(KindCarry, Clock{1, s}))
		}
		return l
	}
	if got := Agree(match80(), at(100, 103), at(103, 106)); got.Matched != 2 {
		t.Errorf("%d matched, want 2", got.Matched)
	}
	a := fullLog(1, did(KindCarry, Clock{1, 100}, "contact", "won"), did(KindCarry, Clock{1, 102}, "contact", "lost"))
	for second, contact := range map[int]string{100: "won", 102: "lost"} {
		b := fullLog(2, did(KindCarry, Clock{1, second}, "contact", contact))
		if got := Agree(match80(), a, b); got.Matched != 1 || got.Details[0].Agreed != 1 {
			t.Errorf("%+v: the carry 2 seconds off was taken before that of the same second", got)
		}
		if got := Agree(match80(), b, a); got.Matched != 1 || got.Details[0].Agreed != 1 {
			t.Errorf("%+v: the carry 2 seconds off was taken before that of the same second", got)
		}
	}
}

func TestAgreeLooksOnlyWhereBothLooked(t *testing.T) {
	carry := func(half, minute int) Involvement { return did(KindCarry, clk(half, minute, 0)) }
	a := covering(fullLog(1, carry(1, 5), carry(1, 15), carry(1, 25)), Span{clk(1, 0, 0), clk(1, 20, 0)},
		Span{clk(1, 22, 0), clk(2, 50, 0)})
	b := covering(fullLog(2, carry(1, 15), carry(2, 45)), Span{clk(1, 10, 0), clk(1, 24, 0)})
	got := Agree(match80(), a, b)
	if got.Minutes != 12 || got.Matched != 1 || got.OnlyA != 0 || got.OnlyB != 0 {
		t.Errorf("%+v, want 12 minutes and one involvement", got)
	}
	b.Log.Kinds = []Kind{KindKick}
	a.Log.Kinds = []Kind{KindCarry}
	if got := Agree(match80(), a, b); len(got.Kinds) != 0 || got.Share() != 0 {
		t.Errorf("%+v from logs of different kinds", got)
	}
}

// A log agrees with itself in everything, and who is named first makes no difference to the shares.
func TestAgreementIsSymmetric(t *testing.T) {
	d := newDice(8)
	for range 60 {
		p, q := d.fullPlay(0.8), d.fullPlay(0.8)
		a, b := p.Logs[0], LoggedPlay{q.Logs[0].Log, slices.Clone(p.Logs[0].Involvements)}
		for i := range b.Involvements {
			b.Involvements[i].Clock.Second += d.IntN(9) - 4
			if d.chance(0.3) {
				b.Involvements[i].Details = d.involvement(b.Involvements[i].Kind, b.Involvements[i].Clock, 0.8).Details
			}
		}
		self := Agree(p.Match, a, a)
		if self.OnlyA+self.OnlyB > 0 || self.Matched != len(a.Involvements) {
			t.Fatalf("a log agrees with itself in %+v of %d", self, len(a.Involvements))
		}
		for _, x := range self.Details {
			if x.Agreed != x.Both || x.Kappa != nil && math.Abs(*x.Kappa-1) > 1e-12 {
				t.Fatalf("a log agrees with itself in %+v", x)
			}
		}
		ab, ba := Agree(p.Match, a, b), Agree(p.Match, b, a)
		if ab.Matched != ba.Matched || ab.OnlyA != ba.OnlyB || ab.OnlyB != ba.OnlyA || ab.Minutes != ba.Minutes {
			t.Fatalf("one way %+v, the other %+v", ab, ba)
		}
	}
}

// Thirty carries: the second log has "even" for six of the first's ten "won", and one slip in the gain line. Two of its
// passes are the first's offloads.
func TestTheDefinitionThatTwoReadDifferentlyIsFoundWithBothOptions(t *testing.T) {
	a, b := fullLog(1), fullLog(2)
	both := func(x, y Involvement) {
		a.Involvements, b.Involvements = append(a.Involvements, x), append(b.Involvements, y)
	}
	for n := range 30 {
		first, second, line := "won", "won", "over"
		if n >= 10 {
			first, second = "lost", "lost"
		} else if n < 6 {
			second = "even"
		}
		if n == 20 {
			line = "level"
		}
		at := clk(1, 1+n, 0)
		both(did(KindCarry, at, "contact", first, "gain_line", "over", "metres", "5"),
			did(KindCarry, at, "contact", second, "gain_line", line, "metres", []string{"5", "6", "8"}[n%3]))
	}
	for n := range 2 {
		both(did(KindOffload, clk(1, 32+n, 0), "result", "accurate"), did(KindPass, clk(1, 32+n, 1), "result", "accurate"))
	}
	got := Agree(match80(), a, b)
	m := got.Misread
	if m == nil || m.Kind != KindCarry || m.Detail != "contact" || m.First.Code != "won" || m.Second.Code != "even" ||
		m.Times != 6 || m.Disagreed != 6 || m.Both != 30 || m.Definition == "" || m.First.Definition == "" ||
		m.Second.Definition == "" {
		t.Fatalf("misread %+v", m)
	}
	// 9 of 92 are disagreements: 6 of 30 contacts, 1 of 30 gain lines, 2 of 32 kinds.
	if math.Abs(m.Expected-30*9.0/92) > 1e-9 {
		t.Errorf("expected %v", m.Expected)
	}
	metres := got.Details[slices.IndexFunc(got.Details, func(d DetailAgreement) bool { return d.Detail == "metres" })]
	if metres.Both != 30 || metres.Agreed != 10 || metres.WithinOne == nil || *metres.WithinOne != 20 ||
		metres.Kappa != nil {
		t.Errorf("metres %+v", metres)
	}
	// Of 32 moments, 30 are carries to both; what one calls an offload the other calls a pass: p_o = 30/32,
	// p_e = (30/32)², so that κ = (30/32 − 900/1024)/(1 − 900/1024) = 60/124.
	if got.Kappa == nil || math.Abs(*got.Kappa-60.0/124) > 1e-9 {
		t.Errorf("kappa of kinds %v", got.Kappa)
	}
	for _, k := range got.ByKind {
		switch k.Kind {
		case KindCarry:
			if k.Kappa == nil || *k.Kappa != 1 || k.Apart != 0 {
				t.Errorf("carries %+v", k)
			}
		case KindPass, KindOffload:
			if k.Apart != 2 || k.OnlyA+k.OnlyB != 2 {
				t.Errorf("%s %+v", k.Kind, k)
			}
		}
	}
	if got.CountsEqual != len(got.Kinds)-2 || got.CountsWithinOne != len(got.Kinds)-2 {
		t.Errorf("counts of %d kinds: %d equal, %d within one", len(got.Kinds), got.CountsEqual, got.CountsWithinOne)
	}
	// The same log twice has nothing to talk about; where kinds are what differs most, the kind is.
	if same := Agree(match80(), a, a); same.Misread != nil {
		t.Errorf("a log and itself: %+v", same.Misread)
	}
	a, b = fullLog(1), fullLog(2)
	for n := range 10 {
		both(did(KindCarry, clk(1, 1+n, 0), "contact", "won"), did(KindCarry, clk(1, 1+n, 0), "contact", "won"))
	}
	for n := range 4 {
		both(did(KindOffload, clk(1, 20+n, 0), "result", "accurate"), did(KindPass, clk(1, 20+n, 1), "result", "accurate"))
	}
	if m = Agree(match80(), a, b).Misread; m == nil || m.Detail != "" || m.Kind != KindOffload ||
		m.First.Code != "offload" || m.Second.Code != "pass" || m.Times != 4 {
		t.Errorf("misread kinds %+v", m)
	}
}
