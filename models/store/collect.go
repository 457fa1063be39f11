package store

import (
	"database/sql"
	"fmt"
	"reflect"

	"github.com/go-json-experiment/json"
	"gorm.io/gorm"
)

// collect reads all rows of a query into records, as Find does, but straight into their fields: Find spends on a row
// several times what the database does.
func collect[T any](q *gorm.DB) ([]T, error) {
	statement := &gorm.Statement{DB: q}
	if err := statement.Parse(new(T)); err != nil {
		return nil, err
	}
	found, err := q.Rows()
	if err != nil {
		return nil, err
	}
	defer found.Close()
	names, err := found.Columns()
	if err != nil {
		return nil, err
	}
	cells, into := make([]cell, len(names)), make([]any, len(names))
	for i, name := range names {
		f := statement.Schema.LookUpField(name)
		if f == nil {
			return nil, fmt.Errorf("%s has no field for the column %s", statement.Schema.Name, name)
		}
		// A day is text that reads itself.
		plain := f.FieldType.Kind() == reflect.String &&
			!reflect.PointerTo(f.FieldType).Implements(reflect.TypeFor[sql.Scanner]())
		cells[i] = cell{index: f.StructField.Index, packed: f.Serializer != nil, plain: plain}
	}
	all := []T{}
	for found.Next() {
		var one T
		row := reflect.ValueOf(&one).Elem()
		for i := range cells {
			into[i] = cells[i].place(row)
		}
		if err := found.Scan(into...); err != nil {
			return nil, err
		}
		for i := range cells {
			if err := cells[i].settle(row); err != nil {
				return nil, fmt.Errorf("read %s: %w", names[i], err)
			}
		}
		all = append(all, one)
	}
	return all, found.Err()
}

// cell is a column of what a query finds.
type cell struct {
	index  []int // of its field
	packed bool  // it is kept as JSON
	plain  bool  // it is text, and NULL where the field is empty
	text   sql.NullString
	json   sql.RawBytes
}

// place is where the value of a row goes.
func (c *cell) place(row reflect.Value) any {
	switch {
	case c.packed:
		return &c.json
	case c.plain:
		return &c.text
	}
	return row.FieldByIndex(c.index).Addr().Interface()
}

// settle puts what could not go into its field at once there.
func (c *cell) settle(row reflect.Value) error {
	switch {
	case c.packed && len(c.json) > 0:
		return json.Unmarshal(c.json, row.FieldByIndex(c.index).Addr().Interface())
	case c.plain:
		row.FieldByIndex(c.index).SetString(c.text.String)
	}
	return nil
}
