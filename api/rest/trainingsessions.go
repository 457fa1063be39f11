package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type trainingSessionsWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only sessions on days of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only sessions of this squad."`
}

func trainingSessions(s *Service) {
	add(s, resource[models.TrainingSession, trainingSessionsWanted]{
		name: "training session", many: "training sessions", path: "/training-sessions", part: development,
		order: "by date, then start",
		about: "A training session of one squad: when it was, how long it lasted, what it was for and whether players made " +
			"contact. Its day must be in a season; a squad has one session at a time. Minutes of contact count towards " +
			"limits on contact in training. The day and the contact cannot change against the attendance, such as contact " +
			"for a player who is stood down. Deleting a session deletes its attendance.",
		list: func(tx *store.Tx, in *trainingSessionsWanted) ([]models.TrainingSession, error) {
			return tx.TrainingSessions(models.TrainingSessionFilter{SquadID: in.Squad, SeasonID: in.Season})
		},
		get: (*store.Tx).TrainingSession, create: (*store.Tx).CreateTrainingSession,
		update: (*store.Tx).UpdateTrainingSession, remove: (*store.Tx).DeleteTrainingSession,
		record: func(r *models.TrainingSession) *models.Record { return &r.Record },
		example: models.TrainingSession{Record: exampleRecord(exampleSession), SquadID: exampleSquad, Date: "2025-09-10",
			Start:   "18:30",
			Minutes: 75, Purpose: "Breakdown, then live attack", Contact: true, ContactMinutes: some(15)},
	})
}
