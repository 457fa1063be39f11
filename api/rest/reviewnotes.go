package rest

import (
	"net/http"
	"strconv"

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
			"cannot move to another player. If its text changes, it counts as unread again.",
		list: func(tx *store.Tx, in *reviewNotesWanted) ([]models.ReviewNote, error) {
			return tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: in.Player, SeasonID: in.Season})
		},
		get: (*store.Tx).ReviewNote, create: (*store.Tx).CreateReviewNote, update: (*store.Tx).UpdateReviewNote,
		remove:   (*store.Tx).DeleteReviewNote,
		record:   func(r *models.ReviewNote) *models.Record { return &r.Record },
		optional: []string{"author_id", "shared"}, fixed: []string{"read_at"},
		keep: func(now, sent *models.ReviewNote) {
			if sent.AuthorID == 0 {
				sent.AuthorID = now.AuthorID
			}
		},
		// Reading a note leaves its version alone, but not what is answered.
		tag: func(n *models.ReviewNote) string {
			if n.ReadAt == nil {
				return versionTag(n.Version)
			}
			return `"` + strconv.FormatInt(n.Version, 10) + `-read"`
		},
		example: models.ReviewNote{
			Record: exampleRecord(15), PlayerID: examplePlayer, AuthorID: exampleUser, Date: "2025-09-08",
			MatchID: some[int64](exampleMatch), Skill: "tackle",
			Shared: true, Text: "Have a look at 12:34: feet first, then shoulder. Keep doing that.",
			FollowUp: some(models.Date("2025-09-22")),
		},
	}
	add(s, x)
	does(s, operation{
		method: http.MethodPost, path: "/review-notes/{id}/read", id: "mark-review-note-read",
		summary: "Mark a review note as read", part: development,
		about: "The player marks a shared note as read. It is the only change to a note that a player can make. Doing it " +
			"again changes nothing.",
		gives: []content{{media: jsonType, example: x.example}}, refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		var note models.ReviewNote
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			if err := tx.MarkReviewNoteRead(in.ID); err != nil {
				return err
			}
			note, err = tx.ReviewNote(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, x.tagOf(&note), note)
	})
}
