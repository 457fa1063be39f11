package models

import (
	"fmt"
	"slices"
)

// Stop says that what a player did in a match counts only in part, or not at all. From a head contact on neither
// involvements nor minutes count for any figure, in that match or any other before the stand-down ends. The records
// stay, for the safety record.
type Stop struct {
	// the first moment that does not count; absent: nothing in the match counts
	From    *Clock  `json:"from,omitempty"`
	Minutes float64 `json:"minutes"` // the minutes of the appearance that count
	Words   string  `json:"words"`   // the same in words
}

// Has says whether what happened at a clock of the match counts for nothing. A nil stop has no instant.
func (s *Stop) Has(c Clock) bool {
	return s != nil && (s.From == nil || c.Compare(*s.From) >= 0)
}

// PlayerStop is a stop for one player of a match.
type PlayerStop struct {
	PlayerID int64 `json:"player_id"`
	Stop
}

// StopIn returns the stop of a player in a match, nil where everything counts. The play's logs are asked for marks of
// head contacts.
func (p *Play) StopIn() *Stop {
	from, why := p.stop()
	if why == "" {
		return nil
	}
	s := &Stop{Words: why + ": nothing recorded in this match counts for any figure"}
	if from > p.Match.all().from {
		clock := from.clock()
		s.From = &clock
		s.Words = fmt.Sprintf("%s at %s: nothing from then on counts for any figure, and neither do totals without a clock",
			why, clock)
	}
	counting := p.Counting()
	s.Minutes = float64(p.Match.playedSeconds(counting.Appearance.Stints)) / 60
	return s
}

// unknownMoment is why a match stops in which there was a head contact, no one knows when.
const unknownMoment = "head contact, at a moment that was not recorded"

// stop returns the first instant of the match that does not count, and why in words; empty if all of it counts.
//
// A head contact without a known moment stops the whole match, because no one can say what came before it. It also
// stops other matches of the same day: the player neither plays nor trains again on that day. Matches of a day are in
// the order of their ids.
func (p *Play) stop() (from instant, why string) {
	m := &p.Match
	at := func(i instant, reason string) {
		if why == "" || i < from {
			from, why = i, reason
		}
	}
	here := func(h *HeadContact) bool { return h.MatchID != nil && *h.MatchID == m.ID }
	timed := slices.ContainsFunc(p.Contacts, func(h HeadContact) bool { return here(&h) && h.Clock != nil })
	for i := range p.Contacts {
		switch h := &p.Contacts[i]; {
		case here(h) && h.Clock != nil:
			at(instantOf(*h.Clock), "head contact")
		case here(h) && !timed: // a moment that was found since is that of this head contact
			at(m.all().from, unknownMoment)
		case here(h):
		case h.Date == m.Date && (h.MatchID == nil || *h.MatchID < m.ID):
			at(m.all().from, "head contact earlier on the same day")
		}
	}
	for i := range p.Downs {
		if d := &p.Downs[i]; d.Stops(*m) {
			at(m.all().from, "stood down since "+string(d.since()))
		}
	}
	for l := range p.Logs {
		for i := range p.Logs[l].Involvements {
			if mark := &p.Logs[l].Involvements[i]; mark.HeadContact {
				at(instantOf(mark.Clock), "head contact")
			}
		}
	}
	return from, why
}

// since is the day from which the player is kept out: that of the head contact, if the stand-down has one.
func (d *Down) since() Date {
	if d.ContactOn != nil {
		return min(d.From, *d.ContactOn)
	}
	return d.From
}

// Stops says whether nothing counts of a match because of the stand-down. What came before its head contact does: the
// match in which it happened, see Play.Counting, and those of the same day that come before it.
func (d *Down) Stops(m Match) bool {
	switch {
	case m.Date < d.since(), d.LiftedOn != nil && m.Date >= *d.LiftedOn:
		return false
	case d.ContactIn != nil && (d.ContactOn == nil || m.Date == *d.ContactOn):
		return m.ID > *d.ContactIn
	}
	return true
}

// Counting returns the play as figures count it: without all from its stop on, and without the stop itself, so it
// counts the same once the marks are gone. Totals have no clock: a play that stops has none. If the play had stints,
// only their minutes remain; minutes without stints have no clock and count for no rate.
func (p Play) Counting() Play {
	stop, why := p.stop()
	p.Contacts, p.Downs = nil, nil
	if why == "" {
		return p
	}
	p.Totals = nil
	stints, before := p.Appearance.Stints, stretch{p.Match.all().from, stop}
	p.Appearance.Stints = nil
	for _, s := range stints {
		t := p.Match.stretchOf(&s)
		if kept := t.within(before); kept.from < kept.to {
			if kept.to < t.to {
				s.Off = kept.to.clock()
			}
			p.Appearance.Stints = append(p.Appearance.Stints, s)
		}
	}
	logs := p.Logs
	p.Logs = nil
	if before.to <= before.from || len(stints) > 0 && len(p.Appearance.Stints) == 0 {
		return p
	}
	for _, l := range logs {
		if l, some := l.until(&p.Match, before); some {
			p.Logs = append(p.Logs, l)
		}
	}
	return p
}

// until returns the part of a log that lies in a stretch; false if it covers nothing of it.
func (l LoggedPlay) until(m *Match, part stretch) (LoggedPlay, bool) {
	covered := m.covered(&l.Log)
	l.Log.Covers = nil
	for _, s := range covered {
		if s = s.within(part); s.from < s.to {
			l.Log.Covers = append(l.Log.Covers, Span{From: s.from.clock(), To: m.end(s.to)})
		}
	}
	l.Involvements = slices.DeleteFunc(slices.Clone(l.Involvements), func(i Involvement) bool {
		return !part.has(instantOf(i.Clock))
	})
	return l, len(l.Log.Covers) > 0
}

// end is the clock at which a stretch ends that ends before an instant: see until.
func (m *Match) end(to instant) Clock {
	c := to.clock()
	if c.Second == 0 && c.Half > 1 { // the whole of the half before
		return Clock{Half: c.Half - 1, Second: 60 * m.HalfMinutes * (c.Half - 1)}
	}
	return c
}
