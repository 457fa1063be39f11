package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// joinLink is the one-time link on a page.
func joinLink(t *testing.T, page apitest.Answer) string {
	t.Helper()
	found := regexp.MustCompile(`href="(` + auth.JoinPath + `[^"]+)"`).FindStringSubmatch(page.Body)
	if page.Status != http.StatusOK || found == nil {
		t.Fatalf("%d: no link is shown: %s", page.Status, page.Body)
	}
	return found[1]
}

func TestAManagerLetsPeopleInWithALinkThatOpensOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		manager := a.SignIn(t, "mabyn")
		form := url.Values{"name": {"Corin Veale"}, "login": {"corin"}, "role": {"coach"},
			"squad_id": {fmt.Sprint(a.Under16.ID)}}
		if got := post(manager, "/people", url.Values{"name": {"Corin Veale"}, "login": {"Corin"},
			"role": {"coach"}}); got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, `value="Corin"`) {
			t.Errorf("a login in capitals: %d; want the page again, with what was sent", got.Status)
		}
		link := joinLink(t, post(manager, "/people", form))
		if again := manager.Get("/people"); strings.Contains(again.Body, auth.JoinPath) ||
			!strings.Contains(again.Body, "has not chosen a password yet") {
			t.Error("the link is shown a second time, or the page does not say that it waits")
		}
		corin := a.Stranger(t)
		if got := corin.Get(link); got.Status != http.StatusOK || !strings.Contains(got.Body, "Corin Veale") {
			t.Fatalf("the link: %d", got.Status)
		}
		if got := post(corin, link, url.Values{"password": {apitest.Password}}); got.Status != http.StatusSeeOther {
			t.Fatalf("choosing a password: %d %s", got.Status, got.Body)
		}
		if got := corin.Get("/"); got.Status != http.StatusOK || !strings.Contains(got.Body, "Tam Veale") ||
			strings.Contains(got.Body, "Bryn Calder") {
			t.Errorf("his home page: %d; want the under 16s alone", got.Status)
		}
		if got := post(a.Stranger(t), link,
			url.Values{"password": {apitest.Password + "x"}}); got.Status != http.StatusNotFound {
			t.Errorf("the link once more: %d; want 404", got.Status)
		}
		var user models.User
		err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			all, err := tx.Users(models.UserFilter{Login: "corin"})
			user = all[0]
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		at := fmt.Sprint("/people/", user.ID)
		if got := post(manager, at+"/squads",
			url.Values{"squad_id": {fmt.Sprint(a.Under18.ID)}}); got.Status != http.StatusSeeOther {
			t.Errorf("another squad: %d", got.Status)
		}
		if got := corin.Get("/"); !strings.Contains(got.Body, "Bryn Calder") {
			t.Error("he does not see the squad that he works with now")
		}
		if got := post(manager, at+"/squads/end",
			url.Values{"squad_id": {fmt.Sprint(a.Under18.ID)}}); got.Status != http.StatusSeeOther ||
			strings.Contains(corin.Get("/").Body, "Bryn Calder") {
			t.Errorf("off the squad: %d, or he still sees it", got.Status)
		}
		reset := joinLink(t, post(manager, at+"/link", nil))
		if reset == link {
			t.Error("the new link is the old one")
		}
		for _, login := range []string{"ansel", "sorrel", "bryn"} {
			if got := a.SignIn(t, login).Get("/people"); got.Status != http.StatusForbidden {
				t.Errorf("%s: %d; want 403", login, got.Status)
			}
		}
		if got := post(a.SignIn(t, "edda"), at+"/remove", nil); got.Status != http.StatusNotFound {
			t.Errorf("another academy's manager: %d; want 404", got.Status)
		}
		if got := post(manager, at+"/remove", nil); got.Status != http.StatusPreconditionFailed {
			t.Errorf("without saying which version: %d; want 412", got.Status)
		}
		if got := post(manager, at+"/remove",
			formOn(t, manager.Get("/people"), at+"/remove")); got.Status != http.StatusSeeOther {
			t.Errorf("removed: %d %s", got.Status, got.Body)
		}
		if got := corin.Get("/"); got.Status != http.StatusSeeOther {
			t.Errorf("his session: %d; want that it has ended", got.Status)
		}
	})
}

func TestAnOperatorMakesAcademiesAndSeesNobody(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		operator := a.SignIn(t, "orla")
		if got := operator.Get("/"); got.Header.Get("Location") != "/academies" {
			t.Errorf("the home page leads to %q", got.Header.Get("Location"))
		}
		if got := post(operator, "/academies",
			url.Values{"name": {"Westmoor Rugby Academy"}}); got.Status != http.StatusSeeOther {
			t.Fatalf("an academy: %d %s", got.Status, got.Body)
		}
		page := operator.Get("/academies")
		found := regexp.MustCompile(`id="academy-(\d+)">Westmoor`).FindStringSubmatch(page.Body)
		if found == nil || !strings.Contains(page.Body, "Northmoor") || strings.Contains(page.Body, "@deployment") {
			t.Fatalf("the page: %s", page.Body)
		}
		at := "/academies/" + found[1]
		if got := post(operator, at+"/name", url.Values{"name": {"Northmoor Rugby Academy"},
			"was": {"Westmoor Rugby Academy"}}); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(got.Body, "There is already an academy") {
			t.Errorf("another's name: %d; want the page again", got.Status)
		}
		link := joinLink(t, post(operator, at+"/manager", url.Values{"name": {"Wilf Tarrow"}, "login": {"wilf"}}))
		manager := a.Stranger(t)
		if got := post(manager, link, url.Values{"password": {apitest.Password}}); got.Status != http.StatusSeeOther {
			t.Fatalf("joining: %d %s", got.Status, got.Body)
		}
		if got := manager.Get("/people"); got.Status != http.StatusOK || !strings.Contains(got.Body, "Wilf Tarrow (you)") ||
			strings.Contains(got.Body, "Mabyn") {
			t.Errorf("the new manager's people: %d", got.Status)
		}
		for _, path := range []string{fmt.Sprint("/players/", a.Bryn.ID), seasonReport(a.Bryn, a.Season), "/safety",
			"/data-requests"} {
			if got := operator.Get(path); got.Status != http.StatusNotFound && got.Status != http.StatusForbidden ||
				strings.Contains(got.Body, "Bryn") {
				t.Errorf("%s: %d; want nobody's record", path, got.Status)
			}
		}
		for _, path := range []string{"/audit", "/people"} {
			if got := operator.Get(path); got.Status != http.StatusOK || strings.Contains(got.Body, "Bryn") ||
				strings.Contains(got.Body, "Mabyn") {
				t.Errorf("%s: %d; want the deployment's own", path, got.Status)
			}
		}
		for _, login := range []string{"mabyn", "ansel", "bryn"} {
			if got := a.SignIn(t, login).Get("/academies"); got.Status != http.StatusForbidden {
				t.Errorf("%s: %d; want 403", login, got.Status)
			}
		}
	})
}
