package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/api/pages"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// late is an academy whose clocks the test moves.
type late struct {
	*apitest.Academy
	t *testing.T
	k *codes
	n *time.Time // the store's clock
}

func (l *late) passes(d time.Duration) {
	*l.n = l.n.Add(d)
	l.k.now = l.k.now.Add(d)
}

// eachLate opens such an academy on each database.
func eachLate(t *testing.T, test func(l *late)) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		now := storetest.Now()
		l := &late{t: t, k: &codes{t: t, now: apitest.Now}, n: &now}
		s := storetest.With(t, url, store.Options{Now: func() time.Time { return now }})
		l.Academy = apitest.Serve(t, s, func(o *api.Options) { o.Now = func() time.Time { return l.k.now } })
		test(l)
	})
}

// fromOwnPage is what a browser says of a form on a page of the server itself.
var fromOwnPage = []string{"Sec-Fetch-Site", "same-origin"}

// typed is a note as a coach types it.
var typed = url.Values{"text": {"Low & early in contact,\r\n“every” time"}, "readers": {"staff"}, "version": {""},
	"match_id": {""}}

const typedWords = "Low &amp; early in contact"

// sealed is what a page to sign in carries.
func sealed(page apitest.Answer) string {
	m := regexp.MustCompile(`name="kept" value="([^"]+)"`).FindStringSubmatch(page.Body)
	if m == nil {
		return ""
	}
	return m[1]
}

func (l *late) in(c *apitest.Client, login, kept string) apitest.Answer {
	return c.Post("/sign-in", url.Values{"user": {login}, "password": {apitest.Password}, "next": {"/"}, "kept": {kept}},
		fromOwnPage...)
}

func (l *late) notes() (n int) {
	l.t.Helper()
	err := l.Store.Read(l.t.Context(), models.Console(l.ID), func(tx *store.Tx) error {
		all, err := tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: l.Bryn.ID})
		n = len(all)
		return err
	})
	if err != nil {
		l.t.Fatal(err)
	}
	return n
}

func TestAFormSentAfterTheSessionEndedIsKeptForItsUser(t *testing.T) {
	eachLate(t, func(l *late) {
		t := l.t
		c, before := l.SignIn(t, "ansel"), l.notes()
		to := fmt.Sprintf("/players/%d/notes", l.Bryn.ID)
		l.passes(3 * time.Hour)
		asked := c.Post(to, typed, fromOwnPage...)
		kept := sealed(asked)
		if asked.Status != http.StatusUnauthorized || kept == "" || !strings.Contains(asked.Body, "kept in this page") {
			t.Fatalf("after the session: %d\n%s", asked.Status, asked.Body)
		}
		if strings.Contains(asked.Body, "early in contact") {
			t.Error("the page to sign in shows what was typed to a stranger")
		}
		if l.notes() != before {
			t.Error("a note was written without a user")
		}
		again := c.Post("/sign-in", url.Values{"user": {"ansel"}, "password": {"wrong"}, "kept": {kept}}, fromOwnPage...)
		if sealed(again) != kept {
			t.Errorf("a wrong password loses what was typed: %d\n%s", again.Status, again.Body)
		}
		second := sealed(c.Post(to, typed, fromOwnPage...)) // of another tab
		page := l.in(c, "ansel", kept)
		if page.Status != http.StatusOK || !strings.Contains(page.Body, typedWords) ||
			!strings.Contains(page.Body, "Ansel Brock") {
			t.Fatalf("after signing in again: %d\n%s", page.Status, page.Body)
		}
		got := c.Post(to, formOn(t, page, to), fromOwnPage...)
		if got.Status != http.StatusSeeOther || l.notes() != before+1 {
			t.Errorf("sent again: %d\n%s", got.Status, got.Body)
		}
		if on := c.Get(fmt.Sprint("/players/", l.Bryn.ID)); !strings.Contains(on.Body, typedWords) {
			t.Error("the note is not on the player's page as it was typed")
		}
		if page := l.in(c, "ansel", second); !strings.Contains(page.Body, typedWords) {
			t.Errorf("what was typed in a second tab is lost: %d\n%s", page.Status, page.Body)
		}
	})
}

// TestAKeptFormWaitsForTheOneTimeCode has a user with two-factor sign-in, who is slow with their code.
func TestAKeptFormWaitsForTheOneTimeCode(t *testing.T) {
	eachLate(t, func(l *late) {
		t := l.t
		c := l.SignIn(t, "ansel")
		c.Post("/account/second-factor", nil)
		secret := regexp.MustCompile(`id="secret">([A-Z2-7 ]+)<`).FindStringSubmatch(c.Get("/account/second-factor").Body)
		l.k.secret = strings.ReplaceAll(secret[1], " ", "")
		if got := c.Post("/account/second-factor/confirm", url.Values{"code": {l.k.next()}}); got.Status != 303 {
			t.Fatalf("turn two-factor sign-in on: %d", got.Status)
		}
		to := fmt.Sprintf("/players/%d/notes", l.Bryn.ID)
		l.passes(3 * time.Hour)
		kept := sealed(c.Post(to, typed, fromOwnPage...))
		asks := l.in(c, "ansel", kept)
		if kept == "" || !strings.Contains(asks.Body, `action="/sign-in/code"`) || strings.Contains(asks.Body, typedWords) ||
			sealed(asks) != kept {
			t.Fatalf("between the password and the code: %d\n%s", asks.Status, asks.Body)
		}
		code := func(code string) apitest.Answer {
			return c.Post("/sign-in/code", url.Values{"code": {code}, "kept": {kept}}, fromOwnPage...)
		}
		if wrong := code("000000"); sealed(wrong) != kept {
			t.Errorf("a wrong code loses what was typed: %d\n%s", wrong.Status, wrong.Body)
		}
		l.passes(11 * time.Minute)
		if late := code(l.k.next()); sealed(late) != kept || strings.Contains(late.Body, typedWords) {
			t.Errorf("a code that comes too late loses or shows what was typed: %d\n%s", late.Status, late.Body)
		}
		l.in(c, "ansel", kept)
		if page := code(l.k.next()); page.Status != http.StatusOK || !strings.Contains(page.Body, typedWords) {
			t.Errorf("after the code: %d\n%s", page.Status, page.Body)
		}
	})
}

func TestAKeptFormIsForNobodyElse(t *testing.T) {
	eachLate(t, func(l *late) {
		t := l.t
		to := fmt.Sprintf("/players/%d/notes", l.Bryn.ID)
		victim := l.SignIn(t, "ansel")
		l.passes(3 * time.Hour)
		kept := sealed(victim.Post(to, typed, fromOwnPage...))
		hidden := func(name string, got apitest.Answer) {
			t.Helper()
			if strings.Contains(got.Body, "early in contact") {
				t.Errorf("%s sees what was typed: %d\n%s", name, got.Status, got.Body)
			}
		}
		// The same user in another browser, which never had the session.
		hidden("another browser", l.in(l.Stranger(t), "ansel", kept))
		live := l.SignIn(t, "ansel")
		hidden("another browser with a session", l.in(live, "ansel", kept))
		// A seal that was changed, or invented.
		for _, forged := range []string{kept[:len(kept)-2] + "AA", "AAAA" + kept[4:], "x", strings.Repeat("A", 200)} {
			hidden("a forged seal", l.in(victim, "ansel", forged))
		}
		// Another user at the same machine; then its first user has signed in again, and the seal is worth nothing more.
		victim = l.SignIn(t, "ansel")
		l.passes(3 * time.Hour)
		kept = sealed(victim.Post(to, typed, fromOwnPage...))
		other := l.in(victim, "mabyn", kept)
		hidden("another user", other)
		if !strings.Contains(other.Body, "shown only to the") {
			t.Errorf("another user is not told why nothing is shown: %d\n%s", other.Status, other.Body)
		}
		hidden("the user, after another", l.in(victim, "ansel", kept))

		refused := func(name string, c *apitest.Client, path string, form url.Values, headers ...string) {
			t.Helper()
			got := c.Post(path, form, headers...)
			if sealed(got) != "" || got.Status < 400 {
				t.Errorf("%s is kept: %d\n%s", name, got.Status, got.Body)
			}
			hidden(name, got)
		}
		c := l.SignIn(t, "ansel")
		l.passes(3 * time.Hour)
		large := url.Values{"text": {strings.Repeat("x", pages.LargestKept)}}
		refused("a form from another site", c, to, typed, "Sec-Fetch-Site", "cross-site")
		refused("a form from a sister site", c, to, typed, "Sec-Fetch-Site", "same-site")
		refused("a form of another origin", c, to, typed, "Origin", "https://elsewhere.example")
		refused("a form of no known origin", c, to, typed)
		refused("a form that is too large", c, to, large, fromOwnPage...)
		refused("a form of a program", c, "/api/v1/seasons", typed, fromOwnPage...)
		refused("a form with a password", c, "/account/password", url.Values{"before": {"x"}, "password": {"y"}},
			fromOwnPage...)
		refused("a password in another form", c, to, url.Values{"text": {"x"}, "password": {"y"}}, fromOwnPage...)
		refused("an erasure", c, fmt.Sprintf("/players/%d/erasure", l.Bryn.ID), url.Values{"name": {"Bryn Calder"}},
			fromOwnPage...)
		for _, elsewhere := range []string{"//elsewhere.example/x", "https://elsewhere.example/x", `/\elsewhere.example`} {
			if pages.Keeps(elsewhere) {
				t.Errorf("a form for %s is kept", elsewhere)
			}
		}
		refused("a stranger's form", l.Stranger(t), to, typed, fromOwnPage...)
		// A session that its user, or a change of the password, has ended says nothing.
		gone := l.SignIn(t, "ansel")
		l.SignIn(t, "ansel").Post("/account/sessions/end", nil)
		refused("a form of a session that was ended", gone, to, typed, fromOwnPage...)
		l.passes(24 * time.Hour)
		refused("a form of yesterday", c, to, typed, fromOwnPage...)
	})
}

// TestNoFormWithAPasswordOrACodeIsKept reads every template: a form with such a field goes where none is kept.
func TestNoFormWithAPasswordOrACodeIsKept(t *testing.T) {
	files, err := os.ReadDir("templates")
	if err != nil {
		t.Fatal(err)
	}
	secret := regexp.MustCompile(`type="password"|autocomplete="one-time-code"`)
	form := regexp.MustCompile(`(?s)<form[^>]* action="([^"]*)".*?</form>`)
	seen := 0
	for _, f := range files {
		source, err := os.ReadFile("templates/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range form.FindAllStringSubmatch(string(source), -1) {
			if !secret.MatchString(m[0]) {
				continue
			}
			seen++
			to := strings.ReplaceAll(m[1], "{{.Path}}", "/join/x")
			if pages.Keeps(to) {
				t.Errorf("%s: a form with a password or a code goes to %s, where forms are kept", f.Name(), m[1])
			}
		}
		if all := len(secret.FindAllString(string(source), -1)); all > 0 && !form.Match(source) {
			t.Errorf("%s: a password outside a form with an action", f.Name())
		}
	}
	if seen < 6 {
		t.Errorf("%d forms with a password or a code; want those of six pages", seen)
	}
}
