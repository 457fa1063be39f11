package pages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
)

// founding is what a secretary types on an empty server.
func founding(code string) url.Values {
	return url.Values{"code": {code}, "academy": {"Eastmoor Rugby Academy"}, "name": {"Mabyn Orrell"},
		"login": {"Mabyn"}, "password": {apitest.Password}}
}

func TestAnEmptyServerIsSetUpOnceByTheHolderOfTheSetupCode(t *testing.T) {
	a, code := apitest.Empty(t)
	c := a.Stranger(t)
	for _, path := range []string{"/", "/people", "/sign-in"} {
		if got := c.Get(path); got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/first-run" {
			t.Errorf("%s of an empty server: %d to %q; want the first run", path, got.Status, got.Header.Get("Location"))
		}
	}
	if got := c.Get("/first-run"); got.Status != http.StatusOK || !strings.Contains(got.Body, "Setup code") {
		t.Errorf("%d: %.300s; want the form", got.Status, got.Body)
	}
	// A wrong code is said beside the field, and nothing that was typed but the password is lost.
	wrong := c.Post("/first-run", founding("AAAAA-AAAAA-AAAAA-AAAAA"))
	if wrong.Status != http.StatusUnprocessableEntity || !strings.Contains(wrong.Body, "is not the setup code") ||
		!strings.Contains(wrong.Body, `value="Eastmoor Rugby Academy"`) || strings.Contains(wrong.Body, apitest.Password) {
		t.Errorf("a wrong code: %d: %s", wrong.Status, wrong.Body)
	}
	if all, err := a.Store.Academies(t.Context()); err != nil || len(all) != 0 {
		t.Fatalf("%v, %v after a wrong code; want no academy", all, err)
	}
	// The rest keeps the rules of every user, and uses nothing up.
	weak := founding(code)
	weak.Set("password", "northmoor")
	weak.Set("login", "x")
	got := c.Post("/first-run", weak)
	for _, want := range []string{`id="password-wrong"`, `id="login-wrong"`} {
		if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, want) {
			t.Errorf("%d: no %s", got.Status, want)
		}
	}
	right := c.Post("/first-run", founding(strings.ToLower(strings.ReplaceAll(code, "-", " "))))
	if right.Status != http.StatusSeeOther || right.Header.Get("Location") != "/" {
		t.Fatalf("%d: %s", right.Status, right.Body)
	}
	if home := c.Get("/"); home.Status != http.StatusOK || !strings.Contains(home.Body, "Mabyn Orrell") {
		t.Errorf("the manager is not signed in: %d", home.Status)
	}
	// It works once.
	again := founding(code)
	again.Set("academy", "Westmoor")
	again.Set("login", "other")
	if got := a.Stranger(t).Post("/first-run", again); got.Status != http.StatusNotFound {
		t.Errorf("the code works twice: %d", got.Status)
	}
	if got := a.Stranger(t).Get("/first-run"); got.Status != http.StatusNotFound {
		t.Errorf("the page stays: %d", got.Status)
	}
	if got := a.Stranger(t).Get("/"); got.Header.Get("Location") != "/sign-in?next=%2F" {
		t.Errorf("a stranger is sent to %q; want to sign in", got.Header.Get("Location"))
	}
}

func TestGuessesOfTheSetupCodeAreLimitedLikeSignIns(t *testing.T) {
	a, _ := apitest.Empty(t, func(o *api.Options) { o.Limits.Address = 1 })
	c := a.Stranger(t)
	c.Get("/first-run")
	if got := c.Post("/first-run", founding("AAAAA")); got.Status != http.StatusTooManyRequests {
		t.Errorf("a guess after another request: %d; want %d, as it counts for ten", got.Status,
			http.StatusTooManyRequests)
	}
}
