package store

import (
	"encoding/json"
	"fmt"
	"slices"

	"throughline/models"
)

// mergeRule says what becomes of the rows of one table when two players are merged, see MergePlayers. The rows of a
// kind that name a player in player_id need no rule: all of them move.
type mergeRule struct {
	columns []string // that name a player; nil: player_id
	key     []string // what names a row of a player where rows have no id
	// together is the condition that a row, a, of the one player and a row, b, of the other cannot both be those of one
	// person. Where one of the two says all that the other does, that other is set aside; otherwise the merge is refused.
	together string
	// mend is what a person must do first where neither says all, for an error.
	mend string
	// covers says whether a row says all that another does; nil: if they say the same wherever the other says anything
	covers func(a, b map[string]json.RawMessage) bool
	// Rows that meet another of the player who stays do not move.
	leaves bool
	stays  string // why the rows stay as they are
	remade string // by what the rows are made again, if they are deleted
	// by is the table whose rows the rows belong to: they name no player.
	by string
}

const sameTime = `a.from_date <= COALESCE(b.until_date, '9999-12-31') AND
	b.from_date <= COALESCE(a.until_date, '9999-12-31')`

// mergeRules are the rules of those tables that are no plain kinds. A test compares them with the traces of a player
// and with the columns and unique indexes of the database.
func mergeRules() map[string]mergeRule {
	return map[string]mergeRule{
		"players": {stays: "they are the two records"},
		"memberships": {together: "a.season_id = b.season_id AND a.squad_id = b.squad_id AND " + sameTime,
			covers: within("season_id", "squad_id"), mend: "change the dates of one of the two"},
		"spells": {together: sameTime, covers: within("status"), mend: "change the dates of one of the two"},
		"appearances": {together: "a.match_id = b.match_id",
			mend: "if they are one person, take one of the two off the team sheet"},
		"match_events": {columns: []string{"player_id", "off_id"}},
		"logs":         {together: "a.match_id = b.match_id AND a.logger_id = b.logger_id", mend: "delete one of the two"},
		"involvements": {by: "logs"},
		"match_totals": {together: "a.match_id = b.match_id", mend: "delete one of the two"},
		"observations": {remade: "the same transaction"}, "carry_cells": {remade: "the same transaction"},
		"publications":     {stays: "the next round publishes the trends of the record that stays"},
		"trends":           {remade: "the job that makes trends"},
		"trend_draws":      {remade: "the job that makes trends"},
		"forecasts":        {stays: "they say what was forecast then"},
		"forecast_pairs":   {stays: "they say what was forecast then"},
		"earlier_versions": {key: []string{"kind", "record_id", "version"}},
		"guardians": {together: "a.name = b.name AND a.relation = b.relation AND a.contact = b.contact",
			mend: "delete one of the two"},
		"attendances": {together: "a.session_id = b.session_id", mend: "correct one of the two"},
		"candidates": {key: []string{"meeting_id", "place"}, together: "a.meeting_id = b.meeting_id AND a.place = b.place",
			mend: "take one of the two out of the meeting"},
		"candidate_evidence": {key: []string{"meeting_id", "place"}},
		"report_openings":    {key: []string{"season_id", "user_id", "opened_on"}, leaves: true},
		"packed_reports":     {stays: "they are over within a day"},
		"report_packs":       {stays: "they are over within a day"},
		"ratings": {together: `a.rater_id = b.rater_id AND a.skill = b.skill AND (a.match_id = b.match_id
			OR a.match_id IS NULL AND b.match_id IS NULL AND a.block = b.block AND a.date = b.date)`,
			mend: "delete one of the two grades, or give both the same"},
		"recommendations": {together: "a.meeting_id = b.meeting_id AND a.author_id = b.author_id",
			mend: "delete one of the two"},
		"users":            {together: "a.id <> b.id", mend: "remove one of the two accounts"},
		"note_answers":     {by: "review_notes"},
		"review_answers":   {by: "reviews"},
		"check_ins":        {by: "goals"},
		"sessions":         {by: "users"},
		"devices":          {by: "users"},
		"sign_in_attempts": {by: "users"},
		"refused_sign_ins": {by: "users"},
		"links":            {by: "users"},
		"access_tokens":    {by: "users"},
		"repeats":          {stays: "they are over within a day"},
		"data_requests":    {stays: "a proof names the record that it is about"},
		"player_merges":    {stays: "they say what went where"},
		"audit_entries":    {stays: "an entry never changes"},
	}
}

// merged is a table whose rows move in a merge.
type merged struct {
	trace
	mergeRule
	kind table // the zero value for a table without a kind
}

// movers are the tables whose rows move when two players are merged, in the order of traces.
func movers() []merged {
	rules := mergeRules()
	var all []merged
	for _, t := range everyTrace() {
		m := merged{trace: t, mergeRule: rules[t.table]}
		if m.stays != "" || m.remade != "" || m.by != "" {
			continue
		}
		if m.columns == nil {
			m.columns = []string{"player_id"}
		}
		for _, k := range tables() {
			if k.name == t.table && k.kind {
				m.kind = k
				break
			}
		}
		all = append(all, m)
	}
	return all
}

// live is the condition that a row is not hidden, where rows can be.
func (m merged) live(alias string) string {
	if m.kind.name == "" {
		return "1 = 1"
	}
	return alias + ".deleted_at IS NULL"
}

// met are two rows that cannot both be those of one person.
type met struct{ A, B int64 }

// meets returns the rows of two players that cannot both be those of one person. Both must be shown.
func (tx *Tx) meets(m merged, a, b int64) ([]met, error) {
	if m.together == "" {
		return nil, nil
	}
	return rows[met](tx, "find where two players meet in "+m.table, "SELECT a.id AS a, b.id AS b FROM "+m.table+
		" AS a JOIN "+m.table+" AS b ON b.academy_id = a.academy_id AND b.player_id = ? AND "+m.live("b")+
		" WHERE a.academy_id = ? AND a.player_id = ? AND a.id <> b.id AND "+m.live("a")+" AND "+m.together+
		" ORDER BY a.id, b.id", b, tx.who.AcademyID, a)
}

// said are the members of rows in JSON, by id.
func (tx *Tx) said(m merged, ids ...int64) (map[int64]map[string]json.RawMessage, error) {
	all := map[int64]map[string]json.RawMessage{}
	if m.kind.byID == nil {
		return all, nil
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		found, err := m.kind.byID(tx, some)
		if err != nil {
			return nil, err
		}
		for id, text := range found {
			members := map[string]json.RawMessage{}
			if err := json.Unmarshal(text, &members); err != nil {
				return nil, fmt.Errorf("read %s %d: %w", m.kind.called, id, err)
			}
			all[id] = members
		}
	}
	return all, nil
}

// beside are the members that do not count when two rows are compared: they say whose a row is, and when and by whom
// it was written.
var beside = []string{"id", "version", "created_at", "changed_at", "player_id", "recorded_by", "stop",
	"shown_after"}

// saysAll says whether a row says all that another does.
func saysAll(a, b map[string]json.RawMessage) bool {
	for name, value := range b {
		follows := slices.Contains(beside, name) || name == "counts" && (string(value) == "true" || string(value) == "false")
		if !follows && string(a[name]) != string(value) {
			return false
		}
	}
	return true
}

// within says whether a row, from a day to another, covers another that says the same in some members.
func within(members ...string) func(a, b map[string]json.RawMessage) bool {
	return func(a, b map[string]json.RawMessage) bool {
		for _, name := range members {
			if string(a[name]) != string(b[name]) {
				return false
			}
		}
		day := func(of map[string]json.RawMessage, name string) (d models.Date) {
			_ = json.Unmarshal(of[name], &d)
			return d
		}
		end := func(of map[string]json.RawMessage) models.Date {
			if d := day(of, "until"); d != "" {
				return d
			}
			return "9999-12-31"
		}
		return day(a, "from") <= day(b, "from") && end(b) <= end(a)
	}
}
