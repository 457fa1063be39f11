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

// A manager finds two records of one player, is told what to mend, sees what happens, merges them and takes it back.
func TestAManagerMergesTwoRecordsOfOnePlayerAndUndoesIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		born := models.Date("2001-02-03")
		twin := models.Player{Name: a.Bryn.Name + "s", BornOn: &born}
		player := models.Player{Name: a.Bryn.Name, BornOn: &born}
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) (err error) {
			if player, err = tx.Player(a.Bryn.ID); err != nil {
				return err
			}
			return tx.CreatePlayer(&twin)
		})
		if err != nil {
			t.Fatal(err)
		}
		c := a.SignIn(t, "mabyn")
		at := fmt.Sprintf("/merges/compare?player=%d&other=%d", player.ID, twin.ID)
		shows := func(path string, words ...string) string {
			t.Helper()
			got := c.Get(path)
			for _, w := range words {
				if got.Status != http.StatusOK || !strings.Contains(got.Body, w) {
					t.Errorf("%s: %d, without %q", path, got.Status, w)
				}
			}
			return got.Body
		}
		if player.BornOn != nil && *player.BornOn != born {
			shows(at, "Mend this first", "The birth dates differ", "3 February 2001")
			twin.BornOn = player.BornOn
			if err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
				return tx.UpdatePlayer(&twin)
			}); err != nil {
				t.Fatal(err)
			}
		}
		shows("/merges", "nearly the same name", strings.ReplaceAll(at, "&", "&amp;"))
		page := shows(at, "The names differ: "+player.Name+" stays.", "Merge into "+player.Name)
		form := url.Values{"player": {fmt.Sprint(player.ID)}, "other": {fmt.Sprint(twin.ID)},
			"seen": {regexp.MustCompile(`name="seen" value="([0-9a-f]+)"`).FindStringSubmatch(page)[1]}}
		stale := url.Values{"player": form["player"], "other": form["other"], "seen": {"another"}}
		if got := c.Post("/merges", stale); got.Status != http.StatusPreconditionFailed ||
			!strings.Contains(got.Body, "look again, then merge") || !strings.Contains(got.Body, "Both records side by side") {
			t.Errorf("a page that is out of date: %d", got.Status)
		}
		if got := c.Post("/merges", form); got.Status != http.StatusSeeOther {
			t.Fatalf("merge: %d %s", got.Status, got.Body)
		}
		shows("/merges", twin.Name+", merged into", "It can be undone until")
		if got := c.Get(fmt.Sprintf("/players/%d", twin.ID)); got.Status != http.StatusSeeOther ||
			got.Header.Get("Location") != fmt.Sprintf("/players/%d", player.ID) {
			t.Errorf("the other record's page: %d, to %s", got.Status, got.Header.Get("Location"))
		}
		if got := c.Post("/merges/1/undo", url.Values{}); got.Status != http.StatusSeeOther {
			t.Fatalf("undo: %d", got.Status)
		}
		shows("/merges", "Undone on")
		shows(fmt.Sprintf("/players/%d", twin.ID), twin.Name)
		if got := c.Post("/merges/1/undo", url.Values{}); !strings.Contains(got.Body, "This merge was undone on") {
			t.Errorf("undone twice: %d", got.Status)
		}
		if got := c.Get("/merges/compare?player=1&other=1"); !strings.Contains(got.Body, "Choose two different records") {
			t.Errorf("one record twice: %d", got.Status)
		}
	})
}
