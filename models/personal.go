package models

import (
	"encoding/json"
	"time"
)

// PersonalRecord is everything that is kept about one player, for the player, their guardians and others with a right
// to it by law.
type PersonalRecord struct {
	Academy string            `json:"academy"`
	MadeAt  time.Time         `json:"made_at"`
	Own     bool              `json:"own"` // made by the player themselves: without what is for staff only
	Player  Player            `json:"player"`
	Staff   map[int64]string  `json:"staff"`   // the names of staff, by the id of their user
	Seasons map[int64]string  `json:"seasons"` // the names of seasons, by their id
	Squads  map[int64]string  `json:"squads"`  // the names of squads, by their id
	Matches []json.RawMessage `json:"matches"` // those they appeared in
	Parts   []PersonalPart    `json:"parts"`
}

// PersonalPart is what is kept of the player of one kind.
type PersonalPart struct {
	Code  string `json:"code"`  // such as review_notes
	Title string `json:"title"` // as a person reads it
	// the records, oldest first; a hidden one, which can still be brought back, carries deleted_at
	Items []json.RawMessage `json:"items"`
	Users []string          `json:"-"` // members of an item that name a user of the academy
}

// RequestKind is what a person asks for under data protection law.
type RequestKind string

// The kinds.
const (
	RequestExport  RequestKind = "export"  // all that is kept of them
	RequestErasure RequestKind = "erasure" // that it is erased
)

// AskedBy is who asked, without a name: a proof of erasure must not bring back what was erased.
type AskedBy string

// Who may ask.
const (
	AskedByPlayer   AskedBy = "player"
	AskedByGuardian AskedBy = "guardian"
	AskedByAcademy  AskedBy = "academy" // on its own account: what it had no more reason to keep
	AskedByOther    AskedBy = "other"   // such as an authority
)

// DataRequest is a request for a person's data that was fulfilled, and the proof of it. It names no one.
type DataRequest struct {
	Record
	PlayerID int64       `json:"player_id"`
	Kind     RequestKind `json:"kind"`
	AskedBy  AskedBy     `json:"asked_by"` // without a name
	// a user; left out for the console
	DoneBy int64 `json:"done_by,omitempty"`
	// how many rows of each kind were handed out, erased or unlinked
	Counts map[string]int `json:"counts" gorm:"serializer:json"`
	// how many payloads of the audit trail were erased
	Payloads int `json:"payloads,omitempty"`
	// where others' records may still name them
	Mentions []Mention `json:"mentions,omitempty" gorm:"serializer:json" texts:"-"`
	// FilePending is true until the database's file has been rewritten without what was erased. While a reader holds
	// the file that has to wait. It is done as soon as possible, at the latest when the program next starts.
	FilePending bool `json:"file_pending,omitempty"`
}

// Mention is a text about another person in which the erased person's name may still stand. A person has to read it: a
// program cannot tell one Tam from another.
type Mention struct {
	Kind     string `json:"kind"`      // such as review note
	RecordID int64  `json:"record_id"` // of the record with the text
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
