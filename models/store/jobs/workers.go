package jobs

import (
	"cmp"
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"runtime"
	"slices"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"throughline/models"
)

// Options say how a process works. The zero value is right for a server.
type Options struct {
	AtOnce     int           // jobs at once in this process; as many as there are cores, and 2 at least, when 0
	PerAcademy int           // of them for one academy; half when 0
	Poll       time.Duration // how often to look for due jobs; 0: every second
	Dead       time.Duration // after which a process that does not say it lives is taken for dead; 30 seconds when 0
	Stuck      time.Duration // after which a job that goes on beyond its limit is given to others; 15 minutes when 0
	Grace      time.Duration // how long running jobs may go on when told to stop; not at all when 0
	Keep       time.Duration // how long done and cancelled jobs are kept; a day when 0
	Academies  []int64       // whose jobs are done; all when empty
	Helper     bool          // a command that stays for a moment only, and does no more than the kinds that it knows
	// Retry is how long after so many failures a job is tried again; River's own n⁴ seconds when nil.
	Retry func(failures int) time.Duration
}

func (o Options) filled() Options {
	o.AtOnce = cmp.Or(o.AtOnce, max(2, runtime.NumCPU()))
	o.PerAcademy = cmp.Or(o.PerAcademy, max(1, o.AtOnce/2))
	o.Poll = cmp.Or(o.Poll, time.Second)
	o.Dead = cmp.Or(o.Dead, 30*time.Second)
	o.Stuck = cmp.Or(o.Stuck, 15*time.Minute)
	return o
}

const (
	// longestTurn is how long a job that was taken waits for one of Options.AtOnce, before it is laid back for other
	// processes.
	longestTurn = 30 * time.Second
	// quiet is for how many looks an academy must have had nothing to do before its queue is left alone.
	quiet = 10
	// beats is how often within Options.Dead a process says that it lives.
	beats = 6
)

// Workers do the jobs that are due.
type Workers struct {
	queue  *Queue
	client *river.Client[*sql.Tx]
	writer *sql.DB
	reader *sql.DB
	how    Options
	turns  chan struct{}
	turn   time.Duration // how long a job waits for one

	mu      sync.Mutex
	running map[int64]*running
	watched map[string]int // the queues that are looked at, with how often there was nothing

	stop  context.CancelFunc
	ended chan struct{}
}

// Workers returns those who do jobs of these kinds. The reader is a pool that does not wait for writers.
func (q *Queue) Workers(writer, reader *sql.DB, kinds []models.JobKind, how Options) (*Workers, error) {
	w := &Workers{
		queue: q, writer: writer, reader: reader, how: how.filled(),
		running: map[int64]*running{}, watched: map[string]int{},
	}
	w.turns, w.turn = make(chan struct{}, w.how.AtOnce), min(longestTurn, w.how.Stuck)
	known := river.NewWorkers()
	for _, kind := range kinds {
		if kind.Name == "" || kind.Do == nil || kind.Limit <= 0 || kind.Limit >= w.how.Stuck {
			const wrong = "job kind %q needs a name, a function and a limit below %v"
			return nil, fmt.Errorf(wrong, kind.Name, w.how.Stuck)
		}
		river.AddWorkerArgs(known, order{kind: kind.Name}, &worker{kind: kind, of: w})
	}
	var err error
	if w.client, err = river.NewClient(q.driver, w.config(known)); err != nil {
		return nil, fmt.Errorf("prepare background jobs: %w", err)
	}
	return w, nil
}

func (w *Workers) config(known *river.Workers) *river.Config {
	// River wants one queue from the beginning. The others come and go with the work.
	first := queueOf(models.Deployment)
	if len(w.how.Academies) > 0 {
		first = queueOf(w.how.Academies[0])
	}
	c := &river.Config{
		ID:                          processID(),
		Logger:                      w.queue.log,
		Workers:                     known,
		PollOnly:                    true,
		FetchPollInterval:           w.how.Poll,
		FetchCooldown:               min(w.how.Poll, 100*time.Millisecond),
		Queues:                      map[string]river.QueueConfig{first: {MaxWorkers: w.how.PerAcademy}},
		JobTimeout:                  w.how.Stuck - 1,
		RescueStuckJobsAfter:        w.how.Stuck,
		SoftStopTimeout:             max(w.how.Grace, time.Millisecond),
		CompletedJobRetentionPeriod: w.how.Keep,
		CancelledJobRetentionPeriod: w.how.Keep,
		ReindexerIndexNames:         []string{}, // the serving role does not own the tables
		LeaderElectionDisabled:      w.how.Helper,
		FetchOnlyKnownKinds:         w.how.Helper,
		ErrorHandler:                failures{w.queue.log},
		JobStuckHandler:             w.stuck,
		JobStuckThreshold:           min(river.JobStuckThresholdDefault, w.how.Stuck),
	}
	if w.how.Retry != nil {
		c.RetryPolicy = retry(w.how.Retry)
	}
	w.watched[first] = -1
	return c
}

// processID is another one for each process and each start.
func processID() string {
	host, err := os.Hostname()
	if err != nil {
		host = "unknown"
	}
	return fmt.Sprintf("%.60s-%d-%.12s", host, os.Getpid(), rand.Text())
}

// Start begins to do jobs. When ctx ends, no more are begun, and those that run have Options.Grace to finish. Stop
// must be called in any case.
func (w *Workers) Start(ctx context.Context) error {
	ctx, w.stop = context.WithCancel(ctx)
	w.ended = make(chan struct{})
	// River takes the end of its context for a failure and logs it; a client that is told to stop ends quietly.
	if err := w.client.Start(context.WithoutCancel(ctx)); err != nil {
		close(w.ended)
		return fmt.Errorf("start background jobs: %w", err)
	}
	context.AfterFunc(ctx, func() {
		within, cancel := context.WithTimeout(context.Background(), w.how.Grace+notice)
		defer cancel()
		_ = w.client.Stop(within) // Workers.Stop, which must be called, says what did not end in time
	})
	go w.attend(ctx)
	return nil
}

// notice is how long a cancelled job has to end before it is left behind.
const notice = 5 * time.Second

// Stop has jobs end as Start says and waits for them. A job that does not end in time is begun again later, like
// those of a killed process.
func (w *Workers) Stop() error {
	if w.stop == nil {
		return nil
	}
	w.stop()
	stopped := w.client.Stopped()
	if stopped == nil { // it never started
		return nil
	}
	select {
	case <-stopped:
		<-w.ended
		return nil
	case <-time.After(w.how.Grace + notice):
		return fmt.Errorf("background jobs were still running %v after the stop signal", w.how.Grace+notice)
	}
}

// attend does what must be done beside the jobs: it looks which academies have any, writes down progress, says that
// the process lives, and gives back what dead ones had.
func (w *Workers) attend(ctx context.Context) {
	defer close(w.ended)
	ticker := time.NewTicker(w.how.Poll)
	defer ticker.Stop()
	var beat, looked time.Time
	for {
		now := time.Now()
		errs := []error{w.watch(ctx), w.tell(ctx)}
		if now.Sub(beat) >= w.how.Dead/beats {
			errs = append(errs, w.live(ctx, now))
			beat = now
		}
		if now.Sub(looked) >= w.how.Dead/beats {
			errs = append(errs, w.rescue(ctx, now))
			looked = now
		}
		if err := errors.Join(errs...); err != nil && ctx.Err() == nil {
			w.queue.log.WarnContext(ctx, "could not check background jobs", "error", err)
		}
		select {
		case <-ctx.Done():
			w.linger()
			return
		case <-ticker.C:
		}
	}
}

// linger goes on saying that the process lives until its last job has ended, and forgets it then.
func (w *Workers) linger() {
	ctx, cancel := context.WithTimeout(context.Background(), w.how.Grace+notice)
	defer cancel()
	ticker := time.NewTicker(w.how.Dead / beats)
	defer ticker.Stop()
	for stopped := w.client.Stopped(); ; {
		select {
		case <-ctx.Done():
			return
		case <-stopped:
			if err := w.gone(ctx); err != nil {
				w.queue.log.Warn("other processes may think for a while that this one is alive", "error", err)
			}
			return
		case now := <-ticker.C:
			if err := w.live(ctx, now); err != nil {
				w.queue.log.Warn("could not check background jobs", "error", err)
			}
		}
	}
}

// watch has River look at the queues of the academies that have anything to do, and at no others.
func (w *Workers) watch(ctx context.Context) error {
	busy, err := w.busy(ctx)
	if err != nil {
		return err
	}
	var errs []error
	for _, queue := range busy {
		if _, there := w.watched[queue]; !there {
			if err := w.client.Queues().Add(queue, river.QueueConfig{MaxWorkers: w.how.PerAcademy}); err != nil {
				errs = append(errs, err)
				continue
			}
		}
		if w.watched[queue] >= 0 {
			w.watched[queue] = 0
		}
	}
	for queue, times := range w.watched {
		switch {
		case times < 0 || slices.Contains(busy, queue):
		case times < quiet:
			w.watched[queue]++
		default:
			if err := w.client.Queues().Remove(ctx, queue); err != nil {
				errs = append(errs, err)
				continue
			}
			delete(w.watched, queue)
		}
	}
	return errors.Join(errs...)
}

// busy are the queues in which anything waits or runs.
func (w *Workers) busy(ctx context.Context) ([]string, error) {
	found, err := texts(ctx, w.reader,
		"SELECT DISTINCT queue FROM river_job WHERE state IN ('available', 'retryable', 'running', 'scheduled')")
	if err != nil {
		return nil, fmt.Errorf("find academies with jobs: %w", err)
	}
	if len(w.how.Academies) == 0 {
		return found, nil
	}
	return slices.DeleteFunc(found, func(queue string) bool {
		return !slices.ContainsFunc(w.how.Academies, func(a int64) bool { return queueOf(a) == queue })
	}), nil
}

func texts(ctx context.Context, pool *sql.DB, query string, args ...any) (all []string, err error) {
	found, err := pool.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, found.Close()) }()
	for found.Next() {
		var text string
		if err := found.Scan(&text); err != nil {
			return nil, err
		}
		all = append(all, text)
	}
	return all, found.Err()
}

// retry is when a failed job is tried again.
type retry func(failures int) time.Duration

// NextRetry says when.
func (r retry) NextRetry(job *rivertype.JobRow) time.Time {
	return time.Now().Add(r(len(job.Errors) + 1))
}

// failures writes them to the log.
type failures struct{ log *slog.Logger }

// HandleError writes a failed attempt to the log.
func (f failures) HandleError(ctx context.Context, job *rivertype.JobRow, err error) *river.ErrorHandlerResult {
	f.log.WarnContext(ctx, "a background job failed",
		"job", job.ID, "kind", job.Kind, "attempt", job.Attempt, "of", job.MaxAttempts, "error", err)
	return nil
}

// HandlePanic writes an attempt that panicked to the log.
func (f failures) HandlePanic(
	ctx context.Context, job *rivertype.JobRow, panicked any, trace string,
) *river.ErrorHandlerResult {
	f.log.ErrorContext(ctx, "a background job panicked",
		"job", job.ID, "kind", job.Kind, "attempt", job.Attempt, "panic", panicked, "trace", trace)
	return nil
}
