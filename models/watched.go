package models

import "slices"

// Watched is what the finished logs of a player show of a match: each minute of each kind from one log, in the order of
// the clock, and nothing from a stop on.
type Watched struct {
	Jobs      []WatchedJob
	Stretches []WatchedStretch // in order, without what no log covers
	Played    int              // regular seconds on the pitch; 0 without stints
	Seconds   int              // those of them that a log covers, of some kinds or all; without stints, of the match
	Whole     bool             // logs of all kinds cover all of Played
}

// WatchedJob is an involvement with its place in the player's own time.
type WatchedJob struct {
	Involvement
	Quarter int  // of the player's own time, 1 to 4; 0 without stints
	Missed  bool // tried or owed and not done, or a penalty
	// Gap is how many seconds pass to the player's next involvement: in the same half, in one stint, with all kinds
	// watched in between. It is nil if no such involvement follows, and of a pass or offload out of a carry, which is
	// part of it.
	Gap *int
}

// WatchedStretch is a part of the match that logs cover.
type WatchedStretch struct {
	Span
	Seconds int  // of the player's own regular time; without stints, of the match's
	All     bool // of all kinds
	Full    bool // all kinds that were watched in full depth
	Kinds   []Kind
}

// Watched returns what the finished logs show; nil if there are none.
func (p Play) Watched() *Watched {
	p = p.Counting()
	t := tallyOf(&p)
	if t == nil {
		return nil
	}
	w := &Watched{Played: t.played, Whole: t.played > 0}
	every := kindSet(1<<len(kinds) - 1)
	for n := range t.pieces {
		pc := &t.pieces[n]
		if pc.core == 0 {
			w.Whole = w.Whole && pc.played == 0
			continue
		}
		s := WatchedStretch{Span: Span{From: pc.from.clock(), To: t.match.end(pc.to)}, Seconds: pc.played,
			All: pc.core == every, Full: pc.full&pc.core == pc.core}
		if t.played == 0 {
			s.Seconds = pc.regular
		}
		for k := range kinds {
			if pc.core&(1<<k) != 0 {
				s.Kinds = append(s.Kinds, kinds[k].Code)
			}
		}
		w.Seconds += s.Seconds
		w.Whole = w.Whole && (s.All || pc.played == 0)
		w.Stretches = append(w.Stretches, s)
	}
	for n := range t.done {
		h := &t.done[n]
		job := WatchedJob{Involvement: *h.Involvement, Quarter: t.quarter(h.Clock), Missed: h.missed()}
		k := n + 1
		for k < len(t.done) && t.done[k].LinkedTo != nil {
			k++
		}
		if k < len(t.done) && h.LinkedTo == nil {
			next := &t.done[k]
			if next.Clock.Half == h.Clock.Half && t.together(h.Clock, next.Clock) && t.watchedBetween(h, next, every) {
				job.Gap = new(next.Clock.Second - h.Clock.Second)
			}
		}
		w.Jobs = append(w.Jobs, job)
	}
	return w
}

// watchedBetween says whether logs cover all kinds from one happening to a later one.
func (t *tally) watchedBetween(from, to *happening, every kindSet) bool {
	a, b := instantOf(from.Clock), instantOf(to.Clock)
	return !slices.ContainsFunc(t.pieces, func(p piece) bool { return p.core != every && p.from <= b && a < p.to })
}
