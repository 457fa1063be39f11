package pages_test

import (
	"bytes"
	"fmt"
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports/personal"
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
			return strings.HasPrefix(r, "Bryn Calder|Flanker||6|350not recorded in 1 match;")
		}) {
			t.Errorf("home says %q", rows(home))
		}
		for path, logins := range map[string][]string{"/safety": {"ansel"}, seasonReport(a.Bryn, a.Season): {"ansel",
			"bryn"}} {
			for _, login := range logins {
				text := strings.ToLower(strings.Join(strings.Fields(get(login, path)), " "))
				unknown := "not recorded in 1 match"
				if path == "/safety" {
					unknown = "385 of 400 minutes in the season up to 1 dec 2025; the minutes of 1 match were not recorded"
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

// A match whose minutes were not recorded stands on the player's page, in the report for an earlier day and in the
// archive of a data request as not recorded, and no rate counts it.
func TestNoPaperOfAPlayerTakesMinutesNotRecordedForZero(t *testing.T) {
	a := apitest.OnSQLite(t)
	var m models.Match
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		m = models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: "2025-11-29", Opponent: "Saltby", Halves: 2,
			HalfMinutes: 35}
		if err := tx.CreateMatch(&m); err != nil {
			return err
		}
		err := tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: a.Bryn.ID, MinutesNotRecorded: true})
		if err != nil {
			return err
		}
		if err := tx.CreateMatchTotals(&models.MatchTotals{MatchID: m.ID, PlayerID: a.Bryn.ID,
			Source: "the paper sheets", Counts: models.Counts{"carries": 40}}); err != nil {
			return err
		}
		return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "All season", Minutes: 350})
	})
	if err != nil {
		t.Fatal(err)
	}
	zero := regexp.MustCompile(`(?i)(^|[^0-9.])0 minutes|minutes[:| ]+0\b`)
	check := func(name, page, want string) {
		t.Helper()
		text := html.UnescapeString(regexp.MustCompile(`\s+`).ReplaceAllString(page, " "))
		if !strings.Contains(text, want) {
			t.Errorf("%s does not say %q", name, want)
		}
		if found := zero.FindString(text); found != "" {
			t.Errorf("%s says %q", name, found)
		}
	}
	staff := a.SignIn(t, "ansel")
	person := fmt.Sprintf("/players/%d", a.Bryn.ID)
	check("the player’s page", staff.Get(person).Body, "the minutes of 1 match were not recorded")
	check("the own page", a.SignIn(t, "bryn").Get(person).Body, "the minutes of 1 match were not recorded")
	then := staff.Get(seasonReport(a.Bryn, a.Season) + "?as_of=2025-11-30").Body
	check("the report for a day", then, "not recorded in 1 match")
	line := func(page string, start string) string {
		all := rows(page)
		if i := slices.IndexFunc(all, func(r string) bool { return strings.HasPrefix(r, start) }); i >= 0 {
			return all[i]
		}
		return ""
	}
	if got := line(then, "29 Nov 2025 v Saltby"); !strings.Contains(got, "not recorded") {
		t.Errorf("the report for a day has the match as %q", got)
	}
	before := line(staff.Get(seasonReport(a.Bryn, a.Season)+"?as_of=2025-11-28").Body, "Carries")
	now := line(then, "Carries")
	if before == "" || strings.ReplaceAll(now, ", not counting 1 match without minutes", "") != before {
		t.Errorf("carries up to the day before %q, with the match %q", before, now)
	}
	record, err := a.Store.ExportPlayer(t.Context(), models.Console(a.ID), a.Bryn.ID, models.AskedByAcademy)
	if err != nil {
		t.Fatal(err)
	}
	var archive bytes.Buffer
	if err := personal.WritePage(&archive, record); err != nil {
		t.Fatal(err)
	}
	check("the archive", archive.String(), "Saltby")
	got := ""
	for _, r := range rows(archive.String()) {
		if strings.HasPrefix(r, "Saltby, 29 Nov 2025|") && strings.Contains(r, "not recorded") {
			got = r
		}
		if strings.HasPrefix(r, "Saltby, 29 Nov 2025|0") {
			t.Errorf("the archive has %q", r)
		}
	}
	if got == "" {
		t.Error("the archive does not say that the minutes were not recorded")
	}
}
