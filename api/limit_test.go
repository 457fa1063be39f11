package api

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"
)

// limited returns a server that reaches no database, for requests of strangers.
func limited(t *testing.T, now func() time.Time, l Limits) *Server {
	t.Helper()
	s, err := New(Options{Log: slog.New(slog.DiscardHandler), Now: now, Limits: l})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// send sends a request from an address of the network.
func send(s *Server, from, method, path string, body io.Reader, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, body)
	r.RemoteAddr = from
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Add(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.handler.ServeHTTP(w, r)
	return w
}

func TestAnAddressThatAsksTooMuchIsToldWhenToComeAgain(t *testing.T) {
	now := time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
	s := limited(t, func() time.Time { return now }, Limits{Address: 2})
	const one, other = "192.0.2.1:1000", "192.0.2.2:1000" // RFC 5737
	for n := range 2 * burst {
		if got := send(s, one, "GET", "/cautions", nil); got.Code != http.StatusOK {
			t.Fatalf("request %d: %d; want 200", n+1, got.Code)
		}
	}
	for path, kind := range map[string]string{"/cautions": "text/html; charset=utf-8",
		"/api/v1/players": "application/problem+json"} {
		got := send(s, one, "GET", path, nil)
		if got.Code != http.StatusTooManyRequests || got.Header().Get("Retry-After") != "1" ||
			got.Header().Get("Content-Type") != kind {
			t.Errorf("%s, too often: %d, Retry-After %q, %s; want 429, 1 and %s", path, got.Code,
				got.Header().Get("Retry-After"), got.Header().Get("Content-Type"), kind)
		}
	}
	if got := send(s, other, "GET", "/cautions", nil); got.Code != http.StatusOK {
		t.Errorf("another address: %d; want 200", got.Code)
	}
	if got := send(s, one, "POST", "/sign-in", strings.NewReader("")); got.Code != http.StatusTooManyRequests ||
		got.Header().Get("Retry-After") != "5" {
		t.Errorf("a sign-in: %d, Retry-After %q; want 429 and 5 s for ten requests' worth", got.Code,
			got.Header().Get("Retry-After"))
	}
	for path, costs := range map[string]bool{"/sign-in": true, "/sign-in/code": true, "/join/x": true,
		"/account/password": true, "/sign-out": false, "/account": false, "/joint": false} {
		if takesPassword(path) != costs {
			t.Errorf("%s counts for as much as a sign-in: %v; want %v", path, !costs, costs)
		}
	}
	now = now.Add(time.Second)
	for n, want := range []int{200, 200, 429} {
		if got := send(s, one, "GET", "/cautions", nil); got.Code != want {
			t.Errorf("a second later, request %d: %d; want %d", n+1, got.Code, want)
		}
	}
}

func TestOnlyProxiesOfOursSayWhereARequestComesFrom(t *testing.T) {
	s := limited(t, time.Now,
		Limits{Proxies: []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("203.0.113.9/32")}})
	for _, c := range []struct{ remote, forwarded, want string }{
		{"192.0.2.1:5", "", "192.0.2.1"},
		{"192.0.2.1:5", "198.51.100.7", "192.0.2.1"},
		{"127.0.0.1:5", "198.51.100.7", "198.51.100.7"},
		{"127.0.0.1:5", "6.6.6.6, 198.51.100.7", "198.51.100.7"},
		{"127.0.0.1:5", "6.6.6.6, 198.51.100.7, 203.0.113.9", "198.51.100.7"},
		{"127.0.0.1:5", "nonsense", "127.0.0.1"},
		{"127.0.0.1:5", "", "127.0.0.1"},
		{"[::ffff:192.0.2.1]:5", "", "192.0.2.1"},
		{"[2001:db8:1:2:3:4:5:6]:5", "", "2001:db8:1:2::"}, // RFC 6177
		{"[fe80::1%eth0]:5", "", "fe80::"},
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.RemoteAddr = c.remote
		if c.forwarded != "" {
			r.Header.Set("X-Forwarded-For", c.forwarded)
		}
		if got := s.from(r).String(); got != c.want {
			t.Errorf("%s, forwarded for %q: %s; want %s", c.remote, c.forwarded, got, c.want)
		}
	}
}

func TestBucketsTakeOnlySoMuchMemory(t *testing.T) {
	b := newBuckets(1, func() time.Time { return time.Unix(0, 0) })
	for n := range 3 * mostBuckets {
		b.take("regular", 0)
		b.take(n, 1)
	}
	if len(b.held) != mostBuckets || b.last.Len() != mostBuckets {
		t.Errorf("%d buckets in %d places; want %d", len(b.held), b.last.Len(), mostBuckets)
	}
	if b.held["regular"] == nil || b.held[0] != nil {
		t.Error("want those forgotten who have not been seen for longest")
	}
}

// dial serves s on a real connection and returns one to it.
func dial(t *testing.T, s *Server) net.Conn {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stopped := make(chan error, 1)
	go func() { stopped <- s.Serve(ctx, ln) }()
	conn, err := net.Dial("tcp", ln.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		conn.Close()
		stop()
		if err := <-stopped; err != nil {
			t.Error(err)
		}
	})
	return conn
}

func TestARequestThatDoesNotArriveIsAnsweredWith408(t *testing.T) {
	s := limited(t, time.Now, Limits{})
	s.times.read = 20 * time.Millisecond
	conn := dial(t, s)
	fmt.Fprint(conn, "POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Length: 10\r\n\r\nhalf")
	said, err := io.ReadAll(conn)
	if err != nil || !strings.HasPrefix(string(said), "HTTP/1.1 408 ") || !strings.Contains(string(said),
		"Connection: close") {
		t.Errorf("%v %s; want 408, and the connection closed", err, said)
	}
}

func TestALargeHeadIsRefused(t *testing.T) {
	conn := dial(t, limited(t, time.Now, Limits{}))
	go fmt.Fprintf(conn, "GET /cautions HTTP/1.1\r\nHost: x\r\nX-Large: %s\r\n\r\n", strings.Repeat("x", 2*largestHead))
	said := make([]byte, len("HTTP/1.1 431"))
	if _, err := io.ReadFull(conn, said); err != nil || string(said) != "HTTP/1.1 431" {
		t.Errorf("%q, %v; want 431", said, err)
	}
}

// A person opens connections and lets heads trickle in, so that no one else is served.
func TestAHeadThatNeverEndsEndsTheConnection(t *testing.T) {
	for what, more := range map[string]string{"nothing more comes": "", "a line at a time": "X-A: b\r\n"} {
		s := limited(t, time.Now, Limits{})
		s.times.head = 20 * time.Millisecond
		conn := dial(t, s)
		fmt.Fprint(conn, "GET /cautions HTTP/1.1\r\nHost: x\r\n")
		over := make(chan error, 1)
		go func() {
			for more != "" {
				if _, err := fmt.Fprint(conn, more); err != nil { // the server has hung up
					break
				}
			}
			over <- nil
		}()
		said, _ := io.ReadAll(conn) // until the server hangs up: an error too where it did not read what had come
		conn.Close()
		<-over
		if strings.Contains(string(said), "200 OK") {
			t.Errorf("%s: is answered %.100q; want no answer as if it had ended", what, said)
		}
	}
}
