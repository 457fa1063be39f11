package store

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"

	"throughline/models"
)

// page is the part that is wanted of the next list, and afterwards where the list goes on.
type page struct {
	limit int
	after string
	next  string
}

// Page calls list, which reads one list of tx, and has it return at most limit items: those that follow the one that a cursor stands for, or
// the first ones where after is empty. Next is the cursor of the last item, and empty where no more follow. A cursor holds the place of its
// item in the list's order: what is added, changed or deleted meanwhile neither repeats nor skips anything else. A cursor that
// is not one of the list is Invalid at "cursor".
func Page[T any](tx *Tx, after string, limit int, list func() ([]T, error)) (items []T, next string, err error) {
	p := &page{limit: limit, after: after}
	tx.page = p
	items, err = list()
	tx.page = nil
	return items, p.next, err
}

// turn takes the page that the list which begins to read is to be cut to: nil for the whole of it.
func (tx *Tx) turn() *page {
	p := tx.page
	tx.page = nil
	return p
}

// inOrder reads what a query finds in an order, or a page of it. An order is a list of columns, none of which is ever NULL and which together
// are different in each row, so that a row's place is its values in these columns.
func inOrder[T any](q *gorm.DB, order string, p *page) ([]T, error) {
	all := []T{}
	if p == nil {
		return all, q.Order(order).Find(&all).Error
	}
	if p.after != "" {
		place, err := placeOf(p.after, order)
		if err != nil {
			return nil, err
		}
		marks := strings.TrimSuffix(strings.Repeat("?, ", len(place)), ", ")
		q = q.Where("("+order+") > ("+marks+")", place...)
	}
	q = q.Session(&gorm.Session{}) // two queries begin with it
	if err := q.Order(order).Limit(p.limit + 1).Find(&all).Error; err != nil || len(all) <= p.limit {
		return all, err
	}
	all = all[:p.limit]
	place := make([]any, len(columnsOf(order)))
	into := make([]any, len(place))
	for i := range place {
		into[i] = &place[i]
	}
	// The columns of the order may be another table's: the last row is looked up once more for them.
	if err := q.Select(order).Order(order).Offset(p.limit - 1).Limit(1).Row().Scan(into...); err != nil {
		return nil, err
	}
	for i, v := range place {
		switch v := v.(type) {
		case time.Time: // only dates are ordered by
			place[i] = models.DateOf(v)
		case []byte:
			place[i] = string(v)
		}
	}
	text, err := json.Marshal(place)
	p.next = base64.RawURLEncoding.EncodeToString(text)
	return all, err
}

func columnsOf(order string) []string {
	if at := strings.Index(order, "("); at >= 0 { // an expression with commas in it
		end := at + strings.Index(order[at:], ")")
		order = order[:at] + strings.ReplaceAll(order[at:end], ", ", " ") + order[end:]
	}
	return strings.Split(order, ", ")
}

// What is not a number among the columns that lists are ordered by.
var (
	orderedDates = []string{"date", "on_date", "from_date", "starts", "set_on"}
	orderedTexts = []string{"name", "code", "scope", "indicator", "width", "speed", "zone", "login"}
)

// placeOf reads a cursor. Every value is checked against its column: PostgreSQL refuses to compare a date with what is none.
func placeOf(cursor, order string) ([]any, error) {
	bad := &models.Error{Code: models.Invalid, Message: "the page cannot be found", Fields: []models.FieldError{
		{Where: "cursor", Message: "is not a cursor of this list; leave it out for the first page, or send the one of the page before, unchanged"},
	}}
	text, err := base64.RawURLEncoding.DecodeString(cursor)
	if err != nil {
		return nil, bad
	}
	var place []any
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	columns := columnsOf(order)
	if err := d.Decode(&place); err != nil || d.More() || len(place) != len(columns) {
		return nil, bad
	}
	for i, column := range columns {
		name := column[strings.LastIndex(column, ".")+1:]
		switch v := place[i].(type) {
		case json.Number:
			n, err := v.Int64()
			if err != nil || slices.Contains(orderedDates, name) || slices.Contains(orderedTexts, name) {
				return nil, bad
			}
			place[i] = n
		case string:
			switch {
			case slices.Contains(orderedTexts, name) && storable(v):
			case slices.Contains(orderedDates, name) && models.Date(v).Validate() == nil:
			default:
				return nil, bad
			}
		default:
			return nil, bad
		}
	}
	return place, nil
}

// deleted refuses the key of a record that was deleted, where who might write that record: sending it once more, as a program does
// that could not be sure the first time, must not bring it back. The filters are those of the key.
func (k *kind[T]) deleted(tx *Tx, key string, filters ...where) error {
	reach, some := k.reaching(tx, models.Write)
	if !some {
		return nil
	}
	var n int64
	q := k.rows(tx, "IS NOT NULL", reach, filters...)
	if err := tx.done("look for deleted "+k.name, q.Count(&n).Error); err != nil {
		return err
	}
	if n == 0 {
		return nil
	}
	return &models.Error{Code: models.Gone, Message: fmt.Sprintf("this %s was deleted", k.name), Fields: []models.FieldError{
		{Where: "key", Message: fmt.Sprintf("%q is the key of a deleted %s, which does not come back; choose another key to make a new one", key, k.name)},
	}}
}
