package models

import (
	"fmt"
	"slices"
)

// AttendanceStatus says how a player took part in a training session. A player without a record is none of these:
// whether they were there was not recorded.
type AttendanceStatus string

// The ways to take part.
const (
	AttendedPresent  AttendanceStatus = "present"  // took part in all of it
	AttendedModified AttendanceStatus = "modified" // took part with changes
	AttendedAbsent   AttendanceStatus = "absent"   // was not there
)

// AttendanceReason is why a player was absent or took part with changes. There is no word for anything medical.
type AttendanceReason string

// The reasons.
const (
	ReasonSchool      AttendanceReason = "school"      // school, work or exams
	ReasonOtherTeam   AttendanceReason = "other_team"  // plays or trains with another team
	ReasonAway        AttendanceReason = "away"        // holiday, family or travel
	ReasonUnavailable AttendanceReason = "unavailable" // a spell of availability or a stand-down; never what it is
	ReasonLoad        AttendanceReason = "load"        // to keep the player's load down
	ReasonLate        AttendanceReason = "late"        // came late or left early
	ReasonOther       AttendanceReason = "other"
)

// attendanceReasons are the reasons as people read them.
var attendanceReasons = []AttendanceReasonInfo{
	{ReasonSchool, "School or work"}, {ReasonOtherTeam, "With another team"}, {ReasonAway, "Away"},
	{ReasonUnavailable, "Not available"}, {ReasonLoad, "To manage load"}, {ReasonLate, "Late or left early"},
	{ReasonOther, "Other"},
}

// AttendanceReasonInfo is a reason with its label.
type AttendanceReasonInfo struct {
	Code  AttendanceReason
	Label string
}

// AttendanceReasons are the reasons in the order in which people read them.
func AttendanceReasons() []AttendanceReasonInfo { return slices.Clone(attendanceReasons) }

// Attendance is a player at a training session, once for each. A player without one may have been there or not.
type Attendance struct {
	Record
	SessionID int64            `json:"training_session_id"` // a training session
	PlayerID  int64            `json:"player_id"`           // each player only once in a session
	Status    AttendanceStatus `json:"status"`
	// how long the player took part, where that differs from the session's minutes; absent for all of it
	Minutes *int `json:"minutes,omitempty" limit:"1..300"`
	// True if a player who took part with changes made no contact. It matters in a session with contact
	WithoutContact bool `json:"without_contact"`
	// why the player was absent or took part with changes, in a word; nothing medical is recorded
	Reason AttendanceReason `json:"reason,omitempty"`
	Date   Date             `json:"date" gorm:"-"` // the session's day
}

// TookContact says whether the player took part in the contact of a session that had some.
func (a Attendance) TookContact() bool {
	return a.Status == AttendedPresent || a.Status == AttendedModified && !a.WithoutContact
}

// Says says whether two attendances of a player at a session have the same contents.
func (a Attendance) Says(b Attendance) bool {
	sameMinutes := a.Minutes == nil && b.Minutes == nil || a.Minutes != nil && b.Minutes != nil && *a.Minutes == *b.Minutes
	return sameMinutes && a.Status == b.Status && a.WithoutContact == b.WithoutContact && a.Reason == b.Reason
}

// Validate checks the attendance's own fields.
func (a Attendance) Validate() error {
	var f findings
	f.limits("", &a)
	f.ref("training_session_id", a.SessionID)
	f.ref("player_id", a.PlayerID)
	known := oneOf(&f, "status", a.Status)
	if a.Date != "" {
		f.date("date", a.Date)
	}
	if a.Reason != "" {
		oneOf(&f, "reason", a.Reason)
	}
	switch {
	case !known:
	case a.Status == AttendedAbsent && a.Minutes != nil:
		f.add("minutes", "cannot be given for an absent player; leave it out, or write modified for one who took part")
	case a.Status == AttendedPresent && a.Reason != "":
		f.add("reason", "cannot be given for a player who was present; leave it out, or write modified or absent")
	}
	if known && a.WithoutContact && a.Status != AttendedModified {
		f.add("without_contact", "is for players who took part with changes; write the status modified, or leave it out")
	}
	return f.err("attendance")
}

// ValidateIn checks an attendance against its session.
func (a Attendance) ValidateIn(s TrainingSession) error {
	var f findings
	if a.Minutes != nil && *a.Minutes > s.Minutes {
		f.add("minutes", "%d is more than the session's %d minutes", *a.Minutes, s.Minutes)
	}
	return f.err("attendance")
}

// Bars says whether a stand-down keeps a player from attending a session like that: none takes part in contact while
// one holds. On the day of a head contact outside a match the player may have come off during the session: what they
// did until then is recorded, as modified.
func (d Down) Bars(s TrainingSession, a Attendance) bool {
	if !s.Contact || !a.TookContact() || !d.Open(s.Date) {
		return false
	}
	cameOff := a.Status == AttendedModified && d.ContactIn == nil && d.ContactOn != nil && *d.ContactOn == s.Date
	return !cameOff
}

// Admit refuses an attendance that a player who is stood down cannot have, as a Conflict with the reason and with what
// would be right.
func (s TrainingSession) Admit(a Attendance, p Player, downs []Down) error {
	if err := a.ValidateIn(s); err != nil {
		return err
	}
	for _, d := range downs {
		if d.Bars(s, a) {
			return clashing("status", "%s", d.barred(p.Name, s))
		}
	}
	return nil
}

func (d Down) barred(name string, s TrainingSession) string {
	until := "and has not been cleared"
	if d.LiftedOn != nil {
		until = fmt.Sprintf("until %s", *d.LiftedOn)
	}
	return fmt.Sprintf("%s is stood down from %s %s and cannot take part in contact on %s. Record them as modified, "+
		"without contact, or as absent. The union's return-to-play protocol and a licensed practitioner decide when the "+
		"player comes back", name, d.From, until, s.Date)
}

// AttendanceCount counts attendances by status.
type AttendanceCount struct{ Present, Modified, Absent int }

// CountAttendance counts attendances by status.
func CountAttendance(all []Attendance) (n AttendanceCount) {
	for _, a := range all {
		switch a.Status {
		case AttendedPresent:
			n.Present++
		case AttendedModified:
			n.Modified++
		case AttendedAbsent:
			n.Absent++
		}
	}
	return n
}

// Recorded is how many there are.
func (n AttendanceCount) Recorded() int { return n.Present + n.Modified + n.Absent }

// AttendanceMark is how one player took part in a session, sent with those of others.
type AttendanceMark struct {
	PlayerID int64            `json:"player_id"` // each player only once
	Status   AttendanceStatus `json:"status"`
	// how long the player took part, where that differs from the session's minutes; absent for all of it
	Minutes *int `json:"minutes,omitempty" limit:"1..300"`
	// True if a player who took part with changes made no contact. It matters in a session with contact
	WithoutContact bool `json:"without_contact,omitempty"`
	// why the player was absent or took part with changes, in a word; nothing medical is recorded
	Reason AttendanceReason `json:"reason,omitempty"`
	// the version that you read, to change what is recorded; leave it out for a player without attendance
	Version int64 `json:"version,omitempty"`
}

// AttendanceMarks are several players at one session, sent together.
type AttendanceMarks struct {
	Items []AttendanceMark `json:"items" minItems:"1" maxItems:"200" doc:"The players, in any order, each once"`
}

// AttendanceOfSession is what was recorded of the players who were sent, in their order.
type AttendanceOfSession struct {
	Items []Attendance `json:"items" doc:"The attendance, in the order in which it was sent"`
}
