package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/selection"
)

// meetingsPage lists the meetings that the caller reads, and has the form of a new one.
type meetingsPage struct {
	Form     Form
	Meetings []meetingLine
	Squads   []models.Squad
	Seasons  []models.Season
	Season   int64 // chosen at first: that of today
	Today    models.Date
	May      bool // add one
}

// meetingLine is a meeting in the list.
type meetingLine struct {
	models.Meeting
	Squad, Address, Step string
}

// stepWords say how far a meeting is.
var stepWords = map[models.MeetingStatus]string{
	models.MeetingDraft: "draft, criteria and places still to agree", models.MeetingLocked: "criteria locked",
	models.MeetingOpened: "comparison open", models.MeetingDecided: "decided", models.MeetingClosed: "closed",
}

// decisionWords say a decision in a form.
var decisionWords = []choice{{"", "not decided yet"}, {string(models.Chosen), "chosen"},
	{string(models.Reserve), "reserve"}, {string(models.NotChosen), "not chosen"}, {string(models.Deferred), "deferred"}}

// decisionSaid is a decision in words.
func decisionSaid(d models.Decision) string {
	for _, word := range decisionWords {
		if word.Value == string(d) {
			return word.Label
		}
	}
	return string(d)
}

// choice is an option of a list.
type choice struct{ Value, Label string }

func meetingAddress(id int64) string { return fmt.Sprintf("/meetings/%d", id) }

// meetings is GET /meetings.
func (p *Pages) meetings(c *gin.Context, who models.Who) error { return p.meetingsWith(c, who, Form{}) }

func (p *Pages) meetingsWith(c *gin.Context, who models.Who, form Form) error {
	page := meetingsPage{Form: form, Today: who.Day(p.now()),
		May: who.Reach(models.Write, models.AreaMeetings) != models.ReachNone}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Squads, err = tx.Squads(models.SquadFilter{}); err != nil {
			return err
		}
		if page.Meetings, err = meetingLines(tx, page.Squads); err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaMeetings) != models.ReachAcademy {
			page.Squads = slices.DeleteFunc(page.Squads, func(s models.Squad) bool {
				return !slices.Contains(who.SquadIDs, s.ID)
			})
		}
		if page.Seasons, err = tx.Seasons(models.SeasonFilter{}); err != nil {
			return err
		}
		slices.Reverse(page.Seasons) // the latest first
		page.Season = seasonOf(page.Seasons, page.Today)
		return nil
	})
	if err != nil {
		return err
	}
	return p.render(c, form.status(), "meetings", "Selection meetings", page)
}

// meetingLines are the meetings that the caller reads, the latest first.
func meetingLines(tx *store.Tx, squads []models.Squad) ([]meetingLine, error) {
	all, err := tx.Meetings(models.MeetingFilter{})
	names := map[int64]string{}
	for _, s := range squads {
		names[s.ID] = s.Name
	}
	var lines []meetingLine
	for _, m := range slices.Backward(all) {
		lines = append(lines, meetingLine{m, names[m.SquadID], meetingAddress(m.ID), stepWords[m.Status]})
	}
	return lines, err
}

// meetingsAhead are the meetings that a selector still works on: those that are not closed.
func meetingsAhead(tx *store.Tx) ([]meetingLine, error) {
	if tx.Who().Role != models.RoleSelector {
		return nil, nil
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return nil, err
	}
	lines, err := meetingLines(tx, squads)
	return slices.DeleteFunc(lines, func(l meetingLine) bool { return l.Status == models.MeetingClosed }), err
}

// addMeeting is POST /meetings.
func (p *Pages) addMeeting(c *gin.Context, who models.Who, f *fields) (string, error) {
	m := models.Meeting{Date: f.day("date"), Purpose: f.text("purpose")}
	m.SeasonID, m.SquadID = f.id("season_id"), f.id("squad_id")
	if err := f.err(); err != nil {
		return "", err
	}
	err := p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error { return tx.CreateMeeting(&m) })
	return meetingAddress(m.ID), err
}

// meetingPage is one meeting, with its steps in their order as forms.
type meetingPage struct {
	Form       Form
	Meeting    models.Meeting
	Squad      string
	Step       string
	Taken      []string // the steps taken, each with who took it and when
	Present    string   // one name a line
	Criteria   []criterionRow
	Places     []placeRow
	Subjects   []choice // what a criterion may be on
	Positions  []choice // what a place may be for
	Decisions  []choice
	Players    []models.Player // of the squad
	Elsewhere  []models.Player // of other squads of the season
	Candidates []candidateRow
	Openings   []openingRow
	Comparison *selection.Comparison

	Recommendations []recommendationRow
	Corrections     []correctionRow
	Feedback        []feedbackRow
	Today           models.Date

	May, MayRecommend, MayTell bool
}

type criterionRow struct {
	models.Criterion
	N  int
	Of string
}

// Number is the row's on the page.
func (r criterionRow) Number() int { return r.N + 1 }

type placeRow struct {
	models.Place
	N   int
	For string
}

// Number is the row's on the page.
func (r placeRow) Number() int { return r.N + 1 }

// candidateRow is a candidate with the form of the decision.
type candidateRow struct {
	models.Candidate
	Name    string
	Key     string // names the form
	Decided string // the decision in words
	Marks   []markRow
}

// markRow is a criterion in words with the meeting's mark.
type markRow struct {
	N     int
	Label string
	Mark  int
}

type openingRow struct{ User, Player, On string }

type recommendationRow struct {
	models.Recommendation
	Player, By, Said string
}

type correctionRow struct {
	models.Correction
	By, Player, On string
}

type feedbackRow struct {
	models.Feedback
	Player, By, Key string
}

// meeting is GET /meetings/:meeting.
func (p *Pages) meeting(c *gin.Context, who models.Who) error { return p.meetingWith(c, who, Form{}) }

func (p *Pages) meetingWith(c *gin.Context, who models.Who, form Form) error {
	n, err := id(c, "meeting")
	if err != nil {
		return err
	}
	page := meetingPage{Form: form, Today: who.Day(p.now()), Decisions: decisionWords,
		May:          who.Reach(models.Write, models.AreaMeetings) != models.ReachNone,
		MayRecommend: who.Reach(models.Write, models.AreaRecommendations) != models.ReachNone,
		MayTell:      who.Reach(models.Write, models.AreaFeedback) != models.ReachNone}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error { return page.read(tx, n, p) })
	if err != nil {
		return err
	}
	return p.render(c, form.status(), "meeting", "Selection meeting", page)
}

func (page *meetingPage) read(tx *store.Tx, n int64, p *Pages) (err error) {
	if page.Meeting, err = tx.Meeting(n); err != nil {
		return err
	}
	m := &page.Meeting
	page.Step = stepWords[m.Status]
	for _, s := range m.Steps {
		page.Taken = append(page.Taken, fmt.Sprintf("%s by %s, %s", s.Words(), s.Name, dayOf(tx.Who().Local(s.At))))
	}
	squad, err := tx.Squad(m.SquadID)
	if err != nil {
		return err
	}
	page.Squad = squad.Name
	var names []string
	for _, a := range m.Present {
		names = append(names, a.Name)
	}
	page.Present = strings.Join(names, "\n")
	if err := page.readChoices(tx); err != nil {
		return err
	}
	players, err := page.readCandidates(tx)
	if err != nil {
		return err
	}
	for _, o := range m.OpenedBefore {
		page.Openings = append(page.Openings, openingRow{o.Name, players[o.PlayerID], day(o.On)})
	}
	if m.Comparable() == nil {
		if page.Comparison, err = selection.Read(tx, m.ID, tx.Who().Local(p.now())); err != nil {
			return err
		}
	}
	return page.readWords(tx, players)
}

// readChoices reads what the forms of a draft offer.
func (page *meetingPage) readChoices(tx *store.Tx) error {
	m := &page.Meeting
	page.Subjects = []choice{{"", "in words"}}
	indicators, err := tx.Indicators()
	if err != nil {
		return err
	}
	for _, in := range indicators {
		page.Subjects = append(page.Subjects, choice{"indicator:" + in.Code, in.Label})
	}
	skills, err := tx.Skills()
	if err != nil {
		return err
	}
	for _, s := range skills {
		page.Subjects = append(page.Subjects, choice{"skill:" + s.Code, "Skill: " + s.Label})
	}
	for _, g := range models.Groups() {
		page.Positions = append(page.Positions, choice{"group:" + string(g.Code), g.Label})
	}
	for _, at := range models.Positions() {
		page.Positions = append(page.Positions, choice{"position:" + string(at.Code), at.Label})
	}
	const spare = 2
	for i := range len(m.Criteria) + spare {
		row := criterionRow{N: i}
		if i < len(m.Criteria) {
			row.Criterion = m.Criteria[i]
			if row.Indicator != "" {
				row.Of = "indicator:" + row.Indicator
			} else if row.Skill != "" {
				row.Of = "skill:" + row.Skill
			}
		}
		page.Criteria = append(page.Criteria, row)
	}
	for i := range len(m.Places) + spare {
		row := placeRow{N: i}
		if i < len(m.Places) {
			row.Place = m.Places[i]
			if row.For = "group:" + string(row.Group); row.Position != "" {
				row.For = "position:" + string(row.Position)
			}
		}
		page.Places = append(page.Places, row)
	}
	return nil
}

// readCandidates reads the candidates, and returns the names of players.
func (page *meetingPage) readCandidates(tx *store.Tx) (map[int64]string, error) {
	m := &page.Meeting
	everybody, err := tx.Players(models.PlayerFilter{SeasonID: m.SeasonID})
	if err != nil {
		return nil, err
	}
	names := map[int64]string{}
	for _, one := range everybody {
		names[one.ID] = one.Name
	}
	members, err := tx.Players(models.PlayerFilter{SeasonID: m.SeasonID, SquadID: m.SquadID})
	if err != nil {
		return nil, err
	}
	page.Players = members
	for _, one := range everybody {
		if !slices.ContainsFunc(members, func(p models.Player) bool { return p.ID == one.ID }) {
			page.Elsewhere = append(page.Elsewhere, one)
		}
	}
	for i, c := range m.Candidates {
		if names[c.PlayerID] == "" {
			names[c.PlayerID] = fmt.Sprintf("Player %d", c.PlayerID)
			if one, err := tx.Player(c.PlayerID); err == nil {
				names[c.PlayerID] = one.Name
			} else if models.CodeOf(err) != models.NotFound {
				return nil, err
			}
		}
		row := candidateRow{Candidate: c, Name: names[c.PlayerID], Decided: decisionSaid(c.Decision), Key: "decision-" +
			strconv.Itoa(i)}
		for k, criterion := range m.Criteria {
			if criterion.InWords() {
				row.Marks = append(row.Marks, markRow{k, criterion.Label, c.Marks[criterion.Label]})
			}
		}
		page.Candidates = append(page.Candidates, row)
	}
	return names, nil
}

// readWords reads recommendations, corrections and feedback.
func (page *meetingPage) readWords(tx *store.Tx, players map[int64]string) error {
	staff, err := tx.UserNames()
	if err != nil {
		return err
	}
	notes, err := tx.Recommendations(models.RecommendationFilter{MeetingID: page.Meeting.ID})
	if err != nil {
		return err
	}
	for _, n := range notes {
		page.Recommendations = append(page.Recommendations, recommendationRow{n, players[n.PlayerID], staff[n.AuthorID],
			n.View.Words()})
	}
	corrections, err := tx.Corrections(models.CorrectionFilter{MeetingID: page.Meeting.ID})
	if err != nil {
		return err
	}
	for _, one := range corrections {
		row := correctionRow{Correction: one, By: staff[one.AuthorID], On: dayOf(tx.Who().Local(one.CreatedAt))}
		if one.PlayerID != nil {
			row.Player = players[*one.PlayerID]
		}
		page.Corrections = append(page.Corrections, row)
	}
	told, err := tx.Feedbacks(models.FeedbackFilter{MeetingID: page.Meeting.ID})
	for _, b := range told {
		row := feedbackRow{Feedback: b, Player: players[b.PlayerID], Key: fmt.Sprintf("feedback-%d", b.ID)}
		if b.ToldBy != nil {
			row.By = staff[*b.ToldBy]
		}
		page.Feedback = append(page.Feedback, row)
	}
	return err
}

// onMeeting answers a form that changes the record of a meeting.
func (p *Pages) onMeeting(name string, edit func(*store.Tx, *models.Meeting, *fields) error) gin.HandlerFunc {
	return p.sent(name, p.meetingWith, func(c *gin.Context, who models.Who, f *fields) (string, error) {
		n, err := id(c, "meeting")
		if err != nil {
			return "", err
		}
		err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
			m, err := tx.Meeting(n)
			if err != nil {
				return err
			}
			if who.Reach(models.Write, models.AreaMeetings) == models.ReachNone {
				return models.Errorf(models.Forbidden, "a %s may not change meeting records", who.Role)
			}
			m.Version = f.version()
			if err := edit(tx, &m, f); err != nil {
				return err
			}
			if err := placeFaults(tx, m, f); err != nil {
				return err
			}
			if err := f.err(); err != nil {
				return err
			}
			return tx.UpdateMeeting(&m)
		})
		return meetingAddress(n), err
	})
}

// meetingControls are the controls of what a meeting's record lists, by list and field.
var meetingControls = map[string]string{"criteria.label": "label", "criteria.words": "words",
	"criteria.weight":    "weight",
	"criteria.indicator": "of", "criteria.skill": "of", "places.name": "place", "places.wanted": "wanted",
	"places.position": "for", "places.group": "for", "candidates.player_id": "player", "candidates.place": "place",
	"candidates.decision": "decision", "candidates.reason": "reason", "candidates.dissent": "dissent"}

// placeFaults says where the form has what may be wrong with a meeting. A candidate whom the form is not about is
// named.
func placeFaults(tx *store.Tx, m models.Meeting, f *fields) error {
	var ids []int64
	for _, c := range m.Candidates {
		ids = append(ids, c.PlayerID)
	}
	players, err := tx.Players(models.PlayerFilter{IDs: ids})
	if err != nil {
		return err
	}
	names := map[int64]string{}
	for _, p := range players {
		names[p.ID] = p.Name
	}
	f.places = func(where string) (control, as string) {
		member, field, _ := strings.Cut(where, ".")
		list, number, _ := strings.Cut(strings.TrimSuffix(member, "]"), "[")
		end, onForm := f.ends[member]
		n, err := strconv.Atoi(number)
		switch {
		case list == "present":
			return "present", ""
		case onForm && meetingControls[list+"."+field] != "":
			return meetingControls[list+"."+field] + end, ""
		case list == "candidates" && err == nil && n < len(m.Candidates):
			return "", cmp.Or(names[m.Candidates[n].PlayerID], "A candidate") + ", " + strings.ReplaceAll(field, "_", " ")
		}
		return "", ""
	}
	return nil
}

// editAbout takes the day, the purpose and who was there.
func editAbout(tx *store.Tx, m *models.Meeting, f *fields) error {
	m.Date, m.Purpose = f.day("date"), f.text("purpose")
	staff, err := tx.UserNames()
	if err != nil {
		return err
	}
	was := m.Present
	m.Present = nil
	for line := range strings.Lines(f.text("present")) {
		name := strings.TrimSpace(line)
		if name == "" {
			continue
		}
		a := models.Attendee{Name: name}
		for id, known := range staff {
			if known == name {
				a.UserID = &id
			}
		}
		for _, before := range was {
			if before.Name == name {
				a = before
			}
		}
		m.Present = append(m.Present, a)
	}
	return nil
}

// editCriteria takes the criteria of a draft.
func editCriteria(_ *store.Tx, m *models.Meeting, f *fields) error {
	m.Criteria = nil
	for i := range 30 {
		at := "-" + strconv.Itoa(i)
		label := f.text("label" + at)
		if label == "" {
			continue
		}
		c := models.Criterion{Label: label, Words: f.text("words" + at)}
		kind, code, _ := strings.Cut(f.text("of"+at), ":")
		switch kind {
		case "indicator":
			c.Indicator = code
		case "skill":
			c.Skill = code
		}
		c.Weight = f.amount("weight" + at)
		f.end("criteria", len(m.Criteria), at)
		m.Criteria = append(m.Criteria, c)
	}
	return nil
}

// amount reads a number, such as 1.5.
func (f *fields) amount(name string) float64 {
	x, _ := f.decimal(name, "such as 1.5")
	return x
}

// editPlaces takes the places of a draft.
func editPlaces(_ *store.Tx, m *models.Meeting, f *fields) error {
	m.Places = nil
	for i := range 30 {
		at := "-" + strconv.Itoa(i)
		name := f.text("place" + at)
		if name == "" {
			continue
		}
		p := models.Place{Name: name, Wanted: int(f.amount("wanted" + at))}
		kind, code, _ := strings.Cut(f.text("for"+at), ":")
		if kind == "position" {
			p.Position = models.Position(code)
		} else {
			p.Group = models.Group(code)
		}
		f.end("places", len(m.Places), at)
		m.Places = append(m.Places, p)
	}
	return nil
}

// addCandidate takes one more candidate.
func addCandidate(_ *store.Tx, m *models.Meeting, f *fields) error {
	if player := f.idIfAny("player"); player != nil {
		f.end("candidates", len(m.Candidates), "")
		m.Candidates = append(m.Candidates, models.Candidate{PlayerID: *player, Place: f.text("place")})
		return nil
	}
	f.refuse("player", "choose one from the list")
	return nil
}

// removeCandidate takes a candidate out.
func removeCandidate(_ *store.Tx, m *models.Meeting, f *fields) error {
	player := f.idIfAny("player")
	m.Candidates = slices.DeleteFunc(m.Candidates, func(c models.Candidate) bool {
		return player != nil && c.PlayerID == *player && c.Place == f.text("place")
	})
	return nil
}

// takeStep moves the meeting to its next status.
func takeStep(_ *store.Tx, m *models.Meeting, f *fields) error {
	m.Status = models.MeetingStatus(f.text("to"))
	return nil
}

// decide takes the decision on one candidate.
func decide(_ *store.Tx, m *models.Meeting, f *fields) error {
	player := f.idIfAny("player")
	for i := range m.Candidates {
		c := &m.Candidates[i]
		if player == nil || c.PlayerID != *player || c.Place != f.text("place") {
			continue
		}
		f.end("candidates", i, "")
		c.Decision, c.Reason = models.Decision(f.text("decision")), f.text("reason")
		c.Dissent, c.Insist = f.text("dissent"), f.checked("insist")
		c.Marks = nil
		for k, criterion := range m.Criteria {
			name := "mark-" + strconv.Itoa(k)
			if criterion.InWords() && f.text(name) != "" {
				if c.Marks == nil {
					c.Marks = map[string]int{}
				}
				c.Marks[criterion.Label] = int(f.amount(name))
			}
		}
		return nil
	}
	f.refuse("player", "choose one of the candidates")
	return nil
}

// onWords answers a form about what stands beside the record of a meeting.
func (p *Pages) onWords(name string, write func(tx *store.Tx, meeting int64, f *fields) error) gin.HandlerFunc {
	return p.sent(name, p.meetingWith, func(c *gin.Context, who models.Who, f *fields) (string, error) {
		n, err := id(c, "meeting")
		if err != nil {
			return "", err
		}
		err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
			if err := write(tx, n, f); err != nil {
				return err
			}
			return f.err()
		})
		return meetingAddress(n) + "#" + name, err
	})
}

func recommend(tx *store.Tx, meeting int64, f *fields) error {
	f.called(map[string]string{"player_id": "player"})
	r := models.Recommendation{MeetingID: meeting, View: models.Recommendable(f.text("view")), Text: f.text("text")}
	if player := f.idIfAny("player"); player != nil {
		r.PlayerID = *player
	}
	return tx.CreateRecommendation(&r)
}

func correct(tx *store.Tx, meeting int64, f *fields) error {
	f.called(map[string]string{"player_id": "player"})
	return tx.AddCorrection(&models.Correction{MeetingID: meeting, PlayerID: f.idIfAny("player"), Text: f.text("text"),
		Why: f.text("why")})
}

// tell takes the words to a player, when they were told in person, and the release.
func tell(tx *store.Tx, _ int64, f *fields) error {
	of := f.idIfAny("feedback")
	if of == nil {
		f.refuse("feedback", "choose one from the list")
		return f.err()
	}
	b, err := tx.Feedback(*of)
	if err != nil {
		return err
	}
	b.Version, b.Text, b.ToldOn, b.Released = f.version(), f.text("text"), f.dayIfAny("told_on"), f.checked("release")
	return tx.UpdateFeedback(&b)
}

// registerMeetings adds the pages of meetings to a router.
func (p *Pages) registerMeetings(router *gin.Engine) {
	router.GET("/meetings", p.known(p.meetings))
	router.POST("/meetings", p.sent("meeting", p.meetingsWith, p.addMeeting))
	router.GET("/meetings/:meeting", p.known(p.meeting))
	for name, edit := range map[string]func(*store.Tx, *models.Meeting, *fields) error{
		"about": editAbout, "criteria": editCriteria, "places": editPlaces, "candidate": addCandidate,
		"remove": removeCandidate, "step": takeStep, "decision": decide,
	} {
		router.POST("/meetings/:meeting/"+name, p.onMeeting(name, edit))
	}
	for name, write := range map[string]func(*store.Tx, int64, *fields) error{
		"recommendation": recommend, "correction": correct, "feedback": tell,
	} {
		router.POST("/meetings/:meeting/"+name, p.onWords(name, write))
	}
}

// ownFeedback is what was released to a player about meetings' decisions, for their own screen.
func ownFeedback(tx *store.Tx, who models.Who) ([]models.Feedback, error) {
	if who.Role != models.RolePlayer {
		return nil, nil
	}
	return tx.Feedbacks(models.FeedbackFilter{PlayerID: who.PlayerID})
}
