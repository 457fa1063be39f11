package api_test

import (
	"cmp"
	"fmt"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// everyPage opens a page of each kind of the demonstration in a browser, the docs and the problems among them, as a
// stranger, the player and each member of staff would come to them by links. It calls look for each.
func everyPage(t *testing.T, look func(b *browsertest.Browser, path, who string)) {
	t.Helper()
	storetest.OneByOne(t)
	empty, _ := apitest.Empty(t)
	b := browsertest.Open(t, empty.URL)
	b.Open(empty.URL + "/")
	look(b, "/", "the first visitor")
	a, demo := demoServed(t)
	addTwin(t, a, demo)
	looked, logins, staff := 0, readersOf(t, a, demo), map[string]bool{}
	for _, who := range []string{"stranger", "player", "manager", "coach", "selector"} {
		login, seen := logins[who], staff // of the staff's pages each kind once
		if who == "player" || login == "" {
			seen = map[string]bool{}
		}
		for chunk := range slices.Chunk(linkedPaths(t, a, login, seen), 12) {
			var b *browsertest.Browser
			if login == "" {
				b = browsertest.Open(t, a.URL)
			} else {
				b = signedInAs(t, a, login)
			}
			for _, path := range chunk {
				b.Open(a.URL + path)
				look(b, path, who)
				looked++
			}
		}
	}
	if looked < 40 {
		t.Errorf("%d pages were looked at; want those of each kind, and the docs", looked)
	}
}

// TestEveryPageHolds holds every page to three widths: a phone, a tablet and a desk. Nothing is wider than the window,
// nothing is said on the console, and no request leaves for another host. No page says a code, such as attack_ruck,
// where a person reads a label; what is about codes has them in code elements. Nothing for the screen alone is printed.
// Where axe-core is at hand, it finds nothing that makes a page hard to use with assistive technology.
func TestEveryPageHolds(t *testing.T) {
	axe := axeCore(t)
	everyPage(t, func(b *browsertest.Browser, path, who string) {
		for _, width := range []int64{360, 768, 1280} {
			b.Width(width)
			if over := b.Overflow(); over > 0 {
				t.Errorf("%s, as %s, is %d pixels wider than a window of %d", path, who, over, width)
			}
		}
		docs := strings.HasPrefix(path, "/docs") || strings.HasPrefix(path, "/problems")
		if codes := browsertest.Eval[string](b, saidCodes); codes != "" && !docs {
			t.Errorf("%s, as %s, says the codes %s", path, who, codes)
		}
		b.Medium("print")
		if shown := browsertest.Eval[string](b, printed); shown != "" {
			t.Errorf("%s, as %s, prints what is for the screen: %s", path, who, shown)
		}
		b.Medium("screen")
		if bytes := browsertest.Eval[int](b, weight); bytes > heaviest {
			t.Errorf("%s, as %s, weighs %d bytes with what it loads, compressed; want at most %d", path, who, bytes, heaviest)
		}
		if axe != "" {
			axeFindsNothing(t, b, axe, path, who)
		}
		if problems := b.Problems(); len(problems) > 0 {
			t.Errorf("%s, as %s: the browser had problems: %q", path, who, problems)
		}
	})
}

// printed is the text of what would be on paper though it is for the screen alone.
const printed = `[...document.querySelectorAll(".no-print, .screen-only")].filter(e => e.checkVisibility()).map(
	e => e.textContent.trim().slice(0, 40)).join("; ")`

// weight is how many bytes a page is with all that it loads, as they come: compressed where they are.
const weight = `[...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")].reduce(
	(n, e) => n + e.encodedBodySize, 0)`

// heaviest is what a page may weigh: a phone at the side of a pitch loads it in a few seconds.
const heaviest = 250_000

// saidCodes are the codes of several words in the text of a page.
const saidCodes = `(() => {
	const main = document.querySelector("main").cloneNode(true)
	main.querySelectorAll("code, script, style, svg").forEach(e => e.remove())
	return (main.textContent.match(/\b[a-z0-9]+(_[a-z0-9]+)+\b/g) || []).join(" ")
})()`

// TestPicturesOfEveryPage writes pictures of every page, as wide as a phone and a desk, to the folder that
// THROUGHLINE_PICTURES names, for a person to look at. .ci/pictures runs it.
func TestPicturesOfEveryPage(t *testing.T) {
	folder := os.Getenv("THROUGHLINE_PICTURES")
	if folder == "" {
		t.Skip("no folder for pictures: run .ci/pictures")
	}
	picture := func(b *browsertest.Browser, path, who string) {
		name := strings.Trim(strings.NewReplacer("/", "-", "?", "-", "=", "-", "&", "-").Replace(path), "-")
		for _, width := range []int64{360, 1280} {
			b.Width(width)
			b.Screenshot(filepath.Join(folder, who+"-"+name+"-"+strconv.FormatInt(width, 10)+".png"))
		}
	}
	everyPage(t, picture)
	// What coaches and selectors see of pages that a manager has too, kinds of work that the demonstration has none of,
	// a meeting in each state, and a few pages in the dark.
	a, demo := demoServed(t)
	if err := scenario.Meet(t.Context(), a.Store, scenario.Simulate(scenario.Seed), demo); err != nil {
		t.Fatal(err)
	}
	logins, meetings := readersOf(t, a, demo), map[models.MeetingStatus]string{}
	err := a.Store.Read(t.Context(), models.Console(demo.Academy.ID), func(tx *store.Tx) error {
		all, err := tx.Meetings(models.MeetingFilter{})
		for _, m := range all {
			meetings[m.Status] = fmt.Sprintf("/meetings/%d", m.ID)
		}
		return err
	})
	if err != nil || len(meetings) < 2 {
		t.Fatalf("%v: meetings in the states %v; want an open and a closed one", err, meetings)
	}
	held := slices.Sorted(maps.Values(meetings))
	for who, paths := range map[string][]string{
		"coach":    linkedPaths(t, a, logins["coach"], map[string]bool{}),
		"selector": linkedPaths(t, a, logins["selector"], map[string]bool{}),
		"manager":  append([]string{"/work/minutes", "/work/logs"}, held...),
		"dark":     append([]string{"/", "/work", "/squads", "/matches/1/grades", "/seasons/1/next", "/help"}, held[0]),
	} {
		for chunk := range slices.Chunk(paths, 12) {
			b := signedInAs(t, a, cmp.Or(logins[who], logins["manager"]))
			if who == "dark" {
				b.Scheme("dark")
			}
			for _, path := range chunk {
				b.Open(a.URL + path)
				picture(b, path, who)
			}
		}
	}
}

// signedInAs is a browser in which a user signed in from the keyboard.
func signedInAs(t *testing.T, a *apitest.Academy, login string) *browsertest.Browser {
	t.Helper()
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/sign-in")
	browsertest.Eval[bool](b, `document.querySelector("[name=user]").focus(), true`)
	b.Type(login + kb.Tab + apitest.Password)
	b.Leave(kb.Enter)
	return b
}

// addTwin adds a second record of a player, so that there is a pair to compare.
func addTwin(t *testing.T, a *apitest.Academy, demo scenario.Loaded) {
	t.Helper()
	err := a.Store.Write(t.Context(), models.Console(demo.Academy.ID), func(tx *store.Tx) error {
		all, err := tx.Players(models.PlayerFilter{})
		if err != nil {
			return err
		}
		twin := models.Player{Name: all[0].Name}
		return tx.CreatePlayer(&twin)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// readersOf are the logins of a person of each role, and none for a stranger.
func readersOf(t testing.TB, a *apitest.Academy, demo scenario.Loaded) map[string]string {
	t.Helper()
	readers := map[string]string{"stranger": ""}
	err := a.Store.Read(t.Context(), models.Console(demo.Academy.ID), func(tx *store.Tx) error {
		all, err := tx.Users(models.UserFilter{})
		for _, u := range all {
			readers[string(u.Role)] = u.Login
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(readers) < 5 {
		t.Fatalf("the demonstration has only %v", slices.Sorted(maps.Keys(readers)))
	}
	return readers
}

// pathNames are what tells pages of one kind apart: the number of a record, or the code of a skill.
var pathNames = regexp.MustCompile(`\d+|/skills/\w+`)

// linkedPaths are the pages that a reader comes to by links, the first of each kind that was not seen; for a stranger
// with every page of the docs.
func linkedPaths(t testing.TB, a *apitest.Academy, login string, seen map[string]bool) (paths []string) {
	t.Helper()
	reader := a.Stranger(t)
	todo := []string{"/sign-in", "/docs", "/problems", "/cautions"}
	if login != "" {
		reader, todo = a.SignIn(t, login), []string{"/"}
	}
	for len(todo) > 0 {
		path := strings.ReplaceAll(todo[0], "&amp;", "&")
		todo = todo[1:]
		kind, _, _ := strings.Cut(pathNames.ReplaceAllString(path, "N"), "?")
		u, err := url.Parse(path)
		docs := strings.HasPrefix(path, "/docs") || strings.HasPrefix(path, "/problems")
		if err != nil || seen[kind] || strings.HasPrefix(u.Path, "/api/") || strings.HasPrefix(u.Path, "/static/") || docs &&
			login != "" {
			continue
		}
		seen[kind] = true
		got := reader.Get(path)
		if to := got.Header.Get("Location"); to != "" {
			todo = append(todo, to)
		}
		if got.Status != 200 || !strings.HasPrefix(got.Header.Get("Content-Type"), "text/html") ||
			strings.Contains(got.Header.Get("Content-Disposition"), "attachment") {
			continue
		}
		paths = append(paths, path)
		for _, link := range links.FindAllStringSubmatch(got.Body, -1) {
			todo = append(todo, link[1])
		}
	}
	return paths
}
