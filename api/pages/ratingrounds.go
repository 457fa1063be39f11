package pages

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// roundsPage lists the rating rounds of the squads that the caller works with, and who still owes grades.
type roundsPage struct {
	Squads  []squadRounds
	MayOpen bool
}

// squadRounds are the rounds of a squad, the latest first.
type squadRounds struct {
	models.Squad
	Rounds []roundLine
}

// roundLine is a round in the list.
type roundLine struct {
	models.RatingRound
	Address, For, State string
	Open                bool
	Owed                []models.Owed
}

// OwedInWords says what a coach has given and still owes.
func (l roundLine) OwedInWords(o models.Owed) string {
	switch {
	case o.Owes == 0 && o.Given == 0:
		return "no grades to give"
	case o.Owes == 0:
		return fmt.Sprintf("gave all %d", o.Given)
	case l.Open:
		return fmt.Sprintf("owes %d of %d", o.Owes, o.Given+o.Owes)
	}
	return fmt.Sprintf("did not give %d of %d", o.Owes, o.Given+o.Owes)
}

// roundForm is the form that opens or changes a round of a squad: with the round as it is, and what can be chosen.
type roundForm struct {
	Form
	Key     string // names the form
	Round   models.RatingRound
	Squad   models.Squad
	Seasons []models.Season
	Matches []matchChoice
	Skills  []models.Skill
	Coaches []coachAsked
	Groups  []models.GroupInfo
}

// matchChoice is a match that coaches can grade, with its season.
type matchChoice struct {
	ID    int64
	Label string
}

// coachAsked is a coach with the position groups whose players they grade.
type coachAsked struct {
	ID   int64
	Name string
	of   *models.RoundCoach
	all  bool // they are asked for every player
}

// rounds is GET /rating-rounds.
func (p *Pages) rounds(c *gin.Context, who models.Who) error {
	if who.Reach(models.Read, models.AreaRounds) == models.ReachNone || who.Role == models.RoleSelector {
		return models.Errorf(models.Forbidden, "a %s may not read who owes grades", who.Role)
	}
	page := roundsPage{MayOpen: who.Reach(models.Write, models.AreaRounds) != models.ReachNone}
	today := who.Day(p.now())
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		squads, err := tx.Squads(models.SquadFilter{})
		if err != nil {
			return err
		}
		games, err := tx.Matches(models.MatchFilter{Bare: true})
		if err != nil {
			return err
		}
		lines := map[int64]evidence.MatchLine{}
		for _, m := range games {
			lines[m.ID] = evidence.LineOf(m)
		}
		for _, s := range squads {
			of := squadRounds{Squad: s}
			all, err := tx.RatingRounds(models.RatingRoundFilter{SquadID: s.ID})
			if err != nil {
				return err
			}
			for _, r := range slices.Backward(all) {
				line := roundLine{RatingRound: r, Address: roundAddress(r.ID), For: roundFor(&r, lines),
					State: roundState(&r, today), Open: !r.Closed(today)}
				if line.Owed, err = tx.Owed(r.ID); err != nil {
					return err
				}
				of.Rounds = append(of.Rounds, line)
			}
			if who.Role == models.RoleManager || slices.Contains(who.SquadIDs, s.ID) {
				page.Squads = append(page.Squads, of)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("page of rating rounds: %w", err)
	}
	return p.render(c, 200, "rounds", "Rating rounds", page)
}

// roundFor says what a round's grades are for.
func roundFor(r *models.RatingRound, games map[int64]evidence.MatchLine) string {
	day := paper.Day(string(r.Date))
	switch {
	case r.MatchID != nil:
		if m, known := games[*r.MatchID]; known {
			return m.Full()
		}
		return "a match on " + day
	case r.Begins != nil:
		return fmt.Sprintf("%s, %s to %s", r.Block, paper.Day(string(*r.Begins)), day)
	}
	return r.Block + ", until " + day
}

// roundState says whether a round is open.
func roundState(r *models.RatingRound, today models.Date) string {
	closes := paper.Day(string(r.Closes))
	switch {
	case r.Closed(today):
		return "closed after " + closes
	case r.Opens != nil && *r.Opens > today:
		return fmt.Sprintf("opens on %s, closes after %s", paper.Day(string(*r.Opens)), closes)
	case r.Date > today:
		return fmt.Sprintf("to come on %s, closes after %s", paper.Day(string(r.Date)), closes)
	}
	return "open until " + closes
}

// newRound is GET /rating-rounds/new?squad=ID.
func (p *Pages) newRound(c *gin.Context, who models.Who) error { return p.newRoundWith(c, who, Form{}) }

func (p *Pages) newRoundWith(c *gin.Context, who models.Who, form Form) error {
	if who.Reach(models.Write, models.AreaRounds) == models.ReachNone {
		return models.Errorf(models.Forbidden, "a %s may not open rating rounds", who.Role)
	}
	text := c.Query("squad")
	if form.Name != "" {
		text = form.sent.Get("squad_id")
	}
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil || id < 1 {
		return models.Errorf(models.NotFound, "choose the squad on the page of rating rounds")
	}
	var page *roundForm
	today := who.Day(p.now())
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		squad, err := tx.Squad(id)
		if err != nil {
			return err
		}
		page, err = readRoundForm(tx, models.RatingRound{SquadID: id, Date: today, Closes: today.AddDays(7)}, squad)
		return err
	})
	if err != nil {
		return fmt.Errorf("form of a rating round: %w", err)
	}
	page.Form, page.Key = form, "round"
	return p.render(c, form.status(), "round-form", "Open a rating round", page)
}

// readRoundForm reads what can be chosen in the form of a round.
func readRoundForm(tx *store.Tx, r models.RatingRound, squad models.Squad) (*roundForm, error) {
	form := &roundForm{Round: r, Squad: squad, Groups: models.Groups(), Key: fmt.Sprintf("round-%d", r.ID)}
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return nil, err
	}
	form.Seasons = seasons
	slices.Reverse(form.Seasons)
	if r.SeasonID == 0 {
		form.Round.SeasonID = seasonOf(seasons, r.Date)
	}
	games, err := tx.Matches(models.MatchFilter{SquadID: squad.ID, SeasonID: form.Round.SeasonID, Bare: true})
	if err != nil {
		return nil, err
	}
	for _, m := range slices.Backward(games) {
		line := evidence.LineOf(m)
		form.Matches = append(form.Matches, matchChoice{m.ID, line.Full()})
	}
	if form.Skills, err = tx.Skills(); err != nil {
		return nil, err
	}
	names, err := tx.SquadCoaches(squad.ID)
	if err != nil {
		return nil, err
	}
	for id, name := range names {
		c := coachAsked{ID: id, Name: name, all: len(r.Coaches) == 0}
		if i := slices.IndexFunc(r.Coaches, func(o models.RoundCoach) bool { return o.CoachID == id }); i >= 0 {
			c.of = &r.Coaches[i]
		}
		form.Coaches = append(form.Coaches, c)
	}
	slices.SortFunc(form.Coaches, func(a, b coachAsked) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), cmp.Compare(a.ID, b.ID))
	})
	return form, nil
}

// seasonOf is the season of a day, or else the latest of those, which are the latest first.
func seasonOf(seasons []models.Season, day models.Date) int64 {
	for _, s := range seasons {
		if s.Starts <= day && day <= s.Ends {
			return s.ID
		}
	}
	if len(seasons) == 0 {
		return 0
	}
	return seasons[0].ID
}

// Sent is whether the form was sent, and failed.
func (f roundForm) Sent() bool { return f.Name == f.Key }

// Filled is the text of a field: as it was sent, or as the round has it.
func (f roundForm) Filled(field string) string {
	if f.Sent() {
		return f.sent.Get(field)
	}
	text := func(d *models.Date) string {
		if d == nil {
			return ""
		}
		return string(*d)
	}
	r := f.Round
	switch field {
	case "season_id":
		return strconv.FormatInt(r.SeasonID, 10)
	case "match_id":
		if r.MatchID != nil {
			return strconv.FormatInt(*r.MatchID, 10)
		}
	case "date":
		if r.MatchID == nil {
			return string(r.Date)
		}
	}
	return map[string]string{"name": r.Name, "block": r.Block, "begins": text(r.Begins), "opens": text(r.Opens),
		"closes": string(r.Closes), "version": strconv.FormatInt(r.Version, 10)}[field]
}

// Asks is whether the round asks for a skill by name.
func (f roundForm) Asks(skill string) bool {
	if f.Sent() {
		return slices.Contains(f.sent["skill"], skill)
	}
	return slices.Contains(f.Round.Skills, skill)
}

// Grades is whether a coach is asked for the players of a group; with the group "all", for every player.
func (f roundForm) Grades(c coachAsked, group string) bool {
	switch {
	case f.Sent():
		return slices.Contains(f.sent[coachField(c.ID)], group)
	case group == "all":
		return c.all || c.of != nil && len(c.of.Groups) == 0
	}
	return c.of != nil && slices.Contains(c.of.Groups, models.Group(group))
}

func coachField(id int64) string { return fmt.Sprintf("coach-%d", id) }

// round reads the form of a round into it. The coaches are those who work with its squad.
func (f *fields) round(r *models.RatingRound, coaches map[int64]string) {
	r.Name, r.Block, r.Closes = f.text("name"), f.text("block"), f.day("closes")
	r.MatchID, r.Begins, r.Opens = f.idIfAny("match_id"), f.dayIfAny("begins"), f.dayIfAny("opens")
	r.Skills = f.values["skill"]
	if r.MatchID == nil || f.day("date") != "" {
		r.Date = f.day("date")
	}
	r.Coaches = nil
	everyone := true
	for _, id := range slices.Sorted(maps.Keys(coaches)) {
		chosen := f.values[coachField(id)]
		if len(chosen) == 0 {
			everyone = false
			continue
		}
		c := models.RoundCoach{CoachID: id}
		if !slices.Contains(chosen, "all") {
			everyone = false
			for _, g := range chosen {
				c.Groups = append(c.Groups, models.Group(g))
			}
		}
		r.Coaches = append(r.Coaches, c)
	}
	switch {
	case everyone:
		r.Coaches = nil // and of those who join the squad later
	case len(r.Coaches) == 0:
		f.refuse("coaches", "choose at least one coach, and whom they grade")
	}
}

// fillRound reads the form, and takes the day of a match from the match.
func fillRound(tx *store.Tx, f *fields, r *models.RatingRound) error {
	coaches, err := tx.SquadCoaches(r.SquadID)
	if err != nil {
		return err
	}
	f.round(r, coaches)
	if err := f.err(); err != nil || r.MatchID == nil {
		return err
	}
	if r.Block != "" || r.Begins != nil {
		return nil // refused: a round is for a match or for a block
	}
	m, err := tx.Match(*r.MatchID)
	r.Date = m.Date
	return err
}

// openRound is POST /rating-rounds.
func (p *Pages) openRound(c *gin.Context, who models.Who, f *fields) (string, error) {
	var r models.RatingRound
	r.SeasonID, r.SquadID = f.id("season_id"), f.id("squad_id")
	if who.Reach(models.Write, models.AreaRounds) == models.ReachNone {
		return "", models.Errorf(models.Forbidden, "a %s may not open rating rounds", who.Role)
	}
	if err := f.err(); err != nil {
		return "", err
	}
	err := p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if err := fillRound(tx, f, &r); err != nil {
			return err
		}
		return tx.CreateRatingRound(&r)
	})
	return roundAddress(r.ID), err
}

// changeRound is POST /rating-rounds/:id/change: what it asks for, and when it closes.
func (p *Pages) changeRound(c *gin.Context, who models.Who, f *fields) (string, error) {
	round, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return roundAddress(round), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		r, err := tx.RatingRound(round)
		if err != nil {
			return err
		}
		if err := fillRound(tx, f, &r); err != nil {
			return err
		}
		r.Version = f.version()
		return tx.UpdateRatingRound(&r)
	})
}

// deleteRound is POST /rating-rounds/:id/delete.
func (p *Pages) deleteRound(c *gin.Context, who models.Who, f *fields) (string, error) {
	round, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/rating-rounds", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.DeleteRatingRound(round, f.version())
	})
}
