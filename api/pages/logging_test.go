package pages_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// A coach is told whom to log in the squad's next match, and not of anyone who cannot play or lacks a consent.
func TestThePageOfLoggingProposesThoseWhoseTurnItIs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "ansel")
		page := func() string { return strings.Join(strings.Fields(c.Get("/logging").Body), " ") }
		if got := page(); !strings.Contains(got, "No match is to come this season.") {
			t.Errorf("with no match to come:\n%s", got)
		}
		next := models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: a.Season.Ends, Opponent: "Ashcombe",
			Halves: 2, HalfMinutes: 35}
		away := models.Spell{PlayerID: a.Owen.ID, Status: models.Unavailable, From: a.Season.Starts}
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			if err := tx.CreateMatch(&next); err != nil {
				return err
			}
			return tx.CreateSpell(&away)
		})
		if err != nil {
			t.Fatal(err)
		}
		if got := page(); !strings.Contains(got, "Left out: 1 unavailable or stood down and 1 without the consents") ||
			!strings.Contains(got, "No player who may be logged is available.") {
			t.Errorf("with no one to log:\n%s", got)
		}
		coach, err := a.Join(t, a.ID, models.User{Login: "corin", Name: "Corin Veale", Role: models.RoleCoach})
		if err != nil {
			t.Fatal(err)
		}
		err = s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			return tx.CreateConsent(&models.Consent{PlayerID: a.Bryn.ID, Purpose: models.PurposeFilming,
				GivenBy: "Ida Calder", Relation: models.ByGuardian, On: a.Season.Starts, RecordedBy: coach.ID})
		})
		if err != nil {
			t.Fatal(err)
		}
		got := page()
		for _, want := range []string{"Next match: Ashcombe", "Bryn Calder</a>, <span class=\"quiet\">", "two coaches",
			"Log Bryn Calder</a>"} {
			if !strings.Contains(got, want) {
				t.Errorf("the page does not say %q:\n%s", want, got)
			}
		}
		if _, turns, _ := strings.Cut(got, "Next match"); strings.Contains(turns, "Owen") || strings.Contains(got, "Tam") {
			t.Errorf("the page names one who is away, or of another squad:\n%s", got)
		}
		theProposalsStay(t, a, coach)
		for _, at := range []string{"/logging", "/matches"} {
			got := said(a.SignIn(t, "corin").Get(at).Body)
			if !strings.Contains(got, "You do not work with a squad yet") || !strings.Contains(got, "Ask a manager") {
				t.Errorf("%s to a coach without a squad:\n%s", at, got)
			}
		}
		if got := a.SignIn(t, "bryn").Get("/logging"); got.Status != http.StatusForbidden {
			t.Errorf("a player: %d; want 403", got.Status)
		}
	})
}

// theProposalsStay checks that a match keeps its proposals over its team sheet until those proposed are logged, by two
// coaches where it asks for two; that a log which someone only started is shown; and that a past match without a team
// sheet leads there, and not to grades.
func theProposalsStay(t *testing.T, a *apitest.Academy, second models.User) {
	t.Helper()
	var match models.Match
	bare := models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: "2025-11-08", Opponent: "Elmbridge",
		Halves: 2, HalfMinutes: 35}
	logs := []models.Log{{}, {LoggerID: second.ID}} // the first is the coach's who reads the page
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		users, err := tx.Users(models.UserFilter{})
		if err != nil {
			return err
		}
		for _, u := range users {
			if u.Login == "ansel" {
				logs[0].LoggerID = u.ID
			}
		}
		all, err := tx.Matches(models.MatchFilter{PlayerID: a.Bryn.ID, SquadID: a.Under18.ID})
		if err != nil {
			return err
		}
		match = all[len(all)-1]
		for i := range logs {
			l := &logs[i]
			l.MatchID, l.PlayerID, l.Depth, l.Kinds = match.ID, a.Bryn.ID, models.Core, []models.Kind{models.KindCarry}
			if err := tx.CreateLog(l); err != nil {
				return err
			}
		}
		return tx.CreateMatch(&bare)
	})
	if err != nil {
		t.Fatal(err)
	}
	of := func(login string) string {
		return said(a.SignIn(t, login).Get(fmt.Sprintf("/logging?match=%d", match.ID)).Body)
	}
	ends := func(i int) {
		t.Helper()
		logs[i].Finished = true
		err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error { return tx.UpdateLog(&logs[i]) })
		if err != nil {
			t.Fatal(err)
		}
	}
	has := func(when, page string, all ...string) {
		t.Helper()
		for _, want := range all {
			if !strings.Contains(page, want) {
				t.Errorf("%s the page does not say %q:\n%s", when, want, page)
			}
		}
	}
	hub := func() string { return said(a.SignIn(t, "ansel").Get(fmt.Sprintf("/matches/%d", match.ID)).Body) }
	has("of the match", hub(), "started by you and Corin Veale. Go on with your log of Bryn Calder two coaches",
		"Log Owen Tarrant none yet Open Write one none")
	has("with two logs begun", of("ansel"), "Go on with your log of Bryn Calder", "started by you and Corin Veale",
		"two coaches Left out")
	ends(0)
	has("with one finished", of("mabyn"), "Log Bryn Calder as second coach",
		"logged by Ansel Brock, started by Corin Veale two coaches")
	ends(1)
	page := of("ansel")
	has("with both finished", page, "Bryn Calder, logged by you and Corin Veale. How far they agree", "Log Owen Tarrant")
	if strings.Contains(page, "two coaches Left out") || strings.Contains(page, "Waits") {
		t.Errorf("a match whose proposals were followed waits:\n%s", page)
	}
	has("of the match, logged twice", hub(), "logged by you and Corin Veale. How far they agree")
	has("of a match without a team sheet", said(a.SignIn(t, "ansel").Get(fmt.Sprintf("/matches/%d", bare.ID)).Body),
		"No one is on the team sheet yet. The squad has 2 players. Paste the team sheet")
	page = a.SignIn(t, "ansel").Get("/logging").Body
	sheet := fmt.Sprintf(`<a href="/matches/%d#sheet">Enter the team sheet`, bare.ID)
	if grades := fmt.Sprintf("/matches/%d/grades", bare.ID); !strings.Contains(page, sheet) ||
		strings.Contains(page, grades) {
		t.Errorf("a past match without a team sheet does not lead to it, or leads to grades:\n%s", page)
	}
	page = a.SignIn(t, "ansel").Get(fmt.Sprintf("/logging?season=%d", a.Earlier.ID)).Body
	has("of another season", said(page), "No match of Under 18 is on file in 2024-25")
}
