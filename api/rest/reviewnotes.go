package rest

import (
	"net/http"

	"throughline/models"
	"throughline/models/store"
)

type reviewNotesWanted struct {
	Page
	Dated
	InSquad
	InMatch
	OnSkill
	OnGoal
	Season int64 `query:"season" minimum:"1" doc:"Only notes dated in this season."`
	Player int64 `query:"player" minimum:"1" doc:"Only notes on this player."`
}

func reviewNotes(s *Service) {
	x := resource[models.ReviewNote, reviewNotesWanted]{
		name: "review note", many: "review notes", path: "/review-notes", part: development, order: "by date",
		about: "A review note is what a coach writes about how a player played, for staff only or shared with the player. " +
			"Write shared notes to the player, as if you were talking to them. Notes for staff only never appear in a paper " +
			"that is handed out. Do not write about safeguarding concerns in a note: tell the safeguarding lead. A note " +
			"cannot move to another player. If its text changes after the player read it, it counts as unread again and " +
			"changed_since_read_at says so.",
		list: func(tx *store.Tx, in *reviewNotesWanted) ([]models.ReviewNote, error) {
			return tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: in.Player, SeasonID: in.Season})
		},
		get: (*store.Tx).ReviewNote, create: (*store.Tx).CreateReviewNote, update: (*store.Tx).UpdateReviewNote,
		remove:   (*store.Tx).DeleteReviewNote,
		record:   func(r *models.ReviewNote) *models.Record { return &r.Record },
		kept:     true,
		optional: []string{"author_id", "shared"}, fixed: []string{"read_at", "changed_since_read_at", "followed_up_at"},
		keep: func(now, sent *models.ReviewNote) {
			if sent.AuthorID == 0 {
				sent.AuthorID = now.AuthorID
			}
		},
		tag: func(n *models.ReviewNote) string { return markTag(n.Version, n.ReadAt, n.FollowedUpAt) },
		example: models.ReviewNote{
			Record: exampleRecord(15), PlayerID: examplePlayer, AuthorID: exampleUser, Date: "2025-09-08",
			MatchID: some[int64](exampleMatch), Skill: "tackle",
			Shared: true, Text: "Have a look at 12:34: feet first, then shoulder. Keep doing that.",
			FollowUp: some(models.Date("2025-09-22")),
		},
	}
	add(s, x)
	note := content{media: jsonType, example: x.example}
	mark := func(o operation, do func(*store.Tx, int64) error) {
		o.method, o.part, o.gives = http.MethodPost, development, []content{note}
		does(s, o, func(r *request, in *one) (*reply, error) {
			var now models.ReviewNote
			err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
				if err := do(tx, in.ID); err != nil {
					return err
				}
				now, err = tx.ReviewNote(in.ID)
				return err
			})
			if err != nil {
				return nil, err
			}
			return done(http.StatusOK, x.tagOf(&now), now)
		})
	}
	mark(operation{
		path: "/review-notes/{id}/read", id: "mark-review-note-read",
		summary: "Mark a review note as read",
		about: "The player marks a shared note as read. It is the only change to a note that a player can make. Doing it " +
			"again changes nothing.",
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, (*store.Tx).MarkReviewNoteRead)
	mark(operation{
		path: "/review-notes/{id}/followed-up", id: "mark-review-note-followed-up",
		summary: "Mark a review note as followed up",
		about: "The author, or a manager, marks the follow-up of a note as done, so it waits no longer. Doing it again " +
			"changes nothing.",
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, (*store.Tx).FollowedUpNote)
}
