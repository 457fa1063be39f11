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

// AuditEntry is one line of an academy's audit trail: who changed or read which record, when and from where, with the
// record before and after. Entries are only ever added. Personal data are in the payload, which can be erased. An
// entry's hash covers the payload's hash and not the payload itself, so the chain still verifies without it.
type AuditEntry struct {
	AcademyID int64 `json:"-" gorm:"primaryKey"`
	// 1, 2, 3 and so on, within the academy
	Number  int64       `json:"number" gorm:"primaryKey"`
	At      time.Time   `json:"at"`                 // when it happened
	UserID  int64       `json:"user_id,omitempty"`  // 0 for the console
	TokenID int64       `json:"token_id,omitempty"` // the access token, if a program did it
	Role    Role        `json:"role"`               // the role it was done in
	Action  AuditAction `json:"action"`             // such as create, change, delete or read
	Kind    string      `json:"kind" texts:"-"`     // the kind of record, such as review note
	// 0 if the entry is not about a single record
	RecordID int64 `json:"record_id,omitempty"`
	// the player the record is about; 0 for no player
	PlayerID int64 `json:"player_id,omitempty"`
	// the payload as JSON, exactly as it was hashed; absent once erased
	Payload     *string `json:"payload,omitempty"`
	PayloadHash []byte  `json:"payload_hash"` // the SHA-256 hash of the payload
	// the SHA-256 hash over the previous entry's hash and this entry
	Hash []byte `json:"hash"`
}

// AuditPayload is what an audit entry says about people. Salt is 16 random bytes, so an erased payload cannot be
// guessed by hashing candidates.
type AuditPayload struct {
	Salt   []byte `json:"salt"`
	From   string `json:"from,omitempty"` // a network address, or "this machine"
	Before any    `json:"before,omitempty"`
	After  any    `json:"after,omitempty"`
}

// Imported is what the audit entry of an import says. Everything the import created or changed is in the entries just
// before it, because they were written together. The entry's number is the id of the import.
type Imported struct {
	Source  string `json:"source"`  // the name of the file
	Entries int    `json:"entries"` // how many entries before this one belong to the import
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
		return fmt.Errorf("entry %d of the audit trail is missing: the next one is %d", want, e.Number)
	}
	if e.Payload != nil {
		if sum := sha256.Sum256([]byte(*e.Payload)); !bytes.Equal(sum[:], e.PayloadHash) {
			return fmt.Errorf("the payload of entry %d of the audit trail has been changed", e.Number)
		}
	}
	hash, err := e.hash(previous)
	if err != nil {
		return err
	}
	if !bytes.Equal(hash, e.Hash) {
		return fmt.Errorf("entry %d of the audit trail, or the one before it, has been changed", e.Number)
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
