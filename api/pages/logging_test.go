package pages_test

import (
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
		err = s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			coach := models.User{Login: "corin", Name: "Corin Veale", Role: models.RoleCoach}
			if err := tx.CreateUser(&coach); err != nil {
				return err
			}
			return tx.CreateConsent(&models.Consent{PlayerID: a.Bryn.ID, Purpose: models.PurposeFilming,
				GivenBy: "Ida Calder", Relation: models.ByGuardian, On: a.Season.Starts, RecordedBy: coach.ID})
		})
		if err != nil {
			t.Fatal(err)
		}
		got := page()
		for _, want := range []string{"Next match:</b> Ashcombe", "Bryn Calder</a>, <span class=\"quiet\">", "two coaches",
			"Log Bryn Calder</a>"} {
			if !strings.Contains(got, want) {
				t.Errorf("the page does not say %q:\n%s", want, got)
			}
		}
		if turns, _, _ := strings.Cut(got, "</ol>"); strings.Contains(turns, "Owen") || strings.Contains(got, "Tam") {
			t.Errorf("the page names one who is away, or of another squad:\n%s", got)
		}
		if got := a.SignIn(t, "bryn").Get("/logging"); got.Status != http.StatusForbidden {
			t.Errorf("a player: %d; want 403", got.Status)
		}
	})
}
