package api

import (
	"container/list"
	"math"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"throughline/api/auth"
	"throughline/api/pages"
	"throughline/models"
)

// Limits say how much one caller may ask of the server. The zero value limits nothing but bodies, which have the
// defaults.
type Limits struct {
	Body        int64   // bytes of a request's body; 0 stands for DefaultBody
	Held        int64   // bytes of all bodies that are in memory at once; 0 stands for DefaultHeld
	Person      float64 // requests a second of one person or program, over ten seconds; 0 for any number
	Address     float64 // the same of one address of the network
	Connections int     // of one address at once; 0 for any number
	// Proxies are the addresses that are trusted to say where a request came from. Their connections are not counted.
	Proxies []netip.Prefix
}

// The limits where no one chooses others.
const (
	// DefaultBody is many times a long match log sent at once.
	DefaultBody = 4 << 20
	// DefaultHeld is sixteen of the largest bodies. Handlers decode what they were sent: expect some three times as
	// much memory.
	DefaultHeld = 64 << 20
	// DefaultConnections is for a whole club behind one address, six connections for each browser.
	DefaultConnections = 256
	// DefaultPerson is more than anybody types, and lets a log that waited for the network be sent at one go.
	DefaultPerson = 10
	// DefaultAddress is for a whole club behind one address.
	DefaultAddress = 50
)

const (
	burst = 10 // seconds of a rate that may be used at one go
	// signInCost is what a sign-in counts for: checking a password takes a core for as long as many reads, and no one
	// should try many.
	signInCost = 10
	// mostBuckets bounds the memory: of more callers than these, anyone who has not been seen for longest is forgotten,
	// and begins anew.
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
		e = b.last.PushFront(&bucket{key, rate.NewLimiter(rate.Limit(b.rate), b.size())})
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

// limitAddresses refuses addresses that ask too much, before anything is looked up for them. It tells the next
// handlers the address of the request.
func (s *Server) limitAddresses(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		tokens := 1
		if r.Method == http.MethodPost && takesPassword(r.URL.Path) {
			tokens = signInCost
		}
		at := s.from(r)
		var wait time.Duration
		all := blocks(at)
		for i := 0; i < len(all) && wait == 0; i++ {
			wait = s.addresses.take(all[i], tokens)
		}
		s.addresses.tell(w, r, "address", all[0]) // the widest has the least left
		if wait > 0 {
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
	return path == "/sign-in" || path == pages.FirstRunPath ||
		strings.HasPrefix(path, "/sign-in/") || strings.HasPrefix(path, auth.JoinPath) ||
		strings.HasPrefix(path, "/account/")
}

// limitPeople refuses people, and the programs that act for them, who ask too much.
func (s *Server) limitPeople(next http.Handler) http.Handler {
	type person struct{ academy, user int64 }
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if who, known := auth.Who(r.Context()); known {
			caller := person{who.AcademyID, who.UserID}
			wait := s.people.take(caller, 1)
			s.people.tell(w, r, "person", caller)
			if wait > 0 {
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
	s.fail(w, r, http.StatusTooManyRequests,
		models.Errorf(models.Conflict, "too many requests at once; try again in %s s", seconds))
}

// from is the address that a request comes from: what connected, or, where that is a proxy of ours, the last address
// that the proxies have not added themselves. Of an IPv6 address the first 64 bits count, which is what one household
// or machine is given (RFC 6177).
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

// blocks are what an address is counted as, the widest first: an IPv6 network is given to one customer as a /48, a
// /56 or a /64 (RFC 6177), and its owner has as many addresses below it as they like. A connection without an address
// is a caller of its own, under the zero prefix.
func blocks(at netip.Addr) []netip.Prefix {
	widths := []int{at.BitLen()}
	if at.Is6() && !at.Is4In6() {
		widths = []int{48, 56, 64}
	}
	all := make([]netip.Prefix, 0, len(widths))
	for _, bits := range widths {
		block, _ := at.WithZone("").Prefix(bits) // the zero prefix where there is no address
		all = append(all, block)
	}
	return all
}

func (s *Server) trusts(at netip.Addr) bool {
	return slices.ContainsFunc(s.limits.Proxies, func(p netip.Prefix) bool { return p.Contains(at.Unmap()) })
}
