package store_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/jobs"
	"throughline/models/store/storetest"
)

// errand is a task of the tests.
type errand struct {
	Number int `json:"number"`
}

func (errand) Kind() string { return "errand" }

// errands is a kind of job that does as it is told.
func errands(do func(ctx context.Context, job models.RunningJob) error) models.JobKind {
	return models.JobKind{Name: errand{}.Kind(), Limit: time.Minute, Do: do}
}

// quickly looks often for jobs, and tries again soon.
func quickly() jobs.Options {
	soon := func(int) time.Duration { return time.Millisecond }
	return jobs.Options{Poll: 20 * time.Millisecond, AtOnce: 4, PerAcademy: 2, Retry: soon}
}

// working starts workers, which end with the test or when the returned function is called.
func working(t *testing.T, s *store.Store, how jobs.Options, kinds ...models.JobKind) (stop func()) {
	t.Helper()
	w, err := s.Workers(kinds, how)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	stop = sync.OnceFunc(func() {
		if err := w.Stop(); err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(stop)
	return stop
}

// enqueue orders a job.
func enqueue(t *testing.T, s *store.Store, who models.Who, o models.JobOrder) (id int64) {
	t.Helper()
	write(t, s, who, func(tx *store.Tx) (err error) {
		id, err = tx.Enqueue(o)
		return err
	})
	return id
}

// patience is far more than anything here takes.
const patience = time.Minute

// eventually looks at a job until it is as wanted.
func eventually(
	t *testing.T, s *store.Store, who models.Who, id int64, want string, is func(models.Job) bool,
) (j models.Job) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	look := time.NewTicker(10 * time.Millisecond)
	defer look.Stop()
	for {
		read(t, s, who, func(tx *store.Tx) (err error) {
			j, err = tx.Job(id)
			return err
		})
		if is(j) {
			return j
		}
		select {
		case <-ctx.Done():
			t.Fatalf("the job is %+v; want it %s", j, want)
		case <-look.C:
		}
	}
}

func in(state models.JobState) func(models.Job) bool {
	return func(j models.Job) bool { return j.State == state }
}

// sent receives what is sent within the tests' patience.
func sent[T any](t *testing.T, from <-chan T) (x T) {
	t.Helper()
	select {
	case x = <-from:
	case <-time.After(patience):
		t.Fatal("nothing happens")
	}
	return x
}

func TestAJobExistsExactlyWhenItsReasonIsCommitted(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		no := errors.New("no")
		err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
			if _, err := tx.Enqueue(models.JobOrder{Task: errand{1}}); err != nil {
				return err
			}
			return no
		})
		if !errors.Is(err, no) {
			t.Fatal(err)
		}
		id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{2}})
		done := make(chan string, 2)
		working(t, s, quickly(), errands(func(_ context.Context, job models.RunningJob) error {
			var e errand
			err := job.Task(&e)
			done <- fmt.Sprint(e.Number, job.Who().AcademyID, job.Who().Role)
			return err
		}))
		if got, want := sent(t, done), fmt.Sprint(2, w.academy.ID, models.RoleConsole); got != want {
			t.Errorf("done was %s, want %s", got, want)
		}
		j := eventually(t, s, w.manager, id, "done", in(models.JobDone))
		task := strings.ReplaceAll(string(j.Task), " ", "")
		if j.Share != 1 || j.Attempts != 1 || j.EndedAt == nil || task != `{"number":2}` {
			t.Errorf("%+v", j)
		}
		if len(done) != 0 {
			t.Errorf("done was also %s", <-done)
		}
	})
}

func TestOrdersForTheSameTaskComeToOneJobUntilItHasEnded(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w, other := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		order := models.JobOrder{Task: errand{1}, Once: true}
		first := enqueue(t, s, w.manager, order)
		if again := enqueue(t, s, w.manager, order); again != first {
			t.Errorf("a second order of the same is job %d, want %d", again, first)
		}
		for what, id := range map[string]int64{
			"another task":    enqueue(t, s, w.manager, models.JobOrder{Task: errand{2}, Once: true}),
			"another academy": enqueue(t, s, other.manager, order),
			"not once":        enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}}),
		} {
			if id == first {
				t.Errorf("%s comes to the same job", what)
			}
		}
		begun, end := make(chan int64, 9), make(chan struct{})
		working(t, s, quickly(), errands(func(ctx context.Context, job models.RunningJob) error {
			begun <- 0
			<-end
			return s.Write(ctx, job.Who(), (*store.Tx).FinishJob)
		}))
		sent(t, begun)
		eventually(t, s, w.manager, first, "running", in(models.JobRunning))
		if again := enqueue(t, s, w.manager, order); again != first {
			t.Errorf("an order while it runs is job %d, want %d", again, first)
		}
		close(end)
		eventually(t, s, w.manager, first, "done", in(models.JobDone))
		if again := enqueue(t, s, w.manager, order); again == first {
			t.Error("an order after its end comes to nothing")
		}
	})
}

func TestAJobIsDoneExactlyWhenWhatItDidIsCommitted(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
		var tries atomic.Int32
		working(t, s, quickly(), errands(func(ctx context.Context, job models.RunningJob) error {
			return s.Write(ctx, job.Who(), func(tx *store.Tx) error {
				if err := tx.FinishJob(); err != nil {
					return err
				}
				if tries.Add(1) == 1 {
					return errors.New("taken back")
				}
				return nil
			})
		}))
		if j := eventually(t, s, w.manager, id, "done", in(models.JobDone)); j.Attempts != 2 {
			t.Errorf("%+v; want it done by the second attempt: what the first wrote was taken back", j)
		}
	})
}

func TestProgressIsShownWhileAJobRuns(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
		end := make(chan struct{})
		working(t, s, quickly(), errands(func(ctx context.Context, job models.RunningJob) error {
			job.Progress(0.1, "reading")
			// Also inside a transaction, which holds the one connection that SQLite writes with.
			return s.Write(ctx, job.Who(), func(*store.Tx) error {
				job.Progress(0.4, "2 of 5 matches")
				if s.Postgres() {
					<-end
				}
				return nil
			})
		}))
		if s.Postgres() {
			j := eventually(t, s, w.manager, id, "40 % done", func(j models.Job) bool { return j.Share == 0.4 })
			if j.State != models.JobRunning || j.Line != "2 of 5 matches" {
				t.Errorf("%+v", j)
			}
			close(end)
		}
		if j := eventually(t, s, w.manager, id, "done", in(models.JobDone)); j.Share != 1 || j.Line != "" {
			t.Errorf("%+v", j)
		}
	})
}

func TestManagersCancelJobs(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w, other := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		waiting := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}, Due: time.Now().Add(time.Hour)})
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.CancelJob(waiting) })
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { _, err := tx.Jobs(9); return err })
		refused(t, s, other.manager, models.NotFound, func(tx *store.Tx) error { return tx.CancelJob(waiting) })
		refused(t, s, w.manager, models.NotFound, func(tx *store.Tx) error { return tx.CancelJob(waiting + 999) })
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CancelJob(waiting) })
		eventually(t, s, w.manager, waiting, "cancelled", in(models.JobCancelled))

		running := enqueue(t, s, w.manager, models.JobOrder{Task: errand{2}})
		begun := make(chan struct{})
		working(t, s, quickly(), errands(func(ctx context.Context, _ models.RunningJob) error {
			close(begun)
			<-ctx.Done()
			return ctx.Err()
		}))
		sent(t, begun)
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CancelJob(running) })
		j := eventually(t, s, w.manager, running, "cancelled", in(models.JobCancelled))
		if j.Attempts != 1 || j.EndedAt == nil {
			t.Errorf("%+v", j)
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CancelJob(running) }) // once more is harmless
		trail := entries(t, s, w.academy.ID, models.AuditFilter{Kind: "background job"})
		if len(trail) != 2 || trail[0].RecordID != waiting || trail[1].RecordID != running {
			t.Errorf("the trail of two cancelled jobs: %+v; want an entry for each", trail)
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.Jobs(1)
			if len(all) != 1 || all[0].ID != running {
				t.Errorf("the latest job is %+v, want %d", all, running)
			}
			return err
		})
	})
}

func TestAFailedJobIsTriedAgainAndInTheEndKeptAsFailed(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		bad := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}, Attempts: 3})
		mended := enqueue(t, s, w.manager, models.JobOrder{Task: errand{2}, Attempts: 3})
		var tries [3]atomic.Int32
		working(t, s, quickly(), errands(func(_ context.Context, job models.RunningJob) error {
			var e errand
			if err := job.Task(&e); err != nil {
				return err
			}
			switch n := tries[e.Number].Add(1); {
			case n == 1:
				panic("a panic is a failure like any other")
			case n == 2:
				return models.Later(0) // and waiting is none
			case e.Number == 1:
				return fmt.Errorf("no luck with try %d", n)
			}
			return nil
		}))
		j := eventually(t, s, w.manager, bad, "failed", in(models.JobFailed))
		if j.Attempts != 3 || !strings.HasPrefix(j.Problem, "no luck") || tries[1].Load() != 4 {
			t.Errorf("after %d tries %+v; want 3 attempts beside the one that waited", tries[1].Load(), j)
		}
		if j := eventually(t, s, w.manager, mended, "done", in(models.JobDone)); j.Attempts != 2 || j.Problem != "" {
			t.Errorf("%+v", j)
		}
		counts, err := s.JobCounts(t.Context())
		want := []models.JobCount{
			{Kind: "errand", State: models.JobDone, Jobs: 1}, {Kind: "errand", State: models.JobFailed, Jobs: 1},
		}
		if err != nil || !strings.Contains(fmt.Sprint(counts), strings.Trim(fmt.Sprint(want), "[]")) {
			t.Errorf("counted %v, %v; want %v", counts, err, want)
		}
	})
}

func TestAnAcademyWithManyJobsHoldsUpNobodyElse(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w, other := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		for n := range 30 {
			enqueue(t, s, w.manager, models.JobOrder{Task: errand{n}})
		}
		id := enqueue(t, s, other.manager, models.JobOrder{Task: errand{99}})
		var running, most atomic.Int32
		end := make(chan struct{})
		working(t, s, quickly(), errands(func(_ context.Context, job models.RunningJob) error {
			if job.Who().AcademyID == w.academy.ID {
				n := running.Add(1)
				for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
				}
				<-end
				running.Add(-1)
			}
			return nil
		}))
		eventually(t, s, other.manager, id, "done while the others' jobs block", in(models.JobDone))
		close(end)
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.Jobs(1)
			if err == nil {
				id = all[0].ID
			}
			return err
		})
		eventually(t, s, w.manager, id, "done", in(models.JobDone))
		if n := most.Load(); n > 2 {
			t.Errorf("%d jobs of one academy ran at once, want 2 at most", n)
		}
	})
}

func TestStoppingLetsJobsFinishAndLaysTheOthersBack(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, c := range []struct {
			grace time.Duration
			want  models.JobState
		}{{patience, models.JobDone}, {0, models.JobWaiting}} {
			id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
			how := quickly()
			how.Grace = c.grace
			kept := goleak.IgnoreCurrent()
			begun, end := make(chan struct{}), make(chan struct{})
			workers, err := s.Workers([]models.JobKind{errands(func(ctx context.Context, _ models.RunningJob) error {
				close(begun)
				select {
				case <-end:
					return nil
				case <-ctx.Done():
					return ctx.Err()
				}
			})}, how)
			if err != nil {
				t.Fatal(err)
			}
			ctx, stop := context.WithCancel(t.Context())
			if err := workers.Start(ctx); err != nil {
				t.Fatal(err)
			}
			sent(t, begun)
			stop()
			if c.grace > 0 {
				close(end)
			}
			if err := workers.Stop(); err != nil {
				t.Error(err)
			}
			ended := func(j models.Job) bool { return j.State != models.JobRunning }
			j := eventually(t, s, w.manager, id, "at an end", ended)
			if j.State != c.want || c.want == models.JobWaiting && j.Attempts != 0 {
				t.Errorf("with %v to finish: %+v, want it %s, at the cost of no attempt", c.grace, j, c.want)
			}
			goleak.VerifyNone(t, kept)
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.CancelJob(id) })
		}
	})
}

func TestEndedJobsAreCleanedAway(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
		how := quickly()
		how.Helper, how.Keep = true, time.Millisecond
		kind := errands(func(context.Context, models.RunningJob) error { return nil })
		stop := working(t, s, how, kind)
		eventually(t, s, w.manager, id, "done", in(models.JobDone))
		stop()
		how.Helper = false
		working(t, s, how, kind)
		ctx, cancel := context.WithTimeout(t.Context(), patience)
		defer cancel()
		for there := true; there; {
			read(t, s, w.manager, func(tx *store.Tx) error {
				_, err := tx.Job(id)
				there = models.CodeOf(err) != models.NotFound
				return nil
			})
			if ctx.Err() != nil {
				t.Fatal("the job is still kept")
			}
		}
	})
}

func TestAJobBeyondItsLimitIsGivenToOthers(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
		how := quickly()
		how.AtOnce, how.PerAcademy = 1, 1
		end, begun := make(chan struct{}), make(chan struct{}, 1)
		slow := errands(func(context.Context, models.RunningJob) error {
			begun <- struct{}{}
			<-end // whatever its context says
			return nil
		})
		slow.Limit = time.Millisecond
		how.Helper = true // so that the second one looks for it
		stop := working(t, s, how, slow)
		defer stop()
		defer close(end)
		sent(t, begun)
		how.Helper, how.Stuck = false, 500*time.Millisecond
		eventually(t, s, w.manager, id, "begun long ago", func(j models.Job) bool {
			return j.State == models.JobRunning && time.Since(*j.BegunAt) > 2*how.Stuck
		})
		done := errands(func(context.Context, models.RunningJob) error { return nil })
		done.Limit = time.Millisecond
		working(t, s, how, done)
		if j := eventually(t, s, w.manager, id, "done by another", in(models.JobDone)); j.Attempts != 2 {
			t.Errorf("%+v", j)
		}
	})
}

func TestAJobBeyondItsLimitHoldsUpNobody(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		how := quickly()
		how.AtOnce, how.PerAcademy, how.Stuck, how.Helper = 1, 1, 100*time.Millisecond, true
		end, begun := make(chan struct{}), make(chan struct{}, 1)
		kind := errands(func(_ context.Context, job models.RunningJob) error {
			var e errand
			err := job.Task(&e)
			if e.Number == 1 {
				begun <- struct{}{}
				<-end
			}
			return err
		})
		kind.Limit = time.Millisecond
		enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
		stop := working(t, s, how, kind)
		defer stop()
		defer close(end)
		sent(t, begun)
		next := enqueue(t, s, w.manager, models.JobOrder{Task: errand{2}})
		eventually(t, s, w.manager, next, "done", in(models.JobDone))
	})
}

func TestJobsOfAnotherAcademyAreLockedAway(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		if !s.Postgres() {
			return // SQLite has no row-level security
		}
		w, other := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
		for who, want := range map[*models.Who]int{&w.manager: 1, &other.manager: 0} {
			read(t, s, *who, func(tx *store.Tx) error {
				if got := scan[int](t, tx.Raw(), "SELECT count(*) FROM river_job WHERE id = ?", id)[0]; got != want {
					t.Errorf("academy %d sees %d of the jobs of %d, want %d", who.AcademyID, got, w.academy.ID, want)
				}
				return nil
			})
		}
		err := s.Write(t.Context(), other.manager, func(tx *store.Tx) error {
			const insert = "INSERT INTO river_job (kind, args, max_attempts, queue) VALUES ('errand', '{}', 1, ?)"
			return tx.Raw().Exec(insert, fmt.Sprint("academy-", w.academy.ID)).Error
		})
		if err == nil || !strings.Contains(err.Error(), "row-level security") {
			t.Errorf("a job in another academy's queue: %v", err)
		}
	})
}

// Each writer orders a job with what it writes. On SQLite they and those who do the jobs share the one connection
// that writes.
func TestWritersAndJobsLoseNothingOfEachOther(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		var did [200]atomic.Int32
		var left sync.WaitGroup
		left.Add(len(did))
		working(t, s, quickly(), errands(func(ctx context.Context, job models.RunningJob) error {
			var e errand
			if err := job.Task(&e); err != nil {
				return err
			}
			return s.Write(ctx, job.Who(), func(tx *store.Tx) error {
				squad := models.Squad{Name: fmt.Sprint("done ", e.Number)}
				if err := tx.CreateSquad(&squad); err != nil {
					return err
				}
				if did[e.Number].Add(1) == 1 {
					left.Done()
				}
				return tx.FinishJob()
			})
		}))
		var writers sync.WaitGroup
		for n := range len(did) {
			if n%8 == 0 {
				writers.Wait()
			}
			writers.Go(func() {
				err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
					squad := models.Squad{Name: fmt.Sprint("asked ", n)}
					if err := tx.CreateSquad(&squad); err != nil {
						return err
					}
					_, err := tx.Enqueue(models.JobOrder{Task: errand{n}})
					return err
				})
				if err != nil {
					t.Error(err)
				}
			})
		}
		writers.Wait()
		all := make(chan struct{})
		go func() { left.Wait(); close(all) }()
		sent(t, all)
		for n := range did {
			if times := did[n].Load(); times != 1 {
				t.Errorf("errand %d was done %d times", n, times)
			}
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			squads, err := tx.Squads(models.SquadFilter{})
			if n := len(squads); n < 2*len(did) {
				t.Errorf("%d squads are left of %d", n, 2*len(did))
			}
			return err
		})
	})
}
