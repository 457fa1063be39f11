package api_test

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/chart"
)

func TestHEADAnswersLikeGETWithoutABody(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "ansel")
	for _, path := range []string{"/", "/sign-in", "/cautions", "/nothing", "/api/v1/players", "/api/v1/nothing"} {
		head, get := c.Do(http.MethodHead, path, nil), c.Get(path)
		if head.Status != get.Status || head.Body != "" ||
			head.Header.Get("Content-Type") != get.Header.Get("Content-Type") {
			t.Errorf("%s: HEAD gives %d %s and %d bytes, GET %d %s", path, head.Status, head.Header.Get("Content-Type"),
				len(head.Body), get.Status, get.Header.Get("Content-Type"))
		}
	}
}

func TestOtherMethodsAreRefusedWithThoseThatAreAllowed(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.Program(t, "ansel")
	for path, want := range map[string]string{"/cautions": "GET, HEAD, OPTIONS",
		"/api/v1/players": "GET, POST, HEAD, OPTIONS", "/sign-out": "POST, OPTIONS"} {
		got := c.Do(http.MethodDelete, path, nil)
		if got.Status != http.StatusMethodNotAllowed || got.Header.Get("Allow") != want {
			t.Errorf("DELETE %s: %d, Allow %q; want 405 and %q", path, got.Status, got.Header.Get("Allow"), want)
		}
		got = c.Do(http.MethodOptions, path, nil)
		if got.Status != http.StatusNoContent || got.Header.Get("Allow") != want || got.Body != "" {
			t.Errorf("OPTIONS %s: %d, Allow %q, %q; want 204 and %q", path, got.Status, got.Header.Get("Allow"), got.Body, want)
		}
	}
}

func TestAddressesThatAreNotTextAreRefused(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.Program(t, "ansel")
		for _, path := range []string{"/api/v1/players?name=%00", "/api/v1/players?name=%ff", "/api/v1/players?%ff=1",
			"/api/v1/players?name=%zz", "/?season=%00", "/%ff", "/players/%00/seasons/1"} {
			if got := c.Get(path); got.Status != http.StatusBadRequest {
				t.Errorf("%s: %d; want 400", path, got.Status)
			}
		}
	})
}

// Sec-Fetch-Site and Origin are what browsers say of where a form was sent from (Fetch Metadata Request Headers, W3C).
func TestFormsOfOtherSitesAreRefused(t *testing.T) {
	a := apitest.OnSQLite(t)
	form := url.Values{"user": {"ansel"}, "password": {apitest.Password}}
	for name, headers := range map[string][]string{
		"cross-site": {"Sec-Fetch-Site", "cross-site"}, "same-site": {"Sec-Fetch-Site", "same-site"},
		"origin":      {"Origin", "https://elsewhere.example"},
		"null origin": {"Origin", "null"},
	} {
		got := a.Stranger(t).Post("/sign-in", form, headers...)
		if got.Status != http.StatusForbidden || got.Header.Get("Set-Cookie") != "" ||
			!strings.Contains(got.Body, "another site") {
			t.Errorf("%s: %d, cookie %q; want 403 and no session", name, got.Status, got.Header.Get("Set-Cookie"))
		}
	}
	got := a.Program(t, "ansel").Do(http.MethodDelete, "/api/v1/players", nil, "Sec-Fetch-Site", "cross-site")
	if got.Status != http.StatusForbidden || got.Header.Get("Content-Type") != "application/problem+json" {
		t.Errorf("a resource: %d %s; want 403 as a problem", got.Status, got.Header.Get("Content-Type"))
	}
	for name, headers := range map[string][]string{
		"same origin": {"Sec-Fetch-Site", "same-origin", "Origin", a.URL}, "old browser": {"Origin", a.URL}, "program": nil,
	} {
		if got := a.Stranger(t).Post("/sign-in", form, headers...); got.Status != http.StatusSeeOther {
			t.Errorf("%s: %d; want to be let in", name, got.Status)
		}
	}
}

func TestTheLogSaysWhatHappenedAndNothingOfWhom(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "ansel")
		a.Stranger(t).Post("/sign-in", url.Values{"user": {"bryn"}, "password": {"not it"}})
		report := path(a.Bryn.ID, a.Season.ID)
		c.Get("/")
		c.Get(report)
		c.Get("/api/v1/players?name=Bryn+Calder")
		a.Program(t, "mabyn").Get("/api/v1" + report + "/report")
		c.Do("BREW", "/secret-path", nil)
		a.Stop()
		log := a.Log.String()
		for _, want := range []string{
			"method=POST route=/sign-in status=303", "method=POST route=/sign-in status=401",
			"method=GET route=/players/:player/seasons/:season status=200",
			"method=GET route=/api/v1/players status=200", "method=other route=none status=404",
			"route=/api/v1/players/:id/seasons/:season/report status=200",
		} {
			if !strings.Contains(log, want) {
				t.Errorf("the log lacks %q", want)
			}
		}
		for _, line := range strings.Split(strings.TrimSpace(log), "\n") {
			if strings.Contains(line, "msg=request") &&
				!regexp.MustCompile(` duration=\S+ id=[0-9a-f]{16}$`).MatchString(line) {
				t.Errorf("a line without a duration or a number: %s", line)
			}
		}
		for _, private := range []string{"bryn", "calder", "ansel", "brock", "name=", "127.0.0.1", apitest.Password,
			a.Token("mabyn"), "not it", "secret", "brew", report} {
			if strings.Contains(strings.ToLower(log), strings.ToLower(private)) {
				t.Errorf("the log has %q in it", private)
			}
		}
		if t.Failed() {
			t.Log(log)
		}
	})
}

// path is where a season report is, below the root of pages and of resources.
func path(player, season int64) string {
	b, _ := json.Marshal(player)
	c, _ := json.Marshal(season)
	return "/players/" + string(b) + "/seasons/" + string(c)
}

// slow is a sign-in whose body is still on its way.
type slow struct {
	conn net.Conn
	t    *testing.T
}

// startSlow sends the head of a request and returns when the handler waits for the body, which is when the server says
// 100 (RFC 9110 §10.1.1).
func startSlow(t *testing.T, addr string) slow {
	t.Helper()
	conn, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	_, err = io.WriteString(conn, "POST /sign-in HTTP/1.1\r\nHost: "+addr+
		"\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 6\r\nExpect: 100-continue\r\n\r\n")
	if err != nil {
		t.Fatal(err)
	}
	said := make([]byte, len("HTTP/1.1 100"))
	if _, err := io.ReadFull(conn, said); err != nil || string(said) != "HTTP/1.1 100" {
		t.Fatalf("the server said %q, %v; want 100", said, err)
	}
	return slow{conn, t}
}

// finish sends the body and returns the answer.
func (s slow) finish() string {
	s.t.Helper()
	if _, err := io.WriteString(s.conn, "user=x"); err != nil {
		s.t.Fatal(err)
	}
	said, err := io.ReadAll(s.conn)
	if err != nil {
		s.t.Fatal(err)
	}
	return string(said)
}

// refusing returns once no one is let in any more.
func refusing(t *testing.T, addr string) {
	t.Helper()
	for {
		conn, err := net.Dial("tcp", addr)
		if err != nil {
			return
		}
		conn.Close()
		if t.Context().Err() != nil {
			t.Fatal("the server goes on accepting")
		}
	}
}

func TestStoppingLetsRunningRequestsFinishAndLeavesNothingBehind(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		before := goleak.IgnoreCurrent()
		addr, stop, stopped := serve(t, s, 0)
		request := startSlow(t, addr)
		stop()
		refusing(t, addr)
		if said := request.finish(); !strings.Contains(said, "401 Unauthorized") {
			t.Errorf("the running request was answered %q; want 401, as if nothing had happened", said)
		}
		if err := <-stopped; err != nil {
			t.Errorf("stopping: %v", err)
		}
		goleak.VerifyNone(t, before)
	})
}

func TestARequestThatDoesNotFinishInTimeIsCancelled(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		before := goleak.IgnoreCurrent()
		addr, stop, stopped := serve(t, s, time.Millisecond)
		startSlow(t, addr)
		stop()
		if err := <-stopped; err == nil || !strings.Contains(err.Error(), "still running") ||
			strings.Contains(err.Error(), "not noticed") {
			t.Errorf("stopping: %v; want that a request was still running and has been cancelled", err)
		}
		goleak.VerifyNone(t, before)
	})
}

// serve serves a store without an academy. What it returns must be used: the address, how to stop, and what came of
// it.
func serve(t *testing.T, s *store.Store, grace time.Duration) (addr string, stop func(), stopped <-chan error) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	charts := chart.NewRenderer(1)
	papers, err := reports.Papers(charts)
	if err != nil {
		t.Fatal(err)
	}
	server, err := api.New(api.Options{
		Store: s, Papers: papers, Log: slog.New(slog.DiscardHandler), Now: time.Now, Version: "test", Grace: grace,
	})
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		err := server.Serve(ctx, ln)
		charts.Close()
		ended <- err
	}()
	t.Cleanup(cancel)
	return ln.Addr().String(), cancel, ended
}
