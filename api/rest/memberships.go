package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type membershipsWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only memberships of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only memberships in this squad."`
	Player int64 `query:"player" minimum:"1" doc:"Only memberships of this player."`
}

func memberships(s *Service) {
	add(s, resource[models.Membership, membershipsWanted]{
		name: "membership", many: "memberships", path: "/memberships", part: people, order: "by the first day",
		about: "A membership puts a player in a squad for a season or part of one. Coaches see the players who are or " +
			"were in their squads.",
		list: func(tx *store.Tx, in *membershipsWanted) ([]models.Membership, error) {
			return tx.Memberships(models.MembershipFilter{SeasonID: in.Season, SquadID: in.Squad, PlayerID: in.Player})
		},
		get: (*store.Tx).Membership, create: (*store.Tx).CreateMembership, update: (*store.Tx).UpdateMembership,
		remove: (*store.Tx).DeleteMembership,
		record: func(r *models.Membership) *models.Record { return &r.Record },
		example: models.Membership{
			Record: exampleRecord(20), SeasonID: exampleSeason, SquadID: exampleSquad, PlayerID: examplePlayer,
			From: "2025-08-01",
		},
	})
}
