package jobs

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"strconv"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivertype"

	"throughline/models"
)

// driver is what River needs to know of a database.
type driver = riverdriver.Driver[*sql.Tx]

func driverOf(pool *sql.DB, postgres bool) driver {
	if postgres {
		return riverdatabasesql.New(pool)
	}
	return riversqlite.New(pool)
}

// Queue takes orders for jobs and tells what became of them. Workers do the work.
type Queue struct {
	driver driver
	client *river.Client[*sql.Tx]
	log    *slog.Logger
}

// soon is how far ahead workers look for jobs. Jobs that are due later are made available by River's scheduler, which
// runs in one process every five seconds.
const soon = 5 * time.Second

// New returns the queue of a database. On SQLite the pool must be the one connection that writes.
func New(pool *sql.DB, postgres bool, log *slog.Logger) (*Queue, error) {
	q := &Queue{driver: driverOf(pool, postgres), log: slog.New(louder{log.Handler()})}
	// River would notify listeners of each job that is ready. There are none, so it may do so at most once a day.
	const seldom = 24 * time.Hour
	var err error
	q.client, err = river.NewClient(q.driver, &river.Config{
		Logger: q.log, Hooks: []rivertype.Hook{river.HookInsertBeginFunc(readySoon)},
		FetchCooldown: seldom, FetchPollInterval: seldom,
	})
	if err != nil {
		return nil, fmt.Errorf("prepare background jobs: %w", err)
	}
	return q, nil
}

// readySoon lets those who do the work wait for a job's time themselves.
func readySoon(_ context.Context, job *rivertype.JobInsertParams) error {
	if job.State == rivertype.JobStateScheduled && time.Until(*job.ScheduledAt) < soon {
		job.State = rivertype.JobStateAvailable
	}
	return nil
}

// order is what River keeps of an order.
type order struct {
	kind    string
	Academy int64           `json:"academy"`
	Task    json.RawMessage `json:"task"`
}

// Kind names the kind of job.
func (o order) Kind() string { return o.kind }

// Add orders a job for an academy in a transaction and returns its id, or that of the job that does the same already.
func (q *Queue) Add(ctx context.Context, tx *sql.Tx, academy int64, o models.JobOrder) (int64, error) {
	task, err := json.Marshal(o.Task)
	if err != nil {
		return 0, fmt.Errorf("encode the task %s: %w", o.Task.Kind(), err)
	}
	how := &river.InsertOpts{
		Queue: queueOf(academy), ScheduledAt: o.Due, MaxAttempts: cmp.Or(o.Attempts, models.DefaultAttempts),
	}
	if o.Once {
		how.UniqueOpts = river.UniqueOpts{ByArgs: true, ByState: []rivertype.JobState{
			rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable,
			rivertype.JobStateRunning, rivertype.JobStateScheduled,
		}}
	}
	added, err := q.client.InsertTx(ctx, tx, order{o.Task.Kind(), academy, task}, how)
	if err != nil {
		return 0, fmt.Errorf("queue the job %s: %w", o.Task.Kind(), err)
	}
	return added.Job.ID, nil
}

// queueOf names the queue of an academy. The policy of the table on PostgreSQL reads the academy from it.
func queueOf(academy int64) string { return "academy-" + strconv.FormatInt(academy, 10) }

// List returns the latest jobs of an academy, the last first.
func (q *Queue) List(ctx context.Context, tx *sql.Tx, academy int64, most int) ([]models.Job, error) {
	latest := river.NewJobListParams().Queues(queueOf(academy)).OrderBy(river.JobListOrderByID, river.SortOrderDesc)
	found, err := q.client.JobListTx(ctx, tx, latest.First(most))
	if err != nil {
		return nil, fmt.Errorf("list jobs: %w", err)
	}
	all := make([]models.Job, len(found.Jobs))
	for i, row := range found.Jobs {
		if all[i], err = shown(row); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Get returns a job of an academy; NotFound where it has none of that id.
func (q *Queue) Get(ctx context.Context, tx *sql.Tx, academy, id int64) (models.Job, error) {
	row, err := q.client.JobGetTx(ctx, tx, id)
	if errors.Is(err, rivertype.ErrNotFound) || err == nil && row.Queue != queueOf(academy) {
		return models.Job{}, models.Errorf(models.NotFound, "no job %d", id)
	}
	if err != nil {
		return models.Job{}, fmt.Errorf("read job %d: %w", id, err)
	}
	return shown(row)
}

// Cancel ends a waiting job, and asks a running one to stop. An ended job stays as it is.
func (q *Queue) Cancel(ctx context.Context, tx *sql.Tx, academy, id int64) error {
	if _, err := q.Get(ctx, tx, academy, id); err != nil {
		return err
	}
	if _, err := q.client.JobCancelTx(ctx, tx, id); err != nil {
		return fmt.Errorf("cancel job %d: %w", id, err)
	}
	return nil
}

// Hurry makes a job that waits due now.
func (q *Queue) Hurry(ctx context.Context, tx *sql.Tx, academy, id int64) error {
	job, err := q.Get(ctx, tx, academy, id)
	if err != nil || job.State != models.JobWaiting {
		return err
	}
	if _, err := q.client.JobRetryTx(ctx, tx, id); err != nil {
		return fmt.Errorf("bring job %d forward: %w", id, err)
	}
	return nil
}

// Count counts jobs by kind and state.
func Count(ctx context.Context, pool *sql.DB) (all []models.JobCount, err error) {
	const count = "SELECT kind, state, count(*) FROM river_job GROUP BY kind, state ORDER BY kind, state"
	found, err := pool.QueryContext(ctx, count)
	if err != nil {
		return nil, fmt.Errorf("count jobs: %w", err)
	}
	defer func() { err = errors.Join(err, found.Close()) }()
	at := map[models.JobCount]int{}
	for found.Next() {
		var kind, state string
		var n int64
		if err := found.Scan(&kind, &state, &n); err != nil {
			return nil, fmt.Errorf("count jobs: %w", err)
		}
		key := models.JobCount{Kind: kind, State: stateOf(rivertype.JobState(state))}
		if i, ok := at[key]; ok {
			all[i].Jobs += n
			continue
		}
		at[key] = len(all)
		all = append(all, models.JobCount{Kind: key.Kind, State: key.State, Jobs: n})
	}
	return all, found.Err()
}

// progress is what a running job says of itself, as River keeps it.
type progress struct {
	Share float64 `json:"share"`
	Line  string  `json:"line"`
}

// shown is a job as it is shown.
func shown(row *rivertype.JobRow) (models.Job, error) {
	var o order
	var told struct {
		Output    progress   `json:"output"`
		Cancelled *time.Time `json:"cancel_attempted_at"`
	}
	if err := errors.Join(json.Unmarshal(row.EncodedArgs, &o), json.Unmarshal(row.Metadata, &told)); err != nil {
		return models.Job{}, fmt.Errorf("read job %d: %w", row.ID, err)
	}
	j := models.Job{
		ID: row.ID, Kind: row.Kind, Task: o.Task, State: stateOf(row.State), Attempts: row.Attempt,
		Share: told.Output.Share, Line: told.Output.Line, AskedAt: row.CreatedAt.UTC(), DueAt: row.ScheduledAt.UTC(),
		BegunAt: utc(row.AttemptedAt), EndedAt: utc(row.FinalizedAt),
	}
	j.Stopping = j.State == models.JobRunning && told.Cancelled != nil
	if j.State == models.JobDone {
		j.Share, j.Line = 1, ""
	}
	if n := len(row.Errors); n > 0 && j.State != models.JobDone {
		j.Problem = row.Errors[n-1].Error
	}
	return j, nil
}

func utc(t *time.Time) *time.Time {
	if t == nil {
		return nil
	}
	at := t.UTC()
	return &at
}

// stateOf is a state of River's as it is shown.
func stateOf(s rivertype.JobState) models.JobState {
	switch s {
	case rivertype.JobStateRunning:
		return models.JobRunning
	case rivertype.JobStateCompleted:
		return models.JobDone
	case rivertype.JobStateDiscarded:
		return models.JobFailed
	case rivertype.JobStateCancelled:
		return models.JobCancelled
	}
	return models.JobWaiting
}

// louder leaves out what River says of its daily business.
type louder struct{ slog.Handler }

// Enabled says whether something is worth saying.
func (l louder) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn && l.Handler.Enabled(ctx, level)
}

// WithAttrs keeps the level.
func (l louder) WithAttrs(attrs []slog.Attr) slog.Handler { return louder{l.Handler.WithAttrs(attrs)} }

// WithGroup keeps the level.
func (l louder) WithGroup(name string) slog.Handler { return louder{l.Handler.WithGroup(name)} }
