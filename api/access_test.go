package api_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/api/rest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
)

var update = flag.Bool("update", false, "write testdata/access.md anew")

// visit is a route that is not one of the five of a kind: a line here puts it into the access matrix.
type visit struct {
	route string   // as the router has it
	at    []string // the places to ask for; nil: once, for no one's record
	path  string   // what to ask for, where the route does not say; with names in braces
	form  string   // it is sent this form
	body  string   // it is sent this, as JSON, where the example of the description does not do
	match string   // If-Match
	also  int      // what else says the same: it was done already
	of    string   // it is a list of what is computed, for the players of this area: its rows are told apart by player_id
	in    []string // where its rows are, if not in the places of everybody's records
	// want is the status that the policy asks for.
	want func(p person, pl *place) int
}

// everybody is told the same.
func everybody(status int) func(person, *place) int {
	return func(person, *place) int { return status }
}

// whoReads is what a page or report about a player's records of some areas answers: to all who read all of those
// areas.
func whoReads(stranger int, areas ...models.Area) func(person, *place) int {
	return func(p person, pl *place) int {
		if p.login == "" {
			return stranger
		}
		for _, area := range areas {
			if !may(p, models.Read, area, pl) {
				return http.StatusNotFound
			}
		}
		return http.StatusOK
	}
}

// whoListsAnything is what a list answers: to a role that reads nothing of the area, that it may not.
func whoListsAnything(area models.Area) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return http.StatusUnauthorized
		case p.who.Reach(models.Read, area) == models.ReachNone:
			return http.StatusForbidden
		}
		return http.StatusOK
	}
}

// whoFindsNone is the answer about a record that there is not.
func whoFindsNone(p person, _ *place) int {
	if p.login == "" {
		return unknown
	}
	return http.StatusNotFound
}

// whoReadsSquads is what a page or report about a squad answers: Forbidden to a role that reads nothing of the area,
// and NotFound for a squad out of reach.
func whoReadsSquads(stranger int, area models.Area) func(person, *place) int {
	return func(p person, pl *place) int {
		if p.login != "" && p.who.Reach(models.Read, area) == models.ReachNone {
			return http.StatusForbidden
		}
		return whoReads(stranger, area)(p, pl)
	}
}

// whoPacks is the answer to staff about the pack of a squad's reports: done to those who reach its players, far to
// those who do not.
func whoPacks(stranger, done, far int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return stranger
		case !p.who.Staff():
			return http.StatusForbidden
		case !may(p, models.Read, models.AreaSetup, pl):
			return http.StatusNotFound
		case !may(p, models.Read, models.AreaPlayers, pl):
			return far
		}
		return done
	}
}

// whoOfStaff is the answer to any of the staff.
func whoOfStaff(stranger, done int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return stranger
		case !p.who.Staff():
			return http.StatusForbidden
		}
		return done
	}
}

// whoReadsMeetings is the answer to the list of meetings on a page.
func whoReadsMeetings(p person, _ *place) int {
	switch {
	case p.login == "":
		return toSignIn
	case p.who.Reach(models.Read, models.AreaMeetings) == models.ReachNone:
		return http.StatusForbidden
	}
	return http.StatusOK
}

// whoHoldsMeetings is the answer to a form of a new meeting.
func whoHoldsMeetings(done int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Reach(models.Write, models.AreaMeetings) == models.ReachNone:
			return http.StatusForbidden
		}
		return done
	}
}

// whoEditsMeetings is the answer to a form that changes a meeting and was made from no version of it.
func whoEditsMeetings(p person, pl *place) int {
	return whoWrites(toSignIn, models.AreaMeetings, http.StatusPreconditionFailed)(p, pl)
}

// whoDecides is the answer to a form about no candidate.
func whoDecides(p person, pl *place) int {
	return whoWrites(toSignIn, models.AreaMeetings, http.StatusUnprocessableEntity)(p, pl)
}

// whoAddsTo is the answer to a form that adds to a meeting what it does not take.
func whoAddsTo(area models.Area) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Reach(models.Write, area) == models.ReachNone:
			return http.StatusForbidden
		case !may(p, models.Read, models.AreaMeetings, pl):
			return http.StatusNotFound
		}
		return http.StatusUnprocessableEntity
	}
}

const (
	toSignIn = http.StatusSeeOther     // a stranger on a page
	unknown  = http.StatusUnauthorized // a stranger who is a program
)

// strangersForms send a stranger on who has filled them in.
var strangersForms = []string{"POST /sign-in/code", "POST /sign-out"}

// whoWrites is the answer to a change of a record: NotFound for a caller who may not read it.
func whoWrites(stranger int, area models.Area, done int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return stranger
		case !may(p, models.Read, area, pl):
			return http.StatusNotFound
		case !may(p, models.Write, area, pl):
			return http.StatusForbidden
		}
		return done
	}
}

// whoMay is the answer if the role alone decides.
func whoMay(stranger int, action models.Action, area models.Area, done int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return stranger
		case p.who.Reach(action, area) != models.ReachAcademy:
			return http.StatusForbidden
		}
		return done
	}
}

// whoAdds is the answer to a form that adds something about a player. A role that may not write the area is refused,
// whichever player it is about.
func whoAdds(area models.Area, done int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case !may(p, models.Read, models.AreaPlayers, pl):
			return http.StatusNotFound
		case !may(p, models.Write, area, pl):
			return http.StatusForbidden
		}
		return done
	}
}

// whoSeesTheCycle is the answer to a list of who is due a review: to managers and coaches.
func whoSeesTheCycle(stranger int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch reach := p.who.Reach(models.Read, models.AreaReviews); {
		case p.login == "":
			return stranger
		case reach != models.ReachAcademy && reach != models.ReachSquads:
			return http.StatusForbidden
		}
		return http.StatusOK
	}
}

// whoFollowsUp is the answer to a mark that a follow-up is done: its author's, or a manager's. The coach wrote what is
// about the player, the managers all the rest.
func whoFollowsUp(stranger int, area models.Area, done int) func(person, *place) int {
	return func(p person, pl *place) int {
		status := whoWrites(stranger, area, done)(p, pl)
		if status == done && p.who.Role == models.RoleCoach && (p.title != "coach" || pl.name != "own") {
			return http.StatusForbidden
		}
		return status
	}
}

// inPerson is a form of one's own account, which the matrix sends with a token: that is not enough.
func inPerson(p person, _ *place) int {
	if p.login == "" {
		return toSignIn
	}
	return http.StatusForbidden
}

// seesAsSecond says whether a person is staff and made neither the note nor the reply at a place: the coach made the
// player's, the managers all others.
func seesAsSecond(p person, pl *place) bool {
	made := "manager"
	switch pl.name {
	case "own":
		made = "coach"
	case "theirs":
		made = "another academy's manager"
	}
	return p.who.Staff() && p.title != made
}

// staffPage is for managers, coaches and selectors.
func staffPage(p person, _ *place) int {
	switch {
	case p.login == "":
		return toSignIn
	case !p.who.Staff():
		return http.StatusForbidden
	}
	return http.StatusOK
}

// loggersPage is for those who may log: managers, and coaches in their squads.
func loggersPage(p person, pl *place) int {
	if status := staffPage(p, pl); status != http.StatusOK || p.who.Reach(models.Write,
		models.AreaPerformance) != models.ReachNone {
		return status
	}
	return http.StatusForbidden
}

// gradersPage is the answer about a match that is not there: NotFound for those who may give grades.
func gradersPage(p person, _ *place) int {
	switch {
	case p.login == "":
		return toSignIn
	case p.who.Reach(models.Write, models.AreaRatings) == models.ReachNone:
		return http.StatusForbidden
	}
	return http.StatusNotFound
}

// whoKeepsSquads is the answer to a page of a squad: to managers.
func whoKeepsSquads(done int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Reach(models.Write, models.AreaSetup) != models.ReachAcademy:
			return http.StatusForbidden
		case !may(p, models.Read, models.AreaSetup, pl):
			return http.StatusNotFound
		}
		return done
	}
}

// whoKeepsAMatch is the answer to a page about any match: to managers and coaches.
func whoKeepsAMatch(done int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Reach(models.Write, models.AreaMatches) == models.ReachNone:
			return http.StatusForbidden
		}
		return done
	}
}

// whoKeepsMatches is the answer to a page of a match.
func whoKeepsMatches(done int) func(person, *place) int {
	return func(p person, pl *place) int {
		if status := whoKeepsAMatch(done)(p, pl); status != done || may(p, models.Write, models.AreaMatches, pl) {
			return status
		}
		return http.StatusNotFound
	}
}

// whoKeepsElsewhere is the answer to a page of a player's matches for other teams.
func whoKeepsElsewhere(done int) func(person, *place) int {
	return func(p person, pl *place) int {
		if status := whoKeepsAMatch(done)(p, pl); status != done || may(p, models.Read, models.AreaPlayers, pl) {
			return status
		}
		return http.StatusNotFound
	}
}

// playersPage is for players, with the status of one that is shown.
func playersPage(shown int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Role != models.RolePlayer:
			return http.StatusForbidden
		}
		return shown
	}
}

// whoManages is the answer to an operation on a user: NotFound for a caller who may not read users.
func whoManages(stranger, done int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return stranger
		case !may(p, models.Read, models.AreaUsers, pl):
			return http.StatusNotFound
		}
		return done
	}
}

// everybodyKnown is told the same, strangers apart.
func everybodyKnown(stranger, status int) func(person, *place) int {
	return func(p person, _ *place) int {
		if p.login == "" {
			return stranger
		}
		return status
	}
}

// whoTrains is the answer to a page of a squad's training, and to a form of it: for the staff of the squad.
func whoTrains(done int) func(person, *place) int {
	return func(p person, pl *place) int {
		action := models.Read
		if done != http.StatusOK {
			action = models.Write
		}
		reach := p.who.Reach(action, models.AreaTraining)
		switch {
		case p.login == "":
			return toSignIn
		case action == models.Read && reach != models.ReachAcademy && reach != models.ReachSquads:
			return http.StatusForbidden
		case action == models.Write && !may(p, models.Read, models.AreaSetup, pl):
			return http.StatusNotFound
		case may(p, action, models.AreaTraining, pl):
			return done
		case action == models.Write:
			return http.StatusForbidden
		}
		return http.StatusNotFound
	}
}

// whoGrades is the answer to a page of a rating round: a selector gives no grades.
func whoGrades(done int) func(person, *place) int {
	return func(p person, pl *place) int {
		status := whoReads(toSignIn, models.AreaRounds)(p, pl)
		switch {
		case status != http.StatusOK:
			return status
		case p.who.Role == models.RoleSelector:
			return http.StatusForbidden
		}
		return done
	}
}

// whoGives is the answer to a form of a rating round for those who may give grades.
func whoGives(done int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Reach(models.Write, models.AreaRounds) == models.ReachNone:
			return http.StatusForbidden
		}
		return whoGrades(done)(p, pl)
	}
}

// whoOpensRounds is the answer to the page of all rating rounds and its form.
func whoOpensRounds(done int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Reach(models.Write, models.AreaRounds) == models.ReachNone:
			return http.StatusForbidden
		}
		return done
	}
}

// whoKeeps is what is answered to who decides whether a player's record is kept.
func whoKeeps(stranger, done int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return stranger
		case !may(p, models.Read, models.AreaPlayers, pl):
			return http.StatusNotFound
		case !may(p, models.Write, models.AreaRequests, pl):
			return http.StatusForbidden
		}
		return done
	}
}

// whoOperates is what is answered about an academy that there is not.
func whoOperates(stranger, done int) func(person, *place) int {
	return func(p person, _ *place) int {
		switch {
		case p.login == "":
			return stranger
		case p.who.Role != models.RoleOperator:
			return http.StatusNotFound // a caller who sees no academy finds none
		}
		return done
	}
}

// whoHolds is the answer about a token of the player or of another academy's manager: only the holder and callers who
// read all users get it.
func whoHolds(done int) func(person, *place) int {
	return func(p person, pl *place) int {
		switch {
		case p.login == "":
			return unknown
		case may(p, models.Read, models.AreaUsers, pl), pl.name == "own" && p.title == "the player":
			return done
		}
		return http.StatusNotFound
	}
}

var academies = []string{"ours", "theirs"}

// visitsToPapers are the routes of every paper: the policy says who reaches them, by the areas that a paper names.
func visitsToPapers(t testing.TB) (all []visit) {
	t.Helper()
	papers, err := reports.Papers(nil)
	if err != nil {
		t.Fatal(err)
	}

	for _, p := range papers {
		who := whoReads
		if p.Closed != "" {
			who = func(stranger int, areas ...models.Area) func(person, *place) int {
				return whoReadsSquads(stranger, areas[0])
			}
		}
		for address, stranger := range map[string]int{p.Page(): toSignIn, p.File(): toSignIn, rest.Path +
			p.Resource(): unknown} {
			all = append(all, visit{route: "GET " + ginPath(address), at: everybodys, want: who(stranger, p.Areas...)})
		}
		reads := who(toSignIn, p.Areas...)
		all = append(all, visit{route: "GET " + ginPath(p.PDF()), at: everybodys, want: func(of person, pl *place) int {
			if status := reads(of, pl); status != http.StatusOK {
				return status
			}
			return http.StatusConflict // this server has no Chromium
		}})
	}
	slices.SortFunc(all, func(a, b visit) int { return strings.Compare(a.route, b.route) })
	return all
}

// visits are all the routes beside those of the kinds and of the papers.
var visits = []visit{
	{route: "GET /static/", path: "/static/none", want: everybody(http.StatusNotFound)},
	{route: "GET /cautions", want: everybody(http.StatusOK)},
	{route: "GET /docs", want: everybody(http.StatusOK)},
	{route: "GET /docs/:page", path: "/docs/people", want: everybody(http.StatusOK)},
	{route: "GET /problems", want: everybody(http.StatusOK)},
	{route: "GET /problems/:page", path: "/problems/stale", want: everybody(http.StatusOK)},
	{route: "GET /openapi.json", want: everybody(http.StatusOK)},
	{route: "GET /sign-in", want: func(p person, _ *place) int {
		if p.login == "" {
			return http.StatusOK
		}
		return http.StatusSeeOther // signed in already
	}},
	{route: "POST /sign-in", form: "user=nobody&password=nothing", want: everybody(http.StatusUnauthorized)},
	{route: "POST /sign-out", form: "user=nobody&password=nothing", want: everybody(http.StatusSeeOther)},
	{route: "GET /", want: func(p person, _ *place) int {
		// sent to sign in, to the player's own report, to the academies
		if p.login == "" || p.who.Role == models.RolePlayer || p.who.Role == models.RoleOperator {
			return http.StatusSeeOther
		}
		return http.StatusOK
	}},
	// each caller has their own, an operator none
	{route: "GET /api/v1/items", want: everybodyKnown(unknown, http.StatusOK)},
	{route: "GET /api/v1/catalogue", want: func(p person, _ *place) int {
		if p.login == "" {
			return unknown
		}
		return http.StatusOK // it is the program's own
	}},
	{route: "GET /api/v1/shown-grades", want: whoListsAnything(models.AreaRatings)},
	{route: "GET /api/v1/rating-rounds/:id/owed", at: everybodys, want: func(p person, pl *place) int {
		if status := whoReads(unknown, models.AreaRounds)(p, pl); status != http.StatusOK ||
			p.who.Role != models.RoleSelector {
			return status
		}
		return http.StatusForbidden // a selector gives no grades
	}},
	{route: "GET /api/v1/observations", of: "performance", want: whoListsAnything(models.AreaPerformance)},
	{route: "GET /api/v1/carry-cells", of: "performance", want: whoListsAnything(models.AreaPerformance)},
	{route: "GET /api/v1/players/:id/seasons/:season/trends", at: everybodys, want: whoReads(unknown, models.AreaPlayers,
		models.AreaPerformance)},
	{route: "GET /api/v1/players/:id/seasons/:season/trends/:indicator", at: everybodys,
		want: whoReads(unknown, models.AreaPlayers, models.AreaPerformance)},
	// The edition is wrong, so no pack is made: only callers who may have one are told so.
	{route: "GET /squads/:squad/seasons/:season/pack", at: everybodys,
		want: whoPacks(toSignIn, http.StatusOK, http.StatusOK)},
	{route: "GET /squads/:squad/seasons/:season/pack.zip", at: everybodys, want: whoOfStaff(toSignIn,
		http.StatusNotFound)},
	{route: "POST /squads/:id/seasons/:season/pack", at: everybodys, path: "/squads/{squad}/seasons/{season}/pack",
		form: "edition=none", want: whoPacks(toSignIn, http.StatusUnprocessableEntity, http.StatusForbidden)},
	{route: "POST /squads/:id/seasons/:season/pack/delete", at: everybodys,
		path: "/squads/{squad}/seasons/{season}/pack/delete", form: "pack=", want: whoPacks(toSignIn,
			http.StatusSeeOther, http.StatusSeeOther)},
	{route: "POST /api/v1/squads/:id/seasons/:season/report-packs", at: everybodys,
		body: `{"edition":"none","pdf":false}`,
		want: whoPacks(unknown, http.StatusUnprocessableEntity, http.StatusForbidden)},
	{route: "GET /api/v1/report-packs", want: whoOfStaff(unknown, http.StatusOK)},
	{route: "GET /api/v1/report-packs/:id", path: "/api/v1/report-packs/987654321", want: whoFindsNone},
	{route: "DELETE /api/v1/report-packs/:id", path: "/api/v1/report-packs/987654321", want: whoFindsNone},
	{route: "GET /logs/:log/agreement/:other", at: everybodys, path: "/logs/{log}/agreement/{log}",
		want: whoReads(toSignIn, models.AreaPerformance)},
	{route: "GET /api/v1/logs/:id/agreement/:other", at: everybodys, want: whoReads(unknown, models.AreaPerformance)},
	{route: "POST /api/v1/training-sessions/:id/attendance", at: everybodys,
		want: whoWrites(unknown, models.AreaTraining, http.StatusOK)},
	{route: "POST /api/v1/logs/:id/involvements/batch", at: everybodys, want: func(p person, pl *place) int {
		if status := whoReads(unknown, models.AreaPerformance)(p, pl); status != http.StatusOK {
			return status
		}
		// the log's maker
		if may(p, models.Write, models.AreaPerformance, pl) && (p.title == "coach" || p.who.Role == models.RoleManager) {
			return http.StatusOK
		}
		return http.StatusForbidden
	}},
	// Consent, safety and what is kept about a person.
	{route: "GET /api/v1/consent-purposes", want: everybodyKnown(unknown, http.StatusOK)},
	{route: "GET /api/v1/settings", want: whoListsAnything(models.AreaSetup)},
	{route: "PUT /api/v1/settings", match: "*", body: `{"retention_months":24,"requires":["filming"]}`,
		want: whoMay(unknown, models.Write, models.AreaSetup, http.StatusOK)},
	{route: "GET /api/v1/players/:id/load", at: everybodys, want: whoReads(unknown, models.AreaPlayers)},
	{route: "GET /api/v1/review-notes/:id/answers", at: append([]string{"kept"}, everybodys...),
		want: func(p person, pl *place) int {
			if status := whoListsAnything(models.AreaAnswers)(p, pl); status != http.StatusOK {
				return status
			}
			return whoReads(unknown, models.AreaNotes)(p, pl)
		}},
	{route: "POST /api/v1/note-answers/:id/seen", at: everybodys, want: func(p person, pl *place) int {
		status := whoReads(unknown, models.AreaAnswers)(p, pl)
		if status == http.StatusOK && !seesAsSecond(p, pl) {
			return http.StatusForbidden
		}
		return status
	}},
	{route: "POST /api/v1/head-contacts/:id/told", at: everybodys, also: http.StatusConflict,
		want: whoWrites(unknown, models.AreaSafety, http.StatusOK)},
	{route: "POST /api/v1/stand-downs/:id/lift", at: everybodys, want: whoWrites(unknown, models.AreaClearance,
		http.StatusOK)},
	{route: "GET /api/v1/calibration", want: whoMay(unknown, models.Write, models.AreaPerformance, http.StatusOK)},
	{route: "GET /api/v1/retention", want: whoMay(unknown, models.Write, models.AreaRequests, http.StatusOK)},
	{route: "POST /api/v1/retention/:id", at: everybodys, path: "/api/v1/retention/{player}",
		want: whoKeeps(unknown, http.StatusOK)},
	{route: "GET /api/v1/meetings/:id/comparison", at: everybodys, want: func(p person, pl *place) int {
		if status := whoReads(unknown, models.AreaMeetings)(p, pl); status != http.StatusOK {
			return status
		}
		return http.StatusConflict // none is opened here
	}},
	{route: "GET /api/v1/corrections", want: whoListsAnything(models.AreaMeetings)},
	{route: "GET /api/v1/corrections/:id", path: "/api/v1/corrections/987654321", want: whoFindsNone},
	{route: "POST /api/v1/corrections", at: everybodys, want: func(p person, pl *place) int { // none is closed here
		switch {
		case p.login == "":
			return unknown
		case p.who.Reach(models.Write, models.AreaMeetings) == models.ReachNone:
			return http.StatusForbidden
		case !may(p, models.Read, models.AreaMeetings, pl):
			return http.StatusUnprocessableEntity
		}
		return http.StatusConflict
	}},
	{route: "GET /api/v1/selection-feedback", want: whoListsAnything(models.AreaFeedback)},
	{route: "GET /api/v1/selection-feedback/:id", path: "/api/v1/selection-feedback/987654321", want: whoFindsNone},
	{route: "PUT /api/v1/selection-feedback/:id", path: "/api/v1/selection-feedback/987654321",
		body: `{"text":"Well played.","released":false}`, match: `"1"`, want: whoFindsNone},
	{route: "GET /api/v1/data-requests", want: whoListsAnything(models.AreaRequests)},
	{route: "POST /api/v1/players/:id/record", at: everybodys, want: func(p person, pl *place) int {
		if status := whoReads(unknown, models.AreaPlayers)(p, pl); status != http.StatusOK ||
			may(p, models.Read, models.AreaRequests, pl) {
			return status
		}
		return http.StatusForbidden
	}},
	// The name is wrong, so the player stays for the next person. Only a caller who may erase is told that it is
	// wrong.
	{route: "POST /api/v1/players/:id/erasure", at: everybodys, body: `{"name":"Somebody Else","asked_by":"other"}`,
		want: whoKeeps(unknown, http.StatusUnprocessableEntity)},
	{route: "GET /api/v1/audit-entries", want: whoListsAnything(models.AreaAudit)},

	// Users, their tokens, academies.
	{route: "GET /api/v1/users/:id/squads", at: academies, want: whoManages(unknown, http.StatusOK)},
	{route: "PUT /api/v1/users/:id/squads/:squad", at: []string{"own", "theirs"},
		want: whoManages(unknown, http.StatusNoContent)},
	{route: "DELETE /api/v1/users/:id/squads/:squad", at: []string{"own", "theirs"},
		want: whoManages(unknown, http.StatusNoContent)},
	// also: the user may be anything but a coach
	{route: "PUT /api/v1/users/:id/squads/:squad/lead", at: []string{"own", "theirs"},
		also: http.StatusUnprocessableEntity, want: whoManages(unknown, http.StatusNoContent)},
	{route: "DELETE /api/v1/users/:id/squads/:squad/lead", at: []string{"own", "theirs"},
		want: whoManages(unknown, http.StatusNoContent)},
	{route: "POST /api/v1/users/:id/link", at: academies, want: whoManages(unknown, http.StatusForbidden)},
	{route: "DELETE /api/v1/users/:id/second-factor", at: academies, want: whoManages(unknown, http.StatusForbidden)},
	{route: "GET /api/v1/access-tokens", want: everybodyKnown(unknown, http.StatusOK)},
	{route: "GET /api/v1/access-tokens/:id", at: []string{"own", "theirs"}, want: whoHolds(http.StatusOK)},
	// never met
	{route: "DELETE /api/v1/access-tokens/:id", at: []string{"own", "theirs"}, match: `"0"`,
		want: whoHolds(http.StatusPreconditionFailed)},
	// a token makes no other
	{route: "POST /api/v1/access-tokens", body: `{"label":"another","scope":"write","days":366}`,
		want: everybodyKnown(unknown, http.StatusForbidden)},
	{route: "GET /api/v1/academies", want: whoListsAnything(models.AreaAcademies)},
	{route: "POST /api/v1/academies", body: `{"name":"Marsh Academy"}`,
		want: whoMay(unknown, models.Write, models.AreaAcademies, http.StatusOK)},
	{route: "PUT /api/v1/academies/:id", path: "/api/v1/academies/987654321", body: `{"name":"Fen Academy"}`,
		want: whoOperates(unknown, http.StatusNotFound)},
	{route: "POST /api/v1/academies/:id/manager", path: "/api/v1/academies/987654321/manager",
		body: `{"login":"x.first","name":"First"}`, want: whoOperates(unknown, http.StatusNotFound)},

	// The same as pages.
	{route: "GET /sign-in/code", want: everybody(http.StatusSeeOther)},
	{route: "POST /sign-in/code", form: "code=123456", want: everybody(http.StatusSeeOther)},
	{route: "GET /join/:secret", path: "/join/nothing", want: everybody(http.StatusNotFound)},
	{route: "POST /join/:secret", path: "/join/nothing", form: "password=tawny-owl-29-fence",
		want: everybody(http.StatusNotFound)},
	{route: "GET /account", want: everybodyKnown(toSignIn, http.StatusOK)},
	{route: "POST /account/password", form: "now=x&new=y", want: inPerson},
	{route: "POST /account/second-factor", form: "x=y", want: inPerson},
	{route: "GET /account/second-factor", want: inPerson},
	{route: "GET /account/second-factor/picture.png", want: inPerson},
	{route: "POST /account/second-factor/confirm", form: "code=123456", want: inPerson},
	{route: "POST /account/second-factor/off", form: "password=x", want: inPerson},
	{route: "POST /account/sessions/end", form: "x=y", want: inPerson},
	{route: "POST /account/tokens", form: "label=another&scope=write&days=30", want: inPerson},
	{route: "POST /account/tokens/:token/end", path: "/account/tokens/1/end", form: "x=y", want: inPerson},
	{route: "GET /first-run", want: everybody(http.StatusNotFound)}, // there is an academy
	{route: "POST /first-run", form: "code=", want: everybody(http.StatusNotFound)},
	{route: "GET /set-up", want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusOK)},
	{route: "POST /set-up/:step", path: "/set-up/staff", form: "version=987",
		want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusPreconditionFailed)},
	{route: "GET /settings", want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusOK)},
	{route: "POST /settings", form: "version=987",
		want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusPreconditionFailed)},
	{route: "POST /limits", form: "name=", want: whoMay(toSignIn, models.Write, models.AreaSetup,
		http.StatusUnprocessableEntity)},
	{route: "POST /limits/:id", path: "/limits/987654321", form: "name=x",
		want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusNotFound)},
	{route: "POST /limits/:id/delete", path: "/limits/987654321/delete", form: "version=1",
		want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusNotFound)},
	{route: "GET /seasons", want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusOK)},
	{route: "POST /seasons", form: "name=", want: whoMay(toSignIn, models.Write, models.AreaSetup,
		http.StatusUnprocessableEntity)},
	{route: "POST /seasons/:id", at: everybodys, path: "/seasons/{season}", form: "version=0",
		want: whoKeepsSquads(http.StatusPreconditionFailed)},
	{route: "GET /seasons/:id/next", path: "/seasons/987654321/next",
		want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusNotFound)},
	{route: "POST /seasons/:id/next", path: "/seasons/987654321/next", form: "name=",
		want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusNotFound)},
	{route: "POST /seasons/:id/delete", at: everybodys, path: "/seasons/{season}/delete", form: "version=0",
		want: whoKeepsSquads(http.StatusPreconditionFailed)},
	{route: "GET /squads", want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusOK)},
	{route: "POST /squads", form: "name=", want: whoMay(toSignIn, models.Write, models.AreaSetup,
		http.StatusUnprocessableEntity)},
	{route: "GET /squads/:squad", at: everybodys, want: whoKeepsSquads(http.StatusOK)},
	{route: "POST /squads/:id", at: everybodys, path: "/squads/{squad}", form: "version=0",
		want: whoKeepsSquads(http.StatusPreconditionFailed)},
	{route: "POST /squads/:id/delete", at: everybodys, path: "/squads/{squad}/delete", form: "version=0",
		want: whoKeepsSquads(http.StatusPreconditionFailed)},
	{route: "POST /squads/:id/players", at: everybodys, path: "/squads/{squad}/players", form: "season_id=",
		want: whoKeepsSquads(http.StatusUnprocessableEntity)},
	{route: "POST /squads/:id/paste", at: everybodys, path: "/squads/{squad}/paste", form: "season_id=&rows=",
		want: whoKeepsSquads(http.StatusUnprocessableEntity)},
	{route: "GET /players/:player/edit", at: everybodys,
		want: whoWrites(toSignIn, models.AreaPlayers, http.StatusOK)},
	{route: "POST /players/:player/edit", at: everybodys, form: "version=0",
		want: whoWrites(toSignIn, models.AreaPlayers, http.StatusPreconditionFailed)},
	{route: "POST /players/:player/memberships", at: everybodys, form: "season_id=",
		want: whoWrites(toSignIn, models.AreaPlayers, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/memberships/:id", path: "/players/987654321/memberships/987654321", form: "from=",
		want: everybodyKnown(toSignIn, http.StatusNotFound)},
	{route: "POST /players/:player/memberships/:id/delete", path: "/players/987654321/memberships/987654321/delete",
		form: "version=0", want: everybodyKnown(toSignIn, http.StatusNotFound)},
	{route: "GET /matches", want: whoKeepsAMatch(http.StatusOK)},
	{route: "POST /matches", form: "season_id=", want: whoKeepsAMatch(http.StatusUnprocessableEntity)},
	{route: "POST /matches/paste", form: "season_id=&rows=", want: whoKeepsAMatch(http.StatusUnprocessableEntity)},
	{route: "GET /matches/:match", at: everybodys, want: whoKeepsMatches(http.StatusOK)},
	{route: "POST /matches/:match", at: everybodys, form: "version=0",
		want: whoKeepsMatches(http.StatusPreconditionFailed)},
	{route: "POST /matches/:match/delete", at: everybodys, form: "version=0",
		want: whoKeepsMatches(http.StatusPreconditionFailed)},
	{route: "POST /matches/:match/sheet", at: everybodys, form: "was=none",
		want: whoKeepsMatches(http.StatusPreconditionFailed)},
	{route: "GET /matches/:match/totals", at: everybodys, want: whoKeepsMatches(http.StatusOK)},
	{route: "POST /matches/:match/totals", at: everybodys, form: "count=", want: whoKeepsMatches(
		http.StatusUnprocessableEntity)},
	{route: "POST /matches/:match/events", at: everybodys, form: "clock=",
		want: whoKeepsMatches(http.StatusUnprocessableEntity)},
	{route: "POST /matches/:match/events/:id", path: "/matches/987654321/events/987654321", form: "version=0",
		want: whoKeepsAMatch(http.StatusNotFound)},
	{route: "POST /matches/:match/guests", path: "/matches/987654321/guests", form: "name=",
		want: whoKeepsAMatch(http.StatusNotFound)},
	{route: "GET /players/:player/elsewhere", at: everybodys, want: whoKeepsElsewhere(http.StatusOK)},
	{route: "POST /players/:player/elsewhere", at: everybodys, form: "other_team=Westbrook&date=&opponent=",
		want: whoKeepsElsewhere(http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/elsewhere/:id/delete", path: "/players/987654321/elsewhere/987654321/delete",
		form: "version=0", want: everybodyKnown(toSignIn, http.StatusNotFound)},
	{route: "POST /players/:player/leave", at: everybodys, form: "last=",
		want: whoWrites(toSignIn, models.AreaPlayers, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/return", at: everybodys, form: "first=",
		want: whoWrites(toSignIn, models.AreaPlayers, http.StatusUnprocessableEntity)},
	{route: "POST /matches/:match/events/:id/delete", path: "/matches/987654321/events/987654321/delete",
		form: "version=0", want: whoKeepsAMatch(http.StatusNotFound)},
	{route: "GET /people", want: whoMay(toSignIn, models.Read, models.AreaUsers, http.StatusOK)},
	{route: "POST /people", form: "login=&name=", want: whoMay(toSignIn, models.Write, models.AreaUsers,
		http.StatusUnprocessableEntity)},
	{route: "POST /people/:id/link", at: academies, form: "x=y", want: whoManages(toSignIn, http.StatusForbidden)},
	{route: "POST /people/:id/squads", at: academies, form: "squad_id=987654321",
		want: whoManages(toSignIn, http.StatusUnprocessableEntity)},
	{route: "POST /people/:id/squads/end", at: academies, form: "squad_id=987654321",
		want: whoManages(toSignIn, http.StatusSeeOther)},
	{route: "POST /people/:id/squads/lead", at: academies, form: "squad_id=987654321&was=0&leads=yes",
		want: whoManages(toSignIn, http.StatusUnprocessableEntity)},
	{route: "POST /people/:id/second-factor-off", at: academies, form: "x=y",
		want: whoManages(toSignIn, http.StatusForbidden)},
	{route: "POST /people/:id/remove", path: "/people/987654321/remove", form: "x=y",
		want: everybodyKnown(toSignIn, http.StatusNotFound)},
	{route: "GET /academies", want: whoMay(toSignIn, models.Read, models.AreaAcademies, http.StatusOK)},
	{route: "POST /academies", form: "name=", want: whoMay(toSignIn, models.Write, models.AreaAcademies,
		http.StatusUnprocessableEntity)},
	{route: "POST /academies/:id/name", path: "/academies/987654321/name", form: "name=Fen",
		want: whoOperates(toSignIn, http.StatusNotFound)},
	{route: "POST /academies/:id/manager", path: "/academies/987654321/manager", form: "login=x.first&name=First",
		want: whoOperates(toSignIn, http.StatusNotFound)},
	{route: "GET /audit", want: whoMay(toSignIn, models.Read, models.AreaAudit, http.StatusOK)},
	{route: "GET /safety", want: staffPage},
	{route: "GET /work", want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusOK)},
	{route: "GET /work/:kind", path: "/work/consents", want: whoMay(toSignIn, models.Write, models.AreaSetup,
		http.StatusOK)},
	{route: "GET /consent-form", want: func(p person, _ *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case !p.who.Staff() || p.who.Reach(models.Read, models.AreaConsents) == models.ReachNone:
			return http.StatusForbidden
		}
		return http.StatusOK
	}},
	{route: "GET /players/:player/consent-form", at: everybodys, want: whoReads(toSignIn, models.AreaConsents)},
	{route: "GET /squads/:squad/consents", at: everybodys, want: whoKeepsSquads(http.StatusOK)},
	{route: "GET /squads/:squad/consent-forms", at: everybodys, want: whoKeepsSquads(http.StatusOK)},
	{route: "POST /squads/:id/consents", at: everybodys, path: "/squads/{squad}/consents", form: "x=y",
		want: whoKeepsSquads(http.StatusUnprocessableEntity)},
	{route: "GET /search", want: staffPage},
	{route: "GET /help", want: everybodyKnown(toSignIn, http.StatusOK)},
	{route: "GET /logging", want: loggersPage},
	{route: "GET /matches/:match/grades", path: "/matches/987654321/grades", want: gradersPage},
	{route: "POST /matches/:match/grades", path: "/matches/987654321/grades", form: "x=y", want: gradersPage},
	{route: "GET /my-grades", want: playersPage(http.StatusOK)},
	{route: "POST /my-grades", form: "block=October", want: playersPage(http.StatusUnprocessableEntity)},
	{route: "GET /my-reviews", want: playersPage(http.StatusOK)},
	{route: "GET /skills", want: staffPage},
	{route: "GET /new-skill", want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusOK)},
	{route: "POST /skills", form: "label=", want: whoMay(toSignIn, models.Write, models.AreaSetup,
		http.StatusUnprocessableEntity)},
	{route: "GET /skills/:code", path: "/skills/tackle", want: staffPage},
	{route: "POST /skills/:code", path: "/skills/tackle", form: "label=",
		want: whoMay(toSignIn, models.Write, models.AreaSetup, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/actions/:id/settle", path: "/players/987654321/actions/987654321/settle",
		form: "word=coached", want: everybodyKnown(toSignIn, http.StatusNotFound)},
	{route: "GET /api/v1/contact-actions", want: whoListsAnything(models.AreaContact)},
	{route: "GET /api/v1/contact-actions/:id", path: "/api/v1/contact-actions/987654321",
		want: everybodyKnown(unknown, http.StatusNotFound)},
	{route: "POST /api/v1/contact-actions/:id/settle", path: "/api/v1/contact-actions/987654321/settle",
		body: `{"word":"coached"}`, want: everybodyKnown(unknown, http.StatusNotFound)},
	{route: "GET /squads/:squad/training", at: everybodys, want: whoTrains(http.StatusOK)},
	{route: "POST /squads/:id/training", at: everybodys, path: "/squads/{squad}/training", form: "x=y",
		want: whoTrains(http.StatusUnprocessableEntity)},
	{route: "GET /training-sessions/:id", at: everybodys, path: "/training-sessions/{training_session}",
		want: whoReads(toSignIn, models.AreaTraining)},
	{route: "POST /training-sessions/:id", at: everybodys, path: "/training-sessions/{training_session}", form: "x=y",
		want: whoWrites(toSignIn, models.AreaTraining, http.StatusUnprocessableEntity)},
	{route: "POST /training-sessions/:id/marks", at: everybodys, path: "/training-sessions/{training_session}/marks",
		form: "x=y", want: whoWrites(toSignIn, models.AreaTraining, http.StatusPreconditionFailed)},
	{route: "POST /training-sessions/:id/delete", at: everybodys, path: "/training-sessions/{training_session}/delete",
		form: "x=y", want: whoWrites(toSignIn, models.AreaTraining, http.StatusPreconditionFailed)},
	{route: "GET /rating-rounds/:id", at: everybodys, path: "/rating-rounds/{rating_round}",
		want: whoGrades(http.StatusOK)},
	{route: "POST /rating-rounds/:id", at: everybodys, path: "/rating-rounds/{rating_round}", form: "x=y",
		want: whoGives(http.StatusUnprocessableEntity)},
	{route: "GET /rating-rounds", want: whoOpensRounds(http.StatusOK)},
	{route: "GET /rating-rounds/new", path: "/rating-rounds/new?squad=987654321",
		want: whoOpensRounds(http.StatusNotFound)},
	{route: "POST /rating-rounds", form: "squad_id=x", want: whoOpensRounds(http.StatusNotFound)},
	{route: "POST /rating-rounds/:id/change", at: everybodys, path: "/rating-rounds/{rating_round}/change", form: "x=y",
		want: whoGrades(http.StatusUnprocessableEntity)},
	{route: "POST /rating-rounds/:id/delete", at: everybodys, path: "/rating-rounds/{rating_round}/delete",
		form: "version=987654321", want: whoGives(http.StatusPreconditionFailed)},
	{route: "POST /rating-rounds/:id/grades/:grade", at: everybodys, form: "g=1",
		path: "/rating-rounds/{rating_round}/grades/987654321", want: everybodyKnown(toSignIn, http.StatusNotFound)},
	{route: "POST /rating-rounds/:id/grades/:grade/delete", at: everybodys,
		path: "/rating-rounds/{rating_round}/grades/987654321/delete", form: "version=1",
		want: everybodyKnown(toSignIn, http.StatusNotFound)},
	{route: "POST /safety/head-contacts/:id/told", at: everybodys, path: "/safety/head-contacts/{head_contact}/told",
		form: "medical_lead=Dr+Ina+Fold", also: http.StatusUnprocessableEntity, want: whoWrites(toSignIn, models.AreaSafety,
			http.StatusSeeOther)},
	{route: "POST /safety/stand-downs/:id/lift", at: everybodys, path: "/safety/stand-downs/{stand_down}/lift",
		form: "lifted_on=2025-11-29&cleared_by=Dr+Ina+Fold", also: http.StatusUnprocessableEntity,
		want: whoWrites(toSignIn, models.AreaClearance, http.StatusSeeOther)},
	{route: "GET /meetings", want: whoReadsMeetings},
	{route: "POST /meetings", form: "season_id=&squad_id=", want: whoHoldsMeetings(http.StatusUnprocessableEntity)},
	{route: "GET /meetings/:meeting", at: everybodys, want: whoReads(toSignIn, models.AreaMeetings)},
	{route: "POST /meetings/:meeting/about", at: everybodys, form: "version=0", want: whoEditsMeetings},
	{route: "POST /meetings/:meeting/criteria", at: everybodys, form: "version=0", want: whoEditsMeetings},
	{route: "POST /meetings/:meeting/places", at: everybodys, form: "version=0", want: whoEditsMeetings},
	{route: "POST /meetings/:meeting/candidate", at: everybodys, form: "version=0", want: whoDecides},
	{route: "POST /meetings/:meeting/remove", at: everybodys, form: "version=0", want: whoEditsMeetings},
	{route: "POST /meetings/:meeting/step", at: everybodys, form: "version=0&to=draft", want: whoEditsMeetings},
	{route: "POST /meetings/:meeting/decision", at: everybodys, form: "version=0", want: whoDecides},
	{route: "POST /meetings/:meeting/correction", at: everybodys, form: "text=a&why=b",
		want: whoAddsTo(models.AreaMeetings)},
	{route: "POST /meetings/:meeting/recommendation", at: everybodys, form: "view=choose&text=a",
		want: whoAddsTo(models.AreaRecommendations)},
	{route: "POST /meetings/:meeting/feedback", at: everybodys, form: "feedback=987654321", want: whoFindsNone},
	{route: "POST /safety/answers/:id/seen", at: everybodys, path: "/safety/answers/{note_answer}/seen", form: "x=y",
		want: func(p person, pl *place) int {
			status := whoReads(toSignIn, models.AreaAnswers)(p, pl)
			switch {
			case status != http.StatusOK:
				return status
			case !seesAsSecond(p, pl):
				return http.StatusForbidden
			}
			return http.StatusSeeOther
		}},
	{route: "POST /safety/retention/:id", at: everybodys, path: "/safety/retention/{player}",
		form: "keep_until=2027-06-30&because=asked", want: whoKeeps(toSignIn, http.StatusSeeOther)},
	{route: "GET /api/v1/player-merges", want: whoMay(unknown, models.Read, models.AreaMerges, http.StatusOK)},
	{route: "GET /api/v1/player-merges/:id", path: "/api/v1/player-merges/987654321",
		want: everybodyKnown(unknown, http.StatusNotFound)},
	{route: "GET /api/v1/players/:id/merge-plan", at: everybodys, want: func(p person, pl *place) int {
		if status := whoReads(unknown, models.AreaPlayers)(p, pl); status != http.StatusOK {
			return status
		}
		return whoMay(unknown, models.Read, models.AreaMerges, http.StatusUnprocessableEntity)(p, pl) // with no other
	}},
	{route: "POST /api/v1/player-merges", body: `{"player_id":987654321,"other_id":1}`,
		want: whoMay(unknown, models.Write, models.AreaMerges, http.StatusNotFound)},
	{route: "POST /api/v1/player-merges/:id/undo", path: "/api/v1/player-merges/987654321/undo", body: `{}`,
		want: whoMay(unknown, models.Write, models.AreaMerges, http.StatusNotFound)},
	{route: "GET /merges", want: whoMay(toSignIn, models.Write, models.AreaMerges, http.StatusOK)},
	{route: "GET /merges/compare", path: "/merges/compare?player=987654321&other=1",
		want: whoMay(toSignIn, models.Write, models.AreaMerges, http.StatusNotFound)},
	{route: "POST /merges", form: "player=987654321&other=1",
		want: whoMay(toSignIn, models.Write, models.AreaMerges, http.StatusNotFound)},
	{route: "POST /merges/:id/undo", path: "/merges/987654321/undo", form: "x=y",
		want: whoMay(toSignIn, models.Write, models.AreaMerges, http.StatusNotFound)},
	{route: "GET /data-requests", want: whoMay(toSignIn, models.Read, models.AreaRequests, http.StatusOK)},
	{route: "GET /players/:player", at: everybodys, want: whoReads(toSignIn, models.AreaPlayers)},
	{route: "GET /log/shell", want: everybody(http.StatusOK)}, // the same for all, and names no one
	{route: "GET /log/worker.js", want: everybody(http.StatusOK)},
	{route: "GET /log/who", want: everybodyKnown(toSignIn, http.StatusOK)},
	{route: "GET /log/keys", want: func(p person, _ *place) int {
		switch {
		case p.login == "":
			return toSignIn
		case p.who.Reach(models.Write, models.AreaPerformance) == models.ReachNone:
			return http.StatusForbidden
		}
		return http.StatusOK
	}},
	{route: "GET /log/:match/:player", at: everybodys, want: whoWrites(toSignIn, models.AreaPerformance, http.StatusOK)},
	{route: "GET /log/:match/:player/about", at: everybodys,
		want: whoWrites(toSignIn, models.AreaPerformance, http.StatusOK)},
	{route: "POST /players/:player/record.zip", at: everybodys, form: "x=y", want: func(p person, pl *place) int {
		if status := whoReads(toSignIn, models.AreaPlayers)(p, pl); status != http.StatusOK ||
			may(p, models.Read, models.AreaRequests, pl) {
			return status
		}
		return http.StatusForbidden
	}},
	{route: "POST /players/:player/consents", at: everybodys, form: "purpose=filming",
		want: whoAdds(models.AreaConsents, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/consents/:id/withdraw", at: everybodys,
		path: "/players/{player}/consents/{consent}/withdraw", form: "withdrawn_on=",
		want: whoWrites(toSignIn, models.AreaConsents, http.StatusPreconditionFailed)},
	{route: "POST /players/:player/guardians", at: everybodys, form: "name=",
		want: whoAdds(models.AreaConsents, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/head-contacts", at: everybodys, form: "date=",
		want: whoAdds(models.AreaSafety, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/notes/preview", at: everybodys, form: "text=",
		want: whoAdds(models.AreaNotes, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/notes", at: everybodys, form: "text=",
		want: whoAdds(models.AreaNotes, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/check-ins/preview", at: everybodys, form: "text=",
		want: whoAdds(models.AreaCheckIns, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/check-ins", at: everybodys, form: "text=",
		want: whoAdds(models.AreaCheckIns, http.StatusUnprocessableEntity)},
	{route: "GET /players/:player/goals", at: everybodys, want: whoReads(toSignIn, models.AreaPlayers, models.AreaGoals)},
	{route: "POST /players/:player/goals", at: everybodys, form: "target=",
		want: whoAdds(models.AreaGoals, http.StatusUnprocessableEntity)},
	{route: "GET /reviews", want: whoSeesTheCycle(toSignIn)},
	{route: "POST /squads/:id/review-weeks", at: everybodys, path: "/squads/{squad}/review-weeks", form: "weeks=6",
		want: whoWrites(toSignIn, models.AreaSetup, http.StatusPreconditionFailed)},
	{route: "POST /review-notes/:id/followed-up", at: append([]string{"kept"}, everybodys...), form: "x=y",
		path: "/review-notes/{review_note}/followed-up", want: whoFollowsUp(toSignIn, models.AreaNotes, http.StatusSeeOther)},
	{route: "POST /reviews/:id/followed-up", at: append([]string{"kept"}, everybodys...), form: "x=y",
		path: "/reviews/{review}/followed-up", want: whoFollowsUp(toSignIn, models.AreaReviews, http.StatusSeeOther)},
	{route: "GET /players/:player/reviews/new", at: everybodys, want: whoAdds(models.AreaReviews, http.StatusOK)},
	{route: "POST /players/:player/reviews", at: everybodys, form: "summary=",
		want: whoAdds(models.AreaReviews, http.StatusUnprocessableEntity)},
	{route: "GET /reviews/:id", at: append([]string{"kept"}, everybodys...), path: "/reviews/{review}",
		want: whoReads(toSignIn, models.AreaReviews)},
	{route: "GET /reviews/:id/edit", at: append([]string{"kept"}, everybodys...), path: "/reviews/{review}/edit",
		want: whoWrites(toSignIn, models.AreaReviews, http.StatusOK)},
	{route: "POST /reviews/:id", at: append([]string{"kept"}, everybodys...), path: "/reviews/{review}", form: "summary=",
		want: whoWrites(toSignIn, models.AreaReviews, http.StatusUnprocessableEntity)},
	{route: "POST /reviews/:id/delete", at: append([]string{"kept"}, everybodys...), path: "/reviews/{review}/delete",
		form: "version=0", also: http.StatusUnprocessableEntity, // or it was read
		want: whoFollowsUp(toSignIn, models.AreaReviews, http.StatusPreconditionFailed)},
	{route: "POST /reviews/:id/read", at: append([]string{"kept"}, everybodys...), path: "/reviews/{review}/read",
		form: "x=y", want: func(p person, pl *place) int {
			status := whoReads(toSignIn, models.AreaReviews)(p, pl)
			switch {
			case status != http.StatusOK:
				return status
			case p.who.Role != models.RolePlayer:
				return http.StatusForbidden
			}
			return http.StatusSeeOther
		}},
	{route: "POST /reviews/:id/answers", at: append([]string{"kept"}, everybodys...), path: "/reviews/{review}/answers",
		form: "text=", want: func(p person, pl *place) int {
			status := whoReads(toSignIn, models.AreaReviews)(p, pl)
			switch {
			case status != http.StatusOK:
				return status
			case p.who.Reach(models.Write, models.AreaAnswers) == models.ReachNone:
				return http.StatusForbidden
			}
			return http.StatusUnprocessableEntity
		}},
	{route: "POST /safety/review-answers/:id/seen", at: everybodys, path: "/safety/review-answers/{review_answer}/seen",
		form: "x=y", want: func(p person, pl *place) int {
			status := whoReads(toSignIn, models.AreaAnswers)(p, pl)
			switch {
			case status != http.StatusOK:
				return status
			case !seesAsSecond(p, pl):
				return http.StatusForbidden
			}
			return http.StatusSeeOther
		}},
	{route: "GET /goals/:id", at: everybodys, path: "/goals/{goal}", want: whoReads(toSignIn, models.AreaGoals)},
	{route: "POST /goals/:id", at: everybodys, path: "/goals/{goal}", form: "target=",
		want: whoWrites(toSignIn, models.AreaGoals, http.StatusUnprocessableEntity)},
	{route: "POST /goals/:id/close", at: everybodys, path: "/goals/{goal}/close", form: "closed_on=",
		want: whoWrites(toSignIn, models.AreaGoals, http.StatusUnprocessableEntity)},
	{route: "POST /players/:player/erasure", at: everybodys, form: "name=Somebody+Else&asked_by=other",
		want: whoKeeps(toSignIn, http.StatusUnprocessableEntity)},
	{route: "GET /api/v1/review-cycle", of: "players", in: []string{"own", "mates", "far", "theirs"},
		want: whoSeesTheCycle(unknown)},
	{route: "GET /api/v1/reviews/:id/answers", at: append([]string{"kept"}, everybodys...),
		want: func(p person, pl *place) int {
			if status := whoListsAnything(models.AreaAnswers)(p, pl); status != http.StatusOK {
				return status
			}
			return whoReads(unknown, models.AreaReviews)(p, pl)
		}},
	{route: "POST /api/v1/review-answers/:id/seen", at: everybodys, want: func(p person, pl *place) int {
		status := whoReads(unknown, models.AreaAnswers)(p, pl)
		if status == http.StatusOK && !seesAsSecond(p, pl) {
			return http.StatusForbidden
		}
		return status
	}},
	{route: "POST /api/v1/reviews/:id/read", at: append([]string{"kept"}, everybodys...),
		want: func(p person, pl *place) int {
			status := whoReads(unknown, models.AreaReviews)(p, pl)
			if status == http.StatusOK && p.who.Role != models.RolePlayer { // the player marks one as read
				return http.StatusForbidden
			}
			return status
		}},
	{route: "POST /api/v1/reviews/:id/followed-up", at: append([]string{"kept"}, everybodys...),
		want: whoFollowsUp(unknown, models.AreaReviews, http.StatusOK)},
	{route: "POST /api/v1/review-notes/:id/followed-up", at: append([]string{"kept"}, everybodys...),
		want: whoFollowsUp(unknown, models.AreaNotes, http.StatusOK)},
	{route: "POST /api/v1/review-notes/:id/read", at: append([]string{"kept"}, everybodys...),
		want: func(p person, pl *place) int {
			status := whoReads(unknown, models.AreaNotes)(p, pl)
			if status == http.StatusOK && p.who.Role != models.RolePlayer { // the player marks one as read
				return http.StatusForbidden
			}
			return status
		}},
}

// request is one line of the matrix.
type request struct {
	method, route string // the route as the router has it
	place         *place // whose record it is; nil: no one's
	path          string
	record        *record // the record that is asked for, if the cast made it
	// body is what is sent, made anew for each person.
	body  func(p person) string
	media string
	match string // If-Match
	want  func(p person) int
	// also is another status that says the same: there is one already.
	also int
	// rows says what an answered list must hold, by place; nil: it is no list.
	rows func(p person) []string
	// found reads out of a list what it holds, by place.
	found func(body string) []string
}

func (r request) String() string {
	if r.place == nil {
		return r.method + " " + r.route
	}
	return r.method + " " + r.route + " " + r.place.about
}

// ginPath writes the names of a path as the router does.
func ginPath(path string) string {
	return regexp.MustCompile(`\{([a-z_]+)\}`).ReplaceAllString(path, ":$1")
}

func bracePath(path string) string {
	return regexp.MustCompile(`:([a-z_]+)`).ReplaceAllString(path, "{$1}")
}

// matrix is everything that the cast asks for, in the order in which nothing that is asked for later is lost.
func (c *cast) matrix() []request {
	var all []request
	for i := range kinds {
		all = append(all, c.ofKind(&kinds[i])...)
	}
	for _, v := range append(visitsToPapers(c.t), visits...) {
		all = append(all, c.ofVisit(v)...)
	}
	order := []string{http.MethodGet, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodPost}
	slices.SortStableFunc(all, func(a, b request) int {
		return slices.Index(order, a.method) - slices.Index(order, b.method)
	})
	return all
}

func (c *cast) ofVisit(v visit) []request {
	method, route, _ := strings.Cut(v.route, " ")
	path := v.path
	if path == "" {
		path = bracePath(route)
	}
	at := v.at
	if at == nil {
		at = []string{""}
	}
	var all []request
	for _, name := range at {
		pl := c.places[name]
		r := request{method: method, route: route, place: pl, path: path, want: func(p person) int {
			want := v.want(p, pl)
			if want == toSignIn && p.login == "" && v.form != "" && !slices.Contains(strangersForms, v.route) {
				return unknown // what a stranger sends is not read
			}
			return want
		}}
		if pl != nil {
			r.path = pl.address(path)
		}
		r.match, r.also = v.match, v.also
		if v.form != "" {
			r.media, r.body = formType, func(person) string { return v.form }
		} else if v.body != "" {
			r.media, r.body = "application/json", func(person) string { return v.body }
		} else if o, ok := c.spec.operation(method, bracePath(route)); ok && pl != nil {
			if _, example := c.spec.takes(o); example != nil {
				r.media, r.body = "application/json", func(p person) string { return text(fresh(pl.fill(example), words(p, pl))) }
			}
		}
		if v.of != "" {
			area := models.Area(v.of)
			r.path += "?limit=500"
			r.rows = func(p person) []string {
				var seen []string
				in := v.in
				if in == nil {
					in = everybodys
				}
				for _, name := range in {
					if may(p, models.Read, area, c.places[name]) {
						seen = append(seen, name)
					}
				}
				slices.Sort(seen)
				return seen
			}
			r.found = func(body string) []string { return c.placesOf(body, "player_id") }
		}
		all = append(all, r)
	}
	return all
}

// words returns a text that no other person sends for the same place.
func words(p person, pl *place) string {
	w := "new_" + strings.TrimPrefix(p.login, "x.")
	if pl != nil {
		w += "_" + pl.name
	}
	return w
}

// fresh adds a text to the keys of a value, so it differs from what others have sent before.
func fresh(v any, words string) any {
	switch v := v.(type) {
	case object:
		for name, member := range v {
			if key, ok := member.(string); ok && name == "key" {
				v[name] = key + words
			}
			fresh(member, words)
		}
	case []any:
		for _, item := range v {
			fresh(item, words)
		}
	}
	return v
}

// placesOf reads which places the items of a list belong to by the id of a player.
func (c *cast) placesOf(body, member string) []string {
	var seen []string
	for _, item := range items(body) {
		name := fmt.Sprintf("%s %v", member, item[member])
		for _, at := range []string{"own", "mates", "far", "theirs"} {
			if id, ok := item[member].(float64); ok && int64(id) == c.places[at].ids[member] {
				name = at
			}
		}
		seen = append(seen, name)
	}
	slices.Sort(seen)
	return slices.Compact(seen)
}

func items(body string) []object {
	var list struct{ Items []object }
	if err := json.Unmarshal([]byte(body), &list); err != nil {
		return []object{{"broken": body}}
	}
	return list.Items
}

// ofKind are the five operations of a kind, as far as the description has them.
func (c *cast) ofKind(k *kindOf) []request {
	var all []request
	list := "/api/v1/" + k.path
	var made []*record
	for i := range c.records {
		if c.records[i].kind == k {
			made = append(made, &c.records[i])
		}
	}
	listed := slices.Clone(made)
	for i := range c.records {
		if k.with != "" && c.records[i].kind.path == k.with {
			listed = append(listed, &c.records[i])
		}
	}
	if _, ok := c.spec.operation(http.MethodGet, list); ok {
		all = append(all, request{
			method: http.MethodGet, route: list, path: list + "?limit=500", want: func(p person) int {
				return whoListsAnything(k.area)(p, nil)
			},
			rows: func(p person) []string {
				var seen []string
				for _, r := range listed {
					if p.reads(*r) {
						seen = append(seen, r.place.name)
					}
				}
				slices.Sort(seen)
				return slices.Compact(seen)
			},
			found: func(body string) []string {
				var seen []string
				for _, item := range items(body) {
					name := fmt.Sprintf("id %v", item["id"])
					for _, r := range listed {
						if id, ok := item["id"].(float64); ok && int64(id) == r.id {
							name = r.place.name
						}
					}
					if k.beside && strings.HasPrefix(name, "id ") {
						continue
					}
					seen = append(seen, name)
				}
				slices.Sort(seen)
				return slices.Compact(seen)
			},
		})
	}
	one := list + "/{id}"
	for _, r := range made {
		status := func(done int) func(p person) int {
			return func(p person) int {
				switch {
				case p.login == "":
					return http.StatusUnauthorized
				case !p.reads(*r):
					return http.StatusNotFound
				case !p.changes(*r):
					return http.StatusForbidden
				}
				return done
			}
		}
		for _, method := range []string{http.MethodGet, http.MethodPut, http.MethodDelete} {
			if _, ok := c.spec.operation(method, one); !ok {
				continue
			}
			q := request{method: method, route: ginPath(one), place: r.place, path: r.at(), record: r}
			switch method {
			case http.MethodGet:
				q.want = func(p person) int {
					if p.login != "" && p.reads(*r) {
						return http.StatusOK
					}
					return status(0)(p)
				}
			case http.MethodPut: // it is replaced by itself, so that the next in turn finds it as it was
				q.want, q.media, q.match = status(http.StatusOK), "application/json", "*"
				q.body = func(person) string { return c.asItIs(r) }
			// under a condition that never holds, so that the next in turn finds it: to be told so, one must be allowed to
			case http.MethodDelete:
				q.match = `"0"`
				q.want = func(p person) int {
					want := status(http.StatusPreconditionFailed)(p)
					if want == http.StatusPreconditionFailed && k.deletes != nil && !k.deletes(p) {
						return http.StatusForbidden
					}
					return want
				}
			}
			all = append(all, q)
		}
		if _, kept := c.spec.operation(http.MethodGet, one+"/earlier"); kept { // all who read the record
			all = append(all, request{method: http.MethodGet, route: ginPath(one + "/earlier"), place: r.place,
				path: r.at() + "/earlier", want: func(p person) int {
					if p.login != "" && p.reads(*r) {
						return http.StatusOK
					}
					return status(0)(p)
				}})
		}
	}
	return append(all, c.ofMaking(k)...)
}

// asItIs is a record as it is now.
func (c *cast) asItIs(r *record) string {
	c.t.Helper()
	manager := c.person("manager")
	if r.place.academy != manager.who.AcademyID {
		manager = c.person("another academy's manager")
	}
	got := c.ask(manager, http.MethodGet, r.at(), nil)
	if got.Status != http.StatusOK {
		c.t.Fatalf("%s: %d %s", r.at(), got.Status, got.Body)
	}
	return got.Body
}

func (c *cast) ofMaking(k *kindOf) []request {
	o := c.creating(k)
	nested := strings.Contains(o.path, "{")
	at := k.at
	if at == nil {
		at = everybodys
	}
	sample, _ := c.body(k, c.places["own"], "x")
	placeless := !nested && !c.places["own"].refers(sample)
	if placeless {
		at = []string{""}
	}
	var all []request
	for _, name := range at {
		pl := c.places[name]
		q := request{method: http.MethodPost, route: ginPath(o.path), place: pl, path: o.path, media: "application/json",
			also: http.StatusConflict}
		if pl != nil {
			q.path = pl.address(o.path)
		}
		q.want = func(p person) int {
			switch {
			case p.login == "":
				return http.StatusUnauthorized
			case nested && !p.reads(c.parent(o, pl)):
				return http.StatusNotFound
			case p.who.Reach(models.Write, k.area) == models.ReachNone:
				return http.StatusForbidden
			case k.makes != nil && k.makes(p) != 0:
				return k.makes(p)
			case placeless:
				return http.StatusCreated
			case !may(p, models.Write, k.area, pl):
				if seesAll(p, pl, sample) {
					return http.StatusForbidden
				}
				return http.StatusUnprocessableEntity // a hidden record cannot be referred to
			case nested && k.mine && !p.changes(c.parent(o, pl)):
				return http.StatusForbidden
			}
			return http.StatusCreated
		}
		q.body = func(p person) string {
			// As it was made, with other words: a program that knows the ids would send it so.
			i := slices.IndexFunc(c.records, func(r record) bool { return r.kind == k && (pl == nil || r.place == pl) })
			body := clone(c.records[i].body).(object)
			if k.renew != nil {
				k.renew(body)
			}
			return markers.ReplaceAllLiteralString(text(body), words(p, pl))
		}
		all = append(all, q)
	}
	return all
}

// seesAll says whether a person may read every record at a place that a body refers to.
func seesAll(p person, pl *place, body object) bool {
	for i := range kinds {
		if _, refers := body[singular(kinds[i].path)+"_id"]; refers && !may(p, models.Read, kinds[i].area, pl) {
			return false
		}
	}
	return true
}

// parent is the record under whose address others are made.
func (c *cast) parent(o operation, pl *place) record {
	above := strings.Split(o.path, "/")[3]
	i := slices.IndexFunc(c.records, func(r record) bool { return r.kind.path == above && r.place == pl })
	if i < 0 {
		c.t.Fatalf("%v: the cast made none of the %s %s", o, above, pl.about)
	}
	return c.records[i]
}

// TestEverybodyReachesWhatThePolicySaysAndNothingElse asks for everything as each person of the cast. The right answer
// follows from models.Policy and from whose record it is. testdata/access.md shows the answers, for people to read.
func TestEverybodyReachesWhatThePolicySaysAndNothingElse(t *testing.T) {
	storetest.OneByOne(t)
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		c.everyRoleIsThere()
		matrix := c.matrix()
		c.everyRouteIsThere(matrix)
		cells := map[string][]string{}
		for _, r := range matrix {
			for _, p := range c.people {
				cells[r.String()] = append(cells[r.String()], c.cell(r, p))
			}
		}
		c.golden(matrix, cells)
	})
}

// everyRoleIsThere fails the test if a role that can sign in has no person.
func (c *cast) everyRoleIsThere() {
	for _, role := range []models.Role{models.RoleManager, models.RoleCoach, models.RoleSelector, models.RolePlayer,
		models.RoleOperator} {
		if slices.ContainsFunc(c.people, func(p person) bool { return p.who.Role == role }) {
			continue
		}
		c.t.Errorf("nobody in the cast is a %s", role)
	}
}

func (c *cast) everyRouteIsThere(matrix []request) {
	c.t.Helper()
	routes := c.a.Server.Routes()
	asked := map[string]bool{}
	for _, r := range matrix {
		asked[r.method+" "+r.route] = true
	}
	for _, route := range routes {
		if !asked[route] {
			c.t.Errorf("%s is in no line of the access matrix: add it to kinds (api/cast_test.go) or visits "+
				"(api/access_test.go)", route)
		}
	}
	for route := range asked {
		if !slices.Contains(routes, route) {
			c.t.Errorf("the access matrix has %s, and the server does not", route)
		}
	}
}

// cell asks one thing as one person, checks the answer and writes it down.
func (c *cast) cell(r request, p person) string {
	c.t.Helper()
	body, headers := "", []string{}
	if r.body != nil {
		body, headers = r.body(p), append(headers, "Content-Type", r.media)
	}
	if r.match != "" {
		headers = append(headers, "If-Match", r.match)
	}
	got := c.ask(p, r.method, r.path, strings.NewReader(body), headers...)
	want := r.want(p)
	// A caller who may not write somewhere is told so, or that a named record is missing. Both reveal the same about
	// records hidden from them: see TestAGuessedIDLooksLikeOneThatWasNeverThere.
	same := r.also != 0 && want < 400 && got.Status == r.also || want == http.StatusUnprocessableEntity &&
		got.Status == http.StatusForbidden
	if got.Status != want && !same {
		c.t.Errorf("%v (%s) by %s: %d; the policy says %d\n%.600s", r, r.path, p.title, got.Status, want, got.Body)
	}
	told := got.Body
	for name, values := range got.Header {
		told += "\n" + name + ": " + strings.Join(values, ", ")
	}
	if leaks := c.leaks(p, told); len(leaks) > 0 {
		c.t.Errorf("%v (%s) by %s shows what the policy hides: %v", r, r.path, p.title, leaks)
	}
	if r.record != nil && r.method == http.MethodGet && got.Status == http.StatusOK && !r.record.kind.noText &&
		!markers.MatchString(got.Body) {
		c.t.Errorf("%v by %s has no marker in it: what leaked would not be seen", r, p.title)
	}
	cell := fmt.Sprint(got.Status)
	if r.rows != nil && got.Status == http.StatusOK {
		seen, wanted := r.found(got.Body), r.rows(p)
		if !slices.Equal(seen, wanted) {
			c.t.Errorf("%v by %s holds %v; the policy says %v", r, p.title, seen, wanted)
		}
		if len(seen) == 0 {
			seen = []string{"nothing"}
		}
		cell += ": " + strings.Join(seen, ", ")
		// The same as a table must not hold more.
		table := c.ask(p, r.method, r.path, nil, "Accept", "text/csv")
		if leaks := c.leaks(p, table.Body); len(leaks) > 0 {
			c.t.Errorf("%v by %s as CSV shows what the policy hides: %v", r, p.title, leaks)
		}
	}
	return cell
}

const goldenHead = `# Who is answered what

Written by ` + "`go test ./api -run TestEverybodyReachesWhatThePolicySays -update`" + `; the test checks every cell
against the policy (models/policy.go) and against whose record it is. It stands here so that a person can read it, and
see a difference.

Whose records: **ours** the academy's, **own** the player's, **kept** about them and for the staff only,
**mates** those of another player of
their squad, **far** those of a player of another squad, **theirs** another academy's.

What was answered: 200, 201 and 204 done, with whose rows a list held; 303 sent on, a stranger to sign in; 401 not
known who asks, and what was sent was not read; 403 may see it but not change it, or lists nothing of the kind; 404
may not see it, as if it were not there; 409 may, but there is one already; 412 may, but the test's own condition
does not hold; 422 names what the caller may not see.

`

// golden compares the matrix with the one that people have read, or writes it anew.
func (c *cast) golden(matrix []request, cells map[string][]string) {
	c.t.Helper()
	var b strings.Builder
	b.WriteString(goldenHead)
	columns := []string{"what", "whose"}
	for _, p := range c.people {
		columns = append(columns, p.title)
	}
	fmt.Fprintf(&b, "| %s |\n|%s\n", strings.Join(columns, " | "), strings.Repeat(" --- |", len(columns)))
	for _, r := range matrix {
		whose := ""
		if r.place != nil {
			whose = r.place.name
		}
		fmt.Fprintf(&b, "| %s %s | %s | %s |\n", r.method, r.route, whose, strings.Join(cells[r.String()], " | "))
	}
	path := filepath.Join("testdata", "access.md")
	if *update && strings.HasSuffix(c.t.Name(), "/sqlite") {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			c.t.Fatal(err)
		}
	}
	old, err := os.ReadFile(path)
	if err != nil {
		c.t.Fatal(err)
	}
	was, is := strings.Split(string(old), "\n"), strings.Split(b.String(), "\n")
	for _, line := range is {
		if !slices.Contains(was, line) {
			c.t.Errorf("%s lacks %s", path, line)
		}
	}
	for _, line := range was {
		if !slices.Contains(is, line) {
			c.t.Errorf("%s has %s, which is not so", path, line)
		}
	}
}
