package models

import (
	"fmt"
	"regexp"
)

// TrainingSession is one training session of a squad. Its season is the one that its day falls in.
type TrainingSession struct {
	Record
	SquadID int64 `json:"squad_id"`
	Date    Date  `json:"date"`
	// when it began, on a clock of 24 hours, such as 18:30; absent if not recorded
	Start   string `json:"start,omitempty" texts:"-" limit:"name 0..5"`
	Minutes int    `json:"minutes" limit:"1..300"`      // how long it lasted
	Purpose string `json:"purpose" limit:"name 1..100"` // what it was for, such as "Breakdown, then live attack"
	// True if players made contact: tackles, rucks, mauls or scrums against each other
	Contact bool `json:"contact"`
	// how many of the minutes were in contact; absent if not recorded. Limits on contact in training count these
	ContactMinutes *int `json:"contact_minutes,omitempty" limit:"1..300"`
}

var clockTime = regexp.MustCompile(`^([01][0-9]|2[0-3]):[0-5][0-9]$`)

// Validate checks the session's own fields.
func (s TrainingSession) Validate() error {
	var f findings
	f.limits("", &s)
	f.ref("squad_id", s.SquadID)
	f.date("date", s.Date)
	if s.Start != "" && !clockTime.MatchString(s.Start) {
		f.add("start", "%q is no time of day; write hours and minutes, such as 18:30, or leave it out", clip(s.Start))
	}
	switch {
	case s.ContactMinutes == nil:
	case !s.Contact:
		f.add("contact_minutes", "cannot be given for a session without contact; leave it out, or set contact")
	case *s.ContactMinutes > s.Minutes:
		f.add("contact_minutes", "%d is more than the session's %d minutes", *s.ContactMinutes, s.Minutes)
	}
	return f.err("training session")
}

// InWords names the session inside a sentence.
func (s TrainingSession) InWords() string {
	return fmt.Sprintf("the session of %s (%s)", s.Date.inWords(), s.Purpose)
}

// ContactOf returns the minutes of contact that an attendance had at the session, and the most that it may have been if
// that was not recorded: then the first is 0.
func (s TrainingSession) ContactOf(a Attendance) (minutes, atMost float64) {
	if !s.Contact || !a.TookContact() {
		return 0, 0
	}
	there := s.Minutes
	if a.Minutes != nil {
		there = *a.Minutes
	}
	switch {
	case s.ContactMinutes == nil:
		return 0, float64(there)
	case a.Minutes != nil && *a.Minutes < *s.ContactMinutes:
		return float64(there), 0
	}
	return float64(*s.ContactMinutes), 0
}
