package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// A count of 400 among sixteens is a slip: staff read in REST and in the report that it is recorded and that levels
// leave it out; the season's figure keeps it.
func TestARowFarOutIsNotedToStaffInRESTAndOnThePageAndStaysInTheFigure(t *testing.T) {
	m := newTeam(t, storetest.Open(t, "sqlite"))
	player, slip := m.mates[2], m.matches[1] // 16 tackles in each match
	record := func(tackles float64) {
		t.Helper()
		m.console(t, func(tx *store.Tx) error {
			found, err := tx.Totals(models.TotalsFilter{MatchID: slip.ID, PlayerID: player.ID})
			if err != nil || len(found) != 1 {
				return fmt.Errorf("%d totals, %w", len(found), err)
			}
			found[0].Counts["tackles_made"] = tackles
			return tx.UpdateMatchTotals(&found[0])
		})
	}
	read := func() (now float64, body string) {
		t.Helper()
		got := m.Program(t, "mabyn").Get(fmt.Sprintf("/api/v1/players/%d/seasons/%d/trends/tackles", player.ID, m.Season.ID))
		var line struct {
			Current   bool    `json:"current"`
			Numerator float64 `json:"numerator"`
			Level     struct{ Mean float64 }
		}
		if err := json.Unmarshal([]byte(got.Body), &line); err != nil || got.Status != http.StatusOK || !line.Current {
			t.Fatalf("%v, %d %.300s", err, got.Status, got.Body)
		}
		return line.Level.Mean, fmt.Sprint(line.Numerator, " ", got.Body)
	}
	before, clean := read()
	if strings.Contains(clean, "until you check") || strings.Contains(clean, "set_aside") {
		t.Fatalf("a clean record is to be checked: %.300s", clean)
	}
	record(400)
	m.catchUp(t)
	level, noted := read()
	const words = "Until you check, levels leave it out; the figures keep it"
	for _, want := range []string{"400 is recorded", words, `"set_aside":true`} {
		if !strings.Contains(noted, want) {
			t.Errorf("the trend does not say %q: %.600s", want, noted)
		}
	}
	if n := 400 + 16*float64(len(m.matches)-1); !strings.HasPrefix(noted, fmt.Sprint(n, " ")) {
		t.Errorf("the figure stands on %.20s, want %v with the slip in it", noted, n)
	}
	if level > 1.3*before || level < before/1.3 {
		t.Errorf("the level moved from %v to %v by the slip", before, level)
	}
	page := m.SignIn(t, "ansel").Get(fmt.Sprintf("/players/%d/seasons/%d", player.ID, m.Season.ID))
	if !strings.Contains(page.Body, "Check tackles") || strings.Count(page.Body, words) < 2 {
		t.Error("the page does not ask staff to check the record, under the figure and in the cautions")
	}
}
