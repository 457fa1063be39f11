package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/libtnb/sqlite"
	"github.com/pressly/goose/v3"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"throughline/migrations"
)

// dialect is what differs between the two databases.
type dialect struct {
	name        string // as a person reads it
	goose       goose.Dialect
	migrations  fs.FS
	dialector   func(*sql.DB) gorm.Dialector
	read, write sql.TxOptions
}

func (d dialect) postgres() bool { return d.goose == goose.DialectPostgres }

func onPostgres() dialect {
	return dialect{
		name:       "PostgreSQL",
		goose:      goose.DialectPostgres,
		migrations: migrations.Postgres(),
		dialector:  func(pool *sql.DB) gorm.Dialector { return postgres.New(postgres.Config{Conn: pool}) },
		// Repeatable read gives all statements of a report one state; read committed lets a writer that waited its turn see
		// what the one before it wrote.
		read:  sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true},
		write: sql.TxOptions{Isolation: sql.LevelReadCommitted},
	}
}

func onSQLite() dialect {
	return dialect{
		name:       "SQLite",
		goose:      goose.DialectSQLite3,
		migrations: migrations.SQLite(),
		dialector:  func(pool *sql.DB) gorm.Dialector { return sqlite.New(sqlite.Config{Conn: pool}) },
		read:       sql.TxOptions{ReadOnly: true},
	}
}

// servingRole is what PostgreSQL connections serve as; see the first migration.
const servingRole = "throughline_serving"

// address says where a database is.
type address struct {
	dialect  dialect
	path     string          // SQLite
	postgres *pgx.ConnConfig // PostgreSQL

	connections int
}

// connectTimeout is how long to wait for a server that does not answer: longer than any server takes, and short enough
// for a waiting person.
const connectTimeout = 5 * time.Second

// set applies the options for PostgreSQL. The address itself comes first.
func (a *address) set(o Options) {
	if !a.dialect.postgres() {
		return
	}
	a.connections = o.Connections
	if a.connections <= 0 {
		a.connections = DefaultConnections
	}
	if a.postgres.ConnectTimeout == 0 {
		a.postgres.ConnectTimeout = connectTimeout
	}
	for name, timeout := range map[string]time.Duration{"statement_timeout": o.StatementTimeout,
		"lock_timeout": o.LockTimeout} {
		if _, said := a.postgres.RuntimeParams[name]; !said && timeout > 0 {
			a.postgres.RuntimeParams[name] = strconv.FormatInt(timeout.Milliseconds(), 10)
		}
	}
}

// parseAddress reads an address as Open takes it.
func parseAddress(text string) (address, error) {
	switch scheme, rest, _ := strings.Cut(text, ":"); scheme {
	case "sqlite":
		if rest == "" || strings.HasPrefix(rest, ":memory:") {
			return address{}, errors.New("a SQLite address needs the path of a file, such as sqlite:academy.db")
		}
		return address{dialect: onSQLite(), path: rest}, nil
	case "postgres", "postgresql":
		config, err := pgx.ParseConfig(text)
		if err != nil {
			return address{}, fmt.Errorf("the PostgreSQL address is not valid: %w", err) // pgx leaves the password out
		}
		// Tables of the same names earlier in the search path would be read instead of ours. Temporary tables, which
		// every user may make, are named last: unnamed they would come first.
		config.RuntimeParams["search_path"] = "public, pg_temp"
		config.RuntimeParams["timezone"] = "UTC"
		return address{dialect: onPostgres(), postgres: config}, nil
	default:
		return address{}, errors.New(`the database's address must begin with "sqlite:" or "postgres://"`)
	}
}

// open returns a pool to write with and a pool to read with. Nothing is connected yet.
func (a address) open() (writer, readers *sql.DB) {
	if a.dialect.postgres() {
		pool := stdlib.OpenDB(*a.postgres, stdlib.OptionAfterConnect(serve))
		pool.SetMaxOpenConns(a.connections)
		pool.SetMaxIdleConns(a.connections)
		pool.SetConnMaxIdleTime(5 * time.Minute)
		return pool, pool
	}
	// One writer, whose transactions take the lock at their beginning: deferred ones would fail when two readers want to
	// write.
	writer = a.openFile(fmt.Sprintf("_txlock=immediate&_pragma=busy_timeout(%d)&_pragma=journal_mode(WAL)", busyTimeout) +
		"&_pragma=synchronous(FULL)&_pragma=foreign_keys(1)")
	writer.SetMaxOpenConns(1)
	readers = a.plain(busyTimeout)
	connections := max(4, 2*runtime.NumCPU())
	readers.SetMaxOpenConns(connections)
	readers.SetMaxIdleConns(connections)
	return writer, readers
}

// keepPrivate lets only its owner read and write a SQLite file and the log beside it, and logs that it did. It is an
// error if it cannot: the file is about minors.
func (a address) keepPrivate(log *slog.Logger) error {
	if a.dialect.postgres() || runtime.GOOS == "windows" { // whose files have other rights than these
		return nil
	}
	for _, path := range []string{a.path, a.path + "-wal", a.path + "-shm"} {
		info, err := os.Stat(path)
		if errors.Is(err, fs.ErrNotExist) || err == nil && info.Mode().Perm()&0o077 == 0 {
			continue
		}
		if err == nil {
			err = os.Chmod(path, info.Mode().Perm()&0o700)
		}
		if err != nil {
			return fmt.Errorf("%s can be read by other users of this machine; run chmod 600 on it as its owner: %w", path, err)
		}
		log.Warn("other users of this machine could read the database file; now only its owner can", "file", path)
	}
	return nil
}

// openFile opens a SQLite file. FULL above makes a commit survive a power cut, not only a crash.
func (a address) openFile(options string) *sql.DB {
	path := strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(a.path)
	pool, err := sql.Open(sqlite.DriverName, "file:"+path+"?_timezone=UTC&_time_format=sqlite&"+options)
	if err != nil {
		panic("store: " + err.Error()) // only when the driver is not linked in
	}
	return pool
}

// migrationWait is how long another program's migration of a SQLite file is waited for, in milliseconds: longer than
// one takes on a machine that has much to do.
const migrationWait = 60_000

// plain opens a pool with all that the address's user may do. On SQLite it only reads, and waits for a lock for so
// many milliseconds.
func (a address) plain(wait int) *sql.DB {
	if a.dialect.postgres() {
		return stdlib.OpenDB(*a.postgres)
	}
	return a.openFile(fmt.Sprintf("mode=ro&_pragma=busy_timeout(%d)&_pragma=query_only(1)", wait))
}

// owner opens a pool for migrations. A SQLite file is locked until the pool is closed, so that two programs that start
// at once do not both migrate it, and none does while it is served; on PostgreSQL goose has a lock.
func (a address) owner(ctx context.Context) (pool *sql.DB, err error) {
	if a.dialect.postgres() {
		return a.plain(migrationWait), nil
	}
	// What it keeps is about minors: no one else on the machine reads it.
	file, err := os.OpenFile(a.path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the database file: %w: %w", ErrUnavailable, err)
	}
	if err := file.Close(); err != nil {
		return nil, fmt.Errorf("open the database file: %w", err)
	}
	pool = a.openFile(fmt.Sprintf("_txlock=immediate&_pragma=busy_timeout(%d)", migrationWait) +
		"&_pragma=synchronous(FULL)&_pragma=foreign_keys(1)")
	pool.SetMaxOpenConns(1)
	// The mode keeps the lock that the transaction has taken. Were it set before, two programs would both keep the lesser
	// lock of a reader, and each would wait for the other to let go of it.
	for _, statement := range []string{"BEGIN EXCLUSIVE", "PRAGMA locking_mode = EXCLUSIVE", "COMMIT"} {
		if _, err := pool.ExecContext(ctx, statement); err != nil {
			return nil, errors.Join(fmt.Errorf("lock %v; make sure nothing else is using it: %w", a, lost(err)), pool.Close())
		}
	}
	return pool, nil
}

// serve makes a new PostgreSQL connection ready: with the lesser role, and with times in UTC.
func serve(ctx context.Context, conn *pgx.Conn) error {
	conn.TypeMap().RegisterType(&pgtype.Type{
		Name: "timestamptz", OID: pgtype.TimestamptzOID, Codec: &pgtype.TimestamptzCodec{ScanLocation: time.UTC},
	})
	var member bool
	err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = $1 AND pg_has_role(oid, 'MEMBER'))",
		servingRole).Scan(&member)
	if err != nil {
		return fmt.Errorf("look for the role %s: %w", servingRole, err)
	}
	if !member {
		return nil
	}
	if _, err := conn.Exec(ctx, "SET ROLE "+servingRole); err != nil {
		return fmt.Errorf("serve as %s: %w", servingRole, err)
	}
	return nil
}

// mustServe refuses a login whose connections do not work as the serving role, and says what would let them.
func (s *Store) mustServe(ctx context.Context, a address) error {
	var works string
	if err := s.pools[0].QueryRowContext(ctx, "SELECT current_user").Scan(&works); err != nil {
		return fmt.Errorf("ask as whom the database is served: %w", lost(err))
	}
	if works == servingRole {
		return nil
	}
	return fmt.Errorf("%[1]s may not use the role %[2]s, which keeps academies apart; ask a database administrator to "+
		"run: GRANT %[2]s TO %[3]s (after \"throughline migrate up\"; if the role does not exist, first run CREATE ROLE "+
		"%[2]s NOLOGIN)",
		a, servingRole, pgx.Identifier{a.postgres.User}.Sanitize())
}

// names gives tables and columns GORM's own names, except for words with a wrong plural there.
type names struct{ schema.NamingStrategy }

func (n names) TableName(record string) string {
	switch record {
	case "SquadStaff":
		return "squad_staff"
	case "Settings":
		return "academy_settings"
	case "SelfRating":
		return "ratings"
	}
	return n.NamingStrategy.TableName(record)
}

// String is the address as it may be shown: without a password.
func (a address) String() string {
	if a.dialect.postgres() {
		return "postgres://" + a.postgres.User + "@" + a.postgres.Host + "/" + a.postgres.Database
	}
	return "sqlite:" + a.path
}
