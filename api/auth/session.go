package auth

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"

	"throughline/models"
	"throughline/models/store"
)

const (
	// lifetime is how long a session lasts at most: a long working day. The cookie itself goes when the browser is
	// closed.
	lifetime = 12 * time.Hour
	// DefaultIdle is how long a session lasts that is not used: longer than a match or a meeting between two looks.
	DefaultIdle = 2 * time.Hour
	// pending is how long a person whose password was right has for their one-time code.
	pending = 10 * time.Minute
)

// What a session holds.
const (
	academyKey = "academy"
	userKey    = "user"
	// the password was right, and the code of the second factor is still to come: until then it opens nothing
	pendingKey = "pending"
	// with which a form opens that the same user sent after an earlier session had ended; see Seal
	sealKey = "seal"
)

// SessionCookie is the name of the session's cookie. It is HttpOnly and SameSite=Lax. Secure says that browsers keep a
// Secure cookie of this server: it is reached by HTTPS, or at an address of the machine itself, which browsers trust
// as much (Secure Contexts §3.1). It is Secure then, under a name that ties it to this one host. Reached by plain HTTP
// from other machines, no browser would send a Secure cookie back, and no one could sign in.
func SessionCookie(secure bool) string {
	if secure {
		return "__Host-throughline"
	}
	return "throughline"
}

func newSessions(store scs.CtxStore, secure bool, fail func(http.ResponseWriter, *http.Request,
	error)) *scs.SessionManager {
	// Written out because scs.New starts a goroutine that cannot be stopped reliably. It has no idle time of its own,
	// which would write at each request.
	return &scs.SessionManager{
		Lifetime:         lifetime,
		Store:            store,
		Codec:            scs.GobCodec{},
		ErrorFunc:        fail,
		HashTokenInStore: true,
		Cookie: scs.SessionCookie{
			Name: SessionCookie(secure), Path: "/", HttpOnly: true, Secure: secure, SameSite: http.SameSiteLaxMode,
		},
	}
}

// kept keeps sessions in the database. When they end is the store's to say, by its own clock.
type kept struct {
	store *store.Store
	idle  time.Duration
}

// errNoContext says that a session was asked for without a context, which the session manager never does.
var errNoContext = errors.New("sessions can be used only within a request")

// Find is there because the interface has it.
func (k kept) Find(string) ([]byte, bool, error) { return nil, false, errNoContext }

// Commit is there because the interface has it.
func (k kept) Commit(string, []byte, time.Time) error { return errNoContext }

// Delete is there because the interface has it.
func (k kept) Delete(string) error { return errNoContext }

// FindCtx returns what is remembered about a session, and moves its end.
func (k kept) FindCtx(ctx context.Context, key string) ([]byte, bool, error) {
	found, err := k.store.Session(ctx, key)
	if models.CodeOf(err) == models.NotFound {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	_, values, err := scs.GobCodec{}.Decode(found.Data)
	if err != nil {
		return nil, false, fmt.Errorf("read a session: %w", err)
	}
	if values[pendingKey] != true {
		if err := k.store.ProlongSession(ctx, found, k.idle, lifetime); err != nil {
			return nil, false, err
		}
	}
	return found.Data, true, nil
}

// CommitCtx keeps a session of a person. No one's is not worth keeping.
func (k kept) CommitCtx(ctx context.Context, key string, data []byte, _ time.Time) error {
	_, values, err := scs.GobCodec{}.Decode(data)
	if err != nil {
		return fmt.Errorf("save a session: %w", err)
	}
	academy, _ := values[academyKey].(int64)
	user, _ := values[userKey].(int64)
	if user == 0 {
		return nil
	}
	lasts := min(k.idle, lifetime)
	if values[pendingKey] == true {
		lasts = pending
	}
	return k.store.KeepSession(ctx, models.Session{Key: key, AcademyID: academy, UserID: user, Data: data}, lasts)
}

// DeleteCtx ends a session.
func (k kept) DeleteCtx(ctx context.Context, key string) error {
	if key == keyOf("") { // no session: only the cookie goes
		return nil
	}
	return k.store.EndSession(ctx, key)
}

// begin makes the session of ctx a person's, under a new token: one that was known before must not be worth more now.
func (a *Auth) begin(ctx context.Context, who models.Who, waits bool) error {
	if err := a.passOn(ctx, who); err != nil {
		return err
	}
	if err := a.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("start a session: %w", err)
	}
	a.sessions.Put(ctx, academyKey, who.AcademyID)
	a.sessions.Put(ctx, userKey, who.UserID)
	a.sessions.Remove(ctx, pendingKey)
	if waits {
		a.sessions.Put(ctx, pendingKey, true)
	}
	return nil
}

// SignOut ends the session of ctx, if there is one.
func (a *Auth) SignOut(ctx context.Context) error {
	if who, known := Who(ctx); known && who.TokenID == 0 {
		if err := a.store.SignedOut(ctx, who); err != nil {
			return err
		}
	}
	return a.end(ctx)
}

func (a *Auth) end(ctx context.Context) error {
	if err := a.sessions.Destroy(ctx); err != nil {
		return fmt.Errorf("end a session: %w", err)
	}
	return nil
}

// bySession returns whose session the request belongs to, or the zero Who for no one's, and for one in which a code is
// still to come. The session of a person who is no longer kept ends here.
func (a *Auth) bySession(r *http.Request) (models.Who, error) {
	ctx := r.Context()
	user := a.sessions.GetInt64(ctx, userKey)
	if user == 0 || a.sessions.GetBool(ctx, pendingKey) {
		return models.Who{}, nil
	}
	who, err := a.store.WhoByID(ctx, a.sessions.GetInt64(ctx, academyKey), user)
	if models.CodeOf(err) == models.NotFound {
		return models.Who{}, a.end(ctx)
	}
	if err != nil {
		return models.Who{}, fmt.Errorf("find the user of a session: %w", err)
	}
	return who, nil
}

// Session is the key under which the session of ctx is kept: see models.Session.
func (a *Auth) Session(ctx context.Context) string {
	return keyOf(a.sessions.Token(ctx))
}

// keyOf is the key of a session by its token, as the session manager makes it.
func keyOf(token string) string { return base64.RawURLEncoding.EncodeToString(hashOf(token)) }
