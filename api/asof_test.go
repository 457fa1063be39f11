package api_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/asof"
	"throughline/reports/chart"
	"throughline/reports/fits"
	"throughline/reports/paper"
)

// round records what a coach adds after a match: logs with a moment each, grades, notes, and what else has a day.
func (a *autumn) round(t *testing.T, coach int64, goal *models.Goal, day models.Date) {
	t.Helper()
	a.record(t, day)
	match := a.matches[len(a.matches)-1]
	a.write(t, func(tx *store.Tx) error {
		for n, p := range a.players[:8] {
			log := models.Log{MatchID: match.ID, PlayerID: p.ID, LoggerID: coach, Depth: models.Full, Finished: true,
				Kinds: []models.Kind{models.KindCarry}}
			if err := tx.CreateLog(&log); err != nil {
				return err
			}
			for k := range 3 {
				err := tx.CreateInvolvement(&models.Involvement{LogID: log.ID, Clock: models.Clock{Half: 1, Second: 60 * (k + 1)},
					Kind: models.KindCarry, Moment: k == 0, Note: "on " + string(day),
					Details:  map[string]string{"contact": "won", "gain_line": "over"},
					Measures: map[string]float64{"metres": float64(1 + (n+k+len(a.matches))%7)}})
				if err != nil {
					return err
				}
			}
			err := tx.CreateRating(&models.Rating{PlayerID: p.ID, RaterID: coach, Skill: "tackle", MatchID: &match.ID,
				Date: day, Grade: 2 + (n+len(a.matches))%3})
			if err != nil {
				return err
			}
		}
		player := a.players[0].ID
		spell := models.Spell{PlayerID: player, Status: models.Modified, From: day.AddDays(1), Until: new(day.AddDays(2))}
		return errors.Join(
			tx.CreateReviewNote(&models.ReviewNote{PlayerID: player, AuthorID: coach, Date: day, Shared: true,
				Text: "After " + string(day)}),
			tx.CreateCheckIn(&models.CheckIn{GoalID: goal.ID, Shared: true, AuthorID: coach, Date: day, Text: "Seen on " +
				string(day)}),
			tx.CreateSpell(&spell),
			tx.CreateTeamTotals(&models.TeamTotals{MatchID: match.ID, Scope: models.WholeTeam,
				Counts: models.Counts{"carries": float64(90 + len(a.matches)),
					models.BallInPlay: float64(25 + 3*(len(a.matches)%4))}}),
		)
	})
}

// watched is an autumn with a coach, a goal and four rounds.
func watched(t *testing.T, url string) (a *autumn, coach int64, goal *models.Goal) {
	t.Helper()
	a = newAutumn(t, url)
	user := models.User{Login: "coach", Name: "Sol Ardane", Role: models.RoleCoach}
	goal = &models.Goal{PlayerID: a.players[0].ID, Indicator: "carries", SetOn: "2025-09-02", By: "2025-12-01", Target: 9,
		Why:    "More.",
		Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
	a.write(t, func(tx *store.Tx) error {
		if err := tx.CreateUser(&user); err != nil {
			return err
		}
		goal.OwnerID = user.ID
		return tx.CreateGoal(goal)
	})
	for _, day := range []models.Date{"2025-09-05", "2025-09-12", "2025-09-19", "2025-09-26", "2025-10-03"} {
		a.second(t, day)
	}
	a.now = time.Date(2025, 10, 4, 9, 0, 0, 0, time.UTC)
	a.fit(t) // the squad's own fits find what the second's say about the scales
	for _, day := range []models.Date{"2025-09-06", "2025-09-13", "2025-09-20", "2025-09-27", "2025-10-04"} {
		a.round(t, user.ID, goal, day)
	}
	return a, user.ID, goal
}

// second records a match of a second squad, whose players move a lot.
func (a *autumn) second(t *testing.T, day models.Date) {
	t.Helper()
	a.write(t, func(tx *store.Tx) error {
		if a.others == nil {
			squad := models.Squad{Name: "Second"}
			if err := tx.CreateSquad(&squad); err != nil {
				return err
			}
			for n := range 8 {
				p := models.Player{Name: fmt.Sprint("Second ", n), BornOn: new(models.Date("2004-05-06")),
					Positions: []models.Position{models.Flanker}}
				if err := tx.CreatePlayer(&p); err != nil {
					return err
				}
				a.others = append(a.others, p)
				err := tx.CreateMembership(&models.Membership{SeasonID: a.season.ID, SquadID: squad.ID, PlayerID: p.ID,
					From: a.season.Starts})
				if err != nil {
					return err
				}
			}
		}
		members, err := tx.Memberships(models.MembershipFilter{PlayerID: a.others[0].ID})
		if err != nil {
			return err
		}
		m := models.Match{SeasonID: a.season.ID, SquadID: &members[0].SquadID, Date: day, Opponent: "Saltby", Halves: 2,
			HalfMinutes: 40}
		if err := tx.CreateMatch(&m); err != nil {
			return err
		}
		at, err := day.Time()
		if err != nil {
			return err
		}
		for n, p := range a.others {
			err := tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: p.ID, Minutes: 80})
			if err != nil {
				return err
			}
			carries := math.Round(12 + 0.3*float64(at.YearDay()-260)*float64(n%2*2-1))
			err = tx.CreateMatchTotals(&models.MatchTotals{MatchID: m.ID, PlayerID: p.ID, Source: "test",
				Counts: models.Counts{"carries": carries, "tackles_made": 20 - math.Floor(carries/2), "tackles_missed": 1}})
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// later records everything that can be dated after a day.
func (a *autumn) later(t *testing.T, coach int64, goal *models.Goal) {
	t.Helper()
	for _, day := range []models.Date{"2025-10-11", "2025-10-18"} {
		a.second(t, day.AddDays(-1))
		a.round(t, coach, goal, day)
	}
	player := a.players[0].ID
	a.now = time.Date(2025, 10, 20, 12, 0, 0, 0, time.UTC)
	a.write(t, func(tx *store.Tx) error {
		contact := models.HeadContact{PlayerID: player, Date: "2025-10-11", MatchID: &a.matches[5].ID}
		late := models.Player{Name: "Late Comer", Positions: []models.Position{models.Flanker}}
		if err := errors.Join(tx.CreateHeadContact(&contact), tx.CreatePlayer(&late)); err != nil {
			return err
		}
		g, err := tx.Goal(goal.ID)
		if err != nil {
			return err
		}
		g.ClosedOn, g.Result, g.Outcome = new(models.Date("2025-10-20")), models.GoalDropped, "Parked."
		return errors.Join(
			tx.UpdateGoal(&g),
			tx.CreateGoal(&models.Goal{PlayerID: player, OwnerID: coach, Skill: "tackle", SetOn: "2025-10-12",
				By: "2025-12-12", Target: 4, Why: "Later.",
				Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}),
			tx.CreateMembership(&models.Membership{SeasonID: a.season.ID, SquadID: a.squad.ID, PlayerID: late.ID,
				From: "2025-10-10"}),
			tx.CreateStandDown(&models.StandDown{PlayerID: player, From: "2025-10-18", SetBy: coach}),
		)
	})
}

// changing are what differs between two databases whatever they say: when rows were written, and how often.
var changing = regexp.MustCompile(`\n *"(made_at|as_of|revision|created_at|changed_at|version)": ?[^,\n]+,?`)

// said is a paper as text without what is changing, and its page.
func said(t *testing.T, c *paper.Copy) (content, page string) {
	t.Helper()
	text, err := json.MarshalIndent(c.Content, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := c.WriteFile(t.Context(), &file); err != nil {
		t.Fatal(err)
	}
	return changing.ReplaceAllString(string(text), ""), file.String()
}

// reportOf reads a player's season report as the console, of today or of a day.
func (a *autumn) reportOf(t *testing.T, one paper.Paper, player int64, day models.Date, edition string) *paper.Copy {
	t.Helper()
	asked := paper.Asked{Who: a.who, Now: a.now, AsOf: day, Edition: edition,
		IDs: map[paper.Subject]int64{paper.OfPlayer: player, paper.OfSeason: a.season.ID}}
	var trends asof.Trends
	if day != "" {
		squads := []models.SquadSeason{{SeasonID: a.season.ID, SquadID: a.squad.ID}}
		var data *fits.Together
		err := a.Read(t.Context(), a.who, func(tx *store.Tx) (err error) {
			data, err = asof.Read(tx, day, squads)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		if trends, err = asof.Fit(t.Context(), squads, data); err != nil {
			t.Fatal(err)
		}
	}
	var read *paper.Copy
	err := a.Read(t.Context(), a.who, func(tx *store.Tx) (err error) {
		read, err = asof.ReadPaper(t.Context(), tx, one, asked, trends)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return read
}

func TestAReportAsOfADayIsThatOfADatabaseWithoutLaterRecords(t *testing.T) {
	charts := chart.NewRenderer(0)
	defer charts.Close()
	all, err := reports.Papers(charts)
	if err != nil {
		t.Fatal(err)
	}
	storetest.EachURL(t, func(t *testing.T, url string) {
		const day = models.Date("2025-10-06")
		other := storetest.SQLite
		if strings.HasPrefix(url, "postgres") {
			other = storetest.MigratedPostgres
		}
		short, _, _ := watched(t, other(t))
		short.now = time.Date(2025, 10, 6, 12, 0, 0, 0, time.UTC)
		short.fit(t)
		whole, coach, goal := watched(t, url)
		whole.later(t, coach, goal)
		whole.now = time.Date(2025, 11, 20, 12, 0, 0, 0, time.UTC)
		whole.fit(t)
		for _, player := range []int{0, 5} {
			id := short.players[player].ID
			for _, edition := range []string{"player", "talk-sheet"} {
				want, _ := said(t, short.reportOf(t, all[0], id, "", edition))
				got, _ := said(t, whole.reportOf(t, all[0], id, day, edition))
				if got != want || !strings.Contains(got, `"verdict"`) {
					t.Errorf("player %d, %s: %s\n%.1000s", player, edition, difference(got, want), got)
				}
			}
			want, _ := said(t, short.reportOf(t, all[0], id, "", ""))
			got, page := said(t, whole.reportOf(t, all[0], id, day, ""))
			if got != want {
				t.Errorf("player %d: %s", player, difference(got, want))
			}
			if !strings.Contains(page, "As of 6 Oct 2025") {
				t.Errorf("player %d: the paper does not say of which day it is", player)
			}
			if now, _ := said(t, whole.reportOf(t, all[0], id, "", "")); now == want {
				t.Errorf("player %d: the later records change nothing, so nothing was compared", player)
			}
			if !strings.Contains(got, `"verdict"`) || player == 0 && !strings.Contains(got, "Seen on 2025-10-04") {
				t.Errorf("player %d: the report has no trends, or no check-in:\n%.2000s", player, got)
			}
		}
		err := whole.Read(t.Context(), whole.who, func(tx *store.Tx) error {
			_, err := asof.New(tx, "2025-11-21", nil)
			return err
		})
		if models.CodeOf(err) != models.Invalid || !strings.Contains(err.Error(), "after today, 2025-11-20") {
			t.Errorf("as of tomorrow: %v", err)
		}
		if err := api.SettleOver(t.Context(), whole.Store, whole.keeper, whole.who); err != nil {
			t.Error(err)
		}
	})
}

// Over HTTP a report of an earlier day is for staff, without trends, and says both; a player reads what is published.
func TestAReportAsOfADayIsForStaffAndSaysSo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		path := fmt.Sprintf("/players/%d/seasons/%d", a.Bryn.ID, a.Season.ID)
		program := a.Program(t, "mabyn")
		got := program.Get("/api/v1" + path + "/report?as_of=" + string(a.Season.Starts.AddDays(60)))
		if got.Status != http.StatusOK || !strings.Contains(got.Body, `"as_of"`) {
			t.Errorf("as of a day: %d %.300s", got.Status, got.Body)
		}
		for _, bad := range []string{"yesterday", "2125-01-01"} {
			got := program.Get("/api/v1" + path + "/report?as_of=" + bad)
			if got.Status != http.StatusUnprocessableEntity && got.Status != http.StatusBadRequest {
				t.Errorf("as of %s: %d %.300s", bad, got.Status, got.Body)
			}
		}
		manager := a.SignIn(t, "mabyn")
		page := manager.Get(path + "?as_of=" + string(a.Season.Starts.AddDays(60)))
		if page.Status != http.StatusOK || !strings.Contains(page.Body, "As of ") ||
			!strings.Contains(page.Body, ".html?as_of=") {
			t.Errorf("the page: %d", page.Status)
		}
		if got := a.SignIn(t, "bryn").Get(path + "?as_of=" + string(a.Season.Starts)); got.Status != http.StatusForbidden {
			t.Errorf("a player reads an earlier day: %d", got.Status)
		}
	})
}
