package pages_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
)

// signedIn opens a browser as a user who signed in by the keyboard.
func signedIn(t *testing.T, a *apitest.Academy, login string) *browsertest.Browser {
	t.Helper()
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/sign-in")
	tabTo(t, b, "user")
	b.Type(login)
	tabTo(t, b, "password")
	b.Type(apitest.Password)
	b.Leave(kb.Enter)
	return b
}

// column is the text of a column of the first table, without the rows that a search hides.
const column = `[...document.querySelector("main table").tBodies[0].rows].filter(r => !r.hidden).map(r => ` +
	`r.cells[%].childNodes[0].textContent.trim())`

func TestATableIsSortedByItsHeadingsFromTheKeyboard(t *testing.T) {
	a := apitest.OnSQLite(t)
	b := signedIn(t, a, "mabyn")
	names := browsertest.Eval[[]string](b, strings.Replace(column, "%", "0", 1))
	if len(names) < 2 || !slices.IsSorted(names) {
		t.Fatalf("the table begins with %q", names)
	}
	tabTo(t, b, "Player")
	b.Type(kb.Enter + kb.Enter)
	if down := browsertest.Eval[[]string](b, strings.Replace(column, "%", "0", 1)); down[0] != names[len(names)-1] {
		t.Errorf("after two presses: %q", down)
	}
	if said := browsertest.Eval[string](b, `document.activeElement.closest("th").ariaSort`); said != "descending" {
		t.Errorf("the heading says that it is sorted %q", said)
	}
	tabTo(t, b, "Minutes")
	b.Type(kb.Enter)
	numbers := browsertest.Eval[[]float64](b, strings.Replace(column, "%", "4", 1)+
		`.map(v => Number(v.replaceAll(",", ""))).filter(v => !isNaN(v))`)
	if len(numbers) < 2 || !slices.IsSorted(numbers) {
		t.Errorf("sorted by minutes: %v", numbers)
	}
	browsertest.Eval[bool](b, `URL.createObjectURL = (blob) => { globalThis.taken = blob; return "#" }, true`)
	tabTo(t, b, "Download as CSV")
	b.Type(kb.Enter)
	file := strings.Split(strings.TrimSpace(browsertest.Await[string](b, `taken.text()`)), "\r\n")
	if len(file) != len(names)+1 || !strings.Contains(file[0], "Player,Position,Age,Matches,Minutes") {
		t.Errorf("the file is %q; want the headings and %d rows", file, len(names))
	}
}

// A chart that has the focus says each value in turn; its table says the same.
func TestAChartSaysItsValuesToTheKeyboard(t *testing.T) {
	a := apitest.OnSQLite(t)
	b := signedIn(t, a, "mabyn")
	b.Open(a.URL + seasonReport(a.Bryn, a.Season))
	browsertest.Eval[bool](b,
		`[...document.querySelectorAll("svg[tabindex]")].find(s => s.checkVisibility()).focus(), true`)
	said := func() string {
		return browsertest.Eval[string](b,
			`document.activeElement.closest(".chart, figure").querySelector(".chart-value").textContent`)
	}
	b.Type(kb.Escape)
	hint := said()
	b.Type(kb.ArrowRight)
	first := said()
	b.Type(kb.ArrowRight)
	second := said()
	if first == hint || second == first || !strings.ContainsAny(first, "0123456789") {
		t.Errorf("the arrow keys say %q, then %q", first, second)
	}
	b.Type(kb.Escape)
	if last := said(); last != hint || !strings.Contains(hint, "arrow keys") {
		t.Errorf("at first it says %q, and after Escape %q", hint, last)
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}
