package files

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"throughline/models"
)

// findingsShown is how many findings an error lists: enough to see what went wrong with a file, few enough to read.
const findingsShown = 50

// finding is one thing that is wrong with a file.
type finding struct {
	line   int
	column int    // from 0; -1 for the line as a whole
	name   string // the column's
	value  string
	reason string
}

// findings keeps the findings that come first in the file and counts the rest, so that a file of a million bad lines
// costs no more memory than one of fifty.
type findings struct {
	first []finding
	count int
}

func (f *findings) add(n finding) {
	f.count++
	f.first = append(f.first, n)
	if len(f.first) >= 4*findingsShown {
		f.sort()
	}
}

func (f *findings) line(line int, format string, args ...any) {
	f.add(finding{line: line, column: -1, reason: fmt.Sprintf(format, args...)})
}

func (f *findings) sort() {
	slices.SortStableFunc(f.first, func(a, b finding) int {
		return cmp.Or(cmp.Compare(a.line, b.line), cmp.Compare(a.column, b.column))
	})
	f.first = f.first[:min(len(f.first), findingsShown)]
}

// err returns nil without findings, else an error with code Invalid that lists the first of them in the order of the
// file and says how many more there are.
func (f *findings) err() error {
	if f.count == 0 {
		return nil
	}
	f.sort()
	e := &models.Error{Code: models.Invalid, Message: fmt.Sprintf("nothing was imported: %s in the file",
		plural(f.count, "finding"))}
	for _, n := range f.first {
		e.Fields = append(e.Fields, n.field())
	}
	if more := f.count - len(f.first); more > 0 {
		e.Fields = append(e.Fields, models.FieldError{Message: fmt.Sprintf("and %d more", more)})
	}
	return e
}

// field words the finding. It leaves a birth date out: the line and the column are enough to find it, and what a
// command prints stays in logs and terminals, where a child's birth date has no place.
func (n finding) field() models.FieldError {
	where := "line " + strconv.Itoa(n.line)
	if n.column < 0 {
		return models.FieldError{Where: where, Message: n.reason}
	}
	where += ", column " + shown(n.name)
	if n.name == columnBornOn {
		return models.FieldError{Where: where, Message: n.reason}
	}
	if strings.HasPrefix(n.reason, n.value+" ") || strings.HasPrefix(n.reason, quoted(n.value)) {
		return models.FieldError{Where: where, Message: n.reason} // it begins with the value already
	}
	return models.FieldError{Where: where, Message: quoted(n.value) + ": " + n.reason}
}

// shown returns a column's name as it can be printed: as it is when it is a plain code, quoted otherwise.
func shown(name string) string {
	if name != "" && strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789_") == "" && len(name) <= 60 {
		return name
	}
	return quoted(name)
}

// quoted returns a cell's text as a person can read it: with control characters and broken bytes shown, and cut if it
// is long.
func quoted(value string) string {
	const most = 60
	if utf8.RuneCountInString(value) <= most {
		return strconv.Quote(value)
	}
	runes := 0
	for i := range value {
		if runes == most {
			return strconv.Quote(value[:i]) + "…"
		}
		runes++
	}
	return strconv.Quote(value)
}

// reasons returns what a record's own validation says about its fields.
func reasons(err error) []models.FieldError {
	if err == nil {
		return nil
	}
	var e *models.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		return []models.FieldError{{Message: err.Error()}}
	}
	return e.Fields
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}
