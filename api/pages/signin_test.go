package pages_test

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestAStrangerSignsInAndIsBroughtBack(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.Stranger(t)
		wanted := seasonReport(a.Bryn, a.Season) + "?from=a+letter"
		got := c.Get(wanted)
		if at := got.Header.Get("Location"); got.Status != http.StatusSeeOther || at != "/sign-in?next="+
			url.QueryEscape(wanted) {
			t.Fatalf("%d to %s; want 303 to sign in and back", got.Status, at)
		}
		form := c.Get(got.Header.Get("Location"))
		if form.Status != http.StatusOK || !strings.Contains(html.UnescapeString(form.Body), `name="next" value="`+wanted+
			`"`) {
			t.Fatalf("the form does not remember where to go:\n%s", form.Body)
		}
		in := c.Post("/sign-in", url.Values{"user": {"ansel"}, "password": {apitest.Password}, "next": {wanted}})
		if in.Status != http.StatusSeeOther || in.Header.Get("Location") != wanted {
			t.Fatalf("signed in: %d to %s; want 303 to %s", in.Status, in.Header.Get("Location"), wanted)
		}
		if got := c.Get(wanted); got.Status != http.StatusOK || !strings.Contains(got.Body, "Bryn Calder") {
			t.Errorf("the report: %d", got.Status)
		}
		if got := c.Get("/sign-in"); got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/" {
			t.Errorf("signing in again: %d to %s; want 303 home", got.Status, got.Header.Get("Location"))
		}
		if out := c.Post("/sign-out", nil); out.Status != http.StatusSeeOther || out.Header.Get("Location") != "/sign-in" {
			t.Errorf("signed out: %d to %s; want 303 to sign in", out.Status, out.Header.Get("Location"))
		}
		if got := c.Get("/"); got.Status != http.StatusSeeOther {
			t.Errorf("after signing out the home page gives %d; want to be sent to sign in", got.Status)
		}
	})
}

func TestAWrongPasswordIsSaidWithoutSayingWhichOfTheTwoIsWrong(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		answers := map[string]string{}
		for _, user := range []string{"ansel", "nobody-at-all", "\x00", "\xff"} {
			got := a.Stranger(t).Post("/sign-in", url.Values{"user": {user}, "password": {"wrong <b>"}})
			if got.Status != http.StatusUnauthorized || got.Header.Get("Set-Cookie") != "" ||
				!strings.Contains(got.Body, `role="alert"`) || strings.Contains(got.Body, "wrong <b>") ||
				strings.Contains(got.Body, "wrong &lt;b") {
				t.Errorf("%q: %d, cookie %q; want 401, an alert, and the password not repeated", user, got.Status,
					got.Header.Get("Set-Cookie"))
			}
			answers[strings.ReplaceAll(got.Body, `value="`+user+`"`, "")] = user
		}
		if len(answers) > 3 { // signs that are no text are shown as others
			t.Errorf("a known and an unknown name are answered differently")
		}
	})
}

func TestAfterSigningInNobodyIsSentToAnotherSite(t *testing.T) {
	a := apitest.OnSQLite(t)
	for _, next := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`,
		`\\elsewhere.example`, "javascript:alert(1)", "elsewhere", "", "/\t/elsewhere.example", "http:/elsewhere.example"} {
		got := a.Stranger(t).Post("/sign-in", url.Values{"user": {"ansel"}, "password": {apitest.Password}, "next": {next}})
		if got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/" {
			t.Errorf("next %q: %d to %s; want 303 home", next, got.Status, got.Header.Get("Location"))
		}
	}
}

func TestAFormThatIsTooLargeOrNotAFormIsRefused(t *testing.T) {
	a := apitest.OnSQLite(t)
	if got := a.Stranger(t).Post("/sign-in",
		url.Values{"user": {strings.Repeat("a", 100_000)}}); got.Status != http.StatusRequestEntityTooLarge {
		t.Errorf("too large: %d; want 413", got.Status)
	}
	got := a.Stranger(t).Do(http.MethodPost, "/sign-in", strings.NewReader("user=%zz"), "Content-Type",
		"application/x-www-form-urlencoded")
	if got.Status != http.StatusBadRequest {
		t.Errorf("not a form: %d; want 400", got.Status)
	}
	// The fields are read only from the form: a password in an address is not accepted.
	if got := a.Stranger(t).Post("/sign-in?user=ansel&password="+apitest.Password,
		nil); got.Status != http.StatusUnauthorized {
		t.Errorf("in the address: %d; want 401", got.Status)
	}
}
