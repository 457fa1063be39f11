package models

// Appearance is a player in a match. Minutes are regular playing time: added time does not count, so a whole match is
// exactly the full match. If stints are recorded, they decide the minutes. If not, as in a file of totals, minutes
// are as given, or minutes_not_recorded says that they are not known. Such an appearance has counts but no rates.
type Appearance struct {
	Record
	MatchID  int64 `json:"match_id"`
	PlayerID int64 `json:"player_id"` // the player; each only once in a match
	// minutes of regular playing time: at least a second (1/60), at most the full match; absent if not recorded
	Minutes float64 `json:"minutes,omitempty" limit:"0..160"`
	// True if the player appeared but their minutes were not recorded. There are no rates then, and limits on minutes
	// say that the match is missing. Send it instead of minutes; adding stints ends it
	MinutesNotRecorded bool     `json:"minutes_not_recorded,omitempty"`
	Started            *bool    `json:"started,omitempty"`
	Shirt              *int     `json:"shirt,omitempty" limit:"1..99"` // unique in the match
	Position           Position `json:"position,omitempty"`
	// in order of time, without overlaps
	Stints []Stint `json:"stints,omitempty" gorm:"-" limit:"items 0..50"`
	// the moment from which the player's work does not count for any figure; absent if all of it counts
	Stop *Stop `json:"stop,omitempty" gorm:"-"`
}

// CountedMinutes returns the minutes that count for figures: all of them, or those up to its stop; 0 if they were not
// recorded, see Untimed.
func (a Appearance) CountedMinutes() float64 {
	if a.Stop != nil {
		return a.Stop.Minutes
	}
	return a.Minutes
}

// Untimed says whether the appearance counts for figures and its minutes were not recorded.
func (a Appearance) Untimed() bool { return a.MinutesNotRecorded && a.Stop == nil }

// LeastMinutes is the least time that is recorded as played: one second, the step of the match clock.
const LeastMinutes = 1.0 / 60

// Stint is an unbroken stretch on the pitch. An Off at the end of a half's regular time means the end of the half,
// including added time.
type Stint struct {
	ID           int64    `json:"-" gorm:"primaryKey"`
	AcademyID    int64    `json:"-"`
	AppearanceID int64    `json:"-"`
	On           Clock    `json:"on" gorm:"embedded;embeddedPrefix:on_"`
	Off          Clock    `json:"off" gorm:"embedded;embeddedPrefix:off_"`
	Position     Position `json:"position,omitempty"`
}

// Validate checks the appearance's own fields.
func (a Appearance) Validate() error {
	var f findings
	f.limits("", &a)
	f.ref("match_id", a.MatchID)
	f.ref("player_id", a.PlayerID)
	switch {
	case a.Minutes > 0 && a.Minutes < LeastMinutes:
		f.add("minutes", "%.3g is less than a second; write at least 0.02 minutes", a.Minutes)
	case len(a.Stints) > 0: // they tell the minutes
	case a.MinutesNotRecorded && a.Minutes > 0:
		f.add("minutes_not_recorded", "cannot be true together with %s minutes; leave one of the two out", number(a.Minutes))
	case a.Minutes == 0 && !a.MinutesNotRecorded:
		f.add("minutes", "is missing; give the minutes played, or when the player came on and went off, or say that the "+
			"minutes were not recorded")
	}
	f.position("position", a.Position)
	for i, s := range a.Stints {
		f.clock(at("stints", i)+".on", s.On)
		f.clock(at("stints", i)+".off", s.Off)
		f.position(at("stints", i)+".position", s.Position)
	}
	return f.err("appearance")
}

// ValidateIn checks an appearance against its match: its minutes are at most the full match, and its stints lie within
// the match, in order and without overlapping. Where there are stints it sets Minutes from them.
func (a *Appearance) ValidateIn(m Match) error {
	var f findings
	right := true
	for i := range a.Stints {
		s, where := &a.Stints[i], at("stints", i)
		if on, off := f.clockIn(where+".on", s.On, &m), f.clockIn(where+".off", s.Off, &m); !on || !off {
			right = false
			continue
		}
		t := m.stretchOf(s)
		if t.to <= t.from {
			f.add(where+".off", "the stint ends (%s) before it begins (%s)", s.Off, s.On)
			right = false
			continue
		}
		if i == 0 {
			continue
		}
		before := &a.Stints[i-1]
		switch b := m.stretchOf(before); {
		case t.from >= b.to:
		case t.to <= b.from:
			f.add(where+".on", "the stint from %s is listed after the one from %s but starts before it; list stints in "+
				"order of time",
				s.On, before.On)
			right = false
		default:
			added := ""
			if b.to != instantOf(before.Off) {
				added = ", including added time"
			}
			f.add(where+".on", "the stint from %s overlaps the one before it, which lasts until %s%s", s.On, before.Off, added)
			right = false
		}
	}
	if len(a.Stints) > 0 && right {
		a.Minutes, a.MinutesNotRecorded = a.MinutesIn(m), false
		if a.Minutes == 0 {
			f.add("stints", "have no regular playing time; an appearance in added time only has no minutes and cannot "+
				"be recorded")
		}
	}
	if full := m.FullMatch(); a.Minutes > float64(full) {
		f.add("minutes", "%s is more than the %d minutes of a full match", number(a.Minutes), full)
	}
	return f.err("appearance")
}

// ValidateShirts refuses what the appearances of one match cannot all have: the same shirt number, and more starters
// than a side has players. Places are counted in the order given.
func ValidateShirts(appearances []Appearance) error {
	var f findings
	worn := map[int]int{}
	started := 0
	for i, a := range appearances {
		if a.Started != nil && *a.Started {
			started++
			if started == LawPlayersASide+1 {
				f.add(at("appearances", i)+".started", "makes %d starters; a side has at most %d players on the pitch (Law 3)",
					started, LawPlayersASide)
			}
		}
		if a.Shirt == nil {
			continue
		}
		if first, ok := worn[*a.Shirt]; ok {
			f.add(at("appearances", i)+".shirt", "%d is already used in %s; give each player a different number", *a.Shirt,
				at("appearances", first))
			continue
		}
		worn[*a.Shirt] = i
	}
	return f.err("list of appearances")
}

// onPitch says whether the player was on the pitch at a clock. The last second of a stint belongs to it.
func (a *Appearance) onPitch(c Clock, m *Match) bool {
	for i := range a.Stints {
		if s := &a.Stints[i]; m.stretchOf(s).has(instantOf(c)) || c == s.Off {
			return true
		}
	}
	return false
}
