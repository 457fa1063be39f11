package pages

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// registerConsents adds the printed forms of consent, and the page on which those of a squad are entered.
func (p *Pages) registerConsents(router *gin.Engine) {
	router.GET("/consent-form", p.known(p.blankConsentForm))
	router.GET("/players/:player/consent-form", p.known(p.consentForm))
	router.GET("/squads/:squad/consent-forms", p.known(p.consentForms))
	router.GET("/squads/:squad/consents", p.known(func(c *gin.Context, who models.Who) error {
		return p.squadConsentsWith(c, who, Form{})
	}))
	router.POST("/squads/:id/consents", p.sent("consents", p.squadConsentsWith, p.enterConsents))
}

// consentFormPage are forms to print and sign, one sheet for each player.
type consentFormPage struct {
	Academy string
	Asked   []models.PurposeInfo
	Forms   []consentSheet
	Back    string // the page that leads here
}

// consentSheet is the form of one player, or a blank one.
type consentSheet struct {
	Name, Born string // empty to be written by hand
	Guardian   bool   // a guardian signs
	Self       bool   // the player signs for themselves
	From       string // the birthday from which the player signs, if it is near
}

// Blank says whether the form has no player on it.
func (s consentSheet) Blank() bool { return s.Name == "" }

func (page *consentFormPage) read(tx *store.Tx) (err error) {
	if page.Academy, err = tx.AcademyName(); err != nil {
		return err
	}
	page.Asked, err = askedConsents(tx)
	return err
}

// askedConsents are those that the academy requires, in the order of the catalogue.
func askedConsents(tx *store.Tx) (asked []models.PurposeInfo, err error) {
	rules, err := tx.Settings()
	for _, info := range models.ConsentPurposes() {
		if rules.Require(info.Code) {
			asked = append(asked, info)
		}
	}
	return asked, err
}

// sheetOf is a player's form on a day.
func sheetOf(p models.Player, today models.Date) consentSheet {
	s := consentSheet{Name: p.Name, Guardian: p.MinorOn(today), Self: !p.MinorOn(today)}
	if on, known := p.ComesOfAge(); known && s.Guardian && today >= on.AddDays(-models.BirthdayDays) {
		s.From = day(on)
	}
	if p.BornOn != nil {
		s.Born = day(*p.BornOn)
	}
	return s
}

// blankConsentForm is GET /consent-form: the academy's form without a player on it.
func (p *Pages) blankConsentForm(c *gin.Context, who models.Who) error {
	if !who.Staff() || who.Reach(models.Read, models.AreaConsents) == models.ReachNone {
		return models.Errorf(models.Forbidden, "this page is for managers and coaches")
	}
	page := consentFormPage{Forms: []consentSheet{{Guardian: true, Self: true}}}
	if manages(who) == nil {
		page.Back = "/work/consents"
	}
	if err := p.store.Read(c.Request.Context(), who, page.read); err != nil {
		return fmt.Errorf("blank consent form: %w", err)
	}
	return p.render(c, http.StatusOK, "consent-form", "Consent form", page)
}

// consentForm is GET /players/:player/consent-form.
func (p *Pages) consentForm(c *gin.Context, who models.Who) error {
	player, err := id(c, "player")
	if err != nil {
		return err
	}
	if who.Reach(models.Read, models.AreaConsents) == models.ReachNone {
		return models.Errorf(models.NotFound, "no such page")
	}
	page := consentFormPage{Back: playerAddress(player) + "#consents"}
	title := ""
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		of, err := tx.Player(player)
		if err != nil {
			return err
		}
		title = "Consent form: " + of.Name
		page.Forms = []consentSheet{sheetOf(of, tx.Who().Day(p.now()))}
		return page.read(tx)
	})
	if err != nil {
		return fmt.Errorf("consent form of player %d: %w", player, err)
	}
	return p.render(c, http.StatusOK, "consent-form", title, page)
}

// consentForms is GET /squads/:squad/consent-forms: one for each player of a squad who lacks a consent.
func (p *Pages) consentForms(c *gin.Context, who models.Who) error {
	squad, err := id(c, "squad")
	if err != nil {
		return err
	}
	page, title := consentFormPage{Back: squadConsentsAddress(squad)}, ""
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		of, err := p.readSquadConsents(tx, who, squad)
		if err != nil {
			return err
		}
		title = "Consent forms: " + of.Squad.Name
		for _, r := range of.Rows {
			if r.lacks() {
				page.Forms = append(page.Forms, sheetOf(r.Player, of.Today))
			}
		}
		return page.read(tx)
	})
	if err != nil {
		return fmt.Errorf("consent forms of squad %d: %w", squad, err)
	}
	return p.render(c, http.StatusOK, "consent-form", title, page)
}

func squadConsentsAddress(squad int64) string { return fmt.Sprintf("/squads/%d/consents", squad) }

// squadConsents is the page on which a pile of signed forms is entered: the players of a squad and the consents that
// the academy asks for.
type squadConsents struct {
	Form  Form
	Name  string // of the form
	Today models.Date
	Squad models.Squad
	Asked []models.PurposeInfo
	Rows  []consentRow
	Kept  string // where the forms are kept, as it was typed
	Saved string // how many were saved
}

// consentRow is a player with what is on file and what was typed.
type consentRow struct {
	Player    models.Player
	Minor     bool
	Cells     []consentCell
	Guardians []string // on file

	By, On string // as typed
}

// lacks says whether a consent is missing.
func (r consentRow) lacks() bool {
	return slices.ContainsFunc(r.Cells, func(c consentCell) bool { return c.Given == nil })
}

// Lacking are the consents that can be given.
func (r consentRow) Lacking() (all []consentCell) {
	for _, c := range r.Cells {
		if c.Given == nil {
			all = append(all, c)
		}
	}
	return all
}

// OnFile are the consents that can be withdrawn.
func (r consentRow) OnFile() (all []consentCell) {
	for _, c := range r.Cells {
		if c.Given != nil {
			all = append(all, c)
		}
	}
	return all
}

// consentCell is one consent of one player.
type consentCell struct {
	models.PurposeInfo
	Given *models.Consent // nil: it is missing

	Ticked    bool   // typed: it was signed
	Withdrawn string // typed: the day on which it was withdrawn
}

// squadConsentsWith is GET /squads/:squad/consents.
func (p *Pages) squadConsentsWith(c *gin.Context, who models.Who, form Form) error {
	squad, err := id(c, "squad")
	if c.Param("squad") == "" {
		squad, err = id(c, "id")
	}
	if err != nil {
		return err
	}
	var page squadConsents
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		page, err = p.readSquadConsents(tx, who, squad)
		return err
	})
	if err != nil {
		return fmt.Errorf("consents of squad %d: %w", squad, err)
	}
	page.Form, page.Saved = form, c.Query("saved")
	if form.Name == page.Name {
		page.fill(form)
	}
	return p.render(c, form.status(), "squad-consents", "Consents: "+page.Squad.Name, page)
}

// fill shows what was sent again, and what was wrong with a row beside it.
func (page *squadConsents) fill(form Form) {
	page.Kept = form.sent.Get("kept_at")
	for i := range page.Rows {
		r := &page.Rows[i]
		end := strconv.FormatInt(r.Player.ID, 10)
		r.By, r.On = form.sent.Get("by-"+end), form.sent.Get("on-"+end)
		for n := range r.Cells {
			cell := &r.Cells[n]
			cell.Ticked = slices.Contains(form.sent["give-"+end], string(cell.Code))
			if cell.Given != nil {
				cell.Withdrawn = form.sent.Get(fmt.Sprintf("withdrawn-%d", cell.Given.ID))
			}
		}
	}
}

// readSquadConsents reads the players who are in a squad now or later this season, and their consents.
func (p *Pages) readSquadConsents(tx *store.Tx, who models.Who, squad int64) (page squadConsents, err error) {
	if err := manages(who); err != nil {
		return page, err
	}
	page.Name, page.Today = fmt.Sprintf("consents-%d", squad), tx.Who().Day(p.now())
	if page.Squad, err = tx.Squad(squad); err != nil {
		return page, err
	}
	if page.Asked, err = askedConsents(tx); err != nil {
		return page, err
	}
	season, err := p.seasonNow(tx)
	if err != nil || season == nil {
		return page, err
	}
	memberships, err := tx.Memberships(models.MembershipFilter{SeasonID: season.ID, SquadID: squad})
	if err != nil {
		return page, err
	}
	of := map[int64][]models.Membership{}
	for _, m := range memberships {
		of[m.PlayerID] = append(of[m.PlayerID], m)
	}
	players, err := tx.Players(models.PlayerFilter{SeasonID: season.ID, SquadID: squad})
	if err != nil {
		return page, err
	}
	given, err := tx.Consents(models.ConsentFilter{})
	if err != nil {
		return page, err
	}
	guardians, err := tx.Guardians(models.GuardianFilter{})
	for _, player := range players {
		if models.Left(of[player.ID], page.Today) {
			continue
		}
		r := consentRow{Player: player, Minor: player.MinorOn(page.Today)}
		for _, g := range guardians {
			if g.PlayerID == player.ID {
				r.Guardians = append(r.Guardians, g.Name)
			}
		}
		switch {
		case !r.Minor:
			r.By = player.Name
		case len(r.Guardians) == 1:
			r.By = r.Guardians[0]
		}
		for _, info := range page.Asked {
			r.Cells = append(r.Cells, consentCell{PurposeInfo: info,
				Given: models.ConsentHolding(player, given, info.Code, page.Today)})
		}
		page.Rows = append(page.Rows, r)
	}
	return page, err
}

// enterConsents is POST /squads/:id/consents: what was signed and what was withdrawn, all or nothing.
func (p *Pages) enterConsents(c *gin.Context, who models.Who, f *fields) (string, error) {
	squad, err := id(c, "id")
	if err != nil {
		return "", err
	}
	saved := 0
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		page, err := p.readSquadConsents(tx, who, squad)
		if err != nil {
			return err
		}
		for _, r := range page.Rows {
			n, err := f.enterRow(tx, r, page.Today)
			if err != nil {
				return err
			}
			saved += n
		}
		if err := f.err(); err != nil {
			return err
		}
		if f.beside(page.Rows) {
			return models.Errorf(models.Stale, "The squad or a consent was changed after you opened the page, so nothing was "+
				"saved. Look at what is on file now, and send again what is still right.")
		}
		if saved == 0 {
			return models.Errorf(models.Invalid, "tick a consent that was signed, or enter the day on which one was "+
				"withdrawn; nothing was entered yet")
		}
		return nil
	})
	return squadConsentsAddress(squad) + "?" + url.Values{"saved": {strconv.Itoa(saved)}}.Encode(), err
}

// beside says whether something was typed for a player or a consent that the page no longer has.
func (f *fields) beside(rows []consentRow) bool {
	known := map[string]bool{}
	for _, r := range rows {
		for _, cell := range r.Cells {
			known[fmt.Sprintf("give-%d", r.Player.ID)] = true
			if cell.Given != nil {
				known[fmt.Sprintf("withdrawn-%d", cell.Given.ID)] = true
			}
		}
	}
	for name := range f.values {
		typed := strings.HasPrefix(name, "give-") || strings.HasPrefix(name, "withdrawn-")
		if typed && f.text(name) != "" && !known[name] {
			return true
		}
	}
	return false
}

// enterRow writes what was typed for one player, and returns how many consents that were. What is wrong with it is
// noted at its control.
func (f *fields) enterRow(tx *store.Tx, r consentRow, today models.Date) (n int, err error) {
	end := strconv.FormatInt(r.Player.ID, 10)
	wrong := func(err error, withdrawn string) error {
		e, ok := errors.AsType[*models.Error](err)
		if !ok {
			return err
		}
		at := map[string]string{"given_by": "by-" + end, "relation": "by-" + end, "on": "on-" + end, "kept_at": "kept_at",
			"withdrawn_on": withdrawn}
		for _, one := range e.Fields {
			f.refuse(cmp.Or(at[one.Where], "give-"+end), one.Message)
		}
		if len(e.Fields) == 0 {
			f.refuse(cmp.Or(withdrawn, "give-"+end), e.Message)
		}
		return nil
	}
	ticked := f.values["give-"+end]
	if len(ticked) > 0 && f.text("by-"+end) == "" {
		f.refuse("by-"+end, "write the name of the person who signed")
		return 0, nil
	}
	if len(ticked) > 0 && !f.pastDay("on-"+end, "", f.day("on-"+end), today) {
		return 0, nil
	}
	for _, cell := range r.Cells {
		if cell.Given != nil {
			withdrawn := fmt.Sprintf("withdrawn-%d", cell.Given.ID)
			typed := f.day(withdrawn)
			if typed != "" && f.pastDay(withdrawn, "", typed, today) {
				sent := *cell.Given
				sent.WithdrawnOn = &typed
				if err := wrong(tx.UpdateConsent(&sent), withdrawn); err != nil {
					return n, err
				}
				n++
			}
		}
		if !slices.Contains(ticked, string(cell.Code)) {
			continue
		}
		if cell.Given != nil {
			f.refuse("give-"+end, fmt.Sprintf("%s: %s gave this consent already, from %s. Untick it, or withdraw the one "+
				"on file first", cell.Label, cell.Given.GivenBy, day(cell.Given.On)))
			continue
		}
		relation := models.BySelf
		if r.Player.MinorOn(f.day("on-" + end)) {
			relation = models.ByGuardian
		}
		err := wrong(tx.CreateConsent(&models.Consent{PlayerID: r.Player.ID, Purpose: cell.Code,
			GivenBy: f.text("by-" + end), Relation: relation, On: f.day("on-" + end), KeptAt: f.text("kept_at")}), "")
		if err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}

// pastDay refuses a day of signing or withdrawing that is missing, no day, or still to come. Back-dated is right: paper
// is entered after it was signed.
func (f *fields) pastDay(field, label string, on, today models.Date) bool {
	if label != "" {
		label += ": "
	}
	switch _, err := on.Time(); {
	case on == "":
		f.refuse(field, label+"enter the day that is written on the form")
	case err != nil:
		f.refuse(field, label+err.Error())
	case on > today:
		f.refuse(field, fmt.Sprintf("%s%s has not come yet; enter the day that is written on the form, today at the latest",
			label, day(on)))
	default:
		return true
	}
	return false
}

// squadsOfConsents are the squads whose consents can be entered together, for the list of missing ones.
func squadsOfConsents(tx *store.Tx) (all []paper.Cell, err error) {
	squads, err := tx.Squads(models.SquadFilter{})
	for _, s := range squads {
		all = append(all, paper.Cell{Text: s.Name, Link: squadConsentsAddress(s.ID)})
	}
	slices.SortStableFunc(all, func(a, b paper.Cell) int { return strings.Compare(a.Text, b.Text) })
	return all, err
}
