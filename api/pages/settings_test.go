package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// A limit on contact at training is added and changed on the page, and goes on counting contact.
func TestALimitOnContactAtTrainingIsKeptOnThePage(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "mabyn")
		form := url.Values{"name": {"Contact in a week"}, "counts": {"training_contact"}, "minutes": {"15"}, "days": {"7"},
			"warn_at": {"80"}}
		if got := c.Post("/limits", form); got.Status != http.StatusSeeOther {
			t.Fatalf("%d: %s", got.Status, got.Body)
		}
		kept := func() (one models.MinutesLimit) {
			t.Helper()
			asManager(t, a, func(tx *store.Tx) error {
				all, err := tx.MinutesLimits()
				for _, l := range all {
					if l.Name == "Contact in a week" {
						one = l
					}
				}
				return err
			})
			return one
		}
		before := kept()
		page := strings.Join(strings.Fields(c.Get("/settings").Body), " ")
		for _, want := range []string{"Contact in a week: 15 minutes of contact at training in 7 days",
			`<option value="training_contact" selected>`} {
			if !strings.Contains(page, want) {
				t.Errorf("the page lacks %s", want)
			}
		}
		form.Set("minutes", "20")
		form.Set("version", fmt.Sprint(before.Version))
		if got := c.Post(fmt.Sprintf("/limits/%d", before.ID), form); got.Status != http.StatusSeeOther {
			t.Fatalf("%d: %s", got.Status, got.Body)
		}
		if now := kept(); now.Minutes != 20 || now.Counts != models.CountsContact {
			t.Errorf("kept %+v; want 20 minutes of contact", now)
		}
		form.Set("counts", "runs")
		form.Set("version", fmt.Sprint(kept().Version))
		if got := c.Post(fmt.Sprintf("/limits/%d", before.ID), form); got.Status != http.StatusUnprocessableEntity {
			t.Errorf("a limit on what cannot be counted: %d", got.Status)
		}
	})
}

// A second editor of the consents finds the boxes as they ticked them, with the reason that nothing was saved.
func TestARefusedFormOfConsentsKeepsTheBoxesThatWereTicked(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "mabyn")
	got := c.Post("/settings", url.Values{"version": {"0"}, "requires": {"records", "selection"},
		"retention_months": {"many"}})
	for _, want := range []string{`value="records" checked`, `value="selection" checked`, "many"} {
		if !strings.Contains(strings.Join(strings.Fields(got.Body), " "), want) {
			t.Errorf("%d: the page lacks %s", got.Status, want)
		}
	}
	if strings.Contains(got.Body, `value="filming" checked`) {
		t.Error("a box that was not ticked is shown as ticked")
	}
}

// Two managers change the settings: the second is told who changed what, in the words of the form.
func TestTheSecondToChangeTheSettingsIsShownBoth(t *testing.T) {
	a := apitest.OnSQLite(t)
	first, second := a.SignIn(t, "mabyn"), a.SignIn(t, "mabyn")
	sent := func(months, version string) url.Values {
		return url.Values{"version": {version}, "requires": {"filming"}, "retention_months": {months}}
	}
	if got := first.Post("/settings", sent("12", "0")); got.Status != http.StatusSeeOther {
		t.Fatalf("the first settings: %d", got.Status)
	}
	if got := first.Post("/settings", sent("36", "1")); got.Status != http.StatusSeeOther {
		t.Fatalf("a change: %d", got.Status)
	}
	got := second.Post("/settings", sent("18", "1"))
	for _, want := range []string{"Mabyn Orrell changed this on", "after a player left</a>: 36 now; you sent 18.",
		`value="18"`} {
		if got.Status != http.StatusPreconditionFailed || !strings.Contains(got.Body, want) {
			t.Errorf("%d: the page lacks %q", got.Status, want)
		}
	}
}
