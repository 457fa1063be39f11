package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"throughline/models"
)

// ErrUnavailable is in the chain of an error when the database could not be reached, went away, had no room or was
// busy for too long. Nothing is wrong with what was asked: it may be tried again later.
var ErrUnavailable = errors.New("the database is not available")

// lost marks an error of the database itself, rather than of what was asked of it, with ErrUnavailable.
func lost(err error) error {
	if err == nil || errors.Is(err, ErrUnavailable) || errors.Is(err, context.Canceled) ||
		errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	if unavailable(err) {
		return fmt.Errorf("%w: %w", ErrUnavailable, err)
	}
	return err
}

func unavailable(err error) bool {
	var (
		connect  *pgconn.ConnectError
		network  net.Error
		postgres *pgconn.PgError
		file     *sqlite.Error
	)
	switch {
	case errors.Is(err, driver.ErrBadConn), errors.Is(err, sql.ErrConnDone), errors.Is(err, io.ErrUnexpectedEOF),
		errors.Is(err, net.ErrClosed):
		return true
	case errors.As(err, &postgres):
		// Appendix A of the PostgreSQL manual: 08 connection, 53 resources, 57P operator intervention, 40 rolled back for
		// another, 55P03 and 57014 waited too long.
		for _, class := range []string{"08", "53", "57P", "40", "55P03", "57014"} {
			if strings.HasPrefix(postgres.Code, class) {
				return true
			}
		}
		return false
	case errors.As(err, &connect), errors.As(err, &network):
		return true
	case errors.As(err, &file):
		switch file.Code() & 0xff { // extended codes keep the primary one in the low byte
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL:
			return true
		}
		return false
	}
	return pgconn.SafeToRetry(err) || strings.Contains(err.Error(), "conn closed")
}

// clash turns a broken uniqueness that no check of ours foresaw into a conflict that a person can read. The checks
// come first; this is for what they cannot see, such as another academy's row.
func clash(err error, name string) error {
	var (
		postgres *pgconn.PgError
		file     *sqlite.Error
	)
	if errors.As(err, &postgres) && postgres.Code == "23505" ||
		errors.As(err, &file) && file.Code() == sqlite3.SQLITE_CONSTRAINT_UNIQUE {
		return models.Errorf(models.Conflict, "there is already a %s like this one", name)
	}
	return err
}
