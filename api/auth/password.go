package auth

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/alexedwards/argon2id"
)

// The cost of a password's hash: argon2id with 19 MiB, two passes and one lane, the least that the OWASP Password Storage Cheat Sheet
// recommends. Every hash says its own cost, so that a later increase leaves the older ones valid.
var cost = argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// nobodysHash is the hash of a random password that was thrown away. Checking against it costs a stranger's attempt as much time as
// anybody else's.
const nobodysHash = "$argon2id$v=19$m=19456,t=2,p=1$CTFVTvCnxJGNJNKEl61eJQ$poWFA+jUHLb77V7HHZXFNDccrNc2Dy1OegQCjCOtZAE"

// longestPassword keeps the work of one attempt bounded; nobody types more.
const longestPassword = 1000

// HashPassword returns the encoded argon2id hash of a password, as kept in models.User.
func HashPassword(password string) (string, error) {
	hash, err := argon2id.CreateHash(password, &cost)
	if err != nil {
		return "", fmt.Errorf("hash a password: %w", err)
	}
	return hash, nil
}

// check tells whether a password has a hash, at the same cost where there is no hash to check against. It waits for a place, or until
// ctx ends.
func (a *Auth) check(ctx context.Context, password, hash string) (bool, error) {
	select {
	case a.hashing <- struct{}{}:
		defer func() { <-a.hashing }()
	case <-ctx.Done():
		return false, fmt.Errorf("check a password: %w", ctx.Err())
	}
	known := hash != "" && len(password) <= longestPassword
	if !known {
		password, hash = "", nobodysHash
	}
	right, err := argon2id.ComparePasswordAndHash(password, hash)
	if err != nil {
		return false, fmt.Errorf("check a password: %w", err)
	}
	return right && known, nil
}

// alphabet has 32 signs that are hard to take for one another, so that every 5 bits of chance choose one.
const alphabet = "23456789abcdefghijkmnpqrstuvwxyz"

// NewPassword makes a password that can be read out and typed: twelve signs in three groups, 60 bits from random, such as
// "k7mr-w2xp-h9qd".
func NewPassword(random io.Reader) (string, error) {
	chance := make([]byte, 12)
	if _, err := io.ReadFull(random, chance); err != nil {
		return "", fmt.Errorf("make a password: %w", err)
	}
	var b strings.Builder
	for i, c := range chance {
		if i > 0 && i%4 == 0 {
			b.WriteByte('-')
		}
		b.WriteByte(alphabet[c%32])
	}
	return b.String(), nil
}
