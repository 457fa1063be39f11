package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"throughline/models"
)

// rewriting is what is left to do after erasures in a SQLite file. The file still holds the bytes of erased rows, and
// so does the log beside it (the WAL). VACUUM writes the file anew, into the log; a checkpoint that truncates moves
// the log into the file and empties it. While a reader holds an older state SQLite skips that checkpoint, without an
// error.
type rewriting struct {
	mu       sync.Mutex
	vacuumed []erased // those that the last VACUUM was for
	timer    *time.Timer
	waiting  bool // it could not be done and has to be tried again
	closed   bool
}

// erased is the proof of an erasure.
type erased struct{ AcademyID, ID int64 }

const (
	// defaultPatience is how long an erasure waits for readers: longer than any request of the program's own takes.
	defaultPatience = 5 * time.Second
	// glance is how often it looks whether they have gone.
	glance = 20 * time.Millisecond
	// busyTimeout is how long the writer's connection waits for another program's lock, in milliseconds; see open.
	busyTimeout = 5000
)

// errHeld is that a person still reads an older state of the file.
var errHeld = errors.New("another program is reading the database file")

// rewriteFile rewrites the file where an erasure has not been followed by that yet, and marks the proofs. It waits
// so long for readers to go, and then returns errHeld. PostgreSQL has no such proofs.
func (s *Store) rewriteFile(ctx context.Context, patience time.Duration) error {
	s.rewriting.mu.Lock()
	defer s.rewriting.mu.Unlock()
	pending, err := s.rewritePending(ctx, patience)
	if err != nil || len(pending) == 0 {
		return err
	}
	for _, e := range pending {
		err := s.Write(ctx, models.Console(e.AcademyID), func(tx *Tx) error { return tx.fileRewritten(e.ID) })
		if err != nil {
			return err
		}
	}
	s.rewriting.waiting = false
	return nil
}

// rewritePending rewrites the file and returns the erasures that it was done for. Those that come meanwhile are not
// among them.
func (s *Store) rewritePending(ctx context.Context, patience time.Duration) (pending []erased, err error) {
	conn, err := s.pools[len(s.pools)-1].Conn(ctx)
	if err != nil {
		return nil, fmt.Errorf("rewrite the database file: %w", lost(err))
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	if pending, err = pendingOn(ctx, conn); err != nil || len(pending) == 0 {
		return nil, err
	}
	if !slices.Equal(pending, s.rewriting.vacuumed) {
		if _, err := conn.ExecContext(ctx, "VACUUM"); err != nil {
			return nil, fmt.Errorf("rewrite the database file: %w", lost(err))
		}
		s.rewriting.vacuumed = pending
	}
	return pending, truncateLog(ctx, conn, patience)
}

func pendingOn(ctx context.Context, conn *sql.Conn) (pending []erased, err error) {
	const query = "SELECT academy_id, id FROM data_requests WHERE file_pending ORDER BY academy_id, id"
	found, err := conn.QueryContext(ctx, query)
	if err != nil {
		return nil, fmt.Errorf("look for erasures whose file is pending: %w", lost(err))
	}
	defer func() { err = errors.Join(err, found.Close()) }()
	for found.Next() {
		var e erased
		if err := found.Scan(&e.AcademyID, &e.ID); err != nil {
			return nil, err
		}
		pending = append(pending, e)
	}
	return pending, found.Err()
}

// truncateLog moves the log into the file and empties it. Only the row that SQLite answers with says when it could
// not.
func truncateLog(ctx context.Context, conn *sql.Conn, patience time.Duration) (err error) {
	wait := func(ctx context.Context, milliseconds int) error {
		_, err := conn.ExecContext(ctx, fmt.Sprintf("PRAGMA busy_timeout = %d", milliseconds))
		return err
	}
	if err := wait(ctx, 0); err != nil { // we wait ourselves, as long as the context lets us
		return fmt.Errorf("empty the database log: %w", lost(err))
	}
	defer func() { err = errors.Join(err, wait(context.WithoutCancel(ctx), busyTimeout)) }()
	deadline := time.NewTimer(patience)
	defer deadline.Stop()
	for {
		var busy, pages, moved int
		if err := conn.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &moved); err != nil {
			return fmt.Errorf("empty the database log: %w", lost(err))
		}
		if busy == 0 {
			return nil
		}
		select {
		case <-time.After(glance):
		case <-deadline.C:
			return errHeld
		case <-ctx.Done():
			return fmt.Errorf("%w: %w", errHeld, ctx.Err())
		}
	}
}

// fileRewritten marks the proof of an erasure: the file no longer holds what was erased.
func (tx *Tx) fileRewritten(id int64) error {
	before, there, err := first(dataRequests().find(tx, where{}, that("data_requests.id = ?", id)))
	if err != nil || !there || !before.FilePending {
		return err
	}
	after := before
	after.FilePending, after.Version, after.ChangedAt = false, before.Version+1, tx.now
	tx.note(models.AuditChange, dataRequests().name, id, 0, before, after)
	return tx.exec("record that the file was rewritten",
		"UPDATE data_requests SET file_pending = ?, version = ?, changed_at = ? WHERE academy_id = ? AND id = ?",
		false, after.Version, after.ChangedAt, tx.who.AcademyID, id)
}

// rewriteLater says that the file could not be rewritten, and tries again in a while.
func (s *Store) rewriteLater(because error) {
	s.log.Warn("the database file still contains erased data; it will be rewritten as soon as possible", "error",
		because)
	s.rewriting.mu.Lock()
	defer s.rewriting.mu.Unlock()
	s.rewriting.waiting = true
	if s.rewriting.closed || s.rewriting.timer != nil {
		return
	}
	s.rewriting.timer = time.AfterFunc(retry, func() {
		s.rewriting.mu.Lock()
		s.rewriting.timer = nil
		s.rewriting.mu.Unlock()
		if err := s.rewriteFile(context.Background(), 0); err != nil {
			s.rewriteLater(err)
		}
	})
}

// rewriteAtLast tries once more before the store closes.
func (s *Store) rewriteAtLast() error {
	s.rewriting.mu.Lock()
	s.rewriting.closed = true
	if s.rewriting.timer != nil {
		s.rewriting.timer.Stop()
	}
	waiting := s.rewriting.waiting
	s.rewriting.mu.Unlock()
	if !waiting {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), retry)
	defer cancel()
	if err := s.rewriteFile(ctx, 0); !errors.Is(err, errHeld) {
		return err
	}
	return nil // the next to open the file goes on
}
