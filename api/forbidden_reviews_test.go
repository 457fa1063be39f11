package api_test

import (
	"net/http"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// written keeps a review of a new player by the coach of the squad, changed as said. The player has a user.
func (s *stage) written(t *testing.T, player models.Player, change func(*models.Review)) models.Review {
	t.Helper()
	r := models.Review{PlayerID: player.ID, SeasonID: s.Season.ID, SquadID: s.Under18.ID, Date: "2025-10-20",
		Summary: "Better feet than in September.", NextStep: "Two looks before each ball.", Shared: true}
	change(&r)
	s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateReview(&r) })
	return r
}

// noted keeps a review note by the coach.
func (s *stage) noted(t *testing.T, player int64, shared bool) int64 {
	t.Helper()
	n := models.ReviewNote{PlayerID: player, Date: "2025-10-02", Shared: shared, Text: "Feet first."}
	s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateReviewNote(&n) })
	return n.ID
}

// reviewSteps are what no one does to a review.
func reviewSteps() []forbidden {
	asIs := func(*models.Review) {}
	draft := func(r *models.Review) { r.Shared = false }
	of := func(change func(*models.Review)) func(*testing.T, *stage) given {
		return func(t *testing.T, s *stage) given { return given{"review": s.written(t, s.Bryn, change).ID} }
	}
	body := func(more string) string {
		return `{"player_id": {player}, "season_id": {season}, "squad_id": {squad}, "date": "2025-10-20", ` +
			`"summary": "Typed and not lost."` + more + `}`
	}
	const typed = "summary=Typed+and+not+lost."
	read := func(t *testing.T, s *stage) given {
		r := s.written(t, s.Bryn, asIs)
		s.as(t, "bryn", func(tx *store.Tx) error { return tx.MarkReviewRead(r.ID) })
		return given{"review": r.ID, "version": r.Version, "player": s.Bryn.ID, "season": s.Season.ID,
			"squad": s.Under18.ID}
	}
	bundling := func(note func(*testing.T, *stage) int64) func(*testing.T, *stage) given {
		return func(t *testing.T, s *stage) given {
			r := s.written(t, s.Bryn, draft)
			return given{"review": r.ID, "version": r.Version, "player": s.Bryn.ID, "season": s.Season.ID,
				"squad": s.Under18.ID, "note": note(t, s)}
		}
	}
	made := func(s *stage, r models.Review) given {
		return given{"review": r.ID, "version": r.Version, "player": r.PlayerID, "season": s.Season.ID,
			"squad": s.Under18.ID}
	}
	shared := func(t *testing.T, s *stage) given {
		day := models.Date("2025-10-30")
		return made(s, s.written(t, s.Bryn, func(r *models.Review) { r.FollowUp = &day }))
	}
	another := func(t *testing.T, s *stage) given { return made(s, s.written(t, s.Owen, asIs)) }
	byManager := func(t *testing.T, s *stage) given {
		day := models.Date("2025-10-30")
		r := models.Review{PlayerID: s.Bryn.ID, SeasonID: s.Season.ID, SquadID: s.Under18.ID, Date: "2025-10-20",
			Summary: "By the manager.", FollowUp: &day}
		s.as(t, "mabyn", func(tx *store.Tx) error { return tx.CreateReview(&r) })
		return made(s, r)
	}
	following := func(t *testing.T, s *stage) given {
		day := models.Date("2025-10-30")
		n := models.ReviewNote{PlayerID: s.Bryn.ID, Date: "2025-10-02", Text: "Ask again.", Shared: true, FollowUp: &day}
		s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateReviewNote(&n) })
		return given{"note": n.ID}
	}
	one := []string{"/reviews/{review}"}
	change := func(step forbidden, more, form string) forbidden {
		step.rest = restStep{method: http.MethodPut, path: "/reviews/{review}", body: body(more), match: "*",
			want: step.rest.want}
		step.page = pageStep{path: "/reviews/{review}", form: "version={version}&" + typed + form, keeps: step.page.keeps,
			want: step.page.want}
		step.unchanged = one
		return step
	}
	refused := func(name, who, reason string, rest, page int, setup func(*testing.T, *stage) given) forbidden {
		f := forbidden{name: name, who: who, setup: setup, reason: reason, rest: restStep{want: rest},
			page: pageStep{want: page}}
		if page == http.StatusUnprocessableEntity || page == http.StatusPreconditionFailed {
			f.page.keeps = "Typed and not lost."
		}
		return f
	}
	const forbids, invalid, conflict, stale = http.StatusForbidden, http.StatusUnprocessableEntity, http.StatusConflict,
		http.StatusPreconditionFailed
	all := []forbidden{
		{
			name: "a player does not mark a draft as read, for it is not there", who: "bryn", setup: of(draft),
			rest:   restStep{method: http.MethodPost, path: "/reviews/{review}/read", want: http.StatusNotFound},
			page:   pageStep{path: "/reviews/{review}/read", want: http.StatusNotFound},
			reason: "there is no review {review}", unchanged: one,
		},
		{
			name: "a player does not answer a draft, for it is not there", who: "bryn", setup: of(draft),
			rest: restStep{method: http.MethodPost, path: "/reviews/{review}/answers", body: `{"text": "Thank you."}`,
				want: http.StatusNotFound},
			page:   pageStep{path: "/reviews/{review}/answers", form: "text=Thank+you.", want: http.StatusNotFound},
			reason: "there is no review {review}", unchanged: append([]string{"/reviews/{review}/answers"}, one...),
		},
		{
			name: "a selector does not reach a draft", who: "sorrel", setup: of(draft),
			rest:   restStep{method: http.MethodPost, path: "/reviews/{review}/read", want: http.StatusNotFound},
			page:   pageStep{path: "/reviews/{review}/read", want: http.StatusNotFound},
			reason: "there is no review {review}", unchanged: one,
		},
		{
			name: "staff do not answer a draft", who: "mabyn", setup: of(draft),
			rest: restStep{method: http.MethodPost, path: "/reviews/{review}/answers", body: `{"text": "Thank you."}`,
				want: conflict},
			page: pageStep{path: "/reviews/{review}/answers", form: "text=Thank+you.", keeps: "Thank you.",
				want: invalid},
			reason: "only reviews shared with the player take replies", unchanged: one,
		},
		{
			name: "staff do not mark a review as read", who: "ansel", setup: of(asIs),
			rest:   restStep{method: http.MethodPost, path: "/reviews/{review}/read", want: forbids},
			page:   pageStep{path: "/reviews/{review}/read", want: forbids},
			reason: "only the player can mark a review as read", unchanged: one,
		},
		{
			name: "a selector does not answer a review", who: "sorrel", setup: of(asIs),
			rest: restStep{method: http.MethodPost, path: "/reviews/{review}/answers", body: `{"text": "Fine."}`,
				want: forbids},
			page:   pageStep{path: "/reviews/{review}/answers", form: "text=Fine.", want: forbids},
			reason: "a selector may not change review answer records", unchanged: one,
		},
		{
			name: "no one answers a minor's review that only one of the staff can read", who: "mabyn",
			setup: func(t *testing.T, s *stage) given {
				p := models.Player{Name: "Jory Penhale", Positions: []models.Position{models.Hooker}}
				r := models.Review{SeasonID: s.Season.ID, SquadID: s.Under16.ID, Date: "2025-10-20", Summary: "Better feet.",
					NextStep: "Two looks.", Shared: true}
				s.as(t, "mabyn", func(tx *store.Tx) error { // the under 16s have no coach
					if err := tx.CreatePlayer(&p); err != nil {
						return err
					}
					r.PlayerID = p.ID
					if err := tx.CreateMembership(&models.Membership{SeasonID: s.Season.ID, SquadID: s.Under16.ID, PlayerID: p.ID,
						From: s.Season.Starts}); err != nil {
						return err
					}
					return tx.CreateReview(&r)
				})
				return given{"review": r.ID}
			},
			rest: restStep{method: http.MethodPost, path: "/reviews/{review}/answers", body: `{"text": "Typed and kept."}`,
				want: conflict},
			page: pageStep{path: "/reviews/{review}/answers", form: "text=Typed+and+kept.", keeps: "Typed and kept.",
				want: invalid},
			reason: "is a minor, so at least 2", unchanged: append([]string{"/reviews/{review}/answers"}, one...),
		},
		{
			name: "the author of a review is not the second reader of its reply", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				reply := models.ReviewAnswer{ReviewID: s.written(t, s.Bryn, asIs).ID, Text: "Two looks, yes."}
				s.as(t, "bryn", func(tx *store.Tx) error { return tx.AnswerReview(&reply) })
				return given{"reply": reply.ID}
			},
			rest:   restStep{method: http.MethodPost, path: "/review-answers/{reply}/seen", want: forbids},
			page:   pageStep{path: "/safety/review-answers/{reply}/seen", want: forbids},
			reason: "another staff member must confirm this reply", unchanged: []string{"/review-answers/{reply}"},
		},
		{
			name: "a review that the player has read is not deleted", who: "ansel", setup: read,
			rest: restStep{method: http.MethodDelete, path: "/reviews/{review}", match: "*", want: conflict},
			page: pageStep{path: "/reviews/{review}/delete", form: "version={version}", keeps: "the earlier text is kept",
				want: invalid},
			reason: "the player has read review {review}", unchanged: one,
		},
		{
			name: "a review with a reply is not deleted", who: "mabyn",
			setup: func(t *testing.T, s *stage) given {
				r := s.written(t, s.Bryn, asIs)
				s.as(t, "bryn", func(tx *store.Tx) error {
					return tx.AnswerReview(&models.ReviewAnswer{ReviewID: r.ID, Text: "Two looks, yes."})
				})
				return given{"review": r.ID, "version": r.Version}
			},
			rest: restStep{method: http.MethodDelete, path: "/reviews/{review}", match: "*", want: conflict},
			page: pageStep{path: "/reviews/{review}/delete", form: "version={version}", keeps: "Two looks, yes.",
				want: invalid},
			reason: "cannot be deleted while it has replies", unchanged: one,
		},
		{
			name: "a coach does not mark another's follow-up as done", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				day := models.Date("2025-10-30")
				n := models.ReviewNote{PlayerID: s.Bryn.ID, Date: "2025-10-02", Text: "Ask again.", FollowUp: &day}
				s.as(t, "mabyn", func(tx *store.Tx) error { return tx.CreateReviewNote(&n) })
				return given{"note": n.ID}
			},
			rest:   restStep{method: http.MethodPost, path: "/review-notes/{note}/followed-up", want: forbids},
			page:   pageStep{path: "/review-notes/{note}/followed-up", want: forbids},
			reason: "may not change this review note", unchanged: []string{"/review-notes/{note}"},
		},
		{
			name: "a player does not mark another's review as read, for it is not there", who: "bryn", setup: another,
			rest:   restStep{method: http.MethodPost, path: "/reviews/{review}/read", want: http.StatusNotFound},
			page:   pageStep{path: "/reviews/{review}/read", want: http.StatusNotFound},
			reason: "there is no review {review}", unchanged: one,
		},
		{
			name: "a player does not answer another's review, for it is not there", who: "bryn", setup: another,
			rest: restStep{method: http.MethodPost, path: "/reviews/{review}/answers", body: `{"text": "Thank you."}`,
				want: http.StatusNotFound},
			page:   pageStep{path: "/reviews/{review}/answers", form: "text=Thank+you.", want: http.StatusNotFound},
			reason: "there is no review {review}", unchanged: append([]string{"/reviews/{review}/answers"}, one...),
		},
		{
			name: "a coach does not delete another's review", who: "ansel", setup: byManager,
			rest:   restStep{method: http.MethodDelete, path: "/reviews/{review}", match: "*", want: forbids},
			page:   pageStep{path: "/reviews/{review}/delete", form: "version={version}", want: forbids},
			reason: "may not change this review", unchanged: one,
		},
		{
			name: "a player does not delete a review", who: "bryn", setup: shared,
			rest:   restStep{method: http.MethodDelete, path: "/reviews/{review}", match: "*", want: forbids},
			page:   pageStep{path: "/reviews/{review}/delete", form: "version={version}", want: forbids},
			reason: "a player may not change review records", unchanged: one,
		},
		{
			name: "a player does not mark a follow-up as done", who: "bryn", setup: following,
			rest:   restStep{method: http.MethodPost, path: "/review-notes/{note}/followed-up", want: forbids},
			page:   pageStep{path: "/review-notes/{note}/followed-up", want: forbids},
			reason: "a player may not change review note records", unchanged: []string{"/review-notes/{note}"},
		},
		{
			name: "a player does not mark the follow-up of a review as done", who: "bryn", setup: shared,
			rest:   restStep{method: http.MethodPost, path: "/reviews/{review}/followed-up", want: forbids},
			page:   pageStep{path: "/reviews/{review}/followed-up", want: forbids},
			reason: "a player may not change review records", unchanged: one,
		},
		{
			name: "a coach does not mark the follow-up of another's review as done", who: "ansel", setup: byManager,
			rest:   restStep{method: http.MethodPost, path: "/reviews/{review}/followed-up", want: forbids},
			page:   pageStep{path: "/reviews/{review}/followed-up", want: forbids},
			reason: "may not change this review", unchanged: one,
		},
		{
			name: "a review without a follow-up has none to mark as done", who: "ansel", setup: of(asIs),
			rest: restStep{method: http.MethodPost, path: "/reviews/{review}/followed-up", want: conflict},
			page: pageStep{path: "/reviews/{review}/followed-up", want: invalid}, reason: "has no day for a follow-up",
			unchanged: one,
		},
		{
			name: "a note without a follow-up has none to mark as done", who: "ansel",
			setup: func(t *testing.T, s *stage) given { return given{"note": s.noted(t, s.Bryn.ID, true)} },
			rest:  restStep{method: http.MethodPost, path: "/review-notes/{note}/followed-up", want: conflict},
			page:  pageStep{path: "/review-notes/{note}/followed-up", want: invalid}, reason: "has no day for a follow-up",
			unchanged: []string{"/review-notes/{note}"},
		},
		{
			name: "a coach does not set a squad's cycle", who: "ansel",
			setup: func(t *testing.T, s *stage) given { return given{"squad": s.Under18.ID, "version": s.Under18.Version} },
			rest: restStep{method: http.MethodPut, path: "/squads/{squad}", body: `{"name": "Under 18", "review_weeks": 4}`,
				match: "*", want: forbids},
			page:   pageStep{path: "/squads/{squad}/review-weeks", form: "version={version}&weeks=4", want: forbids},
			reason: "a coach may not change squad records", unchanged: []string{"/squads/{squad}"},
		},
		{
			name: "a cycle is at most a year", who: "mabyn",
			setup: func(t *testing.T, s *stage) given { return given{"squad": s.Under18.ID, "version": s.Under18.Version} },
			rest: restStep{method: http.MethodPut, path: "/squads/{squad}", body: `{"name": "Under 18", "review_weeks": 53}`,
				match: "*", want: invalid},
			page: pageStep{path: "/squads/{squad}/review-weeks", form: "version={version}&weeks=53", keeps: `value="53"`,
				want: invalid},
			reason: "52", unchanged: []string{"/squads/{squad}"},
		},
	}
	return append(all,
		change(refused("a review that the player has read stays shared", "ansel", "must stay shared with the player",
			conflict,
			invalid, read), `, "shared": false`, "&share=no"),
		change(refused("a review is not shared without a next step", "ansel", "keep the review as a draft", invalid, invalid,
			bundling(func(*testing.T, *stage) int64 {
				return 0
			})), `, "shared": true`, "&share=yes"),
		change(refused("another player's note is not in a review", "ansel", "is about another player", invalid, invalid,
			bundling(func(t *testing.T, s *stage) int64 { return s.noted(t, s.Owen.ID, true) })),
			`, "note_ids": [{note}]`, "&note_ids={note}&share=no"),
		change(refused("another player's note is not in the part for staff", "ansel", "is about another player", invalid,
			invalid, bundling(func(t *testing.T, s *stage) int64 { return s.noted(t, s.Owen.ID, false) })),
			`, "staff_note_ids": [{note}]`, "&staff_note_ids={note}&share=no"),
		change(refused("a note for staff only is not in what the player reads", "ansel", "is for staff only", invalid,
			invalid, bundling(func(t *testing.T, s *stage) int64 { return s.noted(t, s.Bryn.ID, false) })),
			`, "note_ids": [{note}], "shared": true, "next_step": "Two looks."`, "&note_ids={note}&next_step=Two&share=yes"),
		change(refused("a coach does not change another's review", "ansel", "may not change this review", forbids, forbids,
			byManager), ``, "&share=no"),
		change(refused("a player does not change a review", "bryn", "a player", forbids, forbids, shared), ``,
			"&share=yes"),
		change(refused("a selector does not change a review", "sorrel", "a selector", forbids, forbids, shared), ``,
			"&share=yes"),
		secondEditor(body(`, "shared": true, "next_step": "Two looks."`), typed+"&next_step=Two+looks.", stale),
		unwritten("a player does not write a review", "bryn", body("")),
		unwritten("a selector does not write a review", "sorrel", body("")),
		forbidden{
			name: "a coach does not write a review for another squad", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				return given{"player": s.Owen.ID, "season": s.Season.ID, "squad": s.Under16.ID} // Owen is in both
			},
			rest:   restStep{method: http.MethodPost, path: "/reviews", body: body(""), want: forbids},
			page:   pageStep{path: "/players/{player}/reviews", form: "squad_id={squad}&share=no&" + typed, want: forbids},
			reason: "may not write reviews for", unchanged: []string{"/reviews?player={player}&squad={squad}"},
		},
		forbidden{
			name: "a player is not reviewed in a squad that they are not in", who: "mabyn",
			setup: func(t *testing.T, s *stage) given {
				return given{"player": s.Bryn.ID, "season": s.Season.ID, "squad": s.Under16.ID}
			},
			rest: restStep{method: http.MethodPost, path: "/reviews", body: body(""), want: invalid},
			page: pageStep{path: "/players/{player}/reviews", form: "squad_id={squad}&share=no&" + typed,
				keeps: "Typed and not lost.", want: invalid},
			reason: "this season; choose a squad of the player", unchanged: []string{"/reviews?player={player}&squad={squad}"},
		},
	)
}

// secondEditor is a change from a version that another change has replaced.
func secondEditor(body, typed string, stale int) forbidden {
	return forbidden{
		name: "the second editor of a review is told what changed", who: "mabyn",
		setup: func(t *testing.T, s *stage) given {
			r := s.written(t, s.Bryn, func(*models.Review) {})
			changed := r
			changed.Summary = "Changed by the coach meanwhile."
			s.as(t, "ansel", func(tx *store.Tx) error { return tx.UpdateReview(&changed) })
			return given{"review": r.ID, "version": r.Version, "player": s.Bryn.ID, "season": s.Season.ID,
				"squad": s.Under18.ID}
		},
		rest: restStep{method: http.MethodPut, path: "/reviews/{review}", body: body, match: `"{version}"`, want: stale},
		page: pageStep{path: "/reviews/{review}", form: "version={version}&share=yes&" + typed,
			keeps: "Typed and not lost.", want: stale},
		reason: "Changed by the coach meanwhile.", unchanged: []string{"/reviews/{review}"},
	}
}

// unwritten is a review by a user who writes none.
func unwritten(name, who, body string) forbidden {
	role, _, _ := strings.Cut(name, " does not")
	return forbidden{
		name: name, who: who,
		setup: func(_ *testing.T, s *stage) given {
			return given{"player": s.Bryn.ID, "season": s.Season.ID, "squad": s.Under18.ID}
		},
		rest: restStep{method: http.MethodPost, path: "/reviews", body: body, want: http.StatusForbidden},
		page: pageStep{path: "/players/{player}/reviews", form: "squad_id={squad}&share=no&summary=Typed.",
			want: http.StatusForbidden},
		reason: role, unchanged: []string{"/reviews?player={player}"},
	}
}
