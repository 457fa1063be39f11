package jobs_test

import (
	"database/sql"
	"io"
	"io/fs"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver pgx
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	_ "modernc.org/sqlite" // the driver sqlite

	"throughline/migrations"
	"throughline/models/store"
	"throughline/models/store/jobs"
	"throughline/models/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

// open opens a database below the store.
func open(t *testing.T, driver, address string) *sql.DB {
	t.Helper()
	db, err := sql.Open(driver, address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closed(t, db) })
	db.SetMaxOpenConns(1)
	return db
}

func closed(t *testing.T, c io.Closer) {
	t.Helper()
	if err := c.Close(); err != nil {
		t.Error(err)
	}
}

// objects are River's tables, with all that belongs to them.
func objects(t *testing.T, db *sql.DB, statement string) (all []string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), statement)
	if err != nil {
		t.Fatal(err)
	}
	defer closed(t, rows)
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			t.Fatal(err)
		}
		all = append(all, text)
	}
	if err := rows.Err(); err != nil || len(all) < 10 {
		t.Fatalf("%d objects, %v", len(all), err)
	}
	slices.Sort(all)
	return all
}

const (
	sqliteObjects = `
		SELECT type || ' ' || name || ' ' || coalesce(sql, '') FROM sqlite_master WHERE tbl_name LIKE 'river%'`
	postgresObjects = `
		SELECT 'column ' || c.relname || ' ' || a.attname || ' ' || format_type(a.atttypid, a.atttypmod) || ' ' ||
			a.attnotnull || ' ' || coalesce(pg_get_expr(d.adbin, d.adrelid), '')
		FROM pg_class AS c JOIN pg_attribute AS a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
			LEFT JOIN pg_attrdef AS d ON d.adrelid = c.oid AND d.adnum = a.attnum
		WHERE c.relkind = 'r' AND c.relname LIKE 'river%'
		UNION ALL SELECT 'index ' || indexdef FROM pg_indexes WHERE tablename LIKE 'river%'
		UNION ALL SELECT 'constraint ' || conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid)
			FROM pg_constraint WHERE conrelid::regclass::text LIKE 'river%'
		UNION ALL SELECT 'function ' || pg_get_functiondef(oid) FROM pg_proc WHERE proname LIKE 'river%'
		UNION ALL SELECT 'value ' || enumtypid::regtype || ' ' || enumlabel || ' ' || enumsortorder
			FROM pg_enum WHERE enumtypid::regtype::text LIKE 'river%'`
)

// The outside source is River's own migrator, of the version that go.mod pins. It makes its tables in an empty
// database; ours are the same, and it finds nothing missing in them. Where a newer River wants more, this fails: add
// a migration that goes on from jobs.SchemaVersion.
func TestOurTablesOfJobsAreThoseOfTheLibrary(t *testing.T) {
	for name, c := range map[string]struct {
		driver, statement, ours, plain string
		river                          func(*sql.DB) riverdriver.Driver[*sql.Tx]
	}{
		"sqlite": {"sqlite", sqliteObjects, "sqlite:" + filepath.Join(t.TempDir(), "ours.db"),
			filepath.Join(t.TempDir(), "plain.db"),
			func(db *sql.DB) riverdriver.Driver[*sql.Tx] { return riversqlite.New(db) }},
		"postgres": {"pgx", postgresObjects, storetest.Postgres(t), storetest.Postgres(t),
			func(db *sql.DB) riverdriver.Driver[*sql.Tx] { return riverdatabasesql.New(db) }},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := store.Migrate(t.Context(), c.ours); err != nil {
				t.Fatal(err)
			}
			ours, plain := open(t, c.driver, strings.TrimPrefix(c.ours, "sqlite:")), open(t, c.driver, c.plain)
			quiet := &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)}
			theirs, err := rivermigrate.New(c.river(plain), quiet)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := theirs.Migrate(t.Context(), rivermigrate.DirectionUp, nil); err != nil {
				t.Fatal(err)
			}
			if got, want := objects(t, ours, c.statement), objects(t, plain, c.statement); !slices.Equal(got, want) {
				t.Errorf("our migration makes\n%s", strings.Join(got, "\n"))
				t.Errorf("the library's own makes\n%s", strings.Join(want, "\n"))
			}
			m, err := rivermigrate.New(c.river(ours), quiet)
			if err != nil {
				t.Fatal(err)
			}
			checked, err := m.Validate(t.Context(), nil)
			if err != nil || !checked.OK {
				t.Errorf("the library finds %v, %v", checked, err)
			}
			all := theirs.AllVersions()
			if last := all[len(all)-1].Version; last != jobs.SchemaVersion {
				t.Errorf("the library is at version %d, our migration at %d", last, jobs.SchemaVersion)
			}
		})
	}
}

// A process that is killed while it migrates may have made the tables and not noted it.
func TestTheMigrationMayBeTakenAgain(t *testing.T) {
	url := storetest.Postgres(t)
	db := open(t, "pgx", url)
	if err := jobs.Migrate(t.Context(), db, true); err != nil { // as far as half of it
		t.Fatal(err)
	}
	if _, err := store.Migrate(t.Context(), url); err != nil {
		t.Fatal(err)
	}
	// Done, and not noted: both halves are taken once more.
	if err := jobs.Migrate(t.Context(), db, true); err != nil {
		t.Error(err)
	}
	ours, err := fs.ReadFile(migrations.Postgres(), "00008_jobs.sql")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.ExecContext(t.Context(), string(ours)); err != nil {
		t.Error(err)
	}
}
