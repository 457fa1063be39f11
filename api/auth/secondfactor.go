package auth

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base32"
	"fmt"
	"image"
	"io"
	"strings"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/hotp"
	"github.com/pquerna/otp/totp"

	"throughline/models"
	"throughline/models/store"
)

// The second factor is the time-based one-time password of RFC 6238 as every app for it has it: HMAC-SHA-1, steps of
// 30 seconds from 1970, six digits.
const (
	stepSeconds = 30
	codeDigits  = otp.DigitsSix
	// skew is how many steps a phone's clock may be before or behind: one, as §5.2 of the RFC recommends for the way that
	// a code takes.
	skew = 1
)

// codeAt is the one-time code of a secret, in base32, in a time step: HOTP(K, T) with T the step (RFC 6238 §4.2, RFC
// 4226 §5.3).
func codeAt(secret string, step int64, digits otp.Digits) (string, error) {
	return hotp.GenerateCodeCustom(secret, uint64(step), hotp.ValidateOpts{Digits: digits, Algorithm: otp.AlgorithmSHA1})
}

// stepOf returns the time step around now in which the secret gives this code, and false if no step does. Spaces in
// the code, as apps print them, do not matter.
func stepOf(secret, code string, now time.Time) (int64, bool) {
	code = strings.Join(strings.Fields(code), "")
	if secret == "" || len(code) != codeDigits.Length() {
		return 0, false
	}
	at, found := int64(0), false
	middle := now.Unix() / stepSeconds
	for step := middle - skew; step <= middle+skew; step++ {
		want, err := codeAt(secret, step, codeDigits)
		if err == nil && subtle.ConstantTimeCompare([]byte(want), []byte(code)) == 1 {
			at, found = step, true
		}
	}
	return at, found
}

// NewSecondFactor makes a secret for the caller, 160 bits from random as RFC 4226 §4 recommends, and keeps it
// until they confirm that their app has it. Until then signing in asks for no code.
func (a *Auth) NewSecondFactor(ctx context.Context, who models.Who, random io.Reader) error {
	chance := make([]byte, 20)
	if _, err := io.ReadFull(random, chance); err != nil {
		return fmt.Errorf("create a second factor: %w", err)
	}
	secret := base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(chance)
	return a.store.Write(ctx, who, func(tx *store.Tx) error { return tx.OfferSecondFactor(secret) })
}

// Offered returns the secret, in base32, of the second factor that the caller was offered and has not confirmed. It is
// empty if there is no such offer. Once confirmed, a secret is never shown again.
func (a *Auth) Offered(ctx context.Context, who models.Who) (secret string, err error) {
	err = a.store.Read(ctx, who, func(tx *store.Tx) error {
		if err := tx.MayHaveSecondFactor(); err != nil {
			return err
		}
		u, err := tx.Account()
		if err == nil && u.SecondFactorSince == nil {
			secret = u.TOTPSecret
		}
		return err
	})
	return secret, err
}

// Picture draws a secret for an app to read off the screen, as a QR code of size × size pixels.
func Picture(secret, login string, size int) (image.Image, error) {
	raw, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret)
	if err != nil {
		return nil, fmt.Errorf("draw a second factor: %w", err)
	}
	key, err := totp.Generate(totp.GenerateOpts{Issuer: "Throughline", AccountName: login, Secret: raw,
		Period: stepSeconds, Digits: codeDigits, Algorithm: otp.AlgorithmSHA1})
	if err != nil {
		return nil, fmt.Errorf("draw a second factor: %w", err)
	}
	return key.Image(size, size)
}

// ConfirmSecondFactor turns on the second factor that the caller was offered, by a code of it. ErrRefused says
// that the code is not right. Their other sessions end, and this one goes on under a new token.
func (a *Auth) ConfirmSecondFactor(ctx context.Context, who models.Who, code string) error {
	if err := a.store.Read(ctx, who, (*store.Tx).MayHaveSecondFactor); err != nil {
		return err
	}
	user, _, err := a.store.User(ctx, who.AcademyID, who.UserID)
	if err != nil {
		return err
	}
	if err := a.attempt(ctx, who, models.PartCode, ""); err != nil {
		return err
	}
	step, right := stepOf(user.TOTPSecret, code, a.now())
	if !right {
		return ErrRefused
	}
	if err := a.store.Write(ctx, who, func(tx *store.Tx) error { return tx.ConfirmSecondFactor(step) }); err != nil {
		return err
	}
	return a.begin(ctx, who, false)
}

// EndSecondFactor turns off the second factor of the caller, by their password and a code that was not used before:
// an open session and the password are not worth a second factor. ErrRefused says that one of the two is not right. A
// user who has lost what makes the codes asks a manager.
func (a *Auth) EndSecondFactor(ctx context.Context, who models.Who, password, code string) error {
	user, err := a.confirmed(ctx, who, password)
	if err != nil {
		return err
	}
	if err := a.attempt(ctx, who, models.PartCode, ""); err != nil {
		return err
	}
	step, right := stepOf(user.TOTPSecret, code, a.now())
	if !right || user.SecondFactorSince == nil {
		return ErrRefused
	}
	err = a.store.Write(ctx, who, func(tx *store.Tx) error { return tx.EndSecondFactor(step) })
	if models.CodeOf(err) == models.Forbidden {
		return ErrRefused
	}
	if err != nil {
		return err
	}
	return a.begin(ctx, who, false)
}

// confirmed returns the user of the caller when the password is theirs.
func (a *Auth) confirmed(ctx context.Context, who models.Who, password string) (models.User, error) {
	user, _, err := a.store.User(ctx, who.AcademyID, who.UserID)
	if err != nil {
		return user, err
	}
	right, err := a.tried(ctx, user, who, "", password)
	if err == nil && !right {
		err = ErrRefused
	}
	return user, err
}

// ChangePassword gives the caller another password, when the one before is right; ErrRefused says that it is not, and
// a *models.Error that the new one may not be chosen. Their other sessions end, and this one goes on under a new
// token; with tokens, their access tokens end too.
func (a *Auth) ChangePassword(ctx context.Context, who models.Who, before, password string, tokens bool) error {
	user, err := a.confirmed(ctx, who, before)
	if err != nil {
		return err
	}
	var academy string
	err = a.store.Read(ctx, who, func(tx *store.Tx) error {
		academy, err = tx.AcademyName()
		return err
	})
	if err != nil {
		return err
	}
	hash, err := a.hash(ctx, password, user.Login, user.Name, academy)
	if err != nil {
		return err
	}
	secret, kept, err := NewSecret(rand.Reader)
	if err != nil {
		return err
	}
	err = a.store.Write(ctx, who, func(tx *store.Tx) error {
		if err := tx.SetPassword(who.UserID, hash); err != nil {
			return err
		}
		if tokens {
			if err := tx.EndAccessTokens(); err != nil {
				return err
			}
		}
		return tx.RememberDevice(kept)
	})
	if err != nil {
		return err
	}
	a.remember(browserOf(ctx), secret)
	return a.begin(ctx, who, false)
}

// EndOtherSessions ends all sessions of the caller but the one of ctx.
func (a *Auth) EndOtherSessions(ctx context.Context, who models.Who) error {
	return a.store.Write(ctx, who, func(tx *store.Tx) error { return tx.EndOtherSessions(a.Session(ctx)) })
}
