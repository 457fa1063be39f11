package auth

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"throughline/models"
	"throughline/models/store"
)

// ErrRefused says that a name and a password do not belong together, and not which of the two is wrong, or that a code
// is not right.
var ErrRefused = errors.New("wrong username, password or code")

// ErrNoPassword says that a code was sent without a password before it, or too late.
var ErrNoPassword = errors.New("enter your username and password first")

// TooMany says that there were too many attempts for one account.
type TooMany struct{ Wait time.Duration }

// Error says it.
func (e *TooMany) Error() string { return "too many attempts" }

// SignIn checks a name and a password. If they match, it makes the session of ctx that person's, under a new session
// token, and says whether a one-time code is needed: until it is given, the session opens nothing. It returns
// ErrRefused if they do not match, after the same work whether or not the name exists, and *TooMany after too many
// attempts for the name.
func (a *Auth) SignIn(ctx context.Context, login, password string) (code bool, err error) {
	login = strings.ToLower(strings.TrimSpace(login))
	if !utf8.ValidString(login) || strings.Contains(login, "\x00") {
		login = "" // it is no name at all
	}
	user, who, err := a.store.UserByLogin(ctx, login)
	if err != nil && models.CodeOf(err) != models.NotFound {
		return false, fmt.Errorf("find a person by name: %w", err)
	}
	right, err := a.tried(ctx, user, who, login, password)
	if err != nil {
		return false, err
	}
	if !right {
		return false, a.refused(ctx, who)
	}
	return a.signedIn(ctx, user, who)
}

// tried takes an attempt and tells whether the password is the user's; no one has the zero user, nor any password.
// Where too many passwords wait to be checked it is ErrBusy, and the attempt is not taken.
func (a *Auth) tried(ctx context.Context, user models.User, who models.Who, login, password string) (bool, error) {
	back, err := a.hashing.place(ctx)
	if err != nil {
		return false, err
	}
	defer back()
	if err := a.attempt(ctx, who, models.PartPassword, login); err != nil {
		return false, err
	}
	return check(password, user.PasswordHash)
}

// refused tells about a person who was not let in.
func (a *Auth) refused(ctx context.Context, who models.Who) error {
	if who.Role == "" {
		who = models.Console(models.Deployment)
		who.Name = "an unknown user"
	}
	who.From = from(ctx)
	if err := a.store.SignInRefused(ctx, who); err != nil {
		return err
	}
	return ErrRefused
}

// signedIn lets a person in whose password was right, or asks them for a code.
func (a *Auth) signedIn(ctx context.Context, user models.User, who models.Who) (code bool, err error) {
	if user.SecondFactorSince != nil {
		return true, a.begin(ctx, who, true)
	}
	return false, a.letIn(ctx, who)
}

// AwaitsCode says whether the session of ctx waits for the code of a second factor.
func (a *Auth) AwaitsCode(ctx context.Context) bool {
	return a.sessions.GetInt64(ctx, userKey) != 0 && a.sessions.GetBool(ctx, pendingKey)
}

// SignInCode checks the code of a second factor after SignIn has asked for it. Then the session, under a new token,
// opens what its person may see. It returns ErrRefused if the code is wrong or was used before, *TooMany after too
// many attempts, and ErrNoPassword if no sign-in is waiting for a code.
func (a *Auth) SignInCode(ctx context.Context, code string) error {
	if !a.AwaitsCode(ctx) {
		return ErrNoPassword
	}
	user, who, err := a.store.User(ctx, a.sessions.GetInt64(ctx, academyKey), a.sessions.GetInt64(ctx, userKey))
	if models.CodeOf(err) == models.NotFound || err == nil && user.SecondFactorSince == nil {
		return errors.Join(ErrNoPassword, a.end(ctx))
	}
	if err != nil {
		return fmt.Errorf("find who signs in: %w", err)
	}
	if err := a.attempt(ctx, who, models.PartCode, ""); err != nil {
		return err
	}
	step, right := stepOf(user.TOTPSecret, code, a.now())
	if !right {
		return a.refused(ctx, who)
	}
	err = a.store.Write(ctx, who, func(tx *store.Tx) error { return tx.UseCode(step) })
	if models.CodeOf(err) == models.Forbidden {
		return a.refused(ctx, who)
	}
	if err != nil {
		return err
	}
	return a.letIn(ctx, who)
}

// NewSecret makes the secret of a one-time link, with 256 bits from random, and the SHA-256 of it, which is all that
// is kept.
func NewSecret(random io.Reader) (secret string, hash []byte, err error) {
	chance := make([]byte, 32)
	if _, err := io.ReadFull(random, chance); err != nil {
		return "", nil, fmt.Errorf("make a one-time link: %w", err)
	}
	secret = base64.RawURLEncoding.EncodeToString(chance)
	return secret, hashOf(secret), nil
}

// JoinPath is what the address of a one-time link begins with; its secret follows.
const JoinPath = "/join/"

func hashOf(secret string) []byte {
	sum := sha256.Sum256([]byte(secret))
	return sum[:]
}

// Invited returns whom a one-time link lets in, and uses nothing up. The error of one that is not valid, or no longer,
// has the code NotFound.
func (a *Auth) Invited(ctx context.Context, secret string) (models.Invited, error) {
	return a.store.Invited(ctx, hashOf(secret))
}

// Join uses a one-time link: its user has the password from now on, and is signed in as by SignIn. A password that
// CheckPassword refuses uses nothing up.
func (a *Auth) Join(ctx context.Context, secret, password string) (code bool, err error) {
	invited, err := a.Invited(ctx, secret)
	if err != nil {
		return false, err
	}
	hash, err := a.hash(ctx, password, invited.User.Login, invited.User.Name, invited.Academy)
	if err != nil {
		return false, err
	}
	who, err := a.store.UseLink(ctx, hashOf(secret), hash, from(ctx))
	if err != nil {
		return false, err
	}
	user, who, err := a.store.User(ctx, who.AcademyID, who.UserID)
	if err != nil {
		return false, err
	}
	return a.signedIn(ctx, user, who)
}
