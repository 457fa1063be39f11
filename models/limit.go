package models

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Limit is what one field of a record allows by itself. The field's tag states it, Validate checks it, and the
// description of the REST service publishes it:
//
//	limit:"1..5"            a number, both ends allowed
//	limit:"0 or 5..30"      a whole number, 0 for none
//	limit:"name 1..100"     a text of one line, so many characters
//	limit:"text 0..2000"    a text of any number of lines
//	limit:"login 2..100"    what a user signs in with
//	limit:"slug 1..60"      lower case letters, digits and underscores; with 0 it may be left out
//	limit:"key 0..200"      a key that a program chose
//	limit:"items 0..50"     a list or a map of so many entries
//	limit:"each text 1..9"  a list of texts of several lines, each of so many characters
//	limit:"set 1.."         a list in which nothing is there twice, without an upper end
//
// A field that is a nil pointer has nothing to check. What belongs together in a record is checked by Validate alone.
type Limit struct {
	Form        LimitForm
	OrNone      bool    // 0 is allowed too
	Each        bool    // it is what each entry of a list allows
	Least, Most float64 // Most is +Inf without an upper end
}

// LimitForm says what a limit counts, and what else it asks for.
type LimitForm string

// The forms.
const (
	LimitNumber LimitForm = ""
	LimitName   LimitForm = "name"
	LimitText   LimitForm = "text"
	LimitLogin  LimitForm = "login"
	LimitSlug   LimitForm = "slug"
	LimitKey    LimitForm = "key"
	LimitItems  LimitForm = "items"
	LimitSet    LimitForm = "set"
)

// limitForms are all forms.
var limitForms = []LimitForm{LimitNumber, LimitName, LimitText, LimitLogin, LimitSlug, LimitKey,
	LimitItems, LimitSet}

// LimitOf returns the limit of the field of a struct that is written under a name in JSON, and false if it has none.
func LimitOf(t reflect.Type, member string) (Limit, bool) {
	for _, l := range limitsOf(t) {
		if l.member == member {
			return l.Limit, true
		}
	}
	return Limit{}, false
}

// limited is a field with a limit.
type limited struct {
	Limit
	member string // in JSON
	field  []int
}

var limitsByType sync.Map // of reflect.Type, the []limited of its fields

func limitsOf(t reflect.Type) []limited {
	if known, ok := limitsByType.Load(t); ok {
		return known.([]limited)
	}
	all := []limited{}
	for _, f := range reflect.VisibleFields(t) {
		tag, ok := f.Tag.Lookup("limit")
		if !ok {
			continue
		}
		limit, err := parseLimit(tag)
		if err != nil {
			panic(fmt.Errorf("%v.%s: %w", t, f.Name, err)) // the source is wrong: any test that validates one says so
		}
		member, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		all = append(all, limited{limit, member, f.Index})
	}
	limitsByType.Store(t, all)
	return all
}

func parseLimit(tag string) (Limit, error) {
	bad := fmt.Errorf("limit:%q is none; write it as the comment of Limit says", tag)
	tag, orNone := strings.CutPrefix(tag, "0 or ")
	tag, each := strings.CutPrefix(tag, "each ")
	form, span, spoken := strings.Cut(tag, " ")
	if !spoken {
		form, span = "", tag
	}
	least, most, ok := strings.Cut(span, "..")
	if !ok || !slices.Contains(limitForms, LimitForm(form)) {
		return Limit{}, bad
	}
	l := Limit{Form: LimitForm(form), OrNone: orNone, Each: each, Most: math.Inf(1)}
	var err error
	if l.Least, err = strconv.ParseFloat(least, 64); err != nil {
		return Limit{}, bad
	}
	if most != "" {
		if l.Most, err = strconv.ParseFloat(most, 64); err != nil || l.Most < l.Least {
			return Limit{}, bad
		}
	}
	return l, nil
}

// limits checks every field of a struct that has a limit. V is a pointer to the struct, and where what its place is
// called, empty for the record itself.
func (f *findings) limits(where string, v any) {
	record := reflect.ValueOf(v).Elem()
	if where != "" {
		where += "."
	}
	for _, l := range limitsOf(record.Type()) {
		value := record.FieldByIndex(l.field)
		if value.Kind() == reflect.Pointer {
			if value.IsNil() {
				continue
			}
			value = value.Elem()
		}
		if !l.Each {
			f.limit(where+l.member, l.Limit, value)
			continue
		}
		for i := range value.Len() {
			f.limit(at(where+l.member, i), l.Limit, value.Index(i))
		}
	}
}

func (f *findings) limit(where string, l Limit, value reflect.Value) {
	least, most := int(l.Least), math.MaxInt
	if !math.IsInf(l.Most, 1) {
		most = int(l.Most)
	}
	switch l.Form {
	case LimitName:
		f.name(where, value.String(), least, most)
	case LimitText:
		f.text(where, value.String(), least, most)
	case LimitLogin:
		f.login(where, value.String(), least, most)
	case LimitSlug:
		if least > 0 || value.Len() > 0 {
			f.slug(where, value.String())
		}
	case LimitKey:
		f.key(where, value.String(), most)
	case LimitItems, LimitSet:
		f.entries(where, value.Len(), least, most)
	default:
		switch {
		case value.CanInt() && l.OrNone && value.Int() == 0:
			return
		case value.CanInt() && l.OrNone && (int(value.Int()) < least || int(value.Int()) > most):
			f.add(where, "%d is not allowed; write %d to %d, or 0 for none", value.Int(), least, most)
			return
		case value.CanInt():
			f.whole(where, int(value.Int()), least, most)
			return
		}
		f.amount(where, l, value.Float())
	}
}

// entries checks how many entries a list or a map has.
func (f *findings) entries(where string, n, least, most int) {
	switch {
	case n < least && n == 0:
		f.add(where, "is empty; give at least %d", least)
	case n < least:
		f.add(where, "has %d; give at least %d", n, least)
	case n > most:
		f.add(where, "has %d; give at most %d", n, most)
	}
}

// amount checks a number that need not be whole.
func (f *findings) amount(where string, l Limit, v float64) {
	switch {
	case !f.finite(where, v):
	case v < l.Least || v > l.Most:
		f.add(where, "%s is not allowed; write %s to %s", number(v), number(l.Least), number(l.Most))
	}
}
