package models

import (
	"regexp"
	"strconv"
)

// Squad is a group of players who train and play together, usually an age band.
type Squad struct {
	Record
	Name string `json:"name" limit:"name 1..100"` // unique in the academy
	// Players must be under this age on the band date to belong without playing up or down: 16 for under 16, 0 for an
	// open squad.
	AgeBand int `json:"age_band,omitempty" limit:"0 or 5..30"`
	// The month (1 to 12) on whose first day the age band's year begins, such as 9 for September. Birth quarters are
	// counted from it.
	BandMonth int `json:"band_month,omitempty" limit:"0..12"`
	// how many weeks lie between two reviews of a player; absent for the usual six
	ReviewWeeks int `json:"review_weeks,omitempty" limit:"0..52"`
}

// usualHalves are how long a half lasts up to an age band, in minutes. That of 19 is the Laws'; the others are *common
// practice, check your competition's rules*.
var usualHalves = []struct{ band, minutes int }{{12, 20}, {14, 25}, {16, 30}, {19, LawHalfMinutesUnder19}}

// UsualHalfMinutes is how long a half usually lasts in the squad's age band: a match that does not say it lasts so
// long. A squad without an age band plays as adults do.
func (s Squad) UsualHalfMinutes() int {
	for _, u := range usualHalves {
		if s.AgeBand > 0 && s.AgeBand <= u.band {
			return u.minutes
		}
	}
	return LawHalfMinutes
}

// BandInWords names the squad's age band inside a sentence.
func (s Squad) BandInWords() string {
	if s.AgeBand == 0 {
		return "no age band"
	}
	return "under " + strconv.Itoa(s.AgeBand)
}

var bandInName = regexp.MustCompile(`(?i)\b(?:under|u)[ -]?([1-9][0-9]?)(?:s)?\b`)

// BandInName returns the age band that a squad's name states, such as 16 for "Under 16" or "Girls U16"; 0 for none, or
// for several.
func BandInName(name string) int {
	found := bandInName.FindAllStringSubmatch(name, -1)
	if len(found) != 1 {
		return 0
	}
	band, err := strconv.Atoi(found[0][1])
	if err != nil || (Squad{Name: name, AgeBand: band}).Validate() != nil {
		return 0
	}
	return band
}

// Membership puts a player in a squad for a season, or for part of one.
type Membership struct {
	Record
	SeasonID int64 `json:"season_id"`
	SquadID  int64 `json:"squad_id"`
	PlayerID int64 `json:"player_id"`
	From     Date  `json:"from" gorm:"column:from_date"` // a day within the season
	// absent: to the end of the season
	Until *Date `json:"until,omitempty" gorm:"column:until_date"`
}

// Left says whether all of a player's memberships of a season ended before a day. A player without any has not left.
func Left(members []Membership, day Date) bool {
	for _, m := range members {
		if m.Until == nil || *m.Until >= day {
			return false
		}
	}
	return len(members) > 0
}

// Validate checks the squad's own fields.
func (s Squad) Validate() error {
	var f findings
	f.limits("", &s)
	return f.err("squad")
}

// Validate checks the membership's own fields.
func (m Membership) Validate() error {
	var f findings
	f.ref("season_id", m.SeasonID)
	f.ref("squad_id", m.SquadID)
	f.ref("player_id", m.PlayerID)
	f.fromUntil(m.From, m.Until)
	return f.err("membership")
}

// ValidateIn checks that the membership lies within its season.
func (m Membership) ValidateIn(s Season) error {
	var f findings
	f.dayIn("from", m.From, s)
	if m.Until != nil {
		f.dayIn("until", *m.Until, s)
	}
	return f.err("membership")
}

// fromUntil checks the days of a stretch that may still be going on.
func (f *findings) fromUntil(from Date, until *Date) {
	a, b := f.date("from", from), f.dateIfAny("until", until)
	if a && b && *until < from {
		f.add("until", "%s is before the first day, %s", *until, from)
	}
}
