package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"throughline/models"
	"throughline/models/store/jobs"
)

// Store is a database of one or more academies. It may be used by many goroutines at once.
type Store struct {
	dialect dialect
	readers *gorm.DB // on SQLite a pool of read-only connections, on PostgreSQL the same as writer
	writer  *gorm.DB
	pools   []*sql.DB // the writer's last
	jobs    *jobs.Queue
	groups  groupCache
	seal    *sealer // of cursors
	sights  sights
	writers queue
	exports chan struct{} // holds those that are being read out
	// rewriting is what SQLite has still to do after an erasure, and patience how long one waits for readers.
	rewriting rewriting
	patience  time.Duration
	now       func() time.Time
	log       *slog.Logger
}

// Options are what a store takes from its surroundings.
type Options struct {
	Now func() time.Time // the clock; time.Now when nil
	Log *slog.Logger     // where failures to tidy up go that no caller hears of; nowhere when nil

	// The rest is for PostgreSQL.

	// Serving refuses a login that may not work as the serving role: as an owner or an administrator it would not be
	// bound by row-level security.
	Serving bool

	Connections      int           // the most that are open at once; DefaultConnections when 0
	StatementTimeout time.Duration // after which PostgreSQL gives a statement up; it never does when 0
	LockTimeout      time.Duration // after which it gives up waiting for another writer; it never does when 0
}

// DefaultConnections serves many more people than there are connections, since each is held only for the milliseconds
// of a transaction, and leaves room for others: PostgreSQL takes 100 unless told otherwise.
const DefaultConnections = 16

// Open opens the database at an address: "sqlite:" and the path of a file, or a "postgres://" URL. It is an error,
// with the remedy, if the database's schema is older or newer than the program's; Open never migrates.
//
// A PostgreSQL connection takes the role throughline_serving if its user is a member of it. So row-level security
// holds even with the owner's or an administrator's address.
func Open(ctx context.Context, url string, options Options) (*Store, error) {
	a, err := parseAddress(url)
	if err != nil {
		return nil, err
	}
	s, err := openAt(ctx, a, options)
	if err != nil {
		return nil, err
	}
	if err := s.settled(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func openAt(ctx context.Context, a address, options Options) (*Store, error) {
	if options.Now == nil {
		options.Now = time.Now
	}
	if options.Log == nil {
		options.Log = slog.New(slog.DiscardHandler)
	}
	if err := a.keepPrivate(options.Log); err != nil {
		return nil, err
	}
	schema, err := a.schema(ctx)
	if err != nil {
		return nil, err
	}
	if err := schema.fits(); err != nil {
		return nil, err
	}
	a.set(options)
	s := &Store{
		dialect: a.dialect, now: options.Now, log: options.Log, patience: defaultPatience, sights: sights{room: mostLooks},
		writers: queue{patience: options.LockTimeout}, exports: make(chan struct{}, exportsAtOnce),
	}
	if err := s.connect(ctx, a, options.Serving && a.dialect.postgres()); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	if !s.dialect.postgres() { // an erasure whose file was held until the program ended
		if err := s.rewriteFile(ctx, 0); err != nil {
			s.rewriteLater(err)
		}
	}
	return s, nil
}

// connect opens the pools and GORM on them.
func (s *Store) connect(ctx context.Context, a address, serving bool) error {
	writer, readers := a.open()
	if readers != writer {
		s.pools = append(s.pools, readers)
	}
	s.pools = append(s.pools, writer)
	for _, pool := range s.pools {
		if err := pool.PingContext(ctx); err != nil {
			return fmt.Errorf("open the database: %w", lost(err))
		}
	}
	if serving {
		if err := s.mustServe(ctx, a); err != nil {
			return err
		}
	}
	var err error
	if s.writer, err = s.gorm(writer); err != nil {
		return err
	}
	if s.readers, err = s.gorm(readers); err != nil {
		return err
	}
	if s.jobs, err = jobs.New(writer, s.dialect.postgres(), s.log); err != nil {
		return err
	}
	return s.readKeys(ctx)
}

func (s *Store) gorm(pool *sql.DB) (*gorm.DB, error) {
	db, err := gorm.Open(s.dialect.dialector(pool), &gorm.Config{
		NamingStrategy:         names{},
		SkipDefaultTransaction: true, // every call is in a transaction of ours
		DisableAutomaticPing:   true,
		Logger:                 logger.Discard, // errors are returned, and logged once by anyone who handles them
	})
	if err != nil {
		return nil, fmt.Errorf("open the database: %w", lost(err))
	}
	return db, nil
}

// Pools returns how the connections are used, by the name of the pool.
func (s *Store) Pools() map[string]sql.DBStats {
	names := []string{"all"}
	if len(s.pools) == 2 {
		names = []string{"readers", "writer"}
	}
	all := map[string]sql.DBStats{}
	for i, pool := range s.pools {
		all[names[i]] = pool.Stats()
	}
	return all
}

// Close writes the rest of the audit trail and closes the database. Running transactions fail. The writer of a SQLite
// file closes last: the last connection to close moves the log beside the file into it, and readers may not.
func (s *Store) Close() error {
	var errs []error
	if s.writer != nil {
		errs = append(errs, s.sights.close(s), s.rewriteAtLast())
	}
	for _, pool := range s.pools {
		errs = append(errs, pool.Close())
	}
	return errors.Join(errs...)
}

// Ping reports whether the database answers. The error wraps ErrUnavailable where it does not.
func (s *Store) Ping(ctx context.Context) error {
	for _, pool := range s.pools {
		if err := pool.PingContext(ctx); err != nil {
			return fmt.Errorf("ping the database: %w", lost(err))
		}
	}
	return nil
}

// Read calls fn with a transaction that sees one state of the database throughout and can change nothing.
func (s *Store) Read(ctx context.Context, who models.Who, fn func(*Tx) error) error {
	return s.transact(ctx, who, false, fn)
}

// Write calls fn with a transaction and commits it, with the observations that follow from it, when fn returns nil. If
// fn returns an error, or anything inside failed in the database, nothing is written. Writing with a read-only access
// token is Forbidden.
func (s *Store) Write(ctx context.Context, who models.Who, fn func(*Tx) error) error {
	return s.transact(ctx, who, true, fn)
}

func (s *Store) transact(ctx context.Context, who models.Who, write bool, fn func(*Tx) error) (err error) {
	pool, options := s.readers, s.dialect.read
	if write {
		if err := writable(who); err != nil {
			return err
		}
		leave, err := s.writers.enter(ctx, who.AcademyID)
		if err != nil {
			return err
		}
		defer leave() // after the transaction has ended
		pool, options = s.writer, s.dialect.write
	}
	db := pool.WithContext(ctx).Begin(&options)
	if db.Error != nil {
		return fmt.Errorf("begin a transaction: %w", lost(db.Error))
	}
	committed := false
	defer func() { // also when fn panics
		if committed {
			return
		}
		if rolled := db.Rollback().Error; rolled != nil && !errors.Is(rolled, sql.ErrTxDone) {
			s.log.WarnContext(ctx, "could not roll back a transaction", "error", rolled)
		}
	}()
	tx := &Tx{
		ctx: ctx, who: who, now: s.now().UTC().Truncate(time.Microsecond), // PostgreSQL keeps no more
		db: db, dialect: s.dialect, jobs: s.jobs, writes: write, held: &s.groups, seal: s.seal, log: s.log,
	}
	if err := tx.enter(); err != nil {
		return err
	}
	if err := fn(tx); err != nil {
		return err
	}
	if err := tx.settle(); err != nil {
		return err
	}
	if err := db.Commit().Error; err != nil {
		return fmt.Errorf("commit: %w", lost(err))
	}
	committed = true
	if len(tx.reads) > 0 {
		s.sights.add(s, look{tx.who, tx.now, tx.reads})
	}
	return nil
}
