package auth

import (
	"context"
	"net/http"
	"runtime"
	"time"

	"github.com/alexedwards/scs/v2"

	"throughline/models"
	"throughline/models/store"
)

// Fail answers a request that goes no further: with 401 where a token is no one's, with 500 where err is to be logged.
type Fail func(w http.ResponseWriter, r *http.Request, status int, err error)

// Options say what a sign-in needs.
type Options struct {
	Store  *store.Store
	Now    func() time.Time // the clock that one-time codes follow
	Secure bool             // see SessionCookie
	Idle   time.Duration    // after which a session that is not used ends; DefaultIdle when 0
	Fail   Fail
	First  *FirstRun // accepts the setup code of an empty deployment; nil: none is accepted
}

// Auth knows the people of one server. Their sessions are kept in the database.
type Auth struct {
	store    *store.Store
	now      func() time.Time
	secure   bool
	sessions *scs.SessionManager
	kept     kept
	fail     Fail
	hashing  hashing
	first    *FirstRun
}

// Idle is how long a session lasts that is not used.
func (a *Auth) Idle() time.Duration { return a.kept.idle }

// New returns the sign-in of one server.
func New(o Options) *Auth {
	if o.Idle == 0 {
		o.Idle = DefaultIdle
	}
	a := &Auth{
		store: o.Store, now: o.Now, secure: o.Secure, kept: kept{o.Store, o.Idle}, fail: o.Fail,
		hashing: newHashing(max(1, runtime.GOMAXPROCS(0)-1)), first: o.First,
	}
	a.sessions = newSessions(a.kept, o.Secure, func(w http.ResponseWriter, r *http.Request, err error) {
		o.Fail(w, r, http.StatusInternalServerError, err)
	})
	return a
}

type (
	whoKey  struct{}
	fromKey struct{}
)

// Who returns the caller, or false for a person who has not signed in.
func Who(ctx context.Context) (models.Who, bool) {
	who, ok := ctx.Value(whoKey{}).(models.Who)
	return who, ok
}

// WithFrom adds where a request comes from, which Handler puts into models.Who.
func WithFrom(ctx context.Context, from string) context.Context {
	return context.WithValue(ctx, fromKey{}, from)
}

// from is where a request comes from, or empty if no one said it.
func from(ctx context.Context) string {
	at, _ := ctx.Value(fromKey{}).(string)
	return at
}

// Handler finds out who the caller is and passes the request on. An Authorization header decides alone; without one
// the session cookie does. A token is read only from that header: in an address it would be kept in logs. A stranger's
// request has no Who: next decides what a stranger may see.
func (a *Auth) Handler(next http.Handler) http.Handler {
	return a.sessions.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// The answer depends on both, whichever was sent; the session's layer has named the cookie.
		w.Header().Add("Vary", "Authorization")
		find := a.bySession
		if _, sent := r.Header["Authorization"]; sent {
			find = a.byToken
		}
		r = r.WithContext(a.withBrowser(r.Context(), w, r))
		who, err := find(r)
		switch {
		case models.CodeOf(err) == models.NotFound:
			a.fail(w, r, http.StatusUnauthorized, nil)
			return
		case err != nil:
			a.fail(w, r, http.StatusInternalServerError, err)
			return
		case who.Role != "":
			who.From = from(r.Context())
			r = r.WithContext(context.WithValue(r.Context(), whoKey{}, who))
		}
		next.ServeHTTP(w, r)
	}))
}
