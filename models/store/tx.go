package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"

	"gorm.io/gorm"

	"throughline/models"
	"throughline/models/store/jobs"
)

// Tx is one transaction of a person who is known. It may be used by one goroutine only, and not after the function it
// was handed to has returned.
type Tx struct {
	ctx     context.Context
	who     models.Who
	now     time.Time
	db      *gorm.DB
	dialect dialect
	jobs    *jobs.Queue
	writes  bool
	failed  error // the first failure in the database, after which nothing more is done
	// pairs whose observations are out of date, with what they were made from if it is known
	touched map[pair]*models.Play
	book    *book                    // what was read for the rules between records of play
	own     *[]models.Indicator      // the indicators of the catalogue and the academy, once read
	all     bool                     // every observation of the academy must be made again
	moves   map[squadSeason]struct{} // squads' seasons whose trends are out of date
	shows   bool                     // whom selectors are shown may have changed
	groups  map[squadSeason]*group   // what was read about squads, if the transaction only reads
	narrow  *models.Narrow           // what the next list is narrowed by
	page    *page                    // what is wanted of the next list; nil: the whole of it
	held    *groupCache
	seal    *sealer
	trail   []entry // what goes into the audit trail
	owners  map[owner]int64
	reads   map[sight]struct{} // what of players was read, where the transaction only reads
	last    sight
	rules   *models.Settings // what the academy has decided for itself, once read
	// what a transaction that only reads has worked out already, for those who ask again
	cycles   map[cycleKey][]models.DueReview
	loads    map[loadKey]map[int64][]models.Load
	pursued  *pursuit
	lookouts map[squadSeason]lookout
	log      *slog.Logger
}

// pair is a player in a match.
type pair struct{ player, match int64 }

// Who returns the caller.
func (tx *Tx) Who() models.Who { return tx.who }

// Now returns the instant of the transaction, in UTC and whole microseconds: that of every row it writes.
func (tx *Tx) Now() time.Time { return tx.now }

// academyLock is the first half of the key of the lock that makes writers of one academy wait for each other on
// PostgreSQL.
const academyLock = 0x7468

// enter tells PostgreSQL which academy the transaction is for, and makes a writer wait until no other writes there.
// SQLite has one writer anyway.
func (tx *Tx) enter() error {
	if !tx.dialect.postgres() {
		return nil
	}
	academy := fmt.Sprint(tx.who.AcademyID)
	if tx.who.Role == "" { // no one yet, and of no academy: 0 is the deployment's
		academy = ""
	}
	const set = "SELECT set_config('throughline.academy', ?, true)"
	if !tx.writes {
		return tx.exec("enter the academy", set, academy)
	}
	return tx.exec("enter the academy and wait for other writers", set+", pg_advisory_xact_lock(?, ?)",
		academy, int32(academyLock), int32(tx.who.AcademyID))
}

// settle makes the observations that follow from what was written, and the entries of the audit trail. It is an error
// after a failure that the caller ignored.
func (tx *Tx) settle() error {
	if tx.failed == nil && tx.writes {
		if err := tx.observe(); err != nil {
			return err
		}
		if err := tx.revise(); err != nil {
			return err
		}
		if err := tx.writeTrail(); err != nil {
			return err
		}
	}
	if tx.failed != nil {
		return fmt.Errorf("nothing was written: %w", tx.failed)
	}
	return nil
}

// done wraps a database's error with what was being done. PostgreSQL would refuse everything after it and SQLite would
// go on halfway: here both refuse, and the transaction cannot be committed.
func (tx *Tx) done(what string, err error) error {
	if err == nil {
		return nil
	}
	err = fmt.Errorf("%s: %w", what, lost(err))
	if tx.failed == nil {
		tx.failed = err
	}
	return err
}

// query starts a query, or one that fails where something failed before.
func (tx *Tx) query() *gorm.DB {
	db := tx.db.Session(&gorm.Session{NewDB: true, Context: tx.ctx})
	if tx.failed != nil {
		_ = db.AddError(tx.failed)
	}
	return db
}

func (tx *Tx) exec(what, statement string, args ...any) error {
	return tx.done(what, tx.query().Exec(statement, args...).Error)
}

// pool is the transaction below GORM, for statements whose arguments are arrays or that are prepared once for many
// rows.
func (tx *Tx) pool() (gorm.ConnPool, error) {
	if tx.failed != nil {
		return nil, tx.failed
	}
	return tx.db.Statement.ConnPool, nil
}

// rows reads what a statement selects. R's fields are matched with the columns by name.
func rows[R any](tx *Tx, what, statement string, args ...any) ([]R, error) {
	var all []R
	err := tx.query().Raw(statement, args...).Scan(&all).Error
	return all, tx.done(what, err)
}

// each reads what a statement selects, row by row, into the same places, and calls took after each. It is for lists of
// thousands of rows, where GORM would take longer than the database.
func (tx *Tx) each(what, statement string, args, into []any, took func()) (err error) {
	found, err := tx.query().Raw(statement, args...).Rows()
	if err != nil {
		return tx.done(what, err)
	}
	defer func() { err = tx.done(what, errors.Join(err, found.Close())) }()
	for found.Next() {
		if err := found.Scan(into...); err != nil {
			return err
		}
		took()
	}
	return found.Err()
}

// count reads one number, 0 if it is NULL.
func (tx *Tx) count(what, statement string, args ...any) (int64, error) {
	var n sql.NullInt64
	err := tx.each(what, statement, args, []any{&n}, func() {})
	return n.Int64, err
}

// where is a condition of a query. The zero value is always true.
type where struct {
	sql  string
	args []any
}

func that(sql string, args ...any) where { return where{sql, args} }

// and joins conditions, leaving out those that are always true.
func and(all ...where) where { return join(" AND ", all) }

// or joins conditions; it must not be given one that is always true.
func or(all ...where) where { return join(" OR ", all) }

func join(by string, all []where) where {
	var parts []string
	var joined where
	for _, w := range all {
		if w.sql == "" {
			continue
		}
		parts = append(parts, "("+w.sql+")")
		joined.args = append(joined.args, w.args...)
	}
	joined.sql = strings.Join(parts, by)
	return joined
}

// is filters by a column where a value was asked for: a filter's field left at zero does not filter.
func is[V comparable](column string, value V) where {
	var zero V
	if value == zero {
		return where{}
	}
	if v := reflect.ValueOf(value); v.Kind() == reflect.String && !storable(v.String()) {
		return that("1 = 0")
	}
	return that(column+" = ?", value)
}

// among is the condition that a column has one of some ids; it is always true for none.
func among(column string, ids []int64) where {
	if len(ids) == 0 {
		return where{}
	}
	return that(column+" IN ?", ids)
}

// storable says whether a text can be in the database at all. PostgreSQL does not even compare with others.
func storable(text string) bool { return utf8.ValidString(text) && !strings.ContainsRune(text, 0) }
