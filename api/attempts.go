package api

import (
	"crypto/sha256"
	"time"
)

// attemptRate is how many attempts a second one account has, after signInCost at one go: one a minute. Somebody who has forgotten his password
// tries a few times; somebody who guesses needs more than he gets in a year (RFC 4226 §7.3 wants codes throttled so).
const attemptRate = 1.0 / 60

// attempts bound how often somebody may try to sign in as an account. They are counted for names that nobody has too, so that being
// refused tells nothing.
type attempts struct{ *buckets }

// account keeps no name: one may be long, and is somebody's.
type account [sha256.Size]byte

// Take takes one attempt of an account, and says how long to wait where none is left.
func (a attempts) Take(login string) time.Duration {
	return a.take(account(sha256.Sum256([]byte(login))), 1)
}

// Forget lets an account begin anew.
func (a attempts) Forget(login string) { a.forget(account(sha256.Sum256([]byte(login)))) }
