package store

import (
	"context"
	"errors"
	"fmt"
	"net"
	"syscall"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// InOurWords returns what a driver says in an error, our words for it with what to do, and whether they name the cause.
// It returns two empty texts for an error that is not a driver's.
func InOurWords(err error) (said, words string, known bool) {
	var (
		connect  *pgconn.ConnectError
		postgres *pgconn.PgError
		file     *sqlite.Error
	)
	switch {
	case errors.As(err, &connect):
		words, known = aboutConnecting(connect)
		return connect.Error(), words, known
	case errors.As(err, &postgres):
		words, known = aboutRefusal(postgres, "this user")
		return postgres.Error(), words, known
	case errors.As(err, &file):
		words, known = aboutDatabaseFile(file.Code())
		return file.Error(), words, known
	}
	return "", "", false
}

// aboutConnecting says why there is no connection to PostgreSQL.
func aboutConnecting(e *pgconn.ConnectError) (words string, known bool) {
	var (
		refused *pgconn.PgError
		name    *net.DNSError
		network net.Error
	)
	at := fmt.Sprintf("%s, port %d", e.Config.Host, e.Config.Port)
	switch {
	case errors.As(e, &refused):
		words, known = aboutRefusal(refused, "the user "+e.Config.User)
		return fmt.Sprintf("database %s at %s: %s", e.Config.Database, at, words), known
	case errors.As(e, &name):
		return fmt.Sprintf("no computer is called %s; correct the host's name", e.Config.Host), true
	case errors.Is(e, syscall.ECONNREFUSED), errors.Is(e, syscall.ENOENT): // a socket of a server that is not running
		return fmt.Sprintf("nothing answers at %s; start PostgreSQL there, or correct host and port", at), true
	case errors.Is(e, context.DeadlineExceeded), errors.As(e, &network) && network.Timeout():
		return fmt.Sprintf("no answer in time from %s; check host, port and network", at), true
	}
	return fmt.Sprintf("no connection to the database %s at %s; the log says why", e.Config.Database, at), false
}

// aboutRefusal words what PostgreSQL refuses by its code: Appendix A of the PostgreSQL manual.
func aboutRefusal(e *pgconn.PgError, user string) (words string, known bool) {
	switch e.Code {
	case "28P01", "28000":
		return "the server does not let " + user + " in; correct user and password", true
	case "3D000":
		return "there is no such database; create it, or correct its name", true
	case "42501":
		return user + " lacks a permission that this needs; use the database's owner", true
	case "53300":
		return "the server has no connection left; try again, or raise its limit", true
	case "53100":
		return "the server's disk is full; free some space and try again", true
	case "57P03":
		return "the server is starting or stopping; try again in a minute", true
	case "55P03", "57014":
		return "the database took too long; try again", true
	}
	return "the database refused with the code " + e.Code + "; the log says why", false
}

// aboutDatabaseFile words an error of SQLite by its primary code: sqlite.org/rescode.html.
func aboutDatabaseFile(code int) (words string, known bool) {
	switch code & 0xff { // extended codes keep the primary one in the low byte
	case sqlite3.SQLITE_NOTADB:
		return "the file is not a database; name another with --database", true
	case sqlite3.SQLITE_CORRUPT:
		return "the database file is damaged; restore a backup", true
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return "another program is using the database file; try again when it has finished", true
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		return "no permission to change the database file; ask its owner for access", true
	case sqlite3.SQLITE_CANTOPEN:
		return "the database file cannot be opened; check its path and permissions", true
	case sqlite3.SQLITE_FULL:
		return "no room is left on the disk of the database file; free some space and try again", true
	}
	return "the database file could not be used; the log says why", false
}
