package main_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"throughline/models/store"
	"throughline/models/store/storetest"
)

const totals = `season,squad,match_date,opponent,player,minutes,carries,tackles_made
2025-26,Under 18,2025-09-06,Oakford,Bryn Calder,80,7,9
2025-26,Under 18,2025-09-06,Oakford,Owen Tarrant,41,3,
`

func write(t *testing.T, folder, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestTotalsAreImportedOnceAndForAll(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		folder := t.TempDir()
		write(t, folder, "totals.csv", totals)
		got := runIn(t, folder, "import", "totals", "totals.csv", "--database", url, "--academy", "Northmoor Rugby Academy")
		for _, want := range []string{"players: created 2, changed 0, unchanged 0", "matches: created 1,",
			"appearances: created 2, changed 0, unchanged 0", "2 appearances in ", " a second"} {
			if got.code != 0 || !strings.Contains(got.out, want) {
				t.Errorf("exit %d: %s%s; want %q", got.code, got.out, got.err, want)
			}
		}
		got = runIn(t, folder, "import", "totals", "totals.csv", "--database", url)
		if got.code != 0 || !strings.Contains(got.out, "appearances: created 0, changed 0, unchanged 2") {
			t.Errorf("again: exit %d: %s%s", got.code, got.out, got.err)
		}
		got = runIn(t, folder, "report", "--player", "bryn calder", "--season", "2025-26", "--out", "r.json", "--database",
			url)
		if got.code != 0 {
			t.Errorf("report: exit %d: %s", got.code, got.err)
		}
		got = runIn(t, folder, "report", "--player", "bryn calder", "--season", "2025-26", "--out", "r.json", "--database",
			url, "--academy", "Southmoor")
		if got.code != 1 || !strings.Contains(got.err,
			`no academy "Southmoor": the academies are "Northmoor Rugby Academy"`) {
			t.Errorf("another academy: exit %d: %s", got.code, got.err)
		}
		addAcademy(t, url)
		got = runIn(t, folder, "import", "totals", "totals.csv", "--database", url)
		if got.code != 2 || !strings.Contains(got.err, `choose one with --academy: "Northmoor Rugby Academy", "Southmoor `+
			`Rugby Academy"`) {
			t.Errorf("several academies: exit %d: %s", got.code, got.err)
		}
	})
}

func addAcademy(t *testing.T, url string) {
	t.Helper()
	s, err := store.Open(t.Context(), url, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := s.CreateAcademy(t.Context(), "Southmoor Rugby Academy"); err != nil {
		t.Fatal(err)
	}
}

func TestAFirstImportNeedsNoAcademy(t *testing.T) {
	folder := t.TempDir()
	write(t, folder, "totals.csv", totals)
	write(t, folder, "bad.csv", strings.ReplaceAll(totals, ",41,", ",ninety,"))
	if got := runIn(t, folder, "import", "totals", "bad.csv"); got.code != 1 {
		t.Errorf("a bad file: exit %d: %s", got.code, got.out)
	}
	if got := runIn(t, folder, "report", "--player", "x", "--season", "y", "--out", "r.html"); !strings.Contains(got.err,
		"has no academy yet") {
		t.Errorf("a refused file left an academy behind: %s%s", got.out, got.err)
	}
	if got := runIn(t, folder, "import", "totals", "totals.csv"); got.code != 0 ||
		!strings.Contains(got.out, "appearances: created 2") {
		t.Errorf("exit %d: %s%s", got.code, got.out, got.err)
	}
	if got := runIn(t, folder, "report", "--player", "Bryn Calder", "--season", "2025-26", "--out",
		"r.html"); got.code != 0 {
		t.Errorf("report: exit %d: %s", got.code, got.err)
	}
}

func TestWhatIsWrongWithAFileIsSaidLineByLine(t *testing.T) {
	folder := t.TempDir()
	var bad strings.Builder
	bad.WriteString("season,squad,match_date,opponent,player,minutes\n")
	for range 60 {
		bad.WriteString("2025-26,Under 18,2025-09-06,Oakford,Bryn Calder,ninety\n")
	}
	write(t, folder, "bad.csv", bad.String())
	got := runIn(t, folder, "import", "totals", "bad.csv", "--academy", "Northmoor Rugby Academy")
	lines := strings.Split(strings.TrimSpace(got.err), "\n")
	if got.code != 1 || !strings.HasPrefix(lines[0], "throughline: nothing was imported") {
		t.Errorf("exit %d: %s; want 1 and that nothing was imported, first", got.code, lines[0])
	}
	if len(lines) != 52 || !strings.Contains(lines[1], "line 2, column minutes") ||
		!strings.Contains(lines[1], "ninety") || !strings.Contains(lines[51], "more") {
		t.Errorf("%d lines, %q to %q; want the first 50 findings, each with its line, column and value, and how many "+
			"more there are", len(lines), lines[1], lines[len(lines)-1])
	}
}

func TestTotalsAreReadFromStandardInput(t *testing.T) {
	folder := t.TempDir()
	c := command(t, folder, "import", "totals", "-", "--academy", "Northmoor Rugby Academy")
	c.Stdin = strings.NewReader(totals)
	out, err := c.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "appearances: created 2") {
		t.Errorf("%v: %s", err, out)
	}
}
