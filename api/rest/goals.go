package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type goalsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	OnIndicator
	OnSkill
	Player int64 `query:"player" minimum:"1" doc:"Only goals of this player."`
}

func goals(s *Service) {
	add(s, resource[models.Goal, goalsWanted]{
		name: "goal", many: "goals", path: "/goals", part: development, order: "by the day they were set",
		about: "A goal is what a player works on, agreed with a coach: an indicator or a skill, where the player starts, " +
			"where they want to get to, by when and how. It cannot move to another player.",
		list: func(tx *store.Tx, in *goalsWanted) ([]models.Goal, error) {
			return tx.Goals(models.GoalFilter{PlayerID: in.Player})
		},
		get: (*store.Tx).Goal, create: (*store.Tx).CreateGoal, update: (*store.Tx).UpdateGoal,
		remove:   (*store.Tx).DeleteGoal,
		record:   func(r *models.Goal) *models.Record { return &r.Record },
		optional: []string{"owner_id", "actions"},
		keep: func(now, sent *models.Goal) {
			if sent.OwnerID == 0 {
				sent.OwnerID = now.OwnerID
			}
		},
		kept: true,
		example: models.Goal{
			Record: exampleRecord(exampleGoal), PlayerID: examplePlayer, OwnerID: exampleUser, Indicator: "contact_won",
			SetOn: "2025-10-10", By: "2026-03-01",
			Baseline: some(0.48), Target: 0.6, Why: "You get over the line when your feet move first.",
			Actions: "Ten live carries a week, two steps before contact.",
		},
	})
}
