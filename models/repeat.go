package models

import "time"

// Repeat is a request that created something and may be sent again within a day under the same key. Only hashes of
// the key and of the request are kept. A request that created a secret keeps no ids, because it is not answered a
// second time.
type Repeat struct {
	AcademyID int64     `json:"-" gorm:"primaryKey"`
	UserID    int64     `json:"user_id" gorm:"primaryKey"`
	KeyHash   []byte    `json:"-" gorm:"primaryKey"`
	Contents  []byte    `json:"-"`                        // the SHA-256 hash of what was sent, and where to
	Made      []int64   `json:"-" gorm:"serializer:json"` // the ids of what was made
	PlayerID  *int64    `json:"-"`                        // whom it is about, where it is about one player
	SentAt    time.Time `json:"sent_at"`
}

// RepeatsFor is how long a request may be sent again.
const RepeatsFor = 24 * time.Hour
