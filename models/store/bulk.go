package store

import (
	"database/sql/driver"
	"errors"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"throughline/models"
)

// column is a column of a table with the array that carries its values to PostgreSQL.
type column struct {
	field *schema.Field
	array string // type of the array's elements
	cast  string // what turns an element into the column's type, or nothing
}

// insert writes many rows of one type at once: on PostgreSQL one array a column, on SQLite many rows a statement. It
// writes ids that are set and leaves the others to the database. Or is the statement's end for rows that are there
// already, empty if there are none.
func insert[T any](tx *Tx, all []T, or string) error {
	if len(all) == 0 {
		return nil
	}
	statement := &gorm.Statement{DB: tx.db}
	if err := statement.Parse(new(T)); err != nil {
		return tx.done("insert rows", err)
	}
	what := "insert into " + statement.Schema.Table
	values := reflect.ValueOf(all)
	var columns []column
	for _, f := range statement.Schema.Fields {
		if f.DBName == "" {
			continue
		}
		if _, zero := f.ValueOf(tx.ctx, values.Index(0)); f.AutoIncrement && zero {
			continue
		}
		columns = append(columns, columnOf(f))
	}
	write := insertFile
	if tx.dialect.postgres() {
		write = insertArrays
	}
	return tx.done(what, clash(write(tx, statement.Schema.Table, or, columns, values), "row of "+statement.Schema.Table))
}

func columnOf(f *schema.Field) column {
	c := column{field: f}
	switch {
	case f.Serializer != nil:
		c.array, c.cast = "text", "::jsonb"
	case f.IndirectFieldType == reflect.TypeFor[models.Date]():
		c.array, c.cast = "text", "::date"
	case f.IndirectFieldType == reflect.TypeFor[time.Time]():
		c.array = "timestamptz"
	case f.IndirectFieldType.Kind() == reflect.String:
		c.array = "text"
	case f.IndirectFieldType.Kind() == reflect.Bool:
		c.array = "boolean"
	case f.IndirectFieldType.Kind() == reflect.Float64:
		c.array = "double precision"
	case f.IndirectFieldType == reflect.TypeFor[[]byte]():
		c.array = "bytea"
	default:
		c.array = "bigint"
	}
	return c
}

// value returns what a database gets of one field of a row.
func (c column) value(tx *Tx, row reflect.Value) (driver.Value, error) {
	v, _ := c.field.ValueOf(tx.ctx, row)
	return driver.DefaultParameterConverter.ConvertValue(v)
}

// arrayRows is how many rows go to PostgreSQL in one statement.
const arrayRows = 20_000

func insertArrays(tx *Tx, table, or string, columns []column, values reflect.Value) error {
	pool, err := tx.pool()
	if err != nil {
		return err
	}
	var quoted, arrays, selected []string
	for i, c := range columns {
		quoted = append(quoted, `"`+c.field.DBName+`"`)
		arrays = append(arrays, "$"+strconv.Itoa(i+1)+"::"+c.array+"[]")
		selected = append(selected, `u."`+c.field.DBName+`"`+c.cast)
	}
	statement := "INSERT INTO " + table + " (" + strings.Join(quoted, ", ") + ") OVERRIDING SYSTEM VALUE SELECT " +
		strings.Join(selected, ", ") +
		" FROM unnest(" + strings.Join(arrays, ", ") + ") AS u (" + strings.Join(quoted, ", ") + ") " + or
	for from := 0; from < values.Len(); from += arrayRows {
		until := min(from+arrayRows, values.Len())
		args := make([]any, len(columns))
		for i, c := range columns {
			array := make([]any, until-from)
			for n := range array {
				if array[n], err = c.value(tx, values.Index(from+n)); err != nil {
					return err
				}
			}
			args[i] = array
		}
		if _, err := pool.ExecContext(tx.ctx, statement, args...); err != nil {
			return err
		}
	}
	return nil
}

// fileRows is how many rows go to SQLite in one statement: more no longer make it faster. A statement is
// prepared where it is used often enough to pay for that.
const (
	fileRows   = 50
	oftenAsked = 4
)

func insertFile(tx *Tx, table, or string, columns []column, values reflect.Value) (err error) {
	pool, err := tx.pool()
	if err != nil {
		return err
	}
	var quoted []string
	for _, c := range columns {
		quoted = append(quoted, `"`+c.field.DBName+`"`)
	}
	row := "(" + strings.Repeat("?, ", len(columns)-1) + "?)"
	statement := func(n int) string {
		all := strings.Join(slices.Repeat([]string{row}, n), ", ")
		return "INSERT INTO " + table + " (" + strings.Join(quoted, ", ") + ") VALUES " + all + " " + or
	}
	from := 0
	if values.Len() >= oftenAsked*fileRows {
		prepared, err := pool.PrepareContext(tx.ctx, statement(fileRows))
		if err != nil {
			return err
		}
		for ; from+fileRows <= values.Len() && err == nil; from += fileRows {
			var args []any
			if args, err = arguments(tx, columns, values.Slice(from, from+fileRows)); err == nil {
				_, err = prepared.ExecContext(tx.ctx, args...)
			}
		}
		if err := errors.Join(err, prepared.Close()); err != nil {
			return err
		}
	}
	for ; from < values.Len(); from += fileRows {
		until := min(from+fileRows, values.Len())
		args, err := arguments(tx, columns, values.Slice(from, until))
		if err != nil {
			return err
		}
		if _, err := pool.ExecContext(tx.ctx, statement(until-from), args...); err != nil {
			return err
		}
	}
	return nil
}

// arguments are the values of rows, one row after the other.
func arguments(tx *Tx, columns []column, values reflect.Value) ([]any, error) {
	args := make([]any, 0, values.Len()*len(columns))
	for n := range values.Len() {
		for _, c := range columns {
			v, err := c.value(tx, values.Index(n))
			if err != nil {
				return nil, err
			}
			args = append(args, v)
		}
	}
	return args, nil
}

// draw takes n ids that no row of a table has had.
func (tx *Tx) draw(table string, n int) ([]int64, error) {
	if n == 0 {
		return nil, nil
	}
	what := "draw ids of " + table
	if tx.dialect.postgres() {
		var ids []int64
		err := tx.query().Raw("SELECT nextval(pg_get_serial_sequence(?, 'id')) FROM generate_series(1, ?)", table,
			n).Scan(&ids).Error
		return ids, tx.done(what, err)
	}
	// There is one writer, and SQLite moves on the sequence of an AUTOINCREMENT table by the ids it is given.
	last, err := tx.count(what, "SELECT seq FROM sqlite_sequence WHERE name = ?", table)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, n)
	for i := range ids {
		ids[i] = last + 1 + int64(i)
	}
	return ids, nil
}
