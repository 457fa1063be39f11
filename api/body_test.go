package api

import (
	"io"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// sent is a body of unknown length that counts how much of it was read.
type sent struct {
	io.Reader
	read *atomic.Int64
}

// Read reads and counts.
func (s sent) Read(p []byte) (int, error) {
	n, err := s.Reader.Read(p)
	s.read.Add(int64(n))
	return n, err
}

// zeros never ends.
type zeros struct{}

// Read fills p.
func (zeros) Read(p []byte) (int, error) { return len(p), nil }

// Sixty strangers with bodies of 4 MiB made the server take 800 MiB.
func TestBodiesOfStrangersAreReadOnFormPathsOnlyAndUpTo64KiB(t *testing.T) {
	s := limited(t, time.Now, Limits{})
	for path, c := range map[string]struct {
		status int
		most   int64
		kind   string
	}{
		"/api/v1/players": {http.StatusUnauthorized, 0, "application/problem+json"},
		"/people":         {http.StatusUnauthorized, 0, "text/html; charset=utf-8"},
		"/nothing":        {http.StatusUnauthorized, 0, "text/html; charset=utf-8"},
		"/sign-in":        {http.StatusRequestEntityTooLarge, 64<<10 + 1, "text/html; charset=utf-8"},
		"/join/nothing":   {http.StatusRequestEntityTooLarge, 64<<10 + 1, "text/html; charset=utf-8"},
	} {
		var all sync.WaitGroup
		for range 60 {
			all.Go(func() {
				var read atomic.Int64
				got := send(s, "192.0.2.1:1", "POST", path, sent{io.LimitReader(zeros{}, 4<<20), &read})
				if got.Code != c.status || got.Header().Get("Content-Type") != c.kind ||
					got.Header().Get("Connection") != "close" {
					t.Errorf("%s: %d as %s, Connection %q; want %d as %s, and the connection closed", path, got.Code,
						got.Header().Get("Content-Type"),
						got.Header().Get("Connection"), c.status, c.kind)
				}
				if n := read.Load(); n > c.most {
					t.Errorf("%s: %d bytes were read; want at most %d", path, n, c.most)
				}
			})
		}
		all.Wait()
	}
	if got := send(s, "192.0.2.1:1", "POST", "/sign-in", strings.NewReader(strings.Repeat("x",
		64<<10+1))); got.Code != http.StatusRequestEntityTooLarge ||
		!strings.Contains(got.Body.String(), "65536 bytes") {
		t.Errorf("a length that is said: %d %.200s; want 413 with the limit", got.Code, got.Body)
	}
	if s.bodies.free != DefaultHeld || s.bodies.strangers != DefaultHeld/strangersShare {
		t.Errorf("%d and %d bytes are free afterwards; want all", s.bodies.free, s.bodies.strangers)
	}
}

// waiting is a body that stops in the middle until it may go on.
type waiting struct {
	size    int64
	reached chan<- struct{}
	goOn    <-chan struct{}
	said    sync.Once
}

// Read reads the first half at once and the second when it may.
func (w *waiting) Read(p []byte) (int, error) {
	if w.size <= 0 {
		w.said.Do(func() { w.reached <- struct{}{} })
		<-w.goOn
		return 0, io.EOF
	}
	n := min(int64(len(p)), w.size)
	w.size -= n
	return int(n), nil
}

func TestAllBodiesTogetherHoldOnlySoMuchAndStrangersAQuarterOfIt(t *testing.T) {
	b := newBodies(8 * piece)
	reached, goOn, done := make(chan struct{}), make(chan struct{}), make(chan error)
	hold := func(size int64, stranger bool) {
		go func() {
			_, took, err := b.read(&waiting{size: size, reached: reached, goOn: goOn}, -1, stranger)
			b.put(took, stranger)
			done <- err
		}()
		<-reached
	}
	refused := func(size int64, stranger bool) bool {
		_, took, err := b.read(io.LimitReader(zeros{}, size), size, stranger)
		b.put(took, stranger)
		return err != nil
	}
	hold(piece, true) // and a second piece, in which the end is looked for
	if !refused(1, true) || refused(6*piece, false) {
		t.Error("a stranger was let in beyond the quarter, or those who are known were held up by strangers")
	}
	hold(5*piece, false)
	if !refused(1, false) {
		t.Error("more was read than all may hold")
	}
	close(goOn)
	for range 2 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	if refused(8*piece, false) || refused(2*piece, true) {
		t.Error("what was given back is not free")
	}
}

func TestAStrangerBeyondTheLimitOfAllBodiesIsToldWhenToComeAgain(t *testing.T) {
	s := limited(t, time.Now, Limits{Held: LeastHeld})
	if !s.bodies.take(LeastHeld/strangersShare, true) {
		t.Fatal("there is not even as much as was asked for")
	}
	got := send(s, "192.0.2.1:1", "POST", "/sign-in", strings.NewReader("user=x"))
	if got.Code != http.StatusServiceUnavailable || got.Header().Get("Retry-After") == "" ||
		got.Header().Get("Connection") != "close" {
		t.Errorf("%d, Retry-After %q; want 503 that says when to come again", got.Code, got.Header().Get("Retry-After"))
	}
}

// called is a connection that comes from an address.
type called struct {
	net.Conn
	from   net.Addr
	closed bool
	said   strings.Builder
}

// RemoteAddr is where it comes from.
func (c *called) RemoteAddr() net.Addr { return c.from }

// Close closes it.
func (c *called) Close() error { c.closed = true; return nil }

// SetWriteDeadline does nothing.
func (c *called) SetWriteDeadline(time.Time) error { return nil }

// Write keeps what is said.
func (c *called) Write(p []byte) (int, error) { return c.said.Write(p) }

func TestAnAddressHasOnlySoManyConnectionsAndAProxyAnyNumber(t *testing.T) {
	s := limited(t, time.Now, Limits{Connections: 3, Proxies: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/32")}})
	open := func(from string) *called {
		c := &called{from: net.TCPAddrFromAddrPort(netip.MustParseAddrPort(from))}
		s.lines.changed(c, http.StateNew)
		return c
	}
	for name, from := range map[string][]string{
		"one address":               {"192.0.2.1:1", "192.0.2.1:2", "192.0.2.1:3", "192.0.2.1:4"},
		"the same, written as IPv6": {"198.51.100.1:1", "[::ffff:198.51.100.1]:2", "198.51.100.1:3", "198.51.100.1:4"},
		"a /64": {"[2001:db8:1:1::1]:1", "[2001:db8:1:1::2]:1", "[2001:db8:1:1::3]:1",
			"[2001:db8:1:1::4]:1"},
		"several /64 of a /56": {"[2001:db8:2:1::1]:1", "[2001:db8:2:2::1]:1", "[2001:db8:2:3::1]:1",
			"[2001:db8:2:4::1]:1"},
		"several /56 of a /48": {"[2001:db8:3:100::1]:1", "[2001:db8:3:200::1]:1", "[2001:db8:3:300::1]:1",
			"[2001:db8:3:400::1]:1"},
		"another address (IPv4 of 4)": {"192.0.2.2:1", "192.0.2.2:2", "192.0.2.2:3", "192.0.2.2:4"},
	} {
		var last *called
		for i, at := range from {
			c := open(at)
			if c.closed != (i == 3) {
				t.Errorf("%s: connection %d is closed: %v; want the fourth to be, and no other", name, i+1, c.closed)
			}
			if i == 2 {
				last = c
			} else if i == 3 && !strings.HasPrefix(c.said.String(), "HTTP/1.1 503 ") {
				t.Errorf("%s: the fourth is told %q; want 503", name, c.said.String())
			}
		}
		s.lines.changed(last, http.StateClosed)
		s.lines.changed(last, http.StateClosed)
		if c := open(from[3]); c.closed {
			t.Errorf("%s: nothing is free after a connection has ended", name)
		}
	}
	for range 10 {
		if open("127.0.0.1:1").closed {
			t.Fatal("a connection of a proxy was refused")
		}
	}
}

// The server itself counts: the connection that is too many is answered and closed, and one that has ended makes room.
func TestTheServerCountsItsConnections(t *testing.T) {
	s := limited(t, time.Now, Limits{Connections: 1})
	conn := dial(t, s)
	if _, err := io.WriteString(conn, "GET /cautions HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadFull(conn, make([]byte, len("HTTP/1.1 200"))); err != nil {
		t.Fatal(err)
	}
	second, err := net.Dial("tcp", conn.RemoteAddr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	if said, err := io.ReadAll(second); err != nil || !strings.HasPrefix(string(said), "HTTP/1.1 503 ") {
		t.Errorf("one too many: %.100q, %v; want 503 and the end", said, err)
	}
}
