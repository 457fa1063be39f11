package auth

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"github.com/trustelem/zxcvbn"

	"throughline/models"
)

// The cost of a password's hash: argon2id with 19 MiB, two passes and one lane, the least that the OWASP Password
// Storage Cheat Sheet recommends. Every hash says its own cost, so that a later increase leaves the older ones valid.
var cost = argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// nobodysHash is the hash of a random password that was thrown away. Checking against it makes an attempt for an
// unknown name take as long as for a known one.
const nobodysHash = "$argon2id$v=19$m=19456,t=2,p=1$CTFVTvCnxJGNJNKEl61eJQ$poWFA+jUHLb77V7HHZXFNDccrNc2Dy1OegQCjCOtZAE"

// How long a password is, in characters. No one types more than the most, which keeps the work of one attempt bounded.
const (
	shortestPassword = 12
	longestPassword  = 1000
)

const (
	// strongEnough is the score from which a password is taken, of 0 to 4: some 10⁸ guesses or more, "safely unguessable:
	// moderate protection from offline slow-hash scenario" (D. L. Wheeler, zxcvbn: Low-Budget Password Strength
	// Estimation, USENIX Security 2016, and the reference implementation's description of its scores).
	strongEnough = 3
	// judged is how many characters of a password are judged: the time it takes grows faster than the length, and who
	// goes on after so many has chosen something long enough.
	judged = 100
)

// CheckPassword is Invalid at password, as a *models.Error that does not repeat it, if the password is too short, too
// long, common or soon guessed. About is what a guesser knows about the person: login, name, academy.
func CheckPassword(password string, about ...string) error {
	n := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password):
		return badPassword("has unreadable characters; use letters, digits and symbols")
	case n < shortestPassword:
		return badPassword("is too short; choose at least %d characters, such as four unrelated words", shortestPassword)
	case n > longestPassword:
		return badPassword("has %d characters; choose at most %d", n, longestPassword)
	}
	var known []string
	for _, text := range about {
		if text = strings.ToLower(text); text != "" {
			words := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" .-_@'", r) })
			known = append(append(known, text, strings.Join(words, "")), words...)
		}
	}
	if n > judged {
		password = string([]rune(password)[:judged])
	}
	if zxcvbn.PasswordStrength(password, known).Score < strongEnough {
		return badPassword("is too easy to guess: it is common, or made of names, dates, keyboard patterns or repeats; " +
			"choose four unrelated words, or let a password manager choose")
	}
	return nil
}

func badPassword(format string, args ...any) error {
	return &models.Error{Code: models.Invalid, Message: "choose another password", Fields: []models.FieldError{
		{Where: "password", Message: fmt.Sprintf(format, args...)},
	}}
}

// HashPassword returns the encoded argon2id hash of a password, as kept in models.User. It is the one way to a hash,
// and refuses what CheckPassword does.
func HashPassword(password string, about ...string) (string, error) {
	if err := CheckPassword(password, about...); err != nil {
		return "", err
	}
	hash, err := argon2id.CreateHash(password, &cost)
	if err != nil {
		return "", fmt.Errorf("hash a password: %w", err)
	}
	return hash, nil
}

// ErrBusy says that so many passwords wait to be checked that one more would wait too long.
var ErrBusy = errors.New("too many sign-ins at once")

// queue is how many passwords may wait for each that is worked on: some two seconds' worth on a small machine.
const queue = 32

// hashing limits how many passwords are checked at once, and how many wait. Each check takes a core and Memory KiB for
// a while.
type hashing struct{ working, there chan struct{} }

func newHashing(atOnce int) hashing {
	return hashing{make(chan struct{}, atOnce), make(chan struct{}, atOnce*(1+queue))}
}

// place waits for a place to work on a password, or until ctx ends; ErrBusy says that there are too many who wait.
// The caller gives the place back by calling what is returned.
func (h hashing) place(ctx context.Context) (back func(), err error) {
	select {
	case h.there <- struct{}{}:
	default:
		return nil, ErrBusy
	}
	select {
	case h.working <- struct{}{}:
		return func() { <-h.working; <-h.there }, nil
	case <-ctx.Done():
		<-h.there
		return nil, fmt.Errorf("check a password: %w", ctx.Err())
	}
}

// hash is HashPassword in a place of its own.
func (a *Auth) hash(ctx context.Context, password string, about ...string) (string, error) {
	back, err := a.hashing.place(ctx)
	if err != nil {
		return "", err
	}
	defer back()
	return HashPassword(password, about...)
}

// check tells whether a password has a hash, at the same cost where there is no hash to check against. It needs a
// place of hashing.
func check(password, hash string) (bool, error) {
	known := hash != "" && len(password) <= longestPassword*utf8.UTFMax
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

// NewPassword makes a password that can be read out and typed: sixteen signs in four groups, 80 bits from random, such
// as "k7mr-w2xp-h9qd-3vnz".
func NewPassword(random io.Reader) (string, error) {
	chance := make([]byte, 16)
	if _, err := io.ReadFull(random, chance); err != nil {
		return "", fmt.Errorf("create a password: %w", err)
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
