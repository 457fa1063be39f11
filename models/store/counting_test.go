package store

import (
	"context"
	"database/sql"

	"gorm.io/gorm"

	"throughline/models"
)

// Statements calls see with every statement of the store's writing transactions from now on, BEGIN and COMMIT among them.
func (s *Store) Statements(see func(sql string)) {
	pool := &countedPool{s.writer.ConnPool.(*sql.DB), see}
	s.writer.ConnPool, s.writer.Statement.ConnPool = pool, pool
}

// countedPool is a pool whose transactions are counted.
type countedPool struct {
	*sql.DB
	see func(sql string)
}

func (p *countedPool) BeginTx(ctx context.Context, options *sql.TxOptions) (gorm.ConnPool, error) {
	p.see("BEGIN")
	tx, err := p.DB.BeginTx(ctx, options)
	return &countedTx{tx, p.see}, err
}

// countedTx is a transaction each of whose statements is counted; one that is prepared counts once.
type countedTx struct {
	*sql.Tx
	see func(sql string)
}

func (tx *countedTx) Commit() error {
	tx.see("COMMIT")
	return tx.Tx.Commit()
}

func (tx *countedTx) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	tx.see(query)
	return tx.Tx.ExecContext(ctx, query, args...)
}

func (tx *countedTx) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	tx.see(query)
	return tx.Tx.QueryContext(ctx, query, args...)
}

func (tx *countedTx) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	tx.see(query)
	return tx.Tx.QueryRowContext(ctx, query, args...)
}

func (tx *countedTx) PrepareContext(ctx context.Context, query string) (*sql.Stmt, error) {
	tx.see(query)
	return tx.Tx.PrepareContext(ctx, query)
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
