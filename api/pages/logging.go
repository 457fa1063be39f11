package pages

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
)

// loggingPage says whom to log in each squad's matches, and which logs they have.
type loggingPage struct {
	Season  *models.Season // nil: none is recorded
	Seasons []models.Season
	Manages bool
	Squads  []squadRota
	Match   int64 // only of this match; 0: of all
}

// squadRota is a squad's matches with whom to log in each, the latest first.
type squadRota struct {
	Name    string
	Waiting []loggedMatch // those with a team sheet in which players are still to be logged
	Older   []evidence.MatchLine
	Bare    []loggedMatch // past ones without a team sheet
	Barer   int           // how many more of them there are
	Next    *loggedMatch  // nil: no match is to come
	Done    []loggedMatch
	Logs    int // finished ones of the season
	Twice   int // players' matches that two coaches logged
}

// None says whether the squad has no match.
func (s squadRota) None() bool {
	return s.Next == nil && len(s.Waiting)+len(s.Bare)+len(s.Done) == 0
}

// loggedMatch is a match with whom to log in it, and with the logs it has.
type loggedMatch struct {
	evidence.MatchLine
	Sheet bool
	Turns []loggedPlayer // whose turn it is
	Out   string         // who was left out, and why
	Logs  []loggedPlayer // the others who were logged, or whose log was started
	Open  []loggedPlayer // the others who played
}

// lastLogged is how many of a squad's matches of a sort the page shows in full.
const lastLogged = 3

// logging is GET /logging.
func (p *Pages) logging(c *gin.Context, who models.Who) error {
	if who.Reach(models.Write, models.AreaPerformance) == models.ReachNone {
		return models.Errorf(models.Forbidden, "this page is for coaches and managers")
	}
	page := loggingPage{Manages: manages(who) == nil}
	season := c.Query("season")
	if text := c.Query("match"); text != "" {
		var err error
		if page.Match, err = strconv.ParseInt(text, 10, 64); err != nil || page.Match < 1 {
			return models.Errorf(models.NotFound, "no such match")
		}
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Seasons, err = tx.Seasons(models.SeasonFilter{}); err != nil {
			return err
		}
		if page.Match != 0 {
			m, err := tx.Match(page.Match)
			if err != nil {
				return err
			}
			season = strconv.FormatInt(m.SeasonID, 10)
		}
		if page.Season, err = p.pick(tx.Who(), page.Seasons, season); err != nil || page.Season == nil {
			return err
		}
		return page.read(tx)
	})
	if err != nil {
		return fmt.Errorf("page of whom to log: %w", err)
	}
	if page.Match != 0 && len(page.Squads) == 0 {
		return models.Errorf(models.NotFound, "no such match of your squads")
	}
	return p.render(c, http.StatusOK, "logging", "Whom to log", page)
}

func (page *loggingPage) read(tx *store.Tx) error {
	book, err := readLogbook(tx, page.Season.ID)
	if err != nil {
		return err
	}
	squads, err := ownSquads(tx)
	if err != nil {
		return err
	}
	for _, s := range squads {
		rota := book.squad(s, page.Match)
		if page.Match == 0 || !rota.None() {
			page.Squads = append(page.Squads, rota)
		}
	}
	return nil
}

// squad is a squad's part of the page; of one match alone, unless that is 0.
func (b *logbook) squad(squad models.Squad, only int64) squadRota {
	rota := squadRota{Name: squad.Name}
	for _, r := range slices.Backward(b.rotas(squad.ID)) {
		if only != 0 && r.match.ID != only {
			continue
		}
		for player := range b.logs[r.match.ID] {
			logs := len(b.finished(r.match.ID, player))
			rota.Logs += logs
			if logs > 1 {
				rota.Twice++
			}
		}
		switch {
		case !r.over:
			next := b.match(r)
			rota.Next = &next
		case !r.sheet && len(rota.Bare) < lastLogged:
			rota.Bare = append(rota.Bare, b.match(r))
		case !r.sheet:
			rota.Barer++
		case len(r.turns) > 0 && len(rota.Waiting) < lastLogged:
			rota.Waiting = append(rota.Waiting, b.match(r))
		case len(r.turns) > 0:
			rota.Older = append(rota.Older, evidence.LineOf(r.match))
		case len(rota.Done) < lastLogged:
			rota.Done = append(rota.Done, b.match(r))
		}
	}
	return rota
}

// match is one with whom to log in it, and with the logs it has.
func (b *logbook) match(r matchRota) loggedMatch {
	one := loggedMatch{MatchLine: evidence.LineOf(r.match), Sheet: r.sheet, Out: r.out()}
	listed := map[int64]bool{}
	for _, turn := range r.turns {
		one.Turns = append(one.Turns, b.turn(r, turn))
		listed[turn.PlayerID] = true
	}
	for player := range b.played[r.match.ID] {
		if listed[player] || b.players[player].ID == 0 {
			continue
		}
		if line := b.player(r.match.ID, player); line.Said != "" {
			one.Logs = append(one.Logs, line)
		} else {
			one.Open = append(one.Open, line)
		}
	}
	for _, lines := range [][]loggedPlayer{one.Logs, one.Open} {
		slices.SortFunc(lines, func(a, b loggedPlayer) int {
			return cmp.Or(strings.Compare(folded(a.Name), folded(b.Name)), cmp.Compare(a.Player, b.Player))
		})
	}
	return one
}
