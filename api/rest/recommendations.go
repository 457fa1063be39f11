package rest

import (
	"throughline/models"
	"throughline/models/store"
)

type recommendationsWanted struct {
	Page
	InSquad
	Meeting int64 `query:"meeting" minimum:"1" doc:"Only recommendations for this meeting."`
	Player  int64 `query:"player" minimum:"1" doc:"Only recommendations about this player."`
}

func recommendations(s *Service) {
	add(s, resource[models.Recommendation, recommendationsWanted]{
		name: "recommendation", many: "recommendations", path: "/recommendations", part: selectionPart,
		order: "by meeting, in the order they were written",
		about: "A recommendation is a note that a coach writes for one selection meeting about one candidate. The people " +
			"of the meeting read it there; it is part of no report and players do not read it. Coaches write one for each " +
			"candidate of their squads, until the meeting has decided.",
		list: func(tx *store.Tx, in *recommendationsWanted) ([]models.Recommendation, error) {
			return tx.Recommendations(models.RecommendationFilter{MeetingID: in.Meeting, PlayerID: in.Player})
		},
		get: (*store.Tx).Recommendation, create: (*store.Tx).CreateRecommendation,
		update: (*store.Tx).UpdateRecommendation, remove: (*store.Tx).DeleteRecommendation,
		record:   func(r *models.Recommendation) *models.Record { return &r.Record },
		optional: []string{"author_id"},
		keep: func(now, sent *models.Recommendation) {
			if sent.AuthorID == 0 {
				sent.AuthorID = now.AuthorID
			}
		},
		example: models.Recommendation{Record: exampleRecord(12), MeetingID: 6, PlayerID: examplePlayer,
			AuthorID: exampleUser, View: models.RecommendChoose,
			Text: "Has done what we agreed since September, and helps the younger ones do it."},
	})
}

type correctionsWanted struct {
	Page
	InSquad
	Player  int64 `query:"player" minimum:"1" doc:"Only corrections about this player."`
	Meeting int64 `query:"meeting" minimum:"1" doc:"Only corrections of this meeting."`
}

func corrections(s *Service) {
	add(s, resource[models.Correction, correctionsWanted]{
		name: "correction", many: "corrections", path: "/corrections", part: selectionPart,
		order: "by meeting, in the order they were written",
		about: "A correction follows the record of a closed meeting: what is right instead, and why. It is never " +
			"changed and " +
			"not deleted.",
		list: func(tx *store.Tx, in *correctionsWanted) ([]models.Correction, error) {
			return tx.Corrections(models.CorrectionFilter{MeetingID: in.Meeting, PlayerID: in.Player})
		},
		get: (*store.Tx).Correction, create: (*store.Tx).AddCorrection,
		record: func(c *models.Correction) *models.Record { return &c.Record },
		fixed:  []string{"author_id"},
		example: models.Correction{Record: exampleRecord(13), MeetingID: 6, AuthorID: exampleUser,
			Text: "The trial was on 15 March.", Why: "The county moved it after the meeting."},
	})
}

type feedbackWanted struct {
	Page
	Dated
	InSeason
	InSquad
	Meeting int64 `query:"meeting" minimum:"1" doc:"Only feedback of this meeting."`
	Player  int64 `query:"player" minimum:"1" doc:"Only feedback to this player."`
}

func feedback(s *Service) {
	add(s, resource[models.Feedback, feedbackWanted]{
		name: "feedback", many: "feedback", path: "/selection-feedback", part: selectionPart,
		order: "by the day of the meeting",
		about: "Feedback is what a player is told about a meeting’s decision. Closing the meeting drafts it from " +
			"the reason. " +
			"A coach makes it their own, tells the player in person, records who did and when, and only then releases it. " +
			"The player reads it from then on, and never before; what was released stays as it is.",
		list: func(tx *store.Tx, in *feedbackWanted) ([]models.Feedback, error) {
			return tx.Feedbacks(models.FeedbackFilter{MeetingID: in.Meeting, PlayerID: in.Player})
		},
		get: (*store.Tx).Feedback, update: (*store.Tx).UpdateFeedback,
		record: func(b *models.Feedback) *models.Record { return &b.Record },
		fixed:  []string{"meeting_id", "player_id", "place", "decision", "date", "released_at", "released_by"},
		example: models.Feedback{Record: exampleRecord(14), MeetingID: 6, PlayerID: examplePlayer, Place: "Back row",
			Decision: models.Reserve, Date: "2026-03-02", ToldOn: some[models.Date]("2026-03-03"),
			ToldBy: some[int64](exampleUser),
			Text:   "You are in reserve for the back row. Keep working on the second tackle: it is nearly there."},
	})
}
