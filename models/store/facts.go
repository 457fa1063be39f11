package store

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"gorm.io/gorm/schema"

	"throughline/models"
)

// book is what a transaction knows of the facts that the rules between records of play ask about: see
// models.Facts. It is read for many records at once and holds what the transaction writes of play itself. Any
// other change forgets it.
type book struct {
	matches  map[int64]*models.Match // that the caller may read; nil for one there is not
	players  map[int64]*models.Player
	sheets   map[int64]*models.Sheet
	downs    map[int64][]models.Down
	contacts map[int64][]models.HeadContact
	given    map[int64][]models.Consent
	staff    map[int64]error // nil for a user who may be named as one of the staff
	keys     map[string][]models.Log
	facts    map[pair]*known
	logs     map[int64]pair // a log's player and match; the zero pair for a log that the caller may not read
	gone     map[logKey]bool
}

// known has the facts about one player in one match.
type known struct {
	models.Facts
	before models.Play                   // as it was read: the stored observations were made from it
	mine   map[int64]bool                // by log, whether the caller may write its involvements
	sent   map[int64]*models.Involvement // by id, involvements that are on their way into the database
}

// logKey is the key of an involvement in its log.
type logKey struct {
	log int64
	key string
}

// facts returns the transaction's book.
func (tx *Tx) facts() *book {
	if tx.book == nil {
		tx.book = &book{
			matches: map[int64]*models.Match{}, players: map[int64]*models.Player{}, sheets: map[int64]*models.Sheet{},
			downs: map[int64][]models.Down{}, contacts: map[int64][]models.HeadContact{},
			given: map[int64][]models.Consent{}, staff: map[int64]error{},
			keys: map[string][]models.Log{}, facts: map[pair]*known{}, logs: map[int64]pair{}, gone: map[logKey]bool{},
		}
	}
	return tx.book
}

// unknown returns those of some ids that a map has not, each once and in order.
func unknown[V any](has map[int64]V, ids []int64) []int64 {
	var missing []int64
	for _, id := range ids {
		if _, there := has[id]; !there && id > 0 {
			missing = append(missing, id)
		}
	}
	slices.Sort(missing)
	return slices.Compact(missing)
}

// idsAtOnce is how many ids one query names.
const idsAtOnce = 1000

// learnRows reads the records of a kind that the caller may read into a map, with nil for those that there are not.
func learnRows[T any](tx *Tx, k *kind[T], into map[int64]*T, ids []int64) error {
	reach, some := k.reaching(tx, models.Read)
	missing := unknown(into, ids)
	for _, id := range missing {
		into[id] = nil
	}
	if !some {
		return nil
	}
	for chunk := range slices.Chunk(missing, idsAtOnce) {
		found, err := k.find(tx, reach, that(k.table+".id IN ?", chunk))
		if err != nil {
			return err
		}
		for i := range found {
			into[k.record(&found[i]).ID] = &found[i]
		}
	}
	return nil
}

func (tx *Tx) learnMatches(ids []int64) error {
	return learnRows(tx, matches(), tx.facts().matches, ids)
}

// matchOf returns the match that a record names, from the facts.
func (tx *Tx) matchOf(id int64) (models.Match, error) {
	if m := tx.facts().matches[id]; m != nil {
		return *m, nil
	}
	return models.Match{}, wrong("match_id", "there is no match %d", id)
}

// learnSheets reads who appears in matches, whatever the caller may read.
func (tx *Tx) learnSheets(ids []int64) error {
	b := tx.facts()
	if err := tx.learnMatches(ids); err != nil {
		return err
	}
	for some := range slices.Chunk(unknown(b.sheets, ids), idsAtOnce) {
		for _, id := range some {
			b.sheets[id] = &models.Sheet{}
			if m := b.matches[id]; m != nil {
				b.sheets[id].Match = *m
			}
		}
		there, err := rows[models.Appearance](tx, "read who played",
			`SELECT id, match_id, player_id, shirt, started FROM appearances
			WHERE academy_id = ? AND match_id IN ? AND deleted_at IS NULL`, tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, a := range there {
			s := b.sheets[a.MatchID]
			s.Appears = append(s.Appears, a)
		}
	}
	return nil
}

// learnPlayers reads players, and what keeps them out of matches.
func (tx *Tx) learnPlayers(ids []int64) error {
	b := tx.facts()
	if err := learnRows(tx, players(), b.players, ids); err != nil {
		return err
	}
	return tx.learnDowns(ids)
}

// learnConsents reads the consents of players.
func (tx *Tx) learnConsents(ids []int64) error {
	b := tx.facts()
	for some := range slices.Chunk(unknown(b.given, ids), idsAtOnce) {
		given, err := consents().find(tx, where{}, that("consents.player_id IN ?", some))
		if err != nil {
			return err
		}
		for _, id := range some {
			b.given[id] = nil
		}
		for _, c := range given {
			b.given[c.PlayerID] = append(b.given[c.PlayerID], c)
		}
	}
	return nil
}

// learnStaff reads which users may be named as staff: see staff.
func (tx *Tx) learnStaff(field string, ids []int64) error {
	b := tx.facts()
	for some := range slices.Chunk(unknown(b.staff, ids), idsAtOnce) {
		found, err := users().find(tx, where{}, that("users.id IN ?", some))
		if err != nil {
			return err
		}
		for _, id := range some {
			b.staff[id] = wrong(field, "there is no user %d", id)
		}
		for _, u := range found {
			b.staff[u.ID] = tx.asStaff(field, u)
		}
	}
	return nil
}

// staffOf refuses a user who may not be named as one of the staff, from the facts.
func (tx *Tx) staffOf(field string, id int64) error {
	if err, read := tx.facts().staff[id]; read {
		return err
	}
	return wrong(field, "there is no user %d", id)
}

// learnKeys reads the logs of the academy that have keys, deleted ones too.
func (tx *Tx) learnKeys(keys []string) error {
	b := tx.facts()
	var missing []string
	for _, key := range keys {
		if _, there := b.keys[key]; !there && key != "" {
			missing = append(missing, key)
			b.keys[key] = nil
		}
	}
	for some := range slices.Chunk(missing, idsAtOnce) {
		found := []models.Log{}
		err := tx.query().Where("academy_id = ? AND key IN ?", tx.who.AcademyID, some).Order("id").Find(&found).Error
		if err := tx.done("read the keys of logs", err); err != nil {
			return err
		}
		for _, l := range found {
			b.keys[l.Key] = append(b.keys[l.Key], l)
		}
	}
	return nil
}

// learnPairs reads what is recorded about players in matches. Players known not to appear in a match are left out:
// they have no logs and no totals.
func (tx *Tx) learnPairs(pairs []pair) error {
	b := tx.facts()
	missing := map[pair]bool{}
	var people []int64
	for _, p := range pairs {
		people = append(people, p.player)
	}
	if err := tx.learnStops(people); err != nil {
		return err
	}
	for _, p := range pairs {
		if b.facts[p] == nil {
			b.facts[p] = newKnown(models.Facts{Today: tx.today()})
			b.stop(p)
			missing[p] = b.sheets[p.match] == nil || b.sheets[p.match].Has(p.player)
		}
	}
	maps.DeleteFunc(missing, func(_ pair, look bool) bool { return !look })
	for some := range slices.Chunk(slices.SortedFunc(maps.Keys(missing), inMatches), pairsAtOnce) {
		ids := matchesOf(some)
		w := that("appearances.match_id IN ?", ids)
		if len(some) == 1 {
			w, ids = and(w, that("appearances.player_id = ?", some[0].player)), nil
		}
		if err := tx.learnPlays(w, ids, func(p pair) bool { return missing[p] }, nil); err != nil {
			return err
		}
	}
	for _, p := range pairs { // of those who do not appear in it, the match alone
		if k := b.facts[p]; !k.Appears && b.matches[p.match] != nil {
			k.Match = *b.matches[p.match]
		}
	}
	return nil
}

// pairsAtOnce is how many plays are read at a time: their involvements are in memory together.
const pairsAtOnce = 500

// inMatches orders pairs by match, then player.
func inMatches(a, b pair) int {
	return cmp.Or(cmp.Compare(a.match, b.match), cmp.Compare(a.player, b.player))
}

// matchesOf returns the matches of pairs, each once and in order.
func matchesOf(pairs []pair) []int64 {
	ids := make([]int64, len(pairs))
	for i, p := range pairs {
		ids[i] = p.match
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// learnLogs reads what is recorded about the logs' players in the logs' matches, and whether involvements with the
// keys were deleted from the logs.
func (tx *Tx) learnLogs(keys []logKey) error {
	b := tx.facts()
	var ids []int64
	for _, k := range keys {
		ids = append(ids, k.log)
	}
	for some := range slices.Chunk(unknown(b.logs, ids), idsAtOnce) {
		for _, id := range some {
			b.logs[id] = pair{}
		}
		w := that(`(appearances.match_id, appearances.player_id) IN (SELECT named.match_id, named.player_id
			FROM logs AS named
			WHERE named.academy_id = ? AND named.id IN ? AND named.deleted_at IS NULL)`, tx.who.AcademyID, some)
		err := tx.learnPlays(w, nil, func(pair) bool { return true }, keys)
		if err != nil {
			return err
		}
	}
	return tx.learnGone(keys)
}

// learnGone reads which of some keys involvements had that were deleted, where that is not known yet.
func (tx *Tx) learnGone(keys []logKey) error {
	b := tx.facts()
	var logs []int64
	var texts []string
	for _, k := range keys {
		if _, there := b.gone[k]; there || k.key == "" || b.fresh(k.log) {
			continue
		}
		b.gone[k] = false
		logs, texts = append(logs, k.log), append(texts, k.key)
	}
	for some := range slices.Chunk(texts, idsAtOnce) {
		type row struct {
			LogID int64
			Key   string
		}
		found, err := rows[row](tx, "read the keys of deleted involvements", `SELECT log_id, key FROM involvements
			WHERE academy_id = ? AND log_id IN ? AND key IN ?
			AND deleted_at IS NOT NULL`, tx.who.AcademyID, compacted(logs), some)
		if err != nil {
			return err
		}
		for _, r := range found {
			b.gone[logKey{r.LogID, r.Key}] = true
		}
	}
	return nil
}

// fresh says whether the transaction has made a log itself: nothing was ever deleted from it.
func (b *book) fresh(log int64) bool {
	k := b.facts[b.logs[log]]
	return k != nil && !slices.ContainsFunc(k.before.Logs, func(l models.LoggedPlay) bool { return l.Log.ID == log })
}

func compacted(ids []int64) []int64 {
	ids = slices.Clone(ids)
	slices.Sort(ids)
	return slices.Compact(ids)
}

// learned is a row of what learnPlays reads: an appearance with its match and player, and one of its stints and
// one of its logs where there are any.
type learned struct {
	Match      models.Match       `gorm:"embedded;embeddedPrefix:m_"`
	Player     models.Player      `gorm:"embedded;embeddedPrefix:p_"`
	Appearance models.Appearance  `gorm:"embedded;embeddedPrefix:a_"`
	Stint      models.Stint       `gorm:"embedded;embeddedPrefix:s_"`
	Totals     models.MatchTotals `gorm:"embedded;embeddedPrefix:t_"`
	Log        models.Log         `gorm:"embedded;embeddedPrefix:l_"`
	Rules      models.Settings    `gorm:"embedded;embeddedPrefix:r_"`
	MayRead    bool               // the log
	MayWrite   bool               // involvements of the log
	Own        bool               // the academy has indicators of its own
	Stopped    bool               // the player had a head contact or a stand-down
}

// learnedColumns are the columns of a learned row but its flags.
var learnedColumns = sync.OnceValue(func() string {
	var all []string
	for _, t := range []struct {
		of            any
		table, prefix string
	}{
		{models.Match{}, "matches", "m_"}, {models.Player{}, "players", "p_"}, {models.Appearance{}, "appearances", "a_"},
		{models.Stint{}, "stints", "s_"}, {models.MatchTotals{}, "match_totals", "t_"}, {models.Log{}, "logs", "l_"},
		{models.Settings{}, "academy_settings", "r_"},
	} {
		parsed, err := schema.Parse(t.of, &sync.Map{}, names{})
		if err != nil {
			panic("store: " + err.Error()) // a type of ours is wrong
		}
		for _, column := range parsed.DBNames {
			all = append(all, t.table+"."+column+" AS "+t.prefix+column)
		}
	}
	return strings.Join(all, ", ")
})

// flag is a condition as a column.
func flag(w where, some bool, name string) where {
	switch {
	case !some:
		w = that("1 = 0")
	case w.sql == "":
		w = that("1 = 1")
	}
	return where{"(" + w.sql + ") AS " + name, w.args}
}

// learnPlays reads everything recorded about the wanted pairs of player and match among some appearances, whatever the
// caller may read. It takes two statements: one for what a pair has once, one for the involvements. It also reads the
// academy's settings, which every rule needs.
//
// For many appearances the caller names their matches. Totals and logs are then read once before they are joined.
// Otherwise PostgreSQL, until it has analysed fresh tables, would read all of an academy's for each appearance.
func (tx *Tx) learnPlays(w where, matches []int64, wanted func(pair) bool, keys []logKey) error {
	once, totals, logged := where{}, "match_totals", "logs"
	if len(matches) > 0 && tx.dialect.postgres() {
		const some = "(SELECT * FROM %s WHERE academy_id = ? AND match_id IN ? AND deleted_at IS NULL)"
		once = that("WITH their_totals AS MATERIALIZED "+fmt.Sprintf(some, totals)+", their_logs AS MATERIALIZED "+
			fmt.Sprintf(some, logged)+" ", tx.who.AcademyID, matches, tx.who.AcademyID, matches)
		totals, logged = "their_totals AS match_totals", "their_logs AS logs"
	}
	read, readable := logs().reaching(tx, models.Read)
	write, writable := involvements().reaching(tx, models.Write)
	mayRead, mayWrite := flag(read, readable, "may_read"), flag(write, writable, "may_write")
	own := that("EXISTS (SELECT 1 FROM indicators AS added WHERE added.academy_id = ? AND added.deleted_at IS NULL)",
		tx.who.AcademyID)
	own = flag(own, true, "own")
	stopped := flag(that(`EXISTS (SELECT 1 FROM head_contacts AS hit WHERE hit.academy_id = appearances.academy_id
			AND hit.player_id = appearances.player_id AND hit.deleted_at IS NULL)
		OR EXISTS (SELECT 1 FROM stand_downs AS kept WHERE kept.academy_id = appearances.academy_id
			AND kept.player_id = appearances.player_id AND kept.deleted_at IS NULL)`), true, "stopped")
	found, err := rows[learned](tx, "read what is recorded", fmt.Sprintf(`%sSELECT %s, %s, %s, %s, %s FROM appearances %s
		JOIN players ON players.academy_id = appearances.academy_id AND players.id = appearances.player_id
		LEFT JOIN stints ON stints.academy_id = appearances.academy_id AND stints.appearance_id = appearances.id
		LEFT JOIN %s ON match_totals.academy_id = appearances.academy_id
			AND match_totals.match_id = appearances.match_id AND match_totals.player_id = appearances.player_id
			AND match_totals.deleted_at IS NULL
		LEFT JOIN %s ON logs.academy_id = appearances.academy_id AND logs.match_id = appearances.match_id
			AND logs.player_id = appearances.player_id AND logs.deleted_at IS NULL
		LEFT JOIN academy_settings ON academy_settings.academy_id = appearances.academy_id
			AND academy_settings.deleted_at IS NULL
		WHERE appearances.academy_id = ? AND appearances.deleted_at IS NULL AND (%s)
		ORDER BY appearances.match_id, appearances.player_id, logs.id, stints.on_half, stints.on_second, stints.id`,
		once.sql, learnedColumns(), mayRead.sql, mayWrite.sql, own.sql, stopped.sql,
		joinMatches("appearances"), totals, logged, w.sql),
		slices.Concat(once.args, mayRead.args, mayWrite.args, own.args, []any{tx.who.AcademyID}, w.args)...)
	if err != nil {
		return err
	}
	fresh := map[pair]*known{}
	for i := range found {
		if of := (pair{found[i].Appearance.PlayerID, found[i].Appearance.MatchID}); wanted(of) {
			tx.take(of, &found[i], fresh)
		}
	}
	if len(found) > 0 {
		tx.decided(found[0].Rules)
		if !found[0].Own {
			tx.onlyCatalogue()
		}
	}
	if err := tx.learnStops(tx.concerned(found)); err != nil {
		return err
	}
	for of := range fresh {
		tx.facts().stop(of)
	}
	if err := tx.loadInvolvements(fresh, keys); err != nil {
		return err
	}
	for _, k := range fresh {
		k.before = k.Play
		k.before.Logs = slices.Clone(k.Logs)
	}
	return nil
}

// concerned returns the players of some rows who had a head contact or a stand-down. Of the others it is known now
// that there was none.
func (tx *Tx) concerned(found []learned) (players []int64) {
	b := tx.facts()
	for i := range found {
		player := found[i].Player.ID
		_, contacts := b.contacts[player]
		if found[i].Stopped {
			players = append(players, player)
		} else if !contacts {
			b.contacts[player] = nil
			if _, downs := b.downs[player]; !downs {
				b.downs[player] = nil
			}
		}
	}
	return players
}

// stop adds a player's head contacts and stand-downs to the facts of a match.
func (b *book) stop(of pair) {
	k := b.facts[of]
	k.Contacts, k.Downs = b.contacts[of.player], b.downs[of.player]
}

// take adds a row to the facts, unless they had its player in its match before.
func (tx *Tx) take(of pair, r *learned, fresh map[pair]*known) {
	b := tx.facts()
	k := fresh[of]
	if k == nil {
		if had := b.facts[of]; had != nil && had.Appears {
			return
		}
		k = newKnown(models.Facts{Appears: true, Player: r.Player, Today: tx.today()})
		k.Match, k.Appearance = r.Match, r.Appearance
		if r.Totals.ID != 0 {
			k.Totals = &r.Totals
		}
		b.facts[of], fresh[of] = k, k
	}
	had := func(s models.Stint) bool { return s.ID == r.Stint.ID }
	if r.Stint.ID != 0 && !slices.ContainsFunc(k.Appearance.Stints, had) {
		k.Appearance.Stints = append(k.Appearance.Stints, r.Stint)
	}
	if _, there := k.Log(r.Log.ID); r.Log.ID != 0 && !there {
		k.PutLog(r.Log)
		k.mine[r.Log.ID] = r.MayWrite
		tx.owns(owner{"logs", r.Log.ID}, r.Log.PlayerID)
		if b.logs[r.Log.ID] = (pair{}); r.MayRead {
			b.logs[r.Log.ID] = of
		}
	}
}

func newKnown(f models.Facts) *known {
	return &known{Facts: f, mine: map[int64]bool{}, sent: map[int64]*models.Involvement{}}
}

// loadInvolvements reads the involvements of the logs of some plays, in order of the clock: of each what rules
// ask for and observations are made from, and no note and no video. It is what every change of a log waits for.
// Of deleted ones it finds those with one of some keys.
func (tx *Tx) loadInvolvements(fresh map[pair]*known, keys []logKey) error {
	b := tx.facts()
	at := map[int64]*models.LoggedPlay{}
	for _, k := range fresh {
		for i := range k.Logs {
			at[k.Logs[i].Log.ID] = &k.Logs[i]
		}
	}
	live := that("deleted_at IS NULL")
	var texts []string
	for _, k := range keys {
		if at[k.log] != nil && k.key != "" && len(keys) <= idsAtOnce {
			b.gone[k] = false
			texts = append(texts, k.key)
		}
	}
	if len(texts) > 0 {
		live = or(live, that("key IN ?", texts))
	}
	for some := range slices.Chunk(slices.Sorted(maps.Keys(at)), pairsAtOnce) {
		var i models.Involvement
		var details, measures, results, dangers []byte
		var broken error
		err := tx.each("read involvements",
			`SELECT id, log_id, half, second, kind, details, measures, results, dangers, possession, phase, linked_to,
			head_contact, key, deleted_at FROM involvements WHERE academy_id = ? AND log_id IN ? AND (`+live.sql+`)
			ORDER BY log_id, half, second, id`, slices.Concat([]any{tx.who.AcademyID, some}, live.args),
			[]any{&i.ID, &i.LogID, &i.Clock.Half, &i.Clock.Second, &i.Kind, &details, &measures, &results, &dangers,
				&i.Possession, &i.Phase,
				&i.LinkedTo, &i.HeadContact, &i.Key, &i.DeletedAt}, func() {
				if i.DeletedAt != nil {
					b.gone[logKey{i.LogID, i.Key}] = true
					return
				}
				found := i
				found.AcademyID = tx.who.AcademyID
				broken = errors.Join(broken, fromJSON(details, &found.Details), fromJSON(measures, &found.Measures),
					fromJSON(results, &found.Results), fromJSON(dangers, &found.Dangers))
				at[i.LogID].Involvements = append(at[i.LogID].Involvements, found)
			})
		if err := errors.Join(err, tx.done("read involvements", broken)); err != nil {
			return err
		}
	}
	return nil
}

// fromJSON reads a column, in which NULL is nothing.
func fromJSON(text []byte, into any) error {
	if len(text) == 0 {
		return nil
	}
	return json.Unmarshal(text, into)
}

// factsOf returns the facts about a player in a match, with the academy's rules for records about the player.
func (tx *Tx) factsOf(p pair) (*known, error) {
	b := tx.facts()
	k := b.facts[p]
	if k == nil {
		return nil, fmt.Errorf("the facts about player %d in match %d were not loaded", p.player, p.match)
	}
	rules, err := tx.settled()
	k.Rules, k.Consents = rules, b.given[p.player]
	return k, err
}

// learnAsked reads the consents of players in matches, where the academy requires any for the purposes.
func (tx *Tx) learnAsked(pairs []pair, purposes ...models.Purpose) error {
	rules, err := tx.settled()
	if err != nil || !slices.ContainsFunc(purposes, rules.Require) {
		return err
	}
	ids := make([]int64, len(pairs))
	for i, p := range pairs {
		ids[i] = p.player
	}
	return tx.learnConsents(ids)
}

// plays returns everything recorded about players in matches, by match and player, whatever the caller may read:
// observations are made from it. A pair without an appearance has no play.
func (tx *Tx) plays(pairs []pair) ([]models.Play, error) {
	if err := tx.learnPairs(pairs); err != nil {
		return nil, err
	}
	b := tx.facts()
	var all []models.Play
	for _, p := range slices.SortedFunc(slices.Values(pairs), inMatches) {
		if k := b.facts[p]; k.Appears {
			all = append(all, k.InOrder())
		}
	}
	return all, nil
}
