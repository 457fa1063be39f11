package pages

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/matchreview"
)

// writing is what staff write about a player on the page: the notes so far, and the goals that a check-in can be on.
type writing struct {
	Notes   []writtenNote // the last first
	Goals   []goalChoice  // open ones
	Preview *preview      // of what was sent, before it is saved
	// the match that the form of a note names, if it is older than those to choose from
	Match *evidence.MatchLine
}

// writtenNote is a review note, with its address for changing it.
type writtenNote struct {
	evidence.NoteLine
	Address string
	Read    bool // by the player
}

// goalChoice is a goal that a check-in can be on.
type goalChoice struct {
	ID    int64
	Label string
}

// preview is how a note or a check-in will look. Fields are what saves it: exactly what is shown is kept.
type preview struct {
	Form, Save    string // the form, and where it is saved
	Heading, Goal string
	Meta, Text    string
	StaffOnly     bool
	Fields        []field
}

// field is a field of a form as it was sent.
type field struct{ Name, Value string }

// notesShown is how many of the last notes the page of a player lists.
const notesShown = 20

// notesFirst is how many notes the season opens with.
const notesFirst = 3

// Latest and Earlier are the notes that the season opens with, and the others.
func (w writing) Latest() []writtenNote  { return w.Notes[:min(len(w.Notes), notesFirst)] }
func (w writing) Earlier() []writtenNote { return w.Notes[min(len(w.Notes), notesFirst):] }

// readWriting reads what staff have written about the player.
func (page *playerPage) readWriting(tx *store.Tx) error {
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	notes, err := tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	for _, n := range slices.Backward(notes) {
		if len(page.Writing.Notes) == notesShown {
			break
		}
		line, err := noteLine(tx, n, names)
		if err != nil {
			return err
		}
		page.Writing.Notes = append(page.Writing.Notes, writtenNote{line,
			fmt.Sprintf("%s?note=%d#write", playerAddress(page.Player.ID), n.ID), n.ReadAt != nil})
	}
	goals, err := tx.Goals(models.GoalFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	labels, err := tx.Labels()
	for _, g := range goals {
		if g.ClosedOn == nil {
			page.Writing.Goals = append(page.Writing.Goals, goalChoice{g.ID, labels.Of(g.Indicator, g.Skill,
				page.Player.Group())})
		}
	}
	return err
}

// goalLabel is what a goal is on, as the player's position group reads it.
func goalLabel(tx *store.Tx, g models.Goal) (string, error) {
	labels, err := tx.Labels()
	if err != nil {
		return "", err
	}
	player, err := tx.Player(g.PlayerID)
	return labels.Of(g.Indicator, g.Skill, player.Group()), err
}

// noteLine is a note as papers print it.
func noteLine(tx *store.Tx, n models.ReviewNote, names map[int64]string) (evidence.NoteLine, error) {
	line := evidence.NoteLine{ID: n.ID, Date: n.Date, Author: names[n.AuthorID], Shared: n.Shared, Text: n.Text,
		FollowUp: n.FollowUp}
	if n.MatchID == nil {
		return line, nil
	}
	m, err := tx.Match(*n.MatchID)
	if models.CodeOf(err) == models.NotFound { // another squad's
		return line, nil
	}
	line.On = m.Opponent
	return line, err
}

// changing is the form of a note as it is on file, for changing it.
func changing(tx *store.Tx, player int64, id string) (Form, error) {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return Form{}, models.Errorf(models.NotFound, "no such note")
	}
	note, err := tx.ReviewNote(n)
	if err != nil {
		return Form{}, err
	}
	if note.PlayerID != player {
		return Form{}, models.Errorf(models.NotFound, "no such note")
	}
	values := url.Values{"note": {id}, "version": {strconv.FormatInt(note.Version, 10)}, "text": {note.Text},
		"readers": {readers(note.Shared)}}
	if note.MatchID != nil {
		values.Set("match_id", strconv.FormatInt(*note.MatchID, 10))
	}
	if note.FollowUp != nil {
		values.Set("follow_up", string(*note.FollowUp))
	}
	return Form{Name: "note", fine: true, sent: values}, nil
}

// proposed is the form of a new note with the lines that the review of a match proposes.
func proposed(
	ctx context.Context, tx *store.Tx, who models.Who, player int64, match string, now time.Time,
) (Form, error) {
	id, err := strconv.ParseInt(match, 10, 64)
	if err != nil {
		return Form{}, models.Errorf(models.NotFound, "no such match")
	}
	r, err := matchreview.Read(ctx, tx, matchreview.Request{PlayerID: player, MatchID: id, Who: who, Now: who.Local(now),
		Edition: matchreview.PlayerEdition})
	if err != nil {
		return Form{}, err
	}
	return Form{Name: "note", fine: true, sent: url.Values{"text": {r.Proposal()}, "match_id": {match}}}, nil
}

// readNoted reads the match that the form of a note names, so that an older one is not lost when the note is saved.
func (page *playerPage) readNoted(tx *store.Tx) error {
	id, err := strconv.ParseInt(page.Form.sent.Get("match_id"), 10, 64)
	if err != nil || page.Form.Name != "note" || slices.ContainsFunc(page.Matches, func(m evidence.MatchLine) bool {
		return m.ID == id
	}) {
		return nil
	}
	m, err := tx.Match(id)
	if models.CodeOf(err) == models.NotFound {
		return nil
	}
	line := evidence.LineOf(m)
	page.Writing.Match = &line
	return err
}

// The readers of a note, as the form names them.
const (
	forPlayer = "player"
	forStaff  = "staff"
)

func readers(shared bool) string {
	if shared {
		return forPlayer
	}
	return forStaff
}

// readers reads who may read a note or a check-in: whether the player may.
func (f *fields) readers(what string) bool {
	switch f.text("readers") {
	case forPlayer:
		return true
	case forStaff:
		return false
	}
	f.refuse("readers", "choose who reads the "+what)
	return false
}

// writer writes a record of an area as a form says, and returns how it will look.
type writer struct {
	area models.Area
	do   func(*store.Tx, *models.Player, *fields) (*preview, error)
}

// writes are the forms with a preview before they are saved.
func (p *Pages) writes() map[string]writer {
	return map[string]writer{"note": {models.AreaNotes, p.writeNote}, "check-in": {models.AreaCheckIns, p.writeCheckIn}}
}

// errLooked undoes a write that was only a preview.
var errLooked = errors.New("looked at")

// look is the preview of a form. It writes the record, which refuses what saving would refuse, and takes it back.
func (p *Pages) look(name string) gin.HandlerFunc {
	return p.sent(name, p.playerWith, func(c *gin.Context, who models.Who, f *fields) (string, error) {
		seen, err := p.written(c, who, name, f, errLooked)
		if !errors.Is(err, errLooked) {
			return "", err
		}
		return "", p.playerWith(c, who, Form{Name: name, fine: true, sent: f.values, preview: seen})
	})
}

// keepWritten saves what a form says.
func (p *Pages) keepWritten(name string) gin.HandlerFunc {
	return p.sent(name, p.playerWith, func(c *gin.Context, who models.Who, f *fields) (string, error) {
		_, err := p.written(c, who, name, f, nil)
		return playerAddress(f.player) + "#notes", err
	})
}

// written writes what a form says. The write ends with the error at the end, where there is one.
func (p *Pages) written(c *gin.Context, who models.Who, name string, f *fields, end error) (seen *preview, err error) {
	if f.player, err = id(c, "player"); err != nil {
		return nil, err
	}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		player, err := tx.Player(f.player)
		if err != nil {
			return err
		}
		writer := p.writes()[name]
		if who.Reach(models.Write, writer.area) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s cannot write notes or check-ins", who.Role)
		}
		if seen, err = writer.do(tx, &player, f); err != nil {
			return err
		}
		return end
	})
	if err == nil || errors.Is(err, errLooked) {
		seen.Form, seen.Save = name, fmt.Sprintf("%s/%ss", playerAddress(f.player), name)
		for _, key := range slices.Sorted(maps.Keys(f.values)) {
			seen.Fields = append(seen.Fields, field{key, f.values.Get(key)})
		}
	}
	return seen, err
}

// writeNote makes or changes a review note.
func (p *Pages) writeNote(tx *store.Tx, player *models.Player, f *fields) (*preview, error) {
	n := models.ReviewNote{PlayerID: player.ID, Date: tx.Who().Day(p.now())}
	if old := f.idIfAny("note"); old != nil {
		was, err := tx.ReviewNote(*old)
		if err != nil {
			return nil, err
		}
		if was.PlayerID != player.ID {
			return nil, models.Errorf(models.NotFound, "no such note")
		}
		n = was
		n.Version = f.version()
	}
	n.MatchID, n.FollowUp = f.idIfAny("match_id"), f.dayIfAny("follow_up")
	n.Text = strings.ReplaceAll(f.text("text"), "\r\n", "\n")
	n.Shared = f.readers("note")
	if n.Text == "" {
		f.refuse("text", "write the note")
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	var err error
	if n.ID == 0 {
		err = tx.CreateReviewNote(&n)
	} else {
		err = changedNote(tx, &n)
	}
	if err != nil {
		return nil, err
	}
	names, err := tx.UserNames()
	if err != nil {
		return nil, err
	}
	line, err := noteLine(tx, n, names)
	return &preview{Heading: "Notes for you", Meta: line.Meta(), Text: line.Text, StaffOnly: !line.Shared}, err
}

// changedNote changes a note; one that was changed meanwhile is refused with both texts.
func changedNote(tx *store.Tx, n *models.ReviewNote) error {
	sent := *n
	err := tx.UpdateReviewNote(n)
	if models.CodeOf(err) != models.Stale {
		return err
	}
	now, failed := tx.ReviewNote(n.ID)
	if failed != nil {
		return failed
	}
	return inBothWords(err, "“"+sent.Text+"”", "“"+now.Text+"”")
}

// writeCheckIn adds a check-in to a goal of the player, who reads it.
func (p *Pages) writeCheckIn(tx *store.Tx, player *models.Player, f *fields) (*preview, error) {
	goal := f.idIfAny("goal_id")
	c := models.CheckIn{Date: tx.Who().Day(p.now()), Text: strings.ReplaceAll(f.text("text"), "\r\n", "\n")}
	if on := f.day("date"); on != "" {
		c.Date = on
	}
	if goal == nil && len(f.wrong) == 0 {
		f.refuse("goal_id", "choose the goal")
	}
	c.Shared = f.readers("check-in")
	if c.Text == "" {
		f.refuse("text", "write how the goal is going")
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	g, err := tx.Goal(*goal)
	if models.CodeOf(err) == models.NotFound || err == nil && g.PlayerID != player.ID {
		f.refuse("goal_id", "choose one from the list")
		return nil, f.err()
	}
	if err != nil {
		return nil, err
	}
	c.GoalID = g.ID
	if err := tx.CreateCheckIn(&c); err != nil {
		return nil, err
	}
	names, err := tx.UserNames()
	if err != nil {
		return nil, err
	}
	label, err := goalLabel(tx, g)
	line := evidence.CheckInLine{Date: c.Date, Author: names[c.AuthorID], Shared: c.Shared, Text: c.Text}
	return &preview{Heading: "Your goals", Goal: label, Meta: line.Words(),
		StaffOnly: !c.Shared}, err
}
