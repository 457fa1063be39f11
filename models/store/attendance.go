package store

import (
	"errors"
	"slices"
	"strings"

	"throughline/models"
)

// attended are the facts that the rules of attendance ask about.
type attended struct {
	sessions map[int64]*models.TrainingSession // that the caller may read
	rows     map[[2]int64]models.Attendance    // by session and player
}

func attendances() *kind[models.Attendance] {
	known := attended{map[int64]*models.TrainingSession{}, map[[2]int64]models.Attendance{}}
	return &kind[models.Attendance]{
		name: "attendance", table: "attendances", area: models.AreaTraining,
		joins: "JOIN training_sessions ON training_sessions.academy_id = attendances.academy_id" +
			" AND training_sessions.id = attendances.session_id",
		order:    "training_sessions.date, training_sessions.start, attendances.session_id, attendances.id",
		record:   func(a *models.Attendance) *models.Record { return &a.Record },
		player:   about(func(a *models.Attendance) int64 { return a.PlayerID }),
		validate: (*models.Attendance).Validate,
		within: func(who models.Who, action models.Action, reach models.Reach) where {
			squads := that("training_sessions.squad_id IN ?", who.SquadIDs)
			switch {
			case action == models.Write: // it belongs to the session's squad
				return squads
			case reach == models.ReachOwn:
				return that("attendances.player_id = ?", who.PlayerID)
			}
			return or(squads, memberThen(who, "attendances.player_id", "training_sessions.date", "training_sessions.date"))
		},
		load:  dateAttendances,
		facts: known.learn,
		check: known.check,
		keep: func(_ *Tx, _, a *models.Attendance) {
			if a != nil {
				known.rows[[2]int64{a.SessionID, a.PlayerID}] = *a
			}
		},
	}
}

// dateAttendances fills in the days of the sessions.
func dateAttendances(tx *Tx, all []models.Attendance) error {
	ids := make([]int64, len(all))
	for i := range all {
		ids[i] = all[i].SessionID
	}
	days := map[int64]models.Date{}
	for some := range slices.Chunk(compacted(ids), idsAtOnce) {
		found, err := rows[models.TrainingSession](tx, "read the days of sessions",
			"SELECT id, date FROM training_sessions WHERE academy_id = ? AND id IN ?", tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		for _, s := range found {
			days[s.ID] = s.Date
		}
	}
	for i := range all {
		all[i].Date = days[all[i].SessionID]
	}
	return nil
}

// learn reads the sessions and players of attendances, what keeps the players from contact, and what is recorded.
func (k attended) learn(tx *Tx, all []*models.Attendance) error {
	var sessions, people []int64
	for _, a := range all {
		sessions, people = append(sessions, a.SessionID), append(people, a.PlayerID)
	}
	if err := learnRows(tx, trainingSessions(), k.sessions, sessions); err != nil {
		return err
	}
	for some := range slices.Chunk(compacted(sessions), idsAtOnce) {
		there, err := attendances().find(tx, where{}, that("attendances.session_id IN ?", some))
		if err != nil {
			return err
		}
		for _, a := range there {
			k.rows[[2]int64{a.SessionID, a.PlayerID}] = a
		}
	}
	return tx.learnPlayers(people)
}

// check refuses an attendance that the session cannot have.
func (k attended) check(tx *Tx, old, a *models.Attendance) error {
	if old != nil && a.SessionID != old.SessionID {
		return stays("training_session_id", "an attendance", "its session")
	}
	if old != nil && a.PlayerID != old.PlayerID {
		return stays("player_id", "an attendance", "its player")
	}
	s, p := k.sessions[a.SessionID], tx.facts().players[a.PlayerID]
	if s == nil {
		return wrong("training_session_id", "there is no training session %d", a.SessionID)
	}
	if p == nil {
		return wrong("player_id", "there is no player %d", a.PlayerID)
	}
	a.Date = s.Date
	if other, there := k.rows[[2]int64{s.ID, p.ID}]; there && (old == nil || other.ID != a.ID) {
		return clashing("player_id", "%s already has attendance at this session, %s: change that one", p.Name, other.Status)
	}
	return s.Admit(*a, *p, tx.facts().downs[p.ID])
}

// Attendance returns the attendance of a player at a session.
func (tx *Tx) Attendance(id int64) (models.Attendance, error) { return attendances().get(tx, id) }

// Attendances returns attendances by the date and the start of the session.
func (tx *Tx) Attendances(f models.AttendanceFilter) ([]models.Attendance, error) {
	return attendances().list(tx, is("attendances.session_id", f.SessionID), is("attendances.player_id", f.PlayerID),
		is("training_sessions.squad_id", f.SquadID), during("training_sessions", tx.who, f.SeasonID))
}

// CreateAttendance records a player at a session. A second row of the player, and contact while the player is stood
// down, are a Conflict.
func (tx *Tx) CreateAttendance(a *models.Attendance) error { return attendances().create(tx, a) }

// UpdateAttendance changes an attendance; it stays with its session and player.
func (tx *Tx) UpdateAttendance(a *models.Attendance) error { return attendances().update(tx, a) }

// DeleteAttendance deletes an attendance: it is then not recorded whether the player was there.
func (tx *Tx) DeleteAttendance(id, version int64) error { return attendances().remove(tx, id, version) }

// RecordAttendance records several players at one session, all or none, and fills in their Records. What is recorded
// already and is the same stays as it is. What differs is changed if its Version is the one on file, and otherwise
// refused: someone else recorded it. It returns why each is refused, which names the player, with nil for one that is
// not; where any is refused, the caller must not commit.
func (tx *Tx) RecordAttendance(session int64, all []*models.Attendance) (refused []error, err error) {
	s, err := tx.TrainingSession(session)
	if err != nil {
		return nil, err
	}
	k := attendances()
	if err := k.mayChange(tx); err != nil {
		return nil, err
	}
	if err := trainingSessions().permits(tx, &s); err != nil {
		return nil, err
	}
	there, err := k.find(tx, where{}, that("attendances.session_id = ?", session))
	if err != nil {
		return nil, err
	}
	on := map[int64]models.Attendance{}
	for _, a := range there {
		on[a.PlayerID] = a
	}
	refused = make([]error, len(all))
	var fresh []*models.Attendance
	var at []int
	for n, a := range all {
		a.SessionID = session
		was, recorded := on[a.PlayerID]
		switch {
		case !recorded:
			fresh, at = append(fresh, a), append(at, n)
		case a.Says(was):
			*a = was
		case a.Version != was.Version:
			refused[n] = &models.Error{Code: models.Stale, Fields: []models.FieldError{{Where: "status", Message: "someone " +
				"else recorded " + string(was.Status) + " after you read it: read it again, then make your change"}}}
		default:
			a.ID = was.ID
			refused[n] = k.update(tx, a)
			on[a.PlayerID] = *a
		}
	}
	if len(fresh) > 0 {
		made, err := k.createAll(tx, fresh)
		if err != nil {
			return nil, err
		}
		for i, n := range at {
			refused[n] = made[i]
		}
	}
	return tx.naming(all, refused)
}

// naming puts the names of the players whom the caller may read before what is wrong with their attendance.
func (tx *Tx) naming(all []*models.Attendance, refused []error) ([]error, error) {
	for n, err := range refused {
		var e *models.Error
		if !errors.As(err, &e) {
			continue
		}
		p, err := tx.Player(all[n].PlayerID)
		if models.CodeOf(err) == models.NotFound {
			continue
		}
		if err != nil {
			return nil, err
		}
		named := *e
		if !strings.Contains(e.Message, p.Name) && e.Message != "" {
			named.Message = p.Name + ": " + e.Message
		}
		named.Fields = nil
		for _, f := range e.Fields {
			if !strings.Contains(f.Message, p.Name) {
				f.Message = p.Name + ": " + f.Message
			}
			named.Fields = append(named.Fields, f)
		}
		refused[n] = &named
	}
	return refused, nil
}
