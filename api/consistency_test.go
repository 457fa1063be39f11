package api_test

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports/consistency"
	"throughline/reports/fits"
)

// graders adds coaches of the under 18s, by username, and has each of them and ansel grade the tackles of some players
// in a block; the first one is a grade stricter.
func (s *stage) graders(t *testing.T, logins ...string) (players []models.Player, raters []int64) {
	t.Helper()
	s.as(t, "", func(tx *store.Tx) error {
		for _, login := range logins {
			u := models.User{Login: login, Name: "Coach " + strings.ToUpper(login), Role: models.RoleCoach}
			if err := tx.CreateUser(&u); err != nil {
				return err
			}
			if err := tx.AddSquadStaff(u.ID, s.Under18.ID); err != nil {
				return err
			}
			raters = append(raters, u.ID)
		}
		return nil
	})
	raters = append(raters, s.user(t, "ansel").UserID)
	for n := range 12 {
		p := s.player(t, fmt.Sprint("Graded ", string(rune('A'+n))))
		players = append(players, p)
		s.as(t, "", func(tx *store.Tx) error {
			for c, rater := range raters {
				g := 2 + n%3
				if (n+2*c)%5 == 0 {
					g++
				}
				if c == 0 {
					g--
				}
				r := models.Rating{PlayerID: p.ID, RaterID: rater, Skill: "tackle", Grade: g, Date: "2025-10-11",
					Block: "October"}
				if err := tx.CreateRating(&r); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return players, raters
}

// By REST and on the page a coach reads no other coach's name and no severity but their own; a manager reads all.
func TestACoachLearnsNoOtherCoachsSeverity(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}}
		s.graders(t, "wenna", "petroc", "jory")
		at := fmt.Sprintf("/squads/%d/seasons/%d/consistency", s.Under18.ID, s.Season.ID)
		read := func(login string) (r consistency.Report, page string) {
			t.Helper()
			got := s.Program(t, login).Get("/api/v1" + at)
			if err := json.Unmarshal([]byte(got.Body), &r); got.Status != http.StatusOK || err != nil {
				t.Fatalf("%s: %d %v %s", login, got.Status, err, got.Body)
			}
			return r, got.Body + s.browser(t, login).Get(at).Body
		}
		all, page := read("mabyn")
		if !all.Named || len(all.Severity) != 4 || all.Severity[0].Coach != "Coach WENNA" ||
			!strings.Contains(page, "Coach WENNA is about") {
			t.Errorf("the manager reads %+v", all.Severity)
		}
		own, page := read("ansel")
		if own.Named || len(own.Severity) != 1 || own.Severity[0].Coach != "You" || own.Grades != all.Grades {
			t.Errorf("the coach reads %+v", own.Severity)
		}
		for _, name := range []string{"WENNA", "PETROC", "JORY", "user_id"} {
			if strings.Contains(page, name) {
				t.Errorf("the coach reads %s", name)
			}
		}
		for _, login := range []string{"sorrel", "bryn"} {
			if got := s.Program(t, login).Get("/api/v1" + at); got.Status != http.StatusForbidden {
				t.Errorf("%s by REST: %d", login, got.Status)
			}
			if got := s.browser(t, login).Get(at); got.Status != http.StatusForbidden ||
				!strings.Contains(got.Body, "may not read how far") {
				t.Errorf("%s on the page: %d %s", login, got.Status, got.Body)
			}
		}
		if home := s.browser(t, "ansel").Get("/").Body; !strings.Contains(home, at) {
			t.Error("no way from home to the page")
		}
	})
}

// The paper about a graded player, its file, its JSON and the list of trends say to no one how strict a coach is. The
// player reads no coach's name in them.
func TestNoReportSaysHowStrictACoachIs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}}
		_, raters := s.graders(t, "wenna", "petroc", "jory")
		s.as(t, "", func(tx *store.Tx) error {
			for n, rater := range raters {
				r := models.Rating{PlayerID: s.Bryn.ID, RaterID: rater, Skill: "tackle", Grade: 3 + n%2, Date: "2025-10-11",
					Block: "October"}
				if err := tx.CreateRating(&r); err != nil {
					return err
				}
			}
			return nil
		})
		keeper := fits.NewKeeper(api.Records{Store: s.Store}, longAgo, slog.New(slog.DiscardHandler))
		if _, err := api.RefitAll(t.Context(), s.Store, keeper); err != nil {
			t.Fatal(err)
		}
		at := fmt.Sprintf("/players/%d/seasons/%d", s.Bryn.ID, s.Season.ID)
		for _, login := range []string{"mabyn", "ansel", "sorrel", "bryn"} {
			for form, body := range map[string]string{"page": s.browser(t, login).Get(at).Body,
				"file": s.browser(t, login).Get(at + "/report.html").Body,
				"JSON": s.Program(t, login).Get("/api/v1" + at + "/report").Body,
				"list": s.Program(t, login).Get("/api/v1" + at + "/trends").Body} {
				body = strings.ToLower(body)
				if !strings.Contains(body, "tackle") {
					t.Errorf("the %s for %s is no report of the graded player: %.300s", form, login, body)
				}
				for _, word := range []string{"stricter than", "lenient than", "severity\"", "severities"} {
					if strings.Contains(body, word) {
						t.Errorf("the %s for %s says %q", form, login, word)
					}
				}
				for _, name := range []string{"coach wenna", "coach petroc", "coach jory", "ansel brock"} {
					if login == "bryn" && strings.Contains(body, name) {
						t.Errorf("the %s for the player names %s", form, name)
					}
				}
			}
		}
	})
}

// With three coaches one's own severity would tell the others'.
func TestACoachOfThreeReadsNoSeverityOnThePageNorByREST(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}}
		s.graders(t, "wenna", "petroc")
		at := fmt.Sprintf("/squads/%d/seasons/%d/consistency", s.Under18.ID, s.Season.ID)
		var r consistency.Report
		if err := json.Unmarshal([]byte(s.Program(t, "ansel").Get("/api/v1"+at).Body), &r); err != nil {
			t.Fatal(err)
		}
		page := spoken(s.browser(t, "ansel").Get(at).Body)
		if len(r.Severity) != 0 || len(r.Skills) == 0 || len(r.Skills[0].Severity) != 0 ||
			!strings.Contains(page, "Your own severity is not shown: 3 coaches graded") ||
			strings.Contains(page, "In words Stricter by") {
			t.Errorf("severity %+v, %+v; the page: %s", r.Severity, r.Skills, page)
		}
		if got := spoken(s.browser(t, "mabyn").Get(at).Body); !strings.Contains(got, "Coach WENNA is about") {
			t.Errorf("the manager reads %s", got)
		}
	})
}

// A grade in an open round changes nothing that anyone reads of how far grades agree.
func TestAGradeInAnOpenRoundChangesNothingThatIsReadOfHowGradesAgree(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}}
		players, raters := s.graders(t, "wenna", "petroc", "jory")
		at := fmt.Sprintf("/api/v1/squads/%d/seasons/%d/consistency", s.Under18.ID, s.Season.ID)
		before, all := s.Program(t, "ansel").Get(at).Body, s.Program(t, "mabyn").Get(at).Body
		s.as(t, "", func(tx *store.Tx) error {
			open := models.RatingRound{SeasonID: s.Season.ID, SquadID: s.Under18.ID, Name: "Late", Date: "2025-10-25",
				Block: "Late October", Closes: "2026-06-30"}
			if err := tx.CreateRatingRound(&open); err != nil {
				return err
			}
			for n, rater := range raters[:2] {
				r := models.Rating{PlayerID: players[0].ID, RaterID: rater, Skill: "tackle", Grade: 1 + 4*n, Date: "2025-10-25",
					Block: "Late October"}
				if err := tx.CreateRating(&r); err != nil {
					return err
				}
			}
			return nil
		})
		if after := s.Program(t, "ansel").Get(at).Body; after != before {
			t.Errorf("the coach reads\n%s\nand read\n%s", after, before)
		}
		if after := s.Program(t, "mabyn").Get(at).Body; after != all {
			t.Error("the manager reads of grades in an open round")
		}
	})
}
