package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type checkInsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	OfPlayer
	Goal int64 `query:"goal" minimum:"1" doc:"Only check-ins on this goal."`
}

func checkIns(s *Service) {
	add(s, resource[models.CheckIn, checkInsWanted]{
		name: "check-in", many: "check-ins", path: "/check-ins", part: development, order: "by date",
		about: "A check-in is a dated remark on how a goal is going: shared with the player, or for staff only. Write a " +
			"shared one as if you were talking to the player. It cannot move to another goal.",
		list: func(tx *store.Tx, in *checkInsWanted) ([]models.CheckIn, error) { return tx.CheckIns(in.Goal) },
		get:  (*store.Tx).CheckIn, create: (*store.Tx).CreateCheckIn, update: (*store.Tx).UpdateCheckIn,
		remove:   (*store.Tx).DeleteCheckIn,
		record:   func(r *models.CheckIn) *models.Record { return &r.Record },
		optional: []string{"author_id"},
		keep: func(now, sent *models.CheckIn) {
			if sent.AuthorID == 0 {
				sent.AuthorID = now.AuthorID
			}
		},
		kept: true,
		example: models.CheckIn{Record: exampleRecord(8), GoalID: exampleGoal, AuthorID: exampleUser, Date: "2025-11-14",
			Shared: true,
			Text:   "You've got the step. Now do it at pace."},
	})
}
