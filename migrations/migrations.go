// Package migrations holds the versioned SQL of both databases, embedded in the program. The same version means the
// same tables on both.
//
// Migrations only go up. There is no way down that would not lose what was recorded since: to go back, restore a
// backup made before the migration and run the older program on it.
//
// On PostgreSQL the tables are forced under row-level security, so that their owner is bound by it too: a later
// migration that rewrites rows must first set throughline.academy, or lift the force for as long as it runs.
package migrations

import (
	"embed"
	"io/fs"
)

//go:embed postgres/*.sql sqlite/*.sql
var files embed.FS

// Postgres returns the migrations for PostgreSQL, 13 or later.
func Postgres() fs.FS { return folder("postgres") }

// SQLite returns the migrations for SQLite.
func SQLite() fs.FS { return folder("sqlite") }

func folder(name string) fs.FS {
	sub, err := fs.Sub(files, name)
	if err != nil {
		panic("migrations: " + err.Error()) // only for a name that is no valid path
	}
	return sub
}
