package pages

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// sessionPage is one training session: what must be known before it, and a form for everyone who was there.
type sessionPage struct {
	Form     Form
	ID       string // of the session, as the names of its forms end
	Session  models.TrainingSession
	Squad    models.Squad
	Typed    sessionTyped
	Actions  []sessionAction // before contact, which have not been settled
	Warnings []string        // limits of minutes that are near
	Rows     []trainingRow
	Count    models.AttendanceCount
	Reasons  []models.AttendanceReasonInfo
	MayWrite bool
	Own      bool // the reader is a player
	Rest     bool // everyone without a mark was present, as the form was sent
}

// sessionAction is what a player needs before the next contact session.
type sessionAction struct{ Words, Player, Address string }

// trainingRow is a player at a session: what is on file, and what the form shows.
type trainingRow struct {
	N          int
	Player     models.Player
	Address    string
	Attendance *models.Attendance
	Remark     *models.TrainingObservation // the caller's own
	Others     []trainingRemark            // by others, or more than one of the caller's
	Down       bool                        // stood down on that day
	Spell      models.Availability         // of that day; empty for none
	About      []aboutGroup                // what an observation can be on

	Status, Minutes, Reason, Text, On, Readers string
	Without                                    bool
}

// aboutGroup are the skills or the goals that an observation can be on.
type aboutGroup struct {
	Label string
	All   []aboutChoice
}

// aboutChoice is one skill or goal.
type aboutChoice struct{ Value, Label string }

// trainingRemark is an observation as a person reads it.
type trainingRemark struct {
	Date            models.Date
	Text, By, About string
	Shared          bool
}

// Barred says that the player takes no part in the session's contact.
func (r trainingRow) barred(s models.TrainingSession) bool { return r.Down && s.Contact }

// Open says whether the details of a row are to be shown.
func (r trainingRow) Open() bool {
	return r.Minutes != "" || r.Reason != "" || r.Without
}

// statusWords are the ways to take part, as people read them.
var statusWords = map[models.AttendanceStatus]string{
	models.AttendedPresent: "present", models.AttendedModified: "modified", models.AttendedAbsent: "absent",
}

// InWords says how a player took part.
func (r trainingRow) InWords() string {
	if r.Attendance == nil {
		return "not recorded"
	}
	return attendanceInWords(*r.Attendance)
}

func attendanceInWords(a models.Attendance) string {
	words := statusWords[a.Status]
	if a.Minutes != nil {
		words += fmt.Sprintf(", %d minutes", *a.Minutes)
	}
	if a.WithoutContact {
		words += ", without contact"
	}
	for _, r := range models.AttendanceReasons() {
		if r.Code == a.Reason {
			words += ", " + lowerFirst(r.Label)
		}
	}
	return words
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

func (p *Pages) sessionWith(c *gin.Context, who models.Who, form Form) error {
	session, err := id(c, "id")
	if err != nil {
		return err
	}
	page := sessionPage{Form: form, ID: strconv.FormatInt(session, 10), Reasons: models.AttendanceReasons(),
		Own: who.Role == models.RolePlayer}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error { return page.read(tx, session) })
	if err != nil {
		return fmt.Errorf("page of training session %d: %w", session, err)
	}
	return p.render(c, form.status(), "training-session", "Training on "+day(page.Session.Date), page)
}

func (page *sessionPage) read(tx *store.Tx, session int64) (err error) {
	if page.Session, err = tx.TrainingSession(session); err != nil {
		return err
	}
	if page.Squad, err = tx.Squad(page.Session.SquadID); err != nil {
		return err
	}
	page.MayWrite = tx.MayTrain(page.Squad.ID) == nil
	page.Typed = typedOf(page.Session).or(page.Form, "session-"+page.ID)
	if page.Rows, err = readRows(tx, page.Session); err != nil {
		return err
	}
	var there []models.Attendance
	for i := range page.Rows {
		r := &page.Rows[i]
		if r.Attendance != nil {
			there = append(there, *r.Attendance)
		}
		r.fill(page.Form, "marks-"+page.ID)
	}
	page.Count = models.CountAttendance(there)
	page.Rest = page.Form.Value("marks-"+page.ID, "rest") != ""
	if err := page.readActions(tx); err != nil {
		return err
	}
	return page.readWarnings(tx)
}

// partControls are the controls of a row, by the part of it that is wrong.
var partControls = map[string]string{"": "a", "status": "a", "minutes": "m", "reason": "r", "without_contact": "w",
	"text": "t", "skill": "o", "goal_id": "o", "shared": "s"}

// markPlaces says which control has a part of a player's row.
func markPlaces(where string) (control, as string) {
	player, part, _ := strings.Cut(strings.TrimPrefix(where, "player-"), ".")
	if partControls[part] == "" {
		part = ""
	}
	return partControls[part] + "-" + player, ""
}

func rowName(player int64) string { return "player-" + strconv.FormatInt(player, 10) }

// readActions reads what waits for players of the session before contact.
func (page *sessionPage) readActions(tx *store.Tx) error {
	if tx.Who().Reach(models.Read, models.AreaContact) == models.ReachNone {
		return nil
	}
	open, err := tx.ContactActions(models.ContactActionFilter{OpenOnly: true})
	for _, a := range open {
		for _, r := range page.Rows {
			if r.Player.ID == a.PlayerID {
				page.Actions = append(page.Actions, sessionAction{a.InWords(), r.Player.Name, r.Address + "#actions"})
			}
		}
	}
	return err
}

// readWarnings reads which players are near a limit of minutes on the day of the session.
func (page *sessionPage) readWarnings(tx *store.Tx) error {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	i := slices.IndexFunc(seasons, func(s models.Season) bool { return s.Has(page.Session.Date) })
	if i < 0 {
		return nil
	}
	ids := make([]int64, len(page.Rows))
	for n, r := range page.Rows {
		ids[n] = r.Player.ID
	}
	loads, err := tx.Loads(seasons[i].ID, page.Session.Date, ids)
	perhaps, limits := map[string][]string{}, []string{} // limits that several may be near
	for _, r := range page.Rows {
		for _, l := range loads[r.Player.ID] {
			switch l.WarningNow {
			case models.LoadWithin:
			case models.LoadUnknown:
				if !slices.Contains(limits, l.Name) {
					limits = append(limits, l.Name)
				}
				perhaps[l.Name] = append(perhaps[l.Name], r.Player.Name+" is "+l.WordsNow+".")
			default:
				page.Warnings = append(page.Warnings, r.Player.Name+" is "+l.WordsNow+".")
			}
		}
	}
	for _, name := range limits {
		said := perhaps[name]
		if len(said) > perhapsNamed {
			said = []string{fmt.Sprintf("%d players are perhaps near the limit “%s”: not all of their minutes were "+
				"recorded.", len(said), name)}
		}
		page.Warnings = append(page.Warnings, said...)
	}
	return err
}

// perhapsNamed is how many players who are perhaps near a limit are named.
const perhapsNamed = 3

// readRows reads the players of the squad on the session's day, and everyone else who is recorded at it.
func readRows(tx *store.Tx, s models.TrainingSession) ([]trainingRow, error) {
	members, err := tx.Players(models.PlayerFilter{SquadID: s.SquadID, On: &s.Date})
	if err != nil {
		return nil, err
	}
	there, err := tx.Attendances(models.AttendanceFilter{SessionID: s.ID})
	if err != nil {
		return nil, err
	}
	var guests []int64
	for _, a := range there {
		if !slices.ContainsFunc(members, func(p models.Player) bool { return p.ID == a.PlayerID }) {
			guests = append(guests, a.PlayerID)
		}
	}
	if len(guests) > 0 {
		more, err := tx.Players(models.PlayerFilter{IDs: guests})
		if err != nil {
			return nil, err
		}
		members = append(members, more...)
	}
	rows := make([]trainingRow, len(members))
	for i, p := range members {
		rows[i] = trainingRow{N: i + 1, Player: p, Address: playerAddress(p.ID)}
		if at := slices.IndexFunc(there, func(a models.Attendance) bool { return a.PlayerID == p.ID }); at >= 0 {
			rows[i].Attendance = &there[at]
		}
	}
	if err := readRemarks(tx, s, rows); err != nil {
		return nil, err
	}
	if err := readAbsence(tx, s, rows); err != nil {
		return nil, err
	}
	return rows, readAbout(tx, rows)
}

// readRemarks puts the observations of a session into its rows.
func readRemarks(tx *store.Tx, s models.TrainingSession, rows []trainingRow) error {
	all, err := tx.TrainingObservations(models.TrainingObservationFilter{SessionID: s.ID})
	if err != nil {
		return err
	}
	views, err := viewRemarks(tx, all)
	for n := range all {
		i := slices.IndexFunc(rows, func(r trainingRow) bool { return r.Player.ID == all[n].PlayerID })
		switch {
		case i < 0:
		case all[n].CoachID == tx.Who().UserID && rows[i].Remark == nil:
			rows[i].Remark = &all[n]
		default:
			rows[i].Others = append(rows[i].Others, views[n])
		}
	}
	return err
}

// viewRemarks names what observations are on, and who made them.
func viewRemarks(tx *store.Tx, all []models.TrainingObservation) ([]trainingRemark, error) {
	staff, err := tx.UserNames()
	if err != nil {
		return nil, err
	}
	labels, err := tx.Labels()
	if err != nil {
		return nil, err
	}
	groups, err := groupsOf(tx)
	if err != nil {
		return nil, err
	}
	goals, err := openGoals(tx, false)
	views := make([]trainingRemark, len(all))
	for n, o := range all {
		views[n] = trainingRemark{Date: o.Date, Text: o.Text, By: staff[o.CoachID], Shared: o.Shared}
		if o.Skill != "" {
			views[n].About = labels.Of("", o.Skill, groups[o.PlayerID])
		}
		for _, g := range goals[o.PlayerID] {
			if o.GoalID != nil && g.Value == "goal-"+strconv.FormatInt(*o.GoalID, 10) {
				views[n].About = "goal: " + g.Label
			}
		}
	}
	return views, err
}

// readAbsence puts stand-downs and spells of availability on the session's day into its rows.
func readAbsence(tx *store.Tx, s models.TrainingSession, rows []trainingRow) error {
	downs, err := tx.StandDowns(models.StandDownFilter{})
	if err != nil {
		return err
	}
	spells, err := tx.Spells(models.SpellFilter{})
	for i := range rows {
		player := rows[i].Player.ID
		rows[i].Down = slices.ContainsFunc(downs, func(d models.StandDown) bool {
			return d.PlayerID == player && d.Open(s.Date)
		})
		for _, spell := range spells {
			if spell.PlayerID == player && spell.From <= s.Date && (spell.Until == nil || *spell.Until >= s.Date) &&
				spell.Status != models.Available {
				rows[i].Spell = spell.Status
			}
		}
	}
	return err
}

// readAbout puts what an observation can be on into rows: the skills of the player's position, and open goals.
func readAbout(tx *store.Tx, rows []trainingRow) error {
	skills, err := tx.Skills()
	if err != nil {
		return err
	}
	labels, err := tx.Labels()
	if err != nil {
		return err
	}
	goals, err := openGoals(tx, true)
	for i := range rows {
		r := &rows[i]
		of := aboutGroup{Label: "Skills"}
		for _, s := range skills {
			if len(s.Groups) == 0 || slices.Contains(s.Groups, r.Player.Group()) ||
				r.Remark != nil && r.Remark.Skill == s.Code {
				of.All = append(of.All, aboutChoice{"skill-" + s.Code,
					labels.Of("", s.Code, r.Player.Group())})
			}
		}
		r.About = []aboutGroup{of}
		if own := goals[r.Player.ID]; len(own) > 0 {
			r.About = append([]aboutGroup{{"Open goals", own}}, of)
		}
	}
	return err
}

// openGoals returns the goals of players with their labels, by player; with open, those that are not closed.
func openGoals(tx *store.Tx, open bool) (map[int64][]aboutChoice, error) {
	all, err := tx.Goals(models.GoalFilter{})
	if err != nil {
		return nil, err
	}
	labels, err := tx.Labels()
	if err != nil {
		return nil, err
	}
	groups, err := groupsOf(tx)
	of := map[int64][]aboutChoice{}
	for _, g := range all {
		if !open || g.ClosedOn == nil {
			of[g.PlayerID] = append(of[g.PlayerID], aboutChoice{"goal-" + strconv.FormatInt(g.ID, 10),
				labels.Of(g.Indicator, g.Skill, groups[g.PlayerID])})
		}
	}
	return of, err
}

// groupsOf are the position groups of the players whom the caller may read.
func groupsOf(tx *store.Tx) (map[int64]models.Group, error) {
	all, err := tx.Players(models.PlayerFilter{})
	groups := map[int64]models.Group{}
	for _, p := range all {
		groups[p.ID] = p.Group()
	}
	return groups, err
}

// fill is what the form shows of a row: what was sent, or else what is on file.
func (r *trainingRow) fill(form Form, name string) {
	if form.Name == name {
		v := func(field string) string { return form.Value(name, field+"-"+strconv.FormatInt(r.Player.ID, 10)) }
		r.Status, r.Minutes, r.Reason, r.Text, r.On, r.Readers = v("a"), v("m"), v("r"), v("t"), v("o"), v("s")
		r.Without = v("w") != ""
		return
	}
	if a := r.Attendance; a != nil {
		r.Status, r.Reason, r.Without = string(a.Status), string(a.Reason), a.WithoutContact
		if a.Minutes != nil {
			r.Minutes = strconv.Itoa(*a.Minutes)
		}
	}
	if o := r.Remark; o != nil {
		r.Text, r.On = o.Text, aboutOf(*o)
		if o.Shared {
			r.Readers = "player"
		}
	}
}

// aboutOf is what an observation is on, as the form names it.
func aboutOf(o models.TrainingObservation) string {
	switch {
	case o.GoalID != nil:
		return "goal-" + strconv.FormatInt(*o.GoalID, 10)
	case o.Skill != "":
		return "skill-" + o.Skill
	}
	return ""
}

// markSession is POST /training-sessions/:id/marks: attendance and observations of everyone, all or none.
func (p *Pages) markSession(c *gin.Context, who models.Who, f *fields) (string, error) {
	session, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return sessionAddress(session) + "#marks", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		s, err := tx.TrainingSession(session)
		if err != nil {
			return err
		}
		if err := tx.MayTrain(s.SquadID); err != nil {
			return err
		}
		if s.Version != f.version() {
			return models.Errorf(models.Stale, "The session was changed after you opened this page: it is now %s on %s, %d "+
				"minutes. What you typed is still in the form: check it, then save it again.", s.Purpose, day(s.Date), s.Minutes)
		}
		rows, err := readRows(tx, s)
		if err != nil {
			return err
		}
		f.places = markPlaces
		m := marking{tx: tx, session: s, f: f}
		if err := m.attendance(rows); err != nil {
			return err
		}
		for _, r := range rows {
			if err := m.add(r, m.remark(r)); err != nil {
				return err
			}
		}
		return m.faults.Err("the form is not valid")
	})
}

// marking is a whole session that is being saved.
type marking struct {
	tx      *store.Tx
	session models.TrainingSession
	f       *fields
	faults  models.Faults
}

// add notes what is wrong with a row. It returns errors of another kind.
func (m *marking) add(r trainingRow, err error) error {
	if e, ok := errors.AsType[*models.Error](err); ok {
		for i := range e.Fields {
			e.Fields[i].Message = strings.TrimPrefix(e.Fields[i].Message, r.Player.Name+": ")
		}
	}
	return m.faults.Add(rowName(r.Player.ID), err)
}

// value is what was sent in a field of a row.
func (m *marking) value(field string, r trainingRow) string {
	return m.f.text(field + "-" + strconv.FormatInt(r.Player.ID, 10))
}

// attendance records who was there. A row without a mark stays as it is on file, unless its mark was taken away.
func (m *marking) attendance(rows []trainingRow) error {
	var marked []trainingRow
	var all []*models.Attendance
	for _, r := range rows {
		status := models.AttendanceStatus(m.value("a", r))
		read, _ := strconv.ParseInt(m.value("v", r), 10, 64) // of what the form was made from; 0 for nothing
		if status == "" && read == 0 && m.f.checked("rest") && !r.barred(m.session) && r.Spell != models.Unavailable {
			status = models.AttendedPresent
		}
		if status == "" {
			if r.Attendance != nil && read != 0 {
				if err := m.add(r, m.tx.DeleteAttendance(r.Attendance.ID, read)); err != nil {
					return err
				}
			}
			continue
		}
		a := &models.Attendance{Record: models.Record{Version: read}, PlayerID: r.Player.ID, Status: status,
			Reason: models.AttendanceReason(m.value("r", r)), WithoutContact: m.value("w", r) != ""}
		if text := m.value("m", r); text != "" {
			minutes, err := strconv.Atoi(text)
			if err != nil {
				err = &models.Error{Code: models.Invalid, Fields: []models.FieldError{{Where: "minutes",
					Message: "write a whole number, such as 40"}}}
				if err := m.add(r, err); err != nil {
					return err
				}
				continue
			}
			a.Minutes = &minutes
		}
		marked, all = append(marked, r), append(all, a)
	}
	refused, err := m.tx.RecordAttendance(m.session.ID, all)
	if err != nil {
		return err
	}
	for n, err := range refused {
		if err := m.add(marked[n], err); err != nil {
			return err
		}
	}
	return nil
}

// remark saves the caller's observation of a player: a new one, a change, or none any more.
func (m *marking) remark(r trainingRow) error {
	text, on := m.value("t", r), m.value("o", r)
	read, _ := strconv.ParseInt(m.value("ov", r), 10, 64) // 0 for none
	o := models.TrainingObservation{PlayerID: r.Player.ID, Date: m.session.Date, SessionID: &m.session.ID, Text: text,
		Shared: m.value("s", r) == "player"}
	if goal, is := strings.CutPrefix(on, "goal-"); is {
		id, err := strconv.ParseInt(goal, 10, 64)
		if err != nil {
			return fieldWrong("goal_id", "choose a goal from the list")
		}
		o.GoalID = &id
	}
	o.Skill, _ = strings.CutPrefix(on, "skill-")
	if o.GoalID != nil {
		o.Skill = ""
	}
	switch was := r.Remark; {
	case text == "" && (on != "" && read == 0):
		return fieldWrong("text", "is missing; write it, or choose “no skill or goal”")
	case text == "" && was != nil && read != 0:
		return m.tx.DeleteTrainingObservation(was.ID, read)
	case text == "":
		return nil
	case was == nil && read == 0:
		return m.tx.CreateTrainingObservation(&o)
	case was == nil:
		return staleRemark("your observation was deleted in the meantime; send it again to write it anew")
	case was.Text == o.Text && was.Shared == o.Shared && aboutOf(*was) == aboutOf(o):
		return nil // sent a second time
	case read == 0:
		return staleRemark("you already wrote “" + was.Text + "” about the player; send yours again to replace it")
	}
	o.ID, o.Version, o.CoachID = r.Remark.ID, read, r.Remark.CoachID
	return m.tx.UpdateTrainingObservation(&o)
}

func fieldWrong(where, message string) error {
	return &models.Error{Code: models.Invalid, Fields: []models.FieldError{{Where: where, Message: message}}}
}

func staleRemark(message string) error {
	return &models.Error{Code: models.Stale, Fields: []models.FieldError{{Where: "text", Message: message}}}
}
