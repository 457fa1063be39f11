package store

import (
	"slices"

	"throughline/models"
)

func trainingSessions() *kind[models.TrainingSession] {
	return &kind[models.TrainingSession]{
		name: "training session", table: "training_sessions", area: models.AreaTraining,
		order:    "training_sessions.date, training_sessions.start, training_sessions.id",
		record:   func(s *models.TrainingSession) *models.Record { return &s.Record },
		validate: (*models.TrainingSession).Validate,
		within:   ofSession,
		check:    checkTrainingSession,
		wrote: func(tx *Tx, old, s *models.TrainingSession) error {
			if old == nil || s == nil || old.Date == s.Date {
				return nil
			}
			return tx.moveRemarks(s)
		},
		holds: []hold{
			{table: "attendances", column: "session_id", own: goes(attendances)},
			{name: "training observations", table: "training_observations", column: "session_id"},
		},
	}
}

// ofSession is the reach of training sessions. One of another squad may be read by those whose player was recorded at
// it, and by the player.
func ofSession(who models.Who, action models.Action, reach models.Reach) where {
	squads := that("training_sessions.squad_id IN ?", who.SquadIDs)
	if action == models.Write {
		return squads
	}
	const there = `EXISTS (SELECT 1 FROM attendances AS seen WHERE seen.academy_id = training_sessions.academy_id
		AND seen.session_id = training_sessions.id AND seen.deleted_at IS NULL AND `
	if reach == models.ReachOwn {
		return that(there+"seen.player_id = ?)", who.PlayerID)
	}
	theirs := memberThen(who, "seen.player_id", "training_sessions.date", "training_sessions.date")
	return or(squads, that(there+theirs.sql+")", theirs.args...))
}

// TrainingSession returns a training session.
func (tx *Tx) TrainingSession(id int64) (models.TrainingSession, error) {
	return trainingSessions().get(tx, id)
}

// TrainingSessions returns training sessions by date, then the time of day at which they began.
func (tx *Tx) TrainingSessions(f models.TrainingSessionFilter) ([]models.TrainingSession, error) {
	return trainingSessions().list(tx, is("training_sessions.squad_id", f.SquadID),
		during("training_sessions", tx.who, f.SeasonID))
}

// CreateTrainingSession adds a training session. A second one of the squad at the same time is a Conflict.
func (tx *Tx) CreateTrainingSession(s *models.TrainingSession) error {
	return trainingSessions().create(tx, s)
}

// UpdateTrainingSession changes a training session; it stays with its squad. A change that its attendance does not fit
// is a Conflict.
func (tx *Tx) UpdateTrainingSession(s *models.TrainingSession) error {
	return trainingSessions().update(tx, s)
}

// DeleteTrainingSession deletes a training session with its attendance. It is refused while observations name it.
func (tx *Tx) DeleteTrainingSession(id, version int64) error {
	return trainingSessions().remove(tx, id, version)
}

func checkTrainingSession(tx *Tx, old, s *models.TrainingSession) error {
	if old != nil && s.SquadID != old.SquadID {
		return stays("squad_id", "a training session", "its squad")
	}
	squad, err := squads().known(tx, "squad_id", s.SquadID)
	if err != nil {
		return err
	}
	if err := tx.MayTrain(s.SquadID); err != nil {
		return err
	}
	all, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(all, func(season models.Season) bool { return season.Has(s.Date) }) {
		return wrong("date", "%s is in no season; choose a day within a season, or have a manager change the season's days",
			s.Date)
	}
	err = trainingSessions().only(tx, s.ID, "there is already a session of "+squad.Name+" on "+string(s.Date)+
		atTime(s.Start)+": change that one, or give another start", that("training_sessions.squad_id = ?", s.SquadID),
		that("training_sessions.date = ? AND training_sessions.start = ?", s.Date, s.Start))
	if err != nil || old == nil {
		return err
	}
	return tx.stillAttended(*s)
}

func atTime(start string) string {
	if start == "" {
		return " without a start"
	}
	return " at " + start
}

// stillAttended is an error if the attendance of a session, or an observation of it, does not fit the session as it is
// to be.
func (tx *Tx) stillAttended(s models.TrainingSession) error {
	there, err := attendances().find(tx, where{}, that("attendances.session_id = ?", s.ID))
	if err != nil || len(there) == 0 {
		return err
	}
	ids := make([]int64, len(there))
	for i, a := range there {
		ids[i] = a.PlayerID
	}
	of, err := tx.downs(ids)
	if err != nil {
		return err
	}
	people, err := rows[models.Player](tx, "read who attended",
		"SELECT id, name FROM players WHERE academy_id = ? AND id IN ?", tx.who.AcademyID, ids)
	if err != nil {
		return err
	}
	for _, a := range there {
		i := slices.IndexFunc(people, func(p models.Player) bool { return p.ID == a.PlayerID })
		if i < 0 {
			continue
		}
		if err := s.Admit(a, people[i], of[a.PlayerID]); err != nil {
			return models.Errorf(models.Conflict, "the attendance of %s does not fit: %v", people[i].Name, err)
		}
	}
	return nil
}

// moveRemarks gives the observations of a session its new day.
func (tx *Tx) moveRemarks(s *models.TrainingSession) error {
	k := trainingObservations()
	k.within = everyone // the caller may change the session, whose day it is
	there, err := k.find(tx, where{}, that("training_observations.session_id = ?", s.ID))
	if err != nil || len(there) == 0 {
		return err
	}
	all := make([]change[models.TrainingObservation], len(there))
	for i := range there {
		now := there[i]
		now.Date, now.Version, now.ChangedAt = s.Date, now.Version+1, tx.now
		all[i] = change[models.TrainingObservation]{old: &there[i], now: &now}
	}
	return k.write(tx, all)
}

// MayTrain is Forbidden to callers who may not write the training sessions of a squad.
func (tx *Tx) MayTrain(squad int64) error {
	reach := tx.who.Reach(models.Write, models.AreaTraining)
	switch {
	case reach == models.ReachNone:
		return models.Errorf(models.Forbidden, "%s may not change training session records", tx.role())
	case reach != models.ReachAcademy && !slices.Contains(tx.who.SquadIDs, squad):
		return models.Errorf(models.Forbidden, "%s may not change this squad's training sessions", tx.who.Name)
	}
	return nil
}
