package api_test

import (
	"flag"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/api/rest"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/paper"
	"throughline/reports/paper/papertest"
)

// printedEdition is an edition of a paper about records of the demonstration.
type printedEdition struct {
	paper, name    string // the paper's code, and the name of its golden file
	page, resource string // addresses
}

// everyEdition are all editions of all papers that a manager may have, about records of the demonstration: the demo
// player, their squad, their season, their latest match and the meetings of their squad.
func everyEdition(t *testing.T, s *store.Store, demo scenario.Loaded) (all []printedEdition) {
	t.Helper()
	papers, err := reports.Papers(nil)
	if err != nil {
		t.Fatal(err)
	}
	manager := models.Who{AcademyID: demo.Academy.ID, UserID: demo.Manager.ID, Role: models.RoleManager}
	asked := paper.Asked{Who: manager, IDs: map[paper.Subject]int64{paper.OfPlayer: demo.PlayerID,
		paper.OfSquad: demo.SquadID, paper.OfSeason: demo.SeasonID}}
	var meetings []models.Meeting
	err = s.Read(t.Context(), manager, func(tx *store.Tx) error {
		matches, err := tx.Matches(models.MatchFilter{SeasonID: demo.SeasonID, PlayerID: demo.PlayerID, Bare: true})
		if err != nil {
			return err
		}
		asked.IDs[paper.OfMatch] = matches[len(matches)-1].ID
		meetings, err = tx.Meetings(models.MeetingFilter{SquadID: demo.SquadID})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range papers {
		editions := p.EditionsFor(manager)
		if len(p.Editions) == 0 {
			editions = []paper.Edition{{}}
		}
		if len(editions) == 0 {
			t.Errorf("a manager may read no edition of the %s: teach this walk another reader", p.Name)
		}
		if slices.Contains(p.Of, paper.OfMeeting) {
			for _, m := range meetings {
				asked.IDs[paper.OfMeeting] = m.ID
				all = append(all, editionOf(t, p, asked, string(m.Status)))
			}
			continue
		}
		for _, e := range editions {
			asked.Edition = e.Code
			all = append(all, editionOf(t, p, asked, e.Code))
		}
	}
	return all
}

// editionOf is a paper as it is asked for; kind is the last word of its file's name.
func editionOf(t *testing.T, p paper.Paper, asked paper.Asked, kind string) printedEdition {
	t.Helper()
	resource := strings.Replace(p.Resource(), "{id}", "{"+string(p.Of[0])+"}", 1)
	one := printedEdition{paper: p.Code, name: strings.Trim(p.Code+"-"+kind, "-"),
		page: asked.Address(p.Page()) + asked.Query(), resource: rest.Path + asked.Address(resource) + asked.Query()}
	if strings.Contains(one.page, "{") {
		t.Fatalf("the demonstration has no record for the %s: %s", p.Name, one.page)
	}
	return one
}

// ownNumbers are the numbers that a paper's own words say, by its code: of scales, sources and thresholds.
var ownNumbers = map[string][]string{
	"consistency-report": {"0.8", "0.5", "0", "2", "3", "10", "8", "7"},
}

// TestEveryEditionOfEveryPaper walks all papers. Each number stands in the JSON of the same edition. No text is cut or
// covered on a phone, on a desk, on A4 and on A3. No heading stands alone at the foot of a page. The words are those of
// a file that a person has read.
func TestEveryEditionOfEveryPaper(t *testing.T) {
	storetest.OneByOne(t)
	a, demo := demoServed(t)
	if err := scenario.Meet(t.Context(), a.Store, scenario.Simulate(scenario.Seed), demo); err != nil {
		t.Fatal(err)
	}
	manager, program := a.SignIn(t, demo.Manager.Login), a.ProgramOf(t, demo.Academy.ID, demo.Manager.ID)
	all := everyEdition(t, a.Store, demo)
	for _, e := range all {
		page, asJSON := manager.Get(e.page), program.Get(e.resource)
		if page.Status != 200 || asJSON.Status != 200 {
			t.Errorf("%s: %d, as JSON %d: %.300s", e.page, page.Status, asJSON.Status, asJSON.Body)
			continue
		}
		main := mainOf(page.Body)
		for _, odd := range papertest.UnknownNumbers(t, []byte(asJSON.Body), main, ownNumbers[e.paper]...) {
			t.Errorf("%s says a number that its JSON has not: %s", e.name, odd)
		}
		golden(t, e.name, main)
	}
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/sign-in")
	browsertest.Eval[bool](b, `document.querySelector("[name=user]").focus(), true`)
	b.Type(demo.Manager.Login + kb.Tab + apitest.Password)
	b.Leave(kb.Enter)
	for _, e := range all {
		b.Open(a.URL + e.page)
		holdsItsText(t, b, e.name)
	}
}

// underHeading is the room, in points, that a heading needs from its top on for itself and a line under it.
const underHeading = 28

// looseHeadings are headings, and names of tables, after which a page may break.
const looseHeadings = `[...document.querySelectorAll("main h1, main h2, main h3, main h4, main caption")].filter(h =>
	h.checkVisibility() && h.getBoundingClientRect().height > 2 && getComputedStyle(h).breakAfter !== "avoid").map(h =>
	h.textContent.trim().slice(0, 40)).slice(0, 5).join("; ")`

// holdsItsText holds the paper that the browser shows to a phone, a desk and two sizes of paper.
func holdsItsText(t *testing.T, b *browsertest.Browser, name string) {
	t.Helper()
	for _, width := range []int64{360, 1280} {
		b.Width(width)
		if bad := b.CutOrCovered(false); bad != "" || b.Overflow() > 0 {
			t.Errorf("%s, %d pixels wide: %s; %d too wide", name, width, bad, b.Overflow())
		}
	}
	b.Medium("print")
	if loose := browsertest.Eval[string](b, looseHeadings); loose != "" {
		t.Errorf("%s: headings that may stand at the foot of a page: %s", name, loose)
	}
	lying := browsertest.Eval[bool](b, `[...document.styleSheets].some(s => [...s.cssRules].some(r => r instanceof
		CSSPageRule && r.selectorText == getComputedStyle(document.querySelector(".sheet")).page &&
		r.cssText.includes("landscape")))`)
	for paper, width := range map[string]int64{"A4": 695, "A3": 1024, "A4 on its side": 1054, "A3 on its side": 1519} {
		if lying != strings.Contains(paper, "side") {
			continue
		}
		b.Width(width)
		if bad := b.CutOrCovered(true); bad != "" {
			t.Errorf("%s on %s: %s", name, paper, bad)
		}
	}
	headings, _ := b.PrintedHeadings()
	if len(headings) == 0 {
		t.Errorf("%s: no heading was found in print", name)
	}
	for _, h := range headings {
		if h.Above < underHeading {
			t.Errorf("%s, page %d: the heading %q stands alone at its foot", name, h.Page, h.Title)
		}
	}
}

// folded breaks a line after a word before column 110, and sets what follows in.
func folded(line string) string {
	var b strings.Builder
	column := 0
	for i, word := range strings.Fields(line) {
		wide := utf8.RuneCountInString(word)
		switch {
		case i > 0 && column+1+wide > 110:
			b.WriteString("\n  ")
			column = 2
		case i > 0:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += wide
	}
	return b.String()
}

var updateEditions = flag.Bool("update-editions", false, "write the words of all editions of the demonstration anew")

var (
	// tables that repeat the JSON, lists of all moments and what stands about tables, which the golden files leave out
	repeated = regexp.MustCompile(`(?s)<noscript>.*?</noscript>|<svg.*?</svg>|<dl class="method">.*?</dl>|` +
		`<nav.*?</nav>|<table>.*?</table>|` +
		`<table id="(figures|matches|skills|shown|quarters|passages)-table".*?</table>|<h2>More moments</h2>.*?</details>`)
	lineEnd = regexp.MustCompile(`</(p|h\d|li|tr|dt|dd|caption|summary)>`)
	// an edition that only opens what another one has folded
	unfolded = []string{"season-report-staff-full"}
)

// mainOf is what a page says between its head and its foot.
func mainOf(page string) string {
	_, main, _ := strings.Cut(page, "<main")
	main, _, _ = strings.Cut("<main"+main, "</main>")
	return main
}

// golden holds the words of an edition against a file that a person has read.
func golden(t *testing.T, name, main string) {
	t.Helper()
	if slices.Contains(unfolded, name) {
		return
	}
	var lines []string
	for line := range strings.SplitSeq(lineEnd.ReplaceAllString(strings.Join(strings.Fields(repeated.ReplaceAllString(main,
		"")), " "), "\n"), "\n") {
		line = html.UnescapeString(tags.ReplaceAllString(line, " "))
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			lines = append(lines, folded(line))
		}
	}
	file, got := filepath.Join("testdata", "editions", name+".txt"), strings.Join(lines, "\n")+"\n"
	if *updateEditions {
		if err := os.WriteFile(file, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Errorf("%v; write it with -update-editions, and read it", err)
	} else if string(want) != got {
		t.Errorf("%s differs from %s; look at the difference, and write it anew with -update-editions", name, file)
	}
}
