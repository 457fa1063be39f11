package models

// Position returns where an instant lies in the match's regular playing time: seconds from the match's start, 0 to 60
// times FullMatch. Added time is clipped to the end of its half, and a clock outside the match to the match's start or
// end. Every computation of minutes and coverage goes through it.
func (m Match) Position(c Clock) float64 { return float64(m.position(c)) }

func (m *Match) position(c Clock) int {
	half := 60 * m.HalfMinutes
	h := min(max(c.Half, 1), m.Halves)
	switch {
	case c.Half < h:
		return 0
	case c.Half > h:
		return h * half
	}
	return min(max(c.Second, (h-1)*half), h*half)
}

// Contains says whether a clock can be shown in the match: its half is played, and it lies between the half's start
// and 20 minutes after the half's regular end.
func (m Match) Contains(c Clock) bool {
	half := 60 * m.HalfMinutes
	return c.Half >= 1 && c.Half <= m.Halves && c.Second >= (c.Half-1)*half && c.Second <= c.Half*half+mostAddedSeconds &&
		c.Second <= mostClock
}

// instant puts the clocks of a match on one line: halves follow each other, and the added time of a half lies before
// the next half.
type instant int

const halfStride = 1_000_000

func instantOf(c Clock) instant { return instant(c.Half*halfStride + c.Second) }

// clock is the inverse of instantOf.
func (i instant) clock() Clock { return Clock{Half: int(i) / halfStride, Second: int(i) % halfStride} }

// until returns the instant before which a stretch that ends at c ends. One that ends with a half's regular time lasts
// to the end of the half, added time included.
func (m *Match) until(c Clock) instant {
	if c.Second == 60*m.HalfMinutes*c.Half {
		return instant((c.Half + 1) * halfStride)
	}
	return instantOf(c)
}

// stretch is the time from from up to, and without, to.
type stretch struct{ from, to instant }

// all is the whole match.
func (m *Match) all() stretch {
	return stretch{instantOf(Clock{Half: 1}), instant((m.Halves + 1) * halfStride)}
}

// regular returns the seconds of regular playing time in a stretch, 0 for one that is empty or turned round.
func (m *Match) regular(s stretch) int {
	if s.to <= s.from {
		return 0
	}
	return m.position(s.to.clock()) - m.position(s.from.clock())
}

func (s stretch) has(i instant) bool { return s.from <= i && i < s.to }

// within cuts a stretch to another.
func (s stretch) within(t stretch) stretch {
	return stretch{max(s.from, t.from), min(s.to, t.to)}
}

// stretchOf is when a stint is played.
func (m *Match) stretchOf(s *Stint) stretch { return stretch{instantOf(s.On), m.until(s.Off)} }

// covered are the stretches that a log covers.
func (m *Match) covered(l *Log) []stretch {
	if len(l.Covers) == 0 {
		return []stretch{m.all()}
	}
	out := make([]stretch, len(l.Covers))
	for i, s := range l.Covers {
		out[i] = stretch{instantOf(s.From), m.until(s.To)}
	}
	return out
}

// playedSeconds returns the regular seconds of an appearance's stints.
func (m *Match) playedSeconds(stints []Stint) int {
	n := 0
	for i := range stints {
		n += m.regular(m.stretchOf(&stints[i]))
	}
	return n
}

// MinutesIn returns the minutes of regular playing time of an appearance: those of its stints where there are any, and
// the minutes given otherwise; 0 if they were not recorded.
func (a Appearance) MinutesIn(m Match) float64 {
	if len(a.Stints) == 0 {
		return a.Minutes
	}
	return float64(m.playedSeconds(a.Stints)) / 60
}

// clockIn checks a clock against its match.
func (f *findings) clockIn(where string, c Clock, m *Match) bool {
	half := 60 * m.HalfMinutes
	switch {
	case c.Half < 1 || c.Half > m.Halves:
		f.add(where, "there is no half %d; the match has halves 1 to %d", c.Half, m.Halves)
	case c.Second < (c.Half-1)*half:
		f.add(where, "%s is before half %d begins; that half's clock starts at %s", c.Time(), c.Half,
			Clock{Second: (c.Half - 1) * half}.Time())
	case !m.Contains(c):
		f.add(where, "%s is more than %d minutes after half %d should end, at %s; check the half", c.Time(),
			mostAddedSeconds/60, c.Half, Clock{Second: c.Half * half}.Time())
	default:
		return true
	}
	return false
}

// clock checks a clock by itself.
func (f *findings) clock(where string, c Clock) {
	f.limits(where, &c)
}
