package store

import (
	"slices"

	"throughline/models"
)

// When the comparison of a meeting is opened, the evidence on each candidate is copied as it is then, and on a
// candidate who is added later as it is when they are added. The copy is made here, from trends and draws that were
// kept; what a reader sees of it is decided when it is read.
//
// A row is about one candidate, so it is erased with them. What others have a part in, the mean and the spread of the
// group, is in it as a number. A second copy for selectors stands on the trends without the players hidden from them.

// evidenceOf is the squad's season whose trends a meeting's evidence is taken from. It is a Conflict while they are
// being made again.
func (tx *Tx) evidenceOf(m *models.Meeting) (models.SquadSeason, error) {
	of, err := tx.recorded(squadSeason{m.SeasonID, m.SquadID})
	if err != nil || of.Revision == 0 {
		return of, err
	}
	late := of.Fitted != of.Revision
	if !late {
		fitted, err := tx.fittedPlayers(squadSeason{m.SeasonID, m.SquadID})
		if err != nil {
			return of, err
		}
		hidden, err := tx.hiddenFromSelectors(fitted)
		if err != nil {
			return of, err
		}
		selectors, err := tx.selectors()
		if err != nil {
			return of, err
		}
		late = selectors && len(hidden) > 0 && !of.LeavesOut(hidden)
	}
	if late {
		return of, models.Errorf(models.Conflict, "the squad’s trends are being made again after a change: wait a minute, "+
			"then open the comparison. An operator makes them at once with “throughline trends”")
	}
	return of, nil
}

// selectors says whether the academy has any.
func (tx *Tx) selectors() (bool, error) {
	n, err := tx.count("find selectors", "SELECT count(*) FROM users WHERE academy_id = ? AND role = ? "+
		"AND deleted_at IS NULL", tx.who.AcademyID, models.RoleSelector)
	return n > 0, err
}

// freeze keeps the evidence on the candidates of a meeting whose comparison is open and on whom none is kept yet.
func (tx *Tx) freeze(old, m *models.Meeting) error {
	opening := old != nil && old.Comparable() != nil
	if old == nil || m.Comparable() != nil {
		return nil
	}
	all, err := rows[models.Candidate](tx, "find candidates without evidence", `SELECT c.* FROM candidates AS c
		WHERE c.academy_id = ? AND c.meeting_id = ? AND NOT EXISTS (SELECT 1 FROM candidate_evidence AS e
		WHERE e.academy_id = c.academy_id AND e.meeting_id = c.meeting_id AND e.player_id = c.player_id
		AND e.place = c.place) ORDER BY c.id`, tx.who.AcademyID, m.ID)
	if err != nil || len(all) == 0 || !opening && m.OpenedAt == nil {
		return err
	}
	of, err := tx.recorded(squadSeason{m.SeasonID, m.SquadID})
	if err != nil {
		return err
	}
	c := copying{tx: tx, of: of, kept: map[string][]models.TrendDraws{}, trends: map[subjectOf]models.Trend{},
		elsewhere: map[subjectOf]models.Trend{}, squads: map[int64]models.Squad{}, people: map[int64]models.Player{},
		lower: map[string]bool{}, byPosition: map[string]bool{}}
	if err := c.read(m, all); err != nil {
		return err
	}
	evidence := make([]models.CandidateEvidence, len(all))
	for i, one := range all {
		place := m.Places[slices.IndexFunc(m.Places, func(p models.Place) bool { return p.Name == one.Place })]
		e := models.CandidateEvidence{AcademyID: tx.who.AcademyID, MeetingID: m.ID, PlayerID: one.PlayerID,
			Place: one.Place, FrozenAt: tx.now, Late: !opening, Revision: of.Fitted, LeftOut: of.LeftOut}
		for _, k := range m.Criteria {
			e.Lines = append(e.Lines, c.line(k, place, one.PlayerID, false))
			if of.LeftOut != "" {
				e.SelectorsLines = append(e.SelectorsLines, c.line(k, place, one.PlayerID, true))
			}
		}
		if e.Warnings, err = tx.warnings(m, place, c.people[one.PlayerID]); err != nil {
			return err
		}
		evidence[i] = e
	}
	return tx.done("keep evidence", tx.query().Create(&evidence).Error)
}

// copying is what the evidence on candidates is copied from.
type copying struct {
	tx         *Tx
	of         models.SquadSeason
	kept       map[string][]models.TrendDraws // by the code of an indicator or a skill, of all players
	trends     map[subjectOf]models.Trend     // of the candidates
	elsewhere  map[subjectOf]models.Trend     // likewise, in the season of another squad
	squads     map[int64]models.Squad
	people     map[int64]models.Player
	lower      map[string]bool // indicators where less is better
	byPosition map[string]bool // indicators that mean something else in each position
	groups     map[grouped]*models.GroupLevels
}

// subjectOf is a player and the code of an indicator or a skill.
type subjectOf struct {
	player int64
	code   string
}

// grouped is a group's levels of a code, for a place.
type grouped struct {
	code, place, ring string
	selectors         bool
}

func (c *copying) read(m *models.Meeting, all []models.Candidate) error {
	c.groups = map[grouped]*models.GroupLevels{}
	indicators, err := c.tx.Indicators()
	if err != nil {
		return err
	}
	for _, in := range indicators {
		c.lower[in.Code], c.byPosition[in.Code] = in.Better == models.Lower, in.ByPosition
	}
	var candidates []int64
	for _, one := range all {
		candidates = append(candidates, one.PlayerID)
	}
	ids := slices.Clone(candidates)
	for _, k := range m.Criteria {
		if k.InWords() {
			continue
		}
		var found []models.TrendDraws
		err := c.tx.query().Where("academy_id = ? AND season_id = ? AND squad_id = ? AND indicator = ? AND skill = ?",
			c.tx.who.AcademyID, m.SeasonID, m.SquadID, k.Indicator, k.Skill).Order("player_id").Find(&found).Error
		if err := c.tx.done("read draws", err); err != nil {
			return err
		}
		c.kept[k.Indicator+k.Skill] = found
		for _, d := range found {
			ids = append(ids, d.PlayerID)
		}
	}
	slices.Sort(ids)
	for some := range slices.Chunk(slices.Compact(ids), idsAtOnce) {
		var people []models.Player // those who left or were erased have their part in the group
		err := c.tx.query().Where("academy_id = ? AND id IN ?", c.tx.who.AcademyID, some).Find(&people).Error
		if err := c.tx.done("read players of a comparison", err); err != nil {
			return err
		}
		for _, p := range people {
			c.people[p.ID] = p
		}
	}
	for some := range slices.Chunk(candidates, idsAtOnce) {
		var trends []models.Trend
		err := c.tx.query().Where("academy_id = ? AND season_id = ? AND player_id IN ?",
			c.tx.who.AcademyID, m.SeasonID, some).Order("squad_id").Find(&trends).Error
		if err := c.tx.done("read trends of candidates", err); err != nil {
			return err
		}
		for _, t := range trends {
			c.keep(m, t)
		}
	}
	squads, err := squads().find(c.tx, where{})
	for _, s := range squads {
		c.squads[s.ID] = s
	}
	return err
}

// keep takes a candidate's trend: that of the meeting's squad, and of the others that with most matches.
func (c *copying) keep(m *models.Meeting, t models.Trend) {
	of := subjectOf{t.PlayerID, t.Indicator + t.Skill}
	if t.SquadID == m.SquadID {
		c.trends[of] = t
		return
	}
	if best, known := c.elsewhere[of]; !known || t.Figures.Matches > best.Figures.Matches {
		c.elsewhere[of] = t
	}
}

// elsewhereLine fills in the figures of a candidate who has none in the meeting's squad from the season of another
// one. They are from another fit, against other opponents, so nothing is compared with them.
func (c *copying) elsewhereLine(l *models.EvidenceLine, of subjectOf) {
	t, known := c.elsewhere[of]
	if !known || t.Figures.Now == nil {
		l.Missing = "nothing is recorded this season"
		return
	}
	l.SquadID, l.Squad = t.SquadID, c.squads[t.SquadID].Name
	l.Level, l.Matches, l.Minutes = t.Figures.Now, t.Figures.Matches, t.Figures.Minutes
	l.Verdict, l.Method = t.Figures.Verdict, t.Figures.LevelMethod()
	l.Missing = "from the season of " + l.Squad + ", so it is not compared with this squad’s figures"
}

// line is the evidence on a player for a criterion, among those who may be held beside them for the place.
func (c *copying) line(k models.Criterion, place models.Place, player int64, selectors bool) models.EvidenceLine {
	l := models.EvidenceLine{Label: k.Label, Indicator: k.Indicator, Skill: k.Skill, Weight: k.Weight}
	code := k.Indicator + k.Skill
	if k.InWords() {
		return l
	}
	t, known := c.trends[subjectOf{player, code}]
	figures := &t.Figures
	if selectors {
		figures = t.ForSelectors
	}
	if !known || figures == nil || figures.Now == nil {
		c.elsewhereLine(&l, subjectOf{player, code})
		return l
	}
	l.Level, l.Matches, l.Minutes = figures.Now, figures.Matches, figures.Minutes
	l.Verdict, l.Method = figures.Verdict, figures.LevelMethod()
	own := c.drawsOf(code, player, selectors)
	g, label := c.group(k, place, selectors)
	if g == nil || own == nil {
		l.Missing = "too few players of the squad have data to compare with"
		return l
	}
	l.Against, l.Players, l.Mean, l.SD = label, g.Players, g.Mean, g.SD
	l.Standard = g.Standard(own, c.lower[k.Indicator]).Pack()
	return l
}

func (c *copying) drawsOf(code string, player int64, selectors bool) models.Draws {
	for i := range c.kept[code] {
		if d := &c.kept[code][i]; d.PlayerID == player {
			return drawsFor(d, selectors)
		}
	}
	return nil
}

func drawsFor(d *models.TrendDraws, selectors bool) models.Draws {
	if selectors {
		return models.UnpackDraws(d.SelectorsDraws)
	}
	return models.UnpackDraws(d.Draws)
}

// group are the levels of the narrowest group of a place with enough players, and what it is called.
func (c *copying) group(k models.Criterion, place models.Place, selectors bool) (*models.GroupLevels, string) {
	code := k.Indicator + k.Skill
	for _, ring := range place.Rings(c.byPosition[k.Indicator]) {
		key := grouped{code, place.Name, ring.Label, selectors}
		g, made := c.groups[key]
		if !made {
			var members []models.Draws
			for i := range c.kept[code] {
				d := &c.kept[code][i]
				if own := drawsFor(d, selectors); own != nil && ring.Has(c.people[d.PlayerID]) {
					members = append(members, own)
				}
			}
			g = models.LevelsOf(members)
			c.groups[key] = g
		}
		if g != nil {
			return g, ring.Label
		}
	}
	return nil, ""
}

// CandidateEvidence returns the evidence on the candidates of a meeting as it was kept, by player and place: of those
// whose figures the caller may read today. It is a Conflict, with what to do, before the comparison is opened.
//
// A selector from whom players are hidden reads the copy without them, or no figures. Figures of a skill stand on the
// grades that counted then, which are hidden from no reader.
func (tx *Tx) CandidateEvidence(meeting int64) ([]models.CandidateEvidence, error) {
	m, err := tx.Meeting(meeting)
	if err != nil {
		return nil, err
	}
	if err := m.Comparable(); err != nil {
		return nil, err
	}
	w := that("candidate_evidence.academy_id = ? AND candidate_evidence.meeting_id = ?", tx.who.AcademyID, meeting)
	if tx.who.Reach(models.Read, models.AreaPerformance) != models.ReachAcademy {
		shown, err := tx.shown("candidate_evidence.player_id")
		if err != nil {
			return nil, err
		}
		w = and(w, shown, memberEver(tx.who, "candidate_evidence.player_id"))
	}
	all := []models.CandidateEvidence{}
	err = tx.query().Where(w.sql, w.args...).Order("player_id, place").Find(&all).Error
	if err := tx.done("read evidence", err); err != nil {
		return nil, err
	}
	for _, e := range all {
		tx.saw("evidence of a meeting", e.PlayerID)
	}
	return all, tx.narrowEvidence(&m, all)
}

// narrowEvidence takes out what the caller does not read.
func (tx *Tx) narrowEvidence(m *models.Meeting, all []models.CandidateEvidence) error {
	of := squadSeason{m.SeasonID, m.SquadID}
	var hidden map[int64]bool
	others := map[int64]bool{}
	if tx.who.Role == models.RoleSelector {
		fitted, err := tx.fittedPlayers(of)
		if err != nil {
			return err
		}
		if hidden, err = tx.hiddenAmong(fitted); err != nil {
			return err
		}
	}
	for i := range all {
		e := &all[i]
		if e.SelectorsLines != nil && tx.who.Role != models.RoleSelector {
			e.OtherReaders = models.SelectorsEvidence
		}
		if len(hidden) > 0 {
			e.OtherReaders = models.OtherLevels(false, true)
			then := models.SquadSeason{LeftOut: e.LeftOut}
			if e.Lines = e.SelectorsLines; !then.LeavesOut(hidden) || e.Lines == nil {
				e.Lines, e.Withheld = nil, "the figures were made together with players who are not shown to you"
			}
		}
		e.SelectorsLines, e.LeftOut = nil, ""
		e.Warnings = models.WarningsFor(tx.who, e.Warnings)
		if err := tx.narrowElsewhere(m, e, others); err != nil {
			return err
		}
	}
	return nil
}

// narrowElsewhere takes the figures of another squad's season out for a selector from whom players of it are hidden:
// of them there is no second copy. Hides remembers the answer for each squad.
func (tx *Tx) narrowElsewhere(m *models.Meeting, e *models.CandidateEvidence, hides map[int64]bool) error {
	if tx.who.Role != models.RoleSelector {
		return nil
	}
	for i := range e.Lines {
		l := &e.Lines[i]
		if l.SquadID == 0 {
			continue
		}
		some, known := hides[l.SquadID]
		if !known {
			fitted, err := tx.fittedPlayers(squadSeason{m.SeasonID, l.SquadID})
			if err != nil {
				return err
			}
			hidden, err := tx.hiddenAmong(fitted)
			if err != nil {
				return err
			}
			some = len(hidden) > 0
			hides[l.SquadID] = some
		}
		if some {
			*l = models.EvidenceLine{Label: l.Label, Indicator: l.Indicator, Skill: l.Skill, Weight: l.Weight,
				SquadID: l.SquadID, Squad: l.Squad, Missing: "the figures of " + l.Squad + " were made together with players " +
					"who are not shown to you"}
		}
	}
	return nil
}

// warnings are what must be known today before a player is chosen for a place, whatever the caller may read: who reads
// them is decided when they are read.
func (tx *Tx) warnings(m *models.Meeting, place models.Place, p models.Player) ([]models.Warning, error) {
	day := tx.today()
	w := models.Warned{Day: day, Player: p, Place: place, Squads: map[int64]models.Squad{}}
	var err error
	if w.Season, err = seasons().get(tx, m.SeasonID); err != nil {
		return nil, err
	}
	all, err := squads().find(tx, where{})
	if err != nil {
		return nil, err
	}
	for _, s := range all {
		w.Squads[s.ID] = s
	}
	w.Squad = w.Squads[m.SquadID]
	if w.Members, err = memberships().find(tx, where{}, that("memberships.player_id = ? AND memberships.season_id = ?",
		p.ID, m.SeasonID)); err != nil {
		return nil, err
	}
	if w.Spells, err = spells().find(tx, where{}, that("spells.player_id = ?", p.ID)); err != nil {
		return nil, err
	}
	if w.Safety, err = tx.safetyOf(p, w.Members, m.SeasonID, day); err != nil {
		return nil, err
	}
	return w.Warnings(), nil
}

// safetyOf is what Safety says to those who may read all of it.
func (tx *Tx) safetyOf(p models.Player, members []models.Membership, season int64, day models.Date) (s models.Safety,
	err error) {
	contacts, err := headContacts().find(tx, where{}, that("head_contacts.player_id = ?", p.ID))
	if err != nil {
		return s, err
	}
	s.HeadContacts = slices.DeleteFunc(contacts, func(h models.HeadContact) bool { return !h.Open() })
	downs, err := standDowns().find(tx, where{}, that("stand_downs.player_id = ?", p.ID))
	if err != nil {
		return s, err
	}
	s.StandDowns = slices.DeleteFunc(downs, func(d models.StandDown) bool { return d.LiftedOn != nil && !d.Open(day) })
	if !models.Left(members, day) {
		rules, err := tx.settled()
		if err != nil {
			return s, err
		}
		given, err := consents().find(tx, where{}, that("consents.player_id = ?", p.ID))
		if err != nil {
			return s, err
		}
		s.Missing = rules.Missing(p, given, day, day, rules.Requires...)
	}
	loads, err := tx.Loads(season, day, []int64{p.ID})
	for _, l := range loads[p.ID] {
		if l.WarningNow != models.LoadWithin {
			s.Loads = append(s.Loads, l)
		}
	}
	return s, err
}
