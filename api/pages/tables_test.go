package pages_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"throughline/api/apitest"
	"throughline/api/pages"
	"throughline/api/pages/browsertest"
)

// tableCases are columns of cells with what a reader should get, with scripts and without. Rows are known by the
// number in their first cell.
var tableCases = []struct {
	name         string
	cells        []string // of the second column, as the page has them
	down         bool
	find         string
	want         []int    // the rows in order, from 0
	file         []string // the second column in the file; nil: not looked at
	headInMarkup string   // the heading; empty: Value
}{
	{name: "numbers by their value, and what has none last", cells: []string{"10", "9", "", "−3", "1,200", "9.5", "-4"},
		want: []int{6, 3, 1, 5, 0, 4, 2}, file: []string{"-4", "−3", "9", "9.5", "10", `"1,200"`, ""}},
	{name: "the highest first, and what has none still last", cells: []string{"10", "", "9", "80%", "2 of 5"}, down: true,
		want: []int{3, 0, 2, 4, 1}},
	{name: "dates by the calendar", cells: []string{"2 Jan 2026", "Sat 14 Dec 2025", "30 Sep 2025", "1 Feb 2026, 10:00"},
		want: []int{2, 1, 0, 3}},
	// An apostrophe comes before letters: UTS #10, variable elements that are not ignored.
	{name: "words without regard to case and accents, numbers in them by value",
		cells: []string{"Under 16", "élan", "Elan 2", "under 9", "Zest", "eland", "O’Neil", "Oneida", "Oak"},
		want:  []int{1, 2, 5, 6, 8, 7, 3, 0, 4}},
	{name: "equals in the order of the page", cells: []string{"b", "a", "B", "A"}, want: []int{1, 3, 0, 2}},
	{name: "equals in the order of the page downwards", cells: []string{"b", "a", "B", "A"}, down: true,
		want: []int{0, 2, 1, 3}},
	{name: "arrows before numbers", cells: []string{"▲ 3.1", "▼ 1.2", "+2"}, want: []int{1, 2, 0},
		file: []string{"▼ 1.2", "+2", "▲ 3.1"}},
	{name: "what is hidden or drawn is not sorted by and in no file", headInMarkup: `Level<small>a match</small>`,
		cells: []string{
			`<span>7<small>of 9</small></span>`, `<svg viewBox="0 0 1 1"><title>1</title></svg>3<small>sure</small>`,
			`<span aria-hidden="true">9 </span><a href="#x">5</a>`},
		want: []int{1, 2, 0}, file: []string{"3 sure", "5", "7of 9"}},
	{name: "what a spreadsheet would calculate stays text", cells: []string{
		"=1+1", "+44 1632", "-x", "@here", "-5", "+3.5", `say "so", then`, "=HYPERLINK(&quot;x&quot;)"},
		file: []string{"'=1+1", "'+44 1632", "'-x", "'@here", "-5", "+3.5", `"say ""so"", then"`,
			`"'=HYPERLINK(""x"")"`}},
	{name: "rows with all of the words", find: " bryn  FLANKER", cells: []string{
		"Bryn Calder<small>flanker</small>", "Bryn Mawr", "Flanker", "x", "brynflanker", "x", "x", "x", "x", "x"},
		want: []int{0, 4}},
}

// casePage is a page with the table of a case.
func casePage(n int) string {
	c := tableCases[n]
	if c.headInMarkup == "" {
		c.headInMarkup = "Value"
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<!doctype html><html lang="en"><title>Case · x</title><link rel="icon" href="data:,">`+
		`<script type="module" src="/tables.js"></script><main>`+
		`<div class="scroll" aria-label="Case %d"><table><thead><tr><th>Row</th><th>%s</th></tr></thead><tbody>`,
		n, c.headInMarkup)
	for i, cell := range c.cells {
		fmt.Fprintf(&b, "\n<tr><td>%d</td><td>%s</td></tr>", i, cell)
	}
	return b.String() + "</tbody></table></div></main></html>"
}

// TestTablesAreTheSameWithAndWithoutScripts gives the same tables to the server and to a browser with scripts.
func TestTablesAreTheSameWithAndWithoutScripts(t *testing.T) {
	script, err := os.ReadFile("static/tables.js")
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("/tables.js", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/javascript")
		_, _ = w.Write(script)
	})
	mux.HandleFunc("/case", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		var n int
		_, _ = fmt.Sscan(r.URL.Query().Get("n"), &n)
		b, answered, err := pages.WithTables(w, r, "Case", []byte(casePage(n)))
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
		} else if !answered {
			_, _ = w.Write(b)
		}
	})
	server := httptest.NewServer(mux)
	defer server.Close()

	check := func(t *testing.T, by string, n int, rows []string, file string) {
		t.Helper()
		c := tableCases[n]
		var want []string
		for _, i := range c.want {
			want = append(want, fmt.Sprint(i))
		}
		if c.want != nil && !slices.Equal(rows, want) {
			t.Errorf("%s: %s has the rows %q; want %q", c.name, by, rows, want)
		}
		var got []string
		for _, line := range strings.Split(strings.TrimSpace(file), "\r\n")[1:] {
			_, second, _ := strings.Cut(line, ",")
			got = append(got, second)
		}
		if c.file != nil && !slices.Equal(got, c.file) {
			t.Errorf("%s: the file by %s has %q; want %q", c.name, by, got, c.file)
		}
	}
	ask := func(n int) url.Values {
		c := tableCases[n]
		query := url.Values{"n": {fmt.Sprint(n)}, "table": {fmt.Sprintf("case-%d", n)}, "find": {c.find}}
		if c.want != nil && c.find == "" {
			query.Set("sort", "2")
		}
		if c.down {
			query.Set("down", "1")
		}
		return query
	}
	files := make([]string, len(tableCases))
	for n := range tableCases {
		query := ask(n)
		_, page := fetched(t, server.URL+"/case?"+query.Encode())
		query.Set("as", "csv")
		head, file := fetched(t, server.URL+"/case?"+query.Encode())
		if !strings.HasPrefix(head.Get("Content-Type"), "text/csv") || !strings.HasPrefix(file, "\ufeff") {
			t.Errorf("case %d: the file is %q, %q", n, head.Get("Content-Type"), file)
		}
		files[n] = file
		check(t, "the server", n, firstCells(t, page), file)
	}

	b := browsertest.Open(t, server.URL)
	for n, c := range tableCases {
		b.Open(fmt.Sprintf("%s/case?n=%d", server.URL, n))
		browsertest.Eval[bool](b, `URL.createObjectURL = (blob) => { globalThis.taken = blob; return "#" }, true`)
		if c.want != nil && c.find == "" {
			browsertest.Eval[bool](b, `document.querySelectorAll("thead button")[1].click(), true`)
		}
		if c.down {
			browsertest.Eval[bool](b, `document.querySelectorAll("thead button")[1].click(), true`)
		}
		if c.find != "" {
			browsertest.Eval[bool](b, fmt.Sprintf(`(i => { i.value = %q; i.dispatchEvent(new Event("input")); return true })`+
				`(document.querySelector("input[type=search]"))`, c.find))
		}
		rows := browsertest.Eval[[]string](b, `[...document.querySelector("table").tBodies[0].rows].filter(r => !r.hidden)`+
			`.map(r => r.cells[0].textContent)`)
		browsertest.Eval[bool](b, `[...document.querySelectorAll("button")].find(b => b.textContent === "Download as CSV")`+
			`.click(), true`)
		file := browsertest.Await[string](b, `taken.arrayBuffer().then(a => new TextDecoder().decode(a))`)
		check(t, "the browser", n, rows, file)
		if file != strings.TrimPrefix(files[n], "\ufeff") {
			t.Errorf("%s: the browser's file is\n%q\nand the server's\n%q", c.name, file, files[n])
		}
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

func fetched(t *testing.T, address string) (http.Header, string) {
	t.Helper()
	rec, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Body.Close()
	body, err := io.ReadAll(rec.Body)
	if err != nil {
		t.Fatal(err)
	}
	return rec.Header, string(body)
}

// firstCells is the text of the first cell of each row of the bodies of a page's tables.
func firstCells(t *testing.T, page string) (all []string) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		if n.Type != html.ElementNode || n.Data != "tr" || n.Parent.Data != "tbody" {
			continue
		}
		var text strings.Builder
		for c := range n.ChildNodes() {
			if c.Type == html.ElementNode {
				for d := range c.Descendants() {
					if d.Type == html.TextNode {
						text.WriteString(d.Data)
					}
				}
				break
			}
		}
		all = append(all, text.String())
	}
	return all
}

// TestATableIsSortedSearchedAndDownloadedWithoutScripts reads the manager's first page as a browser without scripts
// does: it sends the form that stands beside the table.
func TestATableIsSortedSearchedAndDownloadedWithoutScripts(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "mabyn")
	home := c.Get("/").Body
	if !strings.Contains(home, `<noscript><details class="no-print" id="ways-the-players-of-under-18"`) {
		t.Fatalf("no form for the table:\n%s", home)
	}
	// The table of the under 16s stays as it is.
	up := firstCells(t, c.Get("/?table=the-players-of-under-18&sort=1&find=").Body)
	down := firstCells(t, c.Get("/?table=the-players-of-under-18&sort=1&down=1&find=").Body)
	if want := []string{"Owen Tarrant", "Tam Veale", "Bryn Calder", "Owen Tarrant"}; !slices.Equal(up, want) {
		t.Errorf("sorted by name: %q; want %q", up, want)
	}
	if want := []string{"Owen Tarrant", "Tam Veale", "Owen Tarrant", "Bryn Calder"}; !slices.Equal(down, want) {
		t.Errorf("sorted by name downwards: %q; want %q", down, want)
	}
	season := fmt.Sprint(a.Season.ID)
	found := c.Get("/?table=the-players-of-under-18&find=bryn&season=" + season)
	if !strings.Contains(found.Body, "with “bryn”") ||
		!strings.Contains(found.Body, `name="season" value="`+season+`"`) {
		t.Errorf("a search says not what it shows, or forgets the rest of the address:\n%s", found.Body)
	}
	file := c.Get("/?table=the-players-of-under-18&sort=1&as=csv&find=bryn")
	if got := file.Header.Get("Content-Disposition"); !strings.Contains(got, ".csv") {
		t.Errorf("the file is called %q", got)
	}
	if !strings.Contains(file.Body, "Bryn Calder") || strings.Contains(file.Body, "Owen") {
		t.Errorf("the file is %q", file.Body)
	}
	for address, want := range map[string]string{
		"/?table=nothing":                               "this page has no table “nothing”",
		"/?table=the-players-of-under-18&sort=99":       "has no column 99",
		"/?table=the-players-of-under-18&sort=x":        "is not the number of a column",
		"/?table=the-players-of-under-18&as=pdf":        "write csv",
		"/?table=the-players-of-under-18&down=sideways": "write 1",
		"/cautions?table=players":                       "has no table",
	} {
		got := c.Get(address)
		if got.Status != http.StatusBadRequest || !strings.Contains(strings.ToLower(got.Body), want) {
			t.Errorf("%s: %d\n%s", address, got.Status, got.Body)
		}
	}
	// Bryn reads neither the page nor its table.
	if got := a.SignIn(t, "bryn").Get("/squads?table=squads&as=csv"); got.Status == http.StatusOK {
		t.Errorf("a player gets the table of squads: %d", got.Status)
	}
}
