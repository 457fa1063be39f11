package main

import (
	"bufio"
	"compress/gzip"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"throughline/reports/trend"
)

// sheet is a CSV file's kept rows.
type sheet struct {
	header []string
	rows   [][]string
	line   []int             // of each row in the file
	row    []int             // number of each row among the file's rows, from 1
	column map[string]string // role → column

	dated    bool // time comes from dates, counted in days from firstDay
	firstDay float64
	minutes  []float64 // whatever the family
}

// readSheet reads a CSV file, compressed or not, and keeps the rows that agree with every column=value.
func readSheet(path string, where []string) (s *sheet, err error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	buffered := bufio.NewReaderSize(file, 1<<16)
	var in io.Reader = buffered
	if magic, _ := buffered.Peek(2); len(magic) == 2 && magic[0] == 0x1f && magic[1] == 0x8b {
		unzipped, err := gzip.NewReader(buffered)
		if err != nil {
			return nil, fmt.Errorf("read gzip: %w", err)
		}
		in = unzipped
	}
	r := csv.NewReader(in)
	s = &sheet{column: map[string]string{}}
	if s.header, err = r.Read(); errors.Is(err, io.EOF) {
		return nil, errors.New("the file is empty: want a header line")
	} else if err != nil {
		return nil, err
	}
	s.header[0] = strings.TrimPrefix(s.header[0], "\ufeff")
	for i := range s.header {
		s.header[i] = strings.TrimSpace(s.header[i])
	}
	type condition struct {
		at    int
		value string
	}
	var conditions []condition
	for _, w := range where {
		name, value, ok := strings.Cut(w, "=")
		at := slices.Index(s.header, strings.TrimSpace(name))
		if !ok || at < 0 {
			return nil, fmt.Errorf("where %q: want column=value with one of the columns %s", w, strings.Join(s.header, ", "))
		}
		conditions = append(conditions, condition{at, strings.Trim(value, `"`)})
	}
rows:
	for n := 1; ; n++ {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		for _, c := range conditions {
			if cells[c.at] != c.value {
				continue rows
			}
		}
		line, _ := r.FieldPos(0)
		s.rows, s.line, s.row = append(s.rows, cells), append(s.line, line), append(s.row, n)
	}
	if len(s.rows) == 0 {
		return nil, errors.New("no row is left")
	}
	return s, nil
}

// data gives the engine its columns.
func (s *sheet) data(family trend.Family, f *fitFlags) (trend.Data, error) {
	d := trend.Data{Family: family}
	if err := s.assign(family, f); err != nil {
		return d, err
	}
	for _, t := range []struct {
		role string
		to   *[]string
	}{{"player", &d.Player}, {"match", &d.Match}, {"coach", &d.Coach}, {"group", &d.Group}} {
		if c, ok := s.column[t.role]; ok {
			*t.to = s.text(c)
		}
	}
	if family != trend.Rating {
		d.Coach = nil
	}
	var err error
	if c, ok := s.column["t"]; ok {
		if d.Time, err = s.numbers(c, "t", false); err != nil {
			return d, err
		}
	} else if c, ok := s.column["date"]; ok {
		if d.Time, err = s.dates(c); err != nil {
			return d, err
		}
	}
	if c, ok := s.column["trials"]; ok && family != trend.Rate && family != trend.Rating {
		if d.Trials, err = s.numbers(c, "trials", false); err != nil {
			return d, err
		}
	}
	if c, ok := s.column["minutes"]; ok {
		if d.Minutes, err = s.numbers(c, "minutes", false); err != nil {
			return d, err
		}
		s.minutes = d.Minutes
	}
	for _, n := range []struct {
		role string
		to   *[]float64
	}{{"opponent", &d.Difficulty}, {"home", &d.Home}} {
		if c, ok := s.column[n.role]; ok && s.numeric(c) {
			if *n.to, err = s.numbers(c, n.role, true); err != nil {
				return d, err
			}
		}
	}
	if d.Value, err = s.numbers(s.column["value"], "value", false); err != nil {
		return d, err
	}
	if d.Match == nil {
		d.Match = s.matches()
	}
	if err := d.Validate(); err != nil {
		return d, s.atLine(err, nil)
	}
	return d, nil
}

// assign finds each role's column: mapped, or of the role's own name.
func (s *sheet) assign(family trend.Family, f *fitFlags) error {
	for role, column := range f.roles {
		if !slices.Contains(roleNames, role) {
			return fmt.Errorf("map %s=%s: the roles are %s", role, column, strings.Join(roleNames, ", "))
		}
		for c := range strings.SplitSeq(column, "/") {
			if column != "" && !slices.Contains(s.header, c) {
				return fmt.Errorf("map %s=%s: the columns are %s", role, column, strings.Join(s.header, ", "))
			}
		}
	}
	for _, role := range roleNames {
		if c, ok := f.roles[role]; ok {
			if c != "" {
				s.column[role] = c
			}
			continue
		}
		if role == "group" && family == trend.Rating && f.options.Plain {
			continue
		}
		for _, c := range []string{role, "match_" + role} {
			if slices.Contains(s.header, c) {
				s.column[role] = c
				break
			}
		}
	}
	if s.column["date"] != "" && f.roles["date"] != "" && f.roles["t"] == "" {
		delete(s.column, "t") // a date asked for
	}
	for _, role := range []string{"player", "value"} {
		if s.column[role] == "" {
			return fmt.Errorf("no column %s: name it with --map %s=…; the columns are %s", role, role, strings.Join(s.header, ", "))
		}
	}
	return nil
}

func (s *sheet) text(column string) []string {
	at := slices.Index(s.header, column)
	out := make([]string, len(s.rows))
	for i, r := range s.rows {
		out[i] = strings.TrimSpace(r[at])
	}
	return out
}

// numeric reports whether every filled cell of a column is a number and at least one is filled.
func (s *sheet) numeric(column string) bool {
	some := false
	for _, v := range s.text(column) {
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
func (s *sheet) numbers(column, role string, may bool) ([]float64, error) {
	if above, below, ok := strings.Cut(column, "/"); ok {
		a, err := s.numbers(above, role, may)
		if err != nil {
			return nil, err
		}
		b, err := s.numbers(below, role, may)
		if err != nil {
			return nil, err
		}
		for i := range a {
			if a[i] == 0 && b[i] == 0 {
				continue
			}
			if b[i] == 0 {
				return nil, fmt.Errorf("line %d, column %s: %v of 0 %s", s.line[i], above, a[i], below)
			}
			a[i] /= b[i]
		}
		return a, nil
	}
	at := slices.Index(s.header, column)
	if at < 0 {
		return nil, fmt.Errorf("no column %q; the columns are %s", column, strings.Join(s.header, ", "))
	}
	out := make([]float64, len(s.rows))
	for i, r := range s.rows {
		cell := strings.TrimSpace(r[at])
		if missing(cell) && may {
			out[i] = math.NaN()
			continue
		}
		v, err := strconv.ParseFloat(cell, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("line %d, column %s: %q is not a number", s.line[i], column, cell)
		}
		out[i] = v
	}
	return out, nil
}

// dates reads a column of dates as days from the first.
func (s *sheet) dates(column string) ([]float64, error) {
	out := make([]float64, len(s.rows))
	s.dated, s.firstDay = true, math.Inf(1)
	for i, cell := range s.text(column) {
		day, err := time.Parse(time.DateOnly, cell)
		if err != nil {
			return nil, fmt.Errorf("line %d, column %s: %q is not a date like 2025-11-30", s.line[i], column, cell)
		}
		out[i] = days(day)
		s.firstDay = min(s.firstDay, out[i])
	}
	for i := range out {
		out[i] -= s.firstDay
	}
	return out, nil
}

// matches names matches by date and opponent when no column does; nil without either a date or an opponent by name.
func (s *sheet) matches() []string {
	var parts [][]string
	if c, ok := s.column["date"]; ok {
		parts = append(parts, s.text(c))
	}
	if c, ok := s.column["opponent"]; ok && !s.numeric(c) {
		parts = append(parts, s.text(c))
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
