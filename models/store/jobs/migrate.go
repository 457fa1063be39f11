package jobs

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"

	"github.com/riverqueue/river/rivermigrate"
)

// SchemaVersion is the version of River's tables that our migration makes. A newer River that wants more needs a
// migration of ours that goes on from here; a test says when.
const SchemaVersion = 8

var steps = &rivermigrate.MigrateOpts{TargetVersion: SchemaVersion}

// Migrate makes River's tables with the statements that River itself carries: none is copied, and River's own record
// of versions agrees with them. Each of River's versions is a transaction of its own, since PostgreSQL before 17 does
// not let one use a value that it has added to an enumeration. A migration that was cut short goes on where it
// stopped.
func Migrate(ctx context.Context, pool *sql.DB, postgres bool) error {
	m, err := migrator(pool, postgres)
	if err == nil {
		_, err = m.Migrate(ctx, rivermigrate.DirectionUp, steps)
	}
	return migrated(err)
}

// MigrateTx is Migrate within one transaction, which SQLite takes.
func MigrateTx(ctx context.Context, tx *sql.Tx, postgres bool) error {
	m, err := migrator(nil, postgres)
	if err == nil {
		//lint:ignore SA1019 River warns of what PostgreSQL does not take in one transaction; SQLite takes it all
		_, err = m.MigrateTx(ctx, tx, rivermigrate.DirectionUp, steps)
	}
	return migrated(err)
}

func migrator(pool *sql.DB, postgres bool) (*rivermigrate.Migrator[*sql.Tx], error) {
	return rivermigrate.New(driverOf(pool, postgres), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
}

func migrated(err error) error {
	if err != nil {
		return fmt.Errorf("create the tables for background jobs: %w", err)
	}
	return nil
}
