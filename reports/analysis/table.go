package analysis

import (
	"bufio"
	"compress/gzip"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"throughline/reports/trend"
)

// table holds the kept rows of a CSV file.
type table struct {
	header []string
	rows   [][]string
	line   []int             // of each row in the file
	row    []int             // number of each row among the file's rows, from 1
	column map[string]string // role → column
	chosen string            // column=value that chose the rows of an earlier season

	dated    bool // time comes from dates, counted in days from firstDay
	firstDay float64
	minutes  []float64 // whatever the family
}

// readTable reads a CSV file, compressed or not, and keeps the rows that agree with every column=value of where. The
// rows of an earlier season make a table of their own, whatever where says.
func readTable(file io.Reader, where, earlier []string) (t *table, before []*table, err error) {
	in, err := unzipped(file)
	if err != nil {
		return nil, nil, err
	}
	r := csv.NewReader(in)
	t = &table{column: map[string]string{}}
	if t.header, err = r.Read(); errors.Is(err, io.EOF) {
		return nil, nil, errors.New("the file is empty: it needs a header line")
	} else if err != nil {
		return nil, nil, err
	}
	t.header[0] = strings.TrimPrefix(t.header[0], "\ufeff")
	for i := range t.header {
		t.header[i] = strings.TrimSpace(t.header[i])
	}
	kept, err := t.conditions("where", where)
	if err != nil {
		return nil, nil, err
	}
	var of []func(cells []string) bool
	for k, season := range earlier {
		if slices.Contains(earlier[:k], season) {
			return nil, nil, fmt.Errorf("earlier %q: this season is named twice", season)
		}
		is, err := t.conditions("earlier", []string{season})
		if err != nil {
			return nil, nil, err
		}
		of = append(of, is)
		before = append(before, &table{header: t.header, column: map[string]string{}, chosen: season})
	}
	for n := 1; ; n++ {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, nil, err
		}
		to := t
		if k := slices.IndexFunc(of, func(is func([]string) bool) bool { return is(cells) }); k >= 0 {
			to = before[k]
		} else if !kept(cells) {
			continue
		}
		line, _ := r.FieldPos(0)
		to.rows, to.line, to.row = append(to.rows, cells), append(to.line, line), append(to.row, n)
	}
	if len(t.rows) == 0 {
		return nil, nil, errors.New("no row is left")
	}
	for _, b := range before {
		if len(b.rows) == 0 {
			return nil, nil, fmt.Errorf("earlier %q: no row has this value", b.chosen)
		}
	}
	return t, before, nil
}

// unzipped reads a file as it is, or what it holds where gzip has packed it.
func unzipped(file io.Reader) (io.Reader, error) {
	buffered := bufio.NewReaderSize(file, 1<<16)
	magic, _ := buffered.Peek(2)
	if len(magic) < 2 || magic[0] != 0x1f || magic[1] != 0x8b {
		return buffered, nil
	}
	in, err := gzip.NewReader(buffered)
	if err != nil {
		return nil, fmt.Errorf("read gzip: %w", err)
	}
	return in, nil
}

// conditions returns whether a row's cells agree with every column=value.
func (t *table) conditions(flag string, where []string) (func(cells []string) bool, error) {
	wanted := map[int]string{}
	for _, w := range where {
		name, value, ok := strings.Cut(w, "=")
		at := slices.Index(t.header, strings.TrimSpace(name))
		if !ok || at < 0 {
			return nil, fmt.Errorf("%s %q: write column=value with one of the columns %s", flag, w,
				strings.Join(t.header, ", "))
		}
		value = strings.Trim(value, `"`)
		if was, again := wanted[at]; again && was != value {
			return nil, fmt.Errorf("%s %q: column %s cannot also be %q", flag, w, t.header[at], was)
		}
		wanted[at] = value
	}
	return func(cells []string) bool {
		for at, value := range wanted {
			if cells[at] != value {
				return false
			}
		}
		return true
	}, nil
}

// data gives the engine its columns.
func (t *table) data(family trend.Family, req Request) (trend.Data, error) {
	d := trend.Data{Family: family}
	if err := t.assign(family, req); err != nil {
		return d, err
	}
	if err := t.names(&d); err != nil {
		return d, err
	}
	if err := t.figures(&d); err != nil {
		return d, err
	}
	if d.Match == nil {
		d.Match = t.matches()
	}
	if err := d.Validate(); err != nil {
		return d, t.atLine(err, nil)
	}
	return d, nil
}

// names reads the columns that hold names. Without a name, a row would belong to a player or coach that all such rows
// share. A grade may be of no match, and a group may be unknown.
func (t *table) names(d *trend.Data) error {
	for _, n := range []struct {
		role string
		to   *[]string
		may  bool // a cell may be empty
	}{{"player", &d.Player, false}, {"match", &d.Match, true}, {"coach", &d.Coach, false}, {"group", &d.Group, true}} {
		c, ok := t.column[n.role]
		if !ok || n.role == "coach" && d.Family != trend.Rating {
			continue
		}
		*n.to = t.text(c)
		if i := slices.IndexFunc(*n.to, missing); i >= 0 && !n.may {
			return fmt.Errorf("line %d, column %s: the cell is empty; write the %s's name, or leave the row out", t.line[i], c,
				n.role)
		}
	}
	return nil
}

// figures reads the columns that hold times and numbers.
func (t *table) figures(d *trend.Data) (err error) {
	if c, ok := t.column["t"]; ok {
		d.Time, err = t.numbers(c, "t", false)
	} else if c, ok := t.column["date"]; ok {
		d.Time, err = t.dates(c)
	}
	if err != nil {
		return err
	}
	for _, n := range []struct {
		role string
		to   *[]float64
		read bool
		may  bool // a cell may be empty
	}{
		{"trials", &d.Trials, d.Family != trend.Rate && d.Family != trend.Rating, false},
		{"minutes", &d.Minutes, true, false},
		{"opponent", &d.Difficulty, t.numeric(t.column["opponent"]), true},
		{"home", &d.Home, t.numeric(t.column["home"]), true},
		{"value", &d.Value, true, false},
	} {
		c, ok := t.column[n.role]
		if !ok || !n.read {
			continue
		}
		if *n.to, err = t.numbers(c, n.role, n.may); err != nil {
			return err
		}
	}
	t.minutes = d.Minutes
	return nil
}

// assign finds each role's column: mapped, or of the role's own name.
func (t *table) assign(family trend.Family, req Request) error {
	for role, column := range req.Roles {
		if !slices.Contains(RoleNames, role) {
			return fmt.Errorf("map %s=%s: the roles are %s", role, column, strings.Join(RoleNames, ", "))
		}
		for c := range strings.SplitSeq(column, "/") {
			if column != "" && !slices.Contains(t.header, c) {
				return fmt.Errorf("map %s=%s: the columns are %s", role, column, strings.Join(t.header, ", "))
			}
		}
	}
	for _, role := range RoleNames {
		if c, ok := req.Roles[role]; ok {
			if c != "" {
				t.column[role] = c
			}
			continue
		}
		if role == "group" && family == trend.Rating && req.Options.Plain {
			continue
		}
		for _, c := range []string{role, "match_" + role} {
			if slices.Contains(t.header, c) {
				t.column[role] = c
				break
			}
		}
	}
	if t.column["date"] != "" && req.Roles["date"] != "" && req.Roles["t"] == "" {
		delete(t.column, "t") // a date asked for
	}
	for _, role := range []string{"player", "value"} {
		if t.column[role] == "" {
			return fmt.Errorf("no column %s: name it with --map %s=…; the columns are %s", role, role,
				strings.Join(t.header, ", "))
		}
	}
	return nil
}

func (t *table) text(column string) []string {
	at := slices.Index(t.header, column)
	out := make([]string, len(t.rows))
	for i, r := range t.rows {
		out[i] = strings.TrimSpace(r[at])
	}
	return out
}

// numeric reports whether every filled cell of a column is a number and at least one is filled.
func (t *table) numeric(column string) bool {
	if column == "" {
		return false
	}
	some := false
	for _, v := range t.text(column) {
		if missing(v) {
			continue
		}
		if _, err := strconv.ParseFloat(v, 64); err != nil {
			return false
		}
		some = true
	}
	return some
}

func missing(cell string) bool { return cell == "" || cell == "NA" }

// numbers reads a column, or the ratio of two (0/0 is 0: no trial, no value). Empty cells are NaN when may allows it.
func (t *table) numbers(column, role string, may bool) ([]float64, error) {
	if above, below, ok := strings.Cut(column, "/"); ok {
		a, err := t.numbers(above, role, may)
		if err != nil {
			return nil, err
		}
		b, err := t.numbers(below, role, may)
		if err != nil {
			return nil, err
		}
		for i := range a {
			if a[i] == 0 && b[i] == 0 {
				continue
			}
			if b[i] == 0 {
				return nil, fmt.Errorf("line %d, column %s: %v of 0 %s", t.line[i], above, a[i], below)
			}
			a[i] /= b[i]
		}
		return a, nil
	}
	at := slices.Index(t.header, column)
	if at < 0 {
		return nil, fmt.Errorf("no column %q; the columns are %s", column, strings.Join(t.header, ", "))
	}
	out := make([]float64, len(t.rows))
	for i, r := range t.rows {
		cell := strings.TrimSpace(r[at])
		if missing(cell) && may {
			out[i] = math.NaN()
			continue
		}
		if missing(cell) {
			return nil, fmt.Errorf("line %d, column %s: the cell is empty; leave out rows where it was not recorded",
				t.line[i], column)
		}
		v, err := strconv.ParseFloat(cell, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("line %d, column %s: %q is not a number", t.line[i], column, cell)
		}
		out[i] = v
	}
	return out, nil
}

// dates reads a column of dates as days from the first.
func (t *table) dates(column string) ([]float64, error) {
	out := make([]float64, len(t.rows))
	t.dated, t.firstDay = true, math.Inf(1)
	for i, cell := range t.text(column) {
		day, err := time.Parse(time.DateOnly, cell)
		if err != nil {
			return nil, fmt.Errorf("line %d, column %s: %q is not a date like 2025-11-30", t.line[i], column, cell)
		}
		out[i] = days(day)
		t.firstDay = min(t.firstDay, out[i])
	}
	for i := range out {
		out[i] -= t.firstDay
	}
	return out, nil
}

// matches names matches by date and opponent when no column does; nil without either a date or an opponent by name.
func (t *table) matches() []string {
	var parts [][]string
	if c, ok := t.column["date"]; ok {
		parts = append(parts, t.text(c))
	}
	if c, ok := t.column["opponent"]; ok && !t.numeric(c) {
		parts = append(parts, t.text(c))
	}
	if len(parts) == 0 {
		return nil
	}
	out := slices.Clone(parts[0])
	for _, p := range parts[1:] {
		for i := range out {
			out[i] += " " + p[i]
		}
	}
	return out
}

// atLine says an error of a row in the file's own terms. learn maps the engine's rows to the table's; nil: they are
// the same.
func (t *table) atLine(err error, learn []int) error {
	var row *trend.RowError
	if !errors.As(err, &row) {
		return err
	}
	i := row.Row
	if learn != nil {
		i = learn[i]
	}
	column := row.Column
	if role, ok := map[string]string{"difficulty": "opponent", "time": "t"}[column]; ok {
		column = role
	}
	if c, ok := t.column[column]; ok {
		column = c
	}
	if row.First == row.Row {
		return fmt.Errorf("line %d, column %s: %s", t.line[i], column, row.Problem)
	}
	first := row.First
	if learn != nil {
		first = learn[first]
	}
	if column != t.column["match"] { // no column names matches, so that a date is one
		return fmt.Errorf("line %d: %s (line %d); without a column match, one date is one match: add the column if a "+
			"day has two", t.line[i], row.Problem, t.line[first])
	}
	return fmt.Errorf("line %d, column %s: %s (line %d)", t.line[i], column, row.Problem, t.line[first])
}

// days counts the days since 1970.
func days(t time.Time) float64 { return float64(t.Unix() / 86400) }
