package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// safetyPage lists what needs action now: head contacts, minutes, consents and replies, as far as the caller may see
// them.
type safetyPage struct {
	Form     Form
	Today    models.Date
	Actions  []actionItem  // before the next contact session
	Contacts []contactItem // not yet reported to the medical lead
	NotDown  []contactItem // reported, but no stand-down was set
	Downs    []downItem
	Loads    []paper.Cell // a player, with what they have played
	Answers  []answerItem
	Missing  []paper.Cell // a player, with the consents that are required and missing
	History  safetyHistory
	Departed []models.Departed

	MayMark, MayLift, MayReview bool // mark a head contact told, lift a stand-down, review whom to keep
	SeesAnswers, SeesConsents   bool
}

// safetyHistory is what is over and needs no action: of this season, the latest first.
type safetyHistory struct {
	Contacts []contactItem // reported to the medical lead, with a stand-down
	Downs    []downItem    // that have ended
	Loads    []paper.Cell  // that passed a limit, or came near it, earlier in the season
}

// Any says whether there is any.
func (h safetyHistory) Any() bool { return len(h.Contacts)+len(h.Downs)+len(h.Loads) > 0 }

// contactItem is a head contact, with the match clock as the form of a head contact takes it.
type contactItem struct {
	models.HeadContact
	Player, Address, Match, By, At string
}

// actionItem is an action that a player needs before the next contact session.
type actionItem struct {
	models.ContactAction
	Player, Address string
}

// downItem is a stand-down that holds.
type downItem struct {
	models.StandDown
	Player, Address, By string
}

// answerItem is a reply awaiting a second staff member.
type answerItem struct {
	models.NoteAnswer
	Player, Address, By, Note string
	Form, Seen                string // the form that says it was seen, and where it is sent
	Review                    bool   // it answers a review, not a note
	May                       bool   // say that it was seen
}

// safety is GET /safety.
func (p *Pages) safety(c *gin.Context, who models.Who) error { return p.safetyWith(c, who, Form{}) }

func (p *Pages) safetyWith(c *gin.Context, who models.Who, form Form) error {
	if !who.Staff() {
		return models.Errorf(models.Forbidden, "this page is for staff")
	}
	today := who.Day(p.now())
	page := safetyPage{
		Form: form, Today: today,
		MayMark:   who.Reach(models.Write, models.AreaSafety) != models.ReachNone,
		MayLift:   who.Reach(models.Write, models.AreaClearance) != models.ReachNone,
		MayReview: who.Reach(models.Write, models.AreaRequests) != models.ReachNone,

		SeesAnswers:  who.Reach(models.Read, models.AreaAnswers) != models.ReachNone,
		SeesConsents: who.Reach(models.Read, models.AreaConsents) != models.ReachNone,
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error { return page.read(tx, who, p) })
	if err != nil {
		return fmt.Errorf("safety page: %w", err)
	}
	return p.render(c, form.status(), "safety", "Safety", page)
}

func (page *safetyPage) read(tx *store.Tx, who models.Who, p *Pages) error {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	season, err := p.pick(tx.Who(), seasons, "")
	if err != nil {
		return err
	}
	everybody, err := tx.Players(models.PlayerFilter{})
	if err != nil {
		return err
	}
	names := map[int64]string{}
	for _, player := range everybody {
		names[player.ID] = player.Name
	}
	staff, err := tx.UserNames()
	if err != nil {
		return err
	}
	by := func(id *int64) string {
		if id == nil {
			return ""
		}
		return staff[*id]
	}
	since := models.Date("")
	if season != nil {
		since = season.Starts
	}
	if err := page.readActions(tx, names); err != nil {
		return err
	}
	if err := page.readHeads(tx, names, by, since); err != nil {
		return err
	}
	if season != nil {
		members, err := tx.Players(models.PlayerFilter{SeasonID: season.ID})
		if err != nil {
			return err
		}
		if err := page.readLoads(tx, season.ID, members); err != nil {
			return err
		}
		if page.SeesConsents {
			if err := page.readConsents(tx, season.ID, members); err != nil {
				return err
			}
		}
	}
	if page.SeesAnswers {
		if err := page.readAnswers(tx, readerOf{who, names, staff}); err != nil {
			return err
		}
		if err := page.readReviewAnswers(tx, readerOf{who, names, staff}); err != nil {
			return err
		}
	}
	if page.MayReview {
		page.Departed, err = tx.Retention()
	}
	return err
}

// readActions reads what players need before their next contact session.
func (page *safetyPage) readActions(tx *store.Tx, names map[int64]string) error {
	open, err := tx.ContactActions(models.ContactActionFilter{OpenOnly: true})
	for _, a := range open {
		page.Actions = append(page.Actions, actionItem{a, names[a.PlayerID], playerAddress(a.PlayerID) + "#actions"})
	}
	return err
}

// readHeads reads head contacts and stand-downs: what is open, and what has been settled since a day.
func (page *safetyPage) readHeads(tx *store.Tx, names map[int64]string, by func(*int64) string,
	since models.Date) error {
	contacts, err := tx.HeadContacts(models.HeadContactFilter{})
	if err != nil {
		return err
	}
	for _, h := range slices.Backward(contacts) {
		if !h.Open() && h.Date < since {
			continue
		}
		item := contactItem{HeadContact: h, Player: names[h.PlayerID], Address: playerAddress(h.PlayerID),
			By: by(h.MarkedBy)}
		if h.MatchID != nil {
			if m, err := tx.Match(*h.MatchID); err == nil {
				item.Match = m.Opponent
			} else if models.CodeOf(err) != models.NotFound {
				return err
			}
		}
		if h.Clock != nil {
			item.At = fmt.Sprintf("%d:%02d", h.Clock.Second/60, h.Clock.Second%60)
		}
		switch {
		case h.Open():
			page.Contacts = append(page.Contacts, item)
		case h.Proposal != nil:
			page.NotDown = append(page.NotDown, item)
		default:
			page.History.Contacts = append(page.History.Contacts, item)
		}
	}
	downs, err := tx.StandDowns(models.StandDownFilter{})
	for _, d := range slices.Backward(downs) {
		item := downItem{StandDown: d, Player: names[d.PlayerID], Address: playerAddress(d.PlayerID), By: by(&d.SetBy)}
		switch {
		case d.LiftedOn == nil || d.Open(page.Today):
			page.Downs = append(page.Downs, item)
		case *d.LiftedOn >= since:
			page.History.Downs = append(page.History.Downs, item)
		}
	}
	return err
}

func (page *safetyPage) readLoads(tx *store.Tx, season int64, members []models.Player) error {
	ids := make([]int64, len(members))
	for i, m := range members {
		ids[i] = m.ID
	}
	loads, err := tx.Loads(season, page.Today, ids)
	for _, m := range members {
		for _, l := range loads[m.ID] {
			switch cell := (paper.Cell{Text: m.Name, Link: playerAddress(m.ID)}); {
			case l.WarningNow != models.LoadWithin:
				cell.Under = l.WordsNow
				page.Loads = append(page.Loads, cell)
			case l.Warning != models.LoadWithin:
				cell.Under = l.Words
				page.History.Loads = append(page.History.Loads, cell)
			}
		}
	}
	return err
}

// readConsents reads which consents are missing: of each player, those that the academy requires of them. None is
// required of a player who has left.
func (page *safetyPage) readConsents(tx *store.Tx, season int64, members []models.Player) error {
	rules, err := tx.Settings()
	if err != nil {
		return err
	}
	given, err := tx.Consents(models.ConsentFilter{})
	if err != nil {
		return err
	}
	memberships, err := tx.Memberships(models.MembershipFilter{SeasonID: season})
	if err != nil {
		return err
	}
	of := map[int64][]models.Membership{}
	for _, m := range memberships {
		of[m.PlayerID] = append(of[m.PlayerID], m)
	}
	labels := purposeLabels()
	for _, m := range members {
		if models.Left(of[m.ID], page.Today) {
			continue
		}
		missing := rules.Lacks(m, given, page.Today)
		if len(missing) == 0 {
			continue
		}
		said := ""
		if !m.MinorOn(page.Today) {
			said = "the player’s own: "
		}
		for i, purpose := range missing {
			if i > 0 {
				said += ", "
			}
			said += labels[purpose]
		}
		page.Missing = append(page.Missing, paper.Cell{Text: m.Name, Link: playerAddress(m.ID), Under: said})
	}
	return nil
}

// readerOf is who reads the page, and the names of players and staff that they read.
type readerOf struct {
	who          models.Who
	names, staff map[int64]string
}

// readAnswers reads the replies to minors' notes that await a second member of staff.
func (page *safetyPage) readAnswers(tx *store.Tx, of readerOf) error {
	answers, err := tx.NoteAnswers(0)
	if err != nil {
		return err
	}
	for _, a := range answers {
		if a.SeenBy != nil {
			continue
		}
		n, err := tx.ReviewNote(a.NoteID)
		if err != nil {
			return err
		}
		err = page.addAnswer(tx, of, n.PlayerID, n.AuthorID, answerItem{NoteAnswer: a, Address: playerAddress(n.PlayerID),
			Note: n.Text, Form: fmt.Sprintf("seen-%d", a.ID), Seen: fmt.Sprintf("/safety/answers/%d/seen", a.ID)})
		if err != nil {
			return err
		}
	}
	return nil
}

// readReviewAnswers reads the replies to minors' reviews that await a second member of staff.
func (page *safetyPage) readReviewAnswers(tx *store.Tx, of readerOf) error {
	answers, err := tx.ReviewAnswers(0)
	if err != nil {
		return err
	}
	for _, a := range answers {
		if a.SeenBy != nil {
			continue
		}
		r, err := tx.Review(a.ReviewID)
		if err != nil {
			return err
		}
		err = page.addAnswer(tx, of, r.PlayerID, r.AuthorID, answerItem{Address: r.Address(), Note: r.Summary, Review: true,
			NoteAnswer: models.NoteAnswer{Record: a.Record, AuthorID: a.AuthorID, Text: a.Text},
			Form:       fmt.Sprintf("review-seen-%d", a.ID), Seen: fmt.Sprintf("/safety/review-answers/%d/seen", a.ID)})
		if err != nil {
			return err
		}
	}
	return nil
}

// addAnswer adds a reply, if the player is a minor. Author wrote what is replied to.
func (page *safetyPage) addAnswer(tx *store.Tx, of readerOf, player, author int64, a answerItem) error {
	p, err := tx.Player(player)
	if err != nil || !p.MinorOn(page.Today) {
		return err
	}
	a.Player, a.By = p.Name, cmp.Or(of.staff[a.AuthorID], of.names[player])
	a.May = of.who.UserID != a.AuthorID && of.who.UserID != author
	page.Answers = append(page.Answers, a)
	return nil
}

func purposeLabels() map[models.Purpose]string {
	labels := map[models.Purpose]string{}
	for _, p := range models.ConsentPurposes() {
		labels[p.Code] = p.Label
	}
	return labels
}

// told is POST /safety/head-contacts/:id/told: the medical lead has been told.
func (p *Pages) told(c *gin.Context, who models.Who, f *fields) (string, error) {
	contact, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/safety", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		_, err := tx.TellMedicalLead(contact, f.text("medical_lead"))
		return err
	})
}

// lift is POST /safety/stand-downs/:id/lift.
func (p *Pages) lift(c *gin.Context, who models.Who, f *fields) (string, error) {
	down, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/safety", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		_, err := tx.LiftStandDown(down, f.day("lifted_on"), f.text("cleared_by"))
		return err
	})
}

// seen is POST /safety/answers/:id/seen.
func (p *Pages) seen(c *gin.Context, who models.Who, _ *fields) (string, error) {
	answer, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/safety", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		_, err := tx.SeeNoteAnswer(answer)
		return err
	})
}

// keep is POST /safety/retention/:id, with the id of the player.
func (p *Pages) keep(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/safety", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.KeepRecord(&models.RetentionReview{PlayerID: player, KeepUntil: f.day("keep_until"),
			Because: f.text("because")})
	})
}

func playerAddress(id int64) string { return "/players/" + strconv.FormatInt(id, 10) }
