package store

import (
	"fmt"
	"slices"

	"throughline/models"
)

func meetings() *kind[models.Meeting] {
	return &kind[models.Meeting]{
		name: "meeting", table: "meetings", area: models.AreaMeetings, order: "meetings.date, meetings.id",
		record:   func(m *models.Meeting) *models.Record { return &m.Record },
		validate: (*models.Meeting).Validate,
		within:   ofSquads("meetings"),
		load:     loadCandidates,
		check:    checkMeeting,
		barred: func(tx *Tx, old *models.Meeting, deleting bool) error {
			if !deleting {
				return nil
			}
			if err := old.Deletable(); err != nil {
				return err
			}
			if old.Comparable() == nil && tx.who.Reach(models.Write, models.AreaMeetings) != models.ReachAcademy {
				return models.Errorf(models.Forbidden, "the comparison was opened: only a manager can delete the meeting")
			}
			return nil
		},
		said: func(m models.Meeting) any {
			m.Candidates, m.OpenedBefore = nil, nil
			return m
		},
		wrote: func(tx *Tx, old, m *models.Meeting) error {
			tx.noteCandidates(old, m)
			if m == nil { // its candidates are hidden with it
				return tx.exec("delete evidence", "DELETE FROM candidate_evidence WHERE academy_id = ? AND meeting_id = ?",
					tx.who.AcademyID, old.ID)
			}
			if err := tx.writeCandidates(m); err != nil {
				return err
			}
			if err := tx.freeze(old, m); err != nil {
				return err
			}
			return tx.draftFeedback(old, m)
		},
		holds: []hold{
			{name: "recommendations", table: "recommendations", column: "meeting_id", own: goes(recommendations)},
			{name: "corrections", table: "corrections", column: "meeting_id", own: goes(corrections)},
			{name: "feedback", table: "feedback", column: "meeting_id", own: goes(feedback)},
		},
	}
}

// Meeting returns the record of a meeting with its candidates.
func (tx *Tx) Meeting(id int64) (models.Meeting, error) { return meetings().get(tx, id) }

// Meetings returns the records of meetings, with their candidates, by date.
func (tx *Tx) Meetings(f models.MeetingFilter) ([]models.Meeting, error) {
	var of where
	if f.PlayerID != 0 {
		if hidden, err := tx.hidden(f.PlayerID); err != nil || hidden {
			return []models.Meeting{}, err
		}
		of = that("meetings.id IN (SELECT meeting_id FROM candidates WHERE academy_id = ? AND player_id = ?)",
			tx.who.AcademyID, f.PlayerID)
	}
	return meetings().list(tx, is("meetings.season_id", f.SeasonID), is("meetings.squad_id", f.SquadID), of)
}

// CreateMeeting adds the record of a meeting, as a draft. Every candidate must be a player whom the caller reaches.
func (tx *Tx) CreateMeeting(m *models.Meeting) error {
	if m.Status == "" {
		m.Status = models.MeetingDraft
	}
	if err := meetings().mayChange(tx); err != nil {
		return err
	}
	draft := models.Meeting{Status: models.MeetingDraft, SeasonID: m.SeasonID, SquadID: m.SquadID}
	if m.Status != models.MeetingDraft && slices.Contains(m.Status.Codes(), m.Status) {
		if err := m.Follows(&draft); err != nil {
			return err
		}
		return models.Errorf(models.Conflict, "a new meeting is a draft: create it first, then lock its criteria")
	}
	return meetings().create(tx, m)
}

// UpdateMeeting changes the record of a meeting, with all of its candidates, and moves it one step at most: see
// models.MeetingSteps. A step or a change that is not allowed is a Conflict that says why. New candidates must be
// players within the caller's reach. The step to opened keeps the evidence on every candidate as it is now; it is a
// Conflict while the trends of the squad's season are being made again.
func (tx *Tx) UpdateMeeting(m *models.Meeting) error {
	k := meetings()
	if err := k.mayChange(tx); err != nil {
		return err
	}
	old, err := k.get(tx, m.ID)
	if err != nil {
		return err
	}
	if m.Status == "" {
		m.Status = old.Status
	}
	if old.Version == m.Version && k.mine(tx, m.ID) == nil { // why a step is refused is said before anything else
		if err := m.Follows(&old); err != nil {
			return err
		}
	}
	return k.update(tx, m)
}

// DeleteMeeting deletes the record of a meeting. Only a manager deletes one whose comparison was opened; a closed one
// stays.
func (tx *Tx) DeleteMeeting(id, version int64) error { return meetings().remove(tx, id, version) }

func checkMeeting(tx *Tx, old, m *models.Meeting) error {
	if err := tx.steps(old, m); err != nil {
		return err
	}
	if _, err := seasons().known(tx, "season_id", m.SeasonID); err != nil {
		return err
	}
	if _, err := squads().known(tx, "squad_id", m.SquadID); err != nil {
		return err
	}
	// Said before anything about the candidates, whom they may not see.
	if tx.who.Reach(models.Write, models.AreaMeetings) != models.ReachAcademy &&
		!slices.Contains(tx.who.SquadIDs, m.SquadID) {
		return models.Errorf(models.Forbidden, "%s may not write meetings for this squad", tx.who.Name)
	}
	if old == nil {
		old = &models.Meeting{}
	}
	m.TotalWeight = m.Weight()
	for _, check := range []func(old, m *models.Meeting) error{tx.attended, tx.comparable, tx.standing,
		tx.unseen} {
		if err := check(old, m); err != nil {
			return err
		}
	}
	return nil
}

// steps refuses a step that is not allowed, and writes when and by whom an allowed one was taken. What the service sets
// is as it was, whatever was sent.
func (tx *Tx) steps(old, m *models.Meeting) error {
	was := models.Meeting{Status: models.MeetingDraft, SeasonID: m.SeasonID, SquadID: m.SquadID}
	if old != nil {
		was = *old
	}
	m.LockedAt, m.OpenedAt, m.Revision, m.Steps, m.OpenedBefore = was.LockedAt, was.OpenedAt, was.Revision, was.Steps, nil
	if err := m.Follows(&was); err != nil {
		return err
	}
	if m.Status == was.Status {
		return nil
	}
	now := tx.now
	m.Steps = append(slices.Clone(was.Steps), models.StepTaken{To: m.Status, At: now, UserID: tx.who.UserID,
		Name: tx.who.Name})
	switch m.Status {
	case models.MeetingLocked:
		m.LockedAt = &now
	case models.MeetingOpened:
		m.OpenedAt = &now
		of, err := tx.evidenceOf(m)
		m.Revision = of.Fitted
		return err
	}
	return nil
}

// unseen refuses what a selector cannot decide alone, because candidates of the meeting are hidden from them: to say
// that every candidate is decided, and to choose more than a place has with those who are chosen already.
func (tx *Tx) unseen(old, m *models.Meeting) error {
	shown, err := tx.shown("candidates.player_id")
	if err != nil || shown.sql == "" || m.ID == 0 {
		return err
	}
	hidden, err := rows[models.Candidate](tx, "find candidates who are hidden", "SELECT place, decision FROM candidates "+
		"WHERE academy_id = ? AND meeting_id = ? AND NOT ("+shown.sql+")",
		append([]any{tx.who.AcademyID, m.ID}, shown.args...)...)
	if err != nil {
		return err
	}
	chosen, undecided := map[string]int{}, 0
	for _, c := range hidden {
		switch c.Decision {
		case models.Undecided:
			undecided++
		case models.Chosen:
			chosen[c.Place]++
		}
	}
	deciding := m.Status == models.MeetingDecided || m.Status == models.MeetingClosed
	if undecided > 0 && deciding && m.Status != old.Status {
		return models.Errorf(models.Conflict, "not every candidate is decided: %d %s not shown to you and %s no decision. "+
			"Ask a manager to decide on them, if only to defer", undecided, plural(undecided, "candidate is", "candidates are"),
			plural(undecided, "has", "have"))
	}
	for i, c := range m.Candidates {
		place := slices.IndexFunc(m.Places, func(p models.Place) bool { return p.Name == c.Place })
		if c.Decision != models.Chosen || place < 0 || chosen[c.Place] == 0 {
			continue
		}
		if was := old.Candidate(c.PlayerID, c.Place); was != nil && was.Decision == models.Chosen {
			continue
		}
		total := chosen[c.Place]
		for _, other := range m.Candidates {
			if other.Place == c.Place && other.Decision == models.Chosen {
				total++
			}
		}
		if total > m.Places[place].Wanted {
			return wrong(fmt.Sprintf("candidates[%d].decision", i), "%d of this place’s %d %s chosen already and not "+
				"shown to you. Choose fewer, or ask a manager", chosen[c.Place], m.Places[place].Wanted,
				plural(chosen[c.Place], "is", "are"))
		}
	}
	return nil
}

func plural(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}

// attended checks the staff who were there, and fills in their names. Who was there already may have left since.
func (tx *Tx) attended(old, m *models.Meeting) error {
	names := map[int64]string{}
	for _, a := range old.Present {
		if a.UserID != nil {
			names[*a.UserID] = a.Name
		}
	}
	m.Present = slices.Clone(m.Present) // the caller's are not their to find changed where this fails
	for i := range m.Present {
		a := &m.Present[i]
		if a.UserID == nil {
			continue
		}
		name, known := names[*a.UserID]
		if !known {
			u, err := tx.staff(fmt.Sprintf("present[%d].user_id", i), *a.UserID)
			if err != nil {
				return err
			}
			name = u.Name
		}
		a.Name = name
	}
	return nil
}

// comparable checks the codes that criteria name. What was named already may have been deleted since.
func (tx *Tx) comparable(old, m *models.Meeting) error {
	for i, c := range m.Criteria {
		was := func(same func(models.Criterion) bool) bool { return slices.ContainsFunc(old.Criteria, same) }
		if c.Indicator != "" && !was(func(o models.Criterion) bool { return o.Indicator == c.Indicator }) {
			if _, err := tx.indicatorOf(fmt.Sprintf("criteria[%d].indicator", i), c.Indicator); err != nil {
				return err
			}
		}
		if c.Skill != "" && !was(func(o models.Criterion) bool { return o.Skill == c.Skill }) {
			if err := tx.skillExists(fmt.Sprintf("criteria[%d].skill", i), c.Skill); err != nil {
				return err
			}
		}
	}
	return nil
}

// standing checks that the candidates are players whom the caller reaches. Others may have put some there whom the
// caller does not reach.
func (tx *Tx) standing(old, m *models.Meeting) error {
	known := map[int64]bool{}
	for _, c := range old.Candidates {
		known[c.PlayerID] = true
	}
	var asked []int64
	for _, c := range m.Candidates {
		if !known[c.PlayerID] {
			asked = append(asked, c.PlayerID)
		}
	}
	if len(asked) == 0 {
		return nil
	}
	reach, some := players().reaching(tx, models.Read)
	if some {
		found, err := players().find(tx, reach, that("players.id IN ?", asked))
		if err != nil {
			return err
		}
		for _, p := range found {
			known[p.ID] = true
		}
	}
	for i, c := range m.Candidates {
		if !known[c.PlayerID] {
			return wrong(fmt.Sprintf("candidates[%d].player_id", i), "there is no player %d", c.PlayerID)
		}
	}
	for _, player := range asked {
		if err := tx.Consented(player, m.Date, models.PurposeSelection); err != nil {
			return err
		}
	}
	return nil
}

// loadCandidates fills in the candidates of meetings, in the order in which they were written, and what follows from
// the rest.
func loadCandidates(tx *Tx, all []models.Meeting) error {
	at := make(map[int64]*models.Meeting, len(all))
	ids := make([]int64, len(all))
	for i := range all {
		at[all[i].ID], ids[i] = &all[i], all[i].ID
		all[i].TotalWeight = all[i].Weight()
	}
	shown, err := tx.shown("candidates.player_id")
	if err != nil {
		return err
	}
	for chunk := range slices.Chunk(ids, idsAtOnce) {
		var found []models.Candidate
		w := and(that("academy_id = ? AND meeting_id IN ?", tx.who.AcademyID, chunk), shown)
		if err := tx.query().Where(w.sql, w.args...).Order("meeting_id, id").Find(&found).Error; err != nil {
			return tx.done("read candidates", err)
		}
		for _, c := range found {
			m := at[c.MeetingID]
			m.Candidates = append(m.Candidates, c)
			tx.saw("candidate", c.PlayerID)
		}
	}
	return tx.loadOpenings(all)
}

// noteCandidates adds to the audit trail what became of each candidate, so that what it says about one player is in
// entries about them alone.
func (tx *Tx) noteCandidates(old, m *models.Meeting) {
	type place struct {
		player int64
		name   string
	}
	list := func(m *models.Meeting) (order []place, by map[place]models.Candidate) {
		by = map[place]models.Candidate{}
		if m == nil {
			return nil, by
		}
		for _, c := range m.Candidates {
			at := place{c.PlayerID, c.Place}
			c.ID, c.AcademyID, c.MeetingID = 0, 0, 0
			order, by[at] = append(order, at), c
		}
		return order, by
	}
	was, before := list(old)
	is, after := list(m)
	id := int64(0)
	if m != nil {
		id = m.ID
	} else {
		id = old.ID
	}
	for _, at := range was {
		if _, stays := after[at]; !stays {
			tx.note(models.AuditDelete, "candidate", id, at.player, before[at], nil)
		}
	}
	for _, at := range is {
		switch c, known := before[at]; {
		case !known:
			tx.note(models.AuditCreate, "candidate", id, at.player, nil, after[at])
		case !c.Same(after[at]):
			tx.note(models.AuditChange, "candidate", id, at.player, c, after[at])
		}
	}
}

// writeCandidates replaces the candidates of a meeting; those whom the caller is not shown stay.
func (tx *Tx) writeCandidates(m *models.Meeting) error {
	shown, err := tx.shown("candidates.player_id")
	if err != nil {
		return err
	}
	w := and(that("academy_id = ? AND meeting_id = ?", tx.who.AcademyID, m.ID), shown)
	if err := tx.exec("replace candidates", "DELETE FROM candidates WHERE "+w.sql, w.args...); err != nil {
		return err
	}
	if len(m.Candidates) == 0 {
		return nil
	}
	// the caller's are not their to find changed where this fails
	candidates := make([]models.Candidate, len(m.Candidates))
	for i, c := range m.Candidates {
		c.ID, c.AcademyID, c.MeetingID = 0, tx.who.AcademyID, m.ID
		candidates[i] = c
	}
	if err := tx.query().Create(&candidates).Error; err != nil {
		return tx.done("replace candidates", err)
	}
	m.Candidates = candidates
	return nil
}
