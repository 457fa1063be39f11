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
		barred: func(tx *Tx, old *models.Meeting, _ bool) error {
			if old.Status == models.MeetingClosed {
				return tx.mayReopen()
			}
			return nil
		},
		said: func(m models.Meeting) any {
			m.Candidates = nil
			return m
		},
		wrote: func(tx *Tx, old, m *models.Meeting) error {
			tx.noteCandidates(old, m)
			if m == nil {
				return nil // its candidates are hidden with it
			}
			return tx.writeCandidates(m)
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

// CreateMeeting adds the record of a meeting. Every candidate must be a player whom the caller reaches.
func (tx *Tx) CreateMeeting(m *models.Meeting) error { return meetings().create(tx, m) }

// UpdateMeeting changes the record of a meeting, with all of its candidates. New ones must be players within the
// caller's reach. A closed record can only be opened again, by a manager, who may change it at the same time.
func (tx *Tx) UpdateMeeting(m *models.Meeting) error { return meetings().update(tx, m) }

// DeleteMeeting deletes the record of a meeting; once it is closed only a manager does.
func (tx *Tx) DeleteMeeting(id, version int64) error { return meetings().remove(tx, id, version) }

// mayReopen is an error if the caller may not change a closed record.
func (tx *Tx) mayReopen() error {
	if tx.who.Reach(models.Write, models.AreaMeetings) == models.ReachAcademy {
		return nil
	}
	return models.Errorf(models.Forbidden, "the meeting is closed: only a manager can reopen it")
}

func checkMeeting(tx *Tx, old, m *models.Meeting) error {
	if old != nil && old.Status == models.MeetingClosed && m.Status == models.MeetingClosed {
		return models.Errorf(models.Conflict, "the meeting is closed: set its status to open before you change it")
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
	for _, check := range []func(old, m *models.Meeting) error{tx.attended, tx.comparable, tx.standing} {
		if err := check(old, m); err != nil {
			return err
		}
	}
	return nil
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
	return nil
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
		case c != after[at]:
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
