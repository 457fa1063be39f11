// Package auth finds out who is asking. A person signs in with a name and a password and is known by a session cookie from then
// on; a program sends an access token with every request. Either way one models.Who is made where the request enters, and everything below
// is handed that one.
package auth

import (
	"context"
	"net/http"
	"runtime"

	"github.com/alexedwards/scs/v2"

	"throughline/models"
)

// People is what is kept of those who may ask; the store satisfies it. Its methods return a *models.Error of code NotFound for
// nobody.
type People interface {
	UserByLogin(ctx context.Context, login string) (models.User, models.Who, error)
	WhoByID(ctx context.Context, academy, user int64) (models.Who, error)
	WhoByToken(ctx context.Context, sha256 []byte) (models.Who, error)
}

// Fail answers a request that goes no further: with 401 where a token is nobody's, with 500 where err is to be logged.
type Fail func(w http.ResponseWriter, r *http.Request, status int, err error)

// Auth knows the people of one server. Sessions are held in memory: after a restart everybody signs in again.
type Auth struct {
	people   People
	sessions *scs.SessionManager
	fail     Fail
	// hashing has one place for each password that is checked at the same time, since each check takes Memory KiB and a core.
	hashing chan struct{}
}

// New returns the sign-in of one server. Secure says that people reach it by HTTPS; see SessionCookie for what follows.
func New(people People, secure bool, fail Fail) *Auth {
	a := &Auth{people: people, fail: fail, hashing: make(chan struct{}, runtime.GOMAXPROCS(0))}
	a.sessions = newSessions(secure, func(w http.ResponseWriter, r *http.Request, err error) {
		fail(w, r, http.StatusInternalServerError, err)
	})
	return a
}

type whoKey struct{}

// Who returns who is asking, or false for somebody who has not signed in.
func Who(ctx context.Context) (models.Who, bool) {
	who, ok := ctx.Value(whoKey{}).(models.Who)
	return who, ok
}

// Handler finds out who is asking and hands the request on. An Authorization header decides alone; without one the session cookie
// does. A stranger is handed on without a Who: next decides what a stranger may see.
func (a *Auth) Handler(next http.Handler) http.Handler {
	return a.sessions.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// The answer depends on both, whichever was sent; the session's layer has named the cookie.
		w.Header().Add("Vary", "Authorization")
		find := a.bySession
		if _, sent := r.Header["Authorization"]; sent {
			find = a.byToken
		}
		who, err := find(r)
		switch {
		case models.CodeOf(err) == models.NotFound:
			a.fail(w, r, http.StatusUnauthorized, nil)
			return
		case err != nil:
			a.fail(w, r, http.StatusInternalServerError, err)
			return
		case who.Role != "":
			r = r.WithContext(context.WithValue(r.Context(), whoKey{}, who))
		}
		next.ServeHTTP(w, r)
	}))
}
