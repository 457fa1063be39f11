package pages_test

import (
	"fmt"
	"html"
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

var (
	hidden = regexp.MustCompile(`<input type="hidden" name="([^"]+)" value="([^"]*)"`)
	spaces = regexp.MustCompile(`\s+`)
)

// formOn is what a page's form at an address sends without anything being typed.
func formOn(t *testing.T, page apitest.Answer, action string) url.Values {
	t.Helper()
	_, form, found := strings.Cut(page.Body, `action="`+action+`"`)
	if !found {
		t.Fatalf("no form sends to %s: %s", action, page.Body)
	}
	form, _, _ = strings.Cut(form, "</form>")
	sent := url.Values{}
	for _, field := range hidden.FindAllStringSubmatch(form, -1) {
		sent.Set(field[1], html.UnescapeString(field[2]))
	}
	return sent
}

// TestAStaleFormIsShownAgainWithBothValues has two people open a page, and both send its form.
func TestAStaleFormIsShownAgainWithBothValues(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		manager, operator := a.SignIn(t, "mabyn"), a.SignIn(t, "orla")
		player := fmt.Sprint("/players/", a.Tam.ID)
		given := models.Consent{PlayerID: a.Tam.ID, Purpose: models.PurposeSelection, GivenBy: "Ida Veale",
			Relation: models.ByGuardian, On: "2025-09-01"}
		unjoined := models.User{Login: "corin", Name: "Corin Veale", Role: models.RoleCoach}
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			if err := tx.CreateUser(&unjoined); err != nil {
				return err
			}
			given.RecordedBy = unjoined.ID
			return tx.CreateConsent(&given)
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			page, action  string
			by            *apitest.Client
			first, second url.Values
			says          []string
		}{
			{player, fmt.Sprintf("%s/consents/%d/withdraw", player, given.ID), manager,
				url.Values{"withdrawn_on": {"2025-11-30"}}, url.Values{"withdrawn_on": {"2025-12-01"}},
				[]string{"You sent: withdrawn on 1 Dec 2025", "On file now: withdrawn on 30 Nov 2025"}},
			{"/academies", fmt.Sprintf("/academies/%d/name", a.ID), operator,
				url.Values{"name": {"Northmoor Colts"}}, url.Values{"name": {"Northmoor Youth"}},
				[]string{"You sent: from Northmoor Rugby Academy to Northmoor Youth", "On file now: Northmoor Colts"}},
		} {
			open := formOn(t, c.by.Get(c.page), c.action)
			send := func(typed url.Values) apitest.Answer {
				sent := url.Values{}
				for _, of := range []url.Values{open, typed} {
					for name := range of {
						sent.Set(name, of.Get(name))
					}
				}
				return post(c.by, c.action, sent)
			}
			if got := send(c.first); got.Status != http.StatusSeeOther {
				t.Fatalf("%s, the first: %d %s", c.action, got.Status, got.Body)
			}
			again := send(c.second)
			text := spaces.ReplaceAllString(again.Body, " ")
			for _, words := range c.says {
				if again.Status != http.StatusPreconditionFailed || !strings.Contains(text, words) {
					t.Errorf("%s, the second: %d; want 412, and %q on the page", c.action, again.Status, words)
				}
			}
			open = formOn(t, again, c.action) // as shown again, it may be sent
			if got := send(c.second); got.Status != http.StatusSeeOther {
				t.Errorf("%s, the second once more: %d", c.action, got.Status)
			}
		}
		// A person who was changed since is not removed unseen.
		remove := fmt.Sprintf("/people/%d/remove", unjoined.ID)
		open := formOn(t, manager.Get("/people"), remove)
		err = s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			unjoined.Role = models.RoleManager
			return tx.UpdateUser(&unjoined)
		})
		if err != nil {
			t.Fatal(err)
		}
		got := post(manager, remove, open)
		const words = "On file now: Corin Veale, manager, who signs in as corin"
		if got.Status != http.StatusPreconditionFailed || !strings.Contains(got.Body, words) {
			t.Errorf("removing a coach who is a manager now: %d; want 412, and %q on the page", got.Status, words)
		}
	})
}
