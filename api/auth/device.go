package auth

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"net/http"
	"strings"
	"time"

	"throughline/models"
	"throughline/models/store"
)

// A browser in which a user has signed in has attempts of its own, so a stranger elsewhere cannot keep the user
// waiting there. It is known by a cookie with a secret for each user who has signed in, the latest first: the staff of
// a club may share a machine. A secret opens nothing, and each sign-in replaces it.
const (
	mostSecrets  = 8
	secretLength = 43 // 256 bits in base64url
)

// deviceCookie is the name of the cookie. Secure is as for SessionCookie.
func deviceCookie(secure bool) string { return SessionCookie(secure) + "-device" }

type browserKey struct{}

// browser is what a request is answered to.
type browser struct {
	w       http.ResponseWriter
	secrets []string // of its cookie
	token   string   // of its session, which may have ended
}

// withBrowser adds the browser of a request.
func (a *Auth) withBrowser(ctx context.Context, w http.ResponseWriter, r *http.Request) context.Context {
	b := &browser{w: w}
	if c, err := r.Cookie(deviceCookie(a.secure)); err == nil {
		for _, secret := range strings.SplitN(c.Value, ".", mostSecrets+1) {
			if len(secret) == secretLength && len(b.secrets) < mostSecrets {
				b.secrets = append(b.secrets, secret)
			}
		}
	}
	if c, err := r.Cookie(SessionCookie(a.secure)); err == nil {
		b.token = c.Value
	}
	return context.WithValue(ctx, browserKey{}, b)
}

func browserOf(ctx context.Context) *browser {
	b, _ := ctx.Value(browserKey{}).(*browser)
	return b
}

// hashes are what is kept of the browser's secrets.
func (b *browser) hashes() [][]byte {
	var all [][]byte
	for _, secret := range b.secrets {
		all = append(all, hashOf(secret))
	}
	return all
}

// remember gives the browser another secret, beside those that it had.
func (a *Auth) remember(b *browser, secret string) {
	b.secrets = append([]string{secret}, b.secrets[:min(len(b.secrets), mostSecrets-1)]...)
	http.SetCookie(b.w, &http.Cookie{
		Name: deviceCookie(a.secure), Value: strings.Join(b.secrets,
			"."), Path: "/", MaxAge: int(models.LongestDevice / time.Second),
		HttpOnly: true, Secure: a.secure, SameSite: http.SameSiteLaxMode,
	})
}

// attempt takes one attempt at a part of signing in as who, or as a login that no user has.
func (a *Auth) attempt(ctx context.Context, who models.Who, part models.SignInPart, login string) error {
	try := store.SignInTry{AcademyID: who.AcademyID, UserID: who.UserID, Part: part, Devices: browserOf(ctx).hashes()}
	if who.UserID == 0 {
		sum := sha256.Sum256([]byte(login))
		try.AcademyID, try.Place = models.Deployment, int64(1+binary.BigEndian.Uint64(sum[:])%models.UnknownNames)
	}
	wait, err := a.store.TryToSignIn(ctx, try)
	if err == nil && wait > 0 {
		err = &TooMany{wait}
	}
	return err
}

// letIn makes the session of ctx that of a user, who has shown everything that is asked for.
func (a *Auth) letIn(ctx context.Context, who models.Who) error {
	who.From = from(ctx)
	secret, hash, err := NewSecret(rand.Reader)
	if err != nil {
		return err
	}
	b := browserOf(ctx)
	if err := a.store.SignedIn(ctx, who, b.hashes(), hash); err != nil {
		return err
	}
	a.remember(b, secret)
	return a.begin(ctx, who, false)
}
