package models

import "time"

// Repeat is a request that made something and may be sent again within a day, under the key that the program gave it.
// Of the key and of what was sent only hashes are kept. A request that made a secret keeps no ids: it is not answered
// a second time.
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
