package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"throughline/models"
)

// trace is a table with data about players: how it is exported, and what becomes of it when a player's data are
// erased. A test compares the traces with the database: it fails for a table that names players and is not here.
type trace struct {
	table string
	title string
	read  func(tx *Tx, player int64) ([]json.RawMessage, error) // nil if it is read out with another
	// first does what must be done before the statements of erase and cannot be said in SQL. It may be nil.
	first func(tx *Tx, player int64) error
	// erase are the statements that erase or unlink, in their order; @academy, @player and @now stand for
	// themselves. Without any the rows stay.
	erase []string
	// derived says that it follows from the kind: see everyTrace.
	derived bool
}

// traces lists what is erased or kept. Rows stand before those that they refer to.
//
// After an erasure a player is a number that played in certain positions, without a name, a birth date, a shirt or a
// word. So the figures of the squad and of its other players do not change. Coaches' grades of the player stay as
// numbers, because a coach's severity is estimated from all of their grades.
func traces() []trace {
	return []trace{
		{table: "players", title: "Player", erase: []string{
			`UPDATE players SET name = 'Erased player ' || id, known_as = '', born_on = NULL, erased_at = @now,
				deleted_at = @now, changed_at = @now, version = version + 1
				WHERE academy_id = @academy AND id = @player`}},
		{table: "memberships", title: "Memberships of squads", read: read(memberships(), "memberships.player_id = ?")},
		{table: "spells", title: "Availability", read: read(spells(), "spells.player_id = ?"), erase: []string{
			"DELETE FROM spells WHERE academy_id = @academy AND player_id = @player"}},
		{table: "appearances", title: "Appearances", read: read(appearances(), "appearances.player_id = ?"), erase: []string{
			"UPDATE appearances SET shirt = NULL WHERE academy_id = @academy AND player_id = @player AND shirt IS NOT NULL"}},
		{table: "match_events", title: "Match events",
			read: read(matchEvents(), "match_events.player_id = ? OR match_events.off_id = ?"), erase: []string{
				"UPDATE match_events SET player_id = NULL WHERE academy_id = @academy AND player_id = @player",
				"UPDATE match_events SET off_id = NULL WHERE academy_id = @academy AND off_id = @player"}},
		{table: "logs", title: "Involvement logs", read: read(logs(), "logs.player_id = ?"), erase: []string{
			"UPDATE logs SET key = '', logged_on_because = '' WHERE academy_id = @academy AND player_id = @player AND (key " +
				"<> '' OR logged_on_because <> '')"}},
		{table: "involvements", title: "Involvements", first: keepCounting, read: read(involvements(), "logs.player_id = ?"),
			erase: []string{
				`UPDATE involvements SET options = '', note = '', key = '', video_file = '', video_from = NULL, video_to = NULL,
					moment = false, head_contact = false
				WHERE academy_id = @academy AND log_id IN (SELECT id FROM logs WHERE academy_id = @academy
				AND player_id = @player)`}},
		{table: "match_totals", title: "Match totals", read: read(matchTotals(), "match_totals.player_id = ?")},
		{table: "observations", title: "Observations", read: func(tx *Tx, player int64) ([]json.RawMessage, error) {
			return raw(tx.Observations(models.ObservationFilter{PlayerID: player}))
		}},
		{table: "carry_cells", title: "Measured carries", read: func(tx *Tx, player int64) ([]json.RawMessage, error) {
			return raw(tx.CarryCells(models.ObservationFilter{PlayerID: player}))
		}},
		{table: "publications", title: "Trends, as published after each round of matches",
			read: func(tx *Tx, player int64) ([]json.RawMessage, error) {
				return raw(tx.Publications(models.TrendFilter{PlayerID: player}))
			}, erase: []string{"DELETE FROM publications WHERE academy_id = @academy AND player_id = @player"}},
		// Not exported: they would reveal other players' figures. What is the player's own in them is published.
		{table: "trends", title: "Trends", erase: []string{"DELETE FROM trends WHERE academy_id = @academy AND " +
			"player_id = @player"}},
		{table: "forecasts", title: "Forecasts of coming matches, and what happened", read: forecastsRead, erase: []string{
			"DELETE FROM forecasts WHERE academy_id = @academy AND player_id = @player"}},
		{table: "forecast_pairs", title: "Forecasts against another player, and what happened", read: forecastPairsRead,
			erase: []string{
				"DELETE FROM forecast_pairs WHERE academy_id = @academy AND (player_id = @player OR other_id = @player)"}},
		{table: "earlier_versions", title: "Earlier versions of records", read: earlierRead, erase: []string{
			"DELETE FROM earlier_versions WHERE academy_id = @academy AND player_id = @player"}},
		{table: "consents", title: "Consents", read: read(consents(), "consents.player_id = ?"), erase: []string{
			"DELETE FROM consents WHERE academy_id = @academy AND player_id = @player"}},
		{table: "guardians", title: "Guardians", read: read(guardians(), "guardians.player_id = ?"), erase: []string{
			"DELETE FROM guardians WHERE academy_id = @academy AND player_id = @player"}},
		{table: "stand_downs", title: "Stand-downs", read: read(standDowns(), "stand_downs.player_id = ?"), erase: []string{
			"DELETE FROM stand_downs WHERE academy_id = @academy AND player_id = @player"}},
		{table: "head_contacts", title: "Head contacts", read: read(headContacts(), "head_contacts.player_id = ?"),
			erase: []string{
				"DELETE FROM head_contacts WHERE academy_id = @academy AND player_id = @player"}},
		{table: "retention_reviews", title: "Reviews of how long to keep the record",
			read: read(retentionReviews(), "retention_reviews.player_id = ?"), erase: []string{
				"DELETE FROM retention_reviews WHERE academy_id = @academy AND player_id = @player"}},
		{table: "note_answers", title: "Answers to review notes", read: read(noteAnswers(), "review_notes.player_id = ?"),
			erase: []string{
				"DELETE FROM note_answers WHERE academy_id = @academy AND note_id IN (SELECT id FROM review_notes WHERE " +
					"academy_id = @academy AND player_id = @player)"}},
		{table: "review_answers", title: "Answers to reviews", read: read(reviewAnswers(), "reviews.player_id = ?"),
			erase: []string{
				"DELETE FROM review_answers WHERE academy_id = @academy AND review_id IN (SELECT id FROM reviews WHERE " +
					"academy_id = @academy AND player_id = @player)"}},
		{table: "reviews", title: "Reviews", read: read(reviews(), "reviews.player_id = ?"), erase: []string{
			"DELETE FROM reviews WHERE academy_id = @academy AND player_id = @player"}},
		{table: "check_ins", title: "Check-ins on goals", read: read(checkIns(), "goals.player_id = ?"), erase: []string{
			"DELETE FROM check_ins WHERE academy_id = @academy AND goal_id IN (SELECT id FROM goals WHERE academy_id = " +
				"@academy AND player_id = @player)"}},
		{table: "review_notes", title: "Review notes", read: read(reviewNotes(), "review_notes.player_id = ?"),
			erase: []string{
				"DELETE FROM review_notes WHERE academy_id = @academy AND player_id = @player"}},
		{table: "attendances", title: "Attendance at training", read: read(attendances(), "attendances.player_id = ?"),
			erase: []string{"DELETE FROM attendances WHERE academy_id = @academy AND player_id = @player"}},
		{table: "training_observations", title: "Training observations",
			read: read(trainingObservations(), "training_observations.player_id = ?"), erase: []string{
				"DELETE FROM training_observations WHERE academy_id = @academy AND player_id = @player"}},
		{table: "goals", title: "Goals", read: read(goals(), "goals.player_id = ?"), erase: []string{
			"DELETE FROM goals WHERE academy_id = @academy AND player_id = @player"}},
		{table: "candidate_evidence", title: "Evidence at selection meetings", read: evidenceRead, erase: []string{
			"DELETE FROM candidate_evidence WHERE academy_id = @academy AND player_id = @player"}},
		{table: "corrections", title: "Corrections of selection meetings",
			read: read(corrections(), "corrections.player_id = ?"), erase: []string{
				"DELETE FROM corrections WHERE academy_id = @academy AND player_id = @player"}},
		{table: "report_openings", title: "Days on which staff opened the season report", read: openingsRead,
			erase: []string{"DELETE FROM report_openings WHERE academy_id = @academy AND player_id = @player"}},
		// Not exported: the reports can be made again from what is. Those of other players may tell of this one, so no pack
		// of the academy stays.
		{table: "packed_reports", title: "Packs of reports", erase: []string{
			"DELETE FROM packed_reports WHERE academy_id = @academy"}},
		{table: "report_packs", title: "Packs of reports, whose and when", erase: []string{
			"DELETE FROM report_packs WHERE academy_id = @academy"}},
		// Not exported, as trends are not.
		{table: "trend_draws", title: "Draws behind trends", erase: []string{
			"DELETE FROM trend_draws WHERE academy_id = @academy AND player_id = @player"}},
		{table: "candidates", title: "Candidacies at selection meetings", read: candidacies, erase: []string{
			"DELETE FROM candidates WHERE academy_id = @academy AND player_id = @player"}},
		{table: "ratings", title: "Grades", read: read(ratings(), "ratings.player_id = ?"), erase: []string{
			"DELETE FROM ratings WHERE academy_id = @academy AND player_id = @player AND self",
			"UPDATE ratings SET comment = '', comment_shared = false, evidence = NULL WHERE academy_id = @academy AND " +
				"player_id = @player AND (comment <> '' OR evidence IS NOT NULL)"}},
		{table: "sessions", title: "Sessions", read: func(tx *Tx, player int64) ([]json.RawMessage, error) {
			ids, err := tx.usersOf(player)
			if err != nil || len(ids) == 0 {
				return nil, err
			}
			return raw(rows[models.Session](tx, "read sessions",
				"SELECT user_id, created_at, expires_at FROM sessions WHERE academy_id = ? AND user_id IN ? ORDER BY created_at",
				tx.who.AcademyID, ids))
		}, erase: []string{
			"DELETE FROM sessions WHERE academy_id = @academy AND user_id IN (SELECT id FROM users WHERE academy_id = " +
				"@academy AND player_id = @player)"}},
		{table: "devices", title: "Browsers used to sign in", read: ofAccount[models.Device]("devices"),
			erase: []string{
				"DELETE FROM devices WHERE academy_id = @academy AND " + ofAccounts}},
		{table: "sign_in_attempts", title: "Sign-in attempts",
			read: ofAccount[models.SignInAttempts]("sign_in_attempts"), erase: []string{
				"DELETE FROM sign_in_attempts WHERE academy_id = @academy AND " + ofAccounts}},
		{table: "refused_sign_ins", title: "Refused sign-ins", read: ofAccount[models.RefusedSignIns]("refused_sign_ins"),
			erase: []string{
				"DELETE FROM refused_sign_ins WHERE academy_id = @academy AND " + ofAccounts}},
		// What is about no one in particular goes too: a meeting names many. A request that is sent again afterwards is then
		// a new one.
		{table: "repeats", title: "Requests that can be sent again within a day",
			read: func(tx *Tx, player int64) ([]json.RawMessage, error) {
				return raw(rows[models.Repeat](tx, "read requests", `SELECT user_id, sent_at FROM repeats
				WHERE academy_id = ? AND (player_id = ? OR user_id IN (SELECT id FROM users WHERE academy_id = ?
				AND player_id = ?)) ORDER BY sent_at, user_id`,
					tx.who.AcademyID, player, tx.who.AcademyID, player))
			}, erase: []string{
				`DELETE FROM repeats WHERE academy_id = @academy
				AND (player_id = @player OR player_id IS NULL OR user_id IN (SELECT id FROM users WHERE academy_id = @academy
				AND player_id = @player))`}},
		{table: "links", title: "One-time links", read: ownRows(links(), "links.user_id"), erase: []string{
			"DELETE FROM links WHERE academy_id = @academy AND user_id IN (SELECT id FROM users WHERE academy_id = @academy " +
				"AND player_id = @player)"}},
		{table: "access_tokens", title: "Access tokens", read: func(tx *Tx, player int64) ([]json.RawMessage, error) {
			return ownRows(accessTokens(tx), "access_tokens.user_id")(tx, player)
		}, erase: []string{
			"DELETE FROM access_tokens WHERE academy_id = @academy AND user_id IN (SELECT id FROM users WHERE academy_id = " +
				"@academy AND player_id = @player)"}},
		{table: "users", title: "Account", read: ownRows(users(), "users.id"), erase: []string{
			`UPDATE users SET login = 'erased-' || id, name = 'Erased', password_hash = '', totp_secret = '',
				second_factor_since = NULL, deleted_at = @now, changed_at = @now, version = version + 1
				WHERE academy_id = @academy AND player_id = @player`}},
		{table: "data_requests", title: "Requests for the player’s data",
			read: read(dataRequests(), "data_requests.player_id = ?")},
		// It names rows and says nothing about a person, and is what tells why a merge cannot be undone any more.
		{table: "player_merges", title: "Merges with another record of the same person",
			read: read(playerMerges(), "(player_merges.player_id = ? OR player_merges.other_id = ?) "+
				"AND player_merges.undone_at IS NULL"), erase: []string{ // one that was undone is about two people
				"UPDATE player_merges SET moved = '{}', kept = '{}' WHERE academy_id = @academy AND (player_id = @player OR " +
					"other_id = @player)"}},
		{table: "audit_entries", title: "Audit trail", read: func(tx *Tx, player int64) ([]json.RawMessage, error) {
			return tx.trailOf(player)
		}},
	}
}

// everyTrace is traces, and after them each kind whose rows are about a player and that has no line there: its records
// are read out as a part of their own, and deleted when the player is erased.
func everyTrace() []trace {
	all := traces()
	for _, t := range slices.Backward(kinds()) { // rows go before those that they refer to
		listed := slices.ContainsFunc(all, func(l trace) bool { return l.table == t.name })
		if listed || t.player != t.name+".player_id" {
			continue
		}
		all = append(all, trace{
			derived: true, table: t.name, title: strings.ToUpper(t.called[:1]) + t.called[1:] + "s", read: t.readOut,
			erase: []string{"DELETE FROM " + t.name + " WHERE academy_id = @academy AND player_id = @player"},
		})
	}
	return all
}

// ofAccounts is the condition of rows that belong to an account of the player's.
const ofAccounts = "user_id IN (SELECT id FROM users WHERE academy_id = @academy AND player_id = @player)"

// candidacies returns where a player was a candidate and what was decided about them, and nothing of the others. The
// caller must be allowed to read the meetings.
func candidacies(tx *Tx, player int64) ([]json.RawMessage, error) {
	if tx.who.Reach(models.Read, models.AreaMeetings) != models.ReachAcademy {
		return nil, nil
	}
	type candidacy struct {
		Meeting  int64           `json:"meeting"`
		Date     models.Date     `json:"date"`
		Purpose  string          `json:"purpose"`
		Place    string          `json:"place"`
		Decision models.Decision `json:"decision,omitempty"`
		Reason   string          `json:"reason,omitempty"`
		Dissent  string          `json:"dissent,omitempty"`
	}
	return raw(rows[candidacy](tx, "read candidacies",
		`SELECT m.id AS meeting, m.date, m.purpose, c.place, c.decision, c.reason, c.dissent FROM candidates AS c
		JOIN meetings AS m ON m.academy_id = c.academy_id AND m.id = c.meeting_id WHERE c.academy_id = ? AND c.player_id = ?
		ORDER BY m.date, c.id`, tx.who.AcademyID, player))
}

// evidenceRead returns the figures of a player that meetings were shown, and nothing of the group that they were
// compared with. The caller must be allowed to read the meetings.
func evidenceRead(tx *Tx, player int64) ([]json.RawMessage, error) {
	if tx.who.Reach(models.Read, models.AreaMeetings) != models.ReachAcademy {
		return nil, nil
	}
	var all []models.CandidateEvidence
	err := tx.query().Where("academy_id = ? AND player_id = ?", tx.who.AcademyID, player).Order("meeting_id, place").
		Find(&all).Error
	if err := tx.done("read evidence", err); err != nil {
		return nil, err
	}
	for i := range all {
		for k := range all[i].Lines {
			l := &all[i].Lines[k]
			l.Against, l.Players, l.Mean, l.SD, l.Standard = "", 0, 0, 0, nil
		}
	}
	return raw(all, nil)
}

// openingsRead returns on which days who of the staff opened a player's season reports.
func openingsRead(tx *Tx, player int64) ([]json.RawMessage, error) {
	return raw(rows[models.OpeningRow](tx, "read who opened reports", "SELECT season_id, user_id, opened_on, opened_at "+
		"FROM report_openings WHERE academy_id = ? AND player_id = ? ORDER BY opened_at, user_id", tx.who.AcademyID, player))
}

// usersOf are the ids of the users that a player has or had.
func (tx *Tx) usersOf(player int64) ([]int64, error) {
	return rows[int64](tx, "find the player's users",
		"SELECT id FROM users WHERE academy_id = ? AND player_id = ? ORDER BY id", tx.who.AcademyID, player)
}

// read returns the records of a kind that meet a condition, in which every ? is the player. The player gets what they
// may read. A caller who may read the whole academy gets all of them, hidden ones too.
func read[T any](k *kind[T], condition string) func(*Tx, int64) ([]json.RawMessage, error) {
	return func(tx *Tx, player int64) ([]json.RawMessage, error) {
		reach, some := k.reaching(tx, models.Read)
		if !some {
			return nil, nil
		}
		return k.readOut(tx, reach, of(condition, player))
	}
}

// ownRows is read for what belongs to the player's own account, which they may see whatever they may read of
// others'. Column names the user.
func ownRows[T any](k *kind[T], column string) func(*Tx, int64) ([]json.RawMessage, error) {
	return func(tx *Tx, player int64) ([]json.RawMessage, error) {
		ids, err := tx.usersOf(player)
		if err != nil || len(ids) == 0 {
			return nil, err
		}
		return k.readOut(tx, where{}, that(column+" IN ?", ids))
	}
}

// ofAccount reads out what a table without a kind keeps of the player's own account.
func ofAccount[T any](table string) func(*Tx, int64) ([]json.RawMessage, error) {
	return func(tx *Tx, player int64) ([]json.RawMessage, error) {
		ids, err := tx.usersOf(player)
		if err != nil || len(ids) == 0 {
			return nil, err
		}
		return raw(rows[T](tx, "read out "+table,
			"SELECT * FROM "+table+" WHERE academy_id = ? AND user_id IN ? ORDER BY user_id", tx.who.AcademyID, ids))
	}
}

func of(condition string, player int64) where {
	w := that(condition)
	for range strings.Count(condition, "?") {
		w.args = append(w.args, player)
	}
	return w
}

func (k *kind[T]) readOut(tx *Tx, reach, of where) ([]json.RawMessage, error) {
	all, err := raw(k.find(tx, reach, of))
	if err != nil || tx.who.Reach(models.Read, k.area) != models.ReachAcademy {
		return all, err
	}
	hidden := []T{}
	if err := k.rows(tx, "IS NOT NULL", where{}, of).Order(k.order).Find(&hidden).Error; err != nil {
		return nil, tx.done("read hidden "+k.name, err)
	}
	if k.load != nil && len(hidden) > 0 {
		if err := k.load(tx, hidden); err != nil {
			return nil, err
		}
	}
	for i := range hidden {
		text, err := json.Marshal(hidden[i])
		if err != nil {
			return nil, fmt.Errorf("read out %s: %w", k.name, err)
		}
		when, err := json.Marshal(k.record(&hidden[i]).DeletedAt)
		if err != nil {
			return nil, fmt.Errorf("read out %s: %w", k.name, err)
		}
		text = append(text[:len(text)-1], `,"deleted_at":`...)
		all = append(all, append(append(text, when...), '}'))
	}
	return all, nil
}

func raw[T any](records []T, err error) ([]json.RawMessage, error) {
	if err != nil {
		return nil, err
	}
	all := make([]json.RawMessage, len(records))
	for i, r := range records {
		if all[i], err = json.Marshal(r); err != nil {
			return nil, fmt.Errorf("read out %T: %w", r, err)
		}
	}
	return all, nil
}

// trailOf returns what the audit trail has about a player and by their user. Callers who may read the trail also get
// records before and after; the player gets who did what, and when.
func (tx *Tx) trailOf(player int64) ([]json.RawMessage, error) {
	ids, err := tx.usersOf(player)
	if err != nil {
		return nil, err
	}
	w := that("player_id = ? AND player_id <> 0", player)
	if len(ids) > 0 {
		w = or(w, that("user_id IN ? AND user_id <> 0", ids))
	}
	w = and(that("academy_id = ?", tx.who.AcademyID), w)
	all := []models.AuditEntry{}
	if err := tx.query().Where(w.sql, w.args...).Order("number").Find(&all).Error; err != nil {
		return nil, tx.done("read the audit trail", err)
	}
	if tx.who.Reach(models.Read, models.AreaAudit) != models.ReachAcademy {
		// That there is a note for staff only, or a meeting, is for the staff too.
		all = slices.DeleteFunc(all, func(e models.AuditEntry) bool {
			return e.UserID != tx.who.UserID && slices.Contains(staffsOwn, e.Kind)
		})
		for i := range all {
			all[i].Payload = nil
		}
	}
	return raw(all, nil)
}

// staffsOwn are the kinds of record that may hold records hidden from the player.
var staffsOwn = []string{reviewNotes().name, reviews().name, "candidate", recommendations().name,
	corrections().name, feedback().name, meetings().name, dataRequests().name,
	retentionReviews().name}

// personalRecord reads out everything that is kept about a player, for Store.ExportPlayer.
func (tx *Tx) personalRecord(player int64) (models.PersonalRecord, error) {
	var r models.PersonalRecord
	reach := tx.who.Reach(models.Read, models.AreaRequests)
	p, err := tx.Player(player)
	if err != nil {
		return r, err
	}
	switch {
	case reach == models.ReachAcademy:
	case reach == models.ReachOwn && tx.who.PlayerID == player:
		r.Own = true
	default:
		return r, models.Errorf(models.Forbidden, "a %s may not download everything kept about a player", tx.who.Role)
	}
	if err := tx.mayExport(player); err != nil {
		return r, err
	}
	r.Player, r.MadeAt = p, tx.now
	if zone := tx.zone(); zone != time.UTC {
		r.TimeZone = zone.String()
	}
	if r.Academy, err = tx.AcademyName(); err != nil {
		return r, err
	}
	if r.Staff, err = tx.UserNames(); err != nil {
		return r, err
	}
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return r, err
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return r, err
	}
	r.Seasons, r.Squads = map[int64]string{}, map[int64]string{}
	for _, s := range seasons {
		r.Seasons[s.ID] = s.Name
	}
	for _, s := range squads {
		r.Squads[s.ID] = s.Name
	}
	if r.Matches, err = raw(tx.Matches(models.MatchFilter{PlayerID: player})); err != nil {
		return r, err
	}
	ids, err := tx.persons(player)
	if err != nil {
		return r, err
	}
	for _, t := range everyTrace() {
		if t.read == nil {
			continue
		}
		items, err := t.readAll(tx, ids)
		if err != nil {
			return r, err
		}
		r.Parts = append(r.Parts, models.PersonalPart{Code: t.table, Title: t.title, Items: items, Users: usersIn(t.table)})
	}
	r.Staff = namedIn(r.Parts, r.Staff)
	return r, nil
}

// readAll reads out what is kept under several ids of one person, each record once.
func (t trace) readAll(tx *Tx, ids []int64) ([]json.RawMessage, error) {
	all := []json.RawMessage{}
	for _, id := range ids {
		items, err := t.read(tx, id)
		if err != nil {
			return nil, err
		}
		for _, item := range items {
			if len(ids) == 1 || !slices.ContainsFunc(all, func(o json.RawMessage) bool { return bytes.Equal(o, item) }) {
				all = append(all, item)
			}
		}
	}
	return all, nil
}

// usersIn are the columns of a table that name a user, as its kinds say.
func usersIn(name string) (users []string) {
	for _, t := range tables() {
		if t.name == name {
			users = append(users, t.users...)
		}
	}
	return users
}

// namedIn are those of some names that records refer to, by the members that name a user.
func namedIn(parts []models.PersonalPart, names map[int64]string) map[int64]string {
	named := map[int64]string{}
	for _, p := range parts {
		for _, item := range p.Items {
			for _, member := range p.Users {
				if id := idIn(item, member); names[id] != "" {
					named[id] = names[id]
				}
			}
		}
	}
	return named
}

// idIn is the id that a record has at a member, 0 for none.
func idIn(record json.RawMessage, member string) int64 {
	var members map[string]json.RawMessage
	var id int64
	if json.Unmarshal(record, &members) != nil || json.Unmarshal(members[member], &id) != nil {
		return 0
	}
	return id
}

// fulfilled keeps the proof that a request was fulfilled. Its entry in the audit trail is about no player, so that it
// outlasts their erasure.
func (tx *Tx) fulfilled(d *models.DataRequest) error {
	d.Record = models.Record{AcademyID: tx.who.AcademyID, Version: 1, CreatedAt: tx.now, ChangedAt: tx.now}
	d.DoneBy = tx.who.UserID
	if err := d.Validate(); err != nil {
		return err
	}
	if err := tx.done("save the proof of a request", tx.query().Create(d).Error); err != nil {
		return err
	}
	action := models.AuditExport
	if d.Kind == models.RequestErasure {
		action = models.AuditErase
	}
	tx.note(action, "player", d.PlayerID, 0, nil, *d)
	return nil
}

// mentions lists the texts about others in which a word of a player's name stands, wherever people write freely: see
// Tx.texts.
func (tx *Tx) mentions(p models.Player) ([]models.Mention, error) {
	words := nameParts(p)
	all := []models.Mention{}
	searched := map[string]bool{}
	for _, t := range tables() {
		if searched[t.name] {
			continue
		}
		searched[t.name] = true
		columns, err := tx.texts(t.row)
		if err != nil {
			return nil, err
		}
		found, err := tx.mentioned(t, columns, words)
		if err != nil {
			return nil, err
		}
		for _, id := range found {
			all = append(all, models.Mention{Kind: t.called, RecordID: id})
		}
	}
	slices.SortFunc(all, models.Mention.Compare)
	return slices.Compact(all), nil // a meeting may name the player in its own texts and in those of its candidates
}

// nameParts are a player's name, and its parts that are long enough to search for.
func nameParts(p models.Player) []string {
	words := []string{p.Name}
	for _, w := range append(strings.Fields(p.Name), p.KnownAs) {
		if len([]rune(w)) >= leastNamePart && !slices.Contains(words, w) {
			words = append(words, w)
		}
	}
	return words
}

// likeEscape makes a text one that LIKE finds as it stands.
var likeEscape = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// mentioned are the rows of a table, as people know them, in whose columns a word stands.
func (tx *Tx) mentioned(t table, columns, words []string) ([]int64, error) {
	if len(columns) == 0 {
		return nil, nil
	}
	w := where{}
	for _, column := range columns {
		for _, word := range words {
			for _, spelt := range spellings(word) {
				w = or(w, that("lower("+column+`) LIKE ? ESCAPE '\'`, "%"+likeEscape.Replace(spelt)+"%"))
			}
		}
	}
	w = and(that("academy_id = ?", tx.who.AcademyID), w)
	return rows[int64](tx, "find records that name the player", "SELECT DISTINCT "+t.known+" FROM "+t.name+" WHERE "+
		w.sql+
		" ORDER BY 1 LIMIT 200", w.args...)
}

// spellings are how a word of a name may stand in a text after the database has made it lower case: SQLite does that
// to the letters of ASCII alone.
func spellings(word string) []string {
	ascii := strings.Map(func(r rune) rune {
		if r < utf8.RuneSelf {
			return unicode.ToLower(r)
		}
		return r
	}, word)
	return slices.Compact([]string{strings.ToLower(word), ascii})
}

func dataRequests() *kind[models.DataRequest] {
	return &kind[models.DataRequest]{
		name: "data request", table: "data_requests", area: models.AreaRequests,
		order:  "data_requests.academy_id, data_requests.id",
		record: func(d *models.DataRequest) *models.Record { return &d.Record },
		users:  []string{"done_by"},
		whose:  nobodys, // the proof of an erasure is about no one any more
		within: func(who models.Who, _ models.Action, _ models.Reach) where {
			return that("data_requests.player_id = ?", who.PlayerID)
		},
	}
}

// DataRequests returns the requests for people's data that were fulfilled, by when.
func (tx *Tx) DataRequests() ([]models.DataRequest, error) { return dataRequests().list(tx) }
