package pages_test

import (
	"bytes"
	"crypto/sha256"
	"image/png"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"
	"github.com/pquerna/otp/totp"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/api/auth"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// link makes a one-time link for a new coach.
func link(t *testing.T, a *apitest.Academy) string {
	t.Helper()
	const secret = "Yk2uMDDQm0mWwN3V0pJz6n1Vb7c0C3yQq8eXr5TtLhA"
	hash := sha256.Sum256([]byte(secret))
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		u := models.User{Login: "tansy", Name: "Tansy Holt", Role: models.RoleCoach}
		if err := tx.CreateUser(&u); err != nil {
			return err
		}
		return tx.CreateLink(&models.Link{UserID: u.ID, Hash: hash[:]})
	})
	if err != nil {
		t.Fatal(err)
	}
	return auth.JoinPath + secret
}

func TestAOneTimeLinkIsLookedAtBeforeItIsUsed(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		path := link(t, a)
		c := a.Stranger(t)
		for range 2 {
			got := c.Get(path)
			if got.Status != http.StatusOK || got.Header.Get("Set-Cookie") != "" ||
				got.Header.Get("Referrer-Policy") != "no-referrer" {
				t.Fatalf("the page: %d, cookie %q, Referrer-Policy %q", got.Status, got.Header.Get("Set-Cookie"),
					got.Header.Get("Referrer-Policy"))
			}
			for _, want := range []string{"Tansy Holt", "tansy", "Northmoor Rugby Academy", "Nothing here is medical advice",
				"safeguarding lead", "on a number alone", `href="/cautions"`} {
				if !strings.Contains(strings.Join(strings.Fields(got.Body), " "), want) {
					t.Errorf("the page lacks %q", want)
				}
			}
		}
		bad := c.Post(path, url.Values{"password": {"tansyholt2008"}})
		if bad.Status != http.StatusUnprocessableEntity || !strings.Contains(bad.Body, "too easy to guess") ||
			strings.Contains(bad.Body, "tansyholt2008") {
			t.Errorf("a password of her own name: %d", bad.Status)
		}
		if got := c.Post(path, url.Values{"password": {
			"lantern gravel otter spindle"}}); got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/" {
			t.Fatalf("used: %d to %s", got.Status, got.Header.Get("Location"))
		}
		if got := c.Get("/"); got.Status != http.StatusOK {
			t.Errorf("home: %d; want to be signed in", got.Status)
		}
		for _, gone := range []string{path, auth.JoinPath + "x"} {
			if got := a.Stranger(t).Get(gone); got.Status != http.StatusNotFound ||
				!strings.Contains(got.Body, "This link is not valid") {
				t.Errorf("%s: %d %s", gone, got.Status, got.Body)
			}
			if got := a.Stranger(t).Post(gone,
				url.Values{"password": {"lantern gravel otter spindle"}}); got.Status != http.StatusNotFound {
				t.Errorf("%s, sent: %d", gone, got.Status)
			}
		}
	})
}

// codes makes codes by a clock that the test moves.
type codes struct {
	t      *testing.T
	now    time.Time
	secret string
}

func (c *codes) next() string {
	c.t.Helper()
	c.now = c.now.Add(30 * time.Second)
	code, err := totp.GenerateCode(c.secret, c.now)
	if err != nil {
		c.t.Fatal(err)
	}
	return code
}

func TestTheAccountPageDoesWhatItSays(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		k := &codes{t: t, now: apitest.Now}
		a := apitest.Serve(t, s, func(o *api.Options) { o.Now = func() time.Time { return k.now } })
		here, there := a.SignIn(t, "ansel"), a.SignIn(t, "ansel")
		send := func(path string, form url.Values, status int, says string) apitest.Answer {
			t.Helper()
			got := here.Post(path, form)
			if got.Status != status || !strings.Contains(got.Body, says) {
				t.Fatalf("%s: %d %s; want %d and %q", path, got.Status, got.Body, status, says)
			}
			if status == http.StatusSeeOther && !strings.Contains(here.Get(got.Header.Get("Location")).Body, `role="status"`) {
				t.Errorf("%s: the page after it does not say what was done", path)
			}
			return got
		}
		page := here.Get("/account")
		for _, want := range []string{"Ansel Brock, coach", "<strong>ansel</strong>", "Northmoor Rugby Academy", ", here",
			"Sign out everywhere else", "Set it up"} {
			if !strings.Contains(page.Body, want) {
				t.Errorf("the page lacks %q", want)
			}
		}
		send("/account/sessions/end", nil, 303, "")
		if got := there.Get("/account"); got.Status != http.StatusSeeOther {
			t.Errorf("the other session: %d; want it ended", got.Status)
		}

		const next = "lantern gravel otter spindle"
		send("/account/password", url.Values{"before": {"wrong"}, "password": {next}}, 422, "not your current password")
		send("/account/password", url.Values{"before": {apitest.Password}, "password": {"anselbrock12"}}, 422,
			"too easy to guess")
		send("/account/password", url.Values{"before": {apitest.Password}, "password": {next}}, 303, "")
		if got := a.Program(t, "ansel").Get("/api/v1/seasons"); got.Status != http.StatusOK {
			t.Errorf("a program after the change: %d; want its token to stay", got.Status)
		}

		if got := here.Get("/account/second-factor"); got.Status != http.StatusNotFound {
			t.Errorf("a second factor that nobody asked for: %d", got.Status)
		}
		if got := here.Post("/account/second-factor", nil); got.Status != http.StatusSeeOther {
			t.Fatalf("setting a second factor up: %d", got.Status)
		}
		setup := here.Get("/account/second-factor")
		secret := regexp.MustCompile(`id="secret">([A-Z2-7 ]+)<`).FindStringSubmatch(setup.Body)
		if setup.Status != http.StatusOK || secret == nil {
			t.Fatalf("the page: %d %s", setup.Status, setup.Body)
		}
		k.secret = strings.ReplaceAll(secret[1], " ", "")
		if len(k.secret) != 32 { // 160 bits in base32
			t.Errorf("the secret has %d signs", len(k.secret))
		}
		picture := here.Get("/account/second-factor/picture.png")
		if _, err := png.Decode(bytes.NewReader([]byte(picture.Body))); err != nil ||
			picture.Header.Get("Content-Type") != "image/png" || picture.Header.Get("Cache-Control") != "no-store" {
			t.Errorf("the picture: %d %s, Cache-Control %q, %v", picture.Status, picture.Header.Get("Content-Type"),
				picture.Header.Get("Cache-Control"), err)
		}
		if got := a.Program(t, "ansel").Get("/account/second-factor"); got.Status != http.StatusForbidden {
			t.Errorf("the secret by an access token: %d", got.Status)
		}
		send("/account/second-factor/confirm", url.Values{"code": {"000000"}}, 422, "Wrong code")
		send("/account/second-factor/confirm", url.Values{"code": {k.next()}}, 303, "")
		for _, path := range []string{"/account/second-factor", "/account/second-factor/picture.png"} {
			if got := here.Get(path); got.Status != http.StatusNotFound || strings.Contains(got.Body, k.secret) {
				t.Errorf("%s, once it is on: %d", path, got.Status)
			}
		}

		again := a.Stranger(t)
		in := again.Post("/sign-in", url.Values{"user": {"ansel"}, "password": {next}, "next": {"/cautions"}})
		if in.Status != http.StatusSeeOther || in.Header.Get("Location") != "/sign-in/code?next=%2Fcautions" {
			t.Fatalf("signing in: %d to %s; want to be asked for a code", in.Status, in.Header.Get("Location"))
		}
		if got := again.Get("/"); got.Status != http.StatusSeeOther {
			t.Errorf("home without the code: %d", got.Status)
		}
		if got := again.Get("/api/v1/seasons"); got.Status != http.StatusUnauthorized {
			t.Errorf("the seasons without the code: %d", got.Status)
		}
		if got := again.Get("/sign-in/code?next=%2Fcautions"); got.Status != http.StatusOK ||
			!strings.Contains(got.Body, `value="/cautions"`) {
			t.Errorf("the form for the code: %d", got.Status)
		}
		if got := again.Post("/sign-in/code", url.Values{"code": {"000000"}}); got.Status != http.StatusUnauthorized ||
			!strings.Contains(got.Body, `role="alert"`) {
			t.Errorf("a wrong code: %d", got.Status)
		}
		if got := again.Post("/sign-in/code",
			url.Values{"code": {k.next()}, "next": {"/cautions"}}); got.Status != http.StatusSeeOther ||
			got.Header.Get("Location") != "/cautions" {
			t.Errorf("the code: %d to %s", got.Status, got.Header.Get("Location"))
		}
		if got := a.Stranger(t).Get("/sign-in/code"); got.Status != http.StatusSeeOther ||
			!strings.HasPrefix(got.Header.Get("Location"), "/sign-in?") {
			t.Errorf("the form for a code that nobody waits for: %d", got.Status)
		}
		send("/account/second-factor/off", url.Values{"password": {"wrong"}, "code": {k.next()}}, 422,
			"Wrong password or code")
		send("/account/second-factor/off", url.Values{"password": {next}}, 422, "Wrong password or code")
		send("/account/second-factor/off", url.Values{"password": {next}, "code": {"000000"}}, 422, "Wrong password or code")
		send("/account/second-factor/off", url.Values{"password": {next}, "code": {k.next()}}, 303, "")

		for _, bad := range []url.Values{
			{"label": {"laptop"}, "scope": {"read"}, "days": {"367"}}, {"label": {"laptop"}, "scope": {"read"}, "days": {"x"}},
			{"label": {"laptop"}, "scope": {"all"}, "days": {"1"}},
			{"label": {""}, "scope": {"read"}, "days": {"1"}},
		} {
			send("/account/tokens", bad, 422, `role="alert"`)
		}
		made := send("/account/tokens", url.Values{"label": {"<b>laptop"}, "scope": {"read"}, "days": {"366"}}, 201,
			"shown only once")
		token := regexp.MustCompile(`throughline_[A-Za-z0-9_-]{43}`).FindString(made.Body)
		list := here.Get("/account").Body
		if token == "" || strings.Contains(list, token) || !strings.Contains(list, "&lt;b&gt;laptop") {
			t.Errorf("the token is %q, and the page\n%s", token, list)
		}
		if got := a.Stranger(t).Get("/api/v1/players", "Authorization", "Bearer "+token); got.Status != http.StatusOK {
			t.Errorf("the token opens %d", got.Status)
		}
		end := regexp.MustCompile(`(?s)laptop.*?action="(/account/tokens/\d+/end)".*?value="(\d+)"`).FindStringSubmatch(list)
		if end == nil {
			t.Fatal("the token cannot be ended")
		}
		if got := a.SignIn(t, "mabyn").Post(end[1], url.Values{"version": {end[2]}}); got.Status != http.StatusNotFound {
			t.Errorf("another's token is ended on the page of one's own: %d", got.Status)
		}
		send(end[1], url.Values{"version": {end[2]}}, 303, "")
		if got := a.Stranger(t).Get("/api/v1/players", "Authorization", "Bearer "+
			token); got.Status != http.StatusUnauthorized {
			t.Errorf("the ended token opens %d", got.Status)
		}
	})
}

func TestAnAccountIsForItsPersonAlone(t *testing.T) {
	a := apitest.OnSQLite(t)
	forms := []string{"/account/password", "/account/second-factor", "/account/second-factor/confirm",
		"/account/second-factor/off", "/account/sessions/end", "/account/tokens", "/account/tokens/1/end"}
	for _, path := range forms {
		if got := a.Stranger(t).Post(path, nil); got.Status != http.StatusSeeOther ||
			!strings.HasPrefix(got.Header.Get("Location"), "/sign-in?") {
			t.Errorf("%s by a stranger: %d to %s", path, got.Status, got.Header.Get("Location"))
		}
		if got := a.Program(t, "ansel").Post(path, nil); got.Status != http.StatusForbidden {
			t.Errorf("%s by an access token: %d; want 403", path, got.Status)
		}
		if got := a.SignIn(t, "ansel").Post(path, nil, "Origin",
			"https://elsewhere.example"); got.Status != http.StatusForbidden {
			t.Errorf("%s from another site: %d; want 403", path, got.Status)
		}
	}
	if got := a.SignIn(t, "bryn").Post("/account/second-factor", nil); got.Status != http.StatusForbidden {
		t.Errorf("a second factor of a player: %d; want 403", got.Status)
	}
	if got := a.SignIn(t, "bryn").Get("/account"); got.Status != http.StatusOK ||
		strings.Contains(got.Body, "Two-factor sign-in") {
		t.Errorf("a player's account: %d", got.Status)
	}
	orla := a.SignIn(t, "orla")
	if got := orla.Get("/"); got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/academies" {
		t.Errorf("an operator's home: %d to %s; want the academies", got.Status, got.Header.Get("Location"))
	}
	if got := orla.Get("/account"); got.Status != http.StatusOK || strings.Contains(got.Body, "@deployment") ||
		!strings.Contains(got.Body, "Two-factor sign-in") {
		t.Errorf("an operator's account: %d", got.Status)
	}
}

func TestTooManyAttemptsForANameAreRefusedWhetherOrNotItExists(t *testing.T) {
	a := apitest.OnSQLite(t)
	var bodies []string
	for _, user := range []string{"ansel", "nobody-at-all"} {
		c := a.Stranger(t)
		for range 10 {
			if got := c.Post("/sign-in",
				url.Values{"user": {user}, "password": {"wrong"}}); got.Status != http.StatusUnauthorized {
				t.Fatalf("%s: %d; want 401", user, got.Status)
			}
		}
		got := c.Post("/sign-in", url.Values{"user": {user}, "password": {apitest.Password}})
		if got.Status != http.StatusTooManyRequests || got.Header.Get("Retry-After") != "60" {
			t.Errorf("%s, the eleventh time: %d, Retry-After %q; want 429 and a minute", user, got.Status,
				got.Header.Get("Retry-After"))
		}
		bodies = append(bodies, got.Body)
	}
	if bodies[0] != bodies[1] {
		t.Error("a known and an unknown name are told different things")
	}
	if got := a.Stranger(t).Post("/sign-in",
		url.Values{"user": {"mabyn"}, "password": {apitest.Password}}); got.Status != http.StatusSeeOther {
		t.Errorf("somebody else: %d; want that he is let in", got.Status)
	}
}

func TestTheAccountFitsAPhoneAndEveryFieldHasALabel(t *testing.T) {
	a := apitest.OnSQLite(t)
	join := link(t, a)
	b := browsertest.Open(t, a.URL)
	b.Width(360)
	look := func(path string) {
		t.Helper()
		b.Open(a.URL + path)
		if over := b.Overflow(); over > 0 {
			t.Errorf("%s is %d pixels wider than a phone", path, over)
		}
		bad := browsertest.Eval[[]string](b,
			`[...document.querySelectorAll("button, select, input:not([type=hidden])")]
			.filter(e => (e.closest(".check") || e).getBoundingClientRect().height < 44 ||
			e.tagName != "BUTTON" && e.labels.length != 1).map(e => e.outerHTML)`)
		if len(bad) > 0 { // WCAG 2.2, success criteria 2.5.5 and 3.3.2
			t.Errorf("%s has things too small for a thumb, or without a label: %q", path, bad)
		}
	}
	look(join)
	b.Open(a.URL + "/sign-in")
	tabTo(t, b, "user")
	b.Type("mabyn")
	tabTo(t, b, "password")
	b.Type(apitest.Password)
	b.Leave(kb.Enter)
	look("/account")
	tabTo(t, b, "Set it up")
	b.Leave(kb.Enter)
	if at := browsertest.Eval[string](b, `location.pathname`); at != "/account/second-factor" {
		t.Fatalf("after Enter the page is %s", at)
	}
	look("/account/second-factor")
	if width := browsertest.Eval[float64](b, `document.querySelector("img").naturalWidth`); width != 240 {
		t.Errorf("the picture is %v pixels wide; want it shown", width)
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

func TestABoxEndsTheAccessTokensWithTheOldPassword(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "ansel")
	if got := c.Get("/account"); !strings.Contains(got.Body, "End my access tokens too") {
		t.Error("the page has no box for it")
	}
	form := url.Values{"before": {apitest.Password}, "password": {"lantern gravel otter spindle"}, "tokens": {"all"}}
	if got := c.Post("/account/password", form); got.Status != http.StatusSeeOther {
		t.Fatalf("changing the password: %d %s", got.Status, got.Body)
	}
	if got := a.Program(t, "ansel").Get("/api/v1/seasons"); got.Status != http.StatusUnauthorized {
		t.Errorf("a program afterwards: %d; want 401", got.Status)
	}
}
