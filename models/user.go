package models

import (
	"crypto/sha256"
	"strings"
	"time"
	"unicode"
)

// User is a person who signs in. A player's user has the id of the player's record.
type User struct {
	Record
	// lower case, unique in the deployment
	Login        string `json:"login" texts:"-" limit:"login 2..100"`
	Name         string `json:"name" texts:"-" limit:"name 1..100"`
	Role         Role   `json:"role"`                // what the user may do
	PlayerID     *int64 `json:"player_id,omitempty"` // set exactly if role is player
	PasswordHash string `json:"-" texts:"-"`         // an encoded argon2id hash; empty for no one who can sign in yet
	// The second factor: its secret in base32 (RFC 4648), empty where none was offered; since when signing in asks for a
	// code; and the time step of the last code that was used, which is good once.
	TOTPSecret string `json:"-" texts:"-"`
	// when two-factor sign-in was turned on; absent if it is off
	SecondFactorSince *time.Time `json:"second_factor_since,omitempty"`
	TOTPStep          int64      `json:"-"`
}

// SquadStaff says that a coach or selector works with a squad.
type SquadStaff struct {
	AcademyID int64 `json:"-" gorm:"primaryKey"`
	UserID    int64 `json:"user_id" gorm:"primaryKey"`
	SquadID   int64 `json:"squad_id" gorm:"primaryKey"`
	// the lead coach, whom what needs action in the squad waits for; one coach at most leads a squad
	Leads bool `json:"leads"`
}

// TokenScope says what a program may do with an access token.
type TokenScope string

// The scopes.
const (
	ScopeRead  TokenScope = "read"
	ScopeWrite TokenScope = "write" // and read
)

// LongestToken is how long an access token may be valid: a leap year.
const LongestToken = 366 * 24 * time.Hour

// MostTokens is how many access tokens of a user are valid at once: more are forgotten than used.
const MostTokens = 20

// AccessToken lets a program act as a user until it expires. Only the SHA-256 hash of the token is kept.
type AccessToken struct {
	Record
	UserID int64 `json:"user_id"` // the user the program acts as
	// what the token is for, in its user's words
	Label     string     `json:"label" limit:"name 1..100"`
	Scope     TokenScope `json:"scope"` // read: only read; write: everything its user may do
	ExpiresAt time.Time  `json:"expires_at"`
	Hash      []byte     `json:"-"` // 32 bytes
}

// Validate checks the user's own fields.
func (u User) Validate() error {
	var f findings
	f.limits("", &u)
	oneOf(&f, "role", u.Role)
	f.refIfAny("player_id", u.PlayerID)
	switch {
	case u.Role == RolePlayer && u.PlayerID == nil:
		f.add("player_id", "is missing; give the player whose record this user opens")
	case u.Role != RolePlayer && u.PlayerID != nil:
		f.add("player_id", "only a user with role player has one; leave it out for a %s", u.Role)
	}
	if u.PasswordHash != "" && !strings.HasPrefix(u.PasswordHash, "$argon2id$") {
		f.add("password", "is not an encoded argon2id hash; hash it before it is kept")
	}
	return f.err("user")
}

// login checks what a person signs in with: min to max lower case letters, digits and . _ - @, beginning with a
// letter or a digit.
func (f *findings) login(where, s string, min, max int) {
	if !f.clean(where, s, false) || !f.length(where, s, min, max) {
		return
	}
	for i, r := range s {
		switch {
		case unicode.IsUpper(r):
			f.add(where, "%q has the capital letter %q; write a username in lower case", clip(s), string(r))
		case unicode.IsLetter(r), unicode.IsDigit(r), i > 0 && strings.ContainsRune("._-@", r):
			continue
		default:
			f.add(where, "%q contains %q; write lower-case letters, digits and . _ - @, starting with a letter or a digit",
				clip(s), string(r))
		}
		return
	}
}

// Validate checks that both are named.
func (s SquadStaff) Validate() error {
	var f findings
	f.ref("user_id", s.UserID)
	f.ref("squad_id", s.SquadID)
	return f.err("squad's staff")
}

// Validate checks the token's own fields.
func (t AccessToken) Validate() error {
	var f findings
	f.limits("", &t)
	f.ref("user_id", t.UserID)
	oneOf(&f, "scope", t.Scope)
	if life := t.ExpiresAt.Sub(t.CreatedAt); t.ExpiresAt.IsZero() || !t.CreatedAt.IsZero() &&
		(life <= 0 || life > LongestToken) {
		f.add("expires_at", "must be after the token is created and at most %d days later", LongestToken/(24*time.Hour))
	}
	if len(t.Hash) != sha256.Size {
		f.add("hash", "has %d bytes; a SHA-256 hash has %d", len(t.Hash), sha256.Size)
	}
	return f.err("access token")
}
