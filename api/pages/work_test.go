package pages_test

import (
	"html"
	"regexp"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// tags are those of HTML.
var tags = regexp.MustCompile(`<[^>]*>`)

// said is the text of a page's main part, on one line.
func said(page string) string {
	_, page, _ = strings.Cut(page, "<main")
	page = tags.ReplaceAllString(page[strings.Index(page, ">")+1:], " ")
	return strings.Join(strings.Fields(html.UnescapeString(page)), " ")
}

func TestTheWorkListStandsOnHomeAndOpensAListOfEachKind(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		manager := a.SignIn(t, "mabyn")
		home := manager.Get("/").Body
		// Bryn, Owen and Tam have no birth date, so they count as minors; the academy asks for consent to filming.
		for _, link := range []string{`<a href="/work/consents">3 players with missing consents</a>`,
			`<a href="/work/logs">5 matches without a log</a>`, `<a href="/work/grades">5 matches without grades</a>`} {
			if !strings.Contains(home, link) {
				t.Errorf("home has no %s", link)
			}
		}
		if strings.Contains(home, "/work/minutes") {
			t.Error("home names a kind of work of which there is none")
		}
		all := said(manager.Get("/work").Body)
		for _, line := range []string{"3 players with missing consents",
			"✓ Every match so far this season has its minutes.", "✓ Every user has joined."} {
			if !strings.Contains(all, line) {
				t.Errorf("the work list does not say %q: %s", line, all)
			}
		}
		logs := said(manager.Get("/work/logs").Body)
		if !strings.Contains(logs, "Matches without a log: 5") ||
			!strings.Contains(logs, "Under 18 against Oakford, 1 Nov 2025 : no finished log Log a player") ||
			strings.Contains(logs, "Highcombe") {
			t.Errorf("the list of matches without a log says %s", logs)
		}
		if got := said(manager.Get("/work/minutes").Body); !strings.Contains(got,
			"Every match so far this season has its minutes.") {
			t.Errorf("an empty list says %s", got)
		}
		if got := manager.Get("/work/nothing"); got.Status != 404 {
			t.Errorf("a kind of work that there is not: %d", got.Status)
		}
		if got := a.SignIn(t, "ansel"); strings.Contains(got.Get("/").Body, "/work") || got.Get("/work").Status != 403 {
			t.Error("a coach reads the list of work")
		}
		// What the list tells of minors is a read of their consents.
		if err := s.AccountForReads(t.Context()); err != nil {
			t.Fatal(err)
		}
		manager.Get("/work/consents")
		if err := s.AccountForReads(t.Context()); err != nil {
			t.Fatal(err)
		}
		err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			read, err := tx.AuditEntries(models.AuditFilter{PlayerID: a.Tam.ID, Action: models.AuditRead})
			if len(read) == 0 {
				t.Error("the trail does not say that a manager read which consents a minor lacks")
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	})
}

// A list leads to the page where each thing is done: one match with all who played in it, each with a log to make.
func TestAMatchWithoutALogIsLoggedFromItsLine(t *testing.T) {
	a := apitest.OnSQLite(t)
	manager := a.SignIn(t, "mabyn")
	at := manager.Get("/work/logs").Body
	_, at, _ = strings.Cut(at, `<a href="/logging?match=`)
	match, _, _ := strings.Cut(at, `"`)
	page := manager.Get("/logging?match=" + match).Body
	if !strings.Contains(page, "1 Nov 2025") || strings.Contains(page, "18 Oct 2025") ||
		!strings.Contains(page, "Log Bryn Calder") {
		t.Errorf("the page of the match's logs has %s", said(page))
	}
	if got := manager.Get("/logging?match=987654"); got.Status != 404 {
		t.Errorf("logs of no match: %d", got.Status)
	}
}
