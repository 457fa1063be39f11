package auth

import (
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/alexedwards/scs/v2/memstore"
)

// How long a check takes follows from its cost alone, so that equal costs mean equal work.
func TestAStrangersAttemptCostsAsMuchAsAnybodys(t *testing.T) {
	hash, err := HashPassword("k7mr-w2xp-h9qd")
	if err != nil {
		t.Fatal(err)
	}
	ours, ourSalt, ourKey, err := argon2id.DecodeHash(hash)
	if err != nil {
		t.Fatal(err)
	}
	nobodys, salt, key, err := argon2id.DecodeHash(nobodysHash)
	if err != nil {
		t.Fatal(err)
	}
	if *ours != *nobodys || len(ourSalt) != len(salt) || len(ourKey) != len(key) {
		t.Errorf("a user's hash costs %+v, nobody's %+v; want the same", *ours, *nobodys)
	}
}

// The least that the OWASP Password Storage Cheat Sheet recommends for argon2id: 19 MiB, two passes, one lane.
func TestPasswordsAreHashedAtTheRecommendedCost(t *testing.T) {
	if cost.Memory < 19*1024 || cost.Iterations < 2 || cost.Parallelism < 1 {
		t.Errorf("the cost is %+v; want at least 19 MiB, two passes, one lane", cost)
	}
}

func TestExpiredSessionsAreThrownAway(t *testing.T) {
	m := &memory{MemStore: memstore.NewWithCleanupInterval(0), expiries: map[string]time.Time{}}
	if err := m.Commit("old", []byte("x"), time.Now().Add(-time.Second)); err != nil {
		t.Fatal(err)
	}
	if err := m.Commit("new", []byte("x"), time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if len(m.expiries) != 1 || m.expiries["new"].IsZero() {
		t.Errorf("kept are %v; want the session that has not expired only", m.expiries)
	}
	if _, found, err := m.Find("new"); err != nil || !found {
		t.Errorf("the session that has not expired is gone: %v", err)
	}
}
