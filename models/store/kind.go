package store

import (
	"fmt"
	"slices"

	"gorm.io/gorm"

	"throughline/models"
)

// kind is what the store knows of one kind of record: which area of the policy it is in, how its rows are narrowed to
// what a person may reach, which rules hold between it and other rows, and what follows from a change. The rest is the
// same for all of them and stands here: how a record is read, created, changed and deleted.
type kind[T any] struct {
	name     string // as a person reads it
	table    string
	area     models.Area
	joins    string // tables that reach, filters and order need; each row has exactly one partner
	order    string // columns that are never NULL and end in the id: see inOrder
	columns  string // those that a list reads; empty for all
	record   func(*T) *models.Record
	validate func(*T) error
	author   func(*T) *int64 // the user who made it, where a record names one
	// users are the columns that name a user, other than a player's own: an export says their names. They are members of
	// the JSON by the same name.
	users []string
	// whose is the column with the player that a row is about. It may be left out if that is the table's own
	// player_id, or if rows name no player. nobodys says that the rows name players and are about none of them. See
	// subject.
	whose string
	// player returns the player that a record is about, 0 for none: for the audit trail, and for all that is kept
	// about them. Nil: never one.
	player func(tx *Tx, r *T) (int64, error)
	// said is what the audit trail says about a record: by default all of it. It leaves out what is about others,
	// which has entries of its own.
	said func(T) any
	// within narrows rows to what a reach below the whole academy means for an action.
	within func(who models.Who, action models.Action, reach models.Reach) where
	// besides is a further condition on rows within reach, whatever the reach. It may be nil.
	besides func(tx *Tx, action models.Action) where
	// naming narrows rows that are about no player to those that name the player, as far as the caller may know. It
	// may be nil.
	naming func(tx *Tx, player int64) (where, error)
	// load fills what is kept in tables of their own. It may be nil.
	load func(tx *Tx, all []T) error
	// barred is Forbidden if the caller may not change or delete the record as it is, whatever the change. It may be
	// nil.
	barred func(tx *Tx, old *T, deleting bool) error
	// keeps says that each change and deletion stores the record as it was: see earlier.go.
	keeps bool
	// earlier says whether a caller who may read the record now may read it as it was, and takes out of that what they
	// may not read. Nil: always, and all of it.
	earlier func(tx *Tx, was *T) bool
	// again returns the record that r is, sent a second time, or nil. It may be nil.
	again func(tx *Tx, r *T) (*T, error)
	// facts reads, for all records that are to be written, what again and check ask of each: afterwards they read
	// nothing. It may be nil.
	facts func(tx *Tx, all []*T) error
	// check refuses what breaks a rule between records, before r is written. old is what is being changed, nil for a new
	// record. It may be nil.
	check func(tx *Tx, old, r *T) error
	// keep puts a record that is written or deleted into the facts, for those that are checked after it. It may be nil.
	keep func(tx *Tx, old, r *T)
	// owner says, from the facts, whether the caller may write a record. Where it is nil, the row itself is asked once it
	// is written.
	owner func(tx *Tx, r *T) bool
	// wrote does what follows from a change: old is nil for a new record, r for a deleted one. It may be nil.
	wrote func(tx *Tx, old, r *T) error
	// follows does what follows from the changes of a batch, after wrote. It may be nil.
	follows func(tx *Tx, all []change[T]) error
	// needed refuses to delete what rows need that do not refer to it by its id. It may be nil.
	needed func(tx *Tx, r *T) error
	// holds are the rows that refer to one of this kind.
	holds []hold
}

// hold is a table with a column that refers to a record. The record's own rows are deleted with it; other rows stop
// the deletion, except those that may go on referring to a deleted record.
type hold struct {
	name   string // as a person reads it, in the plural
	table  string
	column string
	own    func(tx *Tx, column string, id int64) error // deletes the record's own rows; nil if they are no part of it
	// why its rows may go on referring to a deleted record; empty if they stop the deletion
	stays string
}

// reaching returns the condition for rows the caller may act on, and false if there are no such rows.
func (k *kind[T]) reaching(tx *Tx, action models.Action) (where, bool) {
	reach := tx.who.Reach(action, k.area)
	if reach == models.ReachNone {
		return where{}, false
	}
	var w where
	if reach != models.ReachAcademy {
		shown, err := tx.shown(k.subject())
		if err != nil {
			return that("1 = 0"), true // the transaction has failed, and its next query says so
		}
		w = and(k.within(tx.who, action, reach), shown)
	}
	if k.besides != nil {
		w = and(w, k.besides(tx, action))
	}
	return w, true
}

// from starts a query of the rows that are not hidden and that the caller may take an action on.
func (k *kind[T]) from(tx *Tx, reach where, filters ...where) *gorm.DB {
	return k.rows(tx, "IS NULL", reach, filters...)
}

// rows starts a query of the rows whose deleted_at is as said.
func (k *kind[T]) rows(tx *Tx, deleted string, reach where, filters ...where) *gorm.DB {
	q := tx.query().Model(new(T)).Where(k.table+".academy_id = ? AND "+k.table+".deleted_at "+deleted, tx.who.AcademyID)
	if k.joins != "" {
		q = q.Joins(k.joins)
	}
	if k.columns != "" {
		q = q.Select(k.columns)
	}
	if w := and(append(filters, reach)...); w.sql != "" {
		q = q.Where(w.sql, w.args...)
	}
	return q
}

// list returns the records that the caller may read and that all filters hold for, in the kind's order, or the page of
// them that was asked for.
func (k *kind[T]) list(tx *Tx, filters ...where) ([]T, error) {
	part := tx.turn()
	narrowed, err := k.narrowed(tx)
	if err != nil {
		return nil, err
	}
	filters = append(slices.Clone(filters), narrowed...)
	reach, some := k.reaching(tx, models.Read)
	if !some {
		return nil, models.Errorf(models.Forbidden, "%s may not read %s records", tx.role(), k.name)
	}
	all, err := k.read(tx, part, reach, filters...)
	if err != nil || !slices.Contains(accounted, k.area) {
		return all, err
	}
	return all, k.sawAll(tx, all)
}

func (k *kind[T]) find(tx *Tx, reach where, filters ...where) ([]T, error) {
	return k.read(tx, nil, reach, filters...)
}

func (k *kind[T]) read(tx *Tx, part *page, reach where, filters ...where) ([]T, error) {
	all, err := inOrder[T](k.from(tx, reach, filters...), k.name, k.order, part)
	if err := tx.done("read "+k.name, err); err != nil {
		return nil, err
	}
	if k.load != nil && len(all) > 0 {
		if err := k.load(tx, all); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// get returns one record that the caller may read.
func (k *kind[T]) get(tx *Tx, id int64) (T, error) {
	var none T
	reach, some := k.reaching(tx, models.Read)
	if !some || id <= 0 {
		return none, k.missing(id)
	}
	all, err := k.find(tx, reach, that(k.table+".id = ?", id))
	if err != nil {
		return none, err
	}
	if len(all) == 0 {
		return none, k.missing(id)
	}
	return all[0], k.sawAll(tx, all)
}

func (k *kind[T]) missing(id int64) error {
	return models.Errorf(models.NotFound, "there is no %s %d", k.name, id)
}

// known returns the record that a field of another refers to. It is Invalid at that field if the record does not exist
// or the caller may not read it.
func (k *kind[T]) known(tx *Tx, field string, id int64) (T, error) {
	r, err := k.get(tx, id)
	if models.CodeOf(err) == models.NotFound {
		return r, wrong(field, "there is no %s %d", k.name, id)
	}
	return r, err
}

// clashing is an error of code Conflict at one field.
func clashing(field, format string, args ...any) error {
	return &models.Error{Code: models.Conflict,
		Fields: []models.FieldError{{Where: field, Message: fmt.Sprintf(format, args...)}}}
}

// wrong is an error of code Invalid at one field.
func wrong(field, format string, args ...any) error {
	return &models.Error{Code: models.Invalid,
		Fields: []models.FieldError{{Where: field, Message: fmt.Sprintf(format, args...)}}}
}

// only is an error if a record other than id matches the filters: there may be only one. It searches the whole
// academy, whatever the caller may read.
func (k *kind[T]) only(tx *Tx, id int64, message string, filters ...where) error {
	all, err := k.find(tx, where{}, append(filters, that(k.table+".id <> ?", id))...)
	if err != nil {
		return err
	}
	if len(all) > 0 {
		return models.Errorf(models.Conflict, "%s", message)
	}
	return nil
}

// first returns the first of what a query found.
func first[T any](all []T, err error) (T, bool, error) {
	var none T
	if err != nil || len(all) == 0 {
		return none, false, err
	}
	return all[0], true, nil
}
