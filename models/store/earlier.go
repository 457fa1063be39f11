package store

import (
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"

	"throughline/models"
)

// This file keeps records as they were. A kind that says keeps has its rows stored in earlier_versions before each
// change and each deletion, with who made it and when.
//
// Callers who may read a record may read its earlier versions, with two exceptions: a version about another player
// than the record is about now, and what the kind's earlier leaves out, such as a text that was for staff only then.

// keepEarlier stores what changes replace.
func (k *kind[T]) keepEarlier(tx *Tx, all []change[T]) error {
	if !k.keeps || all[0].old == nil {
		return nil
	}
	proofs, err := tx.erasures()
	if err != nil {
		return err
	}
	kept := make([]models.EarlierVersion, len(all))
	for n, c := range all {
		said, err := json.Marshal(c.old)
		if err != nil {
			return fmt.Errorf("keep an earlier %s: %w", k.name, err)
		}
		was := k.record(c.old)
		if mentionedSince(proofs, models.Mention{Kind: k.name, RecordID: was.ID}, was.ChangedAt) {
			if said, err = withoutTexts(c.old, said); err != nil {
				return fmt.Errorf("keep an earlier %s: %w", k.name, err)
			}
		}
		kept[n] = models.EarlierVersion{AcademyID: tx.who.AcademyID, Kind: k.name, RecordID: was.ID, Version: was.Version,
			UserID: tx.who.UserID, At: tx.now, Deleted: c.now == nil, Said: string(said)}
		if k.player == nil {
			continue
		}
		player, err := k.player(tx, c.old)
		if err != nil {
			return err
		}
		if player != 0 {
			kept[n].PlayerID = &player
		}
	}
	return insert(tx, kept, "")
}

// The words in place of what an erasure took out of an earlier version.
const (
	nameErased    = "[name erased]"
	textNotKept   = "[not kept: the text may have named a person whose data was erased]"
	leastNamePart = 3 // letters; mentions searches no shorter parts of a name either
)

// erasures are the proofs of erasures.
func (tx *Tx) erasures() ([]models.DataRequest, error) {
	return dataRequests().find(tx, where{}, that("data_requests.kind = ?", models.RequestErasure))
}

// mentionedSince says whether the proof of an erasure lists a record as it still stands: what replaces it takes a name
// out, so the text that it replaces is not kept.
func mentionedSince(proofs []models.DataRequest, m models.Mention, changed time.Time) bool {
	return slices.ContainsFunc(proofs, func(d models.DataRequest) bool {
		return !d.CreatedAt.Before(changed) && slices.Contains(d.Mentions, m)
	})
}

// withoutTexts is the JSON of a record without what people wrote into it freely.
func withoutTexts(of any, said []byte) ([]byte, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(said, &members); err != nil {
		return nil, err
	}
	for _, f := range reflect.VisibleFields(reflect.TypeOf(of).Elem()) {
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if _, there := members[name]; there && f.Type == reflect.TypeFor[string]() && f.Tag.Get("texts") != "-" {
			members[name], _ = json.Marshal(textNotKept)
		}
	}
	return json.Marshal(members)
}

// eraseFromEarlier takes the name of a player out of the earlier versions of others' records, which no one can edit:
// the whole name however it is spelt, and its parts as they are recorded. Other people with that name lose it there
// too. What is left, such as a name in small letters, is in the proof's list.
func (tx *Tx) eraseFromEarlier(p models.Player) (int, error) {
	parts := nameParts(p)
	names := make([]string, len(parts))
	for i, part := range parts {
		names[i] = regexp.QuoteMeta(part)
	}
	if len(names) == 0 {
		return 0, nil
	}
	// letters and digits of any script end no word; Go's \b knows those of ASCII alone
	name := regexp.MustCompile(`(^|[^\p{L}\p{N}])((?i:` + names[0] + `)|` + strings.Join(names, "|") +
		`)($|[^\p{L}\p{N}])`)
	w := where{}
	for _, part := range parts {
		for _, spelt := range spellings(part) {
			w = or(w, that(`lower(said) LIKE ? ESCAPE '\'`, "%"+likeEscape.Replace(spelt)+"%"))
		}
	}
	w = and(that("academy_id = ?", tx.who.AcademyID), w)
	all, err := rows[models.EarlierVersion](tx, "find earlier versions that name the player",
		"SELECT * FROM earlier_versions WHERE "+w.sql, w.args...)
	if err != nil {
		return 0, err
	}
	changed := 0
	for _, v := range all {
		said, err := replaceInTexts(v.Record(), func(text string) string {
			for { // two names may share the blank between them
				next := name.ReplaceAllString(text, "${1}"+nameErased+"${3}")
				if next == text {
					return text
				}
				text = next
			}
		})
		if err != nil {
			return 0, fmt.Errorf("erase from an earlier %s: %w", v.Kind, err)
		}
		if string(said) == v.Said {
			continue
		}
		err = tx.exec("erase from an earlier version", "DELETE FROM earlier_versions WHERE academy_id = ? AND kind = ? "+
			"AND record_id = ? AND version = ?", tx.who.AcademyID, v.Kind, v.RecordID, v.Version)
		if err != nil {
			return 0, err
		}
		v.AcademyID, v.Said = tx.who.AcademyID, string(said)
		if err := insert(tx, []models.EarlierVersion{v}, ""); err != nil {
			return 0, err
		}
		changed++
	}
	return changed, nil
}

// replaceInTexts changes the strings in JSON. What changes none is returned as it is.
func replaceInTexts(said json.RawMessage, change func(string) string) (json.RawMessage, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(said, &members); err != nil {
		return nil, err
	}
	changed := false
	for member, value := range members {
		var text string
		if json.Unmarshal(value, &text) != nil {
			continue // a number, or a list of ids
		}
		if now := change(text); now != text {
			members[member], _ = json.Marshal(now)
			changed = true
		}
	}
	if !changed {
		return said, nil
	}
	return json.Marshal(members)
}

// Earlier returns the earlier versions of a record, the first version first, to callers who may read the record. Kind
// is the name of a kind that keeps them, such as "goal".
func (tx *Tx) Earlier(kind string, id int64) ([]models.EarlierVersion, error) {
	i := slices.IndexFunc(kinds(), func(t table) bool { return t.called == kind && t.earlier != nil })
	if i < 0 {
		return nil, fmt.Errorf("read earlier versions: the kind %q keeps none", kind)
	}
	return kinds()[i].earlier(tx, id)
}

// earlierOf returns the earlier versions of one record that the caller may read.
func (k *kind[T]) earlierOf(tx *Tx, id int64) ([]models.EarlierVersion, error) {
	now, err := k.get(tx, id)
	if err != nil {
		return nil, err
	}
	return k.before(tx, &now)
}

// before returns the earlier versions of a record that the caller may read.
func (k *kind[T]) before(tx *Tx, now *T) ([]models.EarlierVersion, error) {
	all, err := rows[models.EarlierVersion](tx, "read earlier versions", `SELECT * FROM earlier_versions
		WHERE academy_id = ? AND kind = ? AND record_id = ? ORDER BY version`, tx.who.AcademyID, k.name, k.record(now).ID)
	if err != nil {
		return nil, err
	}
	return k.mayKnow(tx, now, all)
}

// mayKnow leaves out versions that the caller may not read although they read the record.
func (k *kind[T]) mayKnow(tx *Tx, now *T, all []models.EarlierVersion) ([]models.EarlierVersion, error) {
	player := int64(0)
	if k.player != nil {
		var err error
		if player, err = k.player(tx, now); err != nil {
			return nil, err
		}
	}
	left := []models.EarlierVersion{}
	for _, v := range all {
		if v.PlayerID != nil && *v.PlayerID != player {
			continue
		}
		if k.earlier != nil {
			var was T
			if err := json.Unmarshal(v.Record(), &was); err != nil {
				return nil, fmt.Errorf("read an earlier %s: %w", k.name, err)
			}
			if !k.earlier(tx, &was) {
				continue
			}
			said, err := json.Marshal(was)
			if err != nil {
				return nil, fmt.Errorf("read an earlier %s: %w", k.name, err)
			}
			v.Said = string(said)
		}
		left = append(left, v)
	}
	return left, nil
}

// whenShared is what a kind with notes for staff only says of its earlier versions: callers who read shared ones alone
// read those that were shared.
func whenShared[T any](area models.Area, shared func(*T) bool) func(*Tx, *T) bool {
	return func(tx *Tx, was *T) bool {
		switch tx.who.Reach(models.Read, area) {
		case models.ReachOwnShared, models.ReachSquadsShared:
			return shared(was)
		}
		return true
	}
}

// earlierRead reads out the earlier versions of all records about a player: those of deleted records too for callers
// who may read the whole academy.
func earlierRead(tx *Tx, player int64) ([]json.RawMessage, error) {
	all := []json.RawMessage{}
	for _, t := range kinds() {
		if t.earlierOut == nil {
			continue
		}
		some, err := t.earlierOut(tx, player)
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	return all, nil
}

// earlierOut reads out the kind's earlier versions about a player.
func (k *kind[T]) earlierOut(tx *Tx, player int64) ([]json.RawMessage, error) {
	reach, some := k.reaching(tx, models.Read)
	if !some {
		return nil, nil
	}
	all, err := rows[models.EarlierVersion](tx, "read out earlier versions", `SELECT * FROM earlier_versions
		WHERE academy_id = ? AND player_id = ? AND kind = ? ORDER BY record_id, version`, tx.who.AcademyID, player, k.name)
	if err != nil || len(all) == 0 || tx.who.Reach(models.Read, k.area) == models.ReachAcademy {
		return raw(all, err)
	}
	var ids []int64
	for _, v := range all {
		ids = append(ids, v.RecordID)
	}
	known, err := k.find(tx, reach, that(k.table+".id IN ?", slices.Compact(ids)))
	if err != nil {
		return nil, err
	}
	left := []models.EarlierVersion{}
	for i := range known {
		own := slices.DeleteFunc(slices.Clone(all), func(v models.EarlierVersion) bool {
			return v.RecordID != k.record(&known[i]).ID
		})
		if own, err = k.mayKnow(tx, &known[i], own); err != nil {
			return nil, err
		}
		left = append(left, own...)
	}
	return raw(left, nil)
}

// since says what has changed in a record since a version, for a caller who wanted to change that version into sent
// or, where sent is nil, to delete it. Of a kind that keeps earlier versions the record is compared with the version
// itself, otherwise with what was sent.
func (k *kind[T]) since(tx *Tx, version int64, now, sent *T) (*models.Changed, error) {
	names, err := tx.UserNames()
	if err != nil {
		return nil, err
	}
	kept, err := k.keptSince(tx, version, now)
	if err != nil {
		return nil, err
	}
	var by int64
	if len(kept) > 0 {
		by = kept[len(kept)-1].UserID
	} else if by, err = k.lastChangedBy(tx, now); err != nil {
		return nil, err
	}
	c := &models.Changed{ByID: by, By: names[by], At: k.record(now).ChangedAt, Fields: []models.ChangedField{}}
	stands, err := models.Members(now)
	if err != nil {
		return nil, err
	}
	var wanted map[string]json.RawMessage
	if sent != nil {
		if wanted, err = models.Members(sent); err != nil {
			return nil, err
		}
	}
	switch {
	case len(kept) > 0:
		err = changedSince(c, kept, stands, wanted, names)
	case wanted != nil:
		for _, name := range models.Differing(wanted, stands) {
			c.Fields = append(c.Fields, models.ChangedField{Field: name, Yours: wanted[name], Sent: wanted[name],
				Now: stands[name]})
		}
	}
	return c, err
}

// keptSince returns the versions that were kept from one on, the first of them that version; none if it is not kept
// or the caller may not read it.
func (k *kind[T]) keptSince(tx *Tx, version int64, now *T) ([]models.EarlierVersion, error) {
	if !k.keeps {
		return nil, nil
	}
	all, err := k.before(tx, now)
	i := slices.IndexFunc(all, func(v models.EarlierVersion) bool { return v.Version == version })
	if err != nil || i < 0 {
		return nil, err
	}
	return all[i:], nil
}

// changedSince adds the fields in which the record differs from the first of its versions, each with who changed it
// last.
func changedSince(c *models.Changed, kept []models.EarlierVersion, stands, wanted map[string]json.RawMessage,
	names map[int64]string) error {
	states := make([]map[string]json.RawMessage, 0, len(kept)+1)
	for _, v := range kept {
		state, err := models.Members(v.Record())
		if err != nil {
			return fmt.Errorf("read an earlier version: %w", err)
		}
		states = append(states, state)
	}
	states = append(states, stands)
	for _, name := range models.Differing(states[0], stands) {
		last := len(kept) - 1
		for slices.Equal(states[last][name], states[last+1][name]) {
			last--
		}
		by := kept[last]
		c.Fields = append(c.Fields, models.ChangedField{Field: name, Yours: states[0][name], Sent: wanted[name],
			Now: stands[name], ByID: by.UserID, By: names[by.UserID], At: &by.At})
	}
	return nil
}

// lastChangedBy returns the user who changed a record last, as the audit trail says; 0 for the console.
func (k *kind[T]) lastChangedBy(tx *Tx, now *T) (int64, error) {
	player := int64(0)
	if k.player != nil {
		var err error
		if player, err = k.player(tx, now); err != nil {
			return 0, err
		}
	}
	whose := that("player_id = 0")
	if player != 0 {
		whose = that("player_id = ? AND player_id <> 0", player)
	}
	w := and(that("academy_id = ?", tx.who.AcademyID), whose, that("kind = ? AND record_id = ? AND action IN ?", k.name,
		k.record(now).ID, []models.AuditAction{models.AuditCreate, models.AuditChange}))
	return tx.count("find who changed a record last", "SELECT user_id FROM audit_entries WHERE "+w.sql+
		" ORDER BY number DESC LIMIT 1", w.args...)
}
