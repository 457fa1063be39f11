package store

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"gorm.io/gorm"

	"throughline/models"
)

// page is the part that is wanted of the next list, and afterwards where the list goes on.
type page struct {
	limit   int
	after   string
	next    string
	seal    *sealer
	academy int64
}

// Page calls list, which reads one list of tx, and makes it return at most limit items: those after the cursor's item,
// or the first ones if after is empty. Next is the cursor of the last item, and empty if no more follow. A cursor is
// the sealed place of its item in the list's order. It reveals nothing of the item, and changes to the list meanwhile
// neither repeat nor skip other items. A cursor that this database did not make for the list is Invalid at "cursor".
func Page[T any](tx *Tx, after string, limit int, list func() ([]T, error)) (items []T, next string, err error) {
	p := &page{limit: limit, after: after, seal: tx.seal, academy: tx.who.AcademyID}
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

// inOrder reads what a query finds in an order, or a page of it. Of is the list's name. An order is a list of columns.
// None is ever NULL or a time of day, and no two rows have the same values in all of them: these values are a row's
// place.
func inOrder[T any](q *gorm.DB, of, order string, p *page) ([]T, error) {
	if p == nil {
		return collect[T](q.Order(order))
	}
	if p.after != "" {
		place, err := p.placeOf(p.after, of+" by "+order)
		if err != nil {
			return nil, err
		}
		marks := strings.TrimSuffix(strings.Repeat("?, ", len(place)), ", ")
		q = q.Where("("+order+") > ("+marks+")", place...)
	}
	q = q.Session(&gorm.Session{}) // two queries begin with it
	all, err := collect[T](q.Order(order).Limit(p.limit + 1))
	if err != nil || len(all) <= p.limit {
		return all, err
	}
	all = all[:p.limit]
	// The columns of the order may be another table's: the last row is looked up once more for them. A reader sees one
	// state of the database.
	found, err := q.Select(order).Order(order).Offset(p.limit - 1).Limit(1).Rows()
	if err != nil {
		return nil, err
	}
	defer found.Close()
	place, err := placeIn(found)
	if err != nil {
		return nil, err
	}
	p.next, err = p.cursorOf(place, of+" by "+order)
	return all, err
}

// placeIn reads the values of one row.
func placeIn(found *sql.Rows) ([]any, error) {
	columns, err := found.Columns()
	if err != nil {
		return nil, err
	}
	place := make([]any, len(columns))
	into := make([]any, len(columns))
	for i := range place {
		into[i] = &place[i]
	}
	found.Next()
	if err := found.Scan(into...); err != nil {
		return nil, err
	}
	for i, v := range place {
		switch v := v.(type) {
		case time.Time: // only days are ordered by
			place[i] = models.DateOf(v)
		case []byte:
			place[i] = string(v)
		}
	}
	return place, found.Err()
}

// purpose is what the cursors of a list are sealed for.
func (p *page) purpose(list string) string { return fmt.Sprintf("%s in academy %d", list, p.academy) }

// cursorOf seals a place in a list.
func (p *page) cursorOf(place []any, list string) (string, error) {
	text, err := json.Marshal(place)
	if err != nil {
		return "", fmt.Errorf("make a cursor: %w", err)
	}
	return p.seal.seal(p.purpose(list), text), nil
}

// placeOf reads a cursor. What the seal opens was made here for this very list, so its values have the types of its
// order's columns.
func (p *page) placeOf(cursor, list string) ([]any, error) {
	bad := &models.Error{Code: models.Invalid, Message: "the page cannot be found", Fields: []models.FieldError{
		{Where: "cursor", Message: "is not a cursor of this list; leave it out to get the first page, or send next from " +
			"the previous page unchanged"},
	}}
	text, ok := p.seal.open(p.purpose(list), cursor)
	if !ok {
		return nil, bad
	}
	var place []any
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	if err := d.Decode(&place); err != nil {
		return nil, bad
	}
	for i, v := range place {
		if number, ok := v.(json.Number); ok {
			n, err := number.Int64()
			if err != nil {
				return nil, bad
			}
			place[i] = n
		}
	}
	return place, nil
}

// deleted refuses the key of a record that was deleted, where who might write that record: sending it once more, as a
// program does that could not be sure the first time, must not bring it back. The filters are those of the key.
func (k *kind[T]) deleted(tx *Tx, key string, filters ...where) error {
	reach, some := k.reaching(tx, models.Write)
	if !some {
		return nil
	}
	var n int64
	q := k.rows(tx, "IS NOT NULL", reach, filters...)
	if err := tx.done("find deleted "+k.name, q.Count(&n).Error); err != nil {
		return err
	}
	if n == 0 {
		return nil
	}
	return k.gone(key)
}

// gone refuses the key of a deleted record.
func (k *kind[T]) gone(key string) error {
	return &models.Error{Code: models.Gone, Message: fmt.Sprintf("this %s was deleted", k.name),
		Fields: []models.FieldError{
			{Where: "key", Message: fmt.Sprintf("%q is the key of a deleted %s, which does not come back; choose another key "+
				"to create a new one", key, k.name)},
		}}
}
