package pages

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// matchPage is a match: what it is, its team sheet and its events, each with its form.
type matchPage struct {
	Form       Form
	Match      models.Match
	Squad      string
	Score      string
	Venues     []field
	Venue      string
	Difficulty string
	Sheet      teamSheet
	Left       []string // columns of a pasted sheet that were left out
	Events     []eventRow
	Kinds      []field
	Players    []field // who appeared
	Halves     []field
	Hub        []matchPlayer
	Notes      bool // the reader may write notes
	Manages    bool
	Guests     []field // players outside the squad who can be put on the sheet; nil if the reader may not
}

// eventRow is a score, a card or a substitution.
type eventRow struct {
	models.MatchEvent
	Words, Form, Side, Half, Player, Off string
	Head                                 bool // a head contact, which is only taken back here
}

// eventWords are the kinds of events as a person chooses them. A head contact has a form of its own on the player's
// page, which says what to do next.
var eventWords = []field{
	{string(models.EventTry), "Try"}, {string(models.EventConversion), "Conversion"},
	{string(models.EventPenaltyGoal), "Penalty goal"}, {string(models.EventDropGoal), "Drop goal"},
	{string(models.EventPenaltyTry), "Penalty try"}, {string(models.EventYellowCard), "Yellow card"},
	{string(models.EventRedCard), "Red card"}, {string(models.EventSubstitution), "Substitution"},
}

// sides are whose an event is.
func sides() []field { return []field{{"ours", "ours"}, {"theirs", "theirs"}} }

func (p *Pages) match(c *gin.Context, who models.Who) error { return p.matchWith(c, who, Form{}) }

// matchWith is GET /matches/:match.
func (p *Pages) matchWith(c *gin.Context, who models.Who, form Form) error {
	return p.showMatch(c, who, form, nil)
}

// showMatch shows a match, with the lines of a team sheet that was pasted or sent where there are any, and the columns
// that were left out of a pasted one.
func (p *Pages) showMatch(c *gin.Context, who models.Who, form Form, lines []sheetLine, left ...string) error {
	if err := keepsMatches(who); err != nil {
		return err
	}
	match, err := id(c, "match")
	if err != nil {
		return err
	}
	page := matchPage{Form: form, Left: left, Venues: venueChoices(), Kinds: eventWords, Manages: manages(who) == nil}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Match, err = tx.Match(match); err != nil {
			return err
		}
		if page.Squad, err = teamOf(tx, page.Match); err != nil {
			return err
		}
		if page.Sheet, err = readSheet(tx, page.Match); err != nil {
			return err
		}
		if page.Match.SquadID != nil && who.Reach(models.Write, models.AreaPlayers) == models.ReachAcademy {
			page.Guests = append([]field{{"", "none"}}, page.Sheet.Outside...)
		}
		if err := page.readHub(tx, who); err != nil {
			return err
		}
		return page.readEvents(tx)
	})
	if err != nil {
		return err
	}
	switch {
	case lines != nil:
		page.Sheet.fill(lines)
	case form.Name == "sheet":
		page.Sheet.fill(linesSent(form.sent))
	default:
		page.Sheet.fill(page.Sheet.filed)
	}
	page.describe()
	return p.render(c, form.status(), "match", page.Squad+" against "+page.Match.Opponent, page)
}

func (page *matchPage) describe() {
	page.Venue = venueWords(page.Match)
	if page.Match.Difficulty != nil {
		page.Difficulty = strconv.Itoa(*page.Match.Difficulty)
	}
	if s := page.Match.Score; s != nil {
		page.Score = fmt.Sprintf("%d–%d", s.Ours, s.Theirs)
	}
	for half := 1; half <= page.Match.Halves; half++ {
		page.Halves = append(page.Halves, field{strconv.Itoa(half), strconv.Itoa(half)})
	}
}

func (page *matchPage) readEvents(tx *store.Tx) error {
	events, err := tx.MatchEvents(page.Match.ID)
	if err != nil {
		return err
	}
	page.Players = []field{{"", "not recorded"}}
	names := map[int64]string{}
	for _, l := range page.Sheet.filed {
		if names[l.player] == "" {
			names[l.player] = l.Player
			page.Players = append(page.Players, field{strconv.FormatInt(l.player, 10), l.Player})
		}
	}
	for _, e := range events {
		row := eventRow{MatchEvent: e, Words: eventInWords(e, names), Form: fmt.Sprintf("event-%d", e.ID), Side: "ours",
			Half: strconv.Itoa(e.Clock.Half), Head: e.Kind == models.EventHeadContact}
		if !e.Ours {
			row.Side = "theirs"
		}
		if e.PlayerID != nil {
			row.Player = strconv.FormatInt(*e.PlayerID, 10)
		}
		if e.OffID != nil {
			row.Off = strconv.FormatInt(*e.OffID, 10)
		}
		page.Events = append(page.Events, row)
	}
	return nil
}

func eventInWords(e models.MatchEvent, names map[int64]string) string {
	words := strings.ReplaceAll(string(e.Kind), "_", " ")
	for _, k := range eventWords {
		if k.Name == string(e.Kind) {
			words = k.Value
		}
	}
	words = fmt.Sprintf("%s, %s: %s", e.Clock.Time(), map[bool]string{true: "ours", false: "theirs"}[e.Ours],
		paper.Upper(words))
	if e.PlayerID != nil && names[*e.PlayerID] != "" {
		words += ", " + names[*e.PlayerID]
	}
	if e.OffID != nil && names[*e.OffID] != "" {
		words += " for " + names[*e.OffID]
	}
	return words
}

// changeMatch is POST /matches/:match.
func (p *Pages) changeMatch(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onMatch(c, who, func(tx *store.Tx, now models.Match) error {
		m := matchOf(f)
		if err := f.err(); err != nil {
			return err
		}
		m.Record, m.SeasonID, m.SquadID, m.OtherTeam = now.Record, now.SeasonID, now.SquadID, now.OtherTeam
		m.Version = f.version()
		return tx.UpdateMatch(&m)
	})
}

// onMatch does something to the match of the address, and goes back to it.
func (p *Pages) onMatch(c *gin.Context, who models.Who, do func(*store.Tx, models.Match) error) (string, error) {
	match, err := id(c, "match")
	if err != nil {
		return "", err
	}
	return matchAddress(match), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if err := keepsMatches(who); err != nil {
			return err
		}
		m, err := tx.Match(match)
		if err != nil {
			return err
		}
		return do(tx, m)
	})
}

// deleteMatch is POST /matches/:match/delete.
func (p *Pages) deleteMatch(c *gin.Context, who models.Who, f *fields) (string, error) {
	_, err := p.onMatch(c, who, func(tx *store.Tx, m models.Match) error { return tx.DeleteMatch(m.ID, f.version()) })
	return "/matches", err
}

// addEvent is POST /matches/:match/events.
func (p *Pages) addEvent(c *gin.Context, who models.Who, f *fields) (string, error) {
	next, err := p.onMatch(c, who, func(tx *store.Tx, m models.Match) error {
		e, err := eventSent(m, f)
		if err != nil {
			return err
		}
		return tx.CreateMatchEvent(&e)
	})
	return next + "#events", err
}

// eventSent reads an event from a form.
func eventSent(m models.Match, f *fields) (models.MatchEvent, error) {
	e := models.MatchEvent{MatchID: m.ID, Kind: models.EventKind(f.text("kind")), Ours: f.text("side") != "theirs",
		PlayerID: f.idIfAny("player_id"), OffID: f.idIfAny("off_id")}
	clock := f.clockIfAny("half", "clock")
	if f.text("clock") == "" {
		f.refuse("clock", "write minutes and seconds of the match clock, such as 52:30")
	}
	if err := f.err(); err != nil {
		return e, err
	}
	e.Clock = *clock
	return e, nil
}

// changeEvent is POST /matches/:match/events/:id.
func (p *Pages) changeEvent(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onEvent(c, who, func(tx *store.Tx, m models.Match, now models.MatchEvent) error {
		e, err := eventSent(m, f)
		if err != nil {
			return err
		}
		if now.Kind == models.EventHeadContact {
			return models.Errorf(models.Conflict, "a head contact stays as it is; if it was marked by mistake, delete it here "+
				"and ask a manager to delete the head contact too")
		}
		e.Record = now.Record
		e.Version = f.version()
		return tx.UpdateMatchEvent(&e)
	})
}

// onEvent does something to an event of the match of the address, and goes back to the events.
func (p *Pages) onEvent(c *gin.Context, who models.Who,
	do func(*store.Tx, models.Match, models.MatchEvent) error) (string, error) {
	event, err := id(c, "id")
	if err != nil {
		return "", err
	}
	next, err := p.onMatch(c, who, func(tx *store.Tx, m models.Match) error {
		e, err := tx.MatchEvent(event)
		if err == nil && e.MatchID != m.ID {
			err = models.Errorf(models.NotFound, "no such event of this match")
		}
		if err != nil {
			return err
		}
		return do(tx, m, e)
	})
	return next + "#events", err
}

// deleteEvent is POST /matches/:match/events/:id/delete.
func (p *Pages) deleteEvent(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onEvent(c, who, func(tx *store.Tx, _ models.Match, e models.MatchEvent) error {
		return tx.DeleteMatchEvent(e.ID, f.version())
	})
}
