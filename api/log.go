package api

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
)

// requestID is the header that names a request in the answer, on error pages and in the log, so that the three can be
// put together.
const requestID = "X-Request-Id"

// seen is what is known about a request for the log: its number, and the pattern of the route that it matched.
type seen struct{ id, pattern string }

type seenKey struct{}

// numbered is a log whose lines carry the number of the request that they are about.
type numbered struct{ slog.Handler }

// Handle writes a line.
func (n numbered) Handle(ctx context.Context, r slog.Record) error {
	if s, ok := ctx.Value(seenKey{}).(*seen); ok {
		r.AddAttrs(slog.String("id", s.id))
	}
	return n.Handler.Handle(ctx, r)
}

// WithAttrs keeps the numbers.
func (n numbered) WithAttrs(attrs []slog.Attr) slog.Handler {
	return numbered{n.Handler.WithAttrs(attrs)}
}

// WithGroup keeps the numbers.
func (n numbered) WithGroup(name string) slog.Handler { return numbered{n.Handler.WithGroup(name)} }

// logged writes one line for each request: its id, method, route pattern, status and duration, and counts it. It never
// writes the path or the query, which reveal whose record was read, nor an address, a name or a header.
func (s *Server) logged(now func() time.Time, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := now()
		var chance [8]byte
		rand.Read(chance[:]) // never fails: see its documentation
		id := hex.EncodeToString(chance[:])
		w.Header().Set(requestID, id)
		seen := &seen{id: id, pattern: "none"}
		answer := &answer{ResponseWriter: w}
		r = r.WithContext(context.WithValue(r.Context(), seenKey{}, seen))
		s.metrics.running.Inc()
		defer func() {
			s.metrics.running.Dec()
			took := now().Sub(began)
			s.metrics.observe(method(r), seen.pattern, answer.status(), took)
			s.log.InfoContext(r.Context(), "request", "method", method(r), "route", seen.pattern, "status", answer.status(),
				"duration", took)
		}()
		next.ServeHTTP(answer, r)
	})
}

// method is a request's method, unless a person made one up: a log is no place to write in.
func method(r *http.Request) string {
	switch r.Method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete,
		http.MethodOptions:
		return r.Method
	}
	return "other"
}

// noteRoute tells the log which route a request matched.
func noteRoute(c *gin.Context) {
	note(c.Request.Context(), c.FullPath())
}

func note(ctx context.Context, pattern string) {
	if s, ok := ctx.Value(seenKey{}).(*seen); ok && pattern != "" {
		s.pattern = pattern
	}
}

// retryAfter is how many seconds a client is asked to wait where the server cannot answer: a database that is started
// again takes about so long (common practice).
const retryAfter = "5"

// answer remembers the status of a response, and tells everybody who is turned away for now when to come again.
type answer struct {
	http.ResponseWriter
	code int
}

func (a *answer) WriteHeader(code int) {
	if a.code == 0 && code >= 200 {
		a.code = code
		if h := a.Header(); code == http.StatusServiceUnavailable && h.Get("Retry-After") == "" {
			h.Set("Retry-After", retryAfter)
		}
	}
	a.ResponseWriter.WriteHeader(code)
}

func (a *answer) Write(b []byte) (int, error) {
	if a.code == 0 {
		a.code = http.StatusOK
	}
	return a.ResponseWriter.Write(b)
}

// Unwrap lets http.ResponseController reach what is below.
func (a *answer) Unwrap() http.ResponseWriter { return a.ResponseWriter }

// begun says whether something has been sent that cannot be taken back.
func (a *answer) begun() bool { return a.code != 0 }

func (a *answer) status() int {
	if a.code == 0 {
		return http.StatusOK // what net/http sends for a handler that wrote nothing
	}
	return a.code
}
