package pages

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
)

// reviewPage is a review as the player or staff read it.
type reviewPage struct {
	Form     Form
	Review   models.Review
	Own      bool // the reader is the player
	Player   models.Player
	Address  string // of the player
	Author   string
	Squad    string
	Notes    []evidence.NoteLine
	CheckIns []checkInOfReview
	Answers  []answerOfReview
	Earlier  []earlierReview

	MayEdit, MayAnswer bool
}

// checkInOfReview is a check-in with the goal it is on.
type checkInOfReview struct{ Goal, Meta, Text string }

// answerOfReview is a reply, with who wrote it and who has seen it.
type answerOfReview struct{ By, On, Text, SeenBy string }

// earlierReview is a text of a review that was replaced.
type earlierReview struct{ Until, By, Summary, NextStep string }

// review is GET /reviews/:id.
func (p *Pages) review(c *gin.Context, who models.Who) error { return p.reviewWith(c, who, Form{}) }

func (p *Pages) reviewWith(c *gin.Context, who models.Who, form Form) error {
	review, err := id(c, "id")
	if err != nil {
		return err
	}
	page := reviewPage{Form: form, Own: who.Role == models.RolePlayer,
		MayAnswer: who.Reach(models.Write, models.AreaAnswers) != models.ReachNone}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Review, err = tx.Review(review); err != nil {
			return err
		}
		return page.read(tx, who)
	})
	if err != nil {
		return fmt.Errorf("page of review %d: %w", review, err)
	}
	return p.render(c, form.status(), "review", "Review of "+day(page.Review.Date), page)
}

func (page *reviewPage) read(tx *store.Tx, who models.Who) (err error) {
	r := page.Review
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	if page.Player, err = tx.Player(r.PlayerID); err != nil {
		return err
	}
	squad, err := tx.Squad(r.SquadID)
	if err != nil {
		return err
	}
	page.Address, page.Squad, page.Author = playerAddress(r.PlayerID), squad.Name, names[r.AuthorID]
	reach := who.Reach(models.Write, models.AreaReviews)
	page.MayEdit = reach == models.ReachAcademy || reach == models.ReachSquads && r.AuthorID == who.UserID
	if err := page.readNotes(tx, names); err != nil {
		return err
	}
	if page.CheckIns, err = checkInsOf(tx, r.CheckInIDs, names); err != nil {
		return err
	}
	if who.Reach(models.Read, models.AreaAnswers) != models.ReachNone {
		if err := page.readAnswers(tx, names); err != nil {
			return err
		}
	}
	return page.readEarlier(tx, names)
}

// readNotes reads the notes that the review bundles. One that the caller does not reach any more is left out.
func (page *reviewPage) readNotes(tx *store.Tx, names map[int64]string) error {
	for _, id := range append(slices.Clone(page.Review.NoteIDs), page.Review.StaffNoteIDs...) {
		n, err := tx.ReviewNote(id)
		if models.CodeOf(err) == models.NotFound {
			continue
		}
		if err != nil {
			return err
		}
		line, err := noteLine(tx, n, names)
		if err != nil {
			return err
		}
		page.Notes = append(page.Notes, line)
	}
	return nil
}

// checkInsOf reads check-ins by their ids.
func checkInsOf(tx *store.Tx, ids []int64, names map[int64]string) (all []checkInOfReview, err error) {
	if len(ids) == 0 {
		return nil, nil
	}
	for _, id := range ids {
		c, err := tx.CheckIn(id)
		if models.CodeOf(err) == models.NotFound {
			continue
		}
		if err != nil {
			return nil, err
		}
		g, err := tx.Goal(c.GoalID)
		if err != nil {
			return nil, err
		}
		label, err := goalLabel(tx, g)
		if err != nil {
			return nil, err
		}
		all = append(all, checkInOfReview{label, day(c.Date) + ", " + names[c.AuthorID], c.Text})
	}
	return all, nil
}

func (page *reviewPage) readAnswers(tx *store.Tx, names map[int64]string) error {
	if !page.Review.Shared {
		return nil
	}
	answers, err := tx.ReviewAnswers(page.Review.ID)
	for _, a := range answers {
		by := names[a.AuthorID]
		if by == "" || page.Own && by == page.Player.Name {
			by = page.Player.Name
		}
		item := answerOfReview{By: by, On: dayOf(tx.Who().Local(a.CreatedAt)), Text: a.Text}
		if a.SeenBy != nil {
			item.SeenBy = names[*a.SeenBy]
		}
		page.Answers = append(page.Answers, item)
	}
	return err
}

// readEarlier reads the texts that the review had before, the last one first.
func (page *reviewPage) readEarlier(tx *store.Tx, names map[int64]string) error {
	kept, err := tx.Earlier("review", page.Review.ID)
	if err != nil {
		return err
	}
	for _, v := range slices.Backward(kept) {
		var was models.Review
		if err := json.Unmarshal(v.Record(), &was); err != nil {
			return fmt.Errorf("read an earlier review: %w", err)
		}
		page.Earlier = append(page.Earlier, earlierReview{dayOf(tx.Who().Local(v.At)), names[v.UserID], was.Summary,
			was.NextStep})
	}
	return nil
}

// onReview handles a form on a review's page; afterwards the page is shown again.
func (p *Pages) onReview(c *gin.Context, who models.Who, do func(*store.Tx, int64) error) (string, error) {
	review, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("/reviews/%d", review), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return do(tx, review)
	})
}

// readReview is POST /reviews/:id/read: the player has read it.
func (p *Pages) readReview(c *gin.Context, who models.Who, _ *fields) (string, error) {
	return p.onReview(c, who, (*store.Tx).MarkReviewRead)
}

// answerReview is POST /reviews/:id/answers.
func (p *Pages) answerReview(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onReview(c, who, func(tx *store.Tx, review int64) error {
		if _, err := tx.Review(review); err != nil {
			return err
		}
		return tx.AnswerReview(&models.ReviewAnswer{ReviewID: review, Text: f.prose("text")})
	})
}

// deleteReview is POST /reviews/:id/delete.
func (p *Pages) deleteReview(c *gin.Context, who models.Who, f *fields) (string, error) {
	_, err := p.onReview(c, who, func(tx *store.Tx, review int64) error {
		if _, err := tx.Review(review); err != nil { // to callers who do not read it, it is not there
			return err
		}
		return tx.DeleteReview(review, f.version())
	})
	return "/reviews", err
}

// prose is a text of several lines.
func (f *fields) prose(name string) string { return strings.ReplaceAll(f.text(name), "\r\n", "\n") }

// ids reads the ids that were ticked under a name.
func (f *fields) ids(name string) []int64 {
	all := []int64{}
	for _, text := range f.values[name] {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			f.refuse(name, "choose from the list")
			return all
		}
		all = append(all, n)
	}
	return all
}

// Chosen says whether a value was ticked under a name of a form.
func (f Form) Chosen(form, field string, value int64) bool {
	return f.Name == form && slices.Contains(f.sent[field], strconv.FormatInt(value, 10))
}

// reviewForm is the form of a review: a new one, or one to be changed.
type reviewForm struct {
	Form    Form
	Name    string // of the form
	Post    string // where it is sent
	Review  models.Review
	Player  models.Player
	Address string
	Squads  []models.Squad // for a new one: those that it can be for
	Notes   []noteChoice   // since the last review
	Goals   []goalChoice   // open ones, for a check-in each
	// check-ins that the review has already
	CheckIns []checkInOfReview
	Last     *models.Review // the last review before
}

// noteChoice is a note that a review can bundle.
type noteChoice struct{ evidence.NoteLine }

// List is the field of the form that bundles the note.
func (n noteChoice) List() string {
	if n.Shared {
		return "note_ids"
	}
	return "staff_note_ids"
}

// newReview is GET /players/:player/reviews/new?squad=.
func (p *Pages) newReview(c *gin.Context, who models.Who) error {
	return p.newReviewWith(c, who, Form{})
}

func (p *Pages) newReviewWith(c *gin.Context, who models.Who, form Form) error {
	player, err := id(c, "player")
	if err != nil {
		return err
	}
	page := reviewForm{Form: form, Name: "review", Post: playerAddress(player) + "/reviews",
		Review: models.Review{PlayerID: player}}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Player, err = tx.Player(player); err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaReviews) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s cannot write reviews", who.Role)
		}
		if err := page.readSquads(tx, p, who); err != nil {
			return err
		}
		return page.readChoices(tx, who)
	})
	if err != nil {
		return fmt.Errorf("form of a review of player %d: %w", player, err)
	}
	if form.Name == "" {
		page.Form = page.empty(c.Query("squad"))
	}
	return p.render(c, form.status(), "review-form", "Write a review", page)
}

// empty is the form before anything is typed: every note that the player may read is in the review.
func (page *reviewForm) empty(squad string) Form {
	values := map[string][]string{"squad_id": {squad}}
	for _, n := range page.Notes {
		values[n.List()] = append(values[n.List()], strconv.FormatInt(n.ID, 10))
	}
	return Form{Name: page.Name, fine: true, sent: values}
}

// readSquads reads the squads of the player today that the caller may write a review for.
func (page *reviewForm) readSquads(tx *store.Tx, p *Pages, who models.Who) error {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	season, err := p.pick(tx.Who(), seasons, "")
	if err != nil || season == nil {
		return err
	}
	today := min(who.Day(p.now()), season.Ends)
	members, err := tx.Memberships(models.MembershipFilter{PlayerID: page.Player.ID, SeasonID: season.ID})
	if err != nil {
		return err
	}
	all, err := tx.Squads(models.SquadFilter{})
	for _, s := range all {
		in := slices.ContainsFunc(members, func(m models.Membership) bool {
			return m.SquadID == s.ID && m.From <= today && (m.Until == nil || today <= *m.Until)
		})
		if in && (who.Role != models.RoleCoach || slices.Contains(who.SquadIDs, s.ID)) {
			page.Squads = append(page.Squads, s)
		}
	}
	return err
}

// readChoices reads what the review can bundle: the notes since the last review, those that it has, and open goals.
func (page *reviewForm) readChoices(tx *store.Tx, who models.Who) error {
	page.Address = playerAddress(page.Player.ID)
	before, err := tx.Reviews(models.ReviewFilter{PlayerID: page.Player.ID, SharedOnly: true})
	if err != nil {
		return err
	}
	for i, r := range before {
		if r.ID != page.Review.ID && (page.Review.ID == 0 || r.Date <= page.Review.Date) {
			page.Last = &before[i]
		}
	}
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	notes, err := tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	has := append(slices.Clone(page.Review.NoteIDs), page.Review.StaffNoteIDs...)
	for _, n := range slices.Backward(notes) {
		since := page.Last == nil || n.Date >= page.Last.Date
		if !slices.Contains(has, n.ID) && (!since || len(page.Notes) >= notesShown) {
			continue
		}
		line, err := noteLine(tx, n, names)
		if err != nil {
			return err
		}
		page.Notes = append(page.Notes, noteChoice{line})
	}
	if page.CheckIns, err = checkInsOf(tx, page.Review.CheckInIDs, names); err != nil {
		return err
	}
	return page.readGoals(tx)
}

func (page *reviewForm) readGoals(tx *store.Tx) error {
	goals, err := tx.Goals(models.GoalFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	labels, err := tx.Labels()
	for _, g := range goals {
		if g.ClosedOn == nil {
			page.Goals = append(page.Goals, goalChoice{g.ID, labels.Of(g.Indicator, g.Skill, page.Player.Group())})
		}
	}
	return err
}

// CheckInField is the name of the field for a check-in on a goal.
func (goalChoice) CheckInField(id int64) string { return "check_in_" + strconv.FormatInt(id, 10) }

// addReview is POST /players/:player/reviews.
func (p *Pages) addReview(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	r := models.Review{PlayerID: player, Date: who.Day(p.now())}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if _, err := tx.Player(player); err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaReviews) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s cannot write reviews", who.Role)
		}
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		season, err := p.pick(tx.Who(), seasons, "")
		if err != nil {
			return err
		}
		squad := f.idIfAny("squad_id")
		if squad == nil || season == nil {
			f.refuse("squad_id", "choose the squad")
			return f.err()
		}
		r.SquadID, r.SeasonID = *squad, season.ID
		r.Date = min(r.Date, season.Ends) // between seasons it belongs to the last one
		if err := p.filled(tx, &r, f); err != nil {
			return err
		}
		return tx.CreateReview(&r)
	})
	return fmt.Sprintf("/reviews/%d", r.ID), err
}

// filled puts what a form says into a review, and makes the check-ins that were written with it.
func (p *Pages) filled(tx *store.Tx, r *models.Review, f *fields) error {
	r.Summary, r.NextStep, r.FollowUp = f.prose("summary"), f.prose("next_step"), f.dayIfAny("follow_up")
	r.NoteIDs, r.StaffNoteIDs = f.ids("note_ids"), f.ids("staff_note_ids")
	r.Shared = f.text("share") == "yes"
	if r.Summary == "" {
		f.refuse("summary", "write how it is going")
	}
	if err := f.err(); err != nil {
		return err
	}
	if r.Shared {
		if err := shareCheckIns(tx, r.CheckInIDs); err != nil {
			return err
		}
	}
	goals, err := tx.Goals(models.GoalFilter{PlayerID: r.PlayerID})
	if err != nil {
		return err
	}
	for _, g := range goals {
		text := f.prose(goalChoice{}.CheckInField(g.ID))
		if text == "" {
			continue
		}
		c := models.CheckIn{GoalID: g.ID, Date: tx.Who().Day(p.now()), Shared: r.Shared, Text: text}
		if err := tx.CreateCheckIn(&c); err != nil {
			return err
		}
		r.CheckInIDs = append(slices.Clone(r.CheckInIDs), c.ID)
	}
	return nil
}

// shareCheckIns shares the check-ins of a draft with the player, who reads them with the review.
func shareCheckIns(tx *store.Tx, ids []int64) error {
	for _, id := range ids {
		c, err := tx.CheckIn(id)
		if err != nil {
			return err
		}
		if c.Shared {
			continue
		}
		c.Shared = true
		if err := tx.UpdateCheckIn(&c); err != nil {
			return err
		}
	}
	return nil
}

// editReview is GET /reviews/:id/edit.
func (p *Pages) editReview(c *gin.Context, who models.Who) error {
	return p.editReviewWith(c, who, Form{})
}

func (p *Pages) editReviewWith(c *gin.Context, who models.Who, form Form) error {
	review, err := id(c, "id")
	if err != nil {
		return err
	}
	page := reviewForm{Form: form, Name: fmt.Sprintf("review-%d", review), Post: fmt.Sprintf("/reviews/%d", review)}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Review, err = tx.Review(review); err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaReviews) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s cannot change reviews", who.Role)
		}
		if page.Player, err = tx.Player(page.Review.PlayerID); err != nil {
			return err
		}
		return page.readChoices(tx, who)
	})
	if err != nil {
		return fmt.Errorf("form of review %d: %w", review, err)
	}
	if form.Name == "" {
		page.Form = page.asItIs()
	}
	return p.render(c, form.status(), "review-form", "Edit a review", page)
}

// asItIs is the form of a review as it is on file.
func (page *reviewForm) asItIs() Form {
	r := page.Review
	values := map[string][]string{"version": {strconv.FormatInt(r.Version, 10)}, "summary": {r.Summary},
		"next_step": {r.NextStep}}
	if r.FollowUp != nil {
		values["follow_up"] = []string{string(*r.FollowUp)}
	}
	for _, id := range append(slices.Clone(r.NoteIDs), r.StaffNoteIDs...) {
		i := slices.IndexFunc(page.Notes, func(n noteChoice) bool { return n.ID == id })
		if i >= 0 {
			list := page.Notes[i].List()
			values[list] = append(values[list], strconv.FormatInt(id, 10))
		}
	}
	return Form{Name: page.Name, fine: true, sent: values}
}

// changeReview is POST /reviews/:id.
func (p *Pages) changeReview(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onReview(c, who, func(tx *store.Tx, review int64) error {
		r, err := tx.Review(review)
		if err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaReviews) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s cannot change reviews", who.Role)
		}
		if err := p.filled(tx, &r, f); err != nil {
			return err
		}
		r.Version = f.version()
		return tx.UpdateReview(&r)
	})
}
