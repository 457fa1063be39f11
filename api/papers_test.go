package api_test

import (
	"fmt"
	"html"
	"mime"
	"net/http"
	"strings"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/paper"
	"throughline/reports/paper/papertest"
	"throughline/reports/paper/pdf/pdftest"
)

// A paper is registered once: nothing in this test but the line that adds it knows of the invented paper before it is
// asked for.
func TestAPaperIsAPageAFileAndAResourceOnceItIsRegistered(t *testing.T) {
	a := apitest.OnSQLite(t, func(o *api.Options) { o.Papers = append(o.Papers, papertest.Paper()) })
	of := fmt.Sprintf("/players/%d/seasons/%d", a.Bryn.ID, a.Season.ID)
	coach, program := a.SignIn(t, "ansel"), a.Program(t, "ansel")

	page := coach.Get(of + "/minutes")
	if page.Status != http.StatusOK || !strings.Contains(page.Body, "Calder played 385 minutes.") ||
		!strings.Contains(page.Body, `href="`+of+`/minutes.html"`) {
		t.Errorf("the page: %d\n%s", page.Status, page.Body)
	}
	if own := a.SignIn(t, "bryn").Get(of + "/minutes"); !strings.Contains(own.Body,
		fmt.Sprintf(`href="/players/%d/seasons/%d/minutes"`, a.Bryn.ID, a.Earlier.ID)) {
		t.Error("the page does not lead to that of the player's other season")
	}
	if report := coach.Get(of); !strings.Contains(report.Body, `<a href="`+of+`/minutes">Minutes sheet</a>`) {
		t.Error("the season report does not lead to the other paper about the same")
	}
	file := coach.Get(of + "/minutes.html")
	_, header, err := mime.ParseMediaType(file.Header.Get("Content-Disposition"))
	if file.Status != http.StatusOK || err != nil || !strings.HasPrefix(header["filename"], "minutes-sheet-Bryn") ||
		!strings.Contains(file.Body, "<style>") || !strings.Contains(file.Body, "played 385 minutes.") {
		t.Errorf("the file %q: %d\n%s", header["filename"], file.Status, file.Body)
	}
	asJSON := program.Get("/api/v1" + of + "/minutes")
	if asJSON.Status != http.StatusOK || !strings.HasSuffix(asJSON.Body, `"season":"2025-26","minutes":385}`) {
		t.Errorf("as JSON: %d %s", asJSON.Status, asJSON.Body)
	}
	own := coach.Get(of + "/minutes?edition=own")
	if !strings.Contains(page.Body, `<a href="`+of+`/minutes?edition=own">Player’s sheet</a>`) ||
		!strings.Contains(own.Body, `href="`+of+`/minutes.html?edition=own">Download</a>`) ||
		!strings.Contains(own.Body, `<b aria-current="page">Player’s sheet</b>`) {
		t.Errorf("the editions do not lead to each other and to their files:\n%s", own.Body)
	}
	if got := program.Get("/api/v1" + of + "/minutes?edition=own"); !strings.Contains(got.Body, `"edition":"own"`) {
		t.Errorf("the player's edition as JSON: %d %s", got.Status, got.Body)
	}
	for login, want := range map[string]int{"ansel": http.StatusOK, "bryn": http.StatusForbidden} {
		if got := a.SignIn(t, login).Get(of + "/minutes?edition=full"); got.Status != want {
			t.Errorf("%s gets the staff's edition: %d; want %d", login, got.Status, want)
		}
	}
	if got := coach.Get(of + "/minutes?edition=ful"); got.Status != http.StatusBadRequest ||
		!strings.Contains(html.UnescapeString(got.Body), `no edition "ful"; it has full, own`) {
		t.Errorf("an edition that there is not: %d %s", got.Status, got.Body)
	}
	if hidden := a.SignIn(t, "owen").Get(of + "/minutes"); hidden.Status != http.StatusNotFound {
		t.Errorf("another player gets %d; want 404", hidden.Status)
	}
	if described := program.Get("/openapi.json"); !strings.Contains(described.Body, `"operationId":"minutes-sheet"`) ||
		!strings.Contains(described.Body, `"/api/v1/players/{id}/seasons/{season}/minutes"`) ||
		!strings.Contains(described.Body, `How long a player played`) {
		t.Error("the description does not have it")
	}
}

// Every paper is printed by a real Chromium: for a person and for a program, with the player's name as text.
func TestAPaperIsPrintedWhereTheServerHasAChromium(t *testing.T) {
	storetest.OneByOne(t)
	without := apitest.OnSQLite(t)
	coach := without.SignIn(t, "ansel")
	of := fmt.Sprintf("/players/%d/seasons/%d", without.Bryn.ID, without.Season.ID)
	if page := coach.Get(of); strings.Contains(page.Body, "report.pdf") {
		t.Error("a server without a Chromium has a link to a PDF")
	}
	if got := coach.Get(of + "/report.pdf"); got.Status != http.StatusConflict ||
		!strings.Contains(got.Body, "install chromium") {
		t.Errorf("a server without a Chromium: %d %s", got.Status, got.Body)
	}

	a := apitest.OnSQLite(t, func(o *api.Options) { o.Printer = pdftest.Printer(t) })
	coach = a.SignIn(t, "ansel")
	squad := fmt.Sprintf("/squads/%d/seasons/%d", a.Under18.ID, a.Season.ID)
	for _, c := range []struct {
		page, file, resource, edition string
		least, most                   int // pages
	}{
		{of, of + "/report.pdf", of + "/report", "", 2, 20},
		{of, of + "/report.pdf", of + "/report", "?edition=talk-sheet", 1, 1},
		{squad + "/overview", squad + "/overview.pdf", squad + "/overview", "", 1, 2},
	} {
		if page := coach.Get(c.page + c.edition); !strings.Contains(page.Body, `<a href="`+c.file+c.edition+`">PDF</a>`) {
			t.Errorf("%s%s has no link to its PDF", c.page, c.edition)
		}
		for asked, got := range map[string]apitest.Answer{
			"on its page": coach.Get(c.file + c.edition),
			"by a program": a.Program(t, "ansel").Get("/api/v1"+c.resource+c.edition, "Accept",
				"application/pdf"),
		} {
			file := []byte(got.Body)
			if got.Status != http.StatusOK || got.Header.Get("Content-Type") != "application/pdf" ||
				!strings.HasPrefix(got.Body, "%PDF-") ||
				!strings.Contains(got.Header.Get("Content-Disposition"), ".pdf") {
				t.Fatalf("%s%s asked %s: %d %v", c.file, c.edition, asked, got.Status, got.Header)
			}
			if n := pdftest.Pages(file); n < c.least || n > c.most {
				t.Errorf("%s%s asked %s has %d pages; want %d to %d", c.file, c.edition, asked, n, c.least, c.most)
			}
			if text := pdftest.Text(t, file); !strings.Contains(text, "Bryn Calder") {
				t.Errorf("%s%s asked %s does not name the player as text:\n%s", c.file, c.edition, asked, text)
			}
		}
	}
	if own := a.SignIn(t, "owen").Get(of + "/report.pdf"); own.Status != http.StatusNotFound {
		t.Errorf("another player's report as PDF: %d", own.Status)
	}
}

// The papers of the program fit the store, and a paper that does not fit is refused before anything is served.
func TestPapersThatDoNotFitAreRefused(t *testing.T) {
	all, err := reports.Papers(nil)
	if err != nil {
		t.Fatal(err)
	}
	source := (*store.Tx)(nil)
	if err := all.Check(source); err != nil {
		t.Error(err)
	}
	for about, change := range map[string]func(*paper.Paper){
		"is taken by season-report":      func(p *paper.Paper) { p.Code = "season-report" },
		"report.html is taken by season": func(p *paper.Paper) { p.Word = "report" },
		"it needs a name, what it is about and the roles": func(p *paper.Paper) {
			p.Editions = []paper.Edition{{Code: "full"}}
		},
		"it needs a name, what it is about, its": func(p *paper.Paper) { p.Of = nil },
		"lower-case words":                       func(p *paper.Paper) { p.Word = "Minutes/../" },
	} {
		odd := papertest.Paper()
		change(&odd)
		if err := append(all[:len(all):len(all)], odd).Check(source); err == nil || !strings.Contains(err.Error(), about) {
			t.Errorf("want an error with %q, got %v", about, err)
		}
	}
	if err := all.Check(struct{}{}); err == nil ||
		!strings.Contains(err.Error(), "season-report reads what a struct {} does not have") {
		t.Errorf("a source that has nothing: %v", err)
	}
}
