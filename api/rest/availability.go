package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type spellsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	Player int64 `query:"player" minimum:"1" doc:"Only spells of this player."`
}

func availability(s *Service) {
	add(s, resource[models.Spell, spellsWanted]{
		name: "spell of availability", many: "spells of availability", path: "/availability", part: people,
		order: "by the first day",
		about: "A spell says whether a player can train and play in full, with limits or not at all between two dates. It " +
			"never says why: no diagnosis, no medical detail. A player's spells do not overlap.",
		list: func(tx *store.Tx, in *spellsWanted) ([]models.Spell, error) {
			return tx.Spells(models.SpellFilter{PlayerID: in.Player})
		},
		get: (*store.Tx).Spell, create: (*store.Tx).CreateSpell, update: (*store.Tx).UpdateSpell,
		remove: (*store.Tx).DeleteSpell,
		record: func(r *models.Spell) *models.Record { return &r.Record },
		example: models.Spell{
			Record: exampleRecord(7), PlayerID: examplePlayer, Status: models.Modified, From: "2025-11-10",
			Until: some(models.Date("2025-11-24")),
		},
	})
}
