package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type squadsWanted struct {
	Page
	Name string `query:"name" maxLength:"100" doc:"Only the squad with this name."`
}

func squads(s *Service) {
	add(s, resource[models.Squad, squadsWanted]{
		name: "squad", many: "squads", path: "/squads", part: setup, order: "by name",
		about: "A squad is a group of players who train and play together, usually an age band. Its review_weeks says how " +
			"many weeks lie between two reviews of a player; leave it out for the usual six.",
		list: func(tx *store.Tx, in *squadsWanted) ([]models.Squad, error) {
			return tx.Squads(models.SquadFilter{Name: in.Name})
		},
		get: (*store.Tx).Squad, create: (*store.Tx).CreateSquad, update: (*store.Tx).UpdateSquad,
		remove:  (*store.Tx).DeleteSquad,
		record:  func(r *models.Squad) *models.Record { return &r.Record },
		example: models.Squad{Record: exampleRecord(exampleSquad), Name: "Under 18", AgeBand: 18, BandMonth: 9},
	})
}
