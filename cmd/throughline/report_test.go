package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/chart"
	"throughline/reports/paper"
	"throughline/reports/paper/papertest"
	"throughline/reports/paper/pdf/pdftest"
)

// TestACommandWritesEveryPaperThatIsRegistered writes an invented paper that this program does not know of until it is
// registered.
func TestACommandWritesEveryPaperThatIsRegistered(t *testing.T) {
	url := storetest.SQLite(t)
	season := models.Season{Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"}
	match := models.Match{Date: "2025-09-06", Opponent: "Fellmoor", OtherTeam: "Highmoor School", Halves: 2,
		HalfMinutes: 35}
	player := models.Player{Name: "Wren Tolley"}
	s, err := store.Open(t.Context(), url, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	academy, err := s.CreateAcademy(t.Context(), "Northmoor")
	if err != nil {
		t.Fatal(err)
	}
	err = s.Write(t.Context(), models.Console(academy.ID), func(tx *store.Tx) error {
		if err := tx.CreateSeason(&season); err != nil {
			return err
		}
		if err := tx.CreatePlayer(&player); err != nil {
			return err
		}
		match.SeasonID = season.ID
		if err := tx.CreateMatch(&match); err != nil {
			return err
		}
		return tx.CreateAppearance(&models.Appearance{MatchID: match.ID, PlayerID: player.ID, Minutes: 41})
	})
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	var out, errOut bytes.Buffer
	report := func(args ...string) int {
		out.Reset()
		errOut.Reset()
		p := &program{out: &out, err: &errOut, papers: func(charts *chart.Renderer) (paper.Papers, error) {
			all, err := reports.Papers(charts)
			return append(all, papertest.Paper()), err
		}}
		return p.run(t.Context(), append([]string{"report", "--database", url}, args...))
	}
	unknown := report("--player", "Wren Tolley", "--season", "2031-32", "--out", filepath.Join(t.TempDir(), "r.html"))
	if unknown != failed || errOut.String() != "throughline: no season \"2031-32\": the seasons are 2025-26\n" {
		t.Errorf("a season that is not there: exit %d: %s", unknown, errOut.String())
	}
	for ending, want := range map[string]string{"html": "Wren Tolley played 41 minutes.", "json": `"minutes": 41`} {
		file := filepath.Join(t.TempDir(), "minutes."+ending)
		if code := report("minutes-sheet", "--player", "Wren Tolley", "--season", "2025-26", "--out", file); code != done {
			t.Fatalf("exit %d: %s", code, errOut.String())
		}
		if text, err := os.ReadFile(file); err != nil || !strings.Contains(string(text), want) {
			t.Errorf("%s, %v", text, err)
		}
		if want := "wrote " + file + ": Wren Tolley: minutes 2025-26\n"; out.String() != want {
			t.Errorf("it says %q; want %q", out.String(), want)
		}
	}
	printed := filepath.Join(t.TempDir(), "minutes.pdf")
	wanted := []string{"minutes-sheet", "--player", "Wren Tolley", "--season", "2025-26", "--out", printed}
	if code := report(append(wanted, "--chromium", "none")...); code != failed ||
		!strings.Contains(errOut.String(), "install the package chromium") {
		t.Errorf("a PDF without a Chromium: exit %d: %s", code, errOut.String())
	}
	if there, err := os.ReadDir(filepath.Dir(printed)); err != nil || len(there) > 0 {
		t.Errorf("a PDF without a Chromium leaves %v, %v", there, err)
	}
	pdftest.Printer(t) // skips, or fails, where there is no Chromium
	if code := report(wanted...); code != done {
		t.Fatalf("exit %d: %s", code, errOut.String())
	}
	if file, err := os.ReadFile(printed); err != nil || pdftest.Pages(file) != 1 ||
		!strings.Contains(pdftest.Text(t, file), "Wren Tolley played 41 minutes.") {
		t.Errorf("the PDF has %d pages, %v:\n%s", pdftest.Pages(file), err, pdftest.Text(t, file))
	}
}

// Nothing is written where the arguments do not go with the paper.
func TestAReportSaysWhichFlagsItsPaperNeeds(t *testing.T) {
	var out, errOut bytes.Buffer
	report := func(args ...string) int {
		out.Reset()
		errOut.Reset()
		p := &program{out: &out, err: &errOut, papers: func(charts *chart.Renderer) (paper.Papers, error) {
			all, err := reports.Papers(charts)
			return append(all, papertest.Paper()), err
		}}
		return p.run(t.Context(), append([]string{"report"}, args...))
	}
	for _, c := range []struct{ args, want string }{
		{"minute-sheet --out x.html",
			`no paper "minute-sheet"; the papers are: season-report, squad-overview, `},
		{"minutes-sheet --player x --out x.html", "report needs --player, --season and --out for a minutes sheet"},
		{"minutes-sheet --player x --season y --squad z --out x.html",
			"--squad is not for a minutes sheet, which needs --player, --season and --out"},
	} {
		if code := report(strings.Fields(c.args)...); code != misuse || !strings.Contains(errOut.String(), c.want) {
			t.Errorf("report %s: exit %d: %s", c.args, code, errOut.String())
		}
	}
}
