package models

import (
	"cmp"
	"slices"
)

// kindSet is a set of kinds, one bit a kind in the order of kinds.
type kindSet uint16

func setOf(ks []Kind) (s kindSet) {
	for _, k := range ks {
		if n := k.number(); n >= 0 {
			s |= 1 << n
		}
	}
	return s
}

// tally is what a player's logs say about one match: the match is cut where any log begins or ends to cover something,
// and in each piece every kind is counted from one log.
type tally struct {
	match  *Match
	pieces []piece
	played int // regular seconds of the stints; 0 without stints
	cells  []CarryCell
	stints []stretch
	done   []happening // what is counted, of all logs
}

type piece struct {
	stretch
	logs    [len(kinds)]int // of each kind the log that it is counted from, by its place in the play; -1: none
	core    kindSet         // the kinds that some log covers
	full    kindSet         // the kinds that a full log covers
	regular int             // seconds of regular time
	played  int             // seconds of regular time that the player was on the pitch; 0 without stints
	counts  []float64       // by the count's place in counts
	parts   [][]float64     // the same of each part, by its place in parts
}

// of are the counts of a part, or of everything.
func (p *piece) of(part int) []float64 {
	if part == wholeOf {
		return p.counts
	}
	return p.parts[part]
}

// covers returns the kinds that are covered deeply enough.
func (p *piece) covers(d Depth) kindSet {
	if d == Full {
		return p.full
	}
	return p.core
}

// tallyOf counts a play's finished logs in one pass over their involvements. It returns nil if there are none.
//
// Each minute of each kind is counted from one log only: the first that covers it, full logs before core ones, then by
// lower id. A full log that covers a minute is therefore the one that the minute is counted from, and what needs full
// depth is counted wherever a kind's log is a full one.
func tallyOf(p *Play) *tally {
	order := make([]int, 0, len(p.Logs))
	for i := range p.Logs {
		if p.Logs[i].Log.Finished {
			order = append(order, i)
		}
	}
	if len(order) == 0 {
		return nil
	}
	slices.SortStableFunc(order, func(a, b int) int {
		la, lb := &p.Logs[a].Log, &p.Logs[b].Log
		return cmp.Or(cmp.Compare(depthOrder(la.Depth), depthOrder(lb.Depth)), cmp.Compare(la.ID, lb.ID))
	})
	t := &tally{match: &p.Match, played: p.Match.playedSeconds(p.Appearance.Stints)}
	for i := range p.Appearance.Stints {
		t.stints = append(t.stints, p.Match.stretchOf(&p.Appearance.Stints[i]))
	}
	t.cut(p, order)
	for _, i := range order {
		t.count(p, i)
	}
	t.countNext()
	t.countPassages()
	return t
}

func depthOrder(d Depth) int {
	if d == Full {
		return 0
	}
	return 1
}

// cut makes the pieces and says about each which log each kind is counted from.
func (t *tally) cut(p *Play, order []int) {
	all := t.match.all()
	cuts := []instant{all.from, all.to}
	covered := make([][]stretch, len(order))
	for n, i := range order {
		covered[n] = t.match.covered(&p.Logs[i].Log)
		for _, s := range covered[n] {
			if s = s.within(all); s.from < s.to {
				cuts = append(cuts, s.from, s.to)
			}
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	t.pieces = make([]piece, len(cuts)-1)
	values := make([]float64, len(t.pieces)*len(counts)*(1+len(parts)))
	row := func() (some []float64) { some, values = values[:len(counts)], values[len(counts):]; return some }
	for n := range t.pieces {
		pc := &t.pieces[n]
		pc.stretch = stretch{cuts[n], cuts[n+1]}
		pc.counts = row()
		for range parts {
			pc.parts = append(pc.parts, row())
		}
		pc.regular = t.match.regular(pc.stretch)
		for s := range p.Appearance.Stints {
			pc.played += t.match.regular(t.match.stretchOf(&p.Appearance.Stints[s]).within(pc.stretch))
		}
		for k := range pc.logs {
			pc.logs[k] = -1
		}
		for o, i := range order {
			if !slices.ContainsFunc(covered[o], func(s stretch) bool { return s.has(pc.from) }) {
				continue
			}
			log := &p.Logs[i].Log
			for _, kind := range log.Kinds {
				k := kind.number()
				if k < 0 || pc.logs[k] >= 0 {
					continue
				}
				pc.logs[k] = i
				pc.core |= 1 << k
				if log.Depth == Full {
					pc.full |= 1 << k
				}
			}
		}
	}
}

// count adds a log's involvements to the pieces that are counted from it.
func (t *tally) count(p *Play, log int) {
	full := p.Logs[log].Log.Depth == Full
	involvements := p.Logs[log].Involvements
	passed := passedOn(involvements)
	for n := range involvements {
		i := &involvements[n]
		k := i.Kind.number()
		pc := t.at(instantOf(i.Clock))
		if k < 0 || pc == nil || pc.logs[k] != log {
			continue
		}
		out := passed.of(i)
		quarter := t.quarter(i.Clock)
		plans[k].add(i, out, pc.counts, quarter)
		for n := range parts {
			if parts[n].has(i, quarter) {
				plans[k].add(i, out, pc.parts[n], quarter)
			}
		}
		t.done = append(t.done, happening{i, out, pc})
		if full && i.Kind == KindCarry {
			t.cell(p, i)
		}
	}
}

func (t *tally) at(i instant) *piece {
	for n := range t.pieces {
		if t.pieces[n].has(i) {
			return &t.pieces[n]
		}
	}
	return nil
}

// cell adds a measured carry to its cell. Carries of core logs are left out, because what is measured there was
// picked.
func (t *tally) cell(p *Play, i *Involvement) {
	metres, ok := i.Measures["metres"]
	if !ok {
		return
	}
	c := CarryCell{
		AcademyID: p.Appearance.AcademyID, PlayerID: p.Appearance.PlayerID, MatchID: p.Appearance.MatchID,
		Width: i.Details["width"], Speed: i.Details["speed"], Zone: i.Details["zone"],
		Carries: 1, Metres: metres,
	}
	for n := range t.cells {
		if d := &t.cells[n]; d.Width == c.Width && d.Speed == c.Speed && d.Zone == c.Zone {
			d.Carries++
			d.Metres += metres
			return
		}
	}
	t.cells = append(t.cells, c)
}

// quarter returns in which quarter of the player's own regular time on the pitch a clock lies, 1 to 4; 0 without
// stints. Added time lies where its half's regular end does.
func (t *tally) quarter(c Clock) int {
	if t.played == 0 {
		return 0
	}
	before := stretch{t.match.all().from, instantOf(c)}
	own := 0
	for _, s := range t.stints {
		own += t.match.regular(s.within(before))
	}
	return min(1+quarters*own/t.played, quarters)
}

// plan says how the involvements of one kind are counted: what has to be looked up, once, and the counts that depend
// on it.
type plan struct {
	choices  []string // codes of details, by slot
	measures []string // codes of measures, by slot
	counts   []plannedCount
}

type plannedCount struct {
	*Count
	place  int // in counts
	sum    int // slot of the measure; -1: involvements are counted
	where  []plannedCondition
	except []plannedCondition
}

type plannedCondition struct {
	measure bool
	slot    int
	values  []string
}

// mostSlots is more than the details of a kind that counts ask for.
const mostSlots = 16

// plans holds a plan for each kind, by its number. It is never changed.
var plans = func() (out [len(kinds)]plan) {
	for n := range counts {
		c := &counts[n]
		for _, kind := range c.Kinds {
			p := &out[kind.number()]
			pc := plannedCount{Count: c, place: n, sum: -1}
			if c.Sum != "" {
				pc.sum = slot(&p.measures, c.Sum)
			}
			pc.where, pc.except = p.conditions(kind, c.Where), p.conditions(kind, c.Except)
			p.counts = append(p.counts, pc)
		}
	}
	return out
}()

// conditions are those that apply to a kind.
func (p *plan) conditions(kind Kind, all []Condition) (planned []plannedCondition) {
	for _, c := range all {
		if detailOf(kind, c.Detail) != nil {
			planned = append(planned, p.condition(kind, c))
		}
	}
	return planned
}

func (p *plan) condition(kind Kind, c Condition) plannedCondition {
	if d := detailOf(kind, c.Detail); d != nil && d.Measure != nil {
		return plannedCondition{measure: true, slot: slot(&p.measures, c.Detail)}
	}
	return plannedCondition{slot: slot(&p.choices, c.Detail), values: c.Values}
}

func slot(codes *[]string, code string) int {
	if n := slices.Index(*codes, code); n >= 0 {
		return n
	}
	*codes = append(*codes, code)
	return len(*codes) - 1
}

// looked is what one involvement has of what a plan looks up.
type looked struct {
	choices  [mostSlots]string
	measures [mostSlots]float64
	measured [mostSlots]bool
	results  []Result
	passed   bool // a carry that a pass or offload is linked to
}

// look looks up what a plan asks of an involvement.
func (p *plan) look(i *Involvement, out passing) (l looked) {
	for s, code := range p.choices {
		l.choices[s] = i.Details[code]
		if code == "choice" && l.choices[s] == "" && out.from != nil {
			l.choices[s] = out.from.Details[code]
		}
	}
	for s, code := range p.measures {
		l.measures[s], l.measured[s] = i.Measures[code]
	}
	l.results, l.passed = i.counted(), out.passed
	return l
}

// add counts one involvement, in a quarter of the player's own time. What depends on what comes next is counted by
// countNext, and what depends on a possession by countPassages.
func (p *plan) add(i *Involvement, out passing, into []float64, quarter int) {
	l := p.look(i, out)
	for n := range p.counts {
		c := &p.counts[n]
		if c.Next != "" || c.Passages || !c.counts(i, &l) || c.LastQuarter && quarter != quarters {
			continue
		}
		switch {
		case c.sum < 0:
			into[c.place]++
		case l.measured[c.sum]:
			into[c.place] += l.measures[c.sum]
		}
	}
}

func (c *plannedCount) counts(i *Involvement, l *looked) bool {
	if c.Unlinked && i.LinkedTo != nil || c.Unpassed && l.passed {
		return false
	}
	for n := range c.where {
		if !c.where[n].holds(l) {
			return false
		}
	}
	for n := range c.except {
		if c.except[n].holds(l) {
			return false
		}
	}
	if len(c.Results) > 0 && !anyOf(l.results, c.Results) {
		return false
	}
	return len(c.ExceptResults) == 0 || !anyOf(l.results, c.ExceptResults)
}

func (c *plannedCondition) holds(l *looked) bool {
	if c.measure {
		return l.measured[c.slot]
	}
	v := l.choices[c.slot]
	return v != "" && (len(c.values) == 0 || slices.Contains(c.values, v))
}

func anyOf(have, want []Result) bool {
	for _, r := range have {
		if slices.Contains(want, r) {
			return true
		}
	}
	return false
}
