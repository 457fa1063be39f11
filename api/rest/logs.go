package rest

import (
	"net/http"

	"throughline/models"
	"throughline/models/store"
)

type logsWanted struct {
	Page
	Dated
	InSquad
	Season int64 `query:"season" minimum:"1" doc:"Only logs from matches of this season."`
	Match  int64 `query:"match" minimum:"1" doc:"Only logs of this match."`
	Player int64 `query:"player" minimum:"1" doc:"Only logs of this player."`
}

func logs(s *Service) {
	add(s, resource[models.Log, logsWanted]{
		name: "involvement log", many: "involvement logs", path: "/logs", part: logging,
		order: "by the date of the match, then the player",
		about: "An involvement log is what one person saw one player do in one match, on video. It says which minutes and " +
			"kinds it covers and in how much depth: if a covered minute has no involvement of a covered kind, there was " +
			"none. An unfinished log does not count yet. Only the person who made the log and managers can change it. Its " +
			"match and player cannot change, and the player must have an appearance in the match.",
		list: func(tx *store.Tx, in *logsWanted) ([]models.Log, error) {
			return tx.Logs(models.LogFilter{MatchID: in.Match, PlayerID: in.Player, SeasonID: in.Season})
		},
		get: (*store.Tx).Log, create: (*store.Tx).CreateLog, update: (*store.Tx).UpdateLog, remove: (*store.Tx).DeleteLog,
		record:   func(r *models.Log) *models.Record { return &r.Record },
		optional: []string{"logger_id", "covers", "finished"}, fixed: []string{"stop", "proposal"},
		tag: func(l *models.Log) string { return stopTag(l.Version, l.Stop != nil, l.Proposal != nil) },
		keep: func(now, sent *models.Log) {
			if sent.LoggerID == 0 {
				sent.LoggerID = now.LoggerID
			}
		},
		example: models.Log{
			Record: exampleRecord(exampleLog), MatchID: exampleMatch, PlayerID: examplePlayer, LoggerID: exampleUser,
			Depth:    models.Full,
			Kinds:    []models.Kind{models.KindCarry, models.KindPass, models.KindOffload, models.KindTackle},
			Covers:   []models.Span{{From: models.Clock{Half: 1, Second: 0}, To: models.Clock{Half: 1, Second: 2100}}},
			Finished: true, Key: "tablet-4",
		},
	})
	does(s, operation{
		method: http.MethodGet, path: "/logs/{id}/agreement/{other}", id: "compare-logs", summary: "Compare two logs",
		part: logging,
		about: "Says how far two people's logs of the same player and match agree, in the minutes and kinds that " +
			"both cover: counts, kappa by kind and detail, and the definition that the two read most differently.",
		gives:    []content{{media: jsonType, example: exampleAgreement}},
		refusals: []int{http.StatusNotFound},
	}, func(r *request, in *struct {
		ID    int64 `path:"id" minimum:"1" doc:"The id of the first log"`
		Other int64 `path:"other" minimum:"1" doc:"The id of the second log, of the same player and match"`
	}) (*reply, error) {
		var found models.Agreement
		err := s.store.Read(r, r.who, func(tx *store.Tx) error {
			a, err := tx.LoggedPlay(in.ID)
			if err != nil {
				return err
			}
			b, err := tx.LoggedPlay(in.Other)
			if err != nil {
				return err
			}
			if a.Log.MatchID != b.Log.MatchID || a.Log.PlayerID != b.Log.PlayerID {
				return &models.Error{Code: models.Invalid, Message: "the logs cannot be compared", Fields: []models.FieldError{
					{Where: "path.other", Message: "is a log of a different player or match; choose two logs of the same " +
						"player and match"},
				}}
			}
			m, err := tx.Match(a.Log.MatchID)
			found = models.Agree(m, a, b)
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON("", found)
	})
}

var exampleAgreement = models.Agreement{
	Kinds: []models.Kind{models.KindCarry}, Minutes: 35, Matched: 9, OnlyA: 1, OnlyB: 0, CountsWithinOne: 1,
	ByKind: []models.KindAgreement{{Kind: models.KindCarry, Matched: 9, OnlyA: 1, Apart: 1}},
	Details: []models.DetailAgreement{{Kind: models.KindCarry, Detail: "contact", Both: 9, Agreed: 6, Kappa: some(0.5)},
		{Kind: models.KindCarry, Detail: "metres", Both: 9, Agreed: 5, WithinOne: some(8)}},
	Misread: &models.Misread{Kind: models.KindCarry, Detail: "contact", Label: "Contact",
		Definition: "Who won the collision.", Both: 9, Disagreed: 3, Expected: 1.2,
		First:  models.Option{Code: "won", Label: "Won", Definition: "The carrier goes forward through the contact."},
		Second: models.Option{Code: "even", Label: "Even", Definition: "Neither goes forward."}, Times: 3},
}
