package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"throughline/models"
)

// pairsAtOnce is how many plays are read at a time: their involvements are in memory together.
const pairsAtOnce = 500

// indexPairs returns the pairs as a set, and their matches each once.
func indexPairs(pairs []pair) (wanted map[pair]bool, matches []int64) {
	wanted = make(map[pair]bool, len(pairs))
	for _, p := range pairs {
		wanted[p] = true
		matches = append(matches, p.match)
	}
	slices.Sort(matches)
	return wanted, slices.Compact(matches)
}

// plays reads everything recorded of players in matches, whoever asks: it is what observations and rules between records are made from. A
// pair without an appearance has no play.
func (tx *Tx) plays(pairs []pair) ([]models.Play, error) {
	if len(pairs) == 0 {
		return nil, nil
	}
	wanted, ids := indexPairs(pairs)
	one := where{} // most often one player in one match is asked for
	if len(pairs) == 1 {
		one = that("player_id = ?", pairs[0].player)
	}
	of := and(that("academy_id = ? AND match_id IN ? AND deleted_at IS NULL", tx.who.AcademyID, ids), one)

	var games []models.Match
	if err := tx.query().Where("academy_id = ? AND id IN ?", tx.who.AcademyID, ids).Find(&games).Error; err != nil {
		return nil, tx.done("read matches", err)
	}
	match := make(map[int64]models.Match, len(games))
	for _, m := range games {
		match[m.ID] = m
	}
	var appeared []models.Appearance
	if err := tx.query().Where(of.sql, of.args...).Order("match_id, player_id").Find(&appeared).Error; err != nil {
		return nil, tx.done("read appearances", err)
	}
	appeared = slices.DeleteFunc(appeared, func(a models.Appearance) bool { return !wanted[pair{a.PlayerID, a.MatchID}] })
	if err := loadStints(tx, appeared); err != nil {
		return nil, err
	}
	plays := make([]models.Play, len(appeared))
	at := make(map[pair]*models.Play, len(appeared))
	for i, a := range appeared {
		plays[i] = models.Play{Match: match[a.MatchID], Appearance: a}
		at[pair{a.PlayerID, a.MatchID}] = &plays[i]
	}
	if err := tx.loadTotals(at, of); err != nil {
		return nil, err
	}
	return plays, tx.loadLogs(at, of)
}

func (tx *Tx) loadTotals(at map[pair]*models.Play, of where) error {
	var totals []models.MatchTotals
	if err := tx.query().Where(of.sql, of.args...).Find(&totals).Error; err != nil {
		return tx.done("read match totals", err)
	}
	for i, t := range totals {
		if p := at[pair{t.PlayerID, t.MatchID}]; p != nil {
			p.Totals = &totals[i]
		}
	}
	return nil
}

func (tx *Tx) loadLogs(at map[pair]*models.Play, of where) error {
	var found []models.Log
	if err := tx.query().Where(of.sql, of.args...).Order("id").Find(&found).Error; err != nil {
		return tx.done("read involvement logs", err)
	}
	found = slices.DeleteFunc(found, func(l models.Log) bool { return at[pair{l.PlayerID, l.MatchID}] == nil })
	logged := make(map[int64][]models.Involvement, len(found))
	ids := make([]int64, len(found))
	for i, l := range found {
		ids[i] = l.ID
	}
	for some := range slices.Chunk(ids, 500) {
		if err := tx.loadInvolvements(some, logged); err != nil {
			return err
		}
	}
	for _, l := range found {
		p := at[pair{l.PlayerID, l.MatchID}]
		p.Logs = append(p.Logs, models.LoggedPlay{Log: l, Involvements: logged[l.ID]})
	}
	return nil
}

// loadInvolvements adds the involvements of logs by log, in order of the clock: of each what observations are made from, and no note, video or
// key. It is what every change of a log waits for.
func (tx *Tx) loadInvolvements(ids []int64, logged map[int64][]models.Involvement) error {
	var i models.Involvement
	var details, measures, results []byte
	var broken error
	err := tx.each("read involvements", `SELECT id, log_id, half, second, kind, details, measures, results, possession, phase, linked_to, head_contact
		FROM involvements WHERE academy_id = ? AND log_id IN ? AND deleted_at IS NULL ORDER BY log_id, half, second, id`, []any{tx.who.AcademyID, ids},
		[]any{&i.ID, &i.LogID, &i.Clock.Half, &i.Clock.Second, &i.Kind, &details, &measures, &results, &i.Possession, &i.Phase, &i.LinkedTo, &i.HeadContact}, func() {
			found := i
			found.AcademyID = tx.who.AcademyID
			broken = errors.Join(broken, fromJSON(details, &found.Details), fromJSON(measures, &found.Measures), fromJSON(results, &found.Results))
			logged[i.LogID] = append(logged[i.LogID], found)
		})
	if err != nil {
		return err
	}
	return tx.done("read involvements", broken)
}

// fromJSON reads a column, in which NULL is nothing.
func fromJSON(text []byte, into any) error {
	if len(text) == 0 {
		return nil
	}
	return json.Unmarshal(text, into)
}

// fits checks a play against the rules between its records.
func fits(p *models.Play) error {
	if err := p.Appearance.ValidateIn(p.Match); err != nil {
		return err
	}
	for _, l := range p.Logs {
		if err := l.Log.ValidateIn(p.Match); err != nil {
			return err
		}
		for _, i := range l.Involvements {
			if err := i.ValidateIn(p.Match, p.Appearance, l.Log); err != nil {
				return fmt.Errorf("%s at %v: %w", i.Kind, i.Clock, err)
			}
		}
	}
	return nil
}

// AddPlays adds appearances with their stints, match totals, logs and involvements, many at once, of players who do not yet appear in the
// match. The matches, players and loggers exist. It is for files and examples: the same rules hold as one record at a time, and
// nothing is written unless all plays are good. Of a play's Match only the id is read.
//
// An involvement that another of its log is linked to carries an id of the caller's choice, above 0 and unique in the log; the store gives
// its own and keeps the links. In an error, fields begin with "plays[n].", n counting from 0.
func (tx *Tx) AddPlays(plays []models.Play) error {
	if err := tx.observe(); err != nil { // what a deleted appearance left must be gone before
		return err
	}
	b, err := tx.newBatch(plays)
	if err != nil {
		return err
	}
	for n := range b.plays {
		b.check(n)
	}
	if len(b.wrong) > 0 {
		return &models.Error{Code: models.Invalid, Message: "nothing was added", Fields: b.wrong}
	}
	if err := b.number(); err != nil {
		return err
	}
	if err := b.write(); err != nil {
		return err
	}
	if err := b.mine(); err != nil {
		return tx.done("add plays", err) // they are there already: they must not be committed
	}
	if err := b.mark(); err != nil {
		return err
	}
	if err := tx.writeObservations(b.plays); err != nil {
		return err
	}
	for _, m := range b.matches {
		tx.moved(m.SeasonID, m.SquadID)
	}
	for _, p := range b.plays {
		tx.note(models.AuditCreate, "play", p.Appearance.ID, p.Appearance.PlayerID, nil, noted(p))
	}
	copy(plays, b.plays)
	return nil
}

// noted is what the audit trail says of a play that was added with many others: all of it but the involvements, of which it says how many
// there are. They came from a file, which can be had again.
func noted(p models.Play) any {
	type logged struct {
		models.Log
		Involvements int `json:"involvements"`
	}
	n := struct {
		Appearance models.Appearance   `json:"appearance"`
		Totals     *models.MatchTotals `json:"totals,omitempty"`
		Logs       []logged            `json:"logs,omitempty"`
	}{Appearance: p.Appearance, Totals: p.Totals}
	for _, l := range p.Logs {
		n.Logs = append(n.Logs, logged{l.Log, len(l.Involvements)})
	}
	return n
}

// batch is plays on their way into the database.
type batch struct {
	tx      *Tx
	plays   []models.Play
	players map[int64]models.Player // that who may read
	rules   models.Settings
	given   map[int64][]models.Consent // of purposes that the academy requires
	downs   map[int64][]down
	staff   map[int64]bool
	matches map[int64]models.Match
	appears map[pair]bool // in the database, then also earlier in the batch
	shirts  map[shirt]bool
	started map[int64]int // by match
	keys    map[string]bool
	wrong   []models.FieldError
}

type shirt struct {
	match  int64
	number int
}

// mostWrong is how many faults of a batch are listed.
const mostWrong = 200

// newBatch copies plays and reads what they must fit.
func (tx *Tx) newBatch(plays []models.Play) (*batch, error) {
	for _, err := range []error{appearances().mayChange(tx), matchTotals().mayChange(tx), logs().mayChange(tx)} {
		if err != nil {
			return nil, err
		}
	}
	b := &batch{tx: tx, plays: make([]models.Play, len(plays)), players: map[int64]models.Player{}, staff: map[int64]bool{}, matches: map[int64]models.Match{},
		appears: map[pair]bool{}, shirts: map[shirt]bool{}, started: map[int64]int{}, keys: map[string]bool{}}
	games, people, keys := map[int64]bool{}, map[int64]bool{}, []string{}
	for n, p := range plays {
		if p.Match.ID == 0 {
			p.Match.ID = p.Appearance.MatchID
		}
		p.Appearance.MatchID = p.Match.ID
		p.Appearance.Stints = slices.Clone(p.Appearance.Stints)
		if p.Totals != nil {
			totals := *p.Totals
			p.Totals = &totals
		}
		p.Logs = slices.Clone(p.Logs)
		for l := range p.Logs {
			p.Logs[l].Involvements = slices.Clone(p.Logs[l].Involvements)
			if p.Logs[l].Log.LoggerID == 0 {
				p.Logs[l].Log.LoggerID = tx.who.UserID
			}
			if key := p.Logs[l].Log.Key; key != "" {
				keys = append(keys, key)
			}
		}
		games[p.Match.ID], people[p.Appearance.PlayerID] = true, true
		b.plays[n] = p
	}
	return b, b.read(idsOf(games), idsOf(people), keys)
}

func idsOf(set map[int64]bool) []int64 {
	ids := make([]int64, 0, len(set))
	for id := range set {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids
}

// idsAtOnce is how many ids one query names.
const idsAtOnce = 1000

func (b *batch) read(games, people []int64, keys []string) error {
	tx := b.tx
	reach, _ := matches().reaching(tx, models.Read)
	mine, _ := players().reaching(tx, models.Read)
	for some := range slices.Chunk(games, idsAtOnce) {
		found, err := matches().find(tx, reach, that("matches.id IN ?", some))
		if err != nil {
			return err
		}
		for _, m := range found {
			b.matches[m.ID] = m
		}
		type worn struct {
			MatchID, PlayerID int64
			Shirt             *int
			Started           *bool
		}
		there, err := rows[worn](tx, "read who appeared",
			"SELECT match_id, player_id, shirt, started FROM appearances WHERE academy_id = ? AND match_id IN ? AND deleted_at IS NULL", tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, a := range there {
			b.appears[pair{a.PlayerID, a.MatchID}] = true
			if a.Shirt != nil {
				b.shirts[shirt{a.MatchID, *a.Shirt}] = true
			}
			if a.Started != nil && *a.Started {
				b.started[a.MatchID]++
			}
		}
	}
	for some := range slices.Chunk(people, idsAtOnce) {
		found, err := players().find(tx, mine, that("players.id IN ?", some))
		if err != nil {
			return err
		}
		for _, p := range found {
			b.players[p.ID] = p
		}
		if err := b.readSafety(some); err != nil {
			return err
		}
	}
	for some := range slices.Chunk(keys, idsAtOnce) {
		taken, err := rows[string](tx, "read the keys of logs",
			"SELECT key FROM logs WHERE academy_id = ? AND key <> '' AND key IN ? AND deleted_at IS NULL", tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, key := range taken {
			b.keys[key] = true
		}
	}
	staff, err := users().find(tx, where{}, that("users.role <> ?", models.RolePlayer))
	for _, u := range staff {
		b.staff[u.ID] = true
	}
	return err
}

// readSafety reads what keeps some players out of matches, and what may be recorded of them.
func (b *batch) readSafety(people []int64) (err error) {
	if b.rules, err = b.tx.settled(); err != nil {
		return err
	}
	downs, err := b.tx.downs(people)
	if err != nil {
		return err
	}
	if b.downs == nil {
		b.downs, b.given = map[int64][]down{}, map[int64][]models.Consent{}
	}
	maps.Copy(b.downs, downs)
	if len(b.rules.Requires) == 0 {
		return nil
	}
	given, err := consents().find(b.tx, where{}, that("consents.player_id IN ?", people))
	for _, c := range given {
		b.given[c.PlayerID] = append(b.given[c.PlayerID], c)
	}
	return err
}

// usesOf returns the purposes that a log with its involvements needs consent for.
func usesOf(l *models.LoggedPlay) []models.Purpose {
	uses := []models.Purpose{models.PurposeRecords}
	for _, i := range l.Involvements {
		if more := i.Uses(); len(more) > len(uses) {
			uses = more
		}
	}
	return uses
}

// mark makes the records of the head contacts that involvements are marked with.
func (b *batch) mark() error {
	for _, p := range b.plays {
		for _, l := range p.Logs {
			for i := range l.Involvements {
				if err := b.tx.markedInvolvement(&l.Involvements[i]); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// add notes what is wrong at a place of a play.
func (b *batch) add(n int, place string, err error) {
	if err == nil || len(b.wrong) >= mostWrong {
		return
	}
	place = fmt.Sprintf("plays[%d].%s", n, place)
	var e *models.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		b.wrong = append(b.wrong, models.FieldError{Where: place, Message: err.Error()})
		return
	}
	for _, f := range e.Fields {
		at := place
		if f.Where != "" {
			at += "." + f.Where
		}
		b.wrong = append(b.wrong, models.FieldError{Where: at, Message: f.Message})
	}
}

// check holds one play against every rule that a record on its own is held against.
func (b *batch) check(n int) {
	p := &b.plays[n]
	a := &p.Appearance
	m, found := b.matches[a.MatchID]
	if !found {
		b.add(n, "match", fmt.Errorf("there is no match %d", a.MatchID))
		return
	}
	p.Match = m
	player, known := b.players[a.PlayerID]
	if !known {
		b.add(n, "appearance.player_id", fmt.Errorf("there is no player %d", a.PlayerID))
	}
	b.add(n, "appearance", refusal(b.downs[a.PlayerID], player.Name, m))
	consented := func(place string, wanted ...models.Purpose) {
		if known {
			b.add(n, place, b.rules.Consented(player, b.given[a.PlayerID], m.Date, b.tx.today(), wanted...))
		}
	}
	if b.appears[pair{a.PlayerID, a.MatchID}] {
		b.add(n, "appearance", fmt.Errorf("player %d is in the match against %s on %s already", a.PlayerID, m.Opponent, m.Date))
	}
	b.appears[pair{a.PlayerID, a.MatchID}] = true
	if a.Shirt != nil {
		worn := shirt{a.MatchID, *a.Shirt}
		if b.shirts[worn] {
			b.add(n, "appearance.shirt", fmt.Errorf("shirt %d is worn by another player of this match", *a.Shirt))
		}
		b.shirts[worn] = true
	}
	if a.Started != nil && *a.Started {
		if b.started[a.MatchID] >= models.LawPlayersASide {
			b.add(n, "appearance.started", fmt.Errorf(tooManyStart, models.LawPlayersASide))
		}
		b.started[a.MatchID]++
	}
	b.add(n, "appearance", a.ValidateIn(m)) // it sets the minutes, where there are stints
	b.add(n, "appearance", a.Validate())
	if t := p.Totals; t != nil {
		t.MatchID, t.PlayerID = a.MatchID, a.PlayerID
		b.add(n, "totals", t.Validate())
		consented("totals", models.PurposeRecords)
	}
	loggers := map[int64]bool{}
	for i := range p.Logs {
		place := fmt.Sprintf("logs[%d]", i)
		l := &p.Logs[i].Log
		l.MatchID, l.PlayerID = a.MatchID, a.PlayerID
		if !b.staff[l.LoggerID] {
			b.add(n, place+".logger_id", fmt.Errorf("there is nobody of the staff with the user %d", l.LoggerID))
		}
		if loggers[l.LoggerID] {
			b.add(n, place+".logger_id", fmt.Errorf("there is another log of the player and match by the same person"))
		}
		loggers[l.LoggerID] = true
		if l.Key != "" && b.keys[l.Key] {
			b.add(n, place+".key", fmt.Errorf("the key is that of another log"))
		}
		b.keys[l.Key] = true
		b.add(n, place, l.Validate())
		b.add(n, place, l.ValidateIn(m))
		consented(place, usesOf(&p.Logs[i])...)
		b.checkInvolvements(n, place, p, &p.Logs[i])
	}
}

func (b *batch) checkInvolvements(n int, place string, p *models.Play, l *models.LoggedPlay) {
	keys, carries := map[string]bool{}, map[int64]models.Involvement{}
	for _, i := range l.Involvements {
		if i.ID == 0 {
			continue
		}
		if _, twice := carries[i.ID]; twice {
			b.add(n, place, fmt.Errorf("two involvements have the id %d", i.ID))
		}
		carries[i.ID] = i
	}
	for j := range l.Involvements {
		i := l.Involvements[j]
		i.LogID = 1 // drawn later
		at := fmt.Sprintf("%s.involvements[%d]", place, j)
		if i.Key != "" && keys[i.Key] {
			b.add(n, at+".key", fmt.Errorf("the key is that of another involvement of the log"))
		}
		keys[i.Key] = true
		b.add(n, at, i.Validate())
		b.add(n, at, i.ValidateIn(p.Match, p.Appearance, l.Log))
		if i.LinkedTo != nil {
			carry, found := carries[*i.LinkedTo]
			if !found {
				b.add(n, at+".linked_to", fmt.Errorf("there is no involvement %d in the log", *i.LinkedTo))
			} else {
				carry.LogID = i.LogID
				b.add(n, at, linked(i, carry))
			}
		}
	}
}

// number gives every record its id, so that they can refer to each other before they are written.
func (b *batch) number() error {
	var totals, logged, involved int
	for _, p := range b.plays {
		if p.Totals != nil {
			totals++
		}
		logged += len(p.Logs)
		for _, l := range p.Logs {
			involved += len(l.Involvements)
		}
	}
	ids := map[string][]int64{}
	for _, table := range []struct {
		name string
		n    int
	}{{"appearances", len(b.plays)}, {"match_totals", totals}, {"logs", logged}, {"involvements", involved}} {
		drawn, err := b.tx.draw(table.name, table.n)
		if err != nil {
			return err
		}
		ids[table.name] = drawn
	}
	next := func(table string) models.Record {
		id := ids[table][0]
		ids[table] = ids[table][1:]
		return models.Record{ID: id, AcademyID: b.tx.who.AcademyID, Version: 1, CreatedAt: b.tx.now, ChangedAt: b.tx.now}
	}
	for n := range b.plays {
		p := &b.plays[n]
		p.Appearance.Record = next("appearances")
		for s := range p.Appearance.Stints {
			stint := &p.Appearance.Stints[s]
			stint.ID, stint.AcademyID, stint.AppearanceID = 0, b.tx.who.AcademyID, p.Appearance.ID
		}
		if p.Totals != nil {
			p.Totals.Record = next("match_totals")
		}
		for l := range p.Logs {
			log := &p.Logs[l]
			log.Log.Record = next("logs")
			given := map[int64]int64{}
			for i := range log.Involvements {
				r := next("involvements")
				given[log.Involvements[i].ID] = r.ID
				log.Involvements[i].Record, log.Involvements[i].LogID = r, log.Log.ID
			}
			for i := range log.Involvements {
				if to := log.Involvements[i].LinkedTo; to != nil {
					id := given[*to]
					log.Involvements[i].LinkedTo = &id
				}
			}
		}
	}
	return nil
}

func (b *batch) write() error {
	var (
		appeared []models.Appearance
		stints   []models.Stint
		totals   []models.MatchTotals
		logged   []models.Log
		involved []models.Involvement
	)
	for _, p := range b.plays {
		appeared = append(appeared, p.Appearance)
		stints = append(stints, p.Appearance.Stints...)
		if p.Totals != nil {
			totals = append(totals, *p.Totals)
		}
		for _, l := range p.Logs {
			logged = append(logged, l.Log)
			involved = append(involved, l.Involvements...)
		}
	}
	if err := insert(b.tx, appeared, ""); err != nil {
		return err
	}
	if err := insert(b.tx, stints, ""); err != nil {
		return err
	}
	if err := insert(b.tx, totals, ""); err != nil {
		return err
	}
	if err := insert(b.tx, logged, ""); err != nil {
		return err
	}
	// What others are linked to comes first.
	slices.SortStableFunc(involved, func(a, b models.Involvement) int {
		switch {
		case a.LinkedTo == nil && b.LinkedTo != nil:
			return -1
		case a.LinkedTo != nil && b.LinkedTo == nil:
			return 1
		}
		return 0
	})
	return insert(b.tx, involved, "")
}

// mine refuses plays of which who may not write every record.
func (b *batch) mine() error {
	if len(b.plays) == 0 {
		return nil
	}
	first, last := b.plays[0], b.plays[len(b.plays)-1]
	if err := mineFrom(b.tx, appearances(), len(b.plays), first.Appearance.ID, last.Appearance.ID); err != nil {
		return err
	}
	var totals, logged []int64
	for _, p := range b.plays {
		if p.Totals != nil {
			totals = append(totals, p.Totals.ID)
		}
		for _, l := range p.Logs {
			logged = append(logged, l.Log.ID)
		}
	}
	if len(totals) > 0 {
		if err := mineFrom(b.tx, matchTotals(), len(totals), totals[0], totals[len(totals)-1]); err != nil {
			return err
		}
	}
	if len(logged) > 0 {
		return mineFrom(b.tx, logs(), len(logged), logged[0], logged[len(logged)-1])
	}
	return nil
}

// mineFrom refuses n records from one id to another of which who may not change every one. Ids of one batch have no gaps that
// another's rows could be in: writers of an academy wait for each other.
func mineFrom[T any](tx *Tx, k *kind[T], n int, from, until int64) error {
	reach, _ := k.reaching(tx, models.Write)
	if reach.sql == "" {
		return nil
	}
	var count int64
	err := k.from(tx, reach, that(k.table+".id BETWEEN ? AND ?", from, until)).Count(&count).Error
	if err != nil {
		return tx.done("check who may change "+k.name, err)
	}
	if count != int64(n) {
		return models.Errorf(models.Forbidden, "%s may not add every %s of these", tx.who.Name, k.name)
	}
	return nil
}
