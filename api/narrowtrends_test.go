package api_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"throughline/models"
	"throughline/models/store/storetest"
)

// The list of trends is narrowed to an indicator, and an indicator that the player has nothing of gives an empty list.
func TestTheListOfTrendsIsNarrowedByIndicator(t *testing.T) {
	m := newTeam(t, storetest.Open(t, "sqlite"))
	m.totals(t, models.Counts{"carries": 12, "tackles_made": 9, "tackles_missed": 1})
	codes := func(query string) (all []string) {
		t.Helper()
		var list struct{ Items []struct{ Code string } }
		got := m.Program(t, "mabyn").Get(fmt.Sprintf("/api/v1/players/%d/seasons/%d/trends%s", m.Bryn.ID, m.Season.ID,
			query))
		if err := json.Unmarshal([]byte(got.Body), &list); err != nil || got.Status != 200 {
			t.Fatalf("trends%s: %d %s", query, got.Status, got.Body)
		}
		for _, i := range list.Items {
			all = append(all, i.Code)
		}
		return all
	}
	if all := codes(""); len(all) < 2 {
		t.Fatalf("the player has trends in %v only", all)
	}
	if got := codes("?indicator=carries"); len(got) != 1 || got[0] != "carries" {
		t.Errorf("narrowed to carries: %v", got)
	}
	if got := codes("?indicator=mauls_kept"); len(got) != 0 {
		t.Errorf("narrowed to what the player has nothing of: %v", got)
	}
}
