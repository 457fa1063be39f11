package pages_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// A match without minutes counts as a match and adds none to the minutes of home, a limit or a report, in any edition.
func TestPagesKeepAMatchWithoutMinutesApart(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			m := models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: "2025-11-29", Opponent: "Saltby", Halves: 2,
				HalfMinutes: 35}
			if err := tx.CreateMatch(&m); err != nil {
				return err
			}
			err := tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: a.Bryn.ID, MinutesNotRecorded: true})
			if err != nil {
				return err
			}
			return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "All season", Minutes: 400})
		})
		if err != nil {
			t.Fatal(err)
		}
		get := func(login, path string) string {
			t.Helper()
			got := a.SignIn(t, login).Get(path)
			if got.Status != http.StatusOK {
				t.Fatalf("%s as %s: %d", path, login, got.Status)
			}
			return got.Body
		}
		home := get("ansel", "/")
		if !slices.ContainsFunc(rows(home), func(r string) bool {
			return strings.HasPrefix(r, "Bryn Calder|Flanker|6|350not recorded in 1 match;")
		}) {
			t.Errorf("home says %q", rows(home))
		}
		for path, logins := range map[string][]string{"/safety": {"ansel"}, seasonReport(a.Bryn, a.Season): {"ansel",
			"bryn"}} {
			for _, login := range logins {
				text := strings.ToLower(strings.Join(strings.Fields(get(login, path)), " "))
				unknown := "not recorded in 1 match"
				if path == "/safety" {
					unknown = "385 minutes in the season up to 1 dec 2025, of 400; the minutes of 1 match were not recorded"
				} else if !strings.Contains(text, "5 more with totals only, 1 more with no figures") {
					t.Errorf("%s as %s does not say which matches have no log", path, login)
				}
				if !strings.Contains(text, unknown) {
					t.Errorf("%s as %s does not say %q", path, login, unknown)
				}
				if strings.Contains(text, "&gt;0 minutes") || strings.Contains(text, " 0 minutes") {
					t.Errorf("%s as %s takes not recorded for zero", path, login)
				}
			}
		}
	})
}
