package models

import (
	"cmp"
	"encoding/json"
	"time"
)

// PersonalRecord is everything that is kept about one player, for the player, their guardians, or anyone else the law
// gives a right to it.
type PersonalRecord struct {
	Academy string    `json:"academy"`
	MadeAt  time.Time `json:"made_at"`
	// the academy's time zone, in which the page of the archive shows times; absent: UTC
	TimeZone string `json:"time_zone,omitempty"`
	// true if players downloaded it themselves: without what is for staff only
	Own     bool              `json:"own"`
	Player  Player            `json:"player"`
	Staff   map[int64]string  `json:"staff"`   // the names of staff, by user id
	Seasons map[int64]string  `json:"seasons"` // the names of seasons, by id
	Squads  map[int64]string  `json:"squads"`  // the names of squads, by id
	Matches []json.RawMessage `json:"matches"` // the matches the player appeared in
	Parts   []PersonalPart    `json:"parts"`
}

// PersonalPart is everything of one kind that is kept about a player.
type PersonalPart struct {
	Code  string `json:"code"`  // such as review_notes
	Title string `json:"title"` // the title, for people
	// the records, oldest first; a hidden record that can still be brought back has deleted_at
	Items []json.RawMessage `json:"items"`
	Users []string          `json:"-"` // members of an item that name a user of the academy
}

// RequestKind is what a person asks for under data protection law.
type RequestKind string

// The kinds.
const (
	RequestExport  RequestKind = "export"  // all that is kept about them
	RequestErasure RequestKind = "erasure" // that it is erased
)

// AskedBy says who asked, without a name: a proof of erasure must not repeat what was erased.
type AskedBy string

// Who may ask.
const (
	AskedByPlayer   AskedBy = "player"
	AskedByGuardian AskedBy = "guardian"
	AskedByAcademy  AskedBy = "academy" // on its own account: what it had no more reason to keep
	AskedByOther    AskedBy = "other"   // such as an authority
)

// DataRequest is the proof that a request for a person's data was fulfilled. It contains no names.
type DataRequest struct {
	Record
	PlayerID int64       `json:"player_id"`
	Kind     RequestKind `json:"kind"`
	AskedBy  AskedBy     `json:"asked_by"` // who asked, without a name
	// the user who did it; absent for the console
	DoneBy int64 `json:"done_by,omitempty"`
	// how many rows of each kind were exported, erased or unlinked
	Counts   map[string]int `json:"counts" gorm:"serializer:json"`
	Payloads int            `json:"payloads,omitempty"` // how many audit payloads were erased
	// other people's records that may still name them
	Mentions []Mention `json:"mentions,omitempty" gorm:"serializer:json" texts:"-"`
	// True until the database file has been rewritten without the erased data. The rewrite has to wait while another
	// program reads the file. It happens as soon as possible, at the latest when the program next starts.
	FilePending bool `json:"file_pending,omitempty"`
}

// Mention is a text about another person that may still name the erased person. A person has to read it: a program
// cannot tell one Tam from another.
type Mention struct {
	Kind     string `json:"kind"`      // such as review note
	RecordID int64  `json:"record_id"` // the id of the record with the text
}

// Compare puts mentions in the order of their kind, then of their record.
func (m Mention) Compare(o Mention) int {
	return cmp.Or(cmp.Compare(m.Kind, o.Kind), cmp.Compare(m.RecordID, o.RecordID))
}

// Validate checks the request's own fields.
func (d DataRequest) Validate() error {
	var f findings
	f.ref("player_id", d.PlayerID)
	oneOf(&f, "kind", d.Kind)
	oneOf(&f, "asked_by", d.AskedBy)
	return f.err("data request")
}

// MostExports is how many archives of one player a caller has in a day: making one takes as much as hundreds of pages.
const MostExports = 5
