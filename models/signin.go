package models

import "time"

// SignInPart is what one attempt to sign in tries.
type SignInPart string

// The parts. Each has attempts of its own: a code has a million values, and a password that is right must buy no
// guesses at it.
const (
	PartPassword SignInPart = "password"
	PartCode     SignInPart = "code"
)

// Allowance is how often something may be tried: so many times at one go, and once more after each interval.
type Allowance struct {
	AtOnce int
	Every  time.Duration
}

// Allowed returns the attempts that a part has.
//
// Ten passwords and then one a minute let a person who has forgotten theirs try a few, and a person who guesses none
// that CheckPassword takes. Of codes three in a million are right at any time (one step either way, RFC 6238 §5.2),
// so that ten and then one an hour, some 8,800 a year, find one with a chance of 3 % in a year (RFC 4226 §7.3 asks
// for such a throttle); one a minute would find one in most years.
func (p SignInPart) Allowed() Allowance {
	if p == PartCode {
		return Allowance{AtOnce: 10, Every: time.Hour}
	}
	return Allowance{AtOnce: 10, Every: time.Minute}
}

// Device is a browser that a user has signed in with. It has sign-in attempts of its own, so a stranger elsewhere
// cannot use them up. Hash is the SHA-256 hash of its cookie. A device is remembered for LongestDevice after it was
// last used to sign in.
type Device struct {
	ID        int64     `json:"-" gorm:"primaryKey"`
	AcademyID int64     `json:"-"`
	UserID    int64     `json:"user_id"`
	Hash      []byte    `json:"-"`
	UsedAt    time.Time `json:"used_at"` // when the user last signed in with it
}

// How many browsers of a user are known at once, and for how long.
const (
	MostDevices   = 20
	LongestDevice = 180 * 24 * time.Hour
)

// SignInAttempts are the attempts left for one step of signing in as a user, in one known browser or, for device 0,
// in all others together. User 0 of the deployment stands for names that no user has; the device is then one of
// UnknownNames places.
type SignInAttempts struct {
	AcademyID int64      `json:"-" gorm:"primaryKey"`
	UserID    int64      `json:"user_id" gorm:"primaryKey"`
	Part      SignInPart `json:"part" gorm:"primaryKey"`
	DeviceID  int64      `json:"-" gorm:"primaryKey"`
	FullAt    time.Time  `json:"full_at"` // when all attempts are available again
}

// UnknownNames is how many places there are for names that no user has. Names share them, so that strangers take only
// so much room.
const UnknownNames = 1 << 14

// RefusedSignIns counts a user's refused sign-ins that the audit trail has not reported yet. User 0 stands for names
// that no user has.
type RefusedSignIns struct {
	AcademyID int64     `json:"-" gorm:"primaryKey"`
	UserID    int64     `json:"user_id" gorm:"primaryKey"`
	ToldAt    time.Time `json:"told_at"` // when the audit trail last reported one
	Untold    int64     `json:"untold"`  // how many there have been since
	LastAt    time.Time `json:"last_at"`
	LastFrom  string    `json:"last_from" texts:"-"` // a network address
}

// Refusals are the refused sign-ins that the audit trail reports: how many since the last report, and when the last
// one was.
type Refusals struct {
	Count  int64     `json:"count"`
	LastAt time.Time `json:"last_at"`
}
