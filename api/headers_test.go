package api_test

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models/store/storetest"
	"throughline/reports/paper/papertest"
)

// strict is what every answer tells a browser, whatever it answers. The directives of a content security policy are
// those of CSP Level 3 (W3C), the rest as the headers' own standards have them.
var strict = map[string]string{
	"Content-Security-Policy": "default-src 'none'; style-src 'self'; img-src 'self'; media-src blob:; object-src " +
		"'none'; form-action 'self'; base-uri 'none'; " +
		"frame-ancestors 'none'",
	"X-Frame-Options":              "DENY",
	"X-Content-Type-Options":       "nosniff",
	"Referrer-Policy":              "no-referrer",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
}

// peoplesDocs are the answers that are the description of the service for people, with a script of its own.
var peoplesDocs = regexp.MustCompile(`^(GET|HEAD) /docs/people .*, (200|304)$`)

// scripted says whether an answer is a page with scripts: one for people, but a paper as a file, or the docs' list.
func scripted(what string, h http.Header) bool {
	if regexp.MustCompile(` /(docs|problems).*, (200|304)$`).MatchString(what) {
		return peoplesDocs.MatchString(what)
	}
	if regexp.MustCompile(`, 30[1-8]$`).MatchString(what) {
		return false
	}
	return strings.HasPrefix(h.Get("Content-Type"), "text/html") && h.Get("Content-Disposition") == ""
}

// logs are the answers that may reach our server from a script: the involvement log's.
var logs = regexp.MustCompile(`^(GET|HEAD) /log/(shell|worker.js|\d+/\d+) .*, (200|304)$`)

// scriptsOf is what the policy of an answer lets scripts do: those of pages are files of ours, and ask no server but
// ours.
func scriptsOf(what string, h http.Header) (policy string) {
	docs := peoplesDocs.MatchString(what)
	if scripted(what, h) {
		policy = "; script-src 'self'"
	}
	if log := logs.MatchString(what); log || policy != "" && !docs {
		policy += "; connect-src 'self'"
		if log {
			policy += "; worker-src 'self'"
		}
	}
	return policy
}

// strictly checks the headers of an answer.
func strictly(t testing.TB, what string, h http.Header) {
	t.Helper()
	for name, want := range strict {
		if name == "Content-Security-Policy" {
			want += scriptsOf(what, h)
		}
		if got := h.Values(name); !slices.Equal(got, []string{want}) {
			t.Errorf("%s: %s is %q; want %q", what, name, got, want)
		}
	}
	devices := h.Get("Permissions-Policy")
	for _, device := range []string{"camera", "microphone", "geolocation", "display-capture", "payment", "usb"} {
		if !slices.Contains(strings.Split(devices, ", "), device+"=()") {
			t.Errorf("%s: Permissions-Policy is %q; want %s for nobody", what, devices, device)
		}
	}
	if kept := h.Get("Cache-Control"); kept != "no-store" && !strings.Contains(what, "/static/") &&
		!strings.Contains(what, "/docs") && !strings.Contains(what, "/problems") &&
		!strings.Contains(what, "/openapi.json") {
		t.Errorf("%s: Cache-Control is %q; want nothing about people to be kept", what, kept)
	}
	if !regexp.MustCompile(`^[0-9a-f]{16}$`).MatchString(h.Get("X-Request-Id")) {
		t.Errorf("%s: the request's number is %q", what, h.Get("X-Request-Id"))
	}
	for _, telling := range []string{"Server", "X-Powered-By", "Access-Control-Allow-Origin",
		"Access-Control-Allow-Credentials"} {
		if h.Get(telling) != "" {
			t.Errorf("%s: has %s: %s", what, telling, h.Get(telling))
		}
	}
}

// TestEveryAnswerTellsTheBrowserToBeStrict asks for every route, as a stranger and as the manager, and for every way
// in which an answer can end otherwise.
func TestEveryAnswerTellsTheBrowserToBeStrict(t *testing.T) {
	storetest.OneByOne(t)
	seen := map[int]bool{}
	// ask asks once and checks.
	ask := func(c *cast, p person, method, path, body string, headers ...string) int {
		t.Helper()
		got := c.ask(p, method, path, strings.NewReader(body), headers...)
		seen[got.Status] = true
		strictly(t, fmt.Sprintf("%s %s by %s, %d", method, path, p.title, got.Status), got.Header)
		return got.Status
	}
	c := newCast(t, apitest.OnSQLite(t))
	nobody, manager := c.person("nobody"), c.person("manager")
	matrix := c.matrix()
	c.everyRouteIsThere(matrix)
	for _, r := range matrix {
		for _, p := range []person{nobody, manager, c.person("coach")} {
			body, headers := "", []string{}
			if r.body != nil {
				body, headers = r.body(p), append(headers, "Content-Type", r.media)
			}
			if r.match != "" {
				headers = append(headers, "If-Match", r.match)
			}
			ask(c, p, r.method, r.path, body, headers...)
			if r.method == http.MethodPut {
				ask(c, p, r.method, r.path, body, "Content-Type", r.media)
			}
			ask(c, p, "PROPFIND", r.path, "")
			ask(c, p, http.MethodOptions, r.path, "")
			ask(c, p, http.MethodPost, r.path, "{}", "Sec-Fetch-Site", "cross-site")
			if r.method == http.MethodGet {
				ask(c, p, http.MethodGet, r.path, "", "If-None-Match", "*")
				ask(c, p, http.MethodHead, r.path, "")
			}
		}
	}
	ask(c, manager, http.MethodGet, "/api/v1/nothing", "")
	ask(c, manager, http.MethodGet, "/%ff", "")
	ask(c, manager, http.MethodGet, "/api/v1/players/../players", "")
	for _, file := range regexp.MustCompile(`/static/[^"]+`).FindAllString(c.ask(nobody, http.MethodGet, "/sign-in",
		nil).Body, -1) {
		if status := ask(c, nobody, http.MethodGet, file, ""); status != http.StatusOK {
			t.Errorf("%s: %d", file, status)
		}
	}
	tight := newCast(t, apitest.OnSQLite(t, func(o *api.Options) {
		o.Limits.Body = 10_000
		o.Papers = append(o.Papers, papertest.Undrawable())
	}))
	for path, status := range map[string]int{"/sign-in": http.StatusRequestEntityTooLarge,
		"/api/v1/players": http.StatusRequestEntityTooLarge} {
		if got := ask(tight, tight.person("manager"), http.MethodPost, path, strings.Repeat("x", 10_001)); got != status {
			t.Errorf("too much for %s: %d; want %d", path, got, status)
		}
	}
	undrawable := tight.places["own"].address("/players/{player}/seasons/{season}/minutes")
	if got := ask(tight, tight.person("manager"), http.MethodGet, undrawable, ""); got != http.StatusInternalServerError {
		t.Errorf("a report that cannot be drawn: %d; want 500", got)
	}
	a := apitest.OnSQLite(t, func(o *api.Options) { o.Limits.Address = 1 })
	hurried := &cast{t: t, a: a}
	for range 11 {
		ask(hurried, nobody, http.MethodGet, "/cautions", "")
	}
	for _, status := range []int{200, 201, 204, 303, 304, 307, 400, 401, 403, 404, 405, 409, 412, 413, 422, 428, 429,
		500} {
		if !seen[status] {
			t.Errorf("no answer was %d: its headers were not looked at", status)
		}
	}
}
