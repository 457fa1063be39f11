package api

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"sync"

	"throughline/api/auth"
	"throughline/api/pages"
	"throughline/models"
)

const (
	// piece is how much memory a body takes at a time while it arrives, so that announcing much and sending little
	// costs little.
	piece = 32 << 10
	// strangersShare is the part of all that is held which strangers may use: they must not use up what people who
	// have signed in need.
	strangersShare = 4
	// LeastHeld is the least of Limits.Held with which one stranger can sign in.
	LeastHeld = strangersShare * (pages.LargestForm + piece)
)

// errBusy says that all requests together hold as much as they may.
var errBusy = errors.New("too many uploads at once")

// bodies counts the bytes of bodies that are in memory, over all requests.
type bodies struct {
	mu              sync.Mutex
	free, strangers int64 // what everybody may still take, and what strangers may
}

func newBodies(most int64) *bodies { return &bodies{free: most, strangers: most / strangersShare} }

// take takes n bytes, and says whether there were so many.
func (b *bodies) take(n int64, stranger bool) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if n > b.free || stranger && n > b.strangers {
		return false
	}
	b.give(-n, stranger)
	return true
}

// put gives n bytes back.
func (b *bodies) put(n int64, stranger bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.give(n, stranger)
}

func (b *bodies) give(n int64, stranger bool) {
	b.free += n
	if stranger {
		b.strangers += n
	}
}

// read reads a body of size bytes, -1 where it is not said, in pieces that are counted. What it took is returned with
// an error too.
func (b *bodies) read(body io.Reader, size int64, stranger bool) (pieces []io.Reader, took int64, err error) {
	for size != 0 {
		next := int64(piece)
		if size > 0 {
			next = min(next, size)
		}
		if !b.take(next, stranger) {
			return nil, took, errBusy
		}
		took += next
		part := make([]byte, next)
		n, err := readFull(body, part)
		pieces = append(pieces, bytes.NewReader(part[:n]))
		if errors.Is(err, io.EOF) {
			return pieces, took, nil
		}
		if err != nil {
			return nil, took, err
		}
		if size > 0 {
			size -= next
		}
	}
	return pieces, took, nil
}

// readFull fills part. Its error is io.EOF where the body ends before that, and a body that was cut off has another.
func readFull(body io.Reader, part []byte) (n int, err error) {
	for n < len(part) && err == nil {
		var more int
		more, err = body.Read(part[n:])
		n += more
	}
	if n == len(part) {
		err = nil
	}
	return n, err
}

// bounded reads a whole body before it is used. One that is too large is refused with 413, and one that does not
// arrive in time with 408. A stranger may send little, and only to routes for strangers; other bodies of theirs are
// refused unread, but a form that its user sent after their session had ended is kept for them.
func (s *Server) bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.ContentLength == 0 || r.Body == nil || r.Body == http.NoBody {
			next.ServeHTTP(w, r)
			return
		}
		_, known := auth.Who(r.Context())
		most, answer := s.limits.Body, next
		if !known {
			late := !strangersForm(r.URL.Path)
			if r.Method != http.MethodPost || late && !s.pages.MayKeep(r) {
				w.Header().Set("Connection", "close") // or the rest would have to be read first
				s.fail(w, r, http.StatusUnauthorized, nil)
				return
			}
			most = min(most, pages.LargestForm)
			if late { // it comes to no handler
				answer = http.HandlerFunc(s.pages.KeepForm)
			}
		}
		if r.ContentLength > most {
			s.unread(w, r, &http.MaxBytesError{Limit: most})
			return
		}
		pieces, took, err := s.bodies.read(http.MaxBytesReader(w, r.Body, most), r.ContentLength, !known)
		defer s.bodies.put(took, !known)
		if err != nil {
			s.unread(w, r, err)
			return
		}
		r.Body = io.NopCloser(io.MultiReader(pieces...))
		answer.ServeHTTP(w, r)
	})
}

// strangersForm says whether a path takes a form of a stranger: to sign in, to use a one-time link, or to sign out of
// a session that has ended.
func strangersForm(path string) bool {
	return path == "/sign-in" || path == "/sign-in/code" || path == "/sign-out" ||
		path == pages.FirstRunPath || strings.HasPrefix(path, auth.JoinPath)
}

// unread refuses a request whose body was not read to its end.
func (s *Server) unread(w http.ResponseWriter, r *http.Request, err error) {
	w.Header().Set("Connection", "close") // what comes later would be taken for the next request
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		s.fail(w, r, http.StatusRequestEntityTooLarge, models.Errorf(models.Invalid,
			"request body too large; the limit is %s", inBytes(large.Limit)))
	case errors.Is(err, errBusy):
		s.fail(w, r, http.StatusServiceUnavailable, models.Errorf(models.Conflict,
			"the server is busy; try again in %s s", retryAfter))
	case errors.Is(err, os.ErrDeadlineExceeded):
		s.fail(w, r, http.StatusRequestTimeout, models.Errorf(models.Invalid, "the request took longer than %v to arrive",
			s.times.read))
	default:
		s.fail(w, r, http.StatusBadRequest, models.Errorf(models.Invalid, "the request was cut off before it was complete"))
	}
}

func inBytes(n int64) string {
	if n >= 1<<20 && n%(1<<20) == 0 {
		return fmt.Sprintf("%d MiB", n>>20)
	}
	return fmt.Sprintf("%d bytes", n)
}
