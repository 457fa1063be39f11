package models

import (
	"fmt"
	"time"
)

// HeadContact says that a player took, or may have taken, a blow to the head, and no more. What it did to the player
// is a medical matter and is never recorded here. The record stays even if the mark is taken back. From that moment
// on nothing the player does counts for any figure; see Play.Counting.
type HeadContact struct {
	Record
	PlayerID int64  `json:"player_id"`
	Date     Date   `json:"date"` // the date of the match, if there is one
	MatchID  *int64 `json:"match_id,omitempty"`
	Clock    *Clock `json:"clock,omitempty" gorm:"serializer:json"` // when in the match
	// the involvement that was marked in a log
	InvolvementID *int64 `json:"involvement_id,omitempty"`
	MatchEventID  *int64 `json:"match_event_id,omitempty"` // the match event that was marked
	// the user who marked it; absent for the console
	MarkedBy *int64 `json:"marked_by,omitempty"`
	// the name of the medical lead who was told
	MedicalLead string `json:"medical_lead,omitempty" limit:"name 0..100"`
	// the user who told the medical lead, or recorded it
	ToldBy *int64     `json:"told_by,omitempty"`
	ToldAt *time.Time `json:"told_at,omitempty"` // when the medical lead was told
	// send true with a new head contact to stand the player down as well; answers never have it
	StandDown bool `json:"stand_down,omitempty" gorm:"-"`
	// what to do now; absent once the medical lead has been told
	Ask string `json:"ask,omitempty" gorm:"-"`
	// the stand-down to set, until there is one
	Proposal *Proposal `json:"proposal,omitempty" gorm:"-"`
}

// HeadContactAsk is what is to be done about a head contact of the same day, until the medical lead was told.
const HeadContactAsk = "Recognise and remove: the player goes off now and does not play or train again today. Tell " +
	"the medical lead now, and record who you told. Stand the player down. The union’s return-to-play protocol and a " +
	"licensed practitioner decide when the player comes back. No figure or page here decides that."

// LateHeadContactAsk is what is to be checked about a head contact of an earlier day, until the medical lead was told.
const LateHeadContactAsk = "The player should have gone off at once and not played or trained again that day. Check " +
	"now that the medical lead knows, and record who you told. Check whether a licensed practitioner has cleared the " +
	"player since then, under the union’s return-to-play protocol. If not, stand the player down: no matches and no " +
	"training until one does. No figure or page here decides when the player comes back."

// AskOn returns what must be done about the head contact on a day, or nothing once it is reported to the medical lead.
// A head contact that is entered later is worded for that day: the player cannot leave a match that is over.
func (h HeadContact) AskOn(today Date) string {
	switch {
	case !h.Open():
		return ""
	case h.Date >= today:
		return HeadContactAsk
	}
	return LateHeadContactAsk
}

// Proposal is the stand-down that a head contact calls for. Send it unchanged to set the stand-down.
type Proposal struct {
	PlayerID      int64 `json:"player_id"`
	From          Date  `json:"from"`            // the day of the head contact
	HeadContactID int64 `json:"head_contact_id"` // the head contact that led to it
}

// SameMoment says whether two head contacts are one: of a player on a day, in the same match and at the same clock, or
// both without.
func (h HeadContact) SameMoment(o HeadContact) bool {
	same := func(a, b *int64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }
	if h.PlayerID != o.PlayerID || h.Date != o.Date || !same(h.MatchID, o.MatchID) {
		return false
	}
	return h.Clock == nil && o.Clock == nil || h.Clock != nil && o.Clock != nil && *h.Clock == *o.Clock
}

// Open says whether no one is recorded to have told the medical lead.
func (h HeadContact) Open() bool { return h.ToldAt == nil }

// Validate checks the head contact's own fields.
func (h HeadContact) Validate() error {
	var f findings
	f.limits("", &h)
	f.ref("player_id", h.PlayerID)
	f.date("date", h.Date)
	f.refIfAny("match_id", h.MatchID)
	if h.Clock != nil {
		f.clock("clock", *h.Clock)
		if h.MatchID == nil {
			f.add("clock", "needs a match; name the match, or leave the clock out")
		}
	}
	switch {
	case h.ToldAt != nil && h.MedicalLead == "":
		f.add("medical_lead", "is missing; name the medical lead who was told")
	case h.ToldAt == nil && h.MedicalLead != "":
		f.add("told_at", "is missing; say when the medical lead was told")
	}
	return f.err("head contact")
}

// ValidateIn checks a head contact against its match.
func (h HeadContact) ValidateIn(m Match) error {
	var f findings
	if h.Date != m.Date {
		f.add("date", "%s is not the day of the match, %s", h.Date, m.Date)
	}
	if h.Clock != nil {
		f.clockIn("clock", *h.Clock, &m)
	}
	return f.err("head contact")
}

// StandDown keeps a player out of matches from a day on, until a manager records which practitioner cleared them.
type StandDown struct {
	Record
	PlayerID      int64  `json:"player_id"`
	From          Date   `json:"from" gorm:"column:from_date"`
	HeadContactID *int64 `json:"head_contact_id,omitempty"` // the head contact that led to it
	SetBy         int64  `json:"set_by"`                    // the user who set it
	LiftedOn      *Date  `json:"lifted_on,omitempty"`       // the first day the player may play again
	// the name of the licensed practitioner who cleared the player
	ClearedBy string `json:"cleared_by,omitempty" limit:"name 0..100"`
	// the user who recorded that; absent for the console
	LiftedBy *int64 `json:"lifted_by,omitempty"`
}

// Validate checks the stand-down's own fields.
func (s StandDown) Validate() error {
	var f findings
	f.limits("", &s)
	f.ref("player_id", s.PlayerID)
	from := f.date("from", s.From)
	f.refIfAny("head_contact_id", s.HeadContactID)
	if f.dateIfAny("lifted_on", s.LiftedOn) && from && *s.LiftedOn < s.From {
		f.add("lifted_on", "%s is before the stand-down began, on %s", *s.LiftedOn, s.From)
	}
	switch {
	case s.LiftedOn != nil && s.ClearedBy == "":
		f.add("cleared_by", "is missing; name the licensed practitioner who cleared the player under the union's "+
			"return-to-play protocol")
	case s.LiftedOn == nil && s.ClearedBy != "":
		f.add("lifted_on", "is missing; say from which day the player may play again")
	}
	return f.err("stand-down")
}

// Open says whether it holds on a day.
func (s StandDown) Open(day Date) bool {
	return s.From <= day && (s.LiftedOn == nil || day < *s.LiftedOn)
}

// Blocks says whether the stand-down keeps the player out of a match. contactIn is the id of the match of its head
// contact. That match is not blocked: what the player did until then is recorded.
func (s StandDown) Blocks(m Match, contactIn *int64) bool {
	return s.Open(m.Date) && (contactIn == nil || *contactIn != m.ID)
}

// Refusal is the error for an appearance that is blocked.
func (s StandDown) Refusal(name string, m Match) error {
	until := "and has not been cleared"
	if s.LiftedOn != nil {
		until = fmt.Sprintf("until %s", *s.LiftedOn)
	}
	return Errorf(Conflict, "%s is stood down from %s %s and cannot play in the match against %s on %s. The union's "+
		"return-to-play protocol and a licensed practitioner decide when the player comes back. A manager lifts the "+
		"stand-down by recording which practitioner cleared the player", name, s.From, until,
		m.Opponent,
		m.Date)
}

// NoteAnswer is a reply by the player or a staff member to a shared review note. It is never private: all staff who
// can read the note see all replies, and no one can change or delete one.
type NoteAnswer struct {
	Record
	NoteID   int64 `json:"note_id"`   // the id of the review note
	AuthorID int64 `json:"author_id"` // a user: the player or a staff member
	// Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person
	Text string `json:"text" limit:"text 1..2000"`
	// the second staff member who has seen the reply; they wrote neither the note nor the reply
	SeenBy *int64     `json:"seen_by,omitempty"`
	SeenAt *time.Time `json:"seen_at,omitempty"` // when they confirmed it
}

// Validate checks the answer's own fields.
func (a NoteAnswer) Validate() error {
	var f findings
	f.limits("", &a)
	f.ref("note_id", a.NoteID)
	return f.err("answer")
}

// LeastReaders is how many of the staff must be able to read the answers to a minor's note.
const LeastReaders = 2
