package pages_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestTheAuditTrailIsAPageForTheManager(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach := a.SignIn(t, "ansel")
		if got := coach.Get(seasonReport(a.Bryn, a.Season)); got.Status != http.StatusOK {
			t.Fatalf("the report: %d", got.Status)
		}
		if err := s.AccountForReads(t.Context()); err != nil {
			t.Fatal(err)
		}
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			p := a.Bryn
			p.KnownAs = "<b>Bry</b>"
			return tx.UpdatePlayer(&p)
		})
		if err != nil {
			t.Fatal(err)
		}
		manager := a.SignIn(t, "mabyn")
		got := manager.Get("/audit")
		for _, words := range []string{"Ansel Brock", "read player", "Bryn Calder",
			"known as: nothing → &lt;b&gt;Bry&lt;/b&gt;", "the console", "this machine"} {
			if !strings.Contains(got.Body, words) {
				t.Errorf("the page does not say %q", words)
			}
		}
		if !strings.Contains(got.Body, `href="/audit?before=`) {
			t.Error("nothing leads to the earlier entries")
		}
		about := manager.Get(fmt.Sprint("/audit?player=", a.Bryn.ID))
		if about.Status != http.StatusOK || !strings.Contains(about.Body, "Audit trail about Bryn Calder") ||
			strings.Contains(about.Body, "Owen Tarrant") {
			t.Errorf("about one player: %d", about.Status)
		}
		for path, status := range map[string]int{"/audit?player=x": 404, "/audit?before=0": 404,
			"/audit?player=987654": 200} {
			if got := manager.Get(path); got.Status != status {
				t.Errorf("%s: %d; want %d", path, got.Status, status)
			}
		}
		for login, leads := range map[string]bool{"mabyn": true, "ansel": false, "sorrel": false} {
			c := a.SignIn(t, login)
			if got := c.Get("/"); strings.Contains(got.Body, `href="/audit"`) != leads {
				t.Errorf("%s: the home page leads to the trail: %v; want %v", login, !leads, leads)
			}
			want := http.StatusForbidden
			if leads {
				want = http.StatusOK
			}
			if got := c.Get("/audit"); got.Status != want {
				t.Errorf("%s: %d; want %d", login, got.Status, want)
			}
		}
		other := a.SignIn(t, "edda").Get("/audit")
		if other.Status != http.StatusOK || strings.Contains(other.Body, "Bryn") || strings.Contains(other.Body, "Ansel") {
			t.Error("another academy's manager sees this academy's trail")
		}
	})
}
