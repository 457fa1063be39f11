package store_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestConcurrentWritersLoseNothing lets coaches log the same player at once while others read. Every involvement must
// be there and counted: a count that was made before another's commit would leave the last one out.
func TestConcurrentWritersLoseNothing(t *testing.T) {
	const writers, each = 8, 15
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		var all sync.WaitGroup
		for n := range writers {
			all.Go(func() {
				for i := range each {
					tackle := models.Involvement{LogID: w.log.ID, Clock: clock(1, n, i), Kind: models.KindTackle,
						Details: map[string]string{"result": "won"}}
					if err := s.Write(t.Context(), w.coach, func(tx *store.Tx) error {
						return tx.CreateInvolvement(&tackle)
					}); err != nil {
						t.Error(err)
					}
				}
			})
			all.Go(func() {
				for range each {
					err := s.Read(t.Context(), w.manager, func(tx *store.Tx) error {
						return consistent(tx, w)
					})
					if err != nil {
						t.Error(err)
					}
				}
			})
		}
		all.Wait()
		read(t, s, w.manager, func(tx *store.Tx) error {
			counted, err := tackles(tx, w)
			if counted != writers*each {
				t.Errorf("%v tackles are counted, want %d", counted, writers*each)
			}
			return err
		})
		unchanged(t, w, "writing at once")
	})
}

// consistent checks that one transaction sees observations that belong to the involvements it sees.
func consistent(tx *store.Tx, w *world) error {
	involved, err := tx.Involvements(models.InvolvementFilter{LogID: w.log.ID})
	if err != nil {
		return err
	}
	counted, err := tackles(tx, w)
	if logged := len(involved) - 1; err == nil && counted != logged { // one is a carry
		return fmt.Errorf("%d tackles are there and %d are counted", logged, counted)
	}
	return err
}

// tackles returns how many tackles the one observation of Bram's tackles counts. It is an error if there is no such
// observation.
func tackles(tx *store.Tx, w *world) (int, error) {
	observations, err := tx.Observations(models.ObservationFilter{PlayerID: w.bram.ID})
	if err != nil {
		return 0, err
	}
	observations = slices.DeleteFunc(observations, func(o models.Observation) bool { return o.Indicator != "tackles" })
	if len(observations) != 1 {
		return 0, fmt.Errorf("%d observations of tackles, want 1", len(observations))
	}
	return int(observations[0].Numerator), nil
}

func TestConcurrentChangesOfOneRecordAreNotLost(t *testing.T) {
	const writers = 12
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		var all sync.WaitGroup
		var mu sync.Mutex
		won := 0
		for n := range writers {
			all.Go(func() {
				squad := w.colts
				squad.AgeBand = 10 + n
				err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error { return tx.UpdateSquad(&squad) })
				mu.Lock()
				defer mu.Unlock()
				switch {
				case err == nil:
					won++
				case models.CodeOf(err) != models.Stale:
					t.Error(err)
				}
			})
		}
		all.Wait()
		if won != 1 {
			t.Errorf("%d changes of the same version were accepted", won)
		}
	})
}

func TestConcurrentCreationOfTheSameIsAConflict(t *testing.T) {
	const writers = 12
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		var all sync.WaitGroup
		var mu sync.Mutex
		won := 0
		for range writers {
			all.Go(func() {
				// nothing unique in the database stops a second
				spell := models.Spell{PlayerID: w.bram.ID, Status: models.Modified, From: "2025-11-01"}
				err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error { return tx.CreateSpell(&spell) })
				mu.Lock()
				defer mu.Unlock()
				switch {
				case err == nil:
					won++
				case models.CodeOf(err) != models.Invalid:
					t.Error(err)
				}
			})
		}
		all.Wait()
		if won != 1 {
			t.Errorf("%d overlapping spells were accepted", won)
		}
	})
}

// TestAcademiesNeverMixInAPool alternates academies on few connections: a connection must not remember the one before.
func TestAcademiesNeverMixInAPool(t *testing.T) {
	storetest.Always(t, func(t *testing.T, s *store.Store) {
		w, o := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		var all sync.WaitGroup
		for n := range 8 {
			all.Go(func() {
				for i := range 50 {
					mine := []*world{w, o}[(n+i)%2]
					err := s.Read(t.Context(), mine.manager, func(tx *store.Tx) error {
						var ids []int64
						if err := tx.Raw().Raw("SELECT DISTINCT academy_id FROM players").Scan(&ids).Error; err != nil {
							return err
						}
						if s.Postgres() && (len(ids) != 1 || ids[0] != mine.academy.ID) {
							t.Errorf("academy %d sees academies %v", mine.academy.ID, ids)
						}
						players, err := tx.Players(models.PlayerFilter{})
						if len(players) != 4 {
							t.Errorf("academy %d sees %d players", mine.academy.ID, len(players))
						}
						return err
					})
					if err != nil {
						t.Error(err)
					}
				}
			})
		}
		all.Wait()
	})
}

func TestMigratingTwiceAtOnceMigratesOnce(t *testing.T) {
	for name, url := range map[string]func(t *testing.T) string{
		"sqlite":   func(t *testing.T) string { return "sqlite:" + t.TempDir() + "/academy.db" },
		"postgres": func(t *testing.T) string { return storetest.Postgres(t) },
	} {
		t.Run(name, func(t *testing.T) {
			address := url(t)
			before, err := store.SchemaStatus(t.Context(), address)
			if err != nil || len(before.Pending) == 0 {
				t.Fatalf("status %+v, %v", before, err)
			}
			var all sync.WaitGroup
			var mu sync.Mutex
			applied := 0
			for range 4 {
				all.Go(func() {
					done, err := store.Migrate(t.Context(), address)
					mu.Lock()
					defer mu.Unlock()
					if err != nil {
						t.Error(err)
					}
					applied += len(done)
				})
			}
			all.Wait()
			status, err := store.SchemaStatus(t.Context(), address)
			if err != nil || status.Current != status.Wanted || applied != len(before.Pending) {
				t.Errorf("%d applied, status %+v, %v", applied, status, err)
			}
		})
	}
}
