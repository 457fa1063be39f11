package api_test

import (
	"fmt"
	"net/http"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// The days of the rounds here. The store's clock stands on 14 March 2026.
const (
	blockDay, stillOpen, overBy = models.Date("2026-03-10"), models.Date("2026-06-30"), models.Date("2026-03-12")
)

// gradedRound is a round of one skill for a block, with one player to grade.
func (s *stage) gradedRound(t *testing.T, name string, day, closes models.Date) given {
	t.Helper()
	p := s.player(t, "Player of "+name)
	r := models.RatingRound{SeasonID: s.Season.ID, SquadID: s.Under18.ID, Name: name, Date: day, Block: name,
		Closes: closes, Skills: []string{"tackle"}}
	s.as(t, "", func(tx *store.Tx) error { return tx.CreateRatingRound(&r) })
	return given{"round": r.ID, "player": p.ID, "block": name, "day": day, "season": s.Season.ID, "squad": s.Under18.ID,
		"other_squad": s.Under16.ID, "version": r.Version}
}

// graded is a round that is open, with a grade by a coach.
func (s *stage) graded(t *testing.T, name, coach string) given {
	t.Helper()
	made := s.gradedRound(t, name, blockDay, stillOpen)
	r := models.Rating{PlayerID: made["player"].(int64), Skill: "tackle", Grade: 2, Date: blockDay, Block: name}
	s.as(t, coach, func(tx *store.Tx) error { return tx.CreateRating(&r) })
	made["grade"] = r.ID
	return made
}

// over closes a round, as a manager does.
func (s *stage) over(t *testing.T, made given) given {
	t.Helper()
	s.as(t, "mabyn", func(tx *store.Tx) error {
		r, err := tx.RatingRound(made["round"].(int64))
		if err != nil {
			return err
		}
		r.Closes = overBy
		err = tx.UpdateRatingRound(&r)
		made["version"] = r.Version
		return err
	})
	return made
}

// moment adds a moment of a player in a match of the under 18s, or an involvement that is none.
func (s *stage) moment(t *testing.T, player int64, day models.Date, marked bool) int64 {
	t.Helper()
	i := models.Involvement{Clock: models.Clock{Half: 1, Second: 600}, Kind: models.KindCarry, Moment: marked,
		Details: map[string]string{"contact": "won", "gain_line": "over"}}
	s.as(t, "", func(tx *store.Tx) error {
		m := models.Match{SeasonID: s.Season.ID, SquadID: &s.Under18.ID, Date: day, Opponent: "Moorside", Halves: 2,
			HalfMinutes: 35}
		if err := tx.CreateMatch(&m); err != nil {
			return err
		}
		if err := tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: player, Minutes: 70}); err != nil {
			return err
		}
		log := models.Log{MatchID: m.ID, PlayerID: player, LoggerID: s.user(t, "ansel").UserID, Depth: models.Core,
			Kinds: []models.Kind{models.KindCarry}}
		if err := tx.CreateLog(&log); err != nil {
			return err
		}
		i.LogID = log.ID
		return tx.CreateInvolvement(&i)
	})
	return i.ID
}

const (
	gradeBody = `{"player_id": {player}, "skill": "tackle", "grade": 4, "date": "{day}", "block": "{block}",
		"comment": "Late thought."}`
	gradeForm   = "g-{player}-tackle=4&c-{player}-tackle=Late+thought."
	againForm   = "version=1&g=4&c=Late+thought."
	roundBody   = `{"season_id": {season}, "squad_id": {squad}, "name": "{block}", "date": "{day}", "block": "{block}", `
	roundFields = "season_id={season}&squad_id={squad}&name={block}&date={day}&block={block}&version={version}"
)

// gradeSteps are steps that no one may take with a grade.
func gradeSteps() []forbidden {
	unchanged := []string{"/ratings", "/rating-rounds/{round}"}
	// gives is a row about a grade that is not given.
	gives := func(name, who, evidence, reason string, rest, page int, setup func(*testing.T, *stage) given) forbidden {
		body, form := gradeBody, gradeForm
		if evidence != "" {
			body = body[:len(body)-1] + `, "evidence": [{moment}]}`
			form += "&m-{player}-tackle={moment}"
		}
		return forbidden{name: name, who: who, setup: setup, reason: reason, unchanged: unchanged,
			rest: restStep{method: http.MethodPost, path: "/ratings", body: body, want: rest},
			page: pageStep{path: "/rating-rounds/{round}", form: form, want: page}}
	}
	// changes is a row about a grade that is not changed.
	changes := func(name, who, reason string, rest, page int, setup func(*testing.T, *stage) given) forbidden {
		return forbidden{name: name, who: who, setup: setup, reason: reason, unchanged: unchanged,
			rest: restStep{method: http.MethodPut, path: "/ratings/{grade}", match: `"1"`, body: gradeBody, want: rest},
			page: pageStep{path: "/rating-rounds/{round}/grades/{grade}", form: againForm, want: page}}
	}
	sharing := func(row forbidden) forbidden {
		row.rest.body = row.rest.body[:len(row.rest.body)-1] + `, "comment_shared": true}`
		row.page.form += "&s=yes"
		return row
	}
	with := func(made given, name string, id int64) given {
		made[name] = id
		return made
	}
	const invalid = http.StatusUnprocessableEntity
	return []forbidden{
		gives("no coach grades after the round has closed", "ansel", "", "the round for these grades closed after 2025-10-08",
			http.StatusConflict, invalid, func(t *testing.T, s *stage) given {
				return s.gradedRound(t, "Closed block", "2025-10-01", "2025-10-08")
			}),
		gives("a selector gives no grades", "sorrel", "", "may not", http.StatusForbidden, http.StatusForbidden,
			func(t *testing.T, s *stage) given { return s.gradedRound(t, "Open block", blockDay, stillOpen) }),
		gives("a player gives no coach's grade, not even of themselves", "bryn", "", "a player may not",
			http.StatusForbidden, http.StatusForbidden, func(t *testing.T, s *stage) given {
				return with(s.gradedRound(t, "Block of Bryn", blockDay, stillOpen), "player", s.Bryn.ID)
			}),
		gives("no coach gives a second grade for the same occasion", "ansel", "",
			"this person has already rated the skill", http.StatusConflict, invalid,
			func(t *testing.T, s *stage) given { return s.graded(t, "Graded block", "ansel") }),
		gives("no coach grades a player whom they do not reach", "ansel", "", "there is no",
			invalid, http.StatusNotFound, func(t *testing.T, s *stage) given {
				made := with(s.gradedRound(t, "Block of others", blockDay, stillOpen), "player", s.Tam.ID)
				r := models.RatingRound{SeasonID: s.Season.ID, SquadID: s.Under16.ID, Name: "Under 16", Date: blockDay,
					Block: "Block of others", Closes: stillOpen, Skills: []string{"tackle"}}
				s.as(t, "", func(tx *store.Tx) error { return tx.CreateRatingRound(&r) })
				return with(made, "round", r.ID)
			}),
		gives("no grade names a moment of another player", "ansel", "evidence", "is another player", invalid, invalid,
			func(t *testing.T, s *stage) given {
				made := s.gradedRound(t, "Borrowed moment", blockDay, stillOpen)
				return with(made, "moment", s.moment(t, s.player(t, "Lender").ID, "2026-03-01", true))
			}),
		gives("no grade names an involvement that is no moment", "ansel", "evidence", "there is no moment", invalid, invalid,
			func(t *testing.T, s *stage) given {
				made := s.gradedRound(t, "Plain tackle", blockDay, stillOpen)
				return with(made, "moment", s.moment(t, made["player"].(int64), "2026-03-02", false))
			}),
		gives("no grade names a moment from outside the block", "ansel", "evidence", "outside the training block", invalid,
			invalid, func(t *testing.T, s *stage) given {
				made := s.gradedRound(t, "Early moment", blockDay, stillOpen)
				s.as(t, "", func(tx *store.Tx) error {
					r, err := tx.RatingRound(made["round"].(int64))
					if err != nil {
						return err
					}
					begins := blockDay.AddDays(-5)
					r.Begins = &begins
					return tx.UpdateRatingRound(&r)
				})
				return with(made, "moment", s.moment(t, made["player"].(int64), "2026-03-03", true))
			}),
		changes("no coach changes a grade after the round has closed", "ansel",
			"the round for these grades closed after 2026-03-12", http.StatusConflict, invalid,
			func(t *testing.T, s *stage) given { return s.over(t, s.graded(t, "Changed late", "ansel")) }),
		takesBack(changes("no coach takes a grade back after the round has closed", "ansel",
			"the round for these grades closed after 2026-03-12", http.StatusConflict, invalid,
			func(t *testing.T, s *stage) given { return s.over(t, s.graded(t, "Taken back late", "ansel")) })),
		changes("no coach changes or finds a grade of another coach before giving their own", "ansel", "there is no rating",
			http.StatusNotFound, http.StatusNotFound, func(t *testing.T, s *stage) given {
				s.coach(t, "hedda", s.Under18.ID)
				return s.graded(t, "Of another", "hedda")
			}),
		changes("no coach changes the grade of another coach that they read", "ansel", "may not change this rating",
			http.StatusForbidden, http.StatusForbidden, func(t *testing.T, s *stage) given {
				s.coach(t, "perrin", s.Under18.ID)
				made := s.graded(t, "Of a colleague", "perrin")
				own := models.Rating{PlayerID: made["player"].(int64), Skill: "tackle", Grade: 3, Date: blockDay,
					Block: "Of a colleague"}
				s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateRating(&own) })
				return made
			}),
		takesBack(changes("no coach takes back the grade of another coach", "ansel", "there is no rating",
			http.StatusNotFound, http.StatusNotFound, func(t *testing.T, s *stage) given {
				s.coach(t, "merrin", s.Under18.ID)
				return s.graded(t, "Taken from another", "merrin")
			})),
		changes("no coach changes a player's own grade", "ansel", "may not change this rating", http.StatusForbidden,
			http.StatusForbidden, func(t *testing.T, s *stage) given {
				made := with(s.gradedRound(t, "Own grade", blockDay, stillOpen), "player", s.Bryn.ID)
				own := models.SelfRating{Rating: models.Rating{PlayerID: s.Bryn.ID, Skill: "tackle", Grade: 5, Date: blockDay,
					Block: "Own grade"}}
				s.as(t, "bryn", func(tx *store.Tx) error { return tx.CreateSelfRating(&own) })
				return with(made, "grade", own.ID)
			}),
		sharing(changes("no manager shares a coach's comment with the player", "mabyn",
			"only the coach who gave the grade can share its comment", http.StatusForbidden, http.StatusForbidden,
			func(t *testing.T, s *stage) given { return s.graded(t, "Shared for another", "ansel") })),
		{
			name: "a player reads no coach's grade before the round closes", who: "bryn", unchanged: unchanged,
			setup: func(t *testing.T, s *stage) given {
				made := with(s.gradedRound(t, "Of Bryn", blockDay, stillOpen), "player", s.Bryn.ID)
				r := models.Rating{PlayerID: s.Bryn.ID, Skill: "tackle", Grade: 2, Date: blockDay, Block: "Of Bryn"}
				s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateRating(&r) })
				if got := s.Program(t, "bryn").Get(fmt.Sprintf("/api/v1/shown-grades?player=%d", s.Bryn.ID)); len(
					items(got.Body)) > 0 {
					t.Errorf("the player is shown %s", got.Body)
				}
				return with(made, "grade", r.ID)
			},
			rest:   restStep{method: http.MethodGet, path: "/ratings/{grade}", want: http.StatusNotFound},
			page:   pageStep{read: true, path: "/rating-rounds/{round}", want: http.StatusNotFound},
			reason: "there is no rating",
		},
		{
			name: "a selector does not read who owes grades", who: "sorrel", unchanged: unchanged,
			setup:  func(t *testing.T, s *stage) given { return s.graded(t, "Unread", "ansel") },
			rest:   restStep{method: http.MethodGet, path: "/rating-rounds/{round}/owed", want: http.StatusForbidden},
			page:   pageStep{read: true, path: "/rating-rounds/{round}", want: http.StatusForbidden},
			reason: "may not read who owes",
		},
	}
}

// takesBack makes of a row about a change one about a deletion.
func takesBack(row forbidden) forbidden {
	row.rest.method, row.rest.body = http.MethodDelete, ""
	row.page.path, row.page.form = row.page.path+"/delete", "version=1"
	return row
}

// roundSteps are steps that no one may take in a rating round, and with its grades.
func roundSteps() []forbidden {
	// change is a row about a round that is not changed so that it closes on a day.
	change := func(name, closes, reason string, want int, page int, setup func(*testing.T, *stage) given) forbidden {
		return forbidden{name: name, who: "ansel", setup: setup, reason: reason,
			rest: restStep{method: http.MethodPut, path: "/rating-rounds/{round}", match: `"{version}"`, want: want,
				body: roundBody + `"closes": "` + closes + `"}`},
			page: pageStep{path: "/rating-rounds/{round}/change", want: page,
				form: roundFields + "&closes=" + closes + "&coach-{ansel}=all"},
			unchanged: []string{"/rating-rounds/{round}", "/ratings"}}
	}
	asks := func(s *stage, t *testing.T, made given) given {
		made["ansel"] = s.user(t, "ansel").UserID
		return made
	}
	deletes := change("no coach deletes a closed round", "2026-06-30", "only a manager can change or reopen it",
		http.StatusForbidden, http.StatusForbidden, func(t *testing.T, s *stage) given {
			return s.over(t, s.graded(t, "Deleted late", "ansel"))
		})
	deletes.rest.method, deletes.rest.body = http.MethodDelete, ""
	deletes.page.path, deletes.page.form = "/rating-rounds/{round}/delete", "version={version}"
	const open = roundBody + `"closes": "2026-06-30"}`
	const opening = roundFields + "&closes=2026-06-30&coach-{ansel}=all"
	return append(gradeSteps(),
		change("no coach reopens a closed round", "2026-06-30", "only a manager can change or reopen it",
			http.StatusForbidden, http.StatusForbidden, func(t *testing.T, s *stage) given {
				return asks(s, t, s.over(t, s.graded(t, "Reopened", "ansel")))
			}),
		change("no coach closes a round at once", "2026-03-13", "is in the past; choose today",
			http.StatusUnprocessableEntity, http.StatusUnprocessableEntity, func(t *testing.T, s *stage) given {
				return asks(s, t, s.gradedRound(t, "Closed at once", blockDay, stillOpen))
			}),
		deletes,
		forbidden{
			name: "no coach opens a second round beside a closed one to grade again", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				return asks(s, t, s.over(t, s.graded(t, "Opened beside", "ansel")))
			},
			rest: restStep{method: http.MethodPost, path: "/rating-rounds", body: open, want: http.StatusConflict},
			page: pageStep{path: "/rating-rounds", form: opening, keeps: "Opened beside",
				want: http.StatusUnprocessableEntity},
			reason: "there is already a round for", unchanged: []string{"/rating-rounds", "/ratings"},
		},
		forbidden{
			name: "no coach opens a round for a squad they do not coach", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				made := asks(s, t, s.gradedRound(t, "Not theirs", blockDay, stillOpen))
				made["squad"] = s.Under16.ID
				return made
			},
			rest:   restStep{method: http.MethodPost, path: "/rating-rounds", body: open, want: http.StatusForbidden},
			page:   pageStep{path: "/rating-rounds", form: opening, want: http.StatusForbidden},
			reason: "may not", unchanged: []string{"/rating-rounds", "/ratings"},
		},
		forbidden{
			name: "a selector opens no round", who: "sorrel",
			setup: func(t *testing.T, s *stage) given {
				return asks(s, t, s.gradedRound(t, "Of a selector", blockDay, stillOpen))
			},
			rest:   restStep{method: http.MethodPost, path: "/rating-rounds", body: open, want: http.StatusForbidden},
			page:   pageStep{path: "/rating-rounds", form: opening, want: http.StatusForbidden},
			reason: "may not", unchanged: []string{"/rating-rounds", "/ratings"},
		},
	)
}
