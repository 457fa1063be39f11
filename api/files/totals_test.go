package files_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"testing"

	"throughline/api/files"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

// season is a season of match totals: 18 squads, 22 rounds, 8,911 appearances (testdata/reference/SOURCES.md).
func season(t testing.TB) []byte {
	t.Helper()
	packed, err := os.ReadFile("../../testdata/reference/contact_season_totals.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	return packed
}

func unpacked(t testing.TB, packed []byte) string {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// academy makes an academy and returns its operator.
func academy(t testing.TB, s *store.Store) models.Who {
	t.Helper()
	a, err := s.CreateAcademy(t.Context(), "Hazel Ridge Academy")
	if err != nil {
		t.Fatal(err)
	}
	return models.Console(a.ID)
}

func imported(t testing.TB, s *store.Store, who models.Who, text string) files.Summary {
	t.Helper()
	sum, err := importTotals(t.Context(), s, who, strings.NewReader(text), files.TotalsOptions{Source: "a test"})
	if err != nil {
		t.Fatal(err)
	}
	return sum
}

func refused(t testing.TB, s *store.Store, who models.Who, text string) error {
	t.Helper()
	sum, err := importTotals(t.Context(), s, who, strings.NewReader(text), files.TotalsOptions{})
	if err == nil {
		t.Fatalf("imported, want an error:\n%s", sum)
	}
	if sum.Appearances != (files.Tally{}) {
		t.Errorf("an import that failed says that it did something: %+v", sum)
	}
	return err
}

// read runs fn in a reading transaction.
func read(t testing.TB, s *store.Store, who models.Who, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := s.Read(t.Context(), who, fn); err != nil {
		t.Fatal(err)
	}
}

func write(t testing.TB, s *store.Store, who models.Who, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := s.Write(t.Context(), who, fn); err != nil {
		t.Fatal(err)
	}
}

// A real season comes in whole, once; what is recorded is what the file says.
func TestImportTotalsRealSeason(t *testing.T) {
	packed := season(t)
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		sum, err := importTotals(t.Context(), s, who, bytes.NewReader(packed),
			files.TotalsOptions{Source: "contact_season_totals.csv.gz"})
		if err != nil {
			t.Fatal(err)
		}
		// 18 squads, 22 rounds (so 18 × 22 = 396 matches of a squad) and 8,911 appearances: testdata/reference/SOURCES.md.
		// 673 players, each in one squad: counted with cut, sort -u and wc over the file.
		want := files.Summary{
			Seasons:     files.Tally{Created: 1},
			Squads:      files.Tally{Created: 18},
			Players:     files.Tally{Created: 673},
			Memberships: files.Tally{Created: 673},
			Matches:     files.Tally{Created: 396},
			Appearances: files.Tally{Created: 8911},
			Halves: []files.HalfAssumed{{Squads: strings.Split("squad A,squad B,squad C"+strings.Repeat(",more", 15), ","),
				Matches: 396, Minutes: 40, Why: "usual for adults, and no age band is on file"}},
		}
		if got := sum.String(); got != want.String() {
			t.Errorf("the first import says\n%swant\n%s", got, want)
		}
		read(t, s, who, func(tx *store.Tx) error {
			seasons, err := tx.Seasons(models.SeasonFilter{})
			if err != nil {
				return err
			}
			if len(seasons) != 1 || seasons[0].Name != "2025-26" || seasons[0].Starts != "2025-07-01" ||
				seasons[0].Ends != "2026-06-30" {
				t.Errorf("the seasons are %+v, want 2025-26 from 1 July to 30 June", seasons)
			}
			totals, err := tx.Totals(models.TotalsFilter{SeasonID: seasons[0].ID})
			if err != nil {
				return err
			}
			sums := models.Counts{}
			for _, r := range totals {
				if r.Source != "contact_season_totals.csv.gz" {
					t.Fatalf("totals %d come from %q", r.ID, r.Source)
				}
				for code, v := range r.Counts {
					sums[code] += v
				}
			}
			// The sums of the file's columns, by awk.
			const want = "map[carries:53665 catches:37763 errors:22570 kicks:86371 passes:58452 ruck_arrivals:19202 " +
				"tackles_made:22632]"
			if got := fmt.Sprint(sums); len(totals) != 8911 || got != want {
				t.Errorf("%d totals add up to %s, want 8911 that add up to %s", len(totals), got, want)
			}
			observed, err := tx.Observations(models.ObservationFilter{SeasonID: seasons[0].ID})
			if err != nil {
				return err
			}
			carries, minutes := 0.0, 0.0
			for _, o := range observed {
				if o.Indicator == "carries" {
					carries, minutes = carries+o.Numerator, minutes+o.Denominator
				}
			}
			if carries != 53665 || minutes != 570182 { // by awk
				t.Errorf("%v carries are observed in %v minutes, want 53665 in 570182", carries, minutes)
			}
			return nil
		})

		again, err := importTotals(t.Context(), s, who, bytes.NewReader(packed), files.TotalsOptions{Source: "another name"})
		if err != nil {
			t.Fatal(err)
		}
		want = files.Summary{
			Seasons:     files.Tally{Unchanged: 1},
			Squads:      files.Tally{Unchanged: 18},
			Players:     files.Tally{Unchanged: 673},
			Memberships: files.Tally{Unchanged: 673},
			Matches:     files.Tally{Unchanged: 396},
			Appearances: files.Tally{Unchanged: 8911},
		}
		if got := again.String(); got != want.String() {
			t.Errorf("the second import says\n%swant\n%s", got, want)
		}

		// One cell corrected and one line left out: the one is changed, and nothing is taken away.
		lines := strings.SplitAfter(unpacked(t, packed), "\n")
		if lines[1] != "2025-26,squad A,2025-09-06,squad G,player 003,67,8,4,9,4,4,0,7\r\n" {
			t.Fatalf("the file's second line is %q", lines[1])
		}
		lines[1] = "2025-26,squad A,2025-09-06,squad G,player 003,67,8,4,9,4,6,0,7\r\n"
		corrected := imported(t, s, who, strings.Join(slices.Delete(lines, 100, 101), ""))
		want.Appearances = files.Tally{Changed: 1, Unchanged: 8909}
		want.Differences = []files.Difference{{
			Line: 2, Match: "squad A v squad G, 2025-09-06", Player: "player 003", Column: "tackles_made", Recorded: "4",
			File: "6",
		}}
		if got := corrected.String(); got != want.String() {
			t.Errorf("the corrected file's import says\n%swant\n%s", got, want)
		}
		write(t, s, who, func(tx *store.Tx) error {
			checked, differences, err := tx.Recompute(0)
			if err == nil && (checked != 8911 || len(differences) != 0) {
				t.Errorf("of %d observed appearances %d were not as computed, want 8911 and none", checked, len(differences))
			}
			return err
		})
	})
}

const small = `season,squad,match_date,opponent,player,minutes,carries,tackles_made
2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,70,8,4
2025-26,Under 18,2025-09-06,Millbrook,Ben Oakes,62.5,,0
2025-26,Under 18,2025-09-13,Stonegate,Ada Fenn,80,6,9
`

// recordedOf returns what is recorded about all appearances, a line each.
func recordedOf(t testing.TB, s *store.Store, who models.Who) string {
	t.Helper()
	var b strings.Builder
	read(t, s, who, func(tx *store.Tx) error {
		players, err := tx.Players(models.PlayerFilter{})
		if err != nil {
			return err
		}
		names := map[int64]string{}
		for _, p := range players {
			names[p.ID] = p.Name
		}
		matches, err := tx.Matches(models.MatchFilter{})
		if err != nil {
			return err
		}
		for _, m := range matches {
			fmt.Fprintf(&b, "%s %s", m.Date, m.Opponent)
			if m.Venue != nil {
				fmt.Fprintf(&b, " %s", *m.Venue)
			}
			if m.Difficulty != nil {
				fmt.Fprintf(&b, " difficulty %d", *m.Difficulty)
			}
			fmt.Fprintf(&b, " %d\n", m.FullMatch())
			appearances, err := tx.Appearances(models.AppearanceFilter{MatchID: m.ID})
			if err != nil {
				return err
			}
			slices.SortFunc(appearances, func(a, b models.Appearance) int {
				return strings.Compare(names[a.PlayerID], names[b.PlayerID])
			})
			totals, err := tx.Totals(models.TotalsFilter{MatchID: m.ID})
			if err != nil {
				return err
			}
			for _, a := range appearances {
				fmt.Fprintf(&b, "  %s %v", names[a.PlayerID], a.Minutes)
				if a.Shirt != nil {
					fmt.Fprintf(&b, " shirt %d", *a.Shirt)
				}
				if a.Started != nil {
					fmt.Fprintf(&b, " started %v", *a.Started)
				}
				if a.Position != "" {
					fmt.Fprintf(&b, " %s", a.Position)
				}
				for _, r := range totals {
					if r.PlayerID == a.PlayerID {
						fmt.Fprintf(&b, " %v", r.Counts)
					}
				}
				b.WriteByte('\n')
			}
		}
		return nil
	})
	return b.String()
}

func wantRecorded(t testing.TB, s *store.Store, who models.Who, want string) {
	t.Helper()
	if got := recordedOf(t, s, who); got != strings.TrimPrefix(want, "\n") {
		t.Errorf("recorded is\n%swant%s", got, want)
	}
}

// An empty cell is not recorded; a zero is.
func TestImportTotalsKeepsNotRecordedApartFromZero(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		imported(t, s, who, small)
		wantRecorded(t, s, who, `
2025-09-06 Millbrook 80
  Ada Fenn 70 map[carries:8 tackles_made:4]
  Ben Oakes 62.5 map[tackles_made:0]
2025-09-13 Stonegate 80
  Ada Fenn 80 map[carries:6 tackles_made:9]
`)
		read(t, s, who, func(tx *store.Tx) error {
			ben, err := tx.Players(models.PlayerFilter{Name: "Ben Oakes"})
			if err != nil {
				return err
			}
			observed, err := tx.Observations(models.ObservationFilter{PlayerID: ben[0].ID})
			if err != nil {
				return err
			}
			for _, o := range observed {
				if o.Indicator == "carries" {
					t.Errorf("carries that were not recorded are observed: %+v", o)
				}
			}
			return nil
		})
	})
}

// Whatever is wrong, and however late, nothing of the file is recorded.
func TestImportTotalsIsAllOrNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		err := refused(t, s, who, small+"2025-26,Under 18,2025-09-13,Stonegate,Ben Oakes,81,1,1\n")
		want := "line 5, column minutes: 81 is more than the 80 minutes of a full match"
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error is %v, want that it says %q", err, want)
		}
		err = refused(t, s, models.Who{AcademyID: who.AcademyID, UserID: 1, Name: "Cy Marsh", Role: models.RoleSelector},
			small)
		if models.CodeOf(err) != models.Forbidden {
			t.Errorf("a selector's import fails with %v, want forbidden", err)
		}
		read(t, s, who, func(tx *store.Tx) error {
			seasons, err := tx.Seasons(models.SeasonFilter{})
			if err != nil {
				return err
			}
			players, err := tx.Players(models.PlayerFilter{})
			if err != nil {
				return err
			}
			if len(seasons) != 0 || len(players) != 0 {
				t.Errorf("%d seasons and %d players were recorded, want none", len(seasons), len(players))
			}
			return nil
		})
	})
}

// What the file says about a column that it has counts; what is recorded about others stays.
func TestImportTotalsCorrects(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		imported(t, s, who, small)
		for _, step := range []struct{ name, text, summary, recorded string }{
			{
				"a cell is corrected, one is taken back and one is filled",
				`season,squad,match_date,opponent,player,minutes,carries,tackles_made
2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,71,,4
2025-26,Under 18,2025-09-06,Millbrook,Ben Oakes,62.5,3,0
2025-26,Under 18,2025-09-13,Stonegate,Ada Fenn,80,6,9
`, `seasons: created 0, changed 0, unchanged 1
squads: created 0, changed 0, unchanged 1
players: created 0, changed 0, unchanged 2
memberships: created 0, changed 0, unchanged 2
matches: created 0, changed 0, unchanged 2
appearances: created 0, changed 2, unchanged 1
line 2, column minutes (Under 18 v Millbrook, 2025-09-06, Ada Fenn): was 70, now 71
line 2, column carries (Under 18 v Millbrook, 2025-09-06, Ada Fenn): was 8, now not recorded
line 3, column carries (Under 18 v Millbrook, 2025-09-06, Ben Oakes): was not recorded, now 3
`, `
2025-09-06 Millbrook 80
  Ada Fenn 71 map[tackles_made:4]
  Ben Oakes 62.5 map[carries:3 tackles_made:0]
2025-09-13 Stonegate 80
  Ada Fenn 80 map[carries:6 tackles_made:9]
`},
			{
				"other columns and a new line add to what is recorded",
				`season,squad,match_date,opponent,player,minutes,passes,venue,difficulty,shirt,started,position
2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,71,12,home,2,10,yes,fly_half
2025-26,Under 18,2025-09-06,Millbrook,Cy Marsh,9,,,,22,no,wing
`, `seasons: created 0, changed 0, unchanged 1
squads: created 0, changed 0, unchanged 1
players: created 1, changed 0, unchanged 1
memberships: created 1, changed 0, unchanged 1
matches: created 0, changed 1, unchanged 0
appearances: created 1, changed 1, unchanged 0
line 2, column venue (Under 18 v Millbrook, 2025-09-06): was not recorded, now home
line 2, column difficulty (Under 18 v Millbrook, 2025-09-06): was not recorded, now 2
line 2, column started (Under 18 v Millbrook, 2025-09-06, Ada Fenn): was not recorded, now yes
line 2, column shirt (Under 18 v Millbrook, 2025-09-06, Ada Fenn): was not recorded, now 10
line 2, column position (Under 18 v Millbrook, 2025-09-06, Ada Fenn): was not recorded, now fly_half
line 2, column passes (Under 18 v Millbrook, 2025-09-06, Ada Fenn): was not recorded, now 12
`, `
2025-09-06 Millbrook home difficulty 2 80
  Ada Fenn 71 shirt 10 started true fly_half map[passes:12 tackles_made:4]
  Ben Oakes 62.5 map[carries:3 tackles_made:0]
  Cy Marsh 9 shirt 22 started false wing
2025-09-13 Stonegate 80
  Ada Fenn 80 map[carries:6 tackles_made:9]
`},
			{
				"shirts move between players, new ones too",
				`season,squad,match_date,opponent,player,minutes,shirt
2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,71,22
2025-26,Under 18,2025-09-06,Millbrook,Cy Marsh,9,10
2025-26,Under 18,2025-09-13,Stonegate,Dee Holt,5,
`, `seasons: created 0, changed 0, unchanged 1
squads: created 0, changed 0, unchanged 1
players: created 1, changed 0, unchanged 2
memberships: created 1, changed 0, unchanged 2
matches: created 0, changed 0, unchanged 2
appearances: created 1, changed 2, unchanged 0
line 2, column shirt (Under 18 v Millbrook, 2025-09-06, Ada Fenn): was 10, now 22
line 3, column shirt (Under 18 v Millbrook, 2025-09-06, Cy Marsh): was 22, now 10
`, `
2025-09-06 Millbrook home difficulty 2 80
  Ada Fenn 71 shirt 22 started true fly_half map[passes:12 tackles_made:4]
  Ben Oakes 62.5 map[carries:3 tackles_made:0]
  Cy Marsh 9 shirt 10 started false wing
2025-09-13 Stonegate 80
  Ada Fenn 80 map[carries:6 tackles_made:9]
  Dee Holt 5
`},
			{
				"a match turns out shorter, and all that was counted is taken back",
				`season,squad,match_date,opponent,player,minutes,carries,tackles_made,half_minutes
2025-26,Under 18,2025-09-13,Stonegate,Ada Fenn,60,,,30
2025-26,Under 18,2025-09-13,Stonegate,Ben Oakes,60,1,1,
`, `seasons: created 0, changed 0, unchanged 1
squads: created 0, changed 0, unchanged 1
players: created 0, changed 0, unchanged 2
memberships: created 0, changed 0, unchanged 2
matches: created 0, changed 1, unchanged 0
appearances: created 1, changed 1, unchanged 0
line 2, column half_minutes (Under 18 v Stonegate, 2025-09-13): was 40, now 30
line 2, column minutes (Under 18 v Stonegate, 2025-09-13, Ada Fenn): was 80, now 60
line 2, column carries (Under 18 v Stonegate, 2025-09-13, Ada Fenn): was 6, now not recorded
line 2, column tackles_made (Under 18 v Stonegate, 2025-09-13, Ada Fenn): was 9, now not recorded
`, `
2025-09-06 Millbrook home difficulty 2 80
  Ada Fenn 71 shirt 22 started true fly_half map[passes:12 tackles_made:4]
  Ben Oakes 62.5 map[carries:3 tackles_made:0]
  Cy Marsh 9 shirt 10 started false wing
2025-09-13 Stonegate 60
  Ada Fenn 60
  Ben Oakes 60 map[carries:1 tackles_made:1]
  Dee Holt 5
`},
			{
				"a match turns out longer again; a file without half_minutes leaves it so",
				`season,squad,match_date,opponent,player,minutes,half_minutes
2025-26,Under 18,2025-09-13,Stonegate,Ada Fenn,70,35
`, `seasons: created 0, changed 0, unchanged 1
squads: created 0, changed 0, unchanged 1
players: created 0, changed 0, unchanged 1
memberships: created 0, changed 0, unchanged 1
matches: created 0, changed 1, unchanged 0
appearances: created 0, changed 1, unchanged 0
line 2, column half_minutes (Under 18 v Stonegate, 2025-09-13): was 30, now 35
line 2, column minutes (Under 18 v Stonegate, 2025-09-13, Ada Fenn): was 60, now 70
`, `
2025-09-06 Millbrook home difficulty 2 80
  Ada Fenn 71 shirt 22 started true fly_half map[passes:12 tackles_made:4]
  Ben Oakes 62.5 map[carries:3 tackles_made:0]
  Cy Marsh 9 shirt 10 started false wing
2025-09-13 Stonegate 70
  Ada Fenn 70
  Ben Oakes 60 map[carries:1 tackles_made:1]
  Dee Holt 5
`},
		} {
			if got := imported(t, s, who, step.text).String(); got != step.summary {
				t.Errorf("%s: the import says\n%swant\n%s", step.name, got, step.summary)
			}
			wantRecorded(t, s, who, step.recorded)
			again := imported(t, s, who, step.text)
			if a := again.Appearances; a.Created != 0 || a.Changed != 0 || again.Matches.Changed != 0 ||
				len(again.Differences) != 0 {
				t.Errorf("%s, once more: the import says\n%s", step.name, again)
			}
		}
		err := refused(t, s, who, "season,squad,match_date,opponent,player,minutes\n2025-26,Under "+
			"18,2025-09-13,Stonegate,Ada Fenn,71\n")
		want := "line 2, column minutes: 71 is more than the 70 minutes of a full match"
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error is %v, want %q: the match is recorded with 2 × 35 minutes", err, want)
		}
		write(t, s, who, func(tx *store.Tx) error {
			_, differences, err := tx.Recompute(0)
			if err == nil && len(differences) != 0 {
				t.Errorf("observations are not as computed: %v", differences)
			}
			return err
		})
	})
}

// Minutes that follow from recorded stints stay, and the difference is told.
func TestImportTotalsLeavesMinutesToStints(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		imported(t, s, who, small)
		write(t, s, who, func(tx *store.Tx) error {
			players, err := tx.Players(models.PlayerFilter{Name: "Ada Fenn"})
			if err != nil {
				return err
			}
			appearances, err := tx.Appearances(models.AppearanceFilter{PlayerID: players[0].ID})
			if err != nil {
				return err
			}
			a := appearances[0]
			a.Stints = []models.Stint{{On: models.Clock{Half: 1, Second: 0}, Off: models.Clock{Half: 2, Second: 60 * 60}}}
			return tx.UpdateAppearance(&a)
		})
		sum := imported(t, s, who, small)
		if sum.Appearances != (files.Tally{Unchanged: 3}) || len(sum.Differences) != 1 {
			t.Fatalf("the import says\n%s", sum)
		}
		const want = "line 2, column minutes (Under 18 v Millbrook, 2025-09-06, Ada Fenn): 70 in the file, but the " +
			"recorded stints say 60, which is kept"
		if got := sum.Differences[0].String(); got != want {
			t.Errorf("the difference is\n%s\nwant\n%s", got, want)
		}
		wantRecorded(t, s, who, `
2025-09-06 Millbrook 80
  Ada Fenn 60 map[carries:8 tackles_made:4]
  Ben Oakes 62.5 map[tackles_made:0]
2025-09-13 Stonegate 80
  Ada Fenn 80 map[carries:6 tackles_made:9]
`)
	})
}

// What the academy has already decides what a file may say.
func TestImportTotalsAgainstWhatIsRecorded(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		var season models.Season
		write(t, s, who, func(tx *store.Tx) error {
			season = models.Season{Name: "2025-26", Starts: "2025-09-01", Ends: "2026-05-31"}
			if err := tx.CreateSeason(&season); err != nil {
				return err
			}
			for _, name := range []string{"Sam Hale", "Sam Hale", "Ada Fenn"} {
				if err := tx.CreatePlayer(&models.Player{Name: name}); err != nil {
					return err
				}
			}
			return nil
		})
		imported(t, s, who, small)
		write(t, s, who, func(tx *store.Tx) error {
			other := models.Season{Name: "2026", Starts: "2026-06-01", Ends: "2026-08-31"}
			return tx.CreateSeason(&other)
		})
		const header = "season,squad,match_date,opponent,player,minutes,carries,contacts,shirt\n"
		for name, c := range map[string]struct{ text, want string }{
			"outside the season": {"2025-26,Under 18,2025-08-30,Millbrook,Ada Fenn,70,,,",
				`line 2, column match_date: 2025-08-30 is not in the season 2025-26, which runs from 2025-09-01 to 2026-05-31`},
			"two of the name": {"2025-26,Under 18,2025-09-20,Millbrook,Sam Hale,70,,,",
				`line 2, column player: "Sam Hale": 2 players of the academy have this name: record this line by hand, or give ` +
					`them names that tell them apart`},
			"in another season": {"2026,Under 18,2025-09-06,Millbrook,Ada Fenn,70,,,",
				`line 2, column season: "2026": the match is recorded in another season`},
			"against what it keeps": {"2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,70,7,8,",
				`line 2, column contacts: 8 is more than the 7 of carries, which it is part of`},
		} {
			if err := refused(t, s, who, header+c.text+"\n"); !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: the error is\n%v\nwant\n%s", name, err, c.want)
			}
		}
		// A part in the file, its whole recorded before.
		err := refused(t, s, who, "season,squad,match_date,opponent,player,minutes,contacts\n2025-26,Under "+
			"18,2025-09-06,Millbrook,Ada Fenn,70,9\n")
		if want := "line 2, column contacts: 9 is more than the 8 of carries, which it is part of"; !strings.Contains(
			err.Error(), want) {
			t.Errorf("the error is %v, want %q", err, want)
		}
		// A shirt in the file that is worn by a person who is not in it.
		imported(t, s, who, header+"2025-26,Under 18,2025-09-06,Millbrook,Ben Oakes,62.5,,,9\n")
		err = refused(t, s, who, header+"2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,70,8,,9\n")
		want := `line 2, column shirt: "9": the shirt is also worn by a player of the match who is not in the file`
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error is %v, want %q", err, want)
		}
	})
}

// A coach brings in matches of the own squad and its players, and nothing else.
func TestImportTotalsNamesTheLinesOfWhoIsStoodDownOrNotConsentedFor(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		const header = "season,squad,match_date,opponent,player,minutes,carries\n"
		imported(t, s, who, header+"2025-26,Colts,2025-09-06,Fellmoor,Bram "+
			"Oakes,40,3\n2025-26,Colts,2025-09-06,Fellmoor,Tove Lind,40,3\n")
		write(t, s, who, func(tx *store.Tx) error {
			players, err := tx.Players(models.PlayerFilter{})
			if err != nil {
				return err
			}
			doctor := models.User{Login: "mara", Name: "Mara Quist", Role: models.RoleManager}
			if err := tx.CreateUser(&doctor); err != nil {
				return err
			}
			rules := models.Settings{Requires: []models.Purpose{models.PurposeRecords}}
			if err := tx.SaveSettings(&rules); err != nil {
				return err
			}
			return tx.CreateStandDown(&models.StandDown{PlayerID: players[0].ID, From: "2025-09-10", SetBy: doctor.ID})
		})
		before := recordedOf(t, s, who)
		err := refused(t, s, who, header+"2025-26,Colts,2025-09-13,Saltby,Bram "+
			"Oakes,40,\n2025-26,Colts,2025-09-13,Saltby,Tove Lind,40,3\n")
		for _, want := range []string{"nothing was imported: 2 findings", "line 2: Bram Oakes is stood down from 2025-09-10",
			"line 3: Tove Lind has no birth date on file", "consent to records"} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("the error %q does not say %q", err, want)
			}
		}
		wantRecorded(t, s, who, before)
	})
}

func TestImportTotalsByACoach(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		imported(t, s, who, small)
		imported(t, s, who, strings.ReplaceAll(strings.ReplaceAll(small, "Under 18", "Under 16"), "Ada Fenn", "Eve Moor"))
		coach := models.Who{AcademyID: who.AcademyID, Name: "Gil Stone", Role: models.RoleCoach}
		write(t, s, who, func(tx *store.Tx) error {
			squads, err := tx.Squads(models.SquadFilter{Name: "Under 18"})
			if err != nil {
				return err
			}
			user := models.User{Login: "gil", Name: coach.Name, Role: models.RoleCoach}
			if err := tx.CreateUser(&user); err != nil {
				return err
			}
			coach.UserID, coach.SquadIDs = user.ID, []int64{squads[0].ID}
			return tx.AddSquadStaff(user.ID, squads[0].ID)
		})
		const header = "season,squad,match_date,opponent,player,minutes,carries\n"
		sum := imported(t, s, coach, header+"2025-26,Under 18,2025-09-20,Ferrybridge,Ada Fenn,70,4\n2025-26,Under "+
			"18,2025-09-13,Stonegate,Ada Fenn,80,7\n")
		if sum.Appearances != (files.Tally{Created: 1, Changed: 1}) {
			t.Errorf("the coach's import says\n%s", sum)
		}
		for name, line := range map[string]string{
			"a new player":          "2025-26,Under 18,2025-09-20,Ferrybridge,Flo Reed,70,4",
			"another squad's":       "2025-26,Under 18,2025-09-20,Ferrybridge,Eve Moor,70,4",
			"another squad's match": "2025-26,Under 16,2025-09-27,Ferrybridge,Eve Moor,70,4",
			"a new squad":           "2025-26,Under 15,2025-09-27,Ferrybridge,Ada Fenn,70,4",
		} {
			if err := refused(t, s, coach, header+line+"\n"); models.CodeOf(err) != models.Forbidden {
				t.Errorf("%s: the error is %v, want forbidden", name, err)
			}
		}
	})
}

// The position of a player who is created is the one that the file gives them most often.
func TestImportTotalsGivesNewPlayersTheirPosition(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		imported(t, s, who, `season,squad,match_date,opponent,player,minutes,position
2025-26,Under 18,2025-09-06,Millbrook,Ada Fenn,70,wing
2025-26,Under 18,2025-09-13,Stonegate,Ada Fenn,70,centre
2025-26,Under 18,2025-09-20,Ferrybridge,Ada Fenn,70,centre
2025-26,Under 18,2025-09-20,Ferrybridge,Ben Oakes,70,
`)
		read(t, s, who, func(tx *store.Tx) error {
			players, err := tx.Players(models.PlayerFilter{})
			if err != nil {
				return err
			}
			if got := fmt.Sprint(players[0].Positions, players[1].Positions); got != "[centre] []" {
				t.Errorf("the positions are %s, want those of Ada Fenn to be centre and none for Ben Oakes", got)
			}
			return nil
		})
	})
}

func TestImportTotalsOptions(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		for _, o := range []files.TotalsOptions{{HalfMinutes: 45}, {HalfMinutes: -1}, {Source: "=file"}} {
			if _, err := importTotals(t.Context(), s, who, strings.NewReader(small), o); models.CodeOf(err) != models.Invalid {
				t.Errorf("with %+v the error is %v, want invalid", o, err)
			}
		}
		var told []string
		o := files.TotalsOptions{HalfMinutes: 35, Progress: func(done, total int) {
			told = append(told, fmt.Sprint(done, "/", total))
		}}
		text := strings.Replace(small, ",80,", ",70,", 1)
		if _, err := importTotals(t.Context(), s, who, strings.NewReader(text), o); err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(told, " "); got != "3/3" {
			t.Errorf("progress is told as %q, want 3/3", got)
		}
		wantRecorded(t, s, who, `
2025-09-06 Millbrook 70
  Ada Fenn 70 map[carries:8 tackles_made:4]
  Ben Oakes 62.5 map[tackles_made:0]
2025-09-13 Stonegate 70
  Ada Fenn 70 map[carries:6 tackles_made:9]
`)
	})
}

func BenchmarkImportTotals(b *testing.B) {
	packed := season(b)
	for _, database := range []string{"sqlite", "postgres"} {
		b.Run(database, func(b *testing.B) {
			n := 0
			for b.Loop() {
				b.StopTimer()
				s := storetest.Open(b, database)
				who := academy(b, s)
				b.StartTimer()
				sum, err := importTotals(b.Context(), s, who, bytes.NewReader(packed), files.TotalsOptions{})
				if err != nil {
					b.Fatal(err)
				}
				n += sum.Appearances.Created
			}
			b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "appearances/s")
		})
	}
}

// importTotals reads a file and imports it.
func importTotals(ctx context.Context, s *store.Store, who models.Who, r io.Reader,
	o files.TotalsOptions) (files.Summary, error) {
	totals, err := files.ReadTotals(ctx, r, o)
	if err != nil {
		return files.Summary{}, err
	}
	return totals.Import(ctx, s, who)
}
