package pages_test

import (
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
)

// Each role reads what it does here, and every definition that a number or a grade rests on.
func TestHelpSaysWhatEachRoleDoesAndDefinesEveryCode(t *testing.T) {
	a := apitest.OnSQLite(t)
	for login, does := range map[string]string{"mabyn": "What a manager does here", "ansel": "What a coach does here",
		"sorrel": "What a selector does here", "bryn": "What you can do here", "orla": "What an operator does here"} {
		got := a.SignIn(t, login).Get("/help")
		text := html.UnescapeString(strings.Join(strings.Fields(got.Body), " "))
		if got.Status != http.StatusOK || !strings.Contains(text, does) {
			t.Errorf("%s: %d; want to read %q", login, got.Status, does)
		}
		if login == "orla" {
			continue
		}
		role := regexp.MustCompile(`/help\?for=(\w+)`).FindString(got.Body)
		alone := a.SignIn(t, login).Get(role).Body
		if role == "" || !strings.Contains(alone, does) || strings.Contains(alone, `id="words"`) {
			t.Errorf("%s: %q; want a page with that role's own part alone", login, role)
		}
		for _, k := range models.Kinds() {
			for _, d := range models.DetailsOf(k.Code) {
				if !strings.Contains(text, "<dt>"+d.Label+"</dt>") {
					t.Errorf("%s: %s, %s is not defined", login, k.Label, d.Label)
				}
			}
		}
		for _, i := range models.IndicatorCatalogue() {
			if !strings.Contains(text, "<dt>"+i.Label+"</dt>") {
				t.Errorf("%s: %s is not explained", login, i.Label)
			}
		}
	}
}
