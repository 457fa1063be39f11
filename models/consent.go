package models

import (
	"fmt"
	"strings"
)

// Purpose is what a consent is for.
type Purpose string

// The purposes.
const (
	PurposeRecords      Purpose = "records"
	PurposeFilming      Purpose = "filming"
	PurposeStaffDevices Purpose = "staff_devices"
	PurposeSelection    Purpose = "selection"
)

// PurposeInfo describes a purpose of consent.
type PurposeInfo struct {
	Code  Purpose `json:"code"`
	Label string  `json:"label"`
	For   string  `json:"for"` // what the consent is for
	// what is blocked without it, if the academy's settings require it and the player is a minor
	Blocks string `json:"blocks"`
	Else   string `json:"else"` // what is still possible without it
}

// purposes are listed in the order in which an academy would ask for them.
var purposes = [...]PurposeInfo{
	{
		Code: PurposeRecords, Label: "Records of play",
		For: "The academy records how the player plays and trains, grades it, and works on it with the player.",
		Blocks: "Only the player's matches and minutes are recorded. There are no logs, involvements, match totals, " +
			"grades, training observations, goals, check-ins or review notes, and no scores or cards in the player's name.",
		Else: "record only the appearance",
	},
	{
		Code: PurposeFilming, Label: "Filming",
		For:    "The player is filmed in matches and training, and their moments can be found on video.",
		Blocks: "No video file or video time is stored with the player's involvements.",
		Else:   "leave out the video file and its times",
	},
	{
		// A log cannot tell on whose machine the film was, and video never leaves the reader's machine. So this blocks
		// what filming blocks, if the academy requires it. Consent to filming does not include it: an academy may film
		// and log on its own machines only.
		Code: PurposeStaffDevices, Label: "Video on staff's own devices",
		For: "Staff keep and watch video of the player on their own computer or phone.",
		Blocks: "As with filming: no video file or video time is stored with the player's involvements. This " +
			"consent comes in addition to filming, not instead of it.",
		Else: "leave out the video file and its times",
	},
	{
		Code: PurposeSelection, Label: "Selection",
		For:    "Selectors see the player's record, and selection meetings can consider the player.",
		Blocks: "Selectors do not see the player, and the player cannot be a candidate at a meeting.",
		Else:   "leave the player out of the meeting",
	},
}

// ConsentPurposes returns what consent may be given for, and what is refused without it.
func ConsentPurposes() []PurposeInfo { return append([]PurposeInfo(nil), purposes[:]...) }

func purposeOf(code Purpose) (PurposeInfo, bool) {
	for _, p := range purposes {
		if p.Code == code {
			return p, true
		}
	}
	return PurposeInfo{}, false
}

// Relation says who gives a consent.
type Relation string

// The relations. A minor's consent is given by a guardian, an adult's by themselves.
const (
	ByGuardian Relation = "guardian"
	BySelf     Relation = "self"
)

// Consent says that a person agreed to one purpose for one player, from a day on.
type Consent struct {
	Record
	PlayerID int64    `json:"player_id"`
	Purpose  Purpose  `json:"purpose"`                      // the code of the purpose
	GivenBy  string   `json:"given_by" limit:"name 1..100"` // the name of the person who gave it
	Relation Relation `json:"relation"`                     // guardian for a minor, self for an adult
	On       Date     `json:"on" gorm:"column:on_date"`     // the first day of the consent
	// the last day; absent: until it is withdrawn
	Until *Date `json:"until,omitempty" gorm:"column:until_date"`
	// from this day on nothing new is recorded under it
	WithdrawnOn *Date `json:"withdrawn_on,omitempty"`
	// where the signed paper is kept
	KeptAt     string `json:"kept_at,omitempty" limit:"text 0..200"`
	RecordedBy int64  `json:"recorded_by"` // the user who recorded it
}

// Validate checks the consent's own fields.
func (c Consent) Validate() error {
	var f findings
	f.limits("", &c)
	f.ref("player_id", c.PlayerID)
	oneOf(&f, "purpose", c.Purpose)
	oneOf(&f, "relation", c.Relation)
	on := f.date("on", c.On)
	if f.dateIfAny("until", c.Until) && on && *c.Until < c.On {
		f.add("until", "%s is before the first day, %s", *c.Until, c.On)
	}
	if f.dateIfAny("withdrawn_on", c.WithdrawnOn) && on && *c.WithdrawnOn < c.On {
		f.add("withdrawn_on", "%s is before the consent was given, on %s", *c.WithdrawnOn, c.On)
	}
	return f.err("consent")
}

// ValidateFor checks that the right person gave it: a guardian for a minor, an adult for themselves.
func (c Consent) ValidateFor(p Player) error {
	var f findings
	switch minor := p.MinorOn(c.On); {
	case minor && c.Relation == BySelf:
		f.add("relation", "%s: a guardian must consent for a minor; write guardian and the guardian's name, or correct "+
			"the birth date", p.ageInWords(c.On))
	case !minor && c.Relation == ByGuardian:
		f.add("relation", "%s: adults give their own consent; write self and the player's name, or correct the birth date",
			p.ageInWords(c.On))
	}
	return f.err("consent")
}

// holds says whether the consent allows something dated on a day to be recorded or shown today. A withdrawn consent
// allows nothing new, also not of days on which it held; what was recorded before stays until it is erased.
func (c *Consent) holds(on, today Date) bool {
	return c.On <= on && (c.Until == nil || on <= *c.Until) && (c.WithdrawnOn == nil || *c.WithdrawnOn > on &&
		*c.WithdrawnOn > today)
}

// Missing returns those of some purposes that the academy requires for a player on a day and for which no consent
// holds: none for an adult. It is the one place where this is decided.
func (s Settings) Missing(p Player, consents []Consent, on, today Date, wanted ...Purpose) []Purpose {
	if !p.MinorOn(on) {
		return nil
	}
	var missing []Purpose
	for _, w := range wanted {
		if !s.Require(w) {
			continue
		}
		if holding(p, consents, w, ByGuardian, on, today) == nil {
			missing = append(missing, w)
		}
	}
	return missing
}

// Lacks returns the consents that the academy requires and that are to be asked for today: a guardian's for a minor
// (see Missing), and their own for an adult. Nothing is refused without an adult's.
func (s Settings) Lacks(p Player, consents []Consent, today Date) (all []Purpose) {
	if p.MinorOn(today) {
		return s.Missing(p, consents, today, today, s.Requires...)
	}
	for _, purpose := range s.Requires {
		if ConsentHolding(p, consents, purpose, today) == nil {
			all = append(all, purpose)
		}
	}
	return all
}

// holding is a consent to a purpose that a person of a relation gave for a player, and that holds on a day; nil for
// none.
func holding(p Player, consents []Consent, purpose Purpose, by Relation, on, today Date) *Consent {
	for i := range consents {
		c := &consents[i]
		if c.PlayerID == p.ID && c.Purpose == purpose && c.Relation == by && c.holds(on, today) {
			return c
		}
	}
	return nil
}

// ConsentHolding returns the consent to a purpose that holds today, by the person who must give it: a guardian for a
// minor, an adult for themselves. Without one it is nil.
func ConsentHolding(p Player, consents []Consent, purpose Purpose, today Date) *Consent {
	if p.MinorOn(today) {
		return holding(p, consents, purpose, ByGuardian, today, today)
	}
	return holding(p, consents, purpose, BySelf, today, today)
}

// Consented refuses, as a Conflict, what needs a consent that is missing (see Missing). The error names the player,
// the purpose, the day and what would be right.
func (s Settings) Consented(p Player, consents []Consent, on, today Date, wanted ...Purpose) error {
	missing := s.Missing(p, consents, on, today, wanted...)
	if len(missing) == 0 {
		return nil
	}
	var codes, instead []string
	for _, m := range missing {
		info, _ := purposeOf(m)
		codes = append(codes, string(m))
		if len(instead) == 0 || instead[len(instead)-1] != info.Else {
			instead = append(instead, info.Else)
		}
	}
	withdrawn := ""
	for i := range consents {
		if c := &consents[i]; c.PlayerID == p.ID && c.Purpose == missing[0] && c.WithdrawnOn != nil {
			withdrawn = fmt.Sprintf(" (one was withdrawn on %s)", *c.WithdrawnOn)
		}
	}
	return Errorf(Conflict, "%s, and there is no guardian's consent to %s for that day%s: record the consent, or %s",
		p.ageInWords(on), strings.Join(codes, " and "), withdrawn, strings.Join(instead, " and "))
}

// Uses returns the purposes that an involvement needs consent for.
func (i Involvement) Uses() []Purpose {
	if i.VideoFile == "" && i.VideoFrom == nil && i.VideoTo == nil {
		return []Purpose{PurposeRecords}
	}
	return []Purpose{PurposeRecords, PurposeFilming, PurposeStaffDevices}
}

// Guardian is a person responsible for a minor. Guardians have no account: staff use their contact details.
type Guardian struct {
	Record
	PlayerID int64  `json:"player_id"`
	Name     string `json:"name" limit:"name 1..100"`
	Relation string `json:"relation" limit:"name 1..60"`           // in words, such as "mother"
	Contact  string `json:"contact,omitempty" limit:"text 0..200"` // how to reach them
}

// Validate checks the guardian's own fields.
func (g Guardian) Validate() error {
	var f findings
	f.limits("", &g)
	f.ref("player_id", g.PlayerID)
	return f.err("guardian")
}
