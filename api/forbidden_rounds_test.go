package api_test

import (
	"net/http"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// roundSteps are steps that no coach or selector may take in a rating round.
func roundSteps() []forbidden {
	// gradedRound is a round of one skill for a block on a day, with one player to grade.
	gradedRound := func(t *testing.T, s *stage, name string, day, closes models.Date) given {
		p := s.player(t, "Player of "+name)
		r := models.RatingRound{SeasonID: s.Season.ID, SquadID: s.Under18.ID, Name: name, Date: day, Block: name,
			Closes: closes, Skills: []string{"tackle"}}
		s.as(t, "", func(tx *store.Tx) error { return tx.CreateRatingRound(&r) })
		return given{"round": r.ID, "player": p.ID, "block": name, "day": day}
	}
	const body = `{"player_id": {player}, "skill": "tackle", "grade": 4, "date": "{day}", "block": "{block}",
		"comment": "Late thought."}`
	const form = "g-{player}-tackle=4&c-{player}-tackle=Late+thought."
	return []forbidden{
		{
			name: "no coach grades after the round has closed", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				return gradedRound(t, s, "Closed block", "2025-10-01", "2025-10-08")
			},
			rest:      restStep{method: http.MethodPost, path: "/ratings", body: body, want: http.StatusConflict},
			page:      pageStep{path: "/rating-rounds/{round}", form: form, want: http.StatusUnprocessableEntity},
			reason:    "the round for these grades closed after 2025-10-08",
			unchanged: []string{"/ratings", "/rating-rounds/{round}"},
		},
		{
			name: "a selector gives no grades", who: "sorrel",
			setup: func(t *testing.T, s *stage) given {
				return gradedRound(t, s, "Open block", "2026-03-10", "2026-06-30")
			},
			rest:   restStep{method: http.MethodPost, path: "/ratings", body: body, want: http.StatusForbidden},
			page:   pageStep{path: "/rating-rounds/{round}", form: form, want: http.StatusForbidden},
			reason: "may not", unchanged: []string{"/ratings", "/rating-rounds/{round}"},
		},
		{
			name: "no coach gives a second grade for the same occasion", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				made := gradedRound(t, s, "Graded block", "2026-03-10", "2026-06-30")
				s.as(t, "ansel", func(tx *store.Tx) error {
					return tx.CreateRating(&models.Rating{PlayerID: made["player"].(int64), Skill: "tackle", Grade: 2,
						Date: "2026-03-10", Block: "Graded block"})
				})
				return made
			},
			rest:   restStep{method: http.MethodPost, path: "/ratings", body: body, want: http.StatusConflict},
			page:   pageStep{path: "/rating-rounds/{round}", form: form, want: http.StatusUnprocessableEntity},
			reason: "this person has already rated the skill", unchanged: []string{"/ratings", "/rating-rounds/{round}"},
		},
	}
}
