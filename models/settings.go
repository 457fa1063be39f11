package models

import (
	"fmt"
	"slices"
)

// Majority is the age in years from which a person consents for themselves.
const Majority = 18

// Settings are what an academy decides for itself about people's records. Until it decides, DefaultSettings hold.
type Settings struct {
	Record
	// How many months after a player left their record is due for review, 0 to 240; 0: never.
	RetentionMonths int `json:"retention_months" limit:"0..240"`
	// The purposes that need consent on file for a minor; the catalogue says what is blocked without it.
	Requires []Purpose `json:"requires" gorm:"serializer:json"`
	// The steps of setting up the academy that a manager has called done. If left out, they stay as they are.
	SetupDone []SetupStep `json:"setup_done,omitempty" gorm:"serializer:json"`
	// The time zone of pages and papers, and of the day that is today: a name of the IANA list. UTC until one is chosen;
	// if left out, it stays as it is.
	TimeZone string `json:"time_zone,omitempty" limit:"name 0..60"`
}

// SetupStep is a step of setting up an academy.
type SetupStep string

// The steps, in their order.
const (
	SetupSeason   SetupStep = "season"
	SetupSquads   SetupStep = "squads"
	SetupPlayers  SetupStep = "players"
	SetupStaff    SetupStep = "staff"
	SetupFixtures SetupStep = "fixtures"
	SetupConsents SetupStep = "consents"
	SetupLimits   SetupStep = "limits"
)

// Codes lists the steps in their order.
func (SetupStep) Codes() []SetupStep {
	return []SetupStep{SetupSeason, SetupSquads, SetupPlayers, SetupStaff, SetupFixtures, SetupConsents, SetupLimits}
}

// DefaultSettings are those of an academy that has decided nothing.
func DefaultSettings() Settings {
	return Settings{RetentionMonths: 24, Requires: []Purpose{PurposeFilming}}
}

// Validate checks the settings' own fields.
func (s Settings) Validate() error {
	var f findings
	f.limits("", &s)
	for i, p := range s.Requires {
		if _, known := purposeOf(p); !known {
			oneOf(&f, at("requires", i), p)
		}
	}
	unique(&f, "requires", s.Requires)
	for i, step := range s.SetupDone {
		oneOf(&f, at("setup_done", i), step)
	}
	unique(&f, "setup_done", s.SetupDone)
	if _, err := Zone(s.TimeZone); err != nil {
		f.add("time_zone", "%s", err)
	}
	return f.err("academy's settings")
}

// Require says whether consent for a purpose must be on file.
func (s Settings) Require(p Purpose) bool { return slices.Contains(s.Requires, p) }

// Flags says whether the record of a person who left on a day is to be reviewed: more than the academy's months have
// gone by, and no review has said to keep it until a later day.
func (s Settings) Flags(left Date, keepUntil *Date, today Date) bool {
	if s.RetentionMonths == 0 || keepUntil != nil && today <= *keepUntil {
		return false
	}
	from, ok := s.flaggedFrom(left)
	return ok && today > from
}

// flaggedFrom is the last day on which a record is kept without a question.
func (s Settings) flaggedFrom(left Date) (Date, bool) {
	t, err := left.Time()
	if err != nil {
		return "", false
	}
	return DateOf(t.AddDate(0, s.RetentionMonths, 0)), true
}

// RetentionReview says that the record of a player who left was reviewed, until when it is kept, and why.
type RetentionReview struct {
	Record
	PlayerID  int64  `json:"player_id"`
	KeepUntil Date   `json:"keep_until"`                  // the record is due again after this day
	Because   string `json:"because" limit:"text 1..500"` // why the record is kept
	// the user who reviewed it; absent for the console
	ReviewerID *int64 `json:"reviewer_id,omitempty"`
}

// Validate checks the review's own fields.
func (r RetentionReview) Validate() error {
	var f findings
	f.limits("", &r)
	f.ref("player_id", r.PlayerID)
	f.date("keep_until", r.KeepUntil)
	return f.err("retention review")
}

// Departed is a person who left and whose record is due for review: keep it until a day, for a reason, or erase it.
type Departed struct {
	PlayerID int64  `json:"player_id"`
	Name     string `json:"name"`
	// the last day of their last membership; if they never had one, the day their record was created
	LeftOn  Date   `json:"left_on"`
	Kept    *Date  `json:"kept_until,omitempty"` // until when the last review kept the record
	Because string `json:"because,omitempty"`    // why the last review kept the record
	Why     string `json:"why"`                  // why the record is due, in words
}

// DepartedOf words a flagged record.
func (s Settings) DepartedOf(p Player, left Date, last *RetentionReview) Departed {
	d := Departed{PlayerID: p.ID, Name: p.Name, LeftOn: left}
	d.Why = fmt.Sprintf("%s left on %s, more than %d months ago. Review the record: keep it until a day and say why, "+
		"or have it erased", p.Name, left, s.RetentionMonths)
	if last != nil {
		d.Kept, d.Because = &last.KeepUntil, last.Because
		d.Why = fmt.Sprintf("%s left on %s, and the last review kept the record until %s. Keep it longer and say why, or "+
			"have it erased", p.Name, left, last.KeepUntil)
	}
	return d
}
