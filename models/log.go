package models

// Depth is how much of each involvement a log records: Core is the kind, the clock and the details marked core in the
// catalogue; Full is the rest as well.
type Depth string

// The depths.
const (
	Core Depth = "core"
	Full Depth = "full"
)

// Span is a stretch of match time.
type Span struct {
	From Clock `json:"from"`
	To   Clock `json:"to"`
}

// Log is an involvement log: the involvements of one player in one match, logged from video by one person. It says
// what it covers, and indicators use only that: if a covered minute has no involvement of a covered kind, there was
// none.
type Log struct {
	Record
	MatchID  int64 `json:"match_id"`
	PlayerID int64 `json:"player_id"` // the player; must have an appearance in the match
	// the user who made it; each user makes at most one log per match and player
	LoggerID int64 `json:"logger_id"`
	Depth    Depth `json:"depth"`
	// the kinds it covers: at least one, each once
	Kinds []Kind `json:"kinds" gorm:"serializer:json" limit:"set 1.."`
	// the minutes watched, in order, without overlaps; empty: the whole match
	Covers   []Span `json:"covers" gorm:"serializer:json" limit:"items 0..200"`
	Finished bool   `json:"finished"` // an unfinished log does not count yet
	// Why logging goes on after a head contact, or in a match the player was stood down from. None of it counts for any
	// figure. Do not write about a safeguarding concern here: tell the academy's safeguarding lead, in person
	LoggedOnBecause string `json:"logged_on_because,omitempty" limit:"text 0..500"`
	// the moment from which nothing logged counts for any figure; absent if all of it counts
	Stop *Stop `json:"stop,omitempty" gorm:"-"`
	// for a head contact in the match: the stand-down to set, until there is one
	Proposal *Proposal `json:"proposal,omitempty" gorm:"-"`
	// chosen by the program that sends it, so sending it again is safe; unique in the academy unless empty
	Key string `json:"key,omitempty" limit:"key 0..200"`
}

// Validate checks the log's own fields.
func (l Log) Validate() error {
	var f findings
	f.limits("", &l)
	oneOf(&f, "depth", l.Depth)
	for i, k := range l.Kinds {
		oneOf(&f, at("kinds", i), k)
	}
	unique(&f, "kinds", l.Kinds)
	for i, s := range l.Covers {
		f.clock(at("covers", i)+".from", s.From)
		f.clock(at("covers", i)+".to", s.To)
	}
	return f.err("log")
}

// ValidateIn checks that what the log covers lies within its match, in order and without overlapping.
func (l Log) ValidateIn(m Match) error {
	var f findings
	spans := m.covered(&l)
	for i, s := range l.Covers {
		where := at("covers", i)
		if from, to := f.clockIn(where+".from", s.From, &m), f.clockIn(where+".to", s.To, &m); !from || !to {
			continue
		}
		switch {
		case spans[i].to <= spans[i].from:
			f.add(where+".to", "the stretch ends (%s) before it begins (%s)", s.To, s.From)
		case i > 0 && spans[i].from < spans[i-1].to && s.From.Compare(l.Covers[i-1].To) < 0:
			f.add(where+".from", "the stretch from %s begins before the previous one ends, at %s; list stretches in order, "+
				"without overlaps", s.From, l.Covers[i-1].To)
		}
	}
	return f.err("log")
}

// covers says whether a clock lies in what the log covers.
func (l *Log) covers(c Clock, m *Match) bool {
	for _, s := range m.covered(l) {
		if s.has(instantOf(c)) {
			return true
		}
	}
	return false
}
