package models

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"
	"time"
)

// EarlierVersion is a record as it was before a change or a deletion: what it said, and who replaced it and when.
type EarlierVersion struct {
	AcademyID int64     `json:"-" gorm:"primaryKey"`
	Kind      string    `json:"kind" gorm:"primaryKey" texts:"-"` // as a person reads it, such as goal
	RecordID  int64     `json:"record_id" gorm:"primaryKey"`
	Version   int64     `json:"version" gorm:"primaryKey"`
	PlayerID  *int64    `json:"player_id,omitempty"` // whom the record was about, if it was about a player
	UserID    int64     `json:"user_id,omitempty"`   // the user who replaced or deleted it; absent for the console
	At        time.Time `json:"at"`                  // when it was replaced or deleted
	Deleted   bool      `json:"deleted,omitempty"`   // whether the record was deleted after this version
	Said      string    `json:"-"`                   // the record as JSON
}

// Record returns the record as it was, as JSON.
func (v *EarlierVersion) Record() json.RawMessage { return json.RawMessage(v.Said) }

// MarshalJSON writes the version with the record itself in it.
func (v EarlierVersion) MarshalJSON() ([]byte, error) {
	type plain EarlierVersion
	return json.Marshal(struct {
		plain
		Record json.RawMessage `json:"record"`
	}{plain(v), v.Record()})
}

// Changed says what has changed in a record since the version that a caller wanted to change: the caller, who wrote
// from an older version, is refused with it.
type Changed struct {
	ByID   int64          `json:"by_id,omitempty"` // the user who changed it last; absent for the console
	By     string         `json:"by,omitempty"`    // their name, if the caller may read names
	At     time.Time      `json:"at"`              // when
	Fields []ChangedField `json:"fields"`          // the fields that differ, in alphabetical order
}

// ChangedField is a field of a record that has changed since the version that a caller wanted to change. A value that
// is absent is not recorded.
type ChangedField struct {
	Field string `json:"field"` // its name in the record
	// What the caller's version had. Where earlier versions are not kept, it is what the caller sent
	Yours json.RawMessage `json:"yours,omitempty"`
	Sent  json.RawMessage `json:"sent,omitempty"`  // what the caller sent; absent for a deletion
	Now   json.RawMessage `json:"now,omitempty"`   // what stands in the record now
	ByID  int64           `json:"by_id,omitempty"` // the user who changed the field last; absent for the console
	By    string          `json:"by,omitempty"`    // who changed the field last, if the caller may read names
	At    *time.Time      `json:"at,omitempty"`    // when; absent where earlier versions are not kept
}

// bookkeeping are the fields of a record that follow from its being changed.
var bookkeeping = []string{"id", "version", "created_at", "changed_at"}

// Members returns the members of a record's JSON by name, without those that every change changes.
func Members(record any) (map[string]json.RawMessage, error) {
	text, ready := record.(json.RawMessage)
	if !ready {
		var err error
		if text, err = json.Marshal(record); err != nil {
			return nil, err
		}
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(text, &all); err != nil {
		return nil, err
	}
	for _, name := range bookkeeping {
		delete(all, name)
	}
	return all, nil
}

// Differing returns the names of members that differ between two records, in alphabetical order.
func Differing(a, b map[string]json.RawMessage) []string {
	names := maps.Clone(a)
	maps.Copy(names, b)
	var all []string
	for _, name := range slices.Sorted(maps.Keys(names)) {
		if !bytes.Equal(a[name], b[name]) {
			all = append(all, name)
		}
	}
	return all
}
