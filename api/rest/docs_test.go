package rest_test

import (
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
)

// docsPaths are the pages of the docs, as their own list of pages has them, and those of the problems.
func docsPaths(t *testing.T, c *apitest.Client) []string {
	t.Helper()
	var all []string
	for _, from := range []string{"/docs", "/problems"} {
		for _, link := range regexp.MustCompile(`href="((?:/docs|/problems)[^"]*)"`).FindAllStringSubmatch(c.Get(from).Body,
			-1) {
			if !strings.Contains(link[1], "/docs.") && !slices.Contains(all, link[1]) {
				all = append(all, link[1])
			}
		}
	}
	if len(all) < 25 {
		t.Fatalf("%d pages: %q; want one for each part and each problem", len(all), all)
	}
	return all
}

// The pages are for people at an academy without a way to the outside, under a policy that allows nothing within a
// page.
func TestTheDescriptionHasAPageForEachPartWithEveryOperationOnce(t *testing.T) {
	c := apitest.OnSQLite(t).Stranger(t)
	s := describedBy(t, c)
	on := map[string][]string{}
	for _, path := range docsPaths(t, c) {
		page := c.Get(path)
		if page.Status != http.StatusOK || page.Header.Get("Content-Type") != "text/html; charset=utf-8" {
			t.Errorf("%s: %d %s; want a page", path, page.Status, page.Header.Get("Content-Type"))
		}
		body := strings.ReplaceAll(page.Body, "BASE=https://throughline.example", "")
		for _, outside := range []string{"https://", "http://", "<style", " style=", "//cdn", "@import", "ZgotmplZ",
			" onclick", "<script>"} {
			if strings.Contains(body, outside) {
				t.Errorf("%s has %s in it", path, outside)
			}
		}
		for _, id := range regexp.MustCompile(`class="operation" id="([^"]+)"`).FindAllStringSubmatch(body, -1) {
			on[id[1]] = append(on[id[1]], path)
		}
		for _, link := range regexp.MustCompile(`href="(/[^"#]*)"`).FindAllStringSubmatch(body, -1) {
			if got := c.Get(link[1]); got.Status != http.StatusOK {
				t.Errorf("%s links to %s: %d", path, link[1], got.Status)
			}
		}
		if again := c.Do(http.MethodGet, path, nil, "If-None-Match",
			page.Header.Get("ETag")); again.Status != http.StatusNotModified {
			t.Errorf("%s, asked again: %d; want 304", path, again.Status)
		}
	}
	for _, d := range s.operations() {
		if id := fmt.Sprint(d.op["operationId"]); len(on[id]) != 1 {
			t.Errorf("%s is on the pages %q; want one", id, on[id])
		}
	}
	if got := c.Get("/docs/nonsense"); got.Status != http.StatusNotFound || !strings.Contains(got.Body, "<h1>") {
		t.Errorf("a page that there is not: %d %s", got.Status, got.Body)
	}
}

// The lines are run by curl as they stand.
func TestTheLineForCurlOfAnOperationDoesIt(t *testing.T) {
	if _, err := exec.LookPath("curl"); err != nil {
		if os.Getenv("THROUGHLINE_REQUIRE") != "" {
			t.Fatalf("the lines for curl need curl: %v", err)
		}
		t.Skipf("the lines for curl need curl: %v", err)
	}
	a := apitest.OnSQLite(t)
	page := a.Stranger(t).Get("/docs/people").Body
	token := a.Token("mabyn")
	for _, run := range [][2]string{
		{"list-players", "200"}, {"create-player", "201"}, {"get-player", "200"}, {"replace-player", "200"},
		{"replace-player", "412"},
	} {
		id, want := run[0], run[1]
		_, after, _ := strings.Cut(page, `id="`+id+`"`)
		_, after, _ = strings.Cut(after, `<pre class="curl">`)
		line, _, _ := strings.Cut(after, "</pre>")
		line = strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&amp;", "&", "&lt;", "<", "&gt;", ">").Replace(line)
		cmd := exec.Command("sh", "-c", line+` -sS -o /dev/null -w '%{http_code}'`)
		cmd.Env = append(cmd.Environ(), "BASE="+a.URL, "TOKEN="+token)
		if got, err := cmd.CombinedOutput(); err != nil || string(got) != want {
			t.Errorf("%s: %s, %v from %s; want %s", id, got, err, line, want)
		}
	}
}

// nested are controls within other controls, which assistive technology does not reach (HTML Living Standard: the
// content model of a, button and summary; axe-core's rule nested-interactive).
const nested = `[...document.querySelectorAll("a, button, summary, label, [role=button]")]
	.filter((e) => e.querySelector("a, button, input, select, textarea, summary, [tabindex]"))
	.map((e) => e.outerHTML.slice(0, 200))`

func TestTheDocsAreShortFitAPhoneAndNestNoControls(t *testing.T) {
	a := apitest.OnSQLite(t)
	b := browsertest.Open(t, a.URL)
	for _, path := range docsPaths(t, a.Stranger(t)) {
		b.Width(1200)
		b.Open(a.URL + path)
		if tall := browsertest.Eval[int](b, `document.documentElement.scrollHeight`); tall > 20_000 {
			t.Errorf("%s is %d pixels high; want at most 20,000", path, tall)
		}
		if controls := browsertest.Eval[[]string](b, nested); len(controls) > 0 {
			t.Errorf("%s has controls within controls: %q", path, controls)
		}
		b.Width(360)
		for _, open := range []string{"false", "true"} {
			browsertest.Eval[bool](b, `document.querySelectorAll("details").forEach((d) => { d.open = `+open+` }), true`)
			if over := b.Overflow(); over > 0 {
				t.Errorf("%s, all of it open: %s, is %d pixels wider than a phone", path, open, over)
			}
		}
		if headings := browsertest.Eval[int](b, `document.querySelectorAll("h1").length`); headings != 1 {
			t.Errorf("%s has %d main headings", path, headings)
		}
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

const shown = `[...document.querySelectorAll(".operation")].filter((e) => e.getBoundingClientRect().height > ` +
	`0).map((e) => e.id)`

func TestTheFilterOfTheDocsWorksFromTheKeyboard(t *testing.T) {
	a := apitest.OnSQLite(t)
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/docs/people")
	all := browsertest.Eval[[]string](b, shown)
	for range 40 {
		b.Type(kb.Tab)
		if browsertest.Eval[string](b, `document.activeElement.id`) == "wanted" {
			break
		}
	}
	b.Type("Player POST known_as")
	if got := browsertest.Eval[[]string](b, shown); !slices.Equal(got, []string{"create-player"}) {
		t.Errorf("with the words of one operation these show: %q", got)
	}
	if said := browsertest.Eval[string](b,
		`document.querySelector("#filter [role=status]").textContent`); said != fmt.Sprintf("1 of %d operations", len(all)) {
		t.Errorf("the filter says %q", said)
	}
	b.Type("zzz")
	if none := browsertest.Eval[bool](b, `document.getElementById("none").getBoundingClientRect().height > 0`); !none {
		t.Error("with words of none the page does not say that there is none")
	}
	b.Type(kb.Escape)
	if got := browsertest.Eval[[]string](b, shown); !slices.Equal(got, all) {
		t.Errorf("after Escape these show: %q; want all", got)
	}
	b.Type(kb.Tab)
	b.Type(kb.Enter)
	if open := browsertest.Eval[int](b, `document.querySelectorAll(".operation[open]").length`); open != 1 {
		t.Errorf("%d operations are open after Tab and Enter; want one", open)
	}
	b.Open(a.URL + "/docs/people#get-player")
	if open := browsertest.Eval[bool](b, `document.getElementById("get-player").open`); !open {
		t.Error("an address that names an operation does not open it")
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

// Without the script the field that would do nothing does not show, and everything else does.
func TestWithoutTheScriptTheDocsShowEverything(t *testing.T) {
	page := apitest.OnSQLite(t).Stranger(t).Get("/docs/people").Body
	if !regexp.MustCompile(`<form id="filter" role="search" hidden>`).MatchString(page) ||
		regexp.MustCompile(`class="operation"[^>]* hidden`).MatchString(page) {
		t.Error("the filter shows, or an operation does not, before the script has run")
	}
}
