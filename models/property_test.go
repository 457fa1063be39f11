package models

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// dice makes random records that are valid.
type dice struct{ *rand.Rand }

func newDice(seed uint64) dice { return dice{rand.New(rand.NewPCG(seed, 20250801))} }

func (d dice) chance(p float64) bool { return d.Float64() < p }

func (d dice) clockIn(m *Match) Clock {
	half := 1 + d.IntN(m.Halves)
	start := 60 * m.HalfMinutes * (half - 1)
	return Clock{half, start + d.IntN(60*m.HalfMinutes+240)} // added time included
}

// involvement records each detail with probability p and drops what contradicts something else.
func (d dice) involvement(kind Kind, at Clock, p float64) Involvement {
	i := Involvement{Kind: kind, Clock: at, Details: map[string]string{}, Measures: map[string]float64{}}
	for _, detail := range DetailsOf(kind) {
		switch m := detail.Measure; {
		case !d.chance(p):
		case m == nil:
			o := detail.Options[d.IntN(len(detail.Options))]
			i.Details[detail.Code] = o.Code
			if o.Result != "" && !slices.Contains(i.Results, o.Result) {
				i.Results = append(i.Results, o.Result)
			}
		case m.Whole:
			i.Measures[detail.Code] = float64(d.IntN(int(m.Max) + 1))
		default:
			i.Measures[detail.Code] = math.Round(10*m.Max*d.Float64()*d.Float64()) / 10
		}
	}
	for _, r := range Results() {
		if d.chance(0.05) && !slices.Contains(i.Results, r.Code) {
			i.Results = append(i.Results, r.Code)
		}
	}
	for _, c := range Contradictions() {
		if slices.Contains(c.Kinds, kind) && i.has(&c.This) && i.has(&c.That) {
			delete(i.Details, c.That.Detail)
			delete(i.Measures, c.That.Measure)
			i.Results = slices.DeleteFunc(i.Results, func(r Result) bool { return r == c.That.Result })
		}
	}
	if (kind == KindPass || kind == KindOffload) && d.chance(0.3) {
		i.LinkedTo = ptr(int64(1 + d.IntN(1000)))
	}
	return i
}

func (d dice) match() Match {
	m := match80()
	m.Halves, m.HalfMinutes = 1+d.IntN(3), 10+5*d.IntN(7)
	return m
}

// stints are up to three, in order, at least one of them with regular time.
func (d dice) stints(m *Match) []Stint {
	full := 60 * m.FullMatch()
	clock := func(second int) Clock { // a second of regular time, in the half that it begins or lies in
		return Clock{min(second/(60*m.HalfMinutes)+1, m.Halves), second}
	}
	cuts := make([]int, 2*(1+d.IntN(3)))
	for i := range cuts {
		cuts[i] = d.IntN(full + 1)
	}
	slices.Sort(cuts)
	if cuts[0] == cuts[1] {
		return []Stint{{On: Clock{Half: 1}, Off: clock(full)}}
	}
	var out []Stint
	for i := 0; i < len(cuts); i += 2 {
		if cuts[i] < cuts[i+1] {
			out = append(out, Stint{On: clock(cuts[i]), Off: clock(cuts[i+1])})
		}
	}
	return out
}

// fullPlay is a play with one full log of everything over the whole match.
func (d dice) fullPlay(p float64) Play {
	m := d.match()
	play := Play{Match: m, Appearance: Appearance{Record: Record{AcademyID: 1}, MatchID: 9, PlayerID: 7,
		Minutes: float64(1 + d.IntN(m.FullMatch()))}}
	if d.chance(0.7) {
		play.Appearance.Stints = d.stints(&m)
		play.Appearance.Minutes = play.Appearance.MinutesIn(m)
	}
	play.Logs = []LoggedPlay{fullLog(1)}
	for range d.IntN(60) {
		play.Logs[0].Involvements = append(play.Logs[0].Involvements, d.involvement(kinds[d.IntN(len(kinds))].Code,
			d.clockIn(&m), p))
	}
	return play
}

// anyPlay is a play with up to three logs that cover anything, and perhaps with totals.
func (d dice) anyPlay() Play {
	p := d.fullPlay(0.8)
	p.Logs = nil
	for id := range d.IntN(4) {
		l := d.fullPlay(0.8).Logs[0]
		l.Log.ID = int64(3 - id)
		l.Log.Finished = d.chance(0.9)
		if d.chance(0.5) {
			l.Log.Depth = Core
		}
		if d.chance(0.5) {
			d.Shuffle(len(l.Log.Kinds), func(i, j int) { l.Log.Kinds[i], l.Log.Kinds[j] = l.Log.Kinds[j], l.Log.Kinds[i] })
			l.Log.Kinds = l.Log.Kinds[:1+d.IntN(len(l.Log.Kinds))]
		}
		if d.chance(0.5) {
			for _, s := range d.stints(&p.Match) {
				l.Log.Covers = append(l.Log.Covers, Span{s.On, s.Off})
			}
		}
		p.Logs = append(p.Logs, l)
	}
	if d.chance(0.5) {
		whole := d.fullPlay(1)
		p.Totals = &MatchTotals{Source: "test", Counts: whole.Counted()}
		for code := range p.Totals.Counts {
			if d.chance(0.3) {
				delete(p.Totals.Counts, code)
			}
		}
	}
	return p
}

// everyIndicator holds the built-in indicators and every one that an academy could make of the counts.
func everyIndicator() []Indicator {
	out := IndicatorCatalogue()
	add := func(family Family, num, den string) {
		out = append(out, Indicator{Code: fmt.Sprintf("%s of %s by %s", family, num, den), Family: family, Numerator: num,
			Denominator: den, Depth: neededDepth(num, den)})
	}
	for i := range counts {
		c := &counts[i]
		add(Rate, c.Code, "")
		if c.sums() {
			add(Mean, c.Code, c.Of)
			continue
		}
		for _, of := range c.wholes() {
			add(Proportion, c.Code, of)
		}
	}
	return out
}

// wholes observes a play without the parts of the match, which totals do not tell.
func wholes(p Play, inds []Indicator) []Observation {
	all, _ := Observe(p, inds)
	return slices.DeleteFunc(all, func(o Observation) bool { _, _, part := PartOf(o.Indicator); return part })
}

func byIndicator(list []Observation) map[string]Observation {
	out := map[string]Observation{}
	for _, o := range list {
		out[o.Indicator] = o
	}
	return out
}

func TestTheDiceMakeValidRecords(t *testing.T) {
	d := newDice(1)
	for range 200 {
		p := d.fullPlay(0.8)
		if err := p.Appearance.ValidateIn(p.Match); err != nil {
			t.Fatal(err)
		}
		for _, i := range p.Logs[0].Involvements {
			if err := i.Validate(); err != nil {
				t.Fatalf("%+v: %v", i, err)
			}
		}
		for _, l := range d.anyPlay().Logs {
			if err := l.Log.Validate(); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, ind := range everyIndicator()[len(indicators):] {
		ind.Code, ind.Label, ind.Meaning, ind.Unit, ind.Better = "own", "Own", "Own.", "x", Higher
		if err := ind.Validate(); err != nil {
			t.Errorf("%s of %s by %s: %v", ind.Family, ind.Numerator, ind.Denominator, err)
		}
	}
}

// What a full log of a whole match says is the same whether it is read from the log or from the totals counted from
// it.
func TestLogAndTheTotalsCountedFromItGiveTheSame(t *testing.T) {
	d, all, compared := newDice(2), everyIndicator(), 0
	for n := range 300 {
		p := d.fullPlay([]float64{0.5, 0.9, 1}[n%3])
		counted := p.Counted()
		if err := counted.Validate(); err != nil {
			t.Fatalf("play %d: counted from a log: %v", n, err)
		}
		fromLog := wholes(p, all)
		both := wholes(Play{Match: p.Match, Appearance: p.Appearance, Logs: p.Logs,
			Totals: &MatchTotals{Counts: counted}}, all)
		fromTotals, _ := Observe(Play{Match: p.Match, Appearance: p.Appearance, Totals: &MatchTotals{Counts: counted}}, all)
		if len(fromLog) != len(fromTotals) {
			t.Fatalf("play %d: %d observations from the log, %d from totals", n, len(fromLog), len(fromTotals))
		}
		for i, o := range fromLog {
			u := fromTotals[i]
			if o.Source != FromLog || u.Source != FromTotals {
				t.Fatalf("play %d: sources %s and %s", n, o.Source, u.Source)
			}
			if u.Source = FromLog; o != u {
				t.Fatalf("play %d: from the log %+v, from totals %+v", n, o, u)
			}
			if both[i] != o {
				t.Fatalf("play %d: with both %+v, want %+v", n, both[i], o)
			}
			compared++
		}
	}
	if compared < 10_000 {
		t.Errorf("only %d observations were compared", compared)
	}
}

// Leaving a detail out takes an involvement out of a figure, or the figure away. It never makes a success a failure.
func TestLeavingADetailOutNeverCountsAsNo(t *testing.T) {
	d, all, changed := newDice(3), everyIndicator(), 0
	family := map[string]Family{}
	for _, ind := range all {
		family[ind.Code] = ind.Family
	}
	for n := range 150 {
		p := d.fullPlay([]float64{0.7, 1}[n%2])
		if len(p.Logs[0].Involvements) == 0 {
			continue
		}
		before, _ := Observe(p, all)
		was := byIndicator(before)
		for range 4 {
			k := d.IntN(len(p.Logs[0].Involvements))
			i, code := d.without(p.Logs[0].Involvements[k])
			if err := i.Validate(); err != nil {
				t.Fatal(err)
			}
			if code == "height" && p.Logs[0].Involvements[k].high() {
				continue // what is recorded as high is marked as dangerous by that
			}
			less := p
			less.Logs = []LoggedPlay{{p.Logs[0].Log, slices.Clone(p.Logs[0].Involvements)}}
			less.Logs[0].Involvements[k] = i
			after, _ := Observe(less, all)
			for _, o := range after {
				w, ok := was[o.Indicator]
				if !ok {
					// An academy's own indicator may appear once the missing one is no longer checked.
					if _, builtIn := IndicatorOf(o.Indicator); builtIn {
						t.Fatalf("play %d without %s of a %s: %s appears", n, code, i.Kind, o.Indicator)
					}
					continue
				}
				if o == w {
					continue
				}
				changed++
				failures, failed := o.Denominator-o.Numerator, w.Denominator-w.Numerator
				switch {
				case o.Denominator > w.Denominator,
					o.Numerator > w.Numerator && !same(o.Numerator, w.Numerator),
					family[o.Indicator] == Rate,
					family[o.Indicator] == Proportion && failures > failed,
					family[o.Indicator] == Mean && o.Denominator == w.Denominator:
					t.Fatalf("play %d without %s of a %s: %s was %v of %v and is %v of %v", n, code, i.Kind, o.Indicator, w.Numerator,
						w.Denominator, o.Numerator, o.Denominator)
				}
			}
		}
	}
	if changed < 200 {
		t.Errorf("only %d observations changed", changed)
	}
}

// without returns an involvement with one detail or measure fewer, and its code.
func (d dice) without(i Involvement) (Involvement, string) {
	i.Details, i.Measures = maps.Clone(i.Details), maps.Clone(i.Measures)
	codes := append(slices.Sorted(maps.Keys(i.Details)), slices.Sorted(maps.Keys(i.Measures))...)
	if len(codes) == 0 {
		return i, ""
	}
	code := codes[d.IntN(len(codes))]
	delete(i.Details, code)
	delete(i.Measures, code)
	return i, code
}

// Two loggers who share a match between them give what one of them would have given.
func TestSplittingAMatchBetweenTwoLoggersChangesNothing(t *testing.T) {
	d, all := newDice(4), everyIndicator()
	for n := range 300 {
		p := d.fullPlay([]float64{0.8, 1}[n%2])
		m := &p.Match
		one, oneCells := Observe(p, all)
		// By halves, or anywhere in regular time; with one half only the second way.
		end := Clock{m.Halves, 60 * m.FullMatch()}
		first, second := Span{Clock{Half: 1}, Clock{1, 60 * m.HalfMinutes}}, Span{Clock{2, 60 * m.HalfMinutes}, end}
		if m.Halves == 1 || n%3 == 0 {
			cut := Clock{1, 1 + d.IntN(60*m.HalfMinutes-1)}
			first, second = Span{Clock{Half: 1}, cut}, Span{cut, end}
		}
		a, b := covering(fullLog(2), first), covering(fullLog(1), second)
		for _, l := range []*Log{&a.Log, &b.Log} {
			if err := l.ValidateIn(*m); err != nil {
				t.Fatal(err)
			}
		}
		for _, i := range p.Logs[0].Involvements {
			if a.Log.covers(i.Clock, m) == b.Log.covers(i.Clock, m) {
				t.Fatalf("%s is covered twice or never", i.Clock)
			}
			if a.Log.covers(i.Clock, m) {
				a.Involvements = append(a.Involvements, i)
			} else {
				b.Involvements = append(b.Involvements, i)
			}
		}
		p.Logs = []LoggedPlay{a, b}
		two, twoCells := Observe(p, all)
		if len(one) != len(two) || len(oneCells) != len(twoCells) {
			t.Fatalf("play %d: %d observations and %d cells from one, %d and %d from two", n, len(one), len(oneCells), len(two),
				len(twoCells))
		}
		for i := range one {
			if one[i].Indicator != two[i].Indicator || !same(one[i].Numerator, two[i].Numerator) ||
				!same(one[i].Denominator, two[i].Denominator) {
				t.Fatalf("play %d: one gives %+v, two %+v", n, one[i], two[i])
			}
		}
		for i := range oneCells {
			x, y := oneCells[i], twoCells[i]
			if x.cell() != y.cell() || x.Carries != y.Carries || !same(x.Metres, y.Metres) {
				t.Fatalf("play %d: cells %+v and %+v", n, x, y)
			}
		}
	}
}

// Whatever is recorded, an observation is a number that means something.
func TestObservationsAreFiniteAndInRange(t *testing.T) {
	d, all, seen := newDice(5), everyIndicator(), map[Source]int{}
	family := map[string]Family{}
	for _, ind := range all {
		family[ind.Code] = ind.Family
	}
	for n := range 600 {
		p := d.anyPlay()
		list, cells := Observe(p, all)
		full := float64(p.Match.FullMatch())
		for _, o := range list {
			seen[o.Source]++
			switch {
			case math.IsNaN(o.Numerator), math.IsInf(o.Numerator, 0), o.Numerator < 0,
				math.IsNaN(o.Denominator), math.IsInf(o.Denominator, 0), o.Denominator <= 0,
				family[o.Indicator] == Proportion && o.Numerator > o.Denominator,
				family[o.Indicator] == Rate && o.Denominator > full,
				o.Differs != nil && o.Source != FromLog:
				t.Fatalf("play %d: %+v", n, o)
			}
		}
		for _, c := range cells {
			if !(c.Carries >= 1) || !(c.Metres >= 0) {
				t.Fatalf("play %d: %+v", n, c)
			}
		}
		// The order in which logs and involvements come changes nothing; ids tell logs apart.
		q := p
		q.Logs = slices.Clone(p.Logs)
		slices.Reverse(q.Logs)
		for i := range q.Logs {
			q.Logs[i].Involvements = slices.Clone(q.Logs[i].Involvements)
			slices.Reverse(q.Logs[i].Involvements)
		}
		again, _ := Observe(q, all)
		if len(again) != len(list) {
			t.Fatalf("play %d: %d observations, turned round %d", n, len(list), len(again))
		}
		for i, o := range list {
			if r := again[i]; r.Indicator != o.Indicator || !same(r.Numerator, o.Numerator) || r.Denominator != o.Denominator ||
				r.Source != o.Source {
				t.Fatalf("play %d: %+v, turned round %+v", n, o, r)
			}
		}
	}
	if seen[FromLog] < 1000 || seen[FromTotals] < 1000 {
		t.Errorf("too few observations: %v", seen)
	}
}

// Unfinished or nonsensical records must not bring Observe down: it may be asked before they are refused.
func TestObserveStandsNonsense(t *testing.T) {
	for _, m := range []Match{{}, {Halves: -1, HalfMinutes: -5}, {Halves: 4, HalfMinutes: 40}} {
		for _, c := range []Clock{{}, {-3, -9}, {9, 99_999_999}, {1, -1}} {
			l := fullLog(1, did(KindCarry, c), did("dance", c))
			l.Log.Kinds = append(l.Log.Kinds, "dance")
			p := Play{Match: m, Appearance: Appearance{Minutes: math.NaN(), Stints: []Stint{{On: c, Off: c}, {Off: c}}},
				Logs:   []LoggedPlay{l, covering(fullLog(2), Span{c, c}, Span{To: c})},
				Totals: &MatchTotals{Counts: Counts{"carries": math.Inf(1), "contacts_won": math.NaN(), "x": -1}}}
			list, _ := Observe(p, everyIndicator())
			for _, o := range list {
				if !(o.Denominator > 0) || !(o.Numerator >= 0) || math.IsInf(o.Numerator, 0) {
					t.Errorf("%+v", o)
				}
			}
			Agree(m, p.Logs[0], p.Logs[1])
			p.Counted()
		}
	}
}
