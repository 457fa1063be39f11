package api_test

import (
	"fmt"
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// set makes an open goal of a new player on tackling, as the coach.
func (s *stage) set(t *testing.T, name string, change func(*models.Goal)) models.Goal {
	t.Helper()
	g := models.Goal{PlayerID: s.player(t, name).ID, Skill: "tackle", SetOn: "2025-10-01", By: "2026-03-01", Target: 4,
		Why: "To be trusted in the line.", Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
	if change != nil {
		change(&g)
	}
	s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateGoal(&g) })
	return g
}

// setClosed makes a goal that was closed.
func (s *stage) setClosed(t *testing.T, name string) models.Goal {
	t.Helper()
	g := s.set(t, name, nil)
	s.as(t, "ansel", func(tx *store.Tx) error {
		day := models.Date("2025-11-20")
		g.ClosedOn, g.Result, g.Outcome = &day, models.GoalDropped, "Other things come first."
		return tx.UpdateGoal(&g)
	})
	return g
}

// told are the ids of a goal for requests.
func told(g models.Goal) given { return given{"goal": g.ID, "player": g.PlayerID} }

// goalAs is a goal in JSON with some members changed.
func goalAs(members string) string {
	return `{"player_id": {player}, "skill": "tackle", "set_on": "2025-10-01", "by": "2026-03-01", "target": 4,
		"why": "To be trusted in the line.", "actions": ""` + members + `}`
}

// newGoal is a row about a goal that is not saved: the members of its JSON, and the same in the form.
func newGoal(name, members, form, reason string, setup func(t *testing.T, s *stage) given) forbidden {
	if setup == nil {
		setup = func(t *testing.T, s *stage) given { return given{"player": s.player(t, "Hob Tiller").ID} }
	}
	typed, _ := url.ParseQuery(form)
	return forbidden{name: name, who: "ansel", setup: setup,
		rest: restStep{method: http.MethodPost, path: "/goals", want: http.StatusUnprocessableEntity,
			body: `{"player_id": {player}, "set_on": "2025-10-01", "why": "To be trusted.", "actions": "", ` + members + `}`},
		page: pageStep{path: "/players/{player}/goals", form: form + "&why=To+be+trusted.", keeps: typed.Get("target"),
			want: http.StatusUnprocessableEntity},
		reason: reason, unchanged: []string{"/goals?player={player}"}}
}

// ending is a row about an open goal that is not closed.
func ending(name, who, members, form, reason string, rest, page int) forbidden {
	typed, _ := url.ParseQuery(form)
	if page == http.StatusForbidden {
		typed = nil // such a page has no form
	}
	return forbidden{name: name, who: who,
		setup: func(t *testing.T, s *stage) given {
			if who == "bryn" {
				return told(s.set(t, "Hob Tiller", func(g *models.Goal) { g.PlayerID = s.Bryn.ID }))
			}
			return told(s.set(t, "Hob Tiller", nil))
		},
		rest: restStep{method: http.MethodPut, path: "/goals/{goal}", match: `"1"`, body: goalAs(", " + members),
			want: rest},
		page:   pageStep{path: "/goals/{goal}/close", form: form + "&version=1", keeps: typed.Get("outcome"), want: page},
		reason: reason, unchanged: []string{"/goals/{goal}"}}
}

// trended gives the players of the squad a trend of contact won.
func trended(t *testing.T, s *stage) given {
	g := s.set(t, "Hob Tiller", nil) // so that there is something to fit
	worthwhile := 0.01
	s.as(t, "", func(tx *store.Tx) error {
		of, err := tx.SquadSeason(s.Season.ID, s.Under18.ID)
		if err != nil {
			return err
		}
		return tx.KeepTrends(of, []models.Trend{{PlayerID: g.PlayerID, Indicator: "contact_won",
			Figures: models.TrendFigures{Verdict: "steady", Matches: 6, Now: &models.Estimate{Mean: 0.5},
				Worthwhile: &worthwhile}}})
	})
	return told(g)
}

// goalSteps are the steps about goals and check-ins.
func goalSteps() []forbidden {
	const (
		conflict, invalid = http.StatusConflict, http.StatusUnprocessableEntity
		closed            = `"closed_on": "2025-11-29", "outcome": "You did it.", "result": `
		closing           = "closed_on=2025-11-29&outcome=You+did+it.&result="
	)
	all := []forbidden{
		ending("a player does not close a goal as met", "bryn", closed+`"met"`, closing+"met",
			"a player may not change goal records", http.StatusForbidden, http.StatusForbidden),
		ending("a selector does not close a goal", "sorrel", closed+`"dropped"`, closing+"dropped",
			"a selector may not change goal records", http.StatusForbidden, http.StatusForbidden),
		ending("a selector does not close a goal as met", "sorrel", closed+`"met"`, closing+"met",
			"a selector may not change goal records", http.StatusForbidden, http.StatusForbidden),
		ending("a goal is not met before the program proposes it", "ansel", closed+`"met"`, closing+"met",
			"too little to say yet", conflict, invalid),
		ending("a goal is not closed without a result", "ansel", `"closed_on": "2025-11-29", "outcome": "You did it."`,
			"closed_on=2025-11-29&outcome=You+did+it.", "say whether it was met, not", invalid, invalid),
		ending("a goal is not closed without a word on how it went", "ansel",
			`"closed_on": "2025-11-29", "result": "dropped"`, "closed_on=2025-11-29&result=dropped", "say how it went", invalid,
			invalid),
		ending("a goal is not closed tomorrow", "ansel",
			`"closed_on": "2026-03-15", "result": "dropped", "outcome": "You did it."`,
			"closed_on=2026-03-15&result=dropped&outcome=You+did+it.", "is in the future", invalid, invalid),
		ending("a goal is not closed before it was set", "ansel",
			`"closed_on": "2025-09-24", "result": "dropped", "outcome": "You did it."`,
			"closed_on=2025-09-24&result=dropped&outcome=You+did+it.", "is before the day the goal was set", invalid, invalid),

		newGoal("a goal on too few matches is questioned", `"skill": "tackle", "by": "2026-03-01", "target": 4.25`,
			"on=skill:tackle&by=2026-03-01&target=4.25", "rests on no match with figures", nil),
		newGoal("a goal on contact is questioned", `"indicator": "carries", "by": "2026-03-01", "target": 9.25`,
			"on=indicator:carries&by=2026-03-01&target=9.25", "counts how much contact a player takes", nil),
		newGoal("a goal on getting up fast is questioned",
			`"indicator": "back_to_feet", "by": "2026-03-01", "target": 3.25`,
			"on=indicator:back_to_feet&by=2026-03-01&target=3.25", "rewards getting up fast", nil),
		newGoal("a goal that is met already is questioned",
			`"skill": "tackle", "by": "2026-03-01", "target": 3.25, "baseline": 3.5, "baseline_reason": "Seen."`,
			"on=skill:tackle&by=2026-03-01&target=3.25&baseline=3.5&baseline_reason=Seen.", "The player is there already", nil),
		newGoal("a goal far away is questioned", `"indicator": "contact_won", "by": "2026-03-01", "target": 0.75`,
			"on=indicator:contact_won&by=2026-03-01&target=75", "more than four times what players of the squad differ by",
			trended),
		newGoal("a fourth open goal is questioned",
			`"skill": "tackle", "by": "2026-03-01", "target": 4.25, "insist": ["few_matches"], "insist_reason": "No trend."`,
			"on=skill:tackle&by=2026-03-01&target=4.25&insist=few_matches&insist_reason=No+trend.",
			"The player has 3 open goals", func(t *testing.T, s *stage) given {
				first := s.set(t, "Hob Tiller", nil)
				for range 2 {
					s.set(t, "Another", func(g *models.Goal) { g.PlayerID = first.PlayerID })
				}
				return told(first)
			}),
		newGoal("to insist needs a reason", `"skill": "tackle", "by": "2026-03-01", "target": 4.25, "insist": `+
			`["few_matches"]`,
			"on=skill:tackle&by=2026-03-01&target=4.25&insist=few_matches",
			"say why the goal is right in spite of the questions", nil),
		newGoal("a typed start needs a reason", `"skill": "tackle", "by": "2026-03-01", "target": 4.25, "baseline": 3`,
			"on=skill:tackle&by=2026-03-01&target=4.25&baseline=3", "say why you typed it", nil),
		newGoal("a goal ends after it was set", `"skill": "tackle", "by": "2025-09-01", "target": 4.25`,
			"on=skill:tackle&by=2025-09-01&target=4.25", "is not after the day the goal was set", nil),
		newGoal("a selector follows no goal up",
			`"skill": "tackle", "by": "2026-03-01", "target": 4.25, "owner_id": {sorrel}`,
			"on=skill:tackle&by=2026-03-01&target=4.25&owner_id={sorrel}", "a coach or a manager follows a goal up",
			func(t *testing.T, s *stage) given {
				return given{"player": s.player(t, "Hob Tiller").ID, "sorrel": s.user(t, "sorrel").UserID}
			}),
	}
	return append(all,
		forbidden{name: "a player sets no goal", who: "bryn",
			setup:  func(_ *testing.T, s *stage) given { return given{"player": s.Bryn.ID} },
			rest:   restStep{method: http.MethodPost, path: "/goals", body: goalAs(""), want: http.StatusForbidden},
			page:   pageStep{path: "/players/{player}/goals", form: "on=skill:tackle&target=4", want: http.StatusForbidden},
			reason: "a player may not change goal records", unchanged: []string{"/goals?player={player}"}},
		forbidden{name: "a selector sets no goal", who: "sorrel",
			setup:  func(_ *testing.T, s *stage) given { return given{"player": s.Bryn.ID} },
			rest:   restStep{method: http.MethodPost, path: "/goals", body: goalAs(""), want: http.StatusForbidden},
			page:   pageStep{path: "/players/{player}/goals", form: "on=skill:tackle&target=4", want: http.StatusForbidden},
			reason: "a selector may not change goal records", unchanged: []string{"/goals?player={player}"}},
		forbidden{name: "a player does not change a goal", who: "bryn",
			setup: func(t *testing.T, s *stage) given {
				return told(s.set(t, "Hob Tiller", func(g *models.Goal) { g.PlayerID = s.Bryn.ID }))
			},
			rest: restStep{method: http.MethodPut, path: "/goals/{goal}", match: `"1"`, body: goalAs(""),
				want: http.StatusForbidden},
			page:   pageStep{path: "/goals/{goal}", form: "version=1&target=4.25", want: http.StatusForbidden},
			reason: "a player may not change goal records", unchanged: []string{"/goals/{goal}"}},
		forbidden{name: "a goal that is moved far away is questioned", who: "ansel",
			setup: func(t *testing.T, s *stage) given {
				of := trended(t, s)
				g := models.Goal{PlayerID: of["player"].(int64), Indicator: "contact_won", SetOn: "2025-10-01",
					By: "2026-03-01", Target: 0.51, Why: "To win the line."}
				s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateGoal(&g) })
				return told(g)
			},
			rest: restStep{method: http.MethodPut, path: "/goals/{goal}", match: `"1"`, want: invalid,
				body: `{"player_id": {player}, "indicator": "contact_won", "set_on": "2025-10-01", "by": "2026-03-01",
					"target": 0.75, "why": "To win the line.", "actions": ""}`},
			page: pageStep{path: "/goals/{goal}", form: "version=1&target=75&by=2026-03-01&why=More.", keeps: "75",
				want: invalid},
			reason: "more than four times what players of the squad differ by", unchanged: []string{"/goals/{goal}"}},
		forbidden{name: "a goal is not closed twice", who: "ansel",
			setup: func(t *testing.T, s *stage) given { return told(s.setClosed(t, "Hob Tiller")) },
			rest: restStep{method: http.MethodPut, path: "/goals/{goal}", match: `"2"`,
				body: goalAs(", " + closed + `"not_met"`), want: conflict},
			page: pageStep{path: "/goals/{goal}/close", form: closing + "not_met&version=2", keeps: "You did it.",
				want: invalid},
			reason: "the goal is closed", unchanged: []string{"/goals/{goal}"}},
		forbidden{name: "a manager does not close a goal twice", who: "mabyn",
			setup: func(t *testing.T, s *stage) given { return told(s.setClosed(t, "Hob Tiller")) },
			rest: restStep{method: http.MethodPut, path: "/goals/{goal}", match: `"2"`,
				body: goalAs(", " + closed + `"met"`), want: conflict},
			page: pageStep{path: "/goals/{goal}/close", form: closing + "met&version=2", keeps: "You did it.",
				want: invalid},
			reason: "the goal is closed", unchanged: []string{"/goals/{goal}"}},
		noCheckIn("a player writes no check-in", "bryn"),
		noCheckIn("a selector writes no check-in", "sorrel"),
		anothersCheckIn(),
		forbidden{name: "a closed goal stays as it is", who: "ansel",
			setup: func(t *testing.T, s *stage) given { return told(s.setClosed(t, "Hob Tiller")) },
			rest: restStep{method: http.MethodPut, path: "/goals/{goal}", match: `"2"`,
				body: goalAs(`, "closed_on": "2025-11-20", "outcome": "Met after all.", "result": "met"`), want: conflict},
			page: pageStep{path: "/goals/{goal}", form: "version=2&target=4.25&by=2026-03-01&why=More.", keeps: "4.25",
				want: invalid},
			reason: "the goal is closed", unchanged: []string{"/goals/{goal}"}},
		forbidden{name: "a manager opens no closed goal again", who: "mabyn",
			setup: func(t *testing.T, s *stage) given { return told(s.setClosed(t, "Hob Tiller")) },
			rest:  restStep{method: http.MethodPut, path: "/goals/{goal}", match: `"2"`, body: goalAs(""), want: conflict},
			page: pageStep{path: "/goals/{goal}", form: "version=2&target=4.25&by=2026-03-01&why=More.", keeps: "4.25",
				want: invalid},
			reason: "the goal is closed", unchanged: []string{"/goals/{goal}"}},
		checkInRow("a check-in is not before its goal", "2025-09-24", "is before the day the goal was set",
			func(t *testing.T, s *stage) given { return told(s.set(t, "Hob Tiller", nil)) }),
		checkInRow("a check-in is not after its goal was closed", "2025-11-25", "is after the goal was closed",
			func(t *testing.T, s *stage) given { return told(s.setClosed(t, "Hob Tiller")) }),
	)
}

// noCheckIn is a row about a user who writes no check-in.
func noCheckIn(name, who string) forbidden {
	role, _, _ := strings.Cut(name, " writes")
	return forbidden{name: name, who: who,
		setup: func(t *testing.T, s *stage) given {
			return told(s.set(t, "Hob Tiller", func(g *models.Goal) { g.PlayerID = s.Bryn.ID }))
		},
		rest: restStep{method: http.MethodPost, path: "/check-ins", want: http.StatusForbidden,
			body: `{"goal_id": {goal}, "date": "2025-11-20", "shared": true, "text": "You are close."}`},
		page: pageStep{path: "/players/{player}/check-ins", want: http.StatusForbidden,
			form: "goal_id={goal}&readers=player&text=You+are+close.&date=2025-11-20"},
		reason: role, unchanged: []string{"/check-ins?goal={goal}"}}
}

// anothersCheckIn is a row about a check-in for staff that its author has not shared.
func anothersCheckIn() forbidden {
	return forbidden{name: "a coach does not share another's check-in with the player", who: "ansel",
		setup: func(t *testing.T, s *stage) given {
			g := s.set(t, "Hob Tiller", nil)
			c := models.CheckIn{GoalID: g.ID, Date: "2025-10-15", Text: "Not there yet."}
			s.as(t, "mabyn", func(tx *store.Tx) error { return tx.CreateCheckIn(&c) })
			r := models.Review{PlayerID: g.PlayerID, SeasonID: s.Season.ID, SquadID: s.Under18.ID, Date: "2025-10-20",
				Summary: "Better feet.", CheckInIDs: []int64{c.ID}}
			s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateReview(&r) })
			return given{"goal": g.ID, "check": c.ID, "review": r.ID, "version": r.Version}
		},
		rest: restStep{method: http.MethodPut, path: "/check-ins/{check}", match: "*", want: http.StatusForbidden,
			body: `{"goal_id": {goal}, "date": "2025-10-15", "shared": true, "text": "Not there yet."}`},
		page: pageStep{path: "/reviews/{review}", want: http.StatusForbidden,
			form: "version={version}&summary=Better+feet.&next_step=Two+looks.&share=yes"},
		reason: "may not change this check-in", unchanged: []string{"/check-ins/{check}", "/reviews/{review}"}}
}

// checkInRow is a row about a check-in that is not saved.
func checkInRow(name, day, reason string, setup func(t *testing.T, s *stage) given) forbidden {
	return forbidden{name: name, who: "ansel", setup: setup,
		rest: restStep{method: http.MethodPost, path: "/check-ins", want: http.StatusUnprocessableEntity,
			body: fmt.Sprintf(`{"goal_id": {goal}, "date": %q, "shared": true, "text": "You are close."}`, day)},
		page: pageStep{path: "/players/{player}/check-ins", want: http.StatusUnprocessableEntity, keeps: "You are close.",
			form: "goal_id={goal}&readers=player&text=You+are+close.&date=" + day},
		reason: reason, unchanged: []string{"/check-ins?goal={goal}"}}
}

func TestTheSecondEditorOfAGoalIsToldOnThePageWhatChanged(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		g := s.set(t, "Hob Tiller", nil)
		path := fmt.Sprint("/goals/", g.ID)
		form := func(target string) url.Values {
			return url.Values{"version": {"1"}, "target": {target}, "by": {"2026-03-01"}, "why": {g.Why},
				"owner_id": {fmt.Sprint(g.OwnerID)}, "insist": {"few_matches"}, "insist_reason": {"No trend."}}
		}
		if got := s.browser(t, "mabyn").Post(path, form("4.5")); got.Status != http.StatusSeeOther {
			t.Fatalf("the first editor: %d %s", got.Status, got.Body)
		}
		got := s.browser(t, "ansel").Post(path, form("4.75"))
		said := strings.Join(strings.Fields(got.Body), " ")
		for _, want := range []string{"Target: 4.5 now; it was 4.0 when you opened the page; you sent 4.75",
			s.user(t, "mabyn").Name + " changed this", `name="target" inputmode="decimal" maxlength="20" value="4.75"`,
			`name="version" value="2"`} {
			if got.Status != http.StatusPreconditionFailed || !strings.Contains(said, want) {
				t.Errorf("the second editor: %d; want 412 with %q\n%s", got.Status, want, said)
			}
		}
	})
}

func TestTheSecondEditorOfAGoalReadsItsFiguresWithTheirUnits(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		of := trended(t, s)
		g := models.Goal{PlayerID: of["player"].(int64), Indicator: "contact_won", SetOn: "2025-10-01",
			By: "2026-03-01", Target: 0.51, Why: "To win the line."}
		s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateGoal(&g) })
		form := func(target, by, owner string) url.Values {
			return url.Values{"version": {"1"}, "target": {target}, "by": {by}, "why": {g.Why}, "owner_id": {owner}}
		}
		path, manager := fmt.Sprint("/goals/", g.ID), s.user(t, "mabyn")
		got := s.browser(t, "mabyn").Post(path, form("52", "2026-03-08", fmt.Sprint(manager.UserID)))
		if got.Status != http.StatusSeeOther {
			t.Fatalf("the first editor: %d %s", got.Status, got.Body)
		}
		got = s.browser(t, "ansel").Post(path, form("53", "2026-03-15", fmt.Sprint(g.OwnerID)))
		said := strings.Join(strings.Fields(html.UnescapeString(got.Body)), " ")
		for _, want := range []string{"Target: 52% now; it was 51% when you opened the page; you sent 53%.",
			"To reach by: 8 Mar 2026 now; it was 1 Mar 2026 when you opened the page; you sent 15 Mar 2026.",
			"Owner: " + manager.Name + " now"} {
			if got.Status != http.StatusPreconditionFailed || !strings.Contains(said, want) {
				t.Errorf("the second editor: %d; want 412 with %q\n%s", got.Status, want, said)
			}
		}
	})
}
