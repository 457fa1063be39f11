package pages

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
	"throughline/reports/personal"
)

// playerPage says who the player is, what must be known about them before anything else, and what is recorded.
type playerPage struct {
	Form      Form
	Today     models.Date
	Player    models.Player
	Own       bool // the reader is the player
	Age       string
	Minor     bool
	Squads    []string
	Now       playerNow
	Seasons   []paper.Cell
	Safety    models.Safety
	Settles   map[int64]bool // the actions before contact that the reader may settle
	Missing   []string
	Matches   []evidence.MatchLine // that the player was in, the last first, for marking a head contact
	Played    paper.Table          // the same, with what is recorded of each
	Before    paper.Table          // the matches before those
	Consents  []consentItem
	Purposes  []models.PurposeInfo
	Guardians []models.Guardian
	Requests  []models.DataRequest
	Writing   writing
	Reviews   []models.Review   // the last first
	Feedback  []models.Feedback // that was released to the player who reads it
	Training  playerTraining

	Reads, SeesConsents, MayConsent, MayMark, MayNote, MayLog, MayReview, MayErase, MayExport, SeesTrail bool
}

// consentItem is a consent as a person reads it.
type consentItem struct {
	models.Consent
	Label, By string
}

// half is a half of a match, for the match clock of a form.
type half struct{ Number, Name string }

// Halves are those that a match can have.
func (playerPage) Halves() []half {
	return []half{{"1", "first half"}, {"2", "second half"}, {"3", "extra time, first half"},
		{"4", "extra time, second half"}}
}

// matchesToMark is how many of the last matches a head contact can be marked in on the page: those of a few weeks.
const matchesToMark = 8

// player is GET /players/:player.
func (p *Pages) player(c *gin.Context, who models.Who) error {
	err := p.playerWith(c, who, Form{})
	if models.CodeOf(err) != models.NotFound || mayMerge(who) != nil {
		return err
	}
	if stays := p.mergedInto(c, who); stays != 0 {
		c.Redirect(http.StatusSeeOther, playerAddress(stays))
		return nil
	}
	return err
}

func (p *Pages) playerWith(c *gin.Context, who models.Who, form Form) error {
	player, err := id(c, "player")
	if err != nil {
		return err
	}
	today := who.Day(p.now())
	page := playerPage{
		Form: form, Today: today, Own: who.Role == models.RolePlayer, Purposes: models.ConsentPurposes(),
		Reads:        who.Reach(models.Read, models.AreaPerformance) != models.ReachNone,
		SeesConsents: who.Reach(models.Read, models.AreaConsents) != models.ReachNone,
		MayConsent:   who.Reach(models.Write, models.AreaConsents) != models.ReachNone,
		MayMark:      who.Reach(models.Write, models.AreaSafety) != models.ReachNone,
		MayNote:      who.Reach(models.Write, models.AreaNotes) != models.ReachNone,
		MayLog:       who.Reach(models.Write, models.AreaPerformance) != models.ReachNone,
		MayReview:    who.Reach(models.Write, models.AreaReviews) != models.ReachNone,
		MayExport:    who.Reach(models.Read, models.AreaRequests) != models.ReachNone,
		MayErase:     who.Reach(models.Write, models.AreaRequests) != models.ReachNone,
		SeesTrail:    who.Reach(models.Read, models.AreaAudit) == models.ReachAcademy,
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Player, err = tx.Player(player); err != nil {
			return err
		}
		page.Minor = page.Player.MinorOn(today)
		if page.Reviews, err = tx.Reviews(models.ReviewFilter{PlayerID: player}); err != nil {
			return err
		}
		slices.Reverse(page.Reviews)
		if page.Feedback, err = ownFeedback(tx, who); err != nil {
			return err
		}
		if page.Training, err = readPlayerTraining(tx, player); err != nil {
			return err
		}
		if years, known := page.Player.AgeOn(today); known {
			page.Age = strconv.Itoa(years)
		}
		if err := page.readSeasons(tx, p, who); err != nil {
			return err
		}
		if page.Reads || page.MayMark || page.MayNote || page.MayLog {
			if err := page.readMatches(tx); err != nil {
				return err
			}
		}
		if page.MayNote {
			if err := page.readWriting(tx); err != nil {
				return err
			}
			if note := c.Query("note"); note != "" && form.Name == "" {
				if page.Form, err = changing(tx, player, note); err != nil {
					return err
				}
			}
			if match := c.Query("review"); match != "" && form.Name == "" {
				if page.Form, err = proposed(c.Request.Context(), tx, who, player, match, p.now()); err != nil {
					return err
				}
			}
			if err := page.readNoted(tx); err != nil {
				return err
			}
			page.Writing.Preview = form.preview
		}
		if !page.SeesConsents {
			return nil
		}
		return page.readConsents(tx)
	})
	if err != nil {
		return fmt.Errorf("page of player %d: %w", player, err)
	}
	return p.render(c, form.status(), "player", page.Player.Name, page)
}

// readMatches reads the matches that the player was in, and what is recorded of each.
func (page *playerPage) readMatches(tx *store.Tx) error {
	all, err := tx.Matches(models.MatchFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	minutes := map[int64]string{}
	appearances, err := tx.Appearances(models.AppearanceFilter{PlayerID: page.Player.ID, Bare: true})
	if err != nil {
		return err
	}
	for _, a := range appearances {
		if minutes[a.MatchID] = paper.Number(a.CountedMinutes(), 0); a.Untimed() {
			minutes[a.MatchID] = "not recorded"
		}
	}
	recorded, graded, err := page.readRecorded(tx)
	if err != nil {
		return err
	}
	page.Played = paper.Table{Caption: "The last matches", Stack: true, Columns: []paper.Column{{Label: "Date"},
		{Label: "Match"}, {Label: "Minutes", Numeric: true}}}
	if page.MayLog {
		page.Played.Columns = append(page.Played.Columns, paper.Column{Label: "Log"}, paper.Column{Label: "Grades"})
	}
	page.Before = page.Played
	page.Before.Caption = "The matches before"
	for i, m := range slices.Backward(all) {
		line := evidence.LineOf(m)
		row := paper.Text(day(m.Date), line.Against(), minutes[m.ID])
		row[1].Under = line.Circumstances()
		if page.Reads {
			row[1].Link = fmt.Sprintf("%s/matches/%d/review", playerAddress(page.Player.ID), m.ID)
		}
		if page.MayLog {
			row = append(row, paper.Cell{Text: cmp.Or(recorded[m.ID], "no log")},
				paper.Cell{Text: cmp.Or(graded[m.ID], "no grade")})
		}
		if len(all)-i <= matchesToMark {
			page.Matches, page.Played.Rows = append(page.Matches, line), append(page.Played.Rows, row)
		} else {
			page.Before.Rows = append(page.Before.Rows, row)
		}
	}
	return nil
}

// readRecorded says by match whether there is a log of the player, or totals, and whether there are coaches' grades
// that the caller may read.
func (page *playerPage) readRecorded(tx *store.Tx) (recorded, graded map[int64]string, err error) {
	if !page.MayLog {
		return nil, nil, nil
	}
	recorded, graded = map[int64]string{}, map[int64]string{}
	totals, err := tx.Totals(models.TotalsFilter{PlayerID: page.Player.ID})
	if err != nil {
		return nil, nil, err
	}
	for _, t := range totals {
		recorded[t.MatchID] = "totals only"
	}
	logs, err := tx.Logs(models.LogFilter{PlayerID: page.Player.ID, Bare: true})
	if err != nil {
		return nil, nil, err
	}
	for _, l := range logs {
		if l.Finished {
			recorded[l.MatchID] = "logged"
		} else if recorded[l.MatchID] != "logged" {
			recorded[l.MatchID] = "log not finished"
		}
	}
	ratings, err := tx.Ratings(models.RatingFilter{PlayerID: page.Player.ID})
	for _, r := range ratings {
		if r.MatchID != nil && !r.Self {
			graded[*r.MatchID] = "graded"
		}
	}
	return recorded, graded, err
}

// readSeasons reads the player's squads, and what must be known about the player in the latest season.
func (page *playerPage) readSeasons(tx *store.Tx, p *Pages, who models.Who) error {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	members, err := tx.Memberships(models.MembershipFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	named := map[int64]string{}
	for _, s := range squads {
		named[s.ID] = s.Name
	}
	current, err := p.pick(tx.Who(), seasons, "")
	if err != nil {
		return err
	}
	for _, s := range slices.Backward(seasons) {
		var in []string
		for _, m := range members {
			if m.SeasonID == s.ID && named[m.SquadID] != "" {
				in = append(in, named[m.SquadID])
			}
		}
		if len(in) == 0 {
			continue
		}
		said := in[0]
		for _, more := range in[1:] {
			said += ", " + more
		}
		page.Seasons = append(page.Seasons, paper.Cell{Text: "Season report " + s.Name,
			Link: seasonReportAddress(page.Player.ID, s.ID), Under: said})
		if current != nil && s.ID == current.ID {
			page.Squads = in
		}
	}
	if current == nil {
		return nil
	}
	if err := page.readNow(tx, who, *current, p.now()); err != nil {
		return err
	}
	if page.Safety, err = tx.Safety(page.Player.ID, current.ID, page.Today); err != nil {
		return err
	}
	page.Settles = map[int64]bool{}
	for _, a := range page.Safety.Actions {
		if page.Settles[a.ID], err = tx.MaySettle(a); err != nil {
			return err
		}
	}
	labels := purposeLabels()
	for _, purpose := range page.Safety.Missing {
		page.Missing = append(page.Missing, labels[purpose])
	}
	return err
}

func (page *playerPage) readConsents(tx *store.Tx) error {
	staff, err := tx.UserNames()
	if err != nil {
		return err
	}
	given, err := tx.Consents(models.ConsentFilter{PlayerID: page.Player.ID})
	if err != nil {
		return err
	}
	labels := purposeLabels()
	for _, c := range given {
		page.Consents = append(page.Consents, consentItem{c, labels[c.Purpose], staff[c.RecordedBy]})
	}
	if page.Guardians, err = tx.Guardians(models.GuardianFilter{PlayerID: page.Player.ID}); err != nil {
		return err
	}
	if page.MayExport {
		requests, err := tx.DataRequests()
		if err != nil {
			return err
		}
		for _, r := range requests {
			if r.PlayerID == page.Player.ID {
				page.Requests = append(page.Requests, r)
			}
		}
	}
	return nil
}

// onPlayer handles a form on a player's page: do changes something of theirs, and the page is shown again at a place.
func (p *Pages) onPlayer(name, place string, do func(*store.Tx, int64, *fields) error) gin.HandlerFunc {
	return p.sent(name, p.playerWith, func(c *gin.Context, who models.Who, f *fields) (string, error) {
		player, err := id(c, "player")
		if err != nil {
			return "", err
		}
		err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
			if _, err := tx.Player(player); err != nil { // a hidden player cannot be changed
				return err
			}
			if err := do(tx, player, f); err != nil {
				return err
			}
			return f.err()
		})
		return playerAddress(player) + "#" + place, err
	})
}

// giveConsent is POST /players/:player/consents.
func (p *Pages) giveConsent(tx *store.Tx, player int64, f *fields) error {
	err := tx.CreateConsent(&models.Consent{
		PlayerID: player, Purpose: models.Purpose(f.text("purpose")), GivenBy: f.text("given_by"),
		Relation: models.Relation(f.text("relation")),
		On:       f.day("on"), Until: f.dayIfAny("until"), KeptAt: f.text("kept_at"),
	})
	if err != nil {
		return err
	}
	today := tx.Who().Day(p.now())
	of, err := tx.Player(player)
	if err != nil {
		return err
	}
	if own := models.Relation(f.text("relation")) == models.BySelf && f.day("on") == lastConsentDay(of, today); !own &&
		!f.pastDay("on", "", f.day("on"), today) {
		err = f.err()
	}
	return err
}

// lastConsentDay is the last day from which a consent can be entered today: today, and for a player about to turn 18,
// who signs early, the birthday.
func lastConsentDay(p models.Player, today models.Date) models.Date {
	on, known := p.ComesOfAge()
	if known && on > today && on <= today.AddDays(models.BirthdayDays) {
		return on
	}
	return today
}

// ComesOfAge is the birthday of a player about to turn 18, empty for others.
func (page playerPage) ComesOfAge() models.Date {
	if on := lastConsentDay(page.Player, page.Today); on > page.Today {
		return on
	}
	return ""
}

// withdrawConsent is POST /players/:player/consents/:id/withdraw.
func (p *Pages) withdrawConsent(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	consent, err := id(c, "id")
	if err != nil {
		return "", err
	}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		given, err := tx.Consent(consent)
		if err != nil {
			return err
		}
		if given.PlayerID != player {
			return models.Errorf(models.NotFound, "no such consent")
		}
		day := f.day("withdrawn_on")
		sent := given
		sent.WithdrawnOn, sent.Version = &day, f.version()
		err = inBothWords(tx.UpdateConsent(&sent), withdrawnInWords(sent), withdrawnInWords(given))
		if err == nil && !f.pastDay("withdrawn_on", "", day, tx.Who().Day(p.now())) {
			err = f.err()
		}
		return err
	})
	return playerAddress(player) + "#consents", err
}

// withdrawnInWords says how long a consent holds, as far as its withdrawal goes.
func withdrawnInWords(c models.Consent) string {
	if c.WithdrawnOn == nil {
		return "not withdrawn; from " + day(c.On) + ", given by " + c.GivenBy
	}
	return "withdrawn on " + day(*c.WithdrawnOn)
}

// addGuardian is POST /players/:player/guardians.
func addGuardian(tx *store.Tx, player int64, f *fields) error {
	return tx.CreateGuardian(&models.Guardian{PlayerID: player, Name: f.text("name"), Relation: f.text("relation"),
		Contact: f.text("contact")})
}

// markHeadContact is POST /players/:player/head-contacts.
func markHeadContact(tx *store.Tx, player int64, f *fields) error {
	h := models.HeadContact{PlayerID: player, Date: f.day("date"), MatchID: f.idIfAny("match_id"),
		Clock: f.clockIfAny("half", "clock"), StandDown: f.checked("stand_down")}
	if err := f.err(); err != nil {
		return err
	}
	if h.MatchID != nil && h.Date == "" {
		m, err := tx.Match(*h.MatchID)
		if err != nil {
			return err
		}
		h.Date = m.Date
	}
	return tx.CreateHeadContact(&h)
}

// export is POST /players/:player/record.zip. It answers with the archive.
func (p *Pages) export(c *gin.Context, who models.Who, _ *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	by := models.AskedByAcademy
	if who.Role == models.RolePlayer {
		by = models.AskedByPlayer
	}
	record, err := p.store.ExportPlayer(c.Request.Context(), who, player, by)
	if err != nil {
		return "", fmt.Errorf("export player %d: %w", player, err)
	}
	var archive bytes.Buffer
	if err := personal.WriteArchive(&archive, record); err != nil {
		return "", err
	}
	c.Header("Content-Disposition", `attachment; filename="personal-record.zip"`)
	c.Data(http.StatusOK, "application/zip", archive.Bytes())
	return "", nil
}

// erase is POST /players/:player/erasure.
func (p *Pages) erase(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	proof, err := p.store.ErasePlayer(c.Request.Context(), who, player, f.text("name"),
		models.AskedBy(f.text("asked_by")))
	return "/data-requests#request-" + strconv.FormatInt(proof.ID, 10), err
}

// requestsPage is what was asked for under data protection law, and the proof that it was done.
type requestsPage struct{ Requests []requestItem }

// requestItem is a request as a person reads it.
type requestItem struct {
	models.DataRequest
	On, By string
	Rows   int
}

// dataRequests is GET /data-requests.
func (p *Pages) dataRequests(c *gin.Context, who models.Who) error {
	if who.Role == models.RolePlayer {
		return models.Errorf(models.Forbidden, "this page is for managers")
	}
	var page requestsPage
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		all, err := tx.DataRequests()
		if err != nil {
			return err
		}
		staff, err := tx.UserNames()
		for _, r := range slices.Backward(all) {
			item := requestItem{DataRequest: r, On: dayOf(who.Local(r.CreatedAt)), By: staff[r.DoneBy]}
			for _, n := range r.Counts {
				item.Rows += n
			}
			page.Requests = append(page.Requests, item)
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("page of data requests: %w", err)
	}
	return p.render(c, http.StatusOK, "data-requests", "Data requests", page)
}
