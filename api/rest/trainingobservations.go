package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type trainingObservationsWanted struct {
	Page
	Dated
	InSquad
	OnSkill
	OnGoal
	Season  int64 `query:"season" minimum:"1" doc:"Only observations dated in this season."`
	Player  int64 `query:"player" minimum:"1" doc:"Only observations on this player."`
	Session int64 `query:"session" minimum:"1" doc:"Only observations of this training session."`
}

func trainingObservations(s *Service) {
	add(s, resource[models.TrainingObservation, trainingObservationsWanted]{
		name: "training observation", many: "training observations", path: "/training-observations", part: development,
		order: "by date",
		about: "A training observation is a short, dated remark about one player at training, on a skill, on a goal or on " +
			"neither, shared with the player or for staff only. It may belong to a training session. A coach's observation " +
			"of a session that is sent again word for word is not made twice.",
		list: func(tx *store.Tx, in *trainingObservationsWanted) ([]models.TrainingObservation, error) {
			return tx.TrainingObservations(models.TrainingObservationFilter{PlayerID: in.Player, SeasonID: in.Season,
				SessionID: in.Session})
		},
		get: (*store.Tx).TrainingObservation, create: (*store.Tx).CreateTrainingObservation,
		update:   (*store.Tx).UpdateTrainingObservation,
		remove:   (*store.Tx).DeleteTrainingObservation,
		record:   func(r *models.TrainingObservation) *models.Record { return &r.Record },
		optional: []string{"coach_id", "shared"},
		keep: func(now, sent *models.TrainingObservation) {
			if sent.CoachID == 0 {
				sent.CoachID = now.CoachID
			}
		},
		example: models.TrainingObservation{
			Record: exampleRecord(52), PlayerID: examplePlayer, CoachID: exampleUser, Date: "2025-09-10", Skill: "tackle",
			SessionID: some[int64](exampleSession), Shared: true, Text: "Stayed low in all six live tackles.",
		},
	})
}
