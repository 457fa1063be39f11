package season_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/paper/papertest"
	"throughline/reports/season"
)

var everyEdition = season.Edition("").Codes()

// readAs reads the edition of a report that the caller asks for.
func readAs(t *testing.T, a *archive, who models.Who, e season.Edition) *season.Report {
	t.Helper()
	r, err := season.Read(t.Context(), a, season.Request{PlayerID: 11, SeasonID: 7, Who: who, Edition: e,
		Now: time.Date(2026, 5, 2, 18, 30, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// unknownNumbers are the numbers of a page that stand neither in the report's JSON nor among the constants.
func unknownNumbers(t *testing.T, r *season.Report, page string) []string {
	t.Helper()
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return papertest.UnknownNumbers(t, data, page, papertest.Says(`from 1 to 5\b`, `average is [\d.]+ of (5)`,
		`(?:after|round,) 14 days`, `plain average, 95%`)...)
}

// seasons are invented players whose seasons differ in what a report can say.
func seasons() map[string]*archive {
	member := []models.Membership{{SeasonID: 7, SquadID: 3, PlayerID: 11, From: "2025-08-01"}}
	all := map[string]*archive{"a season": full(), "no match": flanker(0), "grades only": flanker(0),
		"one match": flanker(1), "just arrived": flanker(2), "two squads": ofTwoSquads(), "unavailable": flanker(3)}
	all["grades only"].ratings = byTwo(grades("tackle", 3, 4, 3))
	all["unavailable"].spells = []models.Spell{{PlayerID: 11, Status: models.Unavailable, From: "2025-08-01"}}
	for _, a := range all {
		a.memberships = member
	}
	return all
}

// full is a season with something of everything: trends, goals, a review, moments, notes and grades.
func full() *archive {
	a := flanker(12)
	a.squadSeason = models.SquadSeason{Revision: 5, Fitted: 5}
	won := trendOf("contact_won", "improving", 0.41, 0.63)
	completed := trendOf("tackle_completion", "declining", 0.93, 0.72)
	won.Figures.Before = []models.PastLevel{{Season: "2024-25", Estimate: *won.Figures.Start}}
	completed.Figures.Odd = []models.OddMatch{{MatchID: 103, Date: a.matches[3].Date, Value: 8, Of: 10, Expected: 9.1,
		Tail: 0.004}}
	hard := 5
	a.matches[3].Difficulty, a.matches[3].Conditions = &hard, "wet, strong wind"
	a.trends = []models.Trend{won, completed}
	for _, tr := range a.trends {
		a.publish(tr, 0.4, 0.6)
	}
	a.ratings = byTwo(grades("tackle", 3, 4, 3))
	a.goals = []models.Goal{{Record: models.Record{ID: 6}, PlayerID: 11, Indicator: "contact_won", Target: 0.7,
		SetOn: "2025-10-01", By: "2026-06-01", Why: "It decides how fast our ball is.",
		Actions: "Late footwork, every Tuesday."}}
	a.reviews = []models.Review{{Record: models.Record{ID: 3}, PlayerID: 11, AuthorID: 1, SquadID: 3, Date: "2026-04-10",
		Shared: true, NextStep: "Ten tackles a week on the knee pads."}}
	a.notes = []models.ReviewNote{{Record: models.Record{ID: 1}, PlayerID: 11, AuthorID: 1, Date: "2025-10-01",
		Shared: true, Text: "Good line on the switch."}}
	a.logs = []models.Log{{Record: models.Record{ID: 5}, MatchID: 100, PlayerID: 11},
		{Record: models.Record{ID: 6}, MatchID: 104, PlayerID: 11}}
	at := 754.0
	a.moments = []models.Involvement{
		{Record: models.Record{ID: 71}, LogID: 5, Kind: models.KindCarry, Moment: true, Note: "Low and square.",
			Clock: models.Clock{Half: 1, Second: 610}, Details: map[string]string{"contact": "won"}, VideoFile: "one.mp4",
			VideoFrom: &at},
		{Record: models.Record{ID: 72}, LogID: 6, Kind: models.KindTackle, Moment: true, Note: "Too high, slipped off.",
			Clock: models.Clock{Half: 2, Second: 2410}, Details: map[string]string{"result": "missed"}},
	}
	return a
}

// Every number of each edition of each player stands in the JSON of the same edition.
func TestEveryEditionSaysOnlyNumbersOfItsJSON(t *testing.T) {
	for name, a := range seasons() {
		for _, e := range everyEdition {
			r := readAs(t, a, staff, e)
			for _, odd := range unknownNumbers(t, r, file(t, r)) {
				t.Errorf("%s, %s: %s", name, e, odd)
			}
		}
	}
	r := readAs(t, full(), staff, season.PlayerEdition)
	if odd := unknownNumbers(t, r, file(t, r)+"<p>You won 98.7% of it.</p>"); len(odd) != 1 {
		t.Errorf("a number of no report is found %d times", len(odd))
	}
}

// On a page the unusual match, moments and the table of matches lead to the match's review in the reader's edition.
// What is handed over or printed leads nowhere.
func TestAPageLeadsToTheReviewsOfItsMatchesAndAFileDoesNot(t *testing.T) {
	for _, e := range everyEdition {
		r := readAs(t, full(), staff, e)
		sheet, err := drawing.Sheet(t.Context(), r)
		if err != nil {
			t.Fatal(err)
		}
		page, want := string(sheet.Body), map[season.Edition][]int{
			// the match of each edition's moments and, of the staff's, the unusual one
			season.StaffEdition: {100, 103, 104}, season.PlayerEdition: {100, 104},
		}[e]
		opening, _, _ := strings.Cut(page, `<table id="matches-table"`)
		for _, match := range want {
			link := fmt.Sprintf(`<a href="/players/11/matches/%d/review?edition=%s">`, match, e)
			if !strings.Contains(opening, link) {
				t.Errorf("%s: no %s before the table of matches", e, link)
			}
		}
		if n := strings.Count(page[len(opening):], `review?edition=`); want != nil && n < len(r.Matches) {
			t.Errorf("%s: %d links in the table of %d matches", e, n, len(r.Matches))
		}
		if out := file(t, r); strings.Contains(out, `href="/`) || want == nil && strings.Contains(page, `href="/`) {
			t.Errorf("%s: what is handed over leads into the program", e)
		}
	}
}

// A report with nothing to say says what to do next, and speaks of no figures where there are none.
func TestAnEmptyReportSaysWhatToDoNext(t *testing.T) {
	none, bare := seasons()["no match"], seasons()["one match"]
	bare.observations = nil
	for _, c := range []struct {
		a       *archive
		who     models.Who
		edition season.Edition
		want    []string
	}{
		{none, staff, season.StaffEdition, []string{"has not played", "once the player’s minutes are entered",
			"Go by what coaches and the player saw.", "Agree a goal on what coaches and the player saw."}},
		{none, himself, season.PlayerEdition, []string{"You have not played", "Ask your coaches what they saw.",
			"Agree with your coach what to work on first."}},
		{bare, staff, season.StaffEdition, []string{"No figures were recorded in it.", "Log a match from video"}},
		{bare, himself, season.PlayerEdition, []string{"No figures were recorded in it. It takes 4 matches"}},
	} {
		page := file(t, readAs(t, c.a, c.who, c.edition))
		for _, words := range c.want {
			if !strings.Contains(page, words) {
				t.Errorf("%s does not say %q", c.edition, words)
			}
		}
		if strings.Contains(page, "these figures") || strings.Contains(page, "No figure here") {
			t.Errorf("%s speaks of figures, and has none", c.edition)
		}
	}
	guardian := file(t, readAs(t, full(), staff, season.GuardianPrint))
	if !strings.Contains(guardian, "for a parent or guardian.</p>") {
		t.Error("the guardian’s print is made for someone else")
	}
}
