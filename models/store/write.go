package store

import (
	"fmt"
	"slices"
	"strings"

	"throughline/models"
)

// How records are written. A write is always of a batch, and a single record is a batch of one:
//
//	facts    what the rules ask about is read once for the whole batch
//	admit    each record is checked in turn against the facts, and becomes one of them
//	put      the rows are written together
//	follow   what follows from them is done: who may write them is checked, then wrote and follows are called
//	noted    each record has its entry in the audit trail; all entries are written together when the transaction commits
//
// Observations are made once for each player in each match, when the transaction commits: see observe.

// change is what becomes of one record: old is nil for a new one, now for one that is deleted.
type change[T any] struct {
	old, now *T
	same     *T // the record that now is, sent a second time: nothing is written
}

func (c *change[T]) action() models.AuditAction {
	switch {
	case c.old == nil:
		return models.AuditCreate
	case c.now == nil:
		return models.AuditDelete
	}
	return models.AuditChange
}

// create writes a new record and fills in its Record: a batch of one.
func (k *kind[T]) create(tx *Tx, r *T) error {
	refused, err := k.createAll(tx, []*T{r})
	if err != nil {
		return err
	}
	return refused[0]
}

// createAll writes new records, all or none, and fills in their Records. It returns why each of them is
// refused, with nil for one that is not; where any is refused, nothing is written.
func (k *kind[T]) createAll(tx *Tx, all []*T) (refused []error, err error) {
	if err := k.mayChange(tx); err != nil {
		return nil, err
	}
	made, err := k.drawn(tx, all, len(all) > 1)
	if err != nil {
		return nil, err
	}
	changes, refused, err := k.admitAll(tx, made)
	if err != nil || anyError(refused) {
		tx.book = nil // it has become that of records that are not written
		return refused, err
	}
	if err := k.write(tx, changes); err != nil {
		return nil, err
	}
	for n, c := range changes {
		if c.same != nil {
			c.now = c.same
		}
		*all[n] = *c.now
	}
	return refused, nil
}

// drawn copies new records and gives them what every new row has, ids too where that is asked for: records of a
// batch have theirs before they are written and can refer to each other. That of a single one is the database's
// to choose.
func (k *kind[T]) drawn(tx *Tx, all []*T, number bool) ([]*T, error) {
	ids := make([]int64, len(all))
	if number {
		var err error
		if ids, err = tx.draw(k.table, len(all)); err != nil {
			return nil, err
		}
	}
	made := make([]*T, len(all))
	for n, r := range all {
		fresh := *r
		*k.record(&fresh) = models.Record{ID: ids[n], AcademyID: tx.who.AcademyID, Version: 1, CreatedAt: tx.now,
			ChangedAt: tx.now}
		if k.author != nil {
			if by := k.author(&fresh); *by == 0 {
				*by = tx.who.UserID
			}
		}
		made[n] = &fresh
	}
	return made, nil
}

// admitAll checks new records against their own rules and those between records, each against the facts with
// the ones before it.
func (k *kind[T]) admitAll(tx *Tx, made []*T) (changes []change[T], refused []error, err error) {
	changes, refused = make([]change[T], len(made)), make([]error, len(made))
	var good []*T
	for n, r := range made {
		changes[n].now = r
		if refused[n] = k.validate(r); refused[n] == nil {
			good = append(good, r)
		}
	}
	if err := k.learn(tx, good); err != nil {
		return nil, nil, err
	}
	for n := range changes {
		if refused[n] == nil {
			refused[n] = k.admit(tx, changes, n)
		}
	}
	return changes, refused, tx.failed
}

// learn reads the facts for some records.
func (k *kind[T]) learn(tx *Tx, all []*T) error {
	if k.facts == nil || len(all) == 0 {
		return nil
	}
	return k.facts(tx, all)
}

// admit checks the nth change of a batch against the facts, and makes it one of them.
func (k *kind[T]) admit(tx *Tx, batch []change[T], n int) error {
	c := &batch[n]
	if c.old == nil && k.again != nil {
		same, err := k.again(tx, c.now)
		if err != nil {
			return err
		}
		if same != nil {
			c.same = same
			if slices.ContainsFunc(batch[:n], func(c change[T]) bool { return k.record(c.now).ID == k.record(same).ID }) {
				return k.asBefore(tx, same, c.now)
			}
			if err := k.permits(tx, same); err != nil {
				return err
			}
			return k.asBefore(tx, same, c.now)
		}
	}
	if k.check != nil {
		if err := k.check(tx, c.old, c.now); err != nil {
			return err
		}
	}
	if k.owner != nil && !k.owner(tx, c.now) {
		return k.notMine(tx)
	}
	if k.record(c.now).ID != 0 {
		k.kept(tx, c)
	}
	return nil
}

func (k *kind[T]) kept(tx *Tx, c *change[T]) {
	if k.keep != nil {
		k.keep(tx, c.old, c.now)
	}
}

// write writes changes that were admitted, with all that follows from them.
func (k *kind[T]) write(tx *Tx, all []change[T]) error {
	var some []change[T]
	for _, c := range all {
		if c.same == nil {
			some = append(some, c)
		}
	}
	if len(some) == 0 {
		return nil
	}
	if err := k.keepEarlier(tx, some); err != nil {
		return err
	}
	if err := k.put(tx, some); err != nil {
		return err
	}
	if err := k.follow(tx, some); err != nil {
		return err
	}
	for _, c := range some {
		if err := k.noted(tx, c.action(), c.old, c.now); err != nil {
			return err
		}
	}
	return nil
}

// put writes the rows of changes, which are all new, all changed or all deleted.
func (k *kind[T]) put(tx *Tx, all []change[T]) error {
	switch {
	case all[0].now == nil:
		return k.hide(tx, all)
	case all[0].old != nil:
		for i := range all {
			if err := k.replace(tx, &all[i]); err != nil {
				return err
			}
		}
		return nil
	case len(all) == 1 && k.record(all[0].now).ID == 0:
		if err := k.written(tx, "create", tx.query().Create(all[0].now).Error); err != nil {
			return err
		}
		k.kept(tx, &all[0])
		return nil
	}
	made := make([]T, len(all))
	for n, c := range all {
		made[n] = *c.now
	}
	return k.written(tx, "create", insert(tx, made, ""))
}

// replace writes every column by name, zero values too; the condition on the version is what makes it safe.
func (k *kind[T]) replace(tx *Tx, c *change[T]) error {
	now, version := k.record(c.now), k.record(c.old).Version
	done := tx.query().Model(new(T)).Where("academy_id = ? AND id = ? AND version = ?", tx.who.AcademyID, now.ID,
		version).
		Select("*").Omit("id", "academy_id", "created_at", "deleted_at").Updates(c.now)
	if err := k.written(tx, "change", done.Error); err != nil {
		return err
	}
	if done.RowsAffected != 1 {
		return tx.done("change "+k.name, k.stale(now.ID))
	}
	return nil
}

// hide hides the rows of deleted records.
func (k *kind[T]) hide(tx *Tx, all []change[T]) error {
	ids := make([]int64, len(all))
	for n, c := range all {
		ids[n] = k.record(c.old).ID
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		err := tx.exec("delete "+k.name, "UPDATE "+k.table+` SET deleted_at = ?, changed_at = ?, version = version + 1
			WHERE academy_id = ? AND id IN ? AND deleted_at IS NULL`, tx.now, tx.now, tx.who.AcademyID, some)
		if err != nil {
			return err
		}
	}
	return nil
}

// follow does what follows from rows that were written.
func (k *kind[T]) follow(tx *Tx, all []change[T]) error {
	if err := k.allMine(tx, all); err != nil {
		return tx.done("write "+k.name, err) // the rows are there already: they must not be committed
	}
	if k.facts == nil {
		tx.book = nil // the facts may depend on a record of this kind
	}
	if k.wrote != nil {
		for _, c := range all {
			if err := k.wrote(tx, c.old, c.now); err != nil {
				return err
			}
		}
	}
	if k.follows != nil {
		return k.follows(tx, all)
	}
	return nil
}

// update replaces a record. r carries the id and the version that was read.
func (k *kind[T]) update(tx *Tx, r *T) error {
	if err := k.mayChange(tx); err != nil {
		return err
	}
	given := k.record(r)
	old, err := k.changing(tx, given.ID, given.Version, false, r)
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
	if err := k.learn(tx, []*T{&made}); err != nil {
		return err
	}
	one := []change[T]{{old: &old, now: &made}}
	if err := k.admit(tx, one, 0); err != nil {
		return err
	}
	if err := k.write(tx, one); err != nil {
		return err
	}
	*r = made
	return nil
}

// remove deletes a record with its own items. It is a Conflict while other records use it.
func (k *kind[T]) remove(tx *Tx, id, version int64) error {
	if err := k.mayChange(tx); err != nil {
		return err
	}
	old, err := k.changing(tx, id, version, true, nil)
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
	for _, h := range k.holds {
		if h.own == nil {
			continue
		}
		if err := h.own(tx, h.column, id); err != nil {
			return err
		}
	}
	return k.write(tx, []change[T]{{old: &old}})
}

// goes is what a hold says of rows that go with the record: they are deleted, each with an entry of its own in
// the audit trail.
func goes[T any](of func() *kind[T]) func(tx *Tx, column string, id int64) error {
	return func(tx *Tx, column string, id int64) error {
		k := of()
		own, err := k.find(tx, where{}, that(k.table+"."+column+" = ?", id))
		if err != nil {
			return err
		}
		all := make([]change[T], len(own))
		for i := range own {
			all[i].old = &own[i]
		}
		return k.write(tx, all)
	}
}

// free refuses to delete a record that others need.
func (k *kind[T]) free(tx *Tx, id int64) error {
	var needed []string
	for _, h := range k.holds {
		if h.own != nil || h.stays != "" {
			continue
		}
		n, err := tx.count("find what refers to "+k.name, "SELECT count(*) FROM "+h.table+" WHERE academy_id = ? AND "+
			h.column+
			" = ? AND deleted_at IS NULL", tx.who.AcademyID, id)
		if err != nil {
			return err
		}
		if n > 0 {
			needed = append(needed, fmt.Sprintf("%s (%d)", h.name, n))
		}
	}
	if len(needed) > 0 {
		return models.Errorf(models.Conflict, "%s %d cannot be deleted while it has %s", k.name, id,
			strings.Join(needed, ", "))
	}
	return nil
}

// mayChange refuses a caller who may change no record of the kind.
func (k *kind[T]) mayChange(tx *Tx) error {
	if !tx.writes {
		return fmt.Errorf("change %s: the transaction is read-only", k.name)
	}
	if _, some := k.reaching(tx, models.Write); !some {
		return models.Errorf(models.Forbidden, "%s may not change %s records", tx.role(), k.name)
	}
	return nil
}

// role is the caller, as an error says it.
func (tx *Tx) role() string {
	if tx.who.Role == models.RoleOperator {
		return "an operator"
	}
	return "a " + string(tx.who.Role)
}

// permits refuses a record that the caller may not change, as the facts say or else as it is in the database now.
func (k *kind[T]) permits(tx *Tx, r *T) error {
	if k.owner == nil {
		return k.mine(tx, k.record(r).ID)
	}
	if !k.owner(tx, r) {
		return k.notMine(tx)
	}
	return nil
}

// allMine refuses records that were written unless the caller may change every one. A deleted record was asked before.
func (k *kind[T]) allMine(tx *Tx, all []change[T]) error {
	if k.owner != nil || all[0].now == nil {
		return nil
	}
	ids := make([]int64, len(all))
	for n, c := range all {
		ids[n] = k.record(c.now).ID
	}
	return k.mine(tx, ids...)
}

// mine refuses records unless the caller may change every one, as it is in the database now.
func (k *kind[T]) mine(tx *Tx, ids ...int64) error {
	reach, _ := k.reaching(tx, models.Write)
	if reach.sql == "" {
		return nil
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		var n int64
		err := k.from(tx, reach, that(k.table+".id IN ?", some)).Count(&n).Error
		if err := tx.done("check who may change "+k.name, err); err != nil {
			return err
		}
		if n != int64(len(some)) {
			return k.notMine(tx)
		}
	}
	return nil
}

func (k *kind[T]) notMine(tx *Tx) error {
	return models.Errorf(models.Forbidden, "%s may not change this %s", tx.who.Name, k.name)
}

// changing returns the record that is to be changed into sent or deleted, as it is. Whether the caller may counts
// before the version. If the record has changed since that version, the error says what and by whom.
func (k *kind[T]) changing(tx *Tx, id, version int64, deleting bool, sent *T) (T, error) {
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
	if k.record(&old).Version == version {
		return old, nil
	}
	changed, err := k.since(tx, version, &old, sent)
	if err != nil {
		return old, err
	}
	return old, &models.Error{Code: models.Stale, Message: k.staleMessage(id), Changed: changed}
}

func (k *kind[T]) stale(id int64) error { return models.Errorf(models.Stale, "%s", k.staleMessage(id)) }

func (k *kind[T]) staleMessage(id int64) string {
	return fmt.Sprintf("someone else changed %s %d after you read it: read it again, then make your change", k.name, id)
}

// written is done for a row that was written.
func (k *kind[T]) written(tx *Tx, what string, err error) error {
	return tx.done(what+" "+k.name, clash(err, k.name))
}

func anyError(all []error) bool {
	for _, err := range all {
		if err != nil {
			return true
		}
	}
	return false
}
