package models

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Code is what a caller can act on about an error.
type Code string

// The codes. Anything that is not an *Error is internal: logged, and never shown to the person who asked.
const (
	Invalid   Code = "invalid"   // what was sent breaks a rule; Fields say where
	NotFound  Code = "not_found" // no such record, or not one that the person may see
	Forbidden Code = "forbidden" // the person may see it, but not do this
	Conflict  Code = "conflict"  // another record conflicts with it
	Stale     Code = "stale"     // the record was changed by another person since it was read
	Gone      Code = "gone"      // the record was deleted, and does not come back when it is sent again
	TooOften  Code = "too_often" // the person has done this as often as allowed; After says when to come again
)

// Error is an error that a person can read and act on.
type Error struct {
	Code    Code
	Message string
	Fields  []FieldError
	After   time.Duration // how long to wait, for TooOften
	Changed *Changed      // what has changed since, for Stale; nil if that is not known
	// what was asked before it is saved, for Invalid; each has its field too
	Questions []Question
}

// FieldError says what is wrong at one place, and what would be right.
type FieldError struct {
	Where   string // a path such as "stints[1].off", or empty for the record as a whole
	Message string
}

// Said is the place and the message, or the message alone.
func (f FieldError) Said() string {
	if f.Where == "" {
		return f.Message
	}
	return f.Where + ": " + f.Message
}

// Error returns the message, then each field's place and message, separated by semicolons.
func (e *Error) Error() string {
	parts := make([]string, 0, 1+len(e.Fields))
	if e.Message != "" {
		parts = append(parts, e.Message)
	}
	for _, f := range e.Fields {
		parts = append(parts, f.Said())
	}
	return strings.Join(parts, "; ")
}

// Errorf returns an *Error with a code and a formatted message.
func Errorf(code Code, format string, args ...any) error {
	return &Error{Code: code, Message: fmt.Sprintf(format, args...)}
}

// CodeOf returns the code of the first *Error in err's chain, or the empty code if it has none.
func CodeOf(err error) Code {
	var e *Error
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

// findings collects all that is wrong with one record, to be shown at once.
type findings []FieldError

func (f *findings) add(where, format string, args ...any) {
	*f = append(*f, FieldError{Where: where, Message: fmt.Sprintf(format, args...)})
}

// sortFrom puts the findings from the nth on in order of place and message, where they were made in the order of a
// map.
func (f *findings) sortFrom(n int) {
	slices.SortFunc((*f)[n:], func(a, b FieldError) int {
		return cmp.Or(cmp.Compare(a.Where, b.Where), cmp.Compare(a.Message, b.Message))
	})
}

// err returns nil without findings, else an *Error with code Invalid that carries them under a message naming the
// record.
func (f findings) err(record string) error {
	if len(f) == 0 {
		return nil
	}
	is := " is"
	if strings.HasSuffix(record, "s") {
		is = " are"
	}
	return &Error{Code: Invalid, Message: record + is + " not valid", Fields: f}
}

// Faults collects why records of a batch are refused, each with its place in the batch.
type Faults struct {
	code   Code
	fields []FieldError
}

// Add notes that the record at a place is refused. An error that is no *Error is returned: it is no fault of the
// record.
func (f *Faults) Add(place string, err error) error {
	var e *Error
	if err == nil {
		return nil
	}
	if !errors.As(err, &e) {
		return err
	}
	f.code = cmp.Or(f.code, e.Code)
	if len(e.Fields) == 0 {
		f.fields = append(f.fields, FieldError{Where: place, Message: e.Message})
	}
	for _, field := range e.Fields {
		where := place
		if field.Where != "" {
			where += "." + field.Where
		}
		f.fields = append(f.fields, FieldError{Where: where, Message: field.Message})
	}
	return nil
}

// Err is one error for all faults, with the code of the first, and nil if there are none.
func (f *Faults) Err(message string) error {
	if len(f.fields) == 0 {
		return nil
	}
	return &Error{Code: f.code, Message: message, Fields: f.fields}
}
