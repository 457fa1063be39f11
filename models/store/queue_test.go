package store_test

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// Forty writers who waited in the database held every connection of the pool, and a coach's read waited for eight
// seconds.
func TestWritersWaitWithoutAConnectionAndReadersGoOn(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s := storetest.With(t, url, store.Options{Now: storetest.Now, Connections: 3})
		w := newWorld(t, s)
		const many = 40
		begun, end := make(chan struct{}), make(chan struct{})
		var writers sync.WaitGroup
		writers.Go(func() {
			err := s.Write(t.Context(), w.manager, func(*store.Tx) error {
				close(begun)
				<-end
				return nil
			})
			if err != nil {
				t.Error(err)
			}
		})
		<-begun
		for range many {
			writers.Go(func() {
				if err := s.Write(t.Context(), w.coach, func(*store.Tx) error { return nil }); err != nil {
					t.Error(err)
				}
			})
		}
		for s.Waiting(w.academy.ID) < many+1 {
			runtime.Gosched()
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute) // or it would wait for ever
		defer cancel()
		if err := s.Read(ctx, w.coach, func(tx *store.Tx) error { _, err := tx.Player(w.bram.ID); return err }); err != nil {
			t.Errorf("a read while %d wait to write: %v", many, err)
		}
		gone, leave := context.WithCancel(t.Context())
		leave()
		if err := s.Write(gone, w.coach, func(*store.Tx) error { return nil }); !errors.Is(err, context.Canceled) {
			t.Errorf("a writer who has gone: %v; want that of the context", err)
		}
		if n := s.Waiting(w.academy.ID); n != many+1 {
			t.Errorf("%d are in the line after one has gone; want %d", n, many+1)
		}
		close(end)
		writers.Wait()
		if n := s.Waiting(w.academy.ID); n != 0 {
			t.Errorf("%d are in the line in the end", n)
		}
	})
}

func TestAWriterOfAnotherAcademyDoesNotWaitOnPostgreSQL(t *testing.T) {
	s := storetest.Open(t, "postgres")
	w := newWorld(t, s)
	other := addAcademy(t, s, "Fell Academy", "fell")
	write(t, s, w.manager, func(*store.Tx) error {
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		return s.Write(ctx, other.manager, func(*store.Tx) error { return nil })
	})
}

func TestAWriterWaitsOnlySoLong(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s := storetest.With(t, url, store.Options{Now: storetest.Now, LockTimeout: time.Millisecond})
		w := newWorld(t, s)
		write(t, s, w.manager, func(*store.Tx) error {
			if err := s.Write(t.Context(), w.coach, func(*store.Tx) error { return nil }); !errors.Is(err,
				store.ErrUnavailable) {
				t.Errorf("%v; want ErrUnavailable", err)
			}
			return nil
		})
	})
}

func TestARecordIsReadOutWhileAnotherWrites(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		exported := make(chan error)
		write(t, s, w.coach, func(tx *store.Tx) error {
			go func() {
				_, err := s.ExportPlayer(t.Context(), w.manager, w.bram.ID, models.AskedByPlayer)
				exported <- err
			}()
			for s.Waiting(w.academy.ID) < 2 { // it has been read, and waits to keep the proof
				runtime.Gosched()
			}
			return nil
		})
		if err := <-exported; err != nil {
			t.Error(err)
		}
	})
}

func TestACallerHasAFewExportsOfAPlayerADay(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		now := storetest.Now()
		s := storetest.With(t, url, store.Options{Now: func() time.Time { return now }})
		w := newWorld(t, s)
		export := func(who models.Who, player int64) error {
			_, err := s.ExportPlayer(t.Context(), who, player, models.AskedByPlayer)
			return err
		}
		for range models.MostExports {
			if err := export(w.manager, w.bram.ID); err != nil {
				t.Fatal(err)
			}
			now = now.Add(time.Hour)
		}
		err := export(w.manager, w.bram.ID)
		var known *models.Error
		if !errors.As(err, &known) || known.Code != models.TooOften || known.After != 19*time.Hour {
			t.Errorf("the sixth: %v, to wait %+v; want it refused for 19 hours", err, known)
		}
		if err := export(w.manager, w.tove.ID); err != nil {
			t.Errorf("of another player: %v", err)
		}
		if err := export(models.Console(w.academy.ID), w.bram.ID); err != nil {
			t.Errorf("by the command line: %v", err)
		}
		now = now.Add(19 * time.Hour)
		if err := export(w.manager, w.bram.ID); err != nil {
			t.Errorf("a day after the first: %v", err)
		}
	})
}
