package models

import (
	"context"
	"encoding/json"
	"time"
)

// Task is what a background job is asked to do. It is kept as JSON beside the job until the job is cleaned away: it
// holds ids, never names.
type Task interface {
	// Kind names the kind of job, in lower case with underscores.
	Kind() string
}

// RefitTask asks for a squad's trends of one season to be computed again.
type RefitTask struct {
	SeasonID int64 `json:"season"`
	SquadID  int64 `json:"squad"`
}

// Kind names the kind of job.
func (RefitTask) Kind() string { return "refit_squad_season" }

// A coach who logs a match changes the data every few seconds: trends are made again when the coach pauses, or after
// a while without a pause.
const (
	RefitPause   = 3 * time.Second
	RefitLongest = time.Minute
)

// JobOrder asks for a background job.
type JobOrder struct {
	Task Task
	Due  time.Time // when it may begin; the zero time is at once
	// Once asks for nothing while a job of the academy with the same task waits or runs. A job that may need to run
	// again must end in the transaction that looks at what it did (store.Tx.FinishJob): an order that comes after
	// that begins a new one.
	Once bool
	// Attempts is after how many failures the job counts as failed; DefaultAttempts when 0.
	Attempts int
}

// DefaultAttempts takes about four hours: what fails is tried again after n⁴ seconds.
const DefaultAttempts = 10

// JobKind says what the jobs of one kind do.
type JobKind struct {
	Name  string
	Limit time.Duration // for one attempt; its context ends then
	// Do does the work. It may be cut short at any moment by a killed process and begin again, here or elsewhere. A
	// Later runs the job again after a while; any other error counts as a failure and is tried again, later each
	// time.
	Do func(ctx context.Context, job RunningJob) error
}

// RunningJob is a job while it runs.
type RunningJob interface {
	// Who is the console of the academy that the job belongs to.
	Who() Who
	// AskedAt is when the job was asked for.
	AskedAt() time.Time
	// Task reads what is to be done into a pointer to the kind's task.
	Task(into any) error
	// Progress says which share of the work is done, from 0 to 1, and what is being done, without names. It does not
	// wait.
	Progress(share float64, line string)
}

// Later is how long a job waits before it runs again. It is no failure.
type Later time.Duration

// Error says so.
func (l Later) Error() string { return "run again in " + time.Duration(l).String() }

// JobState is how far a job is.
type JobState string

// The states of a job.
const (
	JobWaiting   JobState = "waiting" // for its time, its turn, or the next attempt
	JobRunning   JobState = "running"
	JobDone      JobState = "done"
	JobFailed    JobState = "failed" // every attempt failed
	JobCancelled JobState = "cancelled"
)

// Job is a background job of an academy, as users see it. Finished jobs are kept for a day, failed ones for a week.
type Job struct {
	ID       int64           `json:"id"`
	Kind     string          `json:"kind"`
	Task     json.RawMessage `json:"task"`
	State    JobState        `json:"state"`
	Share    float64         `json:"share"`          // how much of the work is done, from 0 to 1
	Line     string          `json:"line,omitempty"` // what the job is doing
	Attempts int             `json:"attempts"`       // how many attempts have started
	Problem  string          `json:"problem,omitempty"`
	// cancelled while running, and not finished yet
	Stopping bool       `json:"stopping,omitempty"`
	AskedAt  time.Time  `json:"asked_at"`
	DueAt    time.Time  `json:"due_at"`
	BegunAt  *time.Time `json:"begun_at,omitempty"` // when the last attempt started
	EndedAt  *time.Time `json:"ended_at,omitempty"`
}

// JobCount counts the jobs of one kind in one state.
type JobCount struct {
	Kind  string
	State JobState
	Jobs  int64
}
