package api

import (
	"bytes"
	"container/list"
	"errors"
	"fmt"
	"io"
	"math"
	"mime"
	"net"
	"net/http"
	"net/netip"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"throughline/api/auth"
	"throughline/models"
)

// Limits say how much one caller may ask of the server. The zero value limits nothing but the size of bodies, which has the default.
type Limits struct {
	Body    int64   // bytes of a request's body; 0 stands for DefaultBody
	Person  float64 // requests a second of one person or program, over ten seconds; 0 for any number
	Address float64 // the same of one address of the network
	// Proxies are the addresses whose word on where a request came from is believed.
	Proxies []netip.Prefix
}

// The limits where nobody chooses others.
const (
	// DefaultBody is many times a long match log sent at once.
	DefaultBody = 4 << 20
	// DefaultPerson is more than anybody types, and lets a log that waited for the network be sent at one go.
	DefaultPerson = 10
	// DefaultAddress is for a whole club behind one address.
	DefaultAddress = 50
)

const (
	burst = 10 // seconds of a rate that may be used at one go
	// signInCost is what a sign-in counts for: checking a password takes a core for as long as many reads, and nobody should try many.
	signInCost = 10
	// mostBuckets bounds the memory: of more callers than these, whoever has not been seen for longest is forgotten, and begins anew.
	mostBuckets = 10_000
)

// buckets holds a token bucket for each caller.
type buckets struct {
	rate float64
	now  func() time.Time

	mu   sync.Mutex
	held map[any]*list.Element // of *bucket
	last *list.List            // the one used last first
}

type bucket struct {
	key     any
	limiter *rate.Limiter
}

func newBuckets(perSecond float64, now func() time.Time) *buckets {
	return &buckets{rate: perSecond, now: now, held: map[any]*list.Element{}, last: list.New()}
}

// take takes some tokens of a caller, all or none, and says how long to wait where there are not enough.
func (b *buckets) take(key any, tokens int) time.Duration {
	if b.rate <= 0 {
		return 0
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	e := b.held[key]
	if e == nil {
		if len(b.held) >= mostBuckets {
			oldest := b.last.Back()
			delete(b.held, b.last.Remove(oldest).(*bucket).key)
		}
		size := max(signInCost, int(math.Ceil(b.rate*burst))) // or nobody could sign in
		e = b.last.PushFront(&bucket{key, rate.NewLimiter(rate.Limit(b.rate), size)})
		b.held[key] = e
	}
	b.last.MoveToFront(e)
	now := b.now()
	r := e.Value.(*bucket).limiter.ReserveN(now, tokens)
	wait := r.DelayFrom(now)
	if wait > 0 {
		r.CancelAt(now)
	}
	return wait
}

// forget lets a caller begin anew.
func (b *buckets) forget(key any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if e := b.held[key]; e != nil {
		delete(b.held, b.last.Remove(e).(*bucket).key)
	}
}

// limitAddresses refuses addresses that ask too much, before anything is looked up for them, and says to whoever comes after from which
// address a request is.
func (s *Server) limitAddresses(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		tokens := 1
		if r.Method == http.MethodPost && takesPassword(r.URL.Path) {
			tokens = signInCost
		}
		at := s.from(r)
		if wait := s.addresses.take(at, tokens); wait > 0 {
			s.tooMany(w, r, wait)
			return
		}
		if at.IsValid() {
			r = r.WithContext(auth.WithFrom(r.Context(), at.String()))
		}
		next.ServeHTTP(w, r)
	})
}

// takesPassword says whether forms that are sent to a path may have a password or a code in them.
func takesPassword(path string) bool {
	return path == "/sign-in" || strings.HasPrefix(path, "/sign-in/") || strings.HasPrefix(path, auth.JoinPath) || strings.HasPrefix(path, "/account/")
}

// limitPeople refuses people, and the programs that act for them, who ask too much.
func (s *Server) limitPeople(next http.Handler) http.Handler {
	type person struct{ academy, user int64 }
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if who, known := auth.Who(r.Context()); known {
			if wait := s.people.take(person{who.AcademyID, who.UserID}, 1); wait > 0 {
				s.tooMany(w, r, wait)
				return
			}
		}
		next.ServeHTTP(w, r)
	})
}

func (s *Server) tooMany(w http.ResponseWriter, r *http.Request, wait time.Duration) {
	seconds := strconv.Itoa(int(math.Ceil(wait.Seconds())))
	w.Header().Set("Retry-After", seconds)
	s.fail(w, r, http.StatusTooManyRequests, models.Errorf(models.Conflict, "too many requests at once: try again in %s s", seconds))
}

// from is the address that a request comes from: what connected, or, where that is a proxy of ours, the last address that the
// proxies have not added themselves. Of an IPv6 address the first 64 bits count, which is what one household or machine is given
// (RFC 6177).
func (s *Server) from(r *http.Request) netip.Addr {
	host, _, _ := net.SplitHostPort(r.RemoteAddr)
	at, err := netip.ParseAddr(host)
	if err != nil {
		return netip.Addr{} // a test's connection, or a socket in the file system: all the same caller
	}
	hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for i := len(hops) - 1; i >= 0 && s.trusts(at); i-- {
		hop, err := netip.ParseAddr(strings.TrimSpace(hops[i]))
		if err != nil {
			break
		}
		at = hop
	}
	at = at.Unmap()
	if at.Is6() {
		if block, err := at.WithZone("").Prefix(64); err == nil {
			at = block.Addr()
		}
	}
	return at
}

func (s *Server) trusts(at netip.Addr) bool {
	return slices.ContainsFunc(s.limits.Proxies, func(p netip.Prefix) bool { return p.Contains(at.Unmap()) })
}

// bounded reads bodies before anybody works with them, so that one that is too large is refused with 413 and one that does not arrive with
// 408, whatever it was for, and nothing is done with half of one. Forms with files are read by whoever takes files, up to the same
// size unless he says otherwise.
func (s *Server) bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.ContentLength == 0 || r.Body == nil || r.Body == http.NoBody {
			next.ServeHTTP(w, r)
			return
		}
		if r.ContentLength > s.limits.Body {
			s.tooLarge(w, r)
			return
		}
		if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind == "multipart/form-data" {
			r.Body = http.MaxBytesReader(w, r.Body, s.limits.Body)
			next.ServeHTTP(w, r)
			return
		}
		var body bytes.Buffer
		_, err := io.Copy(&body, http.MaxBytesReader(w, r.Body, s.limits.Body))
		var large *http.MaxBytesError
		switch {
		case errors.As(err, &large):
			s.tooLarge(w, r)
			return
		case errors.Is(err, os.ErrDeadlineExceeded):
			w.Header().Set("Connection", "close") // what comes later would be taken for the next request
			s.fail(w, r, http.StatusRequestTimeout, models.Errorf(models.Invalid, "the request did not arrive whole in %v", s.times.read))
			return
		case err != nil:
			w.Header().Set("Connection", "close")
			s.fail(w, r, http.StatusBadRequest, models.Errorf(models.Invalid, "the request did not arrive whole"))
			return
		}
		r.Body = io.NopCloser(&body)
		next.ServeHTTP(w, r)
	})
}

func (s *Server) tooLarge(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Connection", "close") // or the rest would have to be read first
	s.fail(w, r, http.StatusRequestEntityTooLarge, models.Errorf(models.Invalid, "a request may bring %s", inBytes(s.limits.Body)))
}

func inBytes(n int64) string {
	if n >= 1<<20 && n%(1<<20) == 0 {
		return fmt.Sprintf("%d MiB", n>>20)
	}
	return fmt.Sprintf("%d bytes", n)
}
