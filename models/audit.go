package models

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"
)

// AuditAction is what an entry of the audit trail says was done: one of these, or what happened to a person's access,
// such as sign in.
type AuditAction string

// The actions.
const (
	AuditCreate AuditAction = "create"
	AuditChange AuditAction = "change"
	AuditDelete AuditAction = "delete"
	AuditRead   AuditAction = "read" // of a minor's record, by staff
	AuditErase  AuditAction = "erase"
	AuditExport AuditAction = "export"
	AuditImport AuditAction = "import" // of a file, see Imported
)

// AuditEntry is one line of an academy's audit trail: who did what to which record, when, from where, and how the
// record was before and is after. Entries are only ever added. What says something of a person is in the payload,
// which can be erased: the hash of an entry covers the payload's hash, not the payload, so that the chain still
// verifies without it.
type AuditEntry struct {
	AcademyID int64       `json:"-" gorm:"primaryKey"`
	Number    int64       `json:"number" gorm:"primaryKey"` // 1, 2, 3 … within the academy
	At        time.Time   `json:"at"`                       // when it was done
	UserID    int64       `json:"user_id,omitempty"`        // 0 for the console
	TokenID   int64       `json:"token_id,omitempty"`       // of the access token that a program asked with
	Role      Role        `json:"role"`                     // as which it was done
	Action    AuditAction `json:"action"`                   // such as create, change, delete or read
	Kind      string      `json:"kind" texts:"-"`           // of record, such as review note
	RecordID  int64       `json:"record_id,omitempty"`      // 0 where it is no one record
	PlayerID  int64       `json:"player_id,omitempty"`      // whom the record is about; 0 for no one
	// an AuditPayload as JSON, exactly as it was hashed; left out once it has been erased
	Payload     *string `json:"payload,omitempty"`
	PayloadHash []byte  `json:"payload_hash"` // SHA-256 of the payload
	Hash        []byte  `json:"hash"`         // SHA-256 over the hash of the entry before and this one
}

// AuditPayload is what an entry says of people. Salt is 16 bytes of chance, so that an erased payload cannot be found
// again by hashing guesses.
type AuditPayload struct {
	Salt   []byte `json:"salt"`
	From   string `json:"from,omitempty"` // a network address, or "this machine"
	Before any    `json:"before,omitempty"`
	After  any    `json:"after,omitempty"`
}

// Imported is what the entry of an import says. What the import made and changed is in the entries right before it,
// as many as it says: they were written together. The number of the entry is the id of the import.
type Imported struct {
	Source  string `json:"source"`  // the name of the file
	Entries int    `json:"entries"` // how many entries before this one are of the import
}

// Seal numbers an entry as the one after previous, which is nil for the first of an academy, and computes its hashes:
//
//	payload hash = SHA-256(payload)
//	hash         = SHA-256(hash of the previous entry ‖ text)
//
// where text is the JSON array [academy, number, at, user, token, role, action, kind, record, player, payload hash],
// with at in RFC 3339 in UTC to the microsecond and the payload's hash in hexadecimal, and the hash before the first
// entry is 32 zero bytes. The hash function is that of FIPS 180-4.
func (e *AuditEntry) Seal(previous *AuditEntry) error {
	e.Number = 1
	if previous != nil {
		e.Number = previous.Number + 1
	}
	if e.Payload == nil {
		return fmt.Errorf("seal entry %d of the audit trail: it has no payload", e.Number)
	}
	sum := sha256.Sum256([]byte(*e.Payload))
	e.PayloadHash = sum[:]
	hash, err := e.hash(previous)
	e.Hash = hash
	return err
}

func (e *AuditEntry) hash(previous *AuditEntry) ([]byte, error) {
	before := make([]byte, sha256.Size)
	if previous != nil {
		before = previous.Hash
	}
	text, err := json.Marshal([]any{e.AcademyID, e.Number, e.At.UTC().Format("2006-01-02T15:04:05.000000Z"), e.UserID,
		e.TokenID, e.Role, e.Action, e.Kind,
		e.RecordID, e.PlayerID, hex.EncodeToString(e.PayloadHash)})
	if err != nil {
		return nil, fmt.Errorf("hash entry %d of the audit trail: %w", e.Number, err)
	}
	sum := sha256.Sum256(append(before[:len(before):len(before)], text...))
	return sum[:], nil
}

// Follows checks that an entry is the one after previous, nil for the first, and that nothing of it was changed since
// it was sealed. A payload that was erased cannot be checked and is not missed. The error says what does not hold.
func (e *AuditEntry) Follows(previous *AuditEntry) error {
	want := int64(1)
	if previous != nil {
		want = previous.Number + 1
	}
	if e.Number != want {
		return fmt.Errorf("entry %d of the audit trail is missing: %d comes next", want, e.Number)
	}
	if e.Payload != nil {
		if sum := sha256.Sum256([]byte(*e.Payload)); !bytes.Equal(sum[:], e.PayloadHash) {
			return fmt.Errorf("the payload of entry %d of the audit trail is not what was written", e.Number)
		}
	}
	hash, err := e.hash(previous)
	if err != nil {
		return err
	}
	if !bytes.Equal(hash, e.Hash) {
		return fmt.Errorf("entry %d of the audit trail, or the one before it, is not what was written", e.Number)
	}
	return nil
}

// AuditFilter narrows a list of entries.
type AuditFilter struct {
	PlayerID int64
	UserID   int64
	Action   AuditAction
	Kind     string
	RecordID int64
	From     *Date // the first day, in UTC
	Until    *Date // the last day, in UTC
}
