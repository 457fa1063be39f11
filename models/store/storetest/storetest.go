// Package storetest runs tests against both databases. It is for tests only: the program does not link it.
//
// SQLite is a file in the test's folder. PostgreSQL is a server of the test process's own, started when the first test
// asks for it from the binaries of an installed PostgreSQL, and thrown away with the process, even a killed one. Where
// the variable THROUGHLINE_TEST_POSTGRES has the URL of a server on which databases may be created, that one is used.
// Without either, the PostgreSQL half of a test is skipped with how to run it, or fails where THROUGHLINE_REQUIRE
// contains "postgres".
package storetest

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"throughline/models/store"
)

// Now is the instant at which the clocks of Each's stores stand.
func Now() time.Time { return time.Date(2026, time.March, 14, 15, 9, 26, 535_897_000, time.UTC) }

// Each runs a test on SQLite and on PostgreSQL, each with a database of its own that is migrated and empty. With
// -short it runs on PostgreSQL alone where there is one: under the race detector SQLite, a C program in Go, is many
// times slower. Tests of what happens at once use [Always] instead.
func Each(t *testing.T, test func(t *testing.T, s *store.Store)) {
	t.Helper()
	EachURL(t, func(t *testing.T, url string) { test(t, open(t, url)) })
}

// EachURL is Each for tests that open the database themselves.
func EachURL(t *testing.T, test func(t *testing.T, url string)) {
	t.Helper()
	if !testing.Short() || !postgresAtHand() {
		t.Run("sqlite", func(t *testing.T) { test(t, SQLite(t)) })
	}
	t.Run("postgres", func(t *testing.T) { test(t, MigratedPostgres(t)) })
}

// OneByOne skips a long test that does one thing after the other when -short is given: the race detector finds nothing
// in it. Without -short it always runs.
func OneByOne(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("long, and nothing in it happens at once: it runs without -short")
	}
}

// Always is Each on both databases, with -short too: for tests in which several goroutines use a store at once.
func Always(t *testing.T, test func(t *testing.T, s *store.Store)) {
	t.Helper()
	t.Run("sqlite", func(t *testing.T) { test(t, open(t, SQLite(t))) })
	t.Run("postgres", func(t *testing.T) { test(t, open(t, MigratedPostgres(t))) })
}

func open(t testing.TB, url string) *store.Store {
	t.Helper()
	return With(t, url, store.Options{Now: Now})
}

// With opens a migrated database with options of the test's own, and closes it when the test ends.
func With(t testing.TB, url string, o store.Options) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), url, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// Open opens the databases that a benchmark runs on: "sqlite" or "postgres".
func Open(t testing.TB, name string) *store.Store {
	t.Helper()
	if name == "sqlite" {
		return open(t, SQLite(t))
	}
	return open(t, MigratedPostgres(t))
}

// migratedFile is a migrated SQLite file, made once: copying it is quicker than migrating each.
var migratedFile = sync.OnceValues(func() ([]byte, error) {
	folder, err := os.MkdirTemp("", "throughline-test-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "template.db")
	if _, err := store.Migrate(context.Background(), "sqlite:"+path); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

// SQLite returns the address of a migrated, empty SQLite file in the test's folder.
func SQLite(t testing.TB) string {
	t.Helper()
	content, err := migratedFile()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "academy.db")
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return "sqlite:" + path
}
