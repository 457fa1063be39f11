package store

import (
	"context"
	"strings"

	"gorm.io/gorm"

	"throughline/models"
)

// Raw is the transaction without any scope of ours, as a query that forgot it would use it.
func (tx *Tx) Raw() *gorm.DB { return tx.db.Session(&gorm.Session{NewDB: true, Context: tx.ctx}) }

// MigrateTo is Migrate up to a version of the schema, as an older program would.
func MigrateTo(ctx context.Context, url string, version int64) ([]string, error) {
	return migrate(ctx, url, version)
}

// Pool is a connection of the store outside any transaction.
func (s *Store) Pool(ctx context.Context) *gorm.DB { return s.readers.WithContext(ctx) }

// Waiting is how many writers of an academy there are, the one whose turn it is included.
func (s *Store) Waiting(academy int64) int {
	s.writers.mu.Lock()
	defer s.writers.mu.Unlock()
	if l := s.writers.lines[academy]; l != nil {
		return l.in
	}
	return 0
}

// Postgres says which database the store is on.
func (s *Store) Postgres() bool { return s.dialect.postgres() }

// Trace calls fn with every query of the store from now on.
func (s *Store) Trace(fn func(sql string, args []any)) error {
	seen := map[*gorm.DB]bool{}
	for _, db := range []*gorm.DB{s.readers, s.writer} {
		if seen[db] {
			continue
		}
		seen[db] = true
		see := func(db *gorm.DB) { fn(db.Statement.SQL.String(), db.Statement.Vars) }
		calls := db.Callback()
		if err := calls.Query().After("gorm:query").Register("test:query", see); err != nil {
			return err
		}
		if err := calls.Row().After("gorm:row").Register("test:row", see); err != nil {
			return err
		}
		if err := calls.Raw().After("gorm:raw").Register("test:raw", see); err != nil {
			return err
		}
		if err := calls.Update().After("gorm:update").Register("test:update", see); err != nil {
			return err
		}
	}
	return nil
}

// Kept lists the type of every table.
func Kept() (all []any) {
	seen := map[string]bool{}
	for _, t := range tables() {
		if !seen[t.name] {
			seen[t.name] = true
			all = append(all, t.row)
		}
	}
	return all
}

// Columns returns the table of a type and its columns, as GORM sees them.
func (s *Store) Columns(of any) (table string, columns []string, err error) {
	statement := &gorm.Statement{DB: s.readers}
	if err := statement.Parse(of); err != nil {
		return "", nil, err
	}
	return statement.Schema.Table, statement.Schema.DBNames, nil
}

// Fail makes the database refuse a statement.
func (tx *Tx) Fail() error { return tx.exec("fail", "SELECT nothing FROM nowhere") }

// Traces lists the tables that are read out and erased with a player.
func Traces() (tables []string) {
	for _, t := range everyTrace() {
		tables = append(tables, t.table)
	}
	return tables
}

// Merging is what a merge of two players does with a table: the columns that it re-points, why it does not, and
// whether it knows of rows of two players that cannot both be those of one.
type Merging struct {
	Columns  []string
	Left     string
	Together bool
}

// Mergings are the tables that an erasure knows, and what a merge does with them.
func Mergings() map[string]Merging {
	all := map[string]Merging{}
	for _, t := range everyTrace() {
		r := mergeRules()[t.table]
		all[t.table] = Merging{Left: r.stays + r.remade + r.by}
	}
	for _, m := range movers() {
		all[m.table] = Merging{Columns: m.columns, Together: m.together != "" || m.leaves}
	}
	for table := range mergeRules() {
		if _, traced := all[table]; !traced {
			all[table] = Merging{Left: "not a table of traces"}
		}
	}
	return all
}

// Impatient has erasures wait for no reader.
func (s *Store) Impatient() { s.patience = 0 }

// RewriteFile is what follows an erasure on SQLite.
func (s *Store) RewriteFile(ctx context.Context) error { return s.rewriteFile(ctx, 0) }

// Mentions lists where a player is named.
func (tx *Tx) Mentions(p models.Player) ([]models.Mention, error) { return tx.mentions(p) }

// RoomForReads is how many reads may wait for the audit trail.
func (s *Store) RoomForReads(n int) { s.sights.room = n }

// Count reads one number.
func (tx *Tx) Count(statement string, args ...any) (int64, error) {
	return tx.count("count", statement, args...)
}

// Texts lists the columns of a table in which people write freely.
func (s *Store) Texts(of string) []string {
	tx := &Tx{db: s.readers, dialect: s.dialect}
	for _, t := range tables() {
		if columns, err := tx.texts(t.row); t.name == of && err == nil {
			return columns
		}
	}
	return nil
}

// Declared is what the store knows of a table.
type Declared struct {
	Name, Called, Known, Order, Whose, Player string
	Row                                       any
	Kind, Replaced, Erased                    bool // Erased: erasing a player deletes rows
	Users                                     []string
	Holds                                     []Held
	List                                      func(*Tx) ([]any, error)
	Owner                                     func(*Tx, any) (int64, error)
}

// Held is a column that refers to a record of a kind.
type Held struct{ Table, Column string }

// Nobodys is what a kind says whose rows name players and are about none of them.
const Nobodys = nobodys

// DeclaredTables are all of them.
func DeclaredTables() (all []Declared) {
	erased := map[string]bool{}
	for _, t := range everyTrace() {
		for _, statement := range t.erase {
			erased[t.table] = erased[t.table] || strings.HasPrefix(statement, "DELETE FROM "+t.table+" ")
		}
	}
	for _, t := range tables() {
		d := Declared{Name: t.name, Called: t.called, Known: t.known, Order: t.order, Whose: t.whose, Player: t.player,
			Row: t.row, Kind: t.kind,
			Replaced: t.replaced, Erased: erased[t.name], Users: t.users, List: t.list, Owner: t.owner}
		for _, h := range t.holds {
			d.Holds = append(d.Holds, Held{h.table, h.column})
		}
		all = append(all, d)
	}
	return all
}
