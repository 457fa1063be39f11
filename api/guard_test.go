package api

import (
	"bytes"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// logged is a log that may be read while it is written.
type logged struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logged) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// failing serves a handler behind the same guards as everything else.
func failing(t *testing.T, handler http.HandlerFunc) (string, *http.Client, *logged) {
	t.Helper()
	log := &logged{}
	s, err := New(Options{Log: slog.New(slog.NewTextHandler(log, nil)), Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(s.logged(time.Now, s.recovered(s.headers(handler))))
	t.Cleanup(server.Close)
	return server.URL, server.Client(), log
}

func TestAPanicIsAnsweredAndLoggedAndNotShown(t *testing.T) {
	base, c, log := failing(t, func(http.ResponseWriter, *http.Request) { panic("the dog ate it") })
	for path, kind := range map[string]string{"/page": "text/html; charset=utf-8",
		"/api/v1/players": "application/problem+json"} {
		res, err := c.Get(base + path)
		if err != nil {
			t.Fatalf("%s: %v; want an answer", path, err)
		}
		body, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil || res.StatusCode != http.StatusInternalServerError || res.Header.Get("Content-Type") != kind ||
			strings.Contains(string(body), "dog") {
			t.Errorf("%s: %d %s %q, %v; want 500 as %s without the reason", path, res.StatusCode,
				res.Header.Get("Content-Type"), body, err, kind)
		}
		id := res.Header.Get("X-Request-Id")
		if kind != "application/problem+json" && !strings.Contains(string(body), id) {
			t.Errorf("%s: the page does not say under which number to look", path)
		}
		if !strings.Contains(log.String(), "the dog ate it") || strings.Count(log.String(), "id="+id) != 2 {
			t.Errorf("%s: want the reason and the request in the log, under number %s:\n%s", path, id, log)
		}
	}
}

func TestAPanicHalfwayBreaksTheConnection(t *testing.T) {
	base, c, log := failing(t, func(w http.ResponseWriter, _ *http.Request) {
		io.WriteString(w, strings.Repeat("half an answer ", 1000))
		panic("the dog ate the rest")
	})
	res, err := c.Get(base + "/page")
	if err == nil {
		_, err = io.ReadAll(res.Body)
		res.Body.Close()
	}
	if err == nil {
		t.Error("half an answer came as if it were whole")
	}
	if !strings.Contains(log.String(), "ate the rest") {
		t.Errorf("the reason is not in the log:\n%s", log)
	}
}

func TestBeyondThisMachineWithoutHTTPSBrowsersStillSayWhereAFormComesFrom(t *testing.T) {
	for open, want := range map[bool]string{false: "no-referrer", true: "same-origin"} {
		s, err := New(Options{Log: slog.New(slog.DiscardHandler), Now: time.Now, Open: open})
		if err != nil {
			t.Fatal(err)
		}
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/cautions", nil))
		if opener := w.Header().Get("Cross-Origin-Opener-Policy"); (opener == "") != open {
			t.Errorf("open %v: Cross-Origin-Opener-Policy %q; want it only where a browser heeds it", open, opener)
		}
		if got := w.Header().Get("Referrer-Policy"); w.Code != http.StatusOK || got != want {
			t.Errorf("open %v: %d, Referrer-Policy %q; want %q", open, w.Code, got, want)
		}
	}
}

func TestBehindHTTPSItsAddressIsTrustedAndTheCookieIsSecure(t *testing.T) {
	s, err := New(Options{Log: slog.New(slog.DiscardHandler), Now: time.Now, PublicURL: "https://academy.example"})
	if err != nil {
		t.Fatal(err)
	}
	for origin, want := range map[string]int{"https://academy.example": http.StatusSeeOther,
		"https://elsewhere.example": http.StatusForbidden} {
		r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1:8080/sign-out", nil)
		r.Header.Set("Origin", origin)
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("from %s: %d; want %d", origin, w.Code, want)
		}
		cookies := w.Header().Values("Set-Cookie")
		if want == http.StatusSeeOther && !slices.ContainsFunc(cookies, func(cookie string) bool {
			return strings.HasPrefix(cookie, "__Host-throughline=;") && strings.Contains(cookie, "; Secure")
		}) {
			t.Errorf("the cookies that are taken away are %q; want __Host-throughline among them", cookies)
		}
	}
	if _, err := New(Options{Log: slog.New(slog.DiscardHandler), Now: time.Now,
		PublicURL: "academy.example/x"}); err == nil {
		t.Error("a public address that is none was taken")
	}
}

func TestBehindHTTPSOnlyItsOwnHostIsServedAndBrowsersAreToldToStayWithHTTPS(t *testing.T) {
	s, err := New(Options{Log: slog.New(slog.DiscardHandler), Now: time.Now, PublicURL: "https://academy.example"})
	if err != nil {
		t.Fatal(err)
	}
	for host, want := range map[string]int{
		"academy.example": 200, "ACADEMY.example:443": 200,
		"127.0.0.1:8080": 200, "[::1]:8080": 200, "localhost:8080": 200, // of a server in front
		"elsewhere.example": 421, "academy.example.elsewhere.example": 421, "academy.example:8443": 421,
		"10.0.0.1": 421, "": 421,
	} {
		for path, kind := range map[string]string{"/cautions": "text/html; charset=utf-8",
			"/api/v1/players": "application/problem+json"} {
			r := httptest.NewRequest(http.MethodGet, path, nil)
			r.Host = host
			w := httptest.NewRecorder()
			s.handler.ServeHTTP(w, r)
			served := w.Code != http.StatusMisdirectedRequest
			if served != (want == 200) || w.Header().Get("Content-Type") != kind || !served &&
				!strings.Contains(w.Body.String(), "answers only for academy.example") {
				t.Errorf("%q, %s: %d as %s; want %d", host, path, w.Code, w.Header().Get("Content-Type"), want)
			}
			if got := w.Header().Get("Strict-Transport-Security"); got != "max-age=31536000" {
				t.Errorf("%q, %s: Strict-Transport-Security %q; want a year", host, path, got)
			}
		}
	}
	s = limited(t, time.Now, Limits{})
	if got := send(s, "192.0.2.1:1", "GET", "/cautions", nil); got.Code != http.StatusOK ||
		got.Header().Get("Strict-Transport-Security") != "" {
		t.Errorf("without a public address: %d, Strict-Transport-Security %q", got.Code,
			got.Header().Get("Strict-Transport-Security"))
	}
}
