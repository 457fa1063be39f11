package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"
)

// How long one request may take, and why.
const (
	// A head of a few hundred bytes that takes longer is a person holding connections open on purpose.
	headTimeout = 10 * time.Second
	// The largest thing that is sent in is a file of a season's totals, over a ground's poor line.
	readTimeout = time.Minute
	// The slowest answer is a squad's season fitted for the first time, on a small machine.
	writeTimeout = 2 * time.Minute
	// Pages are read for a while before the next link; keeping the connection saves the next handshake.
	idleTimeout = 2 * time.Minute
	// Grace is how long running requests are given to finish once the server has been told to stop. Service managers
	// usually wait 30 seconds or more before they kill (common practice): enough to finish the rest.
	Grace = 20 * time.Second
	// What does not finish is cancelled, and given this long to notice before the database is taken away.
	cancelled = 5 * time.Second
)

// times are how long one request may take in a server.
type times struct{ head, read, write, idle, grace time.Duration }

func usual() times { return times{headTimeout, readTimeout, writeTimeout, idleTimeout, Grace} }

// largestHead is far above what a browser sends and far below what would cost memory.
const largestHead = 64 << 10

// Serve answers requests that arrive at ln until ctx ends. Then it accepts no more, lets running requests finish for
// up to Grace, cancels those that have not, and returns: nil when all finished, an error that says so otherwise. No
// request is running when Serve returns nil: the store may be closed. Ln is closed in every case.
func (s *Server) Serve(ctx context.Context, ln net.Listener) error {
	// Requests outlive ctx: it says when to stop accepting, not when to drop what was accepted.
	base, cancel := context.WithCancel(context.WithoutCancel(ctx))
	defer cancel()
	var running sync.WaitGroup
	server := &http.Server{
		Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			running.Add(1)
			defer running.Done()
			s.handler.ServeHTTP(w, r)
		}),
		ReadHeaderTimeout: s.times.head,
		ReadTimeout:       s.times.read,
		WriteTimeout:      s.times.write,
		IdleTimeout:       s.times.idle,
		MaxHeaderBytes:    largestHead,
		ConnState:         s.lines.changed,
		BaseContext:       func(net.Listener) context.Context { return base },
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(ln) }()
	select {
	case err := <-ended:
		return fmt.Errorf("serve on %s: %w", ln.Addr(), err)
	case <-ctx.Done():
	}
	s.stopping.Store(true)
	s.log.Info("stopping; waiting for running requests to finish", "within", s.times.grace)
	grace, stop := context.WithTimeout(base, s.times.grace)
	defer stop()
	err := server.Shutdown(grace)
	<-ended
	if err == nil {
		return nil
	}
	cancel()
	err = errors.Join(fmt.Errorf("cancelled requests that were still running %v after the stop signal", s.times.grace),
		server.Close())
	left := make(chan struct{})
	go func() {
		running.Wait()
		close(left)
	}()
	select {
	case <-left:
	case <-time.After(cancelled):
		err = errors.Join(err, fmt.Errorf("some requests were still running %v after that", cancelled))
	}
	return err
}
