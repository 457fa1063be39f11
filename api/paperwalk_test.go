package api_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
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
// player, their squad, their season, their latest match, matches with less than a whole log and the meetings of their
// squad.
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
	var less []lesserMatch
	err = s.Read(t.Context(), manager, func(tx *store.Tx) error {
		matches, err := tx.Matches(models.MatchFilter{SeasonID: demo.SeasonID, PlayerID: demo.PlayerID, Bare: true})
		if err != nil {
			return err
		}
		asked.IDs[paper.OfMatch] = matches[len(matches)-1].ID
		if less, err = lesserMatches(tx, demo); err != nil {
			return err
		}
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
			if slices.Contains(p.Of, paper.OfMatch) {
				for _, l := range less {
					of := asked
					of.IDs = map[paper.Subject]int64{paper.OfPlayer: l.player, paper.OfMatch: l.match}
					all = append(all, editionOf(t, p, of, l.what+"-"+e.Code))
				}
			}
		}
	}
	return all
}

// lesserMatch is a match of a player with less than a whole log.
type lesserMatch struct {
	what          string
	player, match int64
}

// lesserMatches are the first matches of the demo player with a log of a part of the time, with a log of some kinds and
// with totals alone, and the first of the squad with grades alone.
func lesserMatches(tx *store.Tx, demo scenario.Loaded) (all []lesserMatch, err error) {
	players, err := tx.Players(models.PlayerFilter{SeasonID: demo.SeasonID, SquadID: demo.SquadID})
	if err != nil {
		return nil, err
	}
	found := map[string]bool{}
	for _, player := range append([]models.Player{{Record: models.Record{ID: demo.PlayerID}}}, players...) {
		logs, err := tx.Logs(models.LogFilter{PlayerID: player.ID, SeasonID: demo.SeasonID})
		if err != nil {
			return nil, err
		}
		totals, err := tx.Totals(models.TotalsFilter{PlayerID: player.ID, SeasonID: demo.SeasonID})
		if err != nil {
			return nil, err
		}
		grades, err := tx.Ratings(models.RatingFilter{PlayerID: player.ID, SeasonID: demo.SeasonID})
		if err != nil {
			return nil, err
		}
		logged, counted := map[int64]bool{}, map[int64]bool{}
		add := func(what string, match int64) {
			if !found[what] {
				found[what] = true
				all = append(all, lesserMatch{what, player.ID, match})
			}
		}
		for _, l := range logs {
			logged[l.MatchID] = true
			if len(l.Covers) > 0 {
				add("part", l.MatchID)
			} else if len(l.Kinds) < len(models.Kinds()) {
				add("kinds", l.MatchID)
			}
		}
		for _, m := range totals {
			counted[m.MatchID] = true
			if !logged[m.MatchID] {
				add("totals", m.MatchID)
			}
		}
		for _, g := range grades {
			if g.MatchID != nil && !logged[*g.MatchID] && !counted[*g.MatchID] {
				add("grades", *g.MatchID)
			}
		}
		if len(all) == 4 {
			return all, nil
		}
	}
	return nil, fmt.Errorf("the demonstration has only %v", found)
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

// counted are numbers that a paper counts from lists of its JSON; says has a group for each.
func counted(says string, values ...func(of lists) float64) papertest.Own {
	return papertest.Own{Says: regexp.MustCompile(says), Values: func(content map[string]any) (all []float64) {
		for _, value := range values {
			all = append(all, value(content))
		}
		return all
	}}
}

// lists are a paper's JSON.
type lists map[string]any

// sum adds a member over the elements of a list.
func (of lists) sum(list, member string) (total float64) {
	of.each(list, func(e lists) {
		n, _ := e[member].(float64)
		total += n
	})
	return total
}

func (of lists) each(list string, fn func(lists)) {
	all, _ := of[list].([]any)
	for _, e := range all {
		fn(e.(map[string]any))
	}
}

func (of lists) number(object, member string) float64 {
	within, _ := of[object].(map[string]any)
	n, _ := within[member].(float64)
	return n
}

// ownNumbers are the numbers that papers say and their JSON has not as members, by code: of scales, sources and
// thresholds, and what a paper counts.
var ownNumbers = map[string][]papertest.Own{
	"season-report": append(papertest.Says(`from 1 to 5\b`, `average is [\d.]+ of (5)`, `(?:after|round,) 14 days`,
		`plain average, 95%`),
		counted(`The appendices have (\d+) more`, func(of lists) float64 { // than two
			dangers, _ := of["dangers"].([]any)
			return float64(len(dangers) - 2)
		})),
	"squad-overview": {counted(`(\d+) of \d+ players? (?:is|are) not available`, func(of lists) float64 {
		return of.number("summary", "players") - of.number("summary", "available")
	})},
	"match-review": append(papertest.Says(`within 20 seconds`, `up to 1 in 5 lies outside`),
		counted(`(\d+) of (\d+) headline figures are within`, func(of lists) (within float64) {
			of.each("expected", func(f lists) {
				if f["reads"] == "within" {
					within++
				}
			})
			return within
		}, headlines),
		counted(`All (\d+) headline figures are within`, headlines),
		counted(`(\d+) involvements(?: [\w ]+ watched)?: (\d+) gained something, (\d+) lost something, (\d+) did neither`,
			func(of lists) float64 { return of.sum("tallies", "n") },
			func(of lists) float64 { return of.sum("tallies", "gained") },
			func(of lists) float64 { return of.sum("tallies", "lost") },
			func(of lists) float64 { return of.sum("tallies", "even") }),
		counted(`(\d+) jobs in the first quarter of \w+ own time and (\d+) in the last`, jobsIn(1), jobsIn(4))),
	"selection-brief": papertest.Says(`: 0 is an average player`, `of 5, the meeting’s mark`,
		`in about (1 of \d+) cases`, `and the (\d+) between them`),
	"consistency-report": append(papertest.Says(`1 is perfect, 0 is chance`, `(?:from|for) 0\.8\b`,
		`by 0\.5 gives half a grade`, `round, 14 days`, `\bLogger \d+`),
		counted(`would make grades of (\d+) of \d+ skills reliable`, func(of lists) (never float64) {
			of.each("skills", func(s lists) {
				// common practice: no squad has more than 20 coaches
				if n, known := s["coaches_for_80"].(float64); s["one_coach"] != nil && (!known || n > 20) {
					never++
				}
			})
			return never
		})),
}

// headlines are how many headline figures have an expectation.
func headlines(of lists) float64 {
	all, _ := of["expected"].([]any)
	return float64(len(all))
}

// jobsIn are the jobs of a quarter of the player's own time.
func jobsIn(quarter float64) func(lists) float64 {
	return func(of lists) (jobs float64) {
		within, _ := of["work"].(map[string]any)
		lists(within).each("quarters", func(q lists) {
			if q["quarter"] == quarter {
				jobs, _ = q["jobs"].(float64)
			}
		})
		return jobs
	}
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
	all := append(everyEdition(t, a.Store, demo), briefOfSix(t, a.Store, demo))
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
		seesChanges(t, e, asJSON.Body, main)
		golden(t, e.name, main)
		if e.name == "match-review-kinds-staff" {
			goldenJSON(t, e.name, asJSON.Body)
		}
	}
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/sign-in")
	browsertest.Eval[bool](b, `document.querySelector("[name=user]").focus(), true`)
	b.Type(demo.Manager.Login + kb.Tab + apitest.Password)
	b.Leave(kb.Enter)
	for _, e := range all {
		b.Open(a.URL + e.page)
		headings := holdsItsText(t, b, e.name)
		if e.paper == "selection-brief" {
			placesAreShort(t, b, e.name, headings)
		}
	}
}

// briefOfSix is the brief of a meeting of the demonstration's squad with six candidates for one place, opened.
func briefOfSix(t *testing.T, s *store.Store, demo scenario.Loaded) printedEdition {
	t.Helper()
	as := func(u models.User, fn func(tx *store.Tx) error) {
		t.Helper()
		who := models.Who{AcademyID: demo.Academy.ID, UserID: u.ID, Name: u.Name, Role: u.Role,
			SquadIDs: []int64{demo.SquadID}, From: models.Here}
		if err := s.Write(t.Context(), who, fn); err != nil {
			t.Fatal(err)
		}
	}
	var m models.Meeting
	as(demo.Selector, func(tx *store.Tx) error {
		all, err := tx.Meetings(models.MeetingFilter{SquadID: demo.SquadID})
		if err != nil {
			return err
		}
		members, err := tx.Memberships(models.MembershipFilter{SeasonID: demo.SeasonID, SquadID: demo.SquadID})
		if err != nil {
			return err
		}
		of := all[slices.IndexFunc(all, func(m models.Meeting) bool { return m.Status == models.MeetingOpened })]
		m = models.Meeting{SeasonID: of.SeasonID, SquadID: of.SquadID, Date: of.Date, Purpose: "Six for two places",
			Present: of.Present, Criteria: of.Criteria, Places: of.Places[:1]}
		add := func(player int64) {
			if len(m.Candidates) < 6 && !slices.ContainsFunc(m.Candidates, func(c models.Candidate) bool {
				return c.PlayerID == player
			}) {
				m.Candidates = append(m.Candidates, models.Candidate{PlayerID: player, Place: m.Places[0].Name})
			}
		}
		for _, c := range of.Candidates {
			add(c.PlayerID)
		}
		for _, member := range members {
			add(member.PlayerID)
		}
		return tx.CreateMeeting(&m)
	})
	for _, to := range []models.MeetingStatus{models.MeetingLocked, models.MeetingOpened} {
		m.Status = to
		as(demo.Selector, func(tx *store.Tx) error { return tx.UpdateMeeting(&m) })
	}
	for i, c := range m.Candidates { // what makes a place longest: each is recommended, and has a mark
		m.Candidates[i].Marks = map[string]int{m.Criteria[3].Label: 1 + i%5}
		as(demo.Coach, func(tx *store.Tx) error {
			return tx.CreateRecommendation(&models.Recommendation{MeetingID: m.ID, PlayerID: c.PlayerID,
				View: models.RecommendChoose, Text: "Has done what we agreed since September, week after week."})
		})
	}
	as(demo.Selector, func(tx *store.Tx) error { return tx.UpdateMeeting(&m) })
	papers, err := reports.Papers(nil)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(papers, func(p paper.Paper) bool { return p.Code == "selection-brief" })
	return editionOf(t, papers[i], paper.Asked{IDs: map[paper.Subject]int64{paper.OfMeeting: m.ID}}, "six")
}

// placesAreShort holds each place of a brief, with its comparison and the room to write, to two sides of A4.
func placesAreShort(t *testing.T, b *browsertest.Browser, name string, headings []browsertest.Heading) {
	t.Helper()
	const side = (297 - 14 - 15) * 72 / 25.4 // points between the margins
	places := browsertest.Eval[[]string](b, `[...document.querySelectorAll(".place h2")].map(h => h.textContent.trim())`)
	for _, place := range places {
		at := slices.IndexFunc(headings, func(h browsertest.Heading) bool { return h.Title == place })
		if at < 0 {
			t.Errorf("%s: the heading of %s is not printed", name, place)
			continue
		}
		next := at + 1
		for !slices.Contains(places, headings[next].Title) && headings[next].Title != "Before you decide" &&
			!strings.HasPrefix(headings[next].Title, "Corrected") {
			next++
		}
		from, to := headings[at], headings[next]
		if long := float64(to.Page-from.Page) + (from.Above-to.Above)/side; long > 2 || long <= 0 {
			t.Errorf("%s: %s is %.2f sides of A4 long; want 2 at the most", name, place, long)
		} else {
			t.Logf("%s: %s is %.2f sides of A4 long", name, place, long)
		}
	}
}

// altered are words of editions with a number, and the same with another number, by the edition's name.
var altered = map[string][][2]string{
	"squad-overview": {{"29 of 33 players", "28 of 33 players"}, {"2 of 33 players", "3 of 33 players"},
		{"25 matches", "26 matches"}, {"9 goals are open", "8 goals are open"}},
	"season-report-staff": {{"in 24 matches", "in 23 matches"}, {"level is 81%", "level is 31%"},
		{"167 minutes in 3 matches", "168 minutes in 3 matches"}},
	"season-report-player": {{"Now 52%", "Now 12%"}, {"logs for 22 matches", "logs for 23 matches"}},
	"match-review-staff": {{"97 involvements", "96 involvements"}, {"59 gained something", "58 gained something"},
		{"about 0.39 expected", "about 0.38 expected"}, {"14 of 16 arrivals", "15 of 16 arrivals"}},
	"match-review-player": {{"and 32 in the last", "and 31 in the last"}},
	"selection-brief-opened": {{"Trevellick (96% or", "Trevellick (86% or"}, {"less than 9%. Then", "less than 8%. Then"},
		{"2 wanted", "3 wanted"}},
	"consistency-report-names": {{"Based on 949 grades", "Based on 948 grades"}, {"of all 11 skills", "of all 12 skills"},
		{"grades of 5 of 11", "grades of 6 of 11"}, {"(19 pairs", "(29 pairs"}},
}

// seesChanges holds that the walk would see a wrong number: of sentences, and half of all at least where one is off by
// one in its last digit.
func seesChanges(t *testing.T, e printedEdition, asJSON, main string) {
	t.Helper()
	for _, pair := range altered[e.name] {
		wrong := strings.Replace(main, pair[0], pair[1], 1)
		if wrong == main {
			t.Errorf("%s does not say %q", e.name, pair[0])
		} else if papertest.UnknownNumbers(t, []byte(asJSON), wrong, ownNumbers[e.paper]...) == nil {
			t.Errorf("%s: %q in place of %q is not seen", e.name, pair[1], pair[0])
		}
	}
	if e.paper == "season-report" && e.name != "season-report-talk-sheet" {
		return // the others have thousands of numbers, and the same kinds of sentences
	}
	if share := papertest.Seen(t, []byte(asJSON), main, ownNumbers[e.paper]...); share < 0.5 {
		t.Errorf("%s: of numbers that are off by one, %.0f%% alone are seen", e.name, 100*share)
	}
}

// underHeading is the room, in points, that a heading needs from its top on for itself and a line under it.
const underHeading = 28

// looseHeadings are headings, and names of tables, after which a page may break.
const looseHeadings = `[...document.querySelectorAll("main h1, main h2, main h3, main h4, main caption")].filter(h =>
	h.checkVisibility() && h.getBoundingClientRect().height > 2 && getComputedStyle(h).breakAfter !== "avoid").map(h =>
	h.textContent.trim().slice(0, 40)).slice(0, 5).join("; ")`

// holdsItsText holds the paper that the browser shows to a phone, a desk and two sizes of paper. It returns the printed
// headings.
func holdsItsText(t *testing.T, b *browsertest.Browser, name string) []browsertest.Heading {
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
	return headings
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
	held(t, name+".txt", strings.Join(lines, "\n")+"\n")
}

// goldenJSON holds the JSON of an edition, its numbers to six digits, against a file that a person has read.
func goldenJSON(t *testing.T, name, body string) {
	t.Helper()
	var content any
	if err := json.Unmarshal([]byte(body), &content); err != nil {
		t.Fatal(err)
	}
	text, err := json.MarshalIndent(rounded(content), "", " ")
	if err != nil {
		t.Fatal(err)
	}
	held(t, name+".json", string(text)+"\n")
}

// rounded are the values of a JSON document with six digits of each number.
func rounded(v any) any {
	switch v := v.(type) {
	case map[string]any:
		for key := range v {
			v[key] = rounded(v[key])
		}
	case []any:
		for i := range v {
			v[i] = rounded(v[i])
		}
	case float64:
		return json.Number(strconv.FormatFloat(v, 'g', 6, 64))
	}
	return v
}

// held holds a text against a golden file.
func held(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "editions", name)
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
