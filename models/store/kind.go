package store

import (
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"throughline/models"
)

// kind is what the store knows of one kind of record: which area of the policy it is in, how its rows are narrowed to what somebody may
// reach, which rules hold between it and other rows, and what follows from a change. The rest is the same for all of them and
// stands here: how a record is read, created, changed and deleted.
type kind[T any] struct {
	name     string // as a person reads it
	table    string
	area     models.Area
	joins    string // tables that reach, filters and order need; each row has exactly one partner
	order    string // columns that are never NULL and end in the id: see inOrder
	record   func(*T) *models.Record
	validate func(*T) error
	author   func(*T) *int64 // the user who made it, where a record names one
	// users are the columns that name a user, other than a player's own: an export says their names. They are members of the JSON by the same name.
	users []string
	// whose is the column with the player whom a row is about. It need not be said where that is the table's own player_id, nor where no
	// player is named at all; nobodys says that the rows name players and are about none of them. See subject.
	whose string
	// player returns the player that a record is about, 0 for none: for the audit trail, and for all that is kept of him. Nil: never one.
	player func(tx *Tx, r *T) (int64, error)
	// said is what the audit trail says of a record: by default all of it. It leaves out what is about others, which has entries of its own.
	said func(T) any
	// within narrows rows to what a reach below the whole academy means for an action.
	within func(who models.Who, action models.Action, reach models.Reach) where
	// besides is what must hold of a row for an action besides its being within reach, however far that is. It may be nil.
	besides func(tx *Tx, action models.Action) where
	// load fills what is kept in tables of their own. It may be nil.
	load func(tx *Tx, all []T) error
	// barred refuses, as Forbidden, whoever may not change or delete a record as it is, whatever he would make of it. It may be nil.
	barred func(tx *Tx, old *T, deleting bool) error
	// again returns the record that r is, sent a second time, or nil. It may be nil.
	again func(tx *Tx, r *T) (*T, error)
	// check refuses what breaks a rule between records, before r is written. old is what is being changed, nil for a new record. It may be nil.
	check func(tx *Tx, old, r *T) error
	// wrote does what follows from a change: old is nil for a new record, r for a deleted one. It may be nil.
	wrote func(tx *Tx, old, r *T) error
	// needed refuses to delete what rows need that do not refer to it by its id. It may be nil.
	needed func(tx *Tx, r *T) error
	// holds are the rows that refer to one of this kind.
	holds []hold
}

// hold is a table with a column that refers to a record. With the record its own rows are hidden too; other rows stand in the way.
type hold struct {
	name   string // as a person reads it, in the plural
	table  string
	column string
	own    bool
}

// reaching is the condition that who may take an action on a row, and false where he may on none.
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

// from starts a query of the rows that are not hidden and that who may take an action on.
func (k *kind[T]) from(tx *Tx, reach where, filters ...where) *gorm.DB {
	return k.rows(tx, "IS NULL", reach, filters...)
}

// rows starts a query of the rows whose deleted_at is as said.
func (k *kind[T]) rows(tx *Tx, deleted string, reach where, filters ...where) *gorm.DB {
	q := tx.query().Model(new(T)).Where(k.table+".academy_id = ? AND "+k.table+".deleted_at "+deleted, tx.who.AcademyID)
	if k.joins != "" {
		q = q.Joins(k.joins)
	}
	if w := and(append(filters, reach)...); w.sql != "" {
		q = q.Where(w.sql, w.args...)
	}
	return q
}

// list returns the records that who may read and that all filters hold for, in the kind's order, or the page of them that was asked for.
func (k *kind[T]) list(tx *Tx, filters ...where) ([]T, error) {
	part := tx.turn()
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
	all, err := inOrder[T](k.from(tx, reach, filters...), k.order, part)
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

// get returns one record that who may read.
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

// known returns the record that a field of another refers to. One that does not exist, or that who may not see, is wrong at that
// field.
func (k *kind[T]) known(tx *Tx, field string, id int64) (T, error) {
	r, err := k.get(tx, id)
	if models.CodeOf(err) == models.NotFound {
		return r, wrong(field, "there is no %s %d", k.name, id)
	}
	return r, err
}

// wrong is an error of code Invalid at one field.
func wrong(field, format string, args ...any) error {
	return &models.Error{Code: models.Invalid, Fields: []models.FieldError{{Where: field, Message: fmt.Sprintf(format, args...)}}}
}

// create writes a new record and fills in its Record.
func (k *kind[T]) create(tx *Tx, r *T) error {
	if err := k.mayChange(tx); err != nil {
		return err
	}
	made := *r
	*k.record(&made) = models.Record{AcademyID: tx.who.AcademyID, Version: 1, CreatedAt: tx.now, ChangedAt: tx.now}
	if k.author != nil {
		if by := k.author(&made); *by == 0 {
			*by = tx.who.UserID
		}
	}
	if err := k.validate(&made); err != nil {
		return err
	}
	if k.again != nil {
		same, err := k.again(tx, &made)
		if err != nil {
			return err
		}
		if same != nil {
			if err := k.mine(tx, k.record(same).ID); err != nil {
				return err
			}
			*r = *same
			return nil
		}
	}
	if k.check != nil {
		if err := k.check(tx, nil, &made); err != nil {
			return err
		}
	}
	if err := k.written(tx, "create", tx.query().Create(&made).Error); err != nil {
		return err
	}
	if err := k.mine(tx, k.record(&made).ID); err != nil {
		return tx.done("create "+k.name, err) // the row is there already: it must not be committed
	}
	if k.wrote != nil {
		if err := k.wrote(tx, nil, &made); err != nil {
			return err
		}
	}
	*r = made
	return k.noted(tx, models.AuditCreate, nil, r)
}

// update replaces a record. r carries the id and the version that was read.
func (k *kind[T]) update(tx *Tx, r *T) error {
	if err := k.mayChange(tx); err != nil {
		return err
	}
	given := k.record(r)
	old, err := k.changing(tx, given.ID, given.Version, false)
	if err != nil {
		return err
	}
	made := *r
	now := k.record(&made)
	*now = *k.record(&old)
	now.Version, now.ChangedAt = now.Version+1, tx.now
	if err := k.validate(&made); err != nil {
		return err
	}
	if k.check != nil {
		if err := k.check(tx, &old, &made); err != nil {
			return err
		}
	}
	// Every column by name, zero values too; the condition on the version is what makes it safe.
	done := tx.query().Model(new(T)).Where("academy_id = ? AND id = ? AND version = ?", tx.who.AcademyID, now.ID, given.Version).
		Select("*").Omit("id", "academy_id", "created_at", "deleted_at").Updates(&made)
	if err := k.written(tx, "change", done.Error); err != nil {
		return err
	}
	if done.RowsAffected != 1 {
		return tx.done("change "+k.name, k.stale(now.ID))
	}
	if err := k.mine(tx, now.ID); err != nil {
		return tx.done("change "+k.name, err)
	}
	if k.wrote != nil {
		if err := k.wrote(tx, &old, &made); err != nil {
			return err
		}
	}
	*r = made
	return k.noted(tx, models.AuditChange, &old, r)
}

// remove hides a record with the rows that are its own. Other rows that refer to it stand in the way.
func (k *kind[T]) remove(tx *Tx, id, version int64) error {
	if err := k.mayChange(tx); err != nil {
		return err
	}
	old, err := k.changing(tx, id, version, true)
	if err != nil {
		return err
	}
	if err := k.free(tx, id); err != nil {
		return err
	}
	if k.needed != nil {
		if err := k.needed(tx, &old); err != nil {
			return err
		}
	}
	hide := func(table, column string) error {
		return tx.exec("delete "+k.name, "UPDATE "+table+" SET deleted_at = ?, changed_at = ?, version = version + 1 WHERE academy_id = ? AND "+column+
			" = ? AND deleted_at IS NULL", tx.now, tx.now, tx.who.AcademyID, id)
	}
	for _, h := range k.holds {
		if h.own {
			if err := hide(h.table, h.column); err != nil {
				return err
			}
		}
	}
	if err := hide(k.table, "id"); err != nil {
		return err
	}
	if k.wrote != nil {
		if err := k.wrote(tx, &old, nil); err != nil {
			return err
		}
	}
	return k.noted(tx, models.AuditDelete, &old, nil)
}

// free refuses to delete a record that others need.
func (k *kind[T]) free(tx *Tx, id int64) error {
	var needed []string
	for _, h := range k.holds {
		if h.own {
			continue
		}
		n, err := tx.count("look what refers to "+k.name,
			"SELECT count(*) FROM "+h.table+" WHERE academy_id = ? AND "+h.column+" = ? AND deleted_at IS NULL", tx.who.AcademyID, id)
		if err != nil {
			return err
		}
		if n > 0 {
			needed = append(needed, fmt.Sprintf("%s (%d)", h.name, n))
		}
	}
	if len(needed) > 0 {
		return models.Errorf(models.Conflict, "%s %d cannot be deleted while it has %s", k.name, id, strings.Join(needed, ", "))
	}
	return nil
}

// mayChange refuses whoever may change no record of the kind.
func (k *kind[T]) mayChange(tx *Tx) error {
	if !tx.writes {
		return fmt.Errorf("change %s: the transaction only reads", k.name)
	}
	if _, some := k.reaching(tx, models.Write); !some {
		return models.Errorf(models.Forbidden, "%s may not change %s records", tx.role(), k.name)
	}
	return nil
}

// role is who is asking, as an error says it.
func (tx *Tx) role() string {
	if tx.who.Role == models.RoleOperator {
		return "an operator"
	}
	return "a " + string(tx.who.Role)
}

// mine refuses a record that who may not change, as it is in the database now.
func (k *kind[T]) mine(tx *Tx, id int64) error {
	reach, _ := k.reaching(tx, models.Write)
	if reach.sql == "" {
		return nil
	}
	var n int64
	if err := tx.done("check who may change "+k.name, k.from(tx, reach, that(k.table+".id = ?", id)).Count(&n).Error); err != nil {
		return err
	}
	if n == 0 {
		return models.Errorf(models.Forbidden, "%s may not change this %s", tx.who.Name, k.name)
	}
	return nil
}

// changing returns the record that is to be changed or deleted, as it is. Whether who is asking may counts before the version.
func (k *kind[T]) changing(tx *Tx, id, version int64, deleting bool) (T, error) {
	old, err := k.get(tx, id)
	if err != nil {
		return old, err
	}
	if err := k.mine(tx, id); err != nil {
		return old, err
	}
	if k.barred != nil {
		if err := k.barred(tx, &old, deleting); err != nil {
			return old, err
		}
	}
	if k.record(&old).Version != version {
		return old, k.stale(id)
	}
	return old, nil
}

func (k *kind[T]) stale(id int64) error {
	return models.Errorf(models.Stale, "%s %d was changed by somebody else since it was read: read it again, then make the change", k.name, id)
}

// written is done for a row that was written.
func (k *kind[T]) written(tx *Tx, what string, err error) error {
	return tx.done(what+" "+k.name, clash(err, k.name))
}

// only refuses a second record of a kind where there may be one: one that the filters hold for and that is not id. It looks at the whole
// academy, whoever asks.
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
