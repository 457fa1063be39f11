package rest

import (
	"net/http"
	"reflect"
	"strconv"

	"throughline/models"
	"throughline/models/store"
)

// onAnswered is the input of what is done to the answers of a review note or a review.
type onAnswered struct {
	ID int64 `path:"id" minimum:"1" doc:"The id of the review note or the review"`
}

// answersWanted is onAnswered for a list. The library ignores an embedded struct that has a name of our own, so the id
// is repeated here.
type answersWanted struct {
	ID int64 `path:"id" minimum:"1" doc:"The id of the review note or the review"`
	Page
}

// answering is a kind of answer: to what it is, and how it is read and written.
type answering[A any] struct {
	to, short string // what is answered, in full and in short
	of, path  string // the addresses of what is answered, and of answers
	name      string // in the ids of operations
	fixed     []string
	example   A
	record    func(*A) *models.Record
	list      func(*store.Tx, int64) ([]A, error)
	answered  func(*store.Tx, int64) error // reads what is answered, so that it is known to be there
	create    func(tx *store.Tx, a *A, to int64) error
	get       func(*store.Tx, int64) (A, error)
	see       func(*store.Tx, int64) (A, error)
	seen      func(*A) // makes of the example one that was seen
}

func noteAnswers(s *Service) {
	addAnswers(s, answering[models.NoteAnswer]{
		to: "review note", short: "note", of: "/review-notes", path: "/note-answers", name: "answer",
		fixed: []string{"note_id", "author_id", "seen_by", "seen_at"},
		example: models.NoteAnswer{Record: exampleRecord(4), NoteID: 15, AuthorID: exampleUser,
			Text: "Watched it. I was too square on, wasn't I?"},
		record: func(a *models.NoteAnswer) *models.Record { return &a.Record },
		list:   (*store.Tx).NoteAnswers,
		answered: func(tx *store.Tx, id int64) error {
			_, err := tx.ReviewNote(id)
			return err
		},
		create: func(tx *store.Tx, a *models.NoteAnswer, to int64) error {
			a.NoteID, a.AuthorID = to, 0
			return tx.AnswerNote(a)
		},
		get: (*store.Tx).NoteAnswer, see: (*store.Tx).SeeNoteAnswer,
		seen: func(a *models.NoteAnswer) { a.SeenBy, a.SeenAt = some[int64](exampleUser+1), &a.CreatedAt },
	})
}

func reviewAnswers(s *Service) {
	addAnswers(s, answering[models.ReviewAnswer]{
		to: "review", short: "review", of: "/reviews", path: "/review-answers", name: "review-answer",
		fixed: []string{"review_id", "author_id", "seen_by", "seen_at"},
		example: models.ReviewAnswer{Record: exampleRecord(4), ReviewID: 21, AuthorID: exampleUser,
			Text: "Two looks, yes. I'll count them on Saturday."},
		record: func(a *models.ReviewAnswer) *models.Record { return &a.Record },
		list:   (*store.Tx).ReviewAnswers,
		answered: func(tx *store.Tx, id int64) error {
			_, err := tx.Review(id)
			return err
		},
		create: func(tx *store.Tx, a *models.ReviewAnswer, to int64) error {
			a.ReviewID, a.AuthorID = to, 0
			return tx.AnswerReview(a)
		},
		get: (*store.Tx).ReviewAnswer, see: (*store.Tx).SeeReviewAnswer,
		seen: func(a *models.ReviewAnswer) { a.SeenBy, a.SeenAt = some[int64](exampleUser+1), &a.CreatedAt },
	})
}

// addAnswers registers the operations of a kind of answer.
func addAnswers[A any](s *Service, x answering[A]) {
	about := "An answer is a reply by the player or a staff member to a " + x.to + " shared with the player. " +
		"Answers are never private: all staff who can read the " + x.short + " see all of them. If the player is a " +
		"minor, at least two managers or coaches must be able to read the " + x.short + " before anyone can reply. " +
		"Answers are never changed or deleted. Do not write about a safeguarding concern here: tell the academy's " +
		"safeguarding lead at once, in person."
	s.shapes[reflect.TypeFor[A]()] = shape{fixed: x.fixed}
	tag := func(a *A) string { return versionTag(x.record(a).Version) }
	answer := content{media: jsonType, example: x.example}
	does(s, operation{
		method: http.MethodGet, path: x.of + "/{id}/answers", id: "list-" + x.name + "s",
		summary: "List the answers to " + article(x.to), part: development,
		about: about + "\n\nOldest first.", gives: listed(x.example),
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *answersWanted) (*reply, error) {
		return paged(s, r, &in.Page, func(tx *store.Tx) ([]A, error) {
			found, err := x.list(tx, in.ID)
			if err != nil || len(found) > 0 {
				return found, err
			}
			return found, x.answered(tx, in.ID)
		})
	})
	does(s, operation{
		method: http.MethodPost, path: x.of + "/{id}/answers", id: "create-" + x.name, summary: "Answer " + article(x.to),
		part: development, about: about,
		takes: &answer, gives: []content{answer}, created: true, keyed: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *onAnswered) (*reply, error) {
		var sent A
		if err := s.read(r, s.schemaOf(reflect.TypeFor[A]()), &sent); err != nil {
			return nil, err
		}
		err := s.making(r, func(tx *store.Tx) ([]int64, error) {
			if err := x.answered(tx, in.ID); err != nil {
				return nil, err
			}
			err := inBody(x.create(tx, &sent, in.ID))
			return []int64{x.record(&sent).ID}, err
		}, func(tx *store.Tx, made []int64) (err error) {
			sent, err = x.get(tx, made[0])
			return err
		})
		if err != nil {
			return nil, err
		}
		out, err := done(http.StatusCreated, tag(&sent), sent)
		if err != nil {
			return nil, err
		}
		out.Location = Path + x.path + "/" + strconv.FormatInt(x.record(&sent).ID, 10)
		return out, nil
	})
	of := ""
	if x.name != "answer" {
		of = " to " + article(x.to)
	}
	does(s, operation{
		method: http.MethodGet, path: x.path + "/{id}", id: "get-" + x.name, summary: "Read an answer" + of,
		part: development, about: about,
		gives: []content{answer}, refusals: []int{http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		var found A
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			found, err = x.get(tx, in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON(tag(&found), found)
	})
	seen := x.example
	x.seen(&seen)
	does(s, operation{
		method: http.MethodPost, path: x.path + "/{id}/seen", id: "mark-" + x.name + "-seen",
		summary: "Mark an answer" + of + " as seen", part: development,
		about: "A staff member who wrote neither the " + x.short + " nor the answer confirms that they have seen it. " +
			"Doing it again changes nothing.",
		gives: []content{{media: jsonType, example: seen}}, refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		var found A
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			found, err = x.see(tx, in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, tag(&found), found)
	})
}
