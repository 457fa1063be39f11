package store_test

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"strings"
	"testing"

	"go.uber.org/goleak"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestCloseLeavesNothingRunning(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		before := goleak.IgnoreCurrent()
		s, err := store.Open(t.Context(), url, store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		newWorld(t, s)
		for range 3 { // several connections
			read(t, s, models.Console(1), func(tx *store.Tx) error {
				read(t, s, models.Console(1), func(tx *store.Tx) error { _, err := tx.Players(models.PlayerFilter{}); return err })
				return nil
			})
		}
		if err := s.Ping(t.Context()); err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if _, err := store.SchemaStatus(t.Context(), url); err != nil {
			t.Error(err)
		}
		if _, err := store.Migrate(t.Context(), url); err != nil {
			t.Error(err)
		}
		goleak.VerifyNone(t, before)
	})
}

func TestLostDatabaseIsRecognised(t *testing.T) {
	t.Run("a server that is not there", func(t *testing.T) {
		_, err := store.Open(t.Context(), "postgres://coach@127.0.0.1:1/academy", store.Options{})
		if !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("error %v", err)
		}
	})
	t.Run("a folder that is not there", func(t *testing.T) {
		_, err := store.Migrate(t.Context(), "sqlite:"+t.TempDir()+"/no/academy.db")
		if !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("error %v", err)
		}
	})
	t.Run("a connection that is cut", func(t *testing.T) {
		storetest.Each(t, func(t *testing.T, s *store.Store) {
			if !s.Postgres() {
				t.Skip("SQLite has no connections to cut")
			}
			w := newWorld(t, s)
			err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
				if err := tx.Raw().Exec("RESET ROLE").Error; err != nil {
					return err
				}
				if err := tx.Raw().Exec("SELECT pg_terminate_backend(pg_backend_pid())").Error; err == nil {
					t.Error("the connection is still there")
				}
				return tx.CreateSquad(&models.Squad{Name: "Sevens"})
			})
			if !errors.Is(err, store.ErrUnavailable) {
				t.Errorf("error %v", err)
			}
			// the next one is a new connection
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateSquad(&models.Squad{Name: "Sevens"}) })
		})
	})
	t.Run("a file that another program keeps locked", func(t *testing.T) {
		url := storetest.SQLite(t)
		s, err := store.Open(t.Context(), url, store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		w := newWorld(t, s)
		err = s.Write(t.Context(), w.manager, func(*store.Tx) error {
			other, err := store.Open(t.Context(), url, store.Options{})
			if err != nil {
				return err
			}
			defer other.Close()
			return other.Write(t.Context(), w.manager, func(*store.Tx) error { return nil })
		})
		if !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("error %v", err)
		}
	})
	t.Run("a request that was given up is not the database's fault", func(t *testing.T) {
		storetest.Each(t, func(t *testing.T, s *store.Store) {
			w := newWorld(t, s)
			ctx, cancel := context.WithCancel(t.Context())
			err := s.Write(ctx, w.manager, func(tx *store.Tx) error {
				cancel()
				return tx.CreateSquad(&models.Squad{Name: "Sevens"})
			})
			if !errors.Is(err, context.Canceled) || errors.Is(err, store.ErrUnavailable) {
				t.Errorf("error %v", err)
			}
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateSquad(&models.Squad{Name: "Sevens"}) })
		})
	})
}

func TestCommitSurvivesReopening(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
		if err != nil {
			t.Fatal(err)
		}
		w := newWorld(t, s)
		before := content(t, s, w.academy.ID)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if s, err = store.Open(t.Context(), url, store.Options{}); err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		if after := content(t, s, w.academy.ID); strings.Join(before, "\n") != strings.Join(after, "\n") {
			t.Error("the content is another")
		}
	})
}

func TestSQLiteIsDurableAndChecked(t *testing.T) {
	url := storetest.SQLite(t)
	s, err := store.Open(t.Context(), url, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	write(t, s, models.Console(1), func(tx *store.Tx) error {
		// 2 is FULL
		for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1"} {
			var got string
			if err := tx.Raw().Raw("PRAGMA " + pragma).Scan(&got).Error; err != nil || got != want {
				t.Errorf("%s is %s, want %s (%v)", pragma, got, want, err)
			}
		}
		return nil
	})
	if _, err := os.Stat(strings.TrimPrefix(url, "sqlite:") + "-wal"); err != nil {
		t.Error(err)
	}
}

func TestEveryAddressServesAsTheLesserRole(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		if strings.HasPrefix(url, "sqlite:") {
			t.Skip("SQLite has no roles")
		}
		administrator := storetest.As(t, url, "postgres")
		member, stranger := "throughline_test_member", "throughline_test_stranger"
		for _, role := range []string{member, stranger} {
			execute(t, administrator, "CREATE ROLE "+role+" LOGIN")
			defer execute(t, administrator, "DROP ROLE "+role)
		}
		execute(t, url, "GRANT throughline_serving TO "+member)
		for _, address := range []string{url, administrator, storetest.As(t, url, member)} {
			s, err := store.Open(t.Context(), address, store.Options{})
			if err != nil {
				t.Fatal(err)
			}
			var role string
			if err := s.Pool(t.Context()).Raw("SELECT current_user").Scan(&role).Error; err != nil ||
				role != "throughline_serving" {
				t.Errorf("%s serves as %s, %v", address, role, err)
			}
			if _, err := s.Academies(t.Context()); err != nil {
				t.Error(err)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		}
		_, err := store.Open(t.Context(), storetest.As(t, url, stranger), store.Options{})
		if err == nil || !strings.Contains(err.Error(), "GRANT throughline_serving TO "+stranger) {
			t.Errorf("a stranger opens it: %v", err)
		}
	})
}

// The file beside a SQLite file that commits go to first is moved into it when the last connection is closed
// (https://sqlite.org/wal.html, "Avoiding Excessively Large WAL Files"). Then the one file is the whole database and
// can be copied.
func TestAClosedSQLiteFileIsTheWholeDatabase(t *testing.T) {
	url := storetest.SQLite(t)
	s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
	if err != nil {
		t.Fatal(err)
	}
	academy, err := s.CreateAcademy(t.Context(), "Harbour Academy")
	if err != nil {
		t.Fatal(err)
	}
	read(t, s, models.Console(academy.ID), func(tx *store.Tx) error { // a reader's connection is open too
		_, err := tx.Players(models.PlayerFilter{})
		return err
	})
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, beside := range []string{"-wal", "-shm"} {
		if _, err := os.Stat(strings.TrimPrefix(url, "sqlite:") + beside); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s is left: %v", beside, err)
		}
	}
}
