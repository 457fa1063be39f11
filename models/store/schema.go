package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path"
	"slices"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"throughline/models/store/jobs"
)

// Schema says which version of the tables a database has and which one the program wants. Versions count up; 0 is an
// empty database.
type Schema struct {
	Current, Wanted int64
	Pending         []string // names of the migrations that would be applied, in order
}

// fits returns nil when the program can serve the database, else what to do.
func (s Schema) fits() error {
	switch {
	case s.Current < s.Wanted:
		return fmt.Errorf("the database schema is version %d, but this program needs version %d: make a backup, then run "+
			"\"throughline migrate up\"", s.Current, s.Wanted)
	case s.Current > s.Wanted:
		return fmt.Errorf("the database schema is version %d, newer than version %d of this program: run the newer "+
			"program, or restore the backup made before the migration", s.Current, s.Wanted)
	}
	return nil
}

// SchemaStatus tells how a database's schema stands to the program's. It changes nothing and creates no file.
func SchemaStatus(ctx context.Context, url string) (Schema, error) {
	a, err := parseAddress(url)
	if err != nil {
		return Schema{}, err
	}
	return a.schema(ctx)
}

// Migrate brings a database's schema up to the program's version and returns the names of the migrations that it
// applied. On PostgreSQL the address must be that of the tables' owner. Each migration is one transaction. A database
// newer than the program is refused. There is no way down: restore a backup.
func Migrate(ctx context.Context, url string) (applied []string, err error) {
	return migrate(ctx, url, math.MaxInt64)
}

// migrate is Migrate up to a version.
func migrate(ctx context.Context, url string, version int64) (applied []string, err error) {
	a, err := parseAddress(url)
	if err != nil {
		return nil, err
	}
	status, err := a.schema(ctx)
	if err != nil {
		return nil, err
	}
	if status.Current >= status.Wanted {
		return nil, status.fits()
	}
	pool, err := a.owner(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, pool.Close()) }()
	forJobs, err := a.dialect.jobsMigration()
	if err != nil {
		return nil, err
	}
	options := []goose.ProviderOption{
		goose.WithDisableGlobalRegistry(true), goose.WithExcludeNames([]string{jobsMigration}),
		goose.WithGoMigrations(forJobs),
	}
	if a.dialect.postgres() {
		// Two programs that start at once must not both migrate. SQLite's write lock prevents it there.
		locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 60))
		if err != nil {
			return nil, fmt.Errorf("migrate: %w", err)
		}
		options = append(options, goose.WithSessionLocker(locker))
	}
	provider, err := goose.NewProvider(a.dialect.goose, pool, a.dialect.migrations, options...)
	if err != nil {
		return nil, fmt.Errorf("migrate: %w", err)
	}
	results, err := provider.UpTo(ctx, version)
	var partial *goose.PartialError
	if errors.As(err, &partial) {
		results = append(results, partial.Applied...)
	}
	for _, r := range results {
		name := path.Base(r.Source.Path)
		if r.Source.Version == jobsVersion {
			name = jobsMigration
		}
		applied = append(applied, name)
	}
	if err != nil {
		return applied, fmt.Errorf("migrate: %w", lost(err))
	}
	return applied, nil
}

// The migration that makes the tables of background jobs is two things: River's own tables, and a file of ours, which
// is sent whole. On SQLite both are one transaction. On PostgreSQL they cannot be (jobs.Migrate says why), and each
// step may be taken again.
const (
	jobsVersion   = 8
	jobsMigration = "00008_jobs.sql"
)

func (d dialect) jobsMigration() (*goose.Migration, error) {
	text, err := fs.ReadFile(d.migrations, jobsMigration)
	if err != nil {
		return nil, fmt.Errorf("read the migration %s: %w", jobsMigration, err)
	}
	ours := string(text)
	up := goose.GoFunc{RunTx: func(ctx context.Context, tx *sql.Tx) error {
		if err := jobs.MigrateTx(ctx, tx, false); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, ours)
		return err
	}}
	if d.postgres() {
		up = goose.GoFunc{RunDB: func(ctx context.Context, pool *sql.DB) error {
			if err := jobs.Migrate(ctx, pool, true); err != nil {
				return err
			}
			_, err := pool.ExecContext(ctx, ours) // several statements sent at once are one transaction
			return err
		}}
	}
	return goose.NewGoMigration(jobsVersion, &up, nil), nil
}

// schema reads the version of a database without changing it.
func (a address) schema(ctx context.Context) (s Schema, err error) {
	all, err := a.dialect.sources()
	if err != nil {
		return Schema{}, err
	}
	if s.Current, err = a.version(ctx); err != nil {
		var refused *pgconn.PgError
		if errors.As(err, &refused) && refused.Code == "42501" { // insufficient privilege
			return Schema{}, fmt.Errorf("read the schema version of %v: %w (its owner must run GRANT %s TO %s)", a, err,
				servingRole, a.postgres.User)
		}
		return Schema{}, fmt.Errorf("read the schema version of %v: %w", a, lost(err))
	}
	for _, m := range all {
		s.Wanted = m.version
		if m.version > s.Current {
			s.Pending = append(s.Pending, m.name)
		}
	}
	return s, nil
}

// version returns the version of the last migration that was applied to a database, 0 if none was or no file exists.
func (a address) version(ctx context.Context) (version int64, err error) {
	exists := "SELECT to_regclass('public." + goose.DefaultTablename + "') IS NOT NULL"
	if !a.dialect.postgres() {
		if _, err := os.Stat(a.path); errors.Is(err, fs.ErrNotExist) {
			return 0, nil
		}
		exists = "SELECT count(*) > 0 FROM sqlite_master WHERE name = '" + goose.DefaultTablename + "'"
	}
	pool := a.plain(migrationWait) // a migration that is running has not yet granted anything
	defer func() { err = errors.Join(err, pool.Close()) }()
	conn, err := pool.Conn(ctx)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	var table bool
	if err := conn.QueryRowContext(ctx, exists).Scan(&table); err != nil || !table {
		return 0, err
	}
	var last sql.NullInt64
	err = conn.QueryRowContext(ctx, "SELECT max(version_id) FROM "+goose.DefaultTablename+" WHERE is_applied").Scan(&last)
	return last.Int64, err
}

type source struct {
	version int64
	name    string
}

// sources lists the migrations that the program carries, in order.
func (d dialect) sources() ([]source, error) {
	files, err := fs.Glob(d.migrations, "*.sql")
	if err != nil {
		return nil, fmt.Errorf("list migrations: %w", err)
	}
	var all []source
	for _, name := range files {
		version, err := goose.NumericComponent(name)
		if err != nil {
			return nil, fmt.Errorf("list migrations: %w", err)
		}
		all = append(all, source{version, name})
	}
	slices.SortFunc(all, func(a, b source) int { return cmp.Compare(a.version, b.version) })
	return all, nil
}
