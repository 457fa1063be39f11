package store

import (
	"fmt"

	"throughline/models"
)

func trainingObservations() *kind[models.TrainingObservation] {
	return &kind[models.TrainingObservation]{
		name: "training observation", table: "training_observations", area: models.AreaRemarks,
		order:    "training_observations.date, training_observations.id",
		record:   func(o *models.TrainingObservation) *models.Record { return &o.Record },
		player:   about(func(r *models.TrainingObservation) int64 { return r.PlayerID }),
		validate: (*models.TrainingObservation).Validate,
		author:   func(o *models.TrainingObservation) *int64 { return &o.CoachID },
		users:    []string{"coach_id"},
		within:   byAuthor(ofPlayer("training_observations", "date", "date"), "training_observations.coach_id"),
		again:    sameRemark,
		check:    checkTrainingObservation,
	}
}

// TrainingObservation returns a training observation.
func (tx *Tx) TrainingObservation(id int64) (models.TrainingObservation, error) {
	return trainingObservations().get(tx, id)
}

// TrainingObservations returns training observations by date.
func (tx *Tx) TrainingObservations(f models.TrainingObservationFilter) ([]models.TrainingObservation, error) {
	return trainingObservations().list(tx, is("training_observations.player_id", f.PlayerID),
		is("training_observations.session_id", f.SessionID), during("training_observations", tx.who, f.SeasonID))
}

// CreateTrainingObservation adds a training observation; CoachID may be left at 0 for the caller. One at a session
// that the coach has made already, word for word, is returned and none is made.
func (tx *Tx) CreateTrainingObservation(o *models.TrainingObservation) error {
	return trainingObservations().create(tx, o)
}

// UpdateTrainingObservation changes a training observation.
func (tx *Tx) UpdateTrainingObservation(o *models.TrainingObservation) error {
	return trainingObservations().update(tx, o)
}

// DeleteTrainingObservation deletes a training observation.
func (tx *Tx) DeleteTrainingObservation(id, version int64) error {
	return trainingObservations().remove(tx, id, version)
}

// sameRemark returns the observation of a session that o is, sent a second time.
func sameRemark(tx *Tx, o *models.TrainingObservation) (*models.TrainingObservation, error) {
	if o.SessionID == nil {
		return nil, nil
	}
	same, found, err := first(trainingObservations().find(tx, where{}, that(`training_observations.version = 1
		AND training_observations.session_id = ? AND training_observations.player_id = ?
		AND training_observations.coach_id = ? AND training_observations.skill = ? AND training_observations.text = ?
		AND training_observations.shared = ? AND COALESCE(training_observations.goal_id, 0) = ?`, *o.SessionID, o.PlayerID,
		o.CoachID, o.Skill, o.Text, o.Shared, orZero(o.GoalID))))
	if err != nil || !found {
		return nil, err
	}
	return &same, nil
}

func checkTrainingObservation(tx *Tx, _, o *models.TrainingObservation) error {
	if _, err := players().known(tx, "player_id", o.PlayerID); err != nil {
		return err
	}
	if _, err := tx.staff("coach_id", o.CoachID); err != nil {
		return err
	}
	if err := tx.Consented(o.PlayerID, o.Date, models.PurposeRecords); err != nil {
		return err
	}
	if err := tx.skillExists("skill", o.Skill); err != nil {
		return err
	}
	if o.SessionID != nil {
		s, err := trainingSessions().known(tx, "training_session_id", *o.SessionID)
		if err != nil {
			return err
		}
		if s.Date != o.Date {
			return wrong("date", "%s is not the day of the session, %s", o.Date, s.Date)
		}
	}
	return tx.goalOf("goal_id", o.GoalID, o.PlayerID)
}

// during is the condition that the date of a row is within a season; it is always true for season 0.
func during(table string, who models.Who, season int64) where {
	if season == 0 {
		return where{}
	}
	const day = "(SELECT asked.%s FROM seasons AS asked WHERE asked.academy_id = ? AND asked.id = ? " +
		"AND asked.deleted_at IS NULL)"
	return that(table+".date BETWEEN "+fmt.Sprintf(day, "starts")+" AND "+fmt.Sprintf(day, "ends"),
		who.AcademyID, season, who.AcademyID, season)
}
