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

// The next season has the same squads and players, with those moved up who are too old, and without those who leave.
func TestTheNextSeasonCarriesSquadsOverAndMovesPlayersUp(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			squad, err := tx.Squad(a.Under16.ID)
			if err != nil {
				return err
			}
			squad.AgeBand = 16
			if err := tx.UpdateSquad(&squad); err != nil {
				return err
			}
			tam, err := tx.Player(a.Tam.ID)
			if err != nil {
				return err
			}
			born := a.Season.Starts.AddDays(-16 * 366)
			tam.BornOn = &born
			return tx.UpdatePlayer(&tam)
		})
		if err != nil {
			t.Fatal(err)
		}
		c, at := a.SignIn(t, "mabyn"), fmt.Sprintf("/seasons/%d/next", a.Season.ID)
		page := c.Get(at).Body
		form := url.Values{}
		for _, field := range regexp.MustCompile(`<input [^>]*name="(name|starts|ends)"[^>]*value="([^"]*)"`).
			FindAllStringSubmatch(page, -1) {
			form.Set(field[1], field[2])
		}
		if form.Get("name") != "2026-27" || form.Get("starts") <= string(a.Season.Ends) {
			t.Errorf("the season is proposed as %v", form)
		}
		rows := regexp.MustCompile(`(?s)<label for="(m-\d+)">([^<]*)</label>.*?</tr>`).FindAllStringSubmatch(page, -1)
		for _, row := range rows {
			to := regexp.MustCompile(`<option value="([^"]*)" selected>`).FindStringSubmatch(row[0])
			if to == nil {
				t.Fatalf("nothing is proposed for %s", row[2])
			}
			form.Set(row[1], to[1])
			if row[2] == "Owen Tarrant" {
				form.Set(row[1], "leaves")
			}
		}
		tam := regexp.MustCompile(`<label for="(m-\d+)">Tam `).FindStringSubmatch(page)[1]
		proposed := form.Get(tam)
		form.Set(tam, "")
		beside := regexp.MustCompile(`(?s)<select id="` + tam + `"[^>]*aria-invalid="true".*?</tr>`)
		if got := c.Post(at, form); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(beside.FindString(got.Body), "Choose a squad, or that they leave") ||
			!strings.Contains(beside.FindString(got.Body), `<option value="" selected>`) {
			t.Errorf("nothing chosen for Tam: %d, with beside their field %q", got.Status, beside.FindString(got.Body))
		}
		form.Set(tam, proposed)
		form.Set("name", "2025-26") // there is one
		if got := c.Post(at, form); got.Status < 400 || !strings.Contains(got.Body, `value="2025-26"`) {
			t.Errorf("a name that is taken: %d", got.Status)
		}
		form.Set("name", "2026-27")
		got := c.Post(at, form)
		if got.Status != http.StatusSeeOther {
			t.Fatalf("%d: %s", got.Status, got.Body)
		}
		done := c.Get(got.Header.Get("Location")).Body
		for _, want := range []string{"Done: 2026-27 is on file.", "2 players: 2 in Under 18.", "1 who was in a squad"} {
			if !strings.Contains(strings.Join(strings.Fields(done), " "), want) {
				t.Errorf("after it, the page does not say %q", want)
			}
		}
		form.Set("name", "2026-27 again")
		if got := c.Post(at, form); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(got.Body, "carried over to 2026-27 already") || strings.Contains(got.Body, "Start the season</") {
			t.Errorf("a second time: %d, want it refused and the form not offered", got.Status)
		}
		asManager(t, a, func(tx *store.Tx) error {
			seasons, err := tx.Seasons(models.SeasonFilter{})
			if err != nil {
				return err
			}
			next := seasons[len(seasons)-1]
			members, err := tx.Memberships(models.MembershipFilter{SeasonID: next.ID})
			in := map[int64]int64{}
			for _, m := range members {
				in[m.PlayerID] = m.SquadID
			}
			if next.Name != "2026-27" || len(members) != 2 || in[a.Tam.ID] != a.Under18.ID || in[a.Bryn.ID] != a.Under18.ID {
				t.Errorf("%s has %v; want Bryn where they were, Tam moved up, and Owen gone", next.Name, in)
			}
			return err
		})
	})
}
