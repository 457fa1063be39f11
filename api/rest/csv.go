package rest

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// asCSV writes a list as RFC 4180 has it: a line of names, then a line for each item. The names are those of the JSON;
// those within another are joined by a dot. An empty cell is something that was not recorded. Lists and maps stand in
// their cells as JSON. Text that a spreadsheet would run as a formula begins with an apostrophe.
func asCSV[T any](items []T) ([]byte, error) {
	columns := csvColumns(reflect.TypeFor[T](), "", nil)
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	row := make([]string, len(columns))
	for i, c := range columns {
		row[i] = c.name
	}
	if err := w.Write(row); err != nil {
		return nil, err
	}
	for _, item := range items {
		for i, c := range columns {
			cell, err := csvCell(reflect.ValueOf(item), c)
			if err != nil {
				return nil, fmt.Errorf("write %s as CSV: %w", c.name, err)
			}
			row[i] = cell
		}
		if err := w.Write(row); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

type csvColumn struct {
	name  string
	index []int
	omit  bool // an item at its zero value has nothing here
}

// csvColumns lists what a struct's items have, in the order of its JSON.
func csvColumns(t reflect.Type, within string, index []int) []csvColumn {
	var all []csvColumn
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		at := append(append([]int{}, index...), i)
		switch {
		case f.Anonymous && name == "":
			all = append(all, csvColumns(f.Type, within, at)...)
		case name == "-" || !f.IsExported():
		case f.Type.Kind() == reflect.Struct && f.Type != reflect.TypeFor[time.Time]():
			all = append(all, csvColumns(f.Type, within+name+".", at)...)
		default:
			all = append(all, csvColumn{within + name, at, strings.Contains(options, "omitempty")})
		}
	}
	return all
}

func csvCell(item reflect.Value, c csvColumn) (string, error) {
	v := item.FieldByIndex(c.index)
	if c.omit && v.IsZero() {
		return "", nil
	}
	if v.Kind() == reflect.Pointer {
		v = v.Elem()
	}
	if at, ok := v.Interface().(time.Time); ok {
		return at.Format(time.RFC3339Nano), nil
	}
	switch v.Kind() {
	case reflect.String:
		s := v.String()
		// The wide signs too: a spreadsheet that is set to Japanese or Chinese takes them for the narrow ones.
		if first, _ := utf8.DecodeRuneInString(s); s != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", first) {
			s = "'" + s
		}
		return s, nil
	case reflect.Bool:
		return strconv.FormatBool(v.Bool()), nil
	case reflect.Int, reflect.Int64:
		return strconv.FormatInt(v.Int(), 10), nil
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64), nil
	}
	if (v.Kind() == reflect.Slice || v.Kind() == reflect.Map) && v.Len() == 0 {
		return "", nil
	}
	text, err := marshal(v.Interface())
	return string(text), err
}
