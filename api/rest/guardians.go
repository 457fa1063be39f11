package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type guardiansWanted struct {
	Page
	InSquad
	Player int64 `query:"player" minimum:"1" doc:"Only guardians of this player."`
}

func guardians(s *Service) {
	add(s, resource[models.Guardian, guardiansWanted]{
		name: "guardian", many: "guardians", path: "/guardians", part: safety, order: "by player",
		about: "A guardian is responsible for a player who is a minor. Guardians have no account here. A guardian's " +
			"record cannot move to another player.",
		list: func(tx *store.Tx, in *guardiansWanted) ([]models.Guardian, error) {
			return tx.Guardians(models.GuardianFilter{PlayerID: in.Player})
		},
		get: (*store.Tx).Guardian, create: (*store.Tx).CreateGuardian, update: (*store.Tx).UpdateGuardian,
		remove: (*store.Tx).DeleteGuardian,
		record: func(r *models.Guardian) *models.Record { return &r.Record },
		example: models.Guardian{
			Record: exampleRecord(6), PlayerID: examplePlayer, Name: "Morwenna Okell", Relation: "mother",
			Contact: "by telephone, evenings",
		},
	})
}
