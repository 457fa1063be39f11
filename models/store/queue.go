package store

import (
	"context"
	"fmt"
	"sync"
	"time"

	"throughline/models"
)

// queue lets one writer of an academy in after the other, before it takes a connection: the pool is left to those who
// read, however many want to write. Writers of other processes are waited for in the database: see Tx.enter.
type queue struct {
	patience time.Duration // for how long; 0 for any time

	mu    sync.Mutex
	lines map[int64]*line
}

// line is one academy's, kept while a person is in it.
type line struct {
	turn chan struct{} // holds the writer whose turn it is
	in   int           // the writer and those who wait
}

// enter waits for a writer's turn in an academy. The caller ends its turn by calling leave. The error is that of ctx
// if ctx ends, and wraps ErrUnavailable if the turn does not come in time.
func (q *queue) enter(ctx context.Context, academy int64) (leave func(), err error) {
	l := q.join(academy)
	var late <-chan time.Time
	if q.patience > 0 {
		timer := time.NewTimer(q.patience)
		defer timer.Stop()
		late = timer.C
	}
	select {
	case l.turn <- struct{}{}:
		return func() { <-l.turn; q.leave(academy) }, nil
	case <-ctx.Done():
		err = fmt.Errorf("wait for other writers: %w", ctx.Err())
	case <-late:
		err = fmt.Errorf("waited longer than %[2]v for other writers: %[1]w", ErrUnavailable, q.patience)
	}
	q.leave(academy)
	return nil, err
}

func (q *queue) join(academy int64) *line {
	q.mu.Lock()
	defer q.mu.Unlock()
	l := q.lines[academy]
	if l == nil {
		l = &line{turn: make(chan struct{}, 1)}
		if q.lines == nil {
			q.lines = map[int64]*line{}
		}
		q.lines[academy] = l
	}
	l.in++
	return l
}

func (q *queue) leave(academy int64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if l := q.lines[academy]; l.in > 1 {
		l.in--
	} else {
		delete(q.lines, academy)
	}
}

// writable refuses a program whose token is for reading.
func writable(who models.Who) error {
	if who.ReadOnly {
		return models.Errorf(models.Forbidden, "this access token is read only")
	}
	return nil
}
