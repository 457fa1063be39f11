package files

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"throughline/models"
)

// table is a file as a header and rows of cells, whatever its columns mean: CSV today. It knows each cell's line.
//
// It reads with encoding/csv and passes the cells on as they are. A library that fills structs by field tags would not
// do: only the reader's FieldPos knows a cell's line once quoted cells span lines, and such a library stops at the
// first bad cell without naming its place. Also, the columns are not known before the header is read.
type table struct {
	header []string
	line   int // of the header

	in    *csv.Reader
	src   *source
	limit int64
	rows  int // asked for so far
}

// unreadable is a row that cannot be read as cells. The rows below it can.
type unreadable struct {
	line   int
	reason string
}

// Error says where and what.
func (u *unreadable) Error() string { return fmt.Sprintf("line %d: %s", u.line, u.reason) }

// mostLines is how many lines a file may have below its header: twenty seasons of eighteen squads. The limit on
// bytes alone would let in two million short lines, which take gigabytes to hold.
const mostLines = 200_000

// openTable begins to read a file, at most so many bytes of it, and reads its header. A file that is empty or no
// table at all is refused.
func openTable(r io.Reader, limit int64) (*table, error) {
	src, err := open(r, limit)
	if err != nil {
		return nil, err
	}
	t := &table{in: csv.NewReader(src), src: src, limit: limit}
	t.in.FieldsPerRecord = -1 // checked by the caller, so that a line with too few cells does not end the reading
	t.in.ReuseRecord = true
	header, err := t.in.Read()
	if failed := src.failure(limit); failed != nil {
		return nil, failed
	}
	if err == io.EOF {
		return nil, models.Errorf(models.Invalid, "the file is empty: it begins with a line of column names")
	}
	if err != nil {
		return nil, models.Errorf(models.Invalid, "the header, line 1: %s", misquoted(err))
	}
	for _, name := range header {
		t.header = append(t.header, strings.Clone(name))
	}
	t.line, _ = t.in.FieldPos(0)
	return t, nil
}

// next returns the cells of the next row, which are the caller's until the next call; io.EOF after the last. A row
// that cannot be read is an *unreadable error, after which there may be others; any other error ends the reading.
func (t *table) next(ctx context.Context) ([]string, error) {
	if t.rows > mostLines {
		return nil, models.Errorf(models.Invalid,
			"the file has more than %d lines: split it, for example by season", mostLines)
	}
	if t.rows%1024 == 0 && ctx.Err() != nil {
		return nil, fmt.Errorf("read the file: %w", ctx.Err())
	}
	t.rows++
	cells, err := t.in.Read()
	switch {
	case t.src.err != nil:
		return nil, t.src.failure(t.limit)
	case err == nil || err == io.EOF:
		return cells, err
	}
	var at *csv.ParseError
	if !errors.As(err, &at) {
		return nil, fmt.Errorf("read the file: %w", err)
	}
	return nil, &unreadable{at.Line, misquoted(err)}
}

// place is where a cell of the last row stands.
func (t *table) place(cell int) (line, column int) { return t.in.FieldPos(cell) }

// misquoted says in plain words what encoding/csv found wrong.
func misquoted(err error) string {
	switch {
	case errors.Is(err, csv.ErrBareQuote):
		return `a quotation mark stands inside a cell: put the whole cell in quotation marks and double the mark ("")`
	case errors.Is(err, csv.ErrQuote):
		return "a cell that begins with a quotation mark does not end with one before the next comma"
	}
	return err.Error()
}

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}
