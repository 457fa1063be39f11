package pages

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// loggingPage says whom to log in each squad's next match, and which logs the last matches have.
type loggingPage struct {
	Season *models.Season // nil: none is recorded
	Squads []squadRota
	Match  int64 // only of this match; 0: of the last ones
}

// squadRota is a squad's next match with whom to log, and its last matches.
type squadRota struct {
	Name  string
	Next  *evidence.MatchLine // nil: no match is to come
	Turns []rotaLine
	Out   string        // who was left out, and why
	Last  []loggedMatch // the last first
	Logs  int           // finished ones of the season
	Twice int           // players' matches that two coaches logged
}

// rotaLine is a player to log.
type rotaLine struct {
	Name, Address, Why string
	Twice              bool
}

// loggedMatch is a match that was played, with the logs it has.
type loggedMatch struct {
	evidence.MatchLine
	Logs []loggedPlayer
	Open []loggedPlayer // who played and has no finished log
}

// loggedPlayer is a player in a match, with who logged them, and where the logs are compared or one is made.
type loggedPlayer struct{ Name, By, Address string }

// lastLogged is how many of a squad's last matches the page lists.
const lastLogged = 3

// logging is GET /logging.
func (p *Pages) logging(c *gin.Context, who models.Who) error {
	if who.Reach(models.Write, models.AreaPerformance) == models.ReachNone {
		return models.Errorf(models.Forbidden, "this page is for coaches and managers")
	}
	var page loggingPage
	if text := c.Query("match"); text != "" {
		var err error
		if page.Match, err = strconv.ParseInt(text, 10, 64); err != nil || page.Match < 1 {
			return models.Errorf(models.NotFound, "no such match")
		}
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		if page.Season, err = p.pick(tx.Who(), seasons, ""); err != nil || page.Season == nil {
			return err
		}
		return page.read(tx, who)
	})
	if err != nil {
		return fmt.Errorf("page of whom to log: %w", err)
	}
	if page.Match != 0 && len(page.Squads) == 0 {
		return models.Errorf(models.NotFound, "no such match of this season")
	}
	return p.render(c, http.StatusOK, "logging", "Whom to log", page)
}

// logbook is what the rota of each squad is made from: one season's records, read once.
type logbook struct {
	today   models.Date
	players map[int64]models.Player
	members []models.Membership
	matches []models.Match
	played  map[int64]map[int64]bool // match, player
	logs    map[int64]map[int64][]models.Log
	away    func(player int64, on models.Date) bool
	names   map[int64]string // of staff
}

func (page *loggingPage) read(tx *store.Tx, who models.Who) error {
	book, err := readLogbook(tx, page.Season.ID)
	if err != nil {
		return err
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	for _, s := range squads {
		if who.Role != models.RoleManager && !slices.Contains(who.SquadIDs, s.ID) {
			continue
		}
		if page.Match != 0 {
			page.Squads = append(page.Squads, book.only(s, page.Match)...)
			continue
		}
		rota, err := book.rota(tx, s)
		if err != nil {
			return err
		}
		if len(rota.Turns) > 0 || len(rota.Last) > 0 {
			page.Squads = append(page.Squads, rota)
		}
	}
	return nil
}

func readLogbook(tx *store.Tx, season int64) (*logbook, error) {
	book := &logbook{today: tx.Who().Day(tx.Now()), players: map[int64]models.Player{},
		played: map[int64]map[int64]bool{}, logs: map[int64]map[int64][]models.Log{}}
	players, err := tx.Players(models.PlayerFilter{SeasonID: season})
	if err != nil {
		return nil, err
	}
	for _, p := range players {
		book.players[p.ID] = p
	}
	if book.members, err = tx.Memberships(models.MembershipFilter{SeasonID: season}); err != nil {
		return nil, err
	}
	if book.matches, err = tx.Matches(models.MatchFilter{SeasonID: season}); err != nil {
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
	logs, err := tx.Logs(models.LogFilter{SeasonID: season})
	if err != nil {
		return nil, err
	}
	for _, l := range logs {
		if book.logs[l.MatchID] == nil {
			book.logs[l.MatchID] = map[int64][]models.Log{}
		}
		if l.Finished {
			book.logs[l.MatchID][l.PlayerID] = append(book.logs[l.MatchID][l.PlayerID], l)
		}
	}
	if book.names, err = tx.UserNames(); err != nil {
		return nil, err
	}
	return book, book.readAway(tx)
}

// readAway reads who cannot play on a day.
func (b *logbook) readAway(tx *store.Tx) error {
	spells, err := tx.Spells(models.SpellFilter{})
	if err != nil {
		return err
	}
	downs, err := tx.StandDowns(models.StandDownFilter{OpenOnly: true})
	b.away = func(player int64, on models.Date) bool {
		return slices.ContainsFunc(spells, func(s models.Spell) bool {
			return s.PlayerID == player && s.Status == models.Unavailable && s.From <= on && (s.Until == nil || *s.Until >= on)
		}) || slices.ContainsFunc(downs, func(d models.StandDown) bool { return d.PlayerID == player && d.From <= on })
	}
	return err
}

// rota is a squad's.
func (b *logbook) rota(tx *store.Tx, squad models.Squad) (squadRota, error) {
	rota := squadRota{Name: squad.Name}
	var past, coming []models.Match
	for _, m := range b.matches {
		switch {
		case m.SquadID == nil || *m.SquadID != squad.ID:
		case m.Date < b.today || len(b.played[m.ID]) > 0:
			past = append(past, m)
		default:
			coming = append(coming, m)
		}
	}
	for _, m := range past {
		for _, logs := range b.logs[m.ID] {
			rota.Logs += len(logs)
			if len(logs) > 1 {
				rota.Twice++
			}
		}
	}
	for _, m := range slices.Backward(past[max(0, len(past)-lastLogged):]) {
		rota.Last = append(rota.Last, b.match(m))
	}
	if len(coming) == 0 {
		return rota, nil
	}
	next := evidence.LineOf(coming[0])
	rota.Next = &next
	players := b.squad(squad, past, next.Date)
	away := 0
	for _, p := range players {
		if p.Away {
			away++
		}
	}
	for {
		turns := models.Rota(players, len(coming), rota.Logs, rota.Twice)
		kept, err := consented(tx, players, turns, next.Date)
		if err != nil {
			return rota, err
		}
		if !kept {
			continue // without those whose consent is missing
		}
		rota.Out = leftOut(players, away)
		for _, turn := range turns {
			rota.Turns = append(rota.Turns, rotaLine{b.players[turn.PlayerID].Name, playerAddress(turn.PlayerID),
				turnWords(turn), turn.Twice})
		}
		return rota, nil
	}
}

// only is a squad with one match of its own; none if the match is not the squad's.
func (b *logbook) only(squad models.Squad, match int64) []squadRota {
	for _, m := range b.matches {
		if m.ID == match && m.SquadID != nil && *m.SquadID == squad.ID {
			return []squadRota{{Name: squad.Name, Last: []loggedMatch{b.match(m)}}}
		}
	}
	return nil
}

// leftOut says who was left out: those who are away, and those found to lack a consent.
func leftOut(players []models.RotaPlayer, away int) string {
	lacking := -away
	for _, p := range players {
		if p.Away {
			lacking++
		}
	}
	var why []string
	if away > 0 {
		why = append(why, fmt.Sprintf("%d unavailable or stood down", away))
	}
	if lacking > 0 {
		why = append(why, fmt.Sprintf("%d without the consents that a log needs", lacking))
	}
	return paper.And(why)
}

// consented says whether each player proposed has the consents that a log needs, and marks those who have not as away.
func consented(tx *store.Tx, players []models.RotaPlayer, turns []models.RotaTurn, on models.Date) (bool, error) {
	all := true
	for _, turn := range turns {
		switch err := tx.Consented(turn.PlayerID, on, models.PurposeRecords, models.PurposeFilming); {
		case models.CodeOf(err) == models.Conflict:
			at := slices.IndexFunc(players, func(p models.RotaPlayer) bool { return p.PlayerID == turn.PlayerID })
			players[at].Away, all = true, false
		case err != nil:
			return false, err
		}
	}
	return all, nil
}

// squad is how often each member of a squad was logged in its matches so far.
func (b *logbook) squad(squad models.Squad, past []models.Match, on models.Date) (all []models.RotaPlayer) {
	for _, m := range b.members {
		if m.SquadID != squad.ID || m.From > on || m.Until != nil && *m.Until < on || b.players[m.PlayerID].ID == 0 ||
			slices.ContainsFunc(all, func(p models.RotaPlayer) bool { return p.PlayerID == m.PlayerID }) {
			continue
		}
		one := models.RotaPlayer{PlayerID: m.PlayerID, Away: b.away(m.PlayerID, on)}
		for _, match := range past {
			if b.played[match.ID][m.PlayerID] {
				one.Played++
			}
			if len(b.logs[match.ID][m.PlayerID]) > 0 {
				one.Logged++
				one.Last = max(one.Last, match.Date)
			}
		}
		all = append(all, one)
	}
	return all
}

// match is one that was played, with the logs it has.
func (b *logbook) match(m models.Match) loggedMatch {
	one := loggedMatch{MatchLine: evidence.LineOf(m)}
	for player := range b.played[m.ID] {
		if b.players[player].ID == 0 {
			continue
		}
		line := loggedPlayer{Name: b.players[player].Name}
		var by []string
		logs := b.logs[m.ID][player]
		for _, l := range logs {
			by = append(by, b.names[l.LoggerID])
		}
		if line.By = paper.And(by); line.By == "" {
			line.Address = logAddress(m.ID, player)
			one.Open = append(one.Open, line)
			continue
		}
		if len(logs) > 1 {
			line.Address = agreementAddress(logs[0].ID, logs[1].ID)
		}
		one.Logs = append(one.Logs, line)
	}
	for _, lines := range [][]loggedPlayer{one.Logs, one.Open} {
		slices.SortFunc(lines, func(a, b loggedPlayer) int { return strings.Compare(folded(a.Name), folded(b.Name)) })
	}
	return one
}

// turnWords say why it is a player's turn.
func turnWords(t models.RotaTurn) string {
	switch {
	case t.Played == 0:
		return "has not played yet"
	case t.Logged == 0:
		return "not logged yet in " + paper.Plural(t.Played, "match", "matches")
	}
	return fmt.Sprintf("logged in %d of %s, last on %s", t.Logged, paper.Plural(t.Played, "match", "matches"),
		paper.Day(string(t.Last)))
}
