package models

import (
	"crypto/sha256"
	"time"
)

// LinkPurpose is what a one-time link is for.
type LinkPurpose string

// The purposes.
const (
	Invitation LinkPurpose = "invitation" // to a person who has no password yet
	Reset      LinkPurpose = "reset"      // to a person who has forgotten it
)

// Lasts is how long a link of the purpose can be used: an invitation may wait for the next training, a person who
// wants to get back in is there (common practice).
func (p LinkPurpose) Lasts() time.Duration {
	if p == Invitation {
		return 7 * 24 * time.Hour
	}
	return 24 * time.Hour
}

// Link lets its holder choose a user's password, once. Only the SHA-256 hash of its secret is kept.
type Link struct {
	Record
	UserID    int64       `json:"user_id"`
	Purpose   LinkPurpose `json:"purpose"`
	Hash      []byte      `json:"-"`       // 32 bytes
	MadeBy    int64       `json:"made_by"` // 0 for the console
	ExpiresAt time.Time   `json:"expires_at"`
	UsedAt    *time.Time  `json:"used_at,omitempty"`
}

// Validate checks the link's own fields.
func (l Link) Validate() error {
	var f findings
	f.ref("user_id", l.UserID)
	oneOf(&f, "purpose", l.Purpose)
	if l.ExpiresAt.IsZero() {
		f.add("expires_at", "is missing")
	}
	if len(l.Hash) != sha256.Size {
		f.add("hash", "has %d bytes; a SHA-256 hash has %d", len(l.Hash), sha256.Size)
	}
	return f.err("one-time link")
}

// Invited is what anyone who holds a one-time link may know before they use it.
type Invited struct {
	User    User
	Academy string // its name; empty for the deployment itself
}
