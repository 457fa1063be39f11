package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// found is what a pattern finds on a page, its first group.
func found(t *testing.T, page, pattern string) string {
	t.Helper()
	all := regexp.MustCompile(pattern).FindStringSubmatch(page)
	if all == nil {
		t.Fatalf("nothing like %s is on the page", pattern)
	}
	return all[1]
}

func TestGuestsEventsAndOtherTeamsByForm(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "mabyn")
		post := func(path string, status int, values ...string) string {
			t.Helper()
			form := url.Values{}
			for i := 0; i < len(values); i += 2 {
				form.Set(values[i], values[i+1])
			}
			got := c.Post(path, form)
			if got.Status != status {
				t.Fatalf("POST %s %v: %d %s", path, form, got.Status, got.Body)
			}
			return got.Body
		}
		match := models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: a.Season.Starts.AddDays(30),
			Opponent: "Marrick", Halves: 2, HalfMinutes: 35}
		outside := models.Player{Name: "Wren Tolley"}
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			if err := tx.CreatePlayer(&outside); err != nil {
				return err
			}
			return tx.CreateMatch(&match)
		})
		if err != nil {
			t.Fatal(err)
		}
		at := fmt.Sprintf("/matches/%d", match.ID)

		// a guest of another squad, and one who is not of the academy
		if body := post(at+"/guests", http.StatusUnprocessableEntity, "shirt", "16"); !strings.Contains(body,
			"choose a player of another squad, or write the name of a new guest") {
			t.Error("a guest without a name is not asked for one")
		}
		post(at+"/guests", http.StatusSeeOther, "player_id", fmt.Sprint(outside.ID), "shirt", "16", "on", "50")
		post(at+"/guests", http.StatusSeeOther, "name", "Odd Moen", "born_on", "2008-01-02", "shirt", "4")
		page := c.Get(at).Body
		for _, want := range []string{`value="Wren Tolley"`, `value="Odd Moen"`, "2 players are on file"} {
			if !strings.Contains(page, want) {
				t.Errorf("the team sheet lacks %s", want)
			}
		}
		coach := a.SignIn(t, "ansel") // who works with the squad, and not with either guest
		if got := coach.Get(at); got.Status == http.StatusOK {
			sheet := url.Values{"was": {found(t, got.Body, `name="was" value="([^"]*)"`)}}
			const typed = `<input[^>]* name="((?:shirt|player|on|off|position)-\d+)" value="([^"]*)"`
			for _, field := range regexp.MustCompile(typed).FindAllStringSubmatch(got.Body, -1) {
				sheet.Set(field[1], field[2])
			}
			if strings.Contains(got.Body, "Odd Moen") {
				t.Error("a coach is shown the name of a player whom they may not read")
			}
			if sent := coach.Post(at+"/sheet", sheet); sent.Status != http.StatusSeeOther {
				t.Errorf("a coach cannot save a team sheet with guests as it is: %d", sent.Status)
			}
		} else {
			t.Errorf("the coach's page: %d", got.Status)
		}

		// an event is corrected, and withdrawn
		post(at+"/events", http.StatusSeeOther, "kind", "try", "side", "ours", "half", "1", "clock", "12:30")
		event := found(t, c.Get(at).Body, at+`/events/(\d+)#events`)
		body := post(at+"/events/"+event, http.StatusUnprocessableEntity, "version", "1", "kind", "try", "half", "1",
			"clock", "twelve")
		if !strings.Contains(body, "write minutes and seconds of the match clock") || !strings.Contains(body, "twelve") {
			t.Error("what was typed is lost, or not said to be wrong")
		}
		post(at+"/events/"+event, http.StatusSeeOther, "version", "1", "kind", "penalty_goal", "side", "theirs", "half", "1",
			"clock", "13:00")
		post(at+"/events/"+event, http.StatusPreconditionFailed, "version", "1", "kind", "try", "half", "1", "clock", "14")
		if page := c.Get(at).Body; !strings.Contains(page, "13:00, theirs: Penalty goal") ||
			!strings.Contains(page, "0–3") {
			t.Error("the event is not as corrected")
		}
		post(at+"/events/"+event+"/delete", http.StatusSeeOther, "version", "2")
		if page := c.Get(at).Body; strings.Contains(page, "Penalty goal</span>") || strings.Contains(page, "0–3") {
			t.Error("the event is still there")
		}

		// minutes for another team count with those for the academy
		elsewhere := fmt.Sprintf("/players/%d/elsewhere", a.Bryn.ID)
		err = s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "The season", Minutes: 9000})
		})
		if err != nil {
			t.Fatal(err)
		}
		load := func() (now float64) {
			err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
				all, err := tx.PlayerLoad(a.Bryn.ID, a.Season.Ends)
				for _, l := range all {
					now = max(now, l.Now)
				}
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			return now
		}
		before := load()
		post(elsewhere, http.StatusUnprocessableEntity, "other_team", "Westbrook School", "opponent", "Thornlea",
			"date", "1999-01-01", "minutes", "50")
		sent := []string{"other_team", "Westbrook School", "opponent", "Thornlea", "date",
			string(a.Season.Starts.AddDays(9)), "minutes", "50", "half_minutes", "30"}
		post(elsewhere, http.StatusSeeOther, sent...)
		if got := load() - before; got != 50 {
			t.Errorf("a match for a school adds %v minutes; want 50", got)
		}
		post(fmt.Sprintf("/players/%d/elsewhere", a.Owen.ID), http.StatusSeeOther, sent...)
		bryns, owens := c.Get(elsewhere).Body, c.Get(fmt.Sprintf("/players/%d/elsewhere", a.Owen.ID)).Body
		const toMatch = `<a href="/matches/(\d+)">Thornlea`
		if found(t, bryns, toMatch) != found(t, owens, toMatch) {
			t.Error("two players in one match for a school are in two matches")
		}
		post("/matches", http.StatusUnprocessableEntity, "season_id", fmt.Sprint(a.Season.ID), "squad_id", "another",
			"opponent", "Saltby", "date", string(a.Season.Starts))
		post("/matches", http.StatusSeeOther, "season_id", fmt.Sprint(a.Season.ID), "squad_id", "another", "other_team",
			"The county", "opponent", "Saltby", "date", string(a.Season.Starts), "half_minutes", "35")
		if page := c.Get("/matches").Body; !strings.Contains(page, "Other teams") {
			t.Error("a match for another team is not listed")
		}
		post(elsewhere+"/"+found(t, bryns, `(?s)Thornlea.*?/elsewhere/(\d+)/delete`)+"/delete", http.StatusSeeOther,
			"version", "1")
		if load() != before {
			t.Error("the minutes of a match that was removed still count")
		}
	})
}

func TestALeaverIsMarkedAndComesBack(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "mabyn")
		at := fmt.Sprintf("/players/%d", a.Bryn.ID)
		untils := func() (all []string) {
			err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
				members, err := tx.Memberships(models.MembershipFilter{PlayerID: a.Bryn.ID, SeasonID: a.Season.ID})
				for _, m := range members {
					until := "open"
					if m.Until != nil {
						until = string(*m.Until)
					}
					all = append(all, until)
				}
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			return all
		}
		before := untils()
		if got := c.Post(at+"/leave", url.Values{"last": {"1999-11-30"}}); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(got.Body, "in no squad on that day") || len(untils()) != len(before) {
			t.Errorf("a slip in the year: %d", got.Status)
		}
		last := a.Season.Starts.AddDays(60)
		if got := c.Post(at+"/leave", url.Values{"last": {string(last)}}); got.Status != http.StatusSeeOther {
			t.Fatalf("leave: %d %s", got.Status, got.Body)
		}
		for _, until := range untils() {
			if until == "open" || until > string(last) {
				t.Errorf("a leaver is in a squad until %s", until)
			}
		}
		page := c.Get(at + "/edit").Body
		if !strings.Contains(page, "Left the academy on") || strings.Contains(page, "Mark as a leaver") {
			t.Error("the page does not say that the player left")
		}
		if got := c.Post(at+"/return", url.Values{"first": {string(last.AddDays(10))},
			"squad_id": {fmt.Sprint(a.Under18.ID)}}); got.Status != http.StatusSeeOther {
			t.Fatalf("return: %d %s", got.Status, got.Body)
		}
		if all := untils(); len(all) == 0 || all[len(all)-1] != "open" {
			t.Errorf("memberships end %v after the return", all)
		}
	})
}
