package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type matchEventsWanted struct {
	Page
	Dated
	InSeason
	InSquad
	OfPlayer
	Match int64 `query:"match" minimum:"1" doc:"Only events of this match."`
}

func matchEvents(s *Service) {
	add(s, resource[models.MatchEvent, matchEventsWanted]{
		name: "match event", many: "match events", path: "/match-events", part: matchDay,
		order: "by the date of the match, then the clock",
		about: "A match event is a score, a card, a substitution or a blow to the head of one of our players, which also " +
			"creates a head contact. It cannot move to another match. Players do not see which other players an event names.",
		list: func(tx *store.Tx, in *matchEventsWanted) ([]models.MatchEvent, error) {
			return tx.MatchEvents(in.Match)
		},
		get: (*store.Tx).MatchEvent, create: (*store.Tx).CreateMatchEvent, update: (*store.Tx).UpdateMatchEvent,
		remove: (*store.Tx).DeleteMatchEvent,
		record: func(r *models.MatchEvent) *models.Record { return &r.Record },
		fixed:  []string{"ask", "proposal"},
		tag:    func(e *models.MatchEvent) string { return stopTag(e.Version, e.Ask != "", e.Proposal != nil) },
		example: models.MatchEvent{
			Record: exampleRecord(60), MatchID: exampleMatch, Clock: models.Clock{Half: 1, Second: 754}, Kind: models.EventTry,
			Ours:     true,
			PlayerID: some[int64](examplePlayer),
		},
	})
}
