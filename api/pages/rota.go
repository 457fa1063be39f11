package pages

import (
	"fmt"
	"slices"
	"strings"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// logbook is what the rota of each squad is made from: one season's records, read once.
type logbook struct {
	me         int64 // the caller
	today      models.Date
	players    map[int64]models.Player
	members    []models.Membership
	matches    []models.Match
	played     map[int64]map[int64]bool         // match, player
	logs       map[int64]map[int64][]models.Log // the same; finished ones first
	away       func(player int64, on models.Date) bool
	stoodDown  func(player int64, on models.Date) bool
	consenting func(player int64, on models.Date) bool
	names      map[int64]string // of staff
}

func readLogbook(tx *store.Tx, season int64) (*logbook, error) {
	book := &logbook{me: tx.Who().UserID, today: tx.Who().Day(tx.Now()), players: map[int64]models.Player{},
		played: map[int64]map[int64]bool{}, logs: map[int64]map[int64][]models.Log{}}
	players, err := tx.Players(models.PlayerFilter{SeasonID: season})
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(players))
	for i, p := range players {
		book.players[p.ID], ids[i] = p, p.ID
	}
	if book.members, err = tx.Memberships(models.MembershipFilter{SeasonID: season}); err != nil {
		return nil, err
	}
	if book.matches, err = tx.Matches(models.MatchFilter{SeasonID: season, Bare: true}); err != nil {
		return nil, err
	}
	appearances, err := tx.Appearances(models.AppearanceFilter{SeasonID: season, Bare: true})
	if err != nil {
		return nil, err
	}
	for _, a := range appearances {
		if book.played[a.MatchID] == nil {
			book.played[a.MatchID] = map[int64]bool{}
		}
		book.played[a.MatchID][a.PlayerID] = true
	}
	if book.names, err = tx.UserNames(); err != nil {
		return nil, err
	}
	if book.consenting, err = tx.Consenting(ids, models.PurposeRecords, models.PurposeFilming); err != nil {
		return nil, err
	}
	if err := book.readLogs(tx, season); err != nil {
		return nil, err
	}
	return book, book.readAway(tx)
}

func (b *logbook) readLogs(tx *store.Tx, season int64) error {
	logs, err := tx.Logs(models.LogFilter{SeasonID: season, Bare: true})
	slices.SortStableFunc(logs, func(a, b models.Log) int {
		switch {
		case a.Finished == b.Finished:
			return 0
		case a.Finished:
			return -1
		}
		return 1
	})
	for _, l := range logs {
		if b.logs[l.MatchID] == nil {
			b.logs[l.MatchID] = map[int64][]models.Log{}
		}
		b.logs[l.MatchID][l.PlayerID] = append(b.logs[l.MatchID][l.PlayerID], l)
	}
	return err
}

// readAway reads who cannot play on a day.
func (b *logbook) readAway(tx *store.Tx) error {
	spells, err := tx.Spells(models.SpellFilter{})
	if err != nil {
		return err
	}
	downs, err := tx.StandDowns(models.StandDownFilter{OpenOnly: true})
	b.stoodDown = func(player int64, on models.Date) bool {
		return slices.ContainsFunc(downs, func(d models.StandDown) bool { return d.PlayerID == player && d.From <= on })
	}
	b.away = func(player int64, on models.Date) bool {
		return b.stoodDown(player, on) || slices.ContainsFunc(spells, func(s models.Spell) bool {
			return s.PlayerID == player && s.Status == models.Unavailable && s.From <= on && (s.Until == nil || *s.Until >= on)
		})
	}
	return err
}

// finished are the finished logs of a player in a match.
func (b *logbook) finished(match, player int64) []models.Log {
	logs := b.logs[match][player]
	for i, l := range logs {
		if !l.Finished {
			return logs[:i]
		}
	}
	return logs
}

// matchRota is whom to log in one match.
type matchRota struct {
	match models.Match
	sheet bool // it has a team sheet: only who is on it can be logged
	over  bool // it was played, or is past
	turns []models.RotaTurn
	// How many were left out because they are unavailable or stood down, and for want of a consent.
	away, lacking int
}

// planAhead is for how many matches a proposal that was not followed yet still counts as made, so that two matches in a
// row do not ask for the same players. After that it no longer counts.
const planAhead = 3

// rotas are those of a squad's matches and of the next one to come, in order. Each proposes from what came before its
// match, and so stays as it is while logs are made. Those who were logged are no longer in it; who is for two coaches
// is until two have logged them.
func (b *logbook) rotas(squad int64) (all []matchRota) {
	var matches []models.Match
	for _, m := range b.matches {
		if m.SquadID != nil && *m.SquadID == squad {
			matches = append(matches, m)
		}
	}
	so := tally{players: map[int64]models.RotaPlayer{}}
	coming := false
	for i, m := range matches {
		one := matchRota{match: m, sheet: len(b.played[m.ID]) > 0}
		one.over = one.sheet || m.Date < b.today
		if !one.over && coming {
			continue
		}
		coming = coming || !one.over
		now := so.with(all[max(0, len(all)-planAhead):])
		players := b.candidates(squad, &one, now)
		one.turns = b.left(m.ID, models.Rota(players, len(matches)-i, now.logs, now.twice))
		for n := range one.turns { // what the page says of them is what was logged
			turn := &one.turns[n]
			turn.RotaPlayer = so.of(turn.PlayerID)
		}
		all = append(all, one)
		so.add(b, m)
	}
	return all
}

// tally is what was logged up to a match.
type tally struct {
	players     map[int64]models.RotaPlayer
	logs, twice int
}

// of is what it has of a player.
func (t tally) of(player int64) models.RotaPlayer {
	one := t.players[player]
	one.PlayerID = player
	return one
}

func (t *tally) add(b *logbook, m models.Match) {
	for player := range b.played[m.ID] {
		one := t.players[player]
		one.Played++
		if logs := b.finished(m.ID, player); len(logs) > 0 {
			one.Logged, one.Last = one.Logged+1, m.Date
			t.logs += len(logs)
			if len(logs) > 1 {
				t.twice++
			}
		}
		t.players[player] = one
	}
}

// with adds what was proposed and is not logged yet as if it were.
func (t tally) with(proposed []matchRota) tally {
	sum := tally{map[int64]models.RotaPlayer{}, t.logs, t.twice}
	for player, one := range t.players {
		sum.players[player] = one
	}
	for _, r := range proposed {
		for _, turn := range r.turns {
			one := sum.players[turn.PlayerID]
			if one.Last < r.match.Date {
				one.Logged, one.Last = one.Logged+1, r.match.Date
			}
			sum.players[turn.PlayerID] = one
			sum.logs++
			if turn.Twice {
				sum.twice++
			}
		}
	}
	return sum
}

// candidates are the squad's members on the day of a match: once there is a team sheet, those who are on it.
func (b *logbook) candidates(squad int64, r *matchRota, so tally) (all []models.RotaPlayer) {
	on := r.match.Date
	for _, m := range b.members {
		if m.SquadID != squad || m.From > on || m.Until != nil && *m.Until < on || b.players[m.PlayerID].ID == 0 ||
			r.sheet && !b.played[r.match.ID][m.PlayerID] ||
			slices.ContainsFunc(all, func(p models.RotaPlayer) bool { return p.PlayerID == m.PlayerID }) {
			continue
		}
		one := so.of(m.PlayerID)
		switch {
		case b.stoodDown(m.PlayerID, on), !r.sheet && b.away(m.PlayerID, on):
			one.Away = true
			r.away++
		case !b.consenting(m.PlayerID, on):
			one.Away = true
			r.lacking++
		}
		all = append(all, one)
	}
	return all
}

// left are the turns that are still to be logged. A player who was logged instead takes the place of the last one who
// has no log, and of one for two coaches after all others.
func (b *logbook) left(match int64, turns []models.RotaTurn) (open []models.RotaTurn) {
	instead, twice := 0, false
	for player := range b.logs[match] {
		n := len(b.finished(match, player))
		twice = twice || n > 1
		if n > 0 && !slices.ContainsFunc(turns, func(t models.RotaTurn) bool { return t.PlayerID == player }) {
			instead++
		}
	}
	for _, turn := range turns {
		turn.Twice = turn.Twice && !twice
		if n := len(b.finished(match, turn.PlayerID)); n == 0 || turn.Twice {
			open = append(open, turn)
		}
	}
	for _, doubled := range []bool{false, true} {
		for i := len(open) - 1; i >= 0 && instead > 0; i-- {
			if open[i].Twice == doubled && len(b.finished(match, open[i].PlayerID)) == 0 {
				open = slices.Delete(open, i, i+1)
				instead--
			}
		}
	}
	return open
}

// out says who was left out, and why.
func (r matchRota) out() string {
	var why []string
	if r.away > 0 {
		why = append(why, fmt.Sprintf("%d unavailable or stood down", r.away))
	}
	if r.lacking > 0 {
		why = append(why, fmt.Sprintf("%d without the consents that a log needs", r.lacking))
	}
	return paper.And(why)
}

// loggedPlayer is a player in a match: who has logged them, and what the caller can do.
type loggedPlayer struct {
	Player      int64
	Name        string
	Said        string // who logged them and who started to; empty: no one
	Compare     string // where two finished logs are compared; empty: there are not two
	Address, Do string // of the caller's log; both empty where two others have logged the player
	Why         string // it is the player's turn; empty if it is not
	Twice       bool   // two coaches are to log them
	done        bool   // there is a finished log
}

// player is one in a match.
func (b *logbook) player(match, player int64) loggedPlayer {
	name := b.players[player].Name
	one := loggedPlayer{Player: player, Name: name, Address: logAddress(match, player)}
	var by, started, said []string
	for _, l := range b.logs[match][player] {
		who := b.names[l.LoggerID]
		if l.LoggerID == b.me {
			who, one.Do = "you", "Open your log of "+name
			if !l.Finished {
				one.Do = "Go on with your log of " + name
			}
		}
		if l.Finished {
			by = append(by, who)
		} else {
			started = append(started, who)
		}
	}
	if by != nil {
		said = append(said, "logged by "+paper.And(by))
	}
	if started != nil {
		said = append(said, "started by "+paper.And(started))
	}
	one.Said, one.done = strings.Join(said, ", "), by != nil
	if len(by) > 1 {
		logs := b.finished(match, player)
		one.Compare = agreementAddress(logs[0].ID, logs[1].ID)
	}
	switch {
	case one.Do != "":
	case len(by) > 1:
		one.Address = ""
	case by != nil:
		one.Do = fmt.Sprintf("Log %s as second coach", name)
	default:
		one.Do = "Log " + name
	}
	return one
}

// turn is a player whose turn it is in a match.
func (b *logbook) turn(r matchRota, t models.RotaTurn) loggedPlayer {
	one := b.player(r.match.ID, t.PlayerID)
	one.Why, one.Twice = turnWords(t, r.sheet), t.Twice
	if !r.sheet {
		one.Do, one.Address = one.Name, playerAddress(t.PlayerID)
	}
	return one
}

// turnWords say why it is a player's turn.
func turnWords(t models.RotaTurn, onSheet bool) string {
	switch {
	case t.Played == 0 && onSheet:
		return "plays for the first time this season"
	case t.Played == 0:
		return "has not played yet"
	case t.Logged == 0:
		return "not logged yet in " + paper.Plural(t.Played, "match", "matches")
	}
	return fmt.Sprintf("logged in %d of %s, last on %s", t.Logged, paper.Plural(t.Played, "match", "matches"),
		paper.Day(string(t.Last)))
}
