package models

import "time"

// Session is the time from a sign-in to a sign-out, in one browser. Key is the SHA-256 hash of what the browser's
// cookie holds, in base64url: anyone who reads the database can sign in nowhere with it.
type Session struct {
	Key       string    `json:"-" gorm:"primaryKey" texts:"-"`
	AcademyID int64     `json:"-"`
	UserID    int64     `json:"user_id"`
	Data      []byte    `json:"-"` // what the server remembers of it
	CreatedAt time.Time `json:"created_at"`
	ExpiresAt time.Time `json:"expires_at"`
}
