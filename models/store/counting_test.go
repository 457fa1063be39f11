package store

import (
	"context"
	"database/sql"
	"database/sql/driver"

	"github.com/jackc/pgx/v5/stdlib"
	"modernc.org/sqlite"

	"throughline/models"
)

// Statements calls see with every statement of the store's writing transactions from now on, on its way to the
// driver: BEGIN and COMMIT, what enters the academy, and those of background jobs among them.
func (s *Store) Statements(url string, see func(sql string)) error {
	a, err := parseAddress(url)
	if err != nil {
		return err
	}
	const options = "?_timezone=UTC&_time_format=sqlite&_txlock=immediate&_pragma=foreign_keys(1)"
	connector := driver.Connector(fileConnector("file:" + a.path + options))
	if a.dialect.postgres() {
		connector = stdlib.GetConnector(*a.postgres, stdlib.OptionAfterConnect(serve))
	}
	pool := sql.OpenDB(countedConnector{connector, see})
	pool.SetMaxOpenConns(1)
	s.pools = append(s.pools, pool) // closed with the others
	s.writer, err = s.gorm(pool)
	return err
}

// fileConnector opens the SQLite file of a name.
type fileConnector string

func (c fileConnector) Connect(context.Context) (driver.Conn, error) {
	return c.Driver().Open(string(c))
}

func (c fileConnector) Driver() driver.Driver { return new(sqlite.Driver) }

// countedConnector makes connections whose statements are counted.
type countedConnector struct {
	driver.Connector
	see func(sql string)
}

func (c countedConnector) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := c.Connector.Connect(ctx)
	return &countedConn{conn, c.see}, err
}

// countedConn is a connection each of whose statements is counted.
type countedConn struct {
	driver.Conn
	see func(sql string)
}

func (c *countedConn) BeginTx(ctx context.Context, options driver.TxOptions) (driver.Tx, error) {
	c.see("BEGIN")
	tx, err := c.Conn.(driver.ConnBeginTx).BeginTx(ctx, options)
	return countedTx{tx, c.see}, err
}

func (c *countedConn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	c.see(query)
	return c.Conn.(driver.ExecerContext).ExecContext(ctx, query, args)
}

func (c *countedConn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	c.see(query)
	return c.Conn.(driver.QueryerContext).QueryContext(ctx, query, args)
}

// PrepareContext counts what is prepared once, however often it is used: nothing in a batch of a hundred is.
func (c *countedConn) PrepareContext(ctx context.Context, query string) (driver.Stmt, error) {
	c.see(query)
	return c.Conn.(driver.ConnPrepareContext).PrepareContext(ctx, query)
}

func (c *countedConn) CheckNamedValue(v *driver.NamedValue) error {
	if checks, ok := c.Conn.(driver.NamedValueChecker); ok {
		return checks.CheckNamedValue(v)
	}
	return driver.ErrSkip
}

// countedTx counts COMMIT.
type countedTx struct {
	driver.Tx
	see func(sql string)
}

func (tx countedTx) Commit() error {
	tx.see("COMMIT")
	return tx.Tx.Commit()
}

// Observe makes the observations that follow from what the transaction has written so far.
func (tx *Tx) Observe() error { return tx.observe() }

// CreateAppearances, CreateLogs and CreateManyTotals are batches, as CreateInvolvements is.
func (tx *Tx) CreateAppearances(all []*models.Appearance) ([]error, error) {
	return appearances().createAll(tx, all)
}

// CreateLogs is a batch of logs.
func (tx *Tx) CreateLogs(all []*models.Log) ([]error, error) { return logs().createAll(tx, all) }

// CreateManyTotals is a batch of match totals.
func (tx *Tx) CreateManyTotals(all []*models.MatchTotals) ([]error, error) {
	return matchTotals().createAll(tx, all)
}
