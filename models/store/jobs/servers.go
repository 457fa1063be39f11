package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
)

// tell writes down how far the running jobs are.
func (w *Workers) tell(ctx context.Context) error {
	var errs []error
	for _, r := range w.working() {
		p, fresh := r.news()
		if !fresh {
			continue
		}
		_, err := w.client.JobUpdate(ctx, r.job.ID, &river.JobUpdateParams{Output: p})
		if err != nil && !errors.Is(err, rivertype.ErrNotFound) {
			errs = append(errs, fmt.Errorf("save the progress of job %d: %w", r.job.ID, err))
		}
	}
	return errors.Join(errs...)
}

func (w *Workers) working() []*running {
	w.mu.Lock()
	defer w.mu.Unlock()
	all := make([]*running, 0, len(w.running))
	for _, r := range w.running {
		all = append(all, r)
	}
	return all
}

// live says that the process lives, while it has a job that others might want to take over.
func (w *Workers) live(ctx context.Context, now time.Time) error {
	if len(w.working()) == 0 {
		return nil
	}
	const note = `INSERT INTO job_servers (id, seen_at) VALUES ($1, $2)
		ON CONFLICT (id) DO UPDATE SET seen_at = excluded.seen_at`
	_, err := w.writer.ExecContext(ctx, note, w.client.ID(), now.UTC())
	if err != nil {
		return fmt.Errorf("report that this process is alive: %w", err)
	}
	return nil
}

// gone forgets the process.
func (w *Workers) gone(ctx context.Context) error {
	_, err := w.writer.ExecContext(ctx, "DELETE FROM job_servers WHERE id = $1", w.client.ID())
	return err
}

// rescue gives back the jobs of processes that died. A job counts from when it was begun as a sign of life.
func (w *Workers) rescue(ctx context.Context, now time.Time) error {
	before := now.Add(-w.how.Dead)
	executor := w.queue.driver.GetExecutor()
	old, err := executor.JobGetStuck(ctx, &riverdriver.JobGetStuckParams{Max: 1000, StuckHorizon: before})
	if err != nil {
		return fmt.Errorf("find jobs of stopped processes: %w", err)
	}
	if len(old) == 0 {
		return nil
	}
	alive, err := texts(ctx, w.reader, "SELECT id FROM job_servers WHERE seen_at >= $1", before.UTC())
	if err != nil {
		return fmt.Errorf("find running processes: %w", err)
	}
	alive = append(alive, w.client.ID())
	left := riverdriver.JobRescueManyParams{StuckHorizon: before}
	for _, job := range old {
		if n := len(job.AttemptedBy); n > 0 && !slices.Contains(alive, job.AttemptedBy[n-1]) {
			if err := giveBack(&left, job, now.UTC()); err != nil {
				return err
			}
		}
	}
	if len(left.ID) == 0 {
		return nil
	}
	if _, err := executor.JobRescueMany(ctx, &left); err != nil {
		return fmt.Errorf("release the jobs of stopped processes: %w", err)
	}
	w.queue.log.WarnContext(ctx, "released the jobs of a process that stopped", "jobs", left.ID)
	_, err = w.writer.ExecContext(ctx, "DELETE FROM job_servers WHERE seen_at < $1", before.UTC())
	return err
}

// giveBack says what becomes of a job whose process died. It ends if it was cancelled or has used up its attempts;
// otherwise it starts again.
func giveBack(left *riverdriver.JobRescueManyParams, job *rivertype.JobRow, now time.Time) error {
	var told struct {
		Cancelled *time.Time `json:"cancel_attempted_at"`
	}
	if err := json.Unmarshal(job.Metadata, &told); err != nil {
		return fmt.Errorf("read job %d: %w", job.ID, err)
	}
	died := rivertype.AttemptError{At: now, Attempt: max(0, job.Attempt), Error: "the process that ran it stopped"}
	said, err := json.Marshal(died)
	if err != nil {
		return err
	}
	state, ended, due := rivertype.JobStateAvailable, (*time.Time)(nil), now
	switch {
	case told.Cancelled != nil:
		state, ended, due = rivertype.JobStateCancelled, &now, job.ScheduledAt
	case job.Attempt >= job.MaxAttempts:
		state, ended, due = rivertype.JobStateDiscarded, &now, job.ScheduledAt
	}
	left.ID, left.Error = append(left.ID, job.ID), append(left.Error, said)
	left.State, left.FinalizedAt = append(left.State, string(state)), append(left.FinalizedAt, ended)
	left.ScheduledAt = append(left.ScheduledAt, due)
	return nil
}
