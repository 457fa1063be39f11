package store_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// doomed, if set, is the address of a database whose jobs this process begins and never ends.
const doomed = "THROUGHLINE_TEST_DOOMED"

// toil is the process that is killed.
func toil(url string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, url, store.Options{})
	if err != nil {
		return err
	}
	how := quickly()
	how.Dead = dead
	w, err := s.Workers([]models.JobKind{errands(func(context.Context, models.RunningJob) error {
		fmt.Println("begun")
		select {}
	})}, how)
	if err != nil {
		return err
	}
	if err := w.Start(ctx); err != nil {
		return err
	}
	select {}
}

// dead is long enough for a busy machine to say that a process lives, and short enough for a test.
const dead = 3 * time.Second

// A process that has begun a job is killed by SIGKILL. The job runs again in another one, which is not the first to
// be asked: one that lives keeps its job, however long that takes.
func TestAJobOfAKilledProcessRunsAgainAndThatOfALivingOneDoesNot(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		})
		w := newWorld(t, s)
		id := enqueue(t, s, w.manager, models.JobOrder{Task: errand{1}})
		self, err := os.Executable()
		if err != nil {
			t.Fatal(err)
		}
		c := exec.CommandContext(t.Context(), self)
		c.Env = append(os.Environ(), doomed+"="+url)
		c.Stderr = os.Stderr
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || strings.TrimSpace(line) != "begun" {
			t.Fatalf("%q, %v", line, err)
		}
		how := quickly()
		how.Dead = dead
		working(t, s, how, errands(func(context.Context, models.RunningJob) error { return nil }))
		eventually(t, s, w.manager, id, "still running after a while", func(j models.Job) bool {
			if j.State != models.JobRunning || j.Attempts != 1 {
				t.Fatalf("%+v; want it left to the process that lives", j)
			}
			return time.Since(*j.BegunAt) > 2*dead
		})
		if err := c.Process.Kill(); err != nil { // SIGKILL
			t.Fatal(err)
		}
		_ = c.Wait()
		if j := eventually(t, s, w.manager, id, "done by the other process", in(models.JobDone)); j.Attempts != 2 {
			t.Errorf("%+v", j)
		}
	})
}
