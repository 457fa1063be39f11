package auth

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/scs/v2"
	"github.com/alexedwards/scs/v2/memstore"

	"throughline/models"
)

// lifetime is how long a session lasts at most: a long working day. The cookie itself goes when the browser is closed.
const lifetime = 12 * time.Hour

// What a session holds.
const (
	academyKey = "academy"
	userKey    = "user"
)

// ErrRefused says that a name and a password do not belong together, and not which of the two is wrong.
var ErrRefused = errors.New("the name and the password do not belong together")

// SessionCookie is the name of the session's cookie. It is HttpOnly and SameSite=Lax. Reached by HTTPS it is also Secure, with a
// name that ties it to this one host. Over plain HTTP it is not: programs such as curl would never send a Secure cookie back, and
// beyond the own machine neither would a browser, so that nobody could sign in.
func SessionCookie(secure bool) string {
	if secure {
		return "__Host-throughline"
	}
	return "throughline"
}

func newSessions(secure bool, fail func(http.ResponseWriter, *http.Request, error)) *scs.SessionManager {
	// Written out because scs.New starts a goroutine that cannot be stopped reliably.
	return &scs.SessionManager{
		Lifetime:         lifetime,
		Store:            &memory{MemStore: memstore.NewWithCleanupInterval(0), expiries: map[string]time.Time{}},
		Codec:            scs.GobCodec{},
		ErrorFunc:        fail,
		HashTokenInStore: true,
		Cookie: scs.SessionCookie{
			Name: SessionCookie(secure), Path: "/", HttpOnly: true, Secure: secure, SameSite: http.SameSiteLaxMode,
		},
	}
}

// memory is a session store that throws expired sessions away whenever one is written, which is at each sign-in, and so needs no
// goroutine for it.
type memory struct {
	*memstore.MemStore
	mu       sync.Mutex
	expiries map[string]time.Time
}

// Commit keeps a session.
func (m *memory) Commit(token string, data []byte, expiry time.Time) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for t, e := range m.expiries {
		if e.Before(time.Now()) {
			if err := m.MemStore.Delete(t); err != nil {
				return err
			}
			delete(m.expiries, t)
		}
	}
	m.expiries[token] = expiry
	return m.MemStore.Commit(token, data, expiry)
}

// SignIn checks a name and a password and makes the session of ctx that person's, under a new session token. It returns ErrRefused
// where they do not belong together, after the same work whether or not there is such a name.
func (a *Auth) SignIn(ctx context.Context, login, password string) error {
	var user models.User
	var who models.Who
	if login = strings.ToLower(strings.TrimSpace(login)); utf8.ValidString(login) && !strings.Contains(login, "\x00") { // or it is no name at all
		var err error
		if user, who, err = a.people.UserByLogin(ctx, login); err != nil && models.CodeOf(err) != models.NotFound {
			return fmt.Errorf("find a person by name: %w", err)
		}
	}
	right, err := a.check(ctx, password, user.PasswordHash) // no hash for nobody
	if err != nil {
		return err
	}
	if !right {
		return ErrRefused
	}
	// A token that was known before the sign-in must not be worth more after it.
	if err := a.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("begin a session: %w", err)
	}
	a.sessions.Put(ctx, academyKey, who.AcademyID)
	a.sessions.Put(ctx, userKey, who.UserID)
	return nil
}

// SignOut ends the session of ctx, if there is one.
func (a *Auth) SignOut(ctx context.Context) error {
	if err := a.sessions.Destroy(ctx); err != nil {
		return fmt.Errorf("end a session: %w", err)
	}
	return nil
}

// bySession returns whose session the request belongs to, or the zero Who for nobody's. The session of somebody who is no longer
// kept ends here.
func (a *Auth) bySession(r *http.Request) (models.Who, error) {
	ctx := r.Context()
	user := a.sessions.GetInt64(ctx, userKey)
	if user == 0 {
		return models.Who{}, nil
	}
	who, err := a.people.WhoByID(ctx, a.sessions.GetInt64(ctx, academyKey), user)
	if models.CodeOf(err) == models.NotFound {
		return models.Who{}, a.SignOut(ctx)
	}
	if err != nil {
		return models.Who{}, fmt.Errorf("find whose session it is: %w", err)
	}
	return who, nil
}
