package models

import (
	"cmp"
	"slices"
)

// Next says what must come next of the player for an involvement to be counted.
type Next string

// What may come next: the next involvement that was not missed, in the same half and time on the pitch; a job that the
// player owed within the time allowed; and such a job that was done.
const (
	NextGap  Next = "gap"
	NextOwed Next = "job_owed"
	NextDone Next = "job_done"
)

// jobWithin is how many seconds after a tackle what comes next is still its next job. Our choice: long enough for a
// ruck and the phase after it.
const jobWithin = 20

// most is the most seconds that one involvement can add to a sum of seconds until what comes next.
func (n Next) most() float64 {
	if n == NextGap {
		return mostClock
	}
	return jobWithin
}

// quarters are those of a player's own time on the pitch.
const quarters = 4

// wholeTime says whether the count needs stints and logs over all of the player's minutes.
func (c *Count) wholeTime() bool { return c.LastQuarter || c.Next == NextGap }

// passing says how an involvement belongs to a carry and the pass or offload out of it.
type passing struct {
	from   *Involvement // of a linked pass or offload, the carry, where the log has it
	passed bool         // of a carry, that a pass or offload is linked to it
}

// links are the passes and offloads out of carries of one log.
type links struct {
	carries map[int64]*Involvement
}

// passedOn finds the carries of a log that a pass or offload is linked to.
func passedOn(all []Involvement) links {
	l := links{}
	for n := range all {
		if to := all[n].LinkedTo; to != nil {
			if l.carries == nil {
				l.carries = map[int64]*Involvement{}
			}
			l.carries[*to] = nil
		}
	}
	for n := range all {
		if _, linked := l.carries[all[n].ID]; linked && all[n].Kind == KindCarry {
			l.carries[all[n].ID] = &all[n]
		}
	}
	return l
}

func (l links) of(i *Involvement) (p passing) {
	if l.carries == nil {
		return p
	}
	if i.LinkedTo != nil {
		p.from = l.carries[*i.LinkedTo]
	}
	p.passed = i.Kind == KindCarry && l.carries[i.ID] == i
	return p
}

// happening is an involvement that is counted, with the piece of the match that it is counted in.
type happening struct {
	*Involvement
	out   passing
	piece *piece
}

// missed says whether it was tried or owed and not done, or a penalty: the same as missed says of counts.
func (h *happening) missed() bool {
	return h.Details["result"] == "missed" || h.Details["result"] == "beaten" || h.Details["in_place"] == "no" ||
		h.Details["in_place"] == "no_time" || slices.Contains(h.counted(), ResultPenaltyConceded)
}

// countNext counts what depends on what the player did next.
func (t *tally) countNext() {
	slices.SortStableFunc(t.done, func(a, b happening) int {
		return cmp.Or(a.Clock.Compare(b.Clock), cmp.Compare(a.ID, b.ID), cmp.Compare(a.Kind.number(), b.Kind.number()),
			cmp.Compare(a.Details["result"], b.Details["result"]), cmp.Compare(a.Details["in_place"], b.Details["in_place"]),
			cmp.Compare(len(a.counted()), len(b.counted())))
	})
	for n := range t.done {
		h := &t.done[n]
		p := &plans[h.Kind.number()]
		l := p.look(h.Involvement, h.out)
		for k := range p.counts {
			c := &p.counts[k]
			if c.Next == "" || !c.counts(h.Involvement, &l) {
				continue
			}
			seconds, found := t.next(n, c.Next)
			switch {
			case !found:
			case c.Seconds:
				h.piece.counts[c.place] += float64(seconds)
			default:
				h.piece.counts[c.place]++
			}
		}
	}
}

// next looks for what comes after a happening, and says after how many seconds.
func (t *tally) next(n int, want Next) (seconds int, found bool) {
	h := &t.done[n]
	for k := n + 1; k < len(t.done); k++ {
		o := &t.done[k]
		seconds = o.Clock.Second - h.Clock.Second
		switch {
		case o.Clock.Half != h.Clock.Half || want != NextGap && seconds > jobWithin:
			return 0, false
		case o.LinkedTo != nil || o.Details["in_place"] == "no_time":
		case want == NextGap:
			if !o.missed() {
				return seconds, t.together(h.Clock, o.Clock)
			}
		default:
			return seconds, want == NextOwed || !o.missed()
		}
	}
	return 0, false
}

// together says whether two clocks lie in one stint.
func (t *tally) together(a, b Clock) bool {
	return slices.ContainsFunc(t.stints, func(s stretch) bool { return s.has(instantOf(a)) && s.has(instantOf(b)) })
}
