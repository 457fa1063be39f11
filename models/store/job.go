package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"throughline/models"
	"throughline/models/store/jobs"
)

// jobServer is a process that does jobs, and when it was last alive. The package jobs reads and writes it.
type jobServer struct {
	ID     string `gorm:"primaryKey" texts:"-"`
	SeenAt time.Time
}

// Workers returns those who do the academies' jobs of these kinds in this process, once they are started. They must
// be stopped before the store is closed.
func (s *Store) Workers(kinds []models.JobKind, how jobs.Options) (*jobs.Workers, error) {
	return s.jobs.Workers(s.pools[len(s.pools)-1], s.pools[0], kinds, how)
}

// JobCounts counts the jobs of all academies by kind and state, for those who watch over the program.
func (s *Store) JobCounts(ctx context.Context) ([]models.JobCount, error) {
	all, err := jobs.Count(ctx, s.pools[0])
	return all, lost(err)
}

// Enqueue orders a background job for the academy. It exists once the transaction is committed. The id is that of the
// job that does the same already, where the order asks for it once.
func (tx *Tx) Enqueue(o models.JobOrder) (int64, error) {
	if !tx.writes {
		return 0, errors.New("queue a job: the transaction is read-only")
	}
	under, err := tx.under()
	if err != nil {
		return 0, err
	}
	id, err := tx.jobs.Add(tx.ctx, under, tx.who.AcademyID, o)
	return id, tx.done("queue a job", err)
}

// Jobs returns the academy's latest jobs, the last first, at most so many. Managers see them.
func (tx *Tx) Jobs(most int) ([]models.Job, error) {
	under, err := tx.underJobs()
	if err != nil {
		return nil, err
	}
	all, err := tx.jobs.List(tx.ctx, under, tx.who.AcademyID, most)
	return all, tx.done("read jobs", err)
}

// Job returns one job of the academy, NotFound where it has none of that id. Managers see it.
func (tx *Tx) Job(id int64) (models.Job, error) {
	under, err := tx.underJobs()
	if err != nil {
		return models.Job{}, err
	}
	j, err := tx.jobs.Get(tx.ctx, under, tx.who.AcademyID, id)
	return j, tx.refusedOr("read a job", err)
}

// CancelJob ends a waiting job, and asks a running one to stop, which may take a few seconds. An ended job stays as it
// is. The caller must be a manager.
func (tx *Tx) CancelJob(id int64) error {
	under, err := tx.underJobs()
	if err != nil {
		return err
	}
	before, err := tx.Job(id)
	if err != nil {
		return err
	}
	if err := tx.jobs.Cancel(tx.ctx, under, tx.who.AcademyID, id); err != nil {
		return tx.refusedOr("cancel a job", err)
	}
	after, err := tx.Job(id)
	if err != nil {
		return err
	}
	if after.State != before.State || after.Stopping != before.Stopping {
		tx.note(models.AuditChange, "background job", id, 0, before, after)
	}
	return nil
}

// HurryJob makes a job that waits due now. Managers may.
func (tx *Tx) HurryJob(id int64) error {
	under, err := tx.underJobs()
	if err != nil {
		return err
	}
	return tx.refusedOr("bring a job forward", tx.jobs.Hurry(tx.ctx, under, tx.who.AcademyID, id))
}

// FinishJob marks the background job that the transaction's context is of as done, so that it is done exactly when
// what it did is committed. It does nothing in a context that is no job's.
func (tx *Tx) FinishJob() error {
	under, err := tx.under()
	if err != nil {
		return err
	}
	return tx.done("end a job", jobs.Finish(tx.ctx, under))
}

// underJobs is the transaction below GORM, for callers who may manage jobs.
func (tx *Tx) underJobs() (*sql.Tx, error) {
	if tx.who.Reach(models.Write, models.AreaSetup) != models.ReachAcademy {
		return nil, models.Errorf(models.Forbidden, "%s may not manage background jobs", tx.role())
	}
	return tx.under()
}

// under is the transaction below GORM.
func (tx *Tx) under() (*sql.Tx, error) {
	pool, err := tx.pool()
	if err != nil {
		return nil, err
	}
	under, ok := pool.(*sql.Tx)
	if !ok {
		return nil, fmt.Errorf("the transaction is an unexpected %T", pool)
	}
	return under, nil
}

// refusedOr leaves an error that the caller can act on as it is. Any other is the database's.
func (tx *Tx) refusedOr(what string, err error) error {
	if models.CodeOf(err) == models.NotFound {
		return err
	}
	return tx.done(what, err)
}
