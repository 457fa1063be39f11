package pages_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// secretary sits at a browser and looks at each page that a step leads to.
type visitor struct {
	t    *testing.T
	b    *browsertest.Browser
	base string
	// what the browser may say of an answer that is no success
	allowed string
	widths  []int64 // of the windows that every page must fit; without any, those of a phone, a tablet and a desk
}

// fill types into a field, as a person who pastes does.
func (s *visitor) fill(id, value string) {
	s.t.Helper()
	if !browsertest.Eval[bool](s.b, fmt.Sprintf(`(() => { const e = document.getElementById(%q); if (!e) return false;
		for (let d = e.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
		e.value = %q; return e.value === %q })()`, id, value, value)) {
		s.t.Fatalf("%s: no field %s that takes %q", s.where(), id, value)
	}
}

// press presses a button by the keyboard, and looks at the page that it leads to.
func (s *visitor) press(label string) {
	s.t.Helper()
	if !browsertest.Eval[bool](s.b, fmt.Sprintf(`(() => { const e = [...document.querySelectorAll("main button")].find(
		(b) => b.textContent.replace(/\s+/g, " ").trim() === %q); if (!e) return false;
		for (let d = e.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
		e.focus(); return true })()`, label)) {
		s.t.Fatalf("%s: no button %q", s.where(), label)
	}
	s.b.Leave(kb.Enter)
	s.look()
}

// refused presses a button whose form is refused: the console says so, and nothing else.
func (s *visitor) refused(label string) {
	s.t.Helper()
	s.allowed = "status of 422"
	s.press(label)
	s.allowed = ""
}

// choose chooses the option of a list that is called so.
func (s *visitor) choose(id, label string) {
	s.t.Helper()
	if !browsertest.Eval[bool](s.b, fmt.Sprintf(`(() => { const e = document.getElementById(%q);
		const o = e && [...e.options].find((o) => o.textContent.trim() === %q); if (o) o.selected = true; return !!o })()`,
		id, label)) {
		s.t.Fatalf("%s: no option %q in %s", s.where(), label, id)
	}
}

func (s *visitor) open(path string) {
	s.t.Helper()
	s.b.Open(s.base + path)
	s.look()
}

func (s *visitor) where() string {
	return browsertest.Eval[string](s.b, `location.pathname + location.search`)
}

func (s *visitor) text() string {
	return strings.Join(strings.Fields(browsertest.Eval[string](s.b, `document.querySelector("main").textContent`)), " ")
}

func (s *visitor) sees(words ...string) {
	s.t.Helper()
	text := s.text()
	for _, w := range words {
		if !strings.Contains(text, w) {
			s.t.Errorf("%s does not say %q: %.1500s", s.where(), w, text)
		}
	}
}

// look checks what holds on every page: it fits, stays on its server and keeps the console quiet.
func (s *visitor) look() {
	s.t.Helper()
	widths := s.widths
	if widths == nil {
		widths = []int64{360, 768, 1280}
	}
	for _, width := range widths {
		s.b.Width(width)
		if over := s.b.Overflow(); over > 0 {
			s.t.Errorf("%s at %d px is %d pixels too wide", s.where(), width, over)
		}
	}
	problems := slices.DeleteFunc(s.b.Problems(), func(said string) bool {
		return s.allowed != "" && strings.Contains(said, s.allowed)
	})
	if len(problems) > 0 {
		s.t.Errorf("%s: the browser had problems: %q", s.where(), problems)
	}
}

// manyPlayers are rows as a spreadsheet hands them over, with the day first.
func manyPlayers(from, n, year int) string {
	given := []string{"Bryn", "Owen", "Tam", "Wystan", "Perran", "Jory", "Cador", "Denzel", "Massen"}
	family := []string{"Calder", "Tarrant", "Veale", "Rudd", "Gale", "Pascoe"}
	positions := models.Positions()
	var rows []string
	for i := from; i < from+n; i++ {
		rows = append(rows, fmt.Sprintf("%s %s\t%d/%d/%d\t%s", given[i%len(given)], family[i/len(given)%len(family)], i%28+1,
			i%12+1, year, positions[i%len(positions)].Label))
	}
	return strings.Join(rows, "\n")
}

func TestASecretaryGetsFromAnEmptyDatabaseToTheFirstMatchOnFileInTheBrowserAlone(t *testing.T) {
	storetest.OneByOne(t)
	a, code := apitest.Empty(t)
	b := browsertest.Open(t, a.URL)
	s := &visitor{t: t, b: b, base: a.URL}

	s.open("/")
	s.sees("This server has no academy yet", "setup code")
	for id, value := range map[string]string{"code": code, "academy": "Eastmoor Rugby Academy", "name": "Mabyn Orrell",
		"login": "mabyn", "password": apitest.Password} {
		s.fill(id, value)
	}
	s.press("Make the academy and sign in")
	s.sees("Set up the academy", "Add the season with its dates", "0 squads")

	s.open("/work")
	s.sees("There is no season yet")
	s.open("/meetings")
	s.sees("A manager adds the season and the squad first")

	s.open("/seasons")
	s.fill("season-name", "2025-26")
	s.fill("season-starts", "2025-08-01")
	s.fill("season-ends", "2025-07-01")
	s.refused("Add the season")
	s.sees("is before the season starts")
	s.fill("season-ends", "2026-06-30")
	s.press("Add the season")
	s.sees("1 Aug 2025")

	squads := map[string]string{}
	for name, band := range map[string]string{"Under 16": "16", "Under 18": "18"} {
		s.open("/squads")
		s.fill("squad-name", name)
		s.fill("squad-age_band", band)
		s.press("Add the squad")
		squads[name] = s.where()
	}
	for name, rows := range map[string]string{
		"Under 16": "Name\tDate of birth\tPosition\n" + manyPlayers(0, 22, 2010), "Under 18": manyPlayers(22, 23, 2008)} {
		s.open(squads[name])
		s.fill("rows", strings.Replace(rows, "/2010", "/2010x", 1))
		if name == "Under 16" {
			s.refused("Check the list")
			s.sees("Row 2, birth date: “1/1/2010x” is not a date; write day, month and year")
		}
		s.fill("rows", rows)
		s.press("Check the list")
		s.sees("Nothing is saved yet")
		s.press(fmt.Sprintf("Save all %d rows", strings.Count(rows, "/20")))
		s.sees("players joined the squad")
	}

	s.open("/matches")
	var fixtures []string
	for i := range 10 {
		fixtures = append(fixtures, fmt.Sprintf("%d/9/2025,Oakford %d,%s,14:30,%d", i+1, i+1, []string{"H", "away"}[i%2],
			i%5+1))
	}
	s.choose("fixtures-squad_id", "Under 18")
	s.fill("rows", strings.Join(fixtures, "\n"))
	s.press("Check the fixtures")
	s.sees("Under 18: 10 new, 0 on file already")
	s.press("Save all 10 rows")
	s.sees("Saved: 10 new matches", "Oakford 10", "14:30")

	s.open("/settings")
	s.press("Save these settings")
	s.open("/set-up")
	s.press("“Staff”: nothing more to do")
	s.press("“Limits on minutes”: nothing more to do")
	s.sees("Everything is set up")

	s.firstMatch(a)
	s.open("/")
	if strings.Contains(s.text(), "Open the checklist") {
		t.Error("the checklist stays on the home page though all is done")
	}
}

// firstMatch pastes the team sheet of the first match: fifteen who start, eight replacements, of whom one stays on the
// bench.
func (s *visitor) firstMatch(a *apitest.Academy) {
	t := s.t
	s.open("/matches")
	s.open(browsertest.Eval[string](s.b, `[...document.querySelectorAll("main table a")].map(
		(a) => a.getAttribute("href")).find((h) => h.startsWith("/matches/"))`))
	at := s.where()
	var rows []string
	for i, row := range strings.Split(manyPlayers(22, 23, 2008), "\n") {
		name, _, _ := strings.Cut(row, "\t")
		on, off := "0", ""
		switch {
		case i == 22:
			on = ""
		case i >= 15:
			on = fmt.Sprint(40 + i)
		case i < 7:
			off = fmt.Sprint(55 + i)
		}
		rows = append(rows, strings.Join([]string{fmt.Sprint(i + 1), name, on, off, ""}, "\t"))
	}
	s.fill("rows", strings.Replace(strings.Join(rows, "\n"), "Tam ", "Tamm ", 1))
	s.refused("Fill the form")
	s.sees("did you mean Tam ")
	s.fill("rows", strings.Join(rows, "\n"))
	s.press("Fill the form")
	s.press("Save the team sheet")
	s.sees("22 players are on file")
	if _, sheet, _ := strings.Cut(s.text(), "players are on file"); strings.Contains(sheet, "Download as CSV") {
		t.Error("a table that is typed into can be sorted and downloaded, which would lose what is typed")
	}
	var match int64
	if _, err := fmt.Sscanf(at, "/matches/%d", &match); err != nil {
		t.Fatal(err)
	}
	academies, err := a.Store.Academies(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	err = a.Store.Read(t.Context(), models.Console(academies[0].ID), func(tx *store.Tx) error {
		sheet, err := tx.Appearances(models.AppearanceFilter{MatchID: match})
		minutes := 0.0
		for _, one := range sheet {
			minutes += one.Minutes
			if started := *one.Shirt <= 15; one.Started == nil || *one.Started != started {
				t.Errorf("shirt %d started: %v; want %v", *one.Shirt, one.Started, started)
			}
		}
		// Seven of fifteen went off in minutes 55 to 61 as seven came on in those minutes: fifteen played all seventy.
		if len(sheet) != 22 || minutes != 15*70 {
			t.Errorf("%d players, %v minutes; want 22 with %d", len(sheet), minutes, 15*70)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
