package api_test

import (
	"log/slog"
	"maps"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/api/auth"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/reports/fits"
)

// axeRun runs all rules of axe-core on the page that is open, and gives each place in which one is broken a line.
const axeRun = `axe.run(document, {resultTypes: ["violations"]}).then((r) => r.violations.flatMap((v) =>
	v.nodes.map((n) => v.id + " (" + v.impact + "): " + n.target.join(" ") + ": " + n.html.slice(0, 160))))`

// axeWidths are a desk and a phone.
var axeWidths = []int64{1200, 360}

// TestAxeFindsNothingOnAnyPage runs axe-core, which knows what makes pages hard to use with assistive technology, on
// the docs, the problems and a page of each kind of the demonstration, as the player and as the staff see it. It needs
// axe-core, which is no part of the program: .ci/axe fetches it and names its file in THROUGHLINE_AXE.
func TestAxeFindsNothingOnAnyPage(t *testing.T) {
	file := os.Getenv("THROUGHLINE_AXE")
	if file == "" {
		t.Skip("no axe-core: run .ci/axe")
	}
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	a := apitest.OnSQLite(t)
	hash, err := auth.HashPassword(apitest.Password)
	if err != nil {
		t.Fatal(err)
	}
	demo, err := scenario.Load(t.Context(), a.Store, scenario.Simulate(scenario.Seed), func(models.User) string {
		return hash
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	keeper := fits.NewKeeper(api.Records{Store: a.Store}, longAgo, slog.New(slog.DiscardHandler))
	if _, err := api.RefitAll(t.Context(), a.Store, keeper); err != nil {
		t.Fatal(err)
	}
	looked, logins, staff := 0, axeReaders(t, a, demo), map[string]bool{}
	for _, who := range []string{"a stranger", "player", "manager", "coach", "selector"} {
		login, seen := logins[who], staff // of the staff's pages each kind once
		if who == "player" || login == "" {
			seen = map[string]bool{}
		}
		for chunk := range slices.Chunk(axePaths(t, a, login, seen), 6) {
			b := browsertest.Open(t, a.URL)
			if login != "" {
				b.Open(a.URL + "/sign-in")
				browsertest.Eval[bool](b, `document.querySelector("[name=user]").focus(), true`)
				b.Type(login + kb.Tab + apitest.Password)
				b.Leave(kb.Enter)
			}
			for _, path := range chunk {
				for _, width := range axeWidths {
					b.Width(width)
					b.Open(a.URL + path)
					browsertest.Eval[bool](b, string(axe)+"; true")
					browsertest.Eval[bool](b, `document.querySelectorAll("details").forEach((d) => { d.open = true }), true`)
					for _, found := range browsertest.Await[[]string](b, axeRun) {
						t.Errorf("%s, as %s at %d px: %s", path, who, width, found)
					}
					looked++
				}
			}
		}
	}
	if looked < 80 {
		t.Errorf("%d pages were looked at; want those of each kind, and the docs", looked)
	}
}

// axeReaders are the logins of a person of each role, and none for a stranger.
func axeReaders(t *testing.T, a *apitest.Academy, demo scenario.Loaded) map[string]string {
	t.Helper()
	readers := map[string]string{"a stranger": ""}
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

var axeNumbers = regexp.MustCompile(`\d+`)

// axePaths are the pages that a reader comes to by links, the first of each kind that was not seen; for a stranger
// with every page of the docs.
func axePaths(t *testing.T, a *apitest.Academy, login string, seen map[string]bool) (paths []string) {
	t.Helper()
	reader := a.Stranger(t)
	todo := []string{"/sign-in", "/docs", "/problems", "/cautions"}
	if login != "" {
		reader, todo = a.SignIn(t, login), []string{"/"}
	}
	for len(todo) > 0 {
		path := strings.ReplaceAll(todo[0], "&amp;", "&")
		todo = todo[1:]
		kind, _, _ := strings.Cut(axeNumbers.ReplaceAllString(path, "N"), "?")
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
