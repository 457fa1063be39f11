package api_test

import (
	"context"
	"log/slog"
	"sync"
	"testing"
	"time"

	"throughline/api"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/jobs"
	"throughline/models/store/storetest"
	"throughline/reports/fits"
)

// fitted counts what is kept, by revision.
type fitted struct {
	api.Records
	mu     *sync.Mutex
	times  map[int64]int
	before func() // keeping
}

func (f fitted) Keep(
	ctx context.Context, of models.SquadSeason, trends []models.Trend, score models.Score,
) error {
	if f.before != nil {
		f.before()
	}
	f.mu.Lock()
	f.times[of.Revision]++
	f.mu.Unlock()
	return f.Records.Keep(ctx, of, trends, score)
}

// longAgo is a clock by which the data have come to rest at once.
func longAgo() time.Time { return time.Now().Add(-time.Hour) }

// process is one of several on a database.
func process(t *testing.T, url string) *store.Store {
	t.Helper()
	s := storetest.With(t, url, store.Options{Now: longAgo})
	return s
}

// serveTrends has a process make trends in the background until the test ends.
func serveTrends(t *testing.T, s *store.Store, keeper *fits.Keeper) {
	t.Helper()
	w, err := s.Workers([]models.JobKind{keeper.AtOnce().Kind()}, jobs.Options{Poll: 20 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := w.Stop(); err != nil {
			t.Error(err)
		}
	})
}

// played is a squad's season with one match.
type played struct {
	who   models.Who
	match models.Match
}

func play(t *testing.T, s *store.Store) *played {
	t.Helper()
	a, err := s.CreateAcademy(t.Context(), "Harbour Academy")
	if err != nil {
		t.Fatal(err)
	}
	p := &played{who: models.Console(a.ID)}
	season := models.Season{Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"}
	squad := models.Squad{Name: "Colts"}
	p.match = models.Match{Date: "2025-10-04", Opponent: "Dunmere", Halves: 2, HalfMinutes: 40}
	err = s.Write(t.Context(), p.who, func(tx *store.Tx) error {
		if err := tx.CreateSeason(&season); err != nil {
			return err
		}
		if err := tx.CreateSquad(&squad); err != nil {
			return err
		}
		p.match.SeasonID, p.match.SquadID = season.ID, &squad.ID
		return tx.CreateMatch(&p.match)
	})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// change changes what the trends stand on. It leaves p alone, since keepers may call it beside the test.
func (p *played) change(ctx context.Context, s *store.Store) error {
	return s.Write(ctx, p.who, func(tx *store.Tx) error {
		match, err := tx.Match(p.match.ID)
		if err != nil {
			return err
		}
		difficulty := 1
		if match.Difficulty != nil {
			difficulty += *match.Difficulty % 5
		}
		match.Difficulty = &difficulty
		return tx.UpdateMatch(&match)
	})
}

// revision reads how the trends stand.
func (p *played) revision(t *testing.T, s *store.Store) (now models.SquadSeason) {
	t.Helper()
	err := s.Read(t.Context(), p.who, func(tx *store.Tx) (err error) {
		now, err = tx.SquadSeason(p.match.SeasonID, *p.match.SquadID)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return now
}

// current waits until the trends are up to date.
func (p *played) current(t *testing.T, s *store.Store) models.SquadSeason {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	look := time.NewTicker(10 * time.Millisecond)
	defer look.Stop()
	for {
		if now := p.revision(t, s); now.Fitted == now.Revision {
			return now
		}
		select {
		case <-ctx.Done():
			t.Fatalf("the trends are still behind: %+v", p.revision(t, s))
		case <-look.C:
		}
	}
}

func TestEachRevisionIsFittedOnceWhicheverProcessDoesIt(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		one, two, command := process(t, url), process(t, url), process(t, url)
		p := play(t, one)
		var mu sync.Mutex
		times := map[int64]int{}
		keeper := func(s *store.Store) *fits.Keeper {
			records := fitted{Records: api.Records{Store: s}, mu: &mu, times: times}
			return fits.NewKeeper(records, longAgo, slog.New(slog.DiscardHandler))
		}
		serveTrends(t, one, keeper(one))
		serveTrends(t, two, keeper(two))
		for range 10 {
			if err := p.change(t.Context(), two); err != nil {
				t.Fatal(err)
			}
			wanted := p.revision(t, command)
			if _, err := api.RefitAll(t.Context(), command, keeper(command)); err != nil {
				t.Fatal(err)
			}
			if now := p.revision(t, command); now.Fitted < wanted.Revision {
				t.Fatalf("the command returned with %+v, want revision %d fitted", now, wanted.Revision)
			}
		}
		now := p.current(t, one)
		mu.Lock()
		defer mu.Unlock()
		for revision, n := range times {
			if n != 1 {
				t.Errorf("revision %d was fitted %d times", revision, n)
			}
		}
		if times[now.Revision] != 1 || len(times) < 10 {
			t.Errorf("fitted were %v, want the last revision %d among them", times, now.Revision)
		}
	})
}

func TestAChangeThatComesWhileTrendsAreFittedIsFittedNext(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s := process(t, url)
		p := play(t, s)
		var mu sync.Mutex
		times := map[int64]int{}
		change := sync.OnceValue(func() error { return p.change(t.Context(), s) })
		records := fitted{Records: api.Records{Store: s}, mu: &mu, times: times, before: func() {
			if err := change(); err != nil {
				t.Error(err)
			}
		}}
		first := p.revision(t, s).Revision
		serveTrends(t, s, fits.NewKeeper(records, longAgo, slog.New(slog.DiscardHandler)))
		if now := p.current(t, s); now.Revision != first+1 {
			t.Errorf("the trends are current at %+v, want revision %d", now, first+1)
		}
	})
}

func TestTrendsThatNoJobIsLeftForAreOrderedAtTheStart(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s := process(t, url)
		p := play(t, s)
		err := s.Write(t.Context(), p.who, func(tx *store.Tx) error {
			all, err := tx.Jobs(1)
			if err != nil {
				return err
			}
			return tx.CancelJob(all[0].ID)
		})
		if err != nil {
			t.Fatal(err)
		}
		if err := api.OrderRefits(t.Context(), s); err != nil {
			t.Fatal(err)
		}
		serveTrends(t, s, fits.NewKeeper(api.Records{Store: s}, longAgo, slog.New(slog.DiscardHandler)))
		p.current(t, s)
	})
}
