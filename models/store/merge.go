package store

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"throughline/models"
)

func playerMerges() *kind[models.PlayerMerge] {
	return &kind[models.PlayerMerge]{
		name: "player merge", table: "player_merges", area: models.AreaMerges,
		order:  "player_merges.academy_id, player_merges.id",
		record: func(m *models.PlayerMerge) *models.Record { return &m.Record },
		player: about(func(m *models.PlayerMerge) int64 { return m.PlayerID }),
		users:  []string{"merged_by", "undone_by"},
		within: everyone,
		load:   loadMerges,
	}
}

// loadMerges fills in the names of both records, and until when a merge can be undone.
func loadMerges(tx *Tx, all []models.PlayerMerge) error {
	type named struct {
		ID   int64
		Name string
	}
	names := map[int64]string{}
	var ids []int64
	for _, m := range all {
		ids = append(ids, m.PlayerID, m.OtherID)
	}
	for some := range slices.Chunk(compacted(ids), idsAtOnce) {
		found, err := rows[named](tx, "read the names of players",
			"SELECT id, name FROM players WHERE academy_id = ? AND id IN ?", tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, n := range found {
			names[n.ID] = n.Name
		}
	}
	for i := range all {
		m := &all[i]
		m.Name, m.OtherName = names[m.PlayerID], names[m.OtherID]
		if m.UndoableOn(tx.today()) {
			m.UndoUntil = m.LastUndo()
		}
	}
	return nil
}

// PlayerMerges returns the merges of players, oldest first.
func (tx *Tx) PlayerMerges() ([]models.PlayerMerge, error) { return playerMerges().list(tx) }

// PlayerMerge returns a merge of players.
func (tx *Tx) PlayerMerge(id int64) (models.PlayerMerge, error) { return playerMerges().get(tx, id) }

// persons are the ids under which things about a player are kept: those of records that were merged into theirs, then
// their own.
func (tx *Tx) persons(player int64) ([]int64, error) {
	all := []int64{player}
	for next := all; len(next) > 0; {
		found, err := rows[int64](tx, "find records that were merged", `SELECT other_id FROM player_merges
			WHERE academy_id = ? AND player_id IN ? AND undone_at IS NULL AND deleted_at IS NULL`, tx.who.AcademyID, next)
		if err != nil {
			return nil, err
		}
		next = found
		all = append(all, found...)
	}
	slices.Reverse(all)
	return all, nil
}

// merging is a merge that was looked at and not done yet.
type merging struct {
	models.MergePlan
	aside    []models.MergedRow
	filled   []string
	consents []models.MergedConsent
}

// MergePlan returns what merging another record into a player's would do, and what stands against it. Only a manager
// may ask.
func (tx *Tx) MergePlan(player, other int64) (models.MergePlan, error) {
	m, err := tx.merging(player, other)
	return m.MergePlan, err
}

func (tx *Tx) merging(player, other int64) (m merging, err error) {
	if m.Player, err = tx.Player(player); err != nil { // a hidden player is not there
		return m, err
	}
	if tx.who.Reach(models.Read, models.AreaMerges) != models.ReachAcademy {
		return m, models.Errorf(models.Forbidden, "%s may not merge players", tx.role())
	}
	if m.Other, err = players().known(tx, "other_id", other); err != nil {
		return m, err
	}
	if player == other {
		return m, wrong("other_id", "both are the same record; choose two different records of one person")
	}
	m.Has, m.Refused, m.Settled = []models.MergeCount{}, []models.MergeClash{}, []models.MergeClash{}
	for _, look := range []func(*merging) error{tx.mergeCounts, tx.mergeFields, tx.mergeRows, tx.mergeEvents,
		tx.mergeGoals, tx.mergeConsents, tx.mergeDowns} {
		if err := look(&m); err != nil {
			return m, err
		}
	}
	text, err := json.Marshal(m.MergePlan)
	if err != nil {
		return m, fmt.Errorf("mark a plan: %w", err)
	}
	sum := sha256.Sum256(text)
	m.Seen = hex.EncodeToString(sum[:8])
	return m, nil
}

func (m *merging) refuse(table, format string, args ...any) {
	m.Refused = append(m.Refused, models.MergeClash{Table: table, Words: fmt.Sprintf(format, args...)})
}

func (m *merging) settle(table, format string, args ...any) {
	m.Settled = append(m.Settled, models.MergeClash{Table: table, Words: fmt.Sprintf(format, args...)})
}

// mergeCounts counts what each of the two has.
func (tx *Tx) mergeCounts(m *merging) error {
	count := func(table, title, what, condition string) error {
		has := models.MergeCount{Table: table, Title: title}
		for _, side := range []struct {
			id   int64
			into *int
		}{{m.Player.ID, &has.Player}, {m.Other.ID, &has.Other}} {
			w := of(condition, side.id)
			n, err := tx.count("count "+table, "SELECT "+what+" AND "+w.sql, append([]any{tx.who.AcademyID}, w.args...)...)
			if err != nil {
				return err
			}
			*side.into = int(n)
		}
		if has.Player+has.Other > 0 {
			m.Has = append(m.Has, has)
		}
		return nil
	}
	for _, t := range movers() {
		if t.kind.name == "" && t.table != "candidates" {
			continue
		}
		named := make([]string, len(t.columns))
		for i, c := range t.columns {
			named[i] = "x." + c + " = ?"
		}
		err := count(t.table, t.title, "count(*) FROM "+t.table+" AS x WHERE x.academy_id = ? AND "+t.live("x"),
			"("+strings.Join(named, " OR ")+")")
		if err != nil {
			return err
		}
		if t.table == "appearances" {
			err := count("minutes", "Minutes played", `CAST(sum(minutes) AS integer) FROM appearances
				WHERE academy_id = ? AND deleted_at IS NULL`, "player_id = ?")
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// mergeFields compares what the two records say of the person.
func (tx *Tx) mergeFields(m *merging) error {
	a, b := &m.Player, &m.Other
	if a.BornOn != nil && b.BornOn != nil && *a.BornOn != *b.BornOn {
		m.refuse("players", "The birth dates differ, %s and %s: if they are one person, correct the wrong one.", *a.BornOn,
			*b.BornOn)
	}
	if a.Name != b.Name {
		m.settle("players", "The names differ: %s stays.", a.Name)
	}
	for _, f := range []struct {
		field, words string
		takes        bool
	}{
		{"known_as", "the short name", a.KnownAs == "" && b.KnownAs != ""},
		{"born_on", "the birth date", a.BornOn == nil && b.BornOn != nil},
		{"positions", "the positions", len(a.Positions) == 0 && len(b.Positions) > 0},
	} {
		if f.takes {
			m.filled = append(m.filled, f.field)
			m.settle("players", "The record that stays takes over %s.", f.words)
		}
	}
	return nil
}

// mergeRows finds rows of the two that cannot both be those of one person.
func (tx *Tx) mergeRows(m *merging) error {
	for _, t := range movers() {
		found, err := tx.meets(t, m.Player.ID, m.Other.ID)
		if err != nil {
			return err
		}
		var ids []int64
		for _, f := range found {
			ids = append(ids, f.A, f.B)
		}
		said, err := tx.said(t, compacted(ids)...)
		if err != nil {
			return err
		}
		covers := t.covers
		if covers == nil {
			covers = saysAll
		}
		for _, f := range found {
			place, err := tx.meetingPlace(t, f.B, said[f.B])
			if err != nil {
				return err
			}
			aside := int64(0)
			switch a, b := said[f.A], said[f.B]; {
			case a == nil || b == nil:
			case covers(a, b):
				aside = f.B
			case covers(b, a):
				aside = f.A
			}
			if aside == 0 {
				m.refuse(t.table, "Both have %s, and the two differ: %s.", place, t.mend)
				continue
			}
			if t.table != "guardians" {
				m.settle(t.table, "Both have %s: the one that says all stays, and the other is set aside.", place)
			}
			m.aside = append(m.aside, models.MergedRow{Table: t.table, ID: aside})
		}
	}
	return nil
}

// meetingPlace says in words what two rows are that meet, and where: by what one of them says.
func (tx *Tx) meetingPlace(t merged, id int64, says map[string]json.RawMessage) (string, error) {
	called := t.kind.called
	switch t.table {
	case "candidates":
		type place struct {
			Place string
			Date  models.Date
		}
		at, _, err := first(rows[place](tx, "read a candidacy", `SELECT c.place, m.date FROM candidates AS c
			JOIN meetings AS m ON m.academy_id = c.academy_id AND m.id = c.meeting_id
			WHERE c.academy_id = ? AND c.id = ?`, tx.who.AcademyID, id))
		return fmt.Sprintf("a candidacy for %s at the meeting of %s", at.Place, at.Date), err
	case "match_totals":
		called = "totals"
	case "users":
		called = "account"
	}
	var at struct {
		MatchID   *int64       `json:"match_id"`
		SessionID *int64       `json:"session_id"`
		MeetingID *int64       `json:"meeting_id"`
		SquadID   *int64       `json:"squad_id"`
		From      *models.Date `json:"from"`
		Skill     string       `json:"skill"`
		Block     string       `json:"block"`
	}
	text, err := json.Marshal(says)
	if err == nil {
		err = json.Unmarshal(text, &at)
	}
	if err != nil {
		return "", fmt.Errorf("read %s %d: %w", called, id, err)
	}
	words := called
	if called != "totals" {
		words = withArticle(called)
	}
	if at.Skill != "" {
		s, _, err := tx.skillOf(at.Skill)
		if err != nil {
			return "", err
		}
		words = "a grade by the same coach for " + strings.ToLower(s.Label)
	}
	switch {
	case at.MatchID != nil:
		g, _, err := first(matches().find(tx, where{}, that("matches.id = ?", *at.MatchID)))
		return fmt.Sprintf("%s in the match against %s on %s", words, g.Opponent, g.Date), err
	case at.Block != "":
		return words + " in the training block " + at.Block, nil
	case at.SessionID != nil:
		g, _, err := first(trainingSessions().find(tx, where{}, that("training_sessions.id = ?", *at.SessionID)))
		return fmt.Sprintf("%s at the training session on %s", words, g.Date), err
	case at.MeetingID != nil:
		g, _, err := first(meetings().find(tx, where{}, that("meetings.id = ?", *at.MeetingID)))
		return fmt.Sprintf("%s at the meeting of %s", words, g.Date), err
	case at.SquadID != nil && at.From != nil:
		g, _, err := first(squads().find(tx, where{}, that("squads.id = ?", *at.SquadID)))
		return fmt.Sprintf("%s of %s from %s", words, g.Name, *at.From), err
	case at.From != nil:
		return fmt.Sprintf("%s from %s", words, *at.From), nil
	}
	return words, nil
}

// withArticle puts a or an before words.
func withArticle(words string) string {
	if strings.ContainsRune("aeiou", rune(words[0])) && !strings.HasPrefix(words, "user") {
		return "an " + words
	}
	return "a " + words
}

// mergeEvents refuses where the one player replaced the other.
func (tx *Tx) mergeEvents(m *merging) error {
	found, err := matchEvents().find(tx, where{}, that("match_events.player_id = ? AND match_events.off_id = ? OR "+
		"match_events.player_id = ? AND match_events.off_id = ?", m.Player.ID, m.Other.ID, m.Other.ID, m.Player.ID))
	for _, e := range found {
		g, _, err := first(matches().find(tx, where{}, that("matches.id = ?", e.MatchID)))
		if err != nil {
			return err
		}
		m.refuse("match_events", "In the match against %s on %s the one replaced the other: correct that event if they are "+
			"one person.", g.Opponent, g.Date)
	}
	return err
}

// mergeGoals names the targets on which both have an open goal.
func (tx *Tx) mergeGoals(m *merging) error {
	found, err := goals().find(tx, where{}, that("goals.closed_on IS NULL AND goals.player_id IN ?",
		[]int64{m.Player.ID, m.Other.ID}))
	if err != nil {
		return err
	}
	for _, a := range found {
		for _, b := range found {
			if a.PlayerID != m.Player.ID || b.PlayerID != m.Other.ID || a.Indicator != b.Indicator || a.Skill != b.Skill {
				continue
			}
			label := a.Indicator
			if a.Skill != "" {
				s, _, err := tx.skillOf(a.Skill)
				if err != nil {
					return err
				}
				label = s.Label
			} else if on, err := tx.indicatorOf("indicator", a.Indicator); err == nil {
				label = on.Label
			}
			m.settle("goals", "Both have an open goal on %s: both stay open, so close one of them afterwards.",
				strings.ToLower(label))
		}
	}
	return nil
}

// mergeConsents finds the consents that end earlier once the two are one person.
func (tx *Tx) mergeConsents(m *merging) error {
	of := func(player int64) ([]models.Consent, error) {
		return consents().find(tx, where{}, that("consents.player_id = ?", player))
	}
	a, err := of(m.Player.ID)
	if err != nil {
		return err
	}
	b, err := of(m.Other.ID)
	if err != nil {
		return err
	}
	m.consents = models.Stricter(a, b)
	labels := map[models.Purpose]string{}
	for _, p := range models.ConsentPurposes() {
		labels[p.Code] = strings.ToLower(p.Label)
	}
	for _, c := range slices.Concat(a, b) {
		for _, now := range m.consents {
			switch {
			case now.ID != c.ID:
			case now.NowWithdrawn != now.Withdrawn:
				m.settle("consents", "Consent to %s was withdrawn on one record on %s: the stricter holds, so the other "+
					"consent to it ends too.", labels[c.Purpose], *now.NowWithdrawn)
			default:
				m.settle("consents", "Consent to %s ends on %s on one record: the stricter holds, so the other consent to it "+
					"ends then too.", labels[c.Purpose], *now.NowUntil)
			}
		}
	}
	return nil
}

// mergeDowns names the matches that the one played while the other was stood down.
func (tx *Tx) mergeDowns(m *merging) error {
	type played struct {
		Opponent string
		Date     models.Date
	}
	both := []int64{m.Player.ID, m.Other.ID}
	found, err := rows[played](tx, "find matches during stand-downs", `SELECT DISTINCT g.opponent, g.date
		FROM stand_downs AS s JOIN appearances AS a ON a.academy_id = s.academy_id AND a.player_id <> s.player_id
		JOIN matches AS g ON g.academy_id = a.academy_id AND g.id = a.match_id
		WHERE s.academy_id = ? AND s.player_id IN ? AND a.player_id IN ? AND s.deleted_at IS NULL
		AND a.deleted_at IS NULL AND g.date >= s.from_date AND (s.lifted_on IS NULL OR g.date < s.lifted_on)
		ORDER BY g.date, g.opponent`, tx.who.AcademyID, both, both)
	for _, g := range found {
		m.settle("stand_downs", "One record was stood down on %s, and the other played against %s that day. The stand-down "+
			"moves with the record. Tell the medical lead.", g.Date, g.Opponent)
	}
	return err
}

// MergePlayers merges m.OtherID into m.PlayerID and fills in the rest of m. Everything that is kept about the other
// player is then about the player who stays; the other record is deleted, and UndoMerge puts both back. Where the two
// meet, nothing is lost: see MergePlan; what must be mended first is a Conflict. Seen is the mark of the plan that the
// caller was shown, or empty; another plan than that is Stale. Only a manager may.
func (tx *Tx) MergePlayers(m *models.PlayerMerge, seen string) error {
	if err := playerMerges().mayChange(tx); err != nil {
		return err
	}
	plan, err := tx.merging(m.PlayerID, m.OtherID)
	if err != nil {
		return err
	}
	if seen != "" && seen != plan.Seen {
		return models.Errorf(models.Stale, "the records of %s and %s changed after you looked at them: look again, then "+
			"merge", plan.Player.Name, plan.Other.Name)
	}
	if err := plan.Refusal(); err != nil {
		return err
	}
	if err := tx.stir(m.PlayerID, m.OtherID); err != nil {
		return err
	}
	*m = models.PlayerMerge{PlayerID: m.PlayerID, OtherID: m.OtherID, MergedBy: tx.byWho(), Moved: map[string]int{},
		Kept:   models.MergeKept{Rows: plan.aside, Filled: plan.filled, Consents: plan.consents},
		Record: models.Record{AcademyID: tx.who.AcademyID, Version: 1, CreatedAt: tx.now, ChangedAt: tx.now}}
	for _, row := range plan.aside {
		if err := tx.hideRow(row, true); err != nil {
			return err
		}
	}
	for _, t := range movers() {
		moved, err := tx.move(t, plan)
		if err != nil {
			return err
		}
		if len(moved) > 0 {
			m.Moved[t.table] += len(moved)
			m.Kept.Rows = append(m.Kept.Rows, moved...)
		}
	}
	if err := tx.endConsents(plan.consents, true); err != nil {
		return err
	}
	for _, table := range []string{"trends", "trend_draws"} {
		if err := tx.exec("forget trends", "DELETE FROM "+table+" WHERE academy_id = ? AND player_id = ?",
			tx.who.AcademyID, m.OtherID); err != nil {
			return err
		}
	}
	if err := tx.fill(plan); err != nil {
		return err
	}
	if err := players().write(tx, []change[models.Player]{{old: &plan.Other}}); err != nil {
		return err
	}
	if err := tx.done("keep a merge", tx.query().Create(m).Error); err != nil {
		return err
	}
	m.Name, m.OtherName, m.UndoUntil = plan.Player.Name, plan.Other.Name, m.LastUndo()
	tx.noteMerge(models.AuditCreate, nil, m)
	return tx.stir(m.PlayerID, m.OtherID)
}

// noteMerge adds an entry about a merge for each of the two players. It names neither: they may turn out to be two
// people.
func (tx *Tx) noteMerge(action models.AuditAction, old, m *models.PlayerMerge) {
	unnamed := func(m models.PlayerMerge) models.PlayerMerge {
		m.Name, m.OtherName, m.UndoUntil = "", "", ""
		return m
	}
	var before, after any = nil, unnamed(*m)
	if old != nil {
		before = unnamed(*old)
	}
	for _, player := range []int64{m.PlayerID, m.OtherID} {
		tx.note(action, playerMerges().name, m.ID, player, before, after)
	}
}

// stir marks what follows from the records of two players as out of date: observations of their matches, and the
// trends of their squads. What was known of them is forgotten.
func (tx *Tx) stir(a, b int64) error {
	both := []int64{a, b}
	games, err := rows[int64](tx, "find the matches of two players", `SELECT match_id FROM appearances
		WHERE academy_id = ? AND player_id IN ? UNION SELECT match_id FROM observations WHERE academy_id = ?
		AND player_id IN ? ORDER BY 1`, tx.who.AcademyID, both, tx.who.AcademyID, both)
	if err != nil {
		return err
	}
	for _, g := range games {
		tx.touch(a, g)
		tx.touch(b, g)
	}
	tx.book, tx.owners, tx.shows = nil, nil, true
	if err := tx.movedPlayer(a, ""); err != nil {
		return err
	}
	return tx.movedPlayer(b, "")
}

// hideRow sets a row aside, or takes it up again.
func (tx *Tx) hideRow(row models.MergedRow, hide bool) error {
	var at any
	if hide {
		at = tx.now
	}
	return tx.exec("set a row of "+row.Table+" aside", "UPDATE "+row.Table+` SET deleted_at = ?, version = version + 1
		WHERE academy_id = ? AND id = ?`, at, tx.who.AcademyID, row.ID)
}

// move re-points the rows of a table from the other player to the one who stays, and returns which they were. A row
// that was set aside stays where it is, hidden.
func (tx *Tx) move(t merged, plan merging) ([]models.MergedRow, error) {
	var all []models.MergedRow
	for _, column := range t.columns {
		found, err := tx.rowsOf(t, column, plan)
		if err != nil {
			return nil, err
		}
		found = slices.DeleteFunc(found, func(r models.MergedRow) bool {
			return slices.ContainsFunc(plan.aside, func(a models.MergedRow) bool {
				return a.Table == r.Table && a.ID == r.ID &&
					r.ID != 0
			})
		})
		if err := tx.point(t, column, found, plan.Other.ID, plan.Player.ID); err != nil {
			return nil, err
		}
		all = append(all, found...)
	}
	return all, nil
}

// rowsOf are the rows of a table that name the other player in a column, hidden ones too.
func (tx *Tx) rowsOf(t merged, column string, plan merging) ([]models.MergedRow, error) {
	var all []models.MergedRow
	if t.key == nil {
		ids, err := rows[int64](tx, "find rows of "+t.table, "SELECT id FROM "+t.table+" WHERE academy_id = ? AND "+column+
			" = ? ORDER BY id", tx.who.AcademyID, plan.Other.ID)
		for _, id := range ids {
			all = append(all, models.MergedRow{Table: t.table, Column: column, ID: id})
		}
		return all, err
	}
	texts, same := make([]string, len(t.key)), []string{}
	values, into := make([]string, len(t.key)), make([]any, len(t.key))
	for i, k := range t.key {
		texts[i], into[i] = "CAST(b."+k+" AS text)", &values[i]
		same = append(same, "a."+k+" = b."+k)
	}
	statement := "SELECT " + strings.Join(texts, ", ") + " FROM " + t.table + " AS b WHERE b.academy_id = ? AND b." +
		column + " = ?"
	args := []any{tx.who.AcademyID, plan.Other.ID}
	if t.leaves {
		statement += " AND NOT EXISTS (SELECT 1 FROM " + t.table + " AS a WHERE a.academy_id = b.academy_id AND a." +
			column + " = ? AND " + strings.Join(same, " AND ") + ")"
		args = append(args, plan.Player.ID)
	}
	err := tx.each("find rows of "+t.table, statement+" ORDER BY "+strings.Join(texts, ", "), args, into, func() {
		all = append(all, models.MergedRow{Table: t.table, Column: column, Key: slices.Clone(values)})
	})
	return all, err
}

// point changes whom rows name in a column, from one player to another. A row that names someone else by now stays.
func (tx *Tx) point(t merged, column string, all []models.MergedRow, from, to int64) error {
	if t.key == nil {
		for some := range slices.Chunk(all, idsAtOnce) {
			ids := make([]int64, len(some))
			for i := range some {
				ids[i] = some[i].ID
			}
			err := tx.exec("move rows of "+t.table, "UPDATE "+t.table+" SET "+column+` = ?, version = version + 1
				WHERE academy_id = ? AND `+column+" = ? AND id IN ?", to, tx.who.AcademyID, from, ids)
			if err != nil {
				return err
			}
		}
		return nil
	}
	for _, row := range all {
		w := that("academy_id = ? AND "+column+" = ?", tx.who.AcademyID, from)
		for i, k := range t.key {
			w = and(w, that("CAST("+k+" AS text) = ?", row.Key[i]))
		}
		err := tx.exec("move a row of "+t.table, "UPDATE "+t.table+" SET "+column+" = ? WHERE "+w.sql,
			append([]any{to}, w.args...)...)
		if err != nil {
			return err
		}
	}
	return nil
}

// endConsents has consents end earlier, as the stricter one says, or again as before where they still end so.
func (tx *Tx) endConsents(all []models.MergedConsent, earlier bool) error {
	for _, c := range all {
		old, found, err := first(consents().find(tx, where{}, that("consents.id = ?", c.ID)))
		if err != nil {
			return err
		}
		was, wasWithdrawn, until, withdrawn := c.Until, c.Withdrawn, c.NowUntil, c.NowWithdrawn
		if !earlier {
			was, wasWithdrawn, until, withdrawn = until, withdrawn, was, wasWithdrawn
		}
		if !found || orZero(old.Until) != orZero(was) || orZero(old.WithdrawnOn) != orZero(wasWithdrawn) {
			continue // it was changed since, or deleted
		}
		now := old
		now.Until, now.WithdrawnOn, now.Version, now.ChangedAt = until, withdrawn, old.Version+1, tx.now
		if err := consents().write(tx, []change[models.Consent]{{old: &old, now: &now}}); err != nil {
			return err
		}
	}
	return nil
}

// fill has the record that stays take over what the other alone says of the person.
func (tx *Tx) fill(plan merging) error {
	if len(plan.filled) == 0 {
		return nil
	}
	now := plan.Player
	for _, field := range plan.filled {
		switch field {
		case "known_as":
			now.KnownAs = plan.Other.KnownAs
		case "born_on":
			now.BornOn = plan.Other.BornOn
		case "positions":
			now.Positions = plan.Other.Positions
		}
	}
	now.Version, now.ChangedAt = now.Version+1, tx.now
	return players().write(tx, []change[models.Player]{{old: &plan.Player, now: &now}})
}
