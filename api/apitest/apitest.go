// Package apitest serves a small academy to tests of what people and programs reach: a real server over a real store,
// and clients who sign in to it.
package apitest

import (
	"bytes"
	"context"
	"crypto/rand"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"throughline/api"
	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/chart"
)

// Password is everybody's.
const Password = "tawny-owl-29-fence"

// Now is what the clock of the server shows, so that reports have a date.
var Now = time.Date(2025, 12, 1, 9, 0, 0, 0, time.UTC)

// Academy is two squads in one season. Ansel coaches and Sorrel selects for the under 18s, in which Bryn and Owen
// play, Owen for the under 16s too; Mabyn, the manager, sees everybody, Tam of the under 16s included. Bryn and Owen
// have users of their own, and so has Perran, who is in no squad yet. Edda is the manager of another academy, where
// Wystan plays. Orla is an operator of the deployment.
type Academy struct {
	URL    string
	Store  *store.Store
	Server *api.Server
	Log    *Log
	ID     int64

	Season, Earlier, OtherSeason models.Season
	Under18, Under16             models.Squad
	Bryn, Owen, Tam, Wystan      models.Player

	tokens map[string]string
	stop   func()
}

// Stop stops the server, so that all it had to log has been logged.
func (a *Academy) Stop() { a.stop() }

// Log is what a server has logged so far.
type Log struct {
	mu sync.Mutex
	b  bytes.Buffer
}

// Write adds to the log.
func (l *Log) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

// String returns the log.
func (l *Log) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// Serve fills a store with the academy and serves it until the test ends. Change, where there is any, sets what the
// test needs otherwise.
func Serve(t testing.TB, s *store.Store, change ...func(*api.Options)) *Academy {
	t.Helper()
	a := &Academy{Store: s, Log: &Log{}, tokens: map[string]string{}}
	a.fill(t)
	a.fillOther(t)
	a.fillDeployment(t)
	a.serve(t, change...)
	return a
}

// Empty serves a database on SQLite that has no academy, and returns the setup code with which one is made.
func Empty(t testing.TB, change ...func(*api.Options)) (a *Academy, code string) {
	t.Helper()
	s, err := store.Open(t.Context(), storetest.SQLite(t), store.Options{Now: storetest.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	code, first, err := auth.NewFirstRun(rand.Reader, nil)
	if err != nil {
		t.Fatal(err)
	}
	a = &Academy{Store: s, Log: &Log{}, tokens: map[string]string{}}
	a.serve(t, append(change, func(o *api.Options) { o.First = first })...)
	return a, code
}

// serve serves the store until the test ends.
func (a *Academy) serve(t testing.TB, change ...func(*api.Options)) {
	t.Helper()
	server := NewServer(t, a.Store, a.Log, change...)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	a.Server = server
	a.URL = "http://" + ln.Addr().String()
	ctx, stop := context.WithCancel(context.Background())
	stopped := make(chan error, 1)
	go func() { stopped <- server.Serve(ctx, ln) }()
	a.stop = sync.OnceFunc(func() {
		stop()
		if err := <-stopped; err != nil {
			t.Errorf("the server did not stop well: %v", err)
		}
	})
	t.Cleanup(a.stop)
}

// OnSQLite is Serve for tests of what does not depend on the database: on SQLite alone.
func OnSQLite(t testing.TB, change ...func(*api.Options)) *Academy {
	t.Helper()
	s, err := store.Open(t.Context(), storetest.SQLite(t), store.Options{Now: storetest.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return Serve(t, s, change...)
}

// charts draws for every server of the process: an engine takes a while to get ready.
var charts = sync.OnceValue(func() *chart.Renderer { return chart.NewRenderer(0) })

// passwordHash is the hash of Password, made once.
var passwordHash = sync.OnceValues(func() (string, error) { return auth.HashPassword(Password) })

// NewServer returns a server over a store, as the program makes it.
func NewServer(t testing.TB, s *store.Store, log io.Writer, change ...func(*api.Options)) *api.Server {
	t.Helper()
	papers, err := reports.Papers(charts())
	if err != nil {
		t.Fatal(err)
	}
	options := api.Options{
		Store: s, Papers: papers, Log: slog.New(slog.NewTextHandler(log, nil)), Now: func() time.Time {
			return Now
		}, Version: "test",
	}
	for _, c := range change {
		c(&options)
	}
	server, err := api.New(options)
	if err != nil {
		t.Fatal(err)
	}
	return server
}

func (a *Academy) fill(t testing.TB) {
	academy, err := a.Store.CreateAcademy(t.Context(), "Northmoor Rugby Academy")
	if err != nil {
		t.Fatal(err)
	}
	a.ID = academy.ID
	hash, err := passwordHash()
	if err != nil {
		t.Fatal(err)
	}
	err = a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		b := builder{tx: tx, hash: hash, tokens: a.tokens}
		a.Earlier = models.Season{Name: "2024-25", Starts: "2024-08-01", Ends: "2025-06-30"}
		a.Season = models.Season{Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"}
		a.Under18 = models.Squad{Name: "Under 18", AgeBand: 18, BandMonth: 9}
		a.Under16 = models.Squad{Name: "Under 16", AgeBand: 16, BandMonth: 9}
		b.do(tx.CreateSeason(&a.Earlier))
		b.do(tx.CreateSeason(&a.Season))
		b.do(tx.CreateSquad(&a.Under18))
		b.do(tx.CreateSquad(&a.Under16))
		a.Bryn = b.player("Bryn Calder", models.Flanker)
		a.Owen = b.player("Owen Tarrant", models.FlyHalf, models.Centre)
		a.Tam = b.player("Tam Veale", models.Hooker)
		b.member(a.Earlier, a.Under16, a.Bryn)
		b.member(a.Season, a.Under18, a.Bryn)
		b.member(a.Season, a.Under18, a.Owen)
		b.member(a.Season, a.Under16, a.Tam)
		b.member(a.Season, a.Under16, a.Owen)
		b.user("mabyn", "Mabyn Orrell", models.RoleManager, 0)
		b.user("ansel", "Ansel Brock", models.RoleCoach, 0, a.Under18.ID)
		b.user("sorrel", "Sorrel Dane", models.RoleSelector, 0, a.Under18.ID)
		b.user("bryn", "Bryn Calder", models.RolePlayer, a.Bryn.ID)
		b.user("owen", "Owen Tarrant", models.RolePlayer, a.Owen.ID)
		b.user("perran", "Perran Gale", models.RolePlayer, b.player("Perran Gale").ID)
		for i, day := range []models.Date{"2025-09-06", "2025-09-20", "2025-10-04", "2025-10-18", "2025-11-01"} {
			m := b.match(a.Season, &a.Under18, day, "Oakford")
			b.appearance(m, a.Bryn, 70, models.Counts{"carries": float64(5 + i), "tackles_made": float64(8 + i%3),
				"tackles_missed": 1})
			b.appearance(m, a.Owen, 41, models.Counts{"carries": 3, "tackles_made": 4, "tackles_missed": 2})
		}
		school := b.match(a.Season, nil, "2025-11-05", "Highcombe")
		b.appearance(school, a.Bryn, 35, nil)
		return b.err
	})
	if err != nil {
		t.Fatalf("fill the academy: %v", err)
	}
}

func (a *Academy) fillOther(t testing.TB) {
	academy, err := a.Store.CreateAcademy(t.Context(), "Southmoor Rugby Academy")
	if err != nil {
		t.Fatal(err)
	}
	hash, err := passwordHash()
	if err != nil {
		t.Fatal(err)
	}
	err = a.Store.Write(t.Context(), models.Console(academy.ID), func(tx *store.Tx) error {
		b := builder{tx: tx, hash: hash, tokens: a.tokens}
		a.OtherSeason = models.Season{Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"}
		b.do(tx.CreateSeason(&a.OtherSeason))
		squad := models.Squad{Name: "Under 18"}
		b.do(tx.CreateSquad(&squad))
		a.Wystan = b.player("Wystan Rudd", models.Prop)
		b.member(a.OtherSeason, squad, a.Wystan)
		b.user("edda", "Edda Marsh", models.RoleManager, 0)
		return b.err
	})
	if err != nil {
		t.Fatalf("fill the other academy: %v", err)
	}
}

func (a *Academy) fillDeployment(t testing.TB) {
	hash, err := passwordHash()
	if err != nil {
		t.Fatal(err)
	}
	err = a.Store.Write(t.Context(), models.Console(models.Deployment), func(tx *store.Tx) error {
		b := builder{tx: tx, hash: hash, tokens: a.tokens}
		b.user("orla", "Orla Finch", models.RoleOperator, 0)
		return b.err
	})
	if err != nil {
		t.Fatalf("fill the deployment: %v", err)
	}
}

// builder adds records, and remembers the first error.
type builder struct {
	tx     *store.Tx
	hash   string
	tokens map[string]string
	err    error
}

func (b *builder) do(err error) {
	if b.err == nil {
		b.err = err
	}
}

func (b *builder) player(name string, positions ...models.Position) models.Player {
	p := models.Player{Name: name, Positions: positions}
	b.do(b.tx.CreatePlayer(&p))
	return p
}

func (b *builder) member(season models.Season, squad models.Squad, player models.Player) {
	b.do(b.tx.CreateMembership(&models.Membership{SeasonID: season.ID, SquadID: squad.ID, PlayerID: player.ID,
		From: season.Starts}))
}

func (b *builder) user(login, name string, role models.Role, player int64, squads ...int64) {
	u := models.User{Login: login, Name: name, Role: role, PasswordHash: b.hash}
	if player != 0 {
		u.PlayerID = &player
	}
	b.do(b.tx.CreateUser(&u))
	for _, squad := range squads {
		b.do(b.tx.AddSquadStaff(u.ID, squad))
	}
	token, hash, err := auth.NewToken(rand.Reader)
	b.do(err)
	b.do(b.tx.CreateAccessToken(&models.AccessToken{UserID: u.ID, Label: "test", Scope: models.ScopeWrite,
		ExpiresAt: b.tx.Now().AddDate(0, 6, 0), Hash: hash}))
	b.tokens[login] = token
}

func (b *builder) match(season models.Season, squad *models.Squad, day models.Date, opponent string) models.Match {
	m := models.Match{SeasonID: season.ID, Date: day, Opponent: opponent, Halves: 2, HalfMinutes: 35}
	if squad == nil {
		m.OtherTeam = "Highcombe School"
	} else {
		m.SquadID = &squad.ID
	}
	b.do(b.tx.CreateMatch(&m))
	return m
}

func (b *builder) appearance(m models.Match, player models.Player, minutes float64, counts models.Counts) {
	b.do(b.tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: player.ID, Minutes: minutes}))
	if counts != nil {
		b.do(b.tx.CreateMatchTotals(&models.MatchTotals{MatchID: m.ID, PlayerID: player.ID, Source: "test", Counts: counts}))
	}
}

// Client is a person at a browser or a program. Redirects are not followed.
type Client struct {
	t     testing.TB
	base  string
	http  *http.Client
	token string
}

// browserJar keeps cookies as browsers do: a Secure one travels to an address of the machine itself too, whatever the
// scheme, since that is as trustworthy as HTTPS (Secure Contexts §3.1). Go's own jar sends it by HTTPS alone.
type browserJar struct{ http.CookieJar }

// SetCookies keeps cookies.
func (j browserJar) SetCookies(u *url.URL, all []*http.Cookie) {
	j.CookieJar.SetCookies(trusted(u), all)
}

// Cookies returns those to send.
func (j browserJar) Cookies(u *url.URL) []*http.Cookie { return j.CookieJar.Cookies(trusted(u)) }

func trusted(u *url.URL) *url.URL {
	if at, err := netip.ParseAddr(u.Hostname()); err != nil || !at.IsLoopback() {
		return u
	}
	safe := *u
	safe.Scheme = "https"
	return &safe
}

// Stranger returns a person who has not signed in.
func (a *Academy) Stranger(t testing.TB) *Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	transport := &http.Transport{}
	t.Cleanup(transport.CloseIdleConnections)
	return &Client{t: t, base: a.URL, http: &http.Client{
		Jar: browserJar{jar}, Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error {
			return http.ErrUseLastResponse
		},
	}}
}

// SignIn returns a person who has signed in on the page.
func (a *Academy) SignIn(t testing.TB, login string) *Client {
	t.Helper()
	c := a.Stranger(t)
	if got := c.Post("/sign-in", url.Values{"user": {login}, "password": {Password}}); got.Status != http.StatusSeeOther {
		t.Fatalf("sign in as %s: %d\n%s", login, got.Status, got.Body)
	}
	return c
}

// Program returns a program that holds a person's token.
func (a *Academy) Program(t testing.TB, login string) *Client {
	t.Helper()
	c := a.Stranger(t)
	c.token = a.Token(login)
	return c
}

// ProgramOf returns a program that acts as a user of any academy in the store, with a token made for it.
func (a *Academy) ProgramOf(t testing.TB, academy, user int64) *Client {
	t.Helper()
	token, hash, err := auth.NewToken(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	err = a.Store.Write(t.Context(), models.Console(academy), func(tx *store.Tx) error {
		return tx.CreateAccessToken(&models.AccessToken{
			UserID: user, Label: "test", Scope: models.ScopeWrite, ExpiresAt: tx.Now().AddDate(0, 6, 0), Hash: hash,
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	c := a.Stranger(t)
	c.token = token
	return c
}

// Token returns a person's access token.
func (a *Academy) Token(login string) string { return a.tokens[login] }

// Answer is what a server answered.
type Answer struct {
	Status int
	Header http.Header
	Body   string
}

// Get fetches a path. Headers are names and values in turn.
func (c *Client) Get(path string, headers ...string) Answer {
	c.t.Helper()
	return c.Do(http.MethodGet, path, nil, headers...)
}

// Post sends a form.
func (c *Client) Post(path string, form url.Values, headers ...string) Answer {
	c.t.Helper()
	return c.Do(http.MethodPost, path, strings.NewReader(form.Encode()),
		append([]string{"Content-Type", "application/x-www-form-urlencoded"}, headers...)...)
}

// Do sends a request.
func (c *Client) Do(method, path string, body io.Reader, headers ...string) Answer {
	c.t.Helper()
	r, err := http.NewRequestWithContext(c.t.Context(), method, c.base+path, body)
	if err != nil {
		c.t.Fatal(err)
	}
	if c.token != "" {
		r.Header.Set("Authorization", "Bearer "+c.token)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	res, err := c.http.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	got, err := io.ReadAll(res.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return Answer{Status: res.StatusCode, Header: res.Header, Body: string(got)}
}
