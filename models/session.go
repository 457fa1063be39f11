package models

import "time"

// Session is the time from sign-in to sign-out in one browser. Key is the SHA-256 hash of the browser's cookie, in
// base64url, so reading the database lets no one sign in.
type Session struct {
	Key       string    `json:"-" gorm:"primaryKey" texts:"-"`
	AcademyID int64     `json:"-"`
	UserID    int64     `json:"user_id"`
	Data      []byte    `json:"-"` // what the server remembers of it
	CreatedAt time.Time `json:"created_at"`
	ExpiresAt time.Time `json:"expires_at"`
}
