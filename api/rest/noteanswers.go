package rest

import (
	"net/http"
	"reflect"
	"strconv"

	"throughline/models"
	"throughline/models/store"
)

// onNote is the input of what is done to a review note's answers.
type onNote struct {
	Note int64 `path:"id" minimum:"1" doc:"The id of the review note"`
}

// answersWanted is onNote for a list. The library ignores an embedded struct that has a name of our own, so the id is
// repeated here.
type answersWanted struct {
	Note int64 `path:"id" minimum:"1" doc:"The id of the review note"`
	Page
}

func noteAnswers(s *Service) {
	const about = "An answer is a reply by the player or a staff member to a review note shared with the player. " +
		"Answers are never private: all staff who can read the note see all of them. If the player is a minor, at least " +
		"two managers or coaches must be able to read the note before anyone can reply. Answers are never changed or " +
		"deleted. Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person."
	s.shapes[reflect.TypeFor[models.NoteAnswer]()] = shape{fixed: []string{"note_id", "author_id", "seen_by", "seen_at"}}
	tag := func(a *models.NoteAnswer) string { return versionTag(a.Version) }
	example := models.NoteAnswer{Record: exampleRecord(4), NoteID: 15, AuthorID: exampleUser,
		Text: "Watched it. I was too square on, wasn't I?"}
	answer := content{media: jsonType, example: example}
	does(s, operation{
		method: http.MethodGet, path: "/review-notes/{id}/answers", id: "list-answers",
		summary: "List the answers to a review note", part: development,
		about: about + "\n\nOldest first.", gives: listed(example),
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *answersWanted) (*reply, error) {
		return paged(s, r, &in.Page, func(tx *store.Tx) ([]models.NoteAnswer, error) {
			found, err := tx.NoteAnswers(in.Note)
			if err != nil || len(found) > 0 {
				return found, err
			}
			_, err = tx.ReviewNote(in.Note)
			return found, err
		})
	})
	does(s, operation{
		method: http.MethodPost, path: "/review-notes/{id}/answers", id: "create-answer", summary: "Answer a review note",
		part: development, about: about,
		takes: &answer, gives: []content{answer}, created: true, keyed: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *onNote) (*reply, error) {
		var sent models.NoteAnswer
		if err := s.read(r, s.schemaOf(reflect.TypeFor[models.NoteAnswer]()), &sent); err != nil {
			return nil, err
		}
		sent.NoteID, sent.AuthorID = in.Note, 0
		err := s.making(r, func(tx *store.Tx) ([]int64, error) {
			if _, err := tx.ReviewNote(in.Note); err != nil {
				return nil, err
			}
			err := inBody(tx.AnswerNote(&sent))
			return []int64{sent.ID}, err
		}, func(tx *store.Tx, made []int64) (err error) {
			sent, err = tx.NoteAnswer(made[0])
			return err
		})
		if err != nil {
			return nil, err
		}
		out, err := done(http.StatusCreated, tag(&sent), sent)
		if err != nil {
			return nil, err
		}
		out.Location = Path + "/note-answers/" + strconv.FormatInt(sent.ID, 10)
		return out, nil
	})
	does(s, operation{
		method: http.MethodGet, path: "/note-answers/{id}", id: "get-answer", summary: "Read an answer", part: development,
		about: about,
		gives: []content{answer}, refusals: []int{http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		var found models.NoteAnswer
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.NoteAnswer(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON(tag(&found), found)
	})
	seen := example
	seen.SeenBy, seen.SeenAt = some[int64](exampleUser+1), &seen.CreatedAt
	does(s, operation{
		method: http.MethodPost, path: "/note-answers/{id}/seen", id: "mark-answer-seen", summary: "Mark an answer as seen",
		part: development,
		about: "A staff member who wrote neither the note nor the answer confirms that they have seen it. Doing it again " +
			"changes nothing.",
		gives: []content{{media: jsonType, example: seen}}, refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		var found models.NoteAnswer
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.SeeNoteAnswer(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, tag(&found), found)
	})
}
