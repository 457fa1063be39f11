package pages_test

import (
	"net/http"
	"regexp"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
)

// The words that people look for are where they look: on the button, beside the box or in the heading. The season
// report's tests hold its "Nothing stands out yet" to the page, because that takes a whole squad's figures.
func TestEachLabelSaysWhatAPersonLooksFor(t *testing.T) {
	a := apitest.OnSQLite(t)
	report := seasonReport(a.Bryn, a.Season)
	for _, c := range []struct{ login, path, want string }{
		{"", "/sign-in", `<label for="user">Username</label>\s*<input id="user"`},
		{"mabyn", "/people", `>Username</label>\s*<input id="p-login"`},
		{"mabyn", "/account", `<label for="before">Current password</label>\s*<input id="before" [^>]*type="password"`},
		{"mabyn", "/safety", `<h2 id="now">Needs action now</h2>`},
		{"mabyn", "/safety", `<h3 id="answers">Replies awaiting a second staff member</h3>`},
		{"mabyn", "/safety", `<h3 id="consents">Missing consents</h3>`},
		{"ansel", report, `<a href="` + report + `[^"]*">Download</a>`},
		{"ansel", report, `<th[^>]*>Compared with</th>`},
	} {
		client := a.Stranger(t)
		if c.login != "" {
			client = a.SignIn(t, c.login)
		}
		if got := client.Get(c.path); got.Status != http.StatusOK || !regexp.MustCompile(c.want).MatchString(got.Body) {
			t.Errorf("%s: %d, without %s", c.path, got.Status, c.want)
		}
	}
	tooMany := models.Meeting{Places: []models.Place{{Name: "Prop", Wanted: 2}}}
	for player := range int64(3) {
		tooMany.Candidates = append(tooMany.Candidates, models.Candidate{PlayerID: player + 1, Place: "Prop",
			Decision: models.Chosen, Reason: "Held the scrum."})
	}
	const want = `candidates\[2\]\.decision: You chose 3; this place has 2\. Choose fewer`
	if err := tooMany.Validate(); err == nil || !regexp.MustCompile(want).MatchString(err.Error()) {
		t.Errorf("%v; want %s", err, want)
	}
}
