package auth_test

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

const password = "k7mr-w2xp-h9qd"

// scene is a server that serves one small academy: /in?user=&password=, /code?code=, /join/{secret}?password=, /out,
// and / with the name of the caller and from where.
type scene struct {
	t       *testing.T
	s       *store.Store
	now     time.Time
	url     string
	academy int64
	ansel   models.User // a coach
	token   string      // of theirs, for writing
	auth    *auth.Auth
	handler http.Handler
}

// open opens the scene. Secure is as for auth.SessionCookie.
func open(t *testing.T, url string, secure bool) *scene {
	t.Helper()
	c := &scene{t: t, now: storetest.Now()}
	clock := func() time.Time { return c.now }
	s := storetest.With(t, url, store.Options{Now: clock})
	c.s = s
	academy, err := s.CreateAcademy(t.Context(), "Northmoor Rugby Academy")
	if err != nil {
		t.Fatal(err)
	}
	c.academy = academy.ID
	hash, err := auth.HashPassword(password)
	if err != nil {
		t.Fatal(err)
	}
	token, sum, err := auth.NewToken(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c.token = token
	c.ansel = models.User{Login: "ansel", Name: "Ansel Brock", Role: models.RoleCoach, PasswordHash: hash}
	err = s.Write(t.Context(), models.Console(c.academy), func(tx *store.Tx) error {
		mabyn := models.User{Login: "mabyn", Name: "Mabyn Orrell", Role: models.RoleManager}
		if err := errors.Join(tx.CreateUser(&mabyn), tx.CreateUser(&c.ansel)); err != nil {
			return err
		}
		return tx.CreateAccessToken(&models.AccessToken{UserID: c.ansel.ID, Label: "x", Scope: models.ScopeWrite,
			ExpiresAt: c.now.AddDate(0, 1, 0), Hash: sum})
	})
	if err != nil {
		t.Fatal(err)
	}
	a := auth.New(auth.Options{Store: s, Now: clock, Secure: secure, Fail: func(w http.ResponseWriter, _ *http.Request,
		status int, err error) {
		w.WriteHeader(status)
		if err != nil {
			io.WriteString(w, err.Error())
		}
	}})
	c.auth = a
	say := func(w http.ResponseWriter, code bool, err error) {
		var many *auth.TooMany
		switch {
		case errors.As(err, &many):
			w.WriteHeader(http.StatusTooManyRequests)
		case err != nil:
			w.WriteHeader(http.StatusTeapot)
			io.WriteString(w, err.Error())
		case code:
			io.WriteString(w, "code")
		}
	}
	mux := http.NewServeMux()
	mux.HandleFunc("/in", func(w http.ResponseWriter, r *http.Request) {
		code, err := a.SignIn(r.Context(), r.FormValue("user"), r.FormValue("password"))
		say(w, code, err)
	})
	mux.HandleFunc("/code", func(w http.ResponseWriter, r *http.Request) {
		say(w, false, a.SignInCode(r.Context(), r.FormValue("code")))
	})
	mux.HandleFunc("/join/{secret}", func(w http.ResponseWriter, r *http.Request) {
		code, err := a.Join(r.Context(), r.PathValue("secret"), r.FormValue("password"))
		say(w, code, err)
	})
	mux.HandleFunc("/password", func(w http.ResponseWriter, r *http.Request) {
		who, _ := auth.Who(r.Context())
		say(w, false, a.ChangePassword(r.Context(), who, r.FormValue("before"), r.FormValue("password"),
			r.FormValue("tokens") != ""))
	})
	mux.HandleFunc("/out", func(w http.ResponseWriter, r *http.Request) {
		if err := a.SignOut(r.Context()); err != nil {
			t.Error(err)
		}
	})
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		if who, ok := auth.Who(r.Context()); ok {
			fmt.Fprint(w, who.Name, " ", who.From)
		} else {
			io.WriteString(w, "stranger")
		}
	})
	handler := a.Handler(mux)
	c.handler = handler
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		handler.ServeHTTP(w, r.WithContext(auth.WithFrom(r.Context(), "192.0.2.1")))
	}))
	t.Cleanup(server.Close)
	c.url = server.URL
	return c
}

// each opens the scene on each database, by plain HTTP.
func each(t *testing.T, test func(t *testing.T, c *scene)) {
	storetest.EachURL(t, func(t *testing.T, url string) { test(t, open(t, url, false)) })
}

// ansel is the caller when they have signed in.
const ansel = "Ansel Brock 192.0.2.1"

// browser is a person at a browser.
type browser struct {
	c    *scene
	http *http.Client
}

func (c *scene) browser() *browser {
	c.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		c.t.Fatal(err)
	}
	return &browser{c, &http.Client{Jar: jar}}
}

func (b *browser) get(path string, headers ...string) (int, string, http.Header) {
	b.c.t.Helper()
	r, err := http.NewRequestWithContext(b.c.t.Context(), http.MethodGet, b.c.url+path, nil)
	if err != nil {
		b.c.t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		r.Header.Add(headers[i], headers[i+1])
	}
	res, err := b.http.Do(r)
	if err != nil {
		b.c.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		b.c.t.Fatal(err)
	}
	return res.StatusCode, string(body), res.Header
}

// is checks who the server takes a person for.
func (b *browser) is(want, when string) {
	b.c.t.Helper()
	if _, who, _ := b.get("/"); who != want {
		b.c.t.Errorf("%s it is %q; want %q", when, who, want)
	}
}

// signsIn signs Ansel in and returns the cookie.
func (b *browser) signsIn() string {
	b.c.t.Helper()
	status, said, head := b.get("/in?user=ansel&password=" + password)
	if status != http.StatusOK || said != "" {
		b.c.t.Fatalf("signing in: %d %s", status, said)
	}
	cookie, _, _ := strings.Cut(set(head, "throughline="), ";")
	return cookie
}

// set is the cookie that begins so, as an answer sets it; "" for none.
func set(head http.Header, begins string) string {
	for _, cookie := range head.Values("Set-Cookie") {
		if strings.HasPrefix(cookie, begins) {
			return cookie
		}
	}
	return ""
}

// with is a person who has a cookie.
func (c *scene) with(cookie string) string {
	c.t.Helper()
	_, who, _ := (&browser{c, &http.Client{}}).get("/", "Cookie", cookie)
	return who
}

func TestASessionLastsFromSignInToSignOut(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		b := c.browser()
		b.is("stranger", "before signing in")
		status, said, head := b.get("/in?user=+ANSEL+&password=" + password)
		if status != http.StatusOK {
			t.Fatalf("signing in: %d %s", status, said)
		}
		cookie := set(head, "throughline=")
		for _, want := range []string{"throughline=", "HttpOnly", "SameSite=Lax", "Path=/"} {
			if !strings.Contains(cookie, want) {
				t.Errorf("the cookie is %q; want it to have %s", cookie, want)
			}
		}
		for _, not := range []string{"Secure", "Expires", "Max-Age", "__Host"} {
			if strings.Contains(cookie, not) {
				t.Errorf("the cookie is %q; want it without %s over plain HTTP and for the time of one browser", cookie, not)
			}
		}
		b.is(ansel, "after signing in")
		b.get("/out")
		b.is("stranger", "after signing out")
		stolen, _, _ := strings.Cut(cookie, ";")
		if who := c.with(stolen); who != "stranger" {
			t.Errorf("with the cookie of a session that has ended it is %q; want a stranger", who)
		}
	})
}

func TestWhereABrowserKeepsItTheCookieIsSecureAndTiedToTheHost(t *testing.T) {
	c := open(t, storetest.SQLite(t), true)
	_, _, head := c.browser().get("/in?user=ansel&password=" + password)
	if cookie := set(head, "__Host-throughline="); !strings.Contains(cookie, "; Secure") || strings.Contains(cookie,
		"Domain") || !strings.Contains(cookie, "Path=/;") {
		t.Errorf("the cookie is %q; want a Secure one named __Host-throughline without a domain", cookie)
	}
}

func TestWhatIsInTheDatabaseSignsNobodyIn(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		b := c.browser()
		cookie := b.signsIn()
		_, secret, _ := strings.Cut(cookie, "=")
		who, err := c.s.WhoByID(t.Context(), c.academy, c.ansel.ID)
		if err != nil {
			t.Fatal(err)
		}
		var kept []models.Session
		if err := c.s.Read(t.Context(), who, func(tx *store.Tx) error {
			kept, err = tx.Sessions()
			return err
		}); err != nil || len(kept) != 1 {
			t.Fatalf("sessions %+v, %v", kept, err)
		}
		if kept[0].Key == secret || strings.Contains(string(kept[0].Data), secret) {
			t.Error("the database has what the cookie has")
		}
		if who := c.with("throughline=" + kept[0].Key); who != "stranger" {
			t.Errorf("with what the database has it is %q", who)
		}
	})
}

func TestWrongNamesAndPasswordsAreRefusedAlike(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		b := c.browser()
		for _, query := range []string{
			"user=ansel&password=k7mr-w2xp-h9qe", "user=ansel&password=", "user=nobody&password=" + password, "user=&password=",
			"user=mabyn&password=", "user=mabyn&password=" + password, "user=ansel&password=" + password +
				strings.Repeat("x", 5000),
			"user=%00&password=x", "user=%ff&password=x",
		} {
			status, said, head := b.get("/in?" + query)
			if status != http.StatusTeapot || said != auth.ErrRefused.Error() || head.Get("Set-Cookie") != "" {
				t.Errorf("%.40s: %d %q, cookie %q; want refused in the same words and without a cookie", query, status, said,
					head.Get("Set-Cookie"))
			}
		}
	})
}

func TestSigningInChangesTheSessionsToken(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		b := c.browser()
		first, second := b.signsIn(), b.signsIn()
		if first == second {
			t.Error("the cookie stays the same over a sign-in; want another, so that one planted before is worth nothing")
		}
		if who := c.with(first); who != "stranger" {
			t.Errorf("with the cookie from before the sign-in it is %q; want a stranger", who)
		}
	})
}

func TestAChangedPasswordEndsEveryOtherSession(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		here, there := c.browser(), c.browser()
		before := here.signsIn()
		there.signsIn()
		const next = "lantern+gravel+otter+spindle"
		for query, says := range map[string]string{
			"before=wrong&password=" + next:                        auth.ErrRefused.Error(),
			"before=" + password + "&password=short":               "at least 12",
			"before=" + password + "&password=" + "northmoorrugby": "too easy to guess", // of their own name and academy
		} {
			if status, said, _ := here.get("/password?" + query); status != http.StatusTeapot || !strings.Contains(said, says) {
				t.Errorf("%s: %d %s; want %s", query, status, said, says)
			}
		}
		there.is(ansel, "while nothing has changed")
		if status, said, _ := here.get("/password?before=" + password + "&password=" + next); status != http.StatusOK {
			t.Fatalf("changing the password: %d %s", status, said)
		}
		here.is(ansel, "where it was changed")
		there.is("stranger", "elsewhere")
		if who := c.with(before); who != "stranger" {
			t.Errorf("with the cookie from before the change it is %q; want a stranger", who)
		}
		if status, _, _ := there.get("/in?user=ansel&password=" + password); status != http.StatusTeapot {
			t.Errorf("the password from before: %d", status)
		}
		if status, _, _ := there.get("/in?user=ansel&password=" + next); status != http.StatusOK {
			t.Errorf("the new password: %d", status)
		}
	})
}

func TestASessionThatIsNotUsedEnds(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		b := c.browser()
		b.signsIn()
		c.now = c.now.Add(auth.DefaultIdle - time.Minute)
		b.is(ansel, "just before it is too long")
		c.now = c.now.Add(auth.DefaultIdle - time.Minute)
		b.is(ansel, "because it was used meanwhile")
		c.now = c.now.Add(auth.DefaultIdle)
		b.is("stranger", "after two hours unused")
	})
}

// turnOn turns Ansel's second factor on, and returns its secret.
func (c *scene) turnOn() string {
	c.t.Helper()
	who, err := c.s.WhoByID(c.t.Context(), c.academy, c.ansel.ID)
	if err != nil {
		c.t.Fatal(err)
	}
	const secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
	err = c.s.Write(c.t.Context(), who, func(tx *store.Tx) error {
		if err := tx.OfferSecondFactor(secret); err != nil {
			return err
		}
		return tx.ConfirmSecondFactor(c.now.Unix()/30 - 5)
	})
	if err != nil {
		c.t.Fatal(err)
	}
	return secret
}

func (c *scene) codeOf(secret string) string {
	c.t.Helper()
	code, err := totp.GenerateCode(secret, c.now)
	if err != nil {
		c.t.Fatal(err)
	}
	return code
}

func TestUntilTheCodeComesASessionOpensNothing(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		secret := c.turnOn()
		b := c.browser()
		if status, said, _ := b.get("/code?code=" + c.codeOf(secret)); status != http.StatusTeapot ||
			said != auth.ErrNoPassword.Error() {
			t.Errorf("a code without a password: %d %s", status, said)
		}
		status, said, head := b.get("/in?user=ansel&password=" + password)
		if status != http.StatusOK || said != "code" {
			t.Fatalf("signing in: %d %s; want that a code is asked for", status, said)
		}
		half, _, _ := strings.Cut(set(head, "throughline="), ";")
		b.is("stranger", "before the code")
		if status, said, _ := b.get("/code?code=000000"); status != http.StatusTeapot || said != auth.ErrRefused.Error() {
			t.Errorf("a wrong code: %d %s", status, said)
		}
		code := c.codeOf(secret)
		if status, said, _ := b.get("/code?code=" + code); status != http.StatusOK {
			t.Fatalf("the code: %d %s", status, said)
		}
		b.is(ansel, "after the code")
		if who := c.with(half); who != "stranger" {
			t.Errorf("with the cookie from before the code it is %q; want a stranger", who)
		}
		// Who looked over their shoulder.
		other := c.browser()
		other.get("/in?user=ansel&password=" + password)
		if status, said, _ := other.get("/code?code=" + code); status != http.StatusTeapot ||
			said != auth.ErrRefused.Error() {
			t.Errorf("a code for the second time: %d %s", status, said)
		}
		c.now = c.now.Add(11 * time.Minute)
		if status, said, _ := other.get("/code?code=" + c.codeOf(secret)); status != http.StatusTeapot ||
			said != auth.ErrNoPassword.Error() {
			t.Errorf("a code eleven minutes after the password: %d %s", status, said)
		}
	})
}

// wrong tries as often as it may, and says how often that was.
func (b *browser) wrong(user string) (n int) {
	b.c.t.Helper()
	for ; n <= 20; n++ {
		if status, _, _ := b.get("/in?user=" + user + "&password=wrong"); status == http.StatusTooManyRequests {
			break
		}
	}
	return n
}

func TestAnAccountHasTenPasswordsAndThenOneAMinuteAndSoHasANameThatNobodyHas(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		for _, user := range []string{"ansel", "nobody"} {
			if n := c.browser().wrong(user); n != 10 {
				t.Errorf("%s has %d attempts; want 10", user, n)
			}
			status, _, _ := c.browser().get("/in?user=" + strings.ToUpper(user) + "&password=" + password)
			if status != http.StatusTooManyRequests {
				t.Errorf("%s in capitals, with the right password: %d; want 429 like everybody", user, status)
			}
		}
		c.now = c.now.Add(3 * time.Minute)
		for _, user := range []string{"ansel", "nobody"} {
			if n := c.browser().wrong(user); n != 3 {
				t.Errorf("%s has %d attempts three minutes later; want 3", user, n)
			}
		}
		c.now = c.now.Add(time.Minute)
		c.browser().signsIn()
		if n := c.browser().wrong("ansel"); n != 10 {
			t.Errorf("%d attempts after the person is in; want 10", n)
		}
	})
}

// 10,200 sign-ins that were given up before they were answered made a server that remembered 10,000 names forget one
// that was locked.
func TestInventedNamesFreeNoLockedAccount(t *testing.T) {
	storetest.OneByOne(t)
	each(t, func(t *testing.T, c *scene) {
		c.browser().wrong("ansel")
		gone, cancel := context.WithCancel(t.Context())
		cancel()
		for n := range 10_200 {
			r := httptest.NewRequestWithContext(gone, http.MethodGet, fmt.Sprintf("/in?user=invented%d&password=x", n), nil)
			c.handler.ServeHTTP(httptest.NewRecorder(), r)
		}
		for n := range 20 {
			c.browser().get(fmt.Sprintf("/in?user=invented%d&password=x", n))
		}
		if status, _, _ := c.browser().get("/in?user=ansel&password=" + password); status != http.StatusTooManyRequests {
			t.Errorf("the locked account: %d; want 429 still", status)
		}
	})
}

// A password that is right must buy no guesses at the code.
func TestCodesHaveAttemptsOfTheirOwn(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		secret := c.turnOn()
		for n := range 10 {
			b := c.browser()
			b.get("/in?user=ansel&password=" + password)
			if status, _, _ := b.get("/code?code=000000"); status != http.StatusTeapot {
				t.Errorf("wrong code %d: %d; want it refused", n+1, status)
			}
			c.now = c.now.Add(time.Minute) // for the password
		}
		b := c.browser()
		b.get("/in?user=ansel&password=" + password)
		if status, _, _ := b.get("/code?code=" + c.codeOf(secret)); status != http.StatusTooManyRequests {
			t.Errorf("the eleventh code: %d; want 429", status)
		}
		c.now = c.now.Add(time.Hour)
		b.get("/in?user=ansel&password=" + password)
		if status, _, _ := b.get("/code?code=" + c.codeOf(secret)); status != http.StatusOK {
			t.Errorf("a code an hour later: %d; want 200", status)
		}
		b.is(ansel, "after the code")
	})
}

func TestAStrangerLocksNobodyOutOfABrowserThatTheyHaveSignedInWith(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		own := c.browser()
		_, _, head := own.get("/in?user=ansel&password=" + password)
		cookie := set(head, "throughline-device=")
		for _, want := range []string{"HttpOnly", "SameSite=Lax", "Path=/", "Max-Age=15552000"} { // 180 days
			if !strings.Contains(cookie, want) {
				t.Errorf("the browser is known by %q; want it to have %s", cookie, want)
			}
		}
		own.get("/out")
		stranger := c.browser()
		stranger.wrong("ansel")
		if status, _, _ := stranger.get("/in?user=ansel&password=" + password); status != http.StatusTooManyRequests {
			t.Fatalf("the stranger: %d; want 429", status)
		}
		_, _, head = own.get("/in?user=ansel&password=" + password)
		own.is(ansel, "signing in where they have signed in before")
		if again := set(head, "throughline-device="); again == "" || again == cookie {
			t.Errorf("the browser is known by %q afterwards; want another secret", again)
		}
		if status, _, _ := stranger.get("/in?user=ansel&password=" + password); status != http.StatusTooManyRequests {
			t.Errorf("the stranger after that: %d; want 429 still", status)
		}
		old, _, _ := strings.Cut(cookie, ";")
		copied := &browser{c, &http.Client{}}
		if status, _, _ := copied.get("/in?user=ansel&password="+password, "Cookie",
			old); status != http.StatusTooManyRequests {
			t.Errorf("with the secret from before: %d; want 429 like a stranger", status)
		}
		own.get("/out")
		if n := own.wrong("ansel"); n != 10 {
			t.Errorf("the known browser has %d attempts; want 10 of its own", n)
		}
	})
}

func TestABrowserIsKnownForTheUserWhoSignedInThereAlone(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		var mabyn models.User
		err := c.s.Write(t.Context(), models.Console(c.academy), func(tx *store.Tx) error {
			all, err := tx.Users(models.UserFilter{Login: "mabyn"})
			if err != nil {
				return err
			}
			mabyn = all[0]
			return tx.SetPassword(mabyn.ID, c.ansel.PasswordHash)
		})
		if err != nil {
			t.Fatal(err)
		}
		shared, other := c.browser(), c.browser()
		shared.signsIn()
		other.wrong("mabyn")
		if status, _, _ := shared.get("/in?user=mabyn&password=" + password); status != http.StatusTooManyRequests {
			t.Errorf("where another user has signed in: %d; want 429", status)
		}
		c.now = c.now.Add(time.Hour)
		shared.get("/in?user=mabyn&password=" + password)
		for _, user := range []string{"ansel", "mabyn"} {
			other.wrong(user)
			if status, _, _ := shared.get("/in?user=" + user + "&password=" + password); status != http.StatusOK {
				t.Errorf("%s, where both have signed in: %d; want 200", user, status)
			}
		}
		// Another password is for everybody to try anew, and no browser is known for the one before.
		err = c.s.Write(t.Context(), models.Console(c.academy), func(tx *store.Tx) error {
			return tx.SetPassword(mabyn.ID, c.ansel.PasswordHash)
		})
		if err != nil {
			t.Fatal(err)
		}
		if n := other.wrong("mabyn"); n != 10 {
			t.Errorf("%d attempts at another password; want 10", n)
		}
		if status, _, _ := shared.get("/in?user=mabyn&password=" + password); status != http.StatusTooManyRequests {
			t.Errorf("in a browser from before the other password: %d; want 429", status)
		}
	})
}

// link makes a one-time link for Ansel, as the manager of their academy does.
func (c *scene) link() string {
	c.t.Helper()
	secret, hash, err := auth.NewSecret(rand.Reader)
	if err != nil {
		c.t.Fatal(err)
	}
	err = c.s.Write(c.t.Context(), models.Console(c.academy), func(tx *store.Tx) error {
		return tx.CreateLink(&models.Link{UserID: c.ansel.ID, Hash: hash})
	})
	if err != nil {
		c.t.Fatal(err)
	}
	return secret
}

func TestAOneTimeLinkLetsItsUserInOnce(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		old, b := c.browser(), c.browser()
		old.signsIn()
		link := c.link()
		const next = "?password=lantern+gravel+otter+spindle"
		if status, said, _ := b.get("/join/" + link + "?password=ansel+brock+1"); status != http.StatusTeapot ||
			!strings.Contains(said, "too easy to guess") {
			t.Errorf("a password of his own name: %d %s", status, said)
		}
		old.is(ansel, "while the link is not used")
		if status, said, _ := b.get("/join/" + link + next); status != http.StatusOK || said != "" {
			t.Fatalf("the link: %d %s", status, said)
		}
		b.is(ansel, "by the link")
		old.is("stranger", "in the session from before")
		for _, secret := range []string{link, "x", link + "x", strings.ToUpper(link)} {
			if status, _, _ := c.browser().get("/join/" + secret + next); status != http.StatusTeapot {
				t.Errorf("the link again, or another: %d", status)
			}
		}
		// It is worth a password, and not a second factor.
		c.turnOn()
		again := c.browser()
		if status, said, _ := again.get("/join/" + c.link() + next); status != http.StatusOK || said != "code" {
			t.Errorf("a link to somebody with a second factor: %d %s; want that a code is asked for", status, said)
		}
		again.is("stranger", "by a link without the code")
	})
}

func TestATokenSaysWhoIsAskingAndDecidesAlone(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		b := c.browser()
		for _, scheme := range []string{"Bearer ", "bearer "} {
			if status, who, head := b.get("/", "Authorization", scheme+c.token); who != ansel || head.Get("Set-Cookie") != "" {
				t.Errorf("with a token it is %d %q, cookie %q; want Ansel Brock and no session", status, who,
					head.Get("Set-Cookie"))
			}
		}
		for _, query := range []string{"access_token=", "token=", "authorization=Bearer+"} {
			if _, who, _ := b.get("/?" + query + url.QueryEscape(c.token)); who != "stranger" {
				t.Errorf("with a token in the address it is %q", who)
			}
		}
		b.signsIn()
		for name, headers := range map[string][]string{
			"unknown":      {"Authorization", "Bearer " + c.token + "x"},
			"empty":        {"Authorization", ""},
			"no token":     {"Authorization", "Bearer "},
			"other scheme": {"Authorization", "Basic YW5zZWw6eA=="},
			"bare":         {"Authorization", c.token},
			"two":          {"Authorization", "Bearer " + c.token, "Authorization", "Bearer " + c.token},
		} {
			if status, who, _ := b.get("/", headers...); status != http.StatusUnauthorized {
				t.Errorf("%s: %d %q; want 401, whatever the session says", name, status, who)
			}
		}
		c.now = c.now.AddDate(0, 1, 0)
		if status, who, _ := b.get("/", "Authorization", "Bearer "+c.token); status != http.StatusUnauthorized {
			t.Errorf("expired: %d %q; want 401", status, who)
		}
	})
}

func TestASessionEndsWithItsUser(t *testing.T) {
	each(t, func(t *testing.T, c *scene) {
		b := c.browser()
		b.signsIn()
		err := c.s.Write(t.Context(), models.Console(c.academy), func(tx *store.Tx) error {
			u, err := tx.User(c.ansel.ID)
			if err != nil {
				return err
			}
			return tx.DeleteUser(u.ID, u.Version)
		})
		if err != nil {
			t.Fatal(err)
		}
		b.is("stranger", "after he was deleted")
	})
}

func TestWhoIsAskingIsNeverGuessedWhenTheDatabaseFails(t *testing.T) {
	c := open(t, storetest.SQLite(t), false)
	b := c.browser()
	b.signsIn()
	if err := c.s.Close(); err != nil {
		t.Fatal(err)
	}
	if status, said, _ := b.get("/"); status != http.StatusInternalServerError {
		t.Errorf("by session: %d %q; want 500", status, said)
	}
	if status, said, _ := c.browser().get("/", "Authorization", "Bearer "+
		c.token); status != http.StatusInternalServerError {
		t.Errorf("by token: %d %q; want 500", status, said)
	}
}

func TestPasswordsTokensAndLinksAreMadeOfChance(t *testing.T) {
	seen := map[string]bool{}
	for range 200 {
		p, err := auth.NewPassword(rand.Reader)
		if err != nil || len(p) < 16 || strings.ContainsAny(p, "01lo") || seen[p] || auth.CheckPassword(p) != nil {
			t.Fatalf("password %q, %v; want a new one of at least 16 signs that cannot be misread, and may be chosen", p, err)
		}
		token, sum, err := auth.NewToken(rand.Reader)
		if err != nil || len(token) < 43 || len(sum) != 32 || seen[token] {
			t.Fatalf("token %q with a hash of %d bytes, %v; want a new one of at least 256 bits", token, len(sum), err)
		}
		secret, sum, err := auth.NewSecret(rand.Reader)
		if err != nil || len(secret) != 43 || len(sum) != 32 || seen[secret] { // 256 bits in base64
			t.Fatalf("secret %q with a hash of %d bytes, %v; want a new one of 256 bits", secret, len(sum), err)
		}
		seen[p], seen[token], seen[secret] = true, true, true
	}
	if _, err := auth.NewPassword(strings.NewReader("short")); err == nil {
		t.Error("a password was made although the source of chance ran dry")
	}
	if _, _, err := auth.NewToken(strings.NewReader("short")); err == nil {
		t.Error("a token was made although the source of chance ran dry")
	}
	if _, _, err := auth.NewSecret(strings.NewReader("short")); err == nil {
		t.Error("a link was made although the source of chance ran dry")
	}
}
