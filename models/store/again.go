package store

import (
	"encoding/json"
	"fmt"
	"reflect"

	"throughline/models"
)

// asBefore is a Conflict if a new record has the key of an existing one but differs from that one as it was created.
// If the existing record was changed since, the audit trail says how it was created, unless that entry was erased.
func (k *kind[T]) asBefore(tx *Tx, there, sent *T) error {
	before := contents(there)
	if k.record(there).Version > 1 {
		made, err := k.asMade(tx, there)
		if err != nil {
			return err
		}
		if made != nil {
			before = made
		}
	}
	now := contents(sent)
	if reflect.DeepEqual(before, now) {
		return nil
	}
	return &models.Error{Code: models.Conflict, Message: "the key already belongs to another " + k.name,
		Fields: []models.FieldError{
			{Where: "key", Message: fmt.Sprintf("%q is already the key of another %s with different content; choose a "+
				"different key", now["key"], k.name)},
		}}
}

// asMade is what the audit trail has of how a record was made, nil if it has nothing: after an erasure, or a whole
// file.
func (k *kind[T]) asMade(tx *Tx, there *T) (map[string]any, error) {
	id, player := k.record(there).ID, int64(0)
	if k.player != nil {
		var err error
		if player, err = k.player(tx, there); err != nil {
			return nil, err
		}
	}
	entries, err := rows[struct{ Payload []byte }](tx, "find how "+k.name+" was made",
		`SELECT payload FROM audit_entries WHERE academy_id = ? AND player_id = ? AND kind = ? AND record_id = ?
			AND action = ? AND payload IS NOT NULL
			ORDER BY number LIMIT 1`, tx.who.AcademyID, player, k.name, id, models.AuditCreate)
	if err != nil || len(entries) == 0 {
		return nil, err
	}
	var payload struct{ After json.RawMessage }
	made := new(T)
	if err := json.Unmarshal(entries[0].Payload, &payload); err != nil {
		return nil, fmt.Errorf("read how %s %d was made: %w", k.name, id, err)
	}
	if err := json.Unmarshal(payload.After, made); err != nil {
		return nil, fmt.Errorf("read how %s %d was made: %w", k.name, id, err)
	}
	return contents(made), nil
}

// contents are what a program says about a record: without what the service sets, and without what is empty, which is
// the same as left out.
func contents(r any) map[string]any {
	text, err := json.Marshal(r)
	if err != nil {
		panic(fmt.Errorf("write a record as JSON: %w", err)) // all of them are
	}
	var all map[string]any
	if err := json.Unmarshal(text, &all); err != nil {
		panic(fmt.Errorf("read a record from JSON: %w", err))
	}
	for name, v := range all {
		empty := v == nil
		switch v := v.(type) {
		case []any:
			empty = len(v) == 0
		case map[string]any:
			empty = len(v) == 0
		}
		if empty {
			delete(all, name)
		}
	}
	for _, set := range []string{"id", "version", "created_at", "changed_at", "ask", "stop", "stops", "score", "proposal",
		"stand_down"} {
		delete(all, set)
	}
	return all
}
