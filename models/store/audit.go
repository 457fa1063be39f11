package store

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"throughline/models"
)

// entry is what is to be added to the audit trail when the transaction commits.
type entry struct {
	who        models.Who
	at         time.Time
	action     models.AuditAction
	kind       string
	id, player int64
	before     any
	after      any
}

// note adds to the audit trail what was done to a record, and how it was before and is after; nil for nothing. It is
// written with the rest of the transaction or not at all.
func (tx *Tx) note(action models.AuditAction, kind string, id, player int64, before, after any) {
	tx.trail = append(tx.trail, entry{tx.who, tx.now, action, kind, id, player, before, after})
}

// noted adds to the trail what was done to a record of a kind. If the record was about another player before, each of
// the two players gets an entry: what was said about one must not outlast them in an entry about the other.
func (k *kind[T]) noted(tx *Tx, action models.AuditAction, old, r *T) error {
	now := r
	if now == nil {
		now = old
	}
	player := int64(0)
	if k.player != nil {
		var err error
		if player, err = k.player(tx, now); err != nil {
			return err
		}
		if old != nil && r != nil {
			before, err := k.player(tx, old)
			if err != nil {
				return err
			}
			if before != player {
				k.tell(tx, action, before, old, nil)
				old = nil
			}
		}
	}
	k.tell(tx, action, player, old, r)
	return nil
}

// tell adds an entry about one player, or about none.
func (k *kind[T]) tell(tx *Tx, action models.AuditAction, player int64, old, r *T) {
	now := r
	if now == nil {
		now = old
	}
	e := entry{who: tx.who, at: tx.now, action: action, kind: k.name, id: k.record(now).ID, player: player}
	said := k.said
	if said == nil {
		said = func(r T) any { return r }
	}
	if old != nil {
		e.before = said(*old)
	}
	if r != nil {
		e.after = said(*r)
	}
	tx.trail = append(tx.trail, e)
}

// about is the player of a record that names one.
func about[T any](player func(*T) int64) func(*Tx, *T) (int64, error) {
	return func(_ *Tx, r *T) (int64, error) { return player(r), nil }
}

// owner is a row of a table that names a player, for those that refer to it.
type owner struct {
	table string
	id    int64
}

// playerOf returns the player of a log, a goal or a user, 0 for none. The caller may see few enough of them to look up
// each one once.
func (tx *Tx) playerOf(table string, id int64) (int64, error) {
	if player, known := tx.owners[owner{table, id}]; known {
		return player, nil
	}
	player, err := tx.count("find whose record it is", "SELECT player_id FROM "+table+" WHERE academy_id = ? AND id = ?",
		tx.who.AcademyID, id)
	if err != nil {
		return 0, err
	}
	tx.owns(owner{table, id}, player)
	return player, nil
}

// owns remembers whose a row is.
func (tx *Tx) owns(row owner, player int64) {
	if tx.owners == nil {
		tx.owners = map[owner]int64{}
	}
	tx.owners[row] = player
}

// writeTrail seals and writes the entries of the transaction. Writers of one academy wait for each other: no other
// takes the next number.
func (tx *Tx) writeTrail() error {
	if len(tx.trail) == 0 {
		return nil
	}
	last, found, err := first(rows[models.AuditEntry](tx, "read the end of the audit trail",
		"SELECT number, hash FROM audit_entries WHERE academy_id = ? ORDER BY number DESC LIMIT 1", tx.who.AcademyID))
	if err != nil {
		return err
	}
	var previous *models.AuditEntry
	if found {
		previous = &last
	}
	sealed := make([]models.AuditEntry, len(tx.trail))
	for i, e := range tx.trail {
		payload := models.AuditPayload{Salt: make([]byte, 16), From: e.who.From, Before: e.before, After: e.after}
		rand.Read(payload.Salt) // never fails: see its documentation
		text, err := json.Marshal(payload)
		if err != nil {
			return fmt.Errorf("write the audit trail: %w", err)
		}
		said := string(text)
		sealed[i] = models.AuditEntry{
			AcademyID: tx.who.AcademyID, At: e.at, UserID: e.who.UserID, TokenID: e.who.TokenID, Role: e.who.Role,
			Action: e.action, Kind: e.kind,
			RecordID: e.id, PlayerID: e.player, Payload: &said,
		}
		if err := sealed[i].Seal(previous); err != nil {
			return err
		}
		previous = &sealed[i]
	}
	tx.trail = nil
	if len(sealed) == 1 {
		return tx.done("write the audit trail", tx.query().Create(&sealed[0]).Error)
	}
	return insert(tx, sealed, "")
}

// NoteImport notes in the trail that all that was written in this transaction came from a file, by its name. It is
// called last, and notes nothing if nothing was written.
func (tx *Tx) NoteImport(source string) error {
	if !tx.writes {
		return fmt.Errorf("record an import: the transaction is read-only")
	}
	if n := len(tx.trail); n > 0 {
		tx.note(models.AuditImport, "import", 0, 0, nil, models.Imported{Source: source, Entries: n})
	}
	return nil
}

// LastChange returns the number of the last change of the academy's records, 0 if nothing was ever changed. While it
// stays the same, what was read of the records still holds.
func (tx *Tx) LastChange() (int64, error) {
	return tx.count("find the last change", `SELECT number FROM audit_entries WHERE academy_id = ? AND action <> ?
		ORDER BY number DESC LIMIT 1`, tx.who.AcademyID, models.AuditRead)
}

// AuditEntries returns entries of the audit trail by number.
func (tx *Tx) AuditEntries(f models.AuditFilter) ([]models.AuditEntry, error) {
	part := tx.turn()
	w, err := tx.audited(f)
	if err != nil {
		return nil, err
	}
	all, err := inOrder[models.AuditEntry](tx.query().Model(&models.AuditEntry{}).Where(w.sql, w.args...), "audit entry",
		"audit_entries.academy_id, audit_entries.number", part)
	return all, tx.done("read the audit trail", err)
}

// LatestAuditEntries returns at most so many entries of the audit trail, the last first, that come before a number; 0
// for from the end.
func (tx *Tx) LatestAuditEntries(f models.AuditFilter, before int64, limit int) ([]models.AuditEntry, error) {
	w, err := tx.audited(f)
	if err != nil {
		return nil, err
	}
	if before > 0 {
		w = and(w, that("audit_entries.number < ?", before))
	}
	all := []models.AuditEntry{}
	err = tx.query().Where(w.sql, w.args...).Order("audit_entries.number DESC").Limit(limit).Find(&all).Error
	return all, tx.done("read the audit trail", err)
}

// audited is the condition of the entries that a filter asks for, where the caller may read the trail at all.
func (tx *Tx) audited(f models.AuditFilter) (where, error) {
	if tx.who.Reach(models.Read, models.AreaAudit) != models.ReachAcademy {
		return where{}, models.Errorf(models.Forbidden, "a %s may not read the audit trail", tx.who.Role)
	}
	w := and(that("audit_entries.academy_id = ?", tx.who.AcademyID), is("audit_entries.player_id", f.PlayerID),
		is("audit_entries.user_id", f.UserID),
		is("audit_entries.action", f.Action), is("audit_entries.kind", f.Kind), is("audit_entries.record_id", f.RecordID))
	for _, day := range []struct {
		condition string
		date      *models.Date
		add       int
	}{{"audit_entries.at >= ?", f.From, 0}, {"audit_entries.at < ?", f.Until, 1}} {
		if day.date == nil {
			continue
		}
		at, err := day.date.Time()
		if err != nil {
			return where{}, err
		}
		w = and(w, that(day.condition, at.AddDate(0, 0, day.add)))
	}
	return w, nil
}

// Trail is what a check of an academy's audit trail found to hold.
type Trail struct {
	Entries int64
	Erased  int64              // entries whose payload was erased
	Last    *models.AuditEntry // nil if the trail is empty
}

// trailAtOnce is how many entries are held in memory while the trail is checked.
const trailAtOnce = 2000

// VerifyTrail checks every entry of the academy's audit trail against the one before it. Known, where it is not nil,
// is the number and the hash of an entry that was noted down outside the database: only that shows that nothing was
// cut off the end. The error names the first entry that does not hold.
func (tx *Tx) VerifyTrail(known *models.AuditEntry) (Trail, error) {
	var t Trail
	for {
		some := []models.AuditEntry{}
		w, err := tx.audited(models.AuditFilter{})
		if err != nil {
			return t, err
		}
		w = and(w, that("audit_entries.number > ?", t.Entries))
		if err := tx.query().Where(w.sql,
			w.args...).Order("audit_entries.number").Limit(trailAtOnce).Find(&some).Error; err != nil {
			return t, tx.done("read the audit trail", err)
		}
		for i := range some {
			e := &some[i]
			if err := e.Follows(t.Last); err != nil {
				return t, models.Errorf(models.Conflict, "%v", err)
			}
			if known != nil && e.Number == known.Number && !slices.Equal(e.Hash, known.Hash) {
				return t, models.Errorf(models.Conflict, "entry %d of the audit trail does not match the mark you noted",
					e.Number)
			}
			t.Entries, t.Last = e.Number, e
			if e.Payload == nil {
				t.Erased++
			}
		}
		if len(some) < trailAtOnce {
			break
		}
	}
	if known != nil && known.Number > t.Entries {
		return t, models.Errorf(models.Conflict, "the audit trail ends at entry %d, but you noted entry %d: entries have "+
			"been cut off", t.Entries, known.Number)
	}
	return t, nil
}

// saw remembers that the caller has read a record about a player: reads of a minor's record by staff are accounted
// for. Writes have entries of their own.
func (tx *Tx) saw(kind string, player int64) {
	if tx.writes || player == 0 || !tx.who.Staff() {
		return
	}
	seen := sight{player: player, kind: kind}
	if seen == tx.last { // rows of one player follow one another
		return
	}
	tx.last = seen
	if tx.reads == nil {
		tx.reads = map[sight]struct{}{}
	}
	tx.reads[seen] = struct{}{}
}

// sight is a player, and what kind of record of their was read.
type sight struct {
	player int64
	kind   string
	season int64 // of a season report that was opened; 0 for a record
}

// accounted are the areas whose lists are a read of each player's record in them. A list of names or of who played in
// a match is not; a single record about a player always is.
var accounted = []models.Area{
	models.AreaConsents, models.AreaSafety, models.AreaPerformance, models.AreaRatings, models.AreaSelfRatings,
	models.AreaGoals, models.AreaCheckIns, models.AreaNotes, models.AreaReviews, models.AreaAnswers,
}

// sawAll remembers that the caller has read records of the kind.
func (k *kind[T]) sawAll(tx *Tx, all []T) error {
	if tx.writes || k.player == nil || !tx.who.Staff() {
		return nil
	}
	for i := range all {
		player, err := k.player(tx, &all[i])
		if err != nil {
			return err
		}
		tx.saw(k.name, player)
		tx.owns(owner{k.table, k.record(&all[i]).ID}, player) // what belongs to it is often read next
	}
	return nil
}

// AccountForReads writes the reads that are waiting into the audit trail at once, instead of in a moment.
func (s *Store) AccountForReads(ctx context.Context) error { return s.sights.flush(ctx, s) }
