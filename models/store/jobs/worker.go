package jobs

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"throughline/models"
)

// worker does the jobs of one kind for River.
type worker struct {
	river.WorkerDefaults[order]
	kind models.JobKind
	of   *Workers
}

// Timeout is how long one attempt may take, with the wait for its turn.
func (x *worker) Timeout(*river.Job[order]) time.Duration { return x.kind.Limit + x.of.turn }

// Work waits for the job's turn and does it.
func (x *worker) Work(ctx context.Context, job *river.Job[order]) error {
	if !x.of.take(ctx) {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return river.JobSnooze(x.of.how.Poll)
	}
	r := &running{job: job}
	r.leave = sync.OnceFunc(func() { <-x.of.turns })
	defer r.leave()
	x.of.mu.Lock()
	x.of.running[job.ID] = r
	x.of.mu.Unlock()
	defer func() {
		x.of.mu.Lock()
		defer x.of.mu.Unlock()
		delete(x.of.running, job.ID)
	}()
	ctx, cancel := context.WithTimeout(ctx, x.kind.Limit)
	defer cancel()
	err := x.kind.Do(context.WithValue(ctx, inside{}, r), r)
	var later models.Later
	if errors.As(err, &later) {
		return river.JobSnooze(max(0, time.Duration(later)))
	}
	return err
}

// take waits for one of the turns of the process and says whether it came.
func (w *Workers) take(ctx context.Context) bool {
	patience := time.NewTimer(w.turn)
	defer patience.Stop()
	select {
	case w.turns <- struct{}{}:
		return true
	case <-ctx.Done():
	case <-patience.C:
	}
	return false
}

// stuck lets others have the turn of a job that goes on beyond its limit.
func (w *Workers) stuck(_ context.Context, job river.JobStuckHandlerParams) river.JobStuckHandlerResult {
	w.mu.Lock()
	defer w.mu.Unlock()
	if r, ok := w.running[job.ID]; ok {
		r.leave()
	}
	return river.JobStuckHandlerResult{AddWorkerSlot: true}
}

// running is a job while it runs.
type running struct {
	job   *river.Job[order]
	leave func() // lets others have its turn

	mu    sync.Mutex
	said  progress
	fresh bool // not yet written
}

// Who is the console of the job's academy.
func (r *running) Who() models.Who { return models.Console(r.job.Args.Academy) }

// AskedAt is when the job was asked for.
func (r *running) AskedAt() time.Time { return r.job.CreatedAt.UTC() }

// Task reads what is to be done.
func (r *running) Task(into any) error {
	if err := json.Unmarshal(r.job.Args.Task, into); err != nil {
		return fmt.Errorf("read the task of job %d: %w", r.job.ID, err)
	}
	return nil
}

// Progress notes how far the job is.
func (r *running) Progress(share float64, line string) {
	if !(share > 0) { // nor a NaN, which JSON does not have
		share = 0
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.said, r.fresh = progress{math.Min(share, 1), line}, true
}

// news is what was not yet written.
func (r *running) news() (p progress, fresh bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	fresh, r.fresh = r.fresh, false
	return r.said, fresh
}

// inside is the key of the job that a context is of.
type inside struct{}

// Finish marks the job of ctx as done in a transaction, so that it is done exactly when the transaction is committed.
// It does nothing for a context that is no job's.
func Finish(ctx context.Context, tx *sql.Tx) error {
	r, ok := ctx.Value(inside{}).(*running)
	if !ok {
		return nil
	}
	_, err := river.JobCompleteTx[driver](ctx, tx, r.job)
	if errors.Is(err, rivertype.ErrNotFound) {
		return fmt.Errorf("job %d was reassigned to another process", r.job.ID)
	}
	return err
}
