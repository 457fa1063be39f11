package api_test

import (
	"net/http"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// safetySteps are steps that only another person may take.
func safetySteps() []forbidden {
	return []forbidden{
		{
			name: "a coach does not lift a stand-down", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				down := models.StandDown{PlayerID: s.player(t, "Hob Tiller").ID, From: "2025-11-02"}
				s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateStandDown(&down) })
				return given{"down": down.ID}
			},
			rest: restStep{method: http.MethodPost, path: "/stand-downs/{down}/lift",
				body: `{"on": "2025-11-29", "cleared_by": "Dr Ina Fold"}`, want: http.StatusForbidden},
			page: pageStep{path: "/safety/stand-downs/{down}/lift", form: "lifted_on=2025-11-29&cleared_by=Dr+Ina+Fold",
				want: http.StatusForbidden},
			reason: "only a manager can lift a stand-down", unchanged: []string{"/stand-downs/{down}"},
		},
		{
			name: "the author of a note is not the second reader of its reply", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				note := models.ReviewNote{PlayerID: s.Bryn.ID, Date: "2025-11-02", Shared: true, Text: "Watch the clip."}
				s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateReviewNote(&note) })
				reply := models.NoteAnswer{NoteID: note.ID, Text: "Watched it."}
				s.as(t, "bryn", func(tx *store.Tx) error { return tx.AnswerNote(&reply) })
				return given{"reply": reply.ID}
			},
			rest:   restStep{method: http.MethodPost, path: "/note-answers/{reply}/seen", want: http.StatusForbidden},
			page:   pageStep{path: "/safety/answers/{reply}/seen", form: "x=y", want: http.StatusForbidden},
			reason: "another staff member must confirm this reply", unchanged: []string{"/note-answers/{reply}"},
		},
	}
}
