package pages_test

import (
	"fmt"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
)

// asManager reads what a test made.
func asManager(t *testing.T, a *apitest.Academy, do func(*store.Tx) error) {
	t.Helper()
	if err := a.Store.Read(t.Context(), models.Console(a.ID), do); err != nil {
		t.Fatal(err)
	}
}

var sheetField = regexp.MustCompile(`name="([a-z]+-[0-9]+|was)" value="([^"]*)"`)

// sheetOn is what the form of a team sheet sends as it stands on a page.
func sheetOn(page apitest.Answer) url.Values {
	sent := url.Values{}
	for _, field := range sheetField.FindAllStringSubmatch(page.Body, -1) {
		sent.Set(field[1], html.UnescapeString(field[2]))
	}
	return sent
}

func TestAPastedListIsSavedAsAWholeAndKnowsWhoIsOnFile(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "mabyn")
	at := fmt.Sprintf("/squads/%d/paste", a.Under18.ID)
	season := fmt.Sprint(a.Season.ID)
	rows := "Tam Veale\t1/2/2010\thooker\nBryn Calder\t\t\nJory Pascoe\t3/4/2009\tprop"
	check := c.Post(at, url.Values{"season_id": {season}, "rows": {rows}})
	for _, want := range []string{"on file already; joins the squad; the birth date is added", "in the squad already",
		"new player", "Save all 3 rows"} {
		if check.Status != http.StatusOK || !strings.Contains(check.Body, want) {
			t.Errorf("%d: the preview does not say %q", check.Status, want)
		}
	}
	bad := c.Post(at, url.Values{"season_id": {season}, "do": {"save"}, "rows": {rows + "\nDenzel Gale\t31/2/2009\t"}})
	if bad.Status != http.StatusUnprocessableEntity ||
		!strings.Contains(bad.Body, "Row 4, birth date</a>: “31/2/2009” is not a date") ||
		!strings.Contains(bad.Body, "Denzel Gale\t31/2/2009") {
		t.Errorf("%d: %s; want the error by row and column, and all that was pasted", bad.Status, bad.Body)
	}
	worse := c.Post(at, url.Values{"season_id": {season}, "rows": {"Name\tBorn\tPosition\tGuardian\nA Gale\t31/2/2009\t" +
		"wing\tB Gale\nC Gale\t01/03/09\twinker\tB Gale\n" + a.Bryn.Name + "\t2/2/2009\t\t"}})
	for _, want := range []string{"Row 2, birth date</a>: “31/2/2009” is not a date",
		"Row 3, positions</a>: “winker” is not"} {
		if worse.Status != http.StatusUnprocessableEntity || !strings.Contains(worse.Body, want) {
			t.Errorf("%d: several mistakes, and not %q at once", worse.Status, want)
		}
	}
	more := c.Post(at, url.Values{"season_id": {season}, "rows": {"Name\tBorn\tGuardian\nC Gale\t01/03/09\tB Gale"}})
	for _, want := range []string{"1 Mar 2009", "Left out: the column Guardian."} {
		if text := strings.Join(strings.Fields(more.Body), " "); more.Status != 200 || !strings.Contains(text, want) {
			t.Errorf("%d: the preview of a list with another column does not say %q", more.Status, want)
		}
	}
	count := func() (players int) {
		asManager(t, a, func(tx *store.Tx) error {
			all, err := tx.Players(models.PlayerFilter{SeasonID: a.Season.ID, SquadID: a.Under18.ID})
			players = len(all)
			return err
		})
		return players
	}
	if n := count(); n != 2 {
		t.Errorf("%d players after a refused list; want the 2 of before", n)
	}
	for _, saved := range []string{"2", "0"} { // sent twice it saves nothing twice
		got := c.Post(at, url.Values{"season_id": {season}, "do": {"save"}, "rows": {rows}})
		if got.Status != http.StatusSeeOther || !strings.HasSuffix(got.Header.Get("Location"), "saved="+saved) {
			t.Errorf("%d to %s: %s; want %s saved", got.Status, got.Header.Get("Location"), got.Body, saved)
		}
		if n := count(); n != 4 {
			t.Errorf("%d players; want 4", n)
		}
	}
}

func TestTheSecondEditorOfASeasonAndOfATeamSheetIsShownBoth(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "mabyn")
	at := fmt.Sprintf("/seasons/%d", a.Season.ID)
	form := url.Values{"version": {fmt.Sprint(a.Season.Version)}, "name": {"2025-26"}, "starts": {"2025-08-01"},
		"ends": {"2026-07-10"}}
	if got := c.Post(at, form); got.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", got.Status, got.Body)
	}
	form.Set("ends", "2026-07-20")
	second := c.Post(at, form)
	for _, want := range []string{"10 Jul 2026 now", "you sent 20 Jul 2026", `value="2026-07-20"`} {
		if second.Status != http.StatusPreconditionFailed || !strings.Contains(second.Body, want) {
			t.Errorf("%d: the second editor is not shown %q", second.Status, want)
		}
	}

	var match models.Match
	asManager(t, a, func(tx *store.Tx) error {
		all, err := tx.Matches(models.MatchFilter{SeasonID: a.Season.ID, SquadID: a.Under18.ID})
		match = all[0]
		return err
	})
	at = fmt.Sprintf("/matches/%d/sheet", match.ID)
	sheet := sheetOn(c.Get(fmt.Sprintf("/matches/%d", match.ID)))
	if sheet.Get("kept-1") == "" || sheet.Get("on-1") != "" {
		t.Errorf("minutes that came without times have no line of their own: %v", sheet)
	}
	sheet.Set("shirt-1", "7")
	if got := c.Post(at, sheet); got.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", got.Status, got.Body)
	}
	asManager(t, a, func(tx *store.Tx) error {
		all, err := tx.Appearances(models.AppearanceFilter{MatchID: match.ID})
		for _, one := range all {
			if want := map[int64]float64{a.Bryn.ID: 70, a.Owen.ID: 41}[one.PlayerID]; one.Minutes != want {
				t.Errorf("player %d has %v minutes; want the %v that came without times", one.PlayerID, one.Minutes, want)
			}
		}
		return err
	})
	sheet.Set("shirt-1", "8")
	again := c.Post(at, sheet)
	for _, want := range []string{"This team sheet was changed after you opened the page", "On file now: 7 ",
		`value="8"`} {
		if again.Status != http.StatusPreconditionFailed || !strings.Contains(again.Body, want) {
			t.Errorf("%d: the second editor of a team sheet is not shown %q", again.Status, want)
		}
	}
}

func TestATeamSheetNamesEachLineThatIsWrongAndSavesNothing(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "ansel")
	var match models.Match
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		match = models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: "2025-11-15", Opponent: "Fenby", Halves: 2}
		return tx.CreateMatch(&match)
	})
	if err != nil {
		t.Fatal(err)
	}
	at := fmt.Sprintf("/matches/%d/sheet", match.ID)
	sheet := url.Values{"was": {""}}
	for n, line := range [][]string{{"7", "Bryn Calder", "", "40", ""}, {"7", "Owen Tarrant", "x", "", "winker"},
		{"9", "Brin Calder", "", "", ""}, {"", "Bryn Calder", "30", "70", ""}} {
		for i, name := range []string{"shirt", "player", "on", "off", "position"} {
			sheet.Set(fmt.Sprintf("%s-%d", name, n+1), line[i])
		}
	}
	got := c.Post(at, sheet)
	for _, want := range []string{">On, line 2</a>: “x” is not a minute of the match",
		">Position, line 2</a>: “winker” is not",
		"did you mean Bryn Calder?", `value="Brin Calder"`} {
		if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, want) {
			t.Errorf("%d: no %q", got.Status, want)
		}
	}
	for name, value := range map[string]string{"player-3": "", "shirt-3": "", "on-2": "0", "position-2": "wing"} {
		sheet.Set(name, value)
	}
	got = c.Post(at, sheet)
	for _, want := range []string{"7 is worn in line 1 already", "overlaps the one before it"} {
		if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, want) {
			t.Errorf("%d: no %q", got.Status, want)
		}
	}
	sheet.Set("shirt-2", "14")
	sheet.Set("on-4", "52:30")
	if got = c.Post(at, sheet); got.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", got.Status, got.Body)
	}
	asManager(t, a, func(tx *store.Tx) error {
		all, err := tx.Appearances(models.AppearanceFilter{MatchID: match.ID, PlayerID: a.Bryn.ID})
		if len(all) != 1 || len(all[0].Stints) != 2 || all[0].Minutes != 57.5 || !*all[0].Started {
			t.Errorf("%+v; want one appearance with 40 and 17.5 minutes, started", all)
		}
		return err
	})
	// A score is the sum of the events; the shirts of two players can be swapped.
	if got := c.Post(fmt.Sprintf("/matches/%d/events", match.ID), url.Values{"kind": {"try"}, "side": {"ours"},
		"half": {"1"}, "clock": {"12:30"}, "player_id": {fmt.Sprint(a.Bryn.ID)}}); got.Status != http.StatusSeeOther {
		t.Errorf("%d: %s", got.Status, got.Body)
	}
	page := c.Get(fmt.Sprintf("/matches/%d", match.ID))
	if !strings.Contains(page.Body, "5–0") || !strings.Contains(page.Body, "Try, Bryn Calder") {
		t.Error("the page has neither the score nor the event")
	}
	swapped := sheetOn(page)
	swapped.Set("shirt-1", "14")
	swapped.Set("shirt-2", "14")
	swapped.Set("shirt-3", "7")
	if got := c.Post(at, swapped); got.Status != http.StatusSeeOther {
		t.Errorf("%d: %s; want two shirts swapped", got.Status, got.Body)
	}
}

func TestTheChecklistCountsWhatIsDoneAndAStepCanBeCalledDone(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "mabyn")
	home := c.Get("/")
	for _, want := range []string{"2 squads", "3 players in 2025-26", "5 matches", "Open the checklist"} {
		if want == "5 matches" {
			want = "6 matches"
		}
		if !strings.Contains(home.Body, want) {
			t.Errorf("the manager's home does not say %q", want)
		}
	}
	if strings.Contains(a.SignIn(t, "ansel").Get("/").Body, "Open the checklist") {
		t.Error("the coach's home has the manager's checklist")
	}
	if got := c.Post("/settings", url.Values{"version": {"0"}, "requires": {"filming", "records"},
		"retention_months": {"12"}}); got.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", got.Status, got.Body)
	}
	if got := c.Post("/limits", url.Values{"name": {"Four weeks"}, "minutes": {"200"}, "days": {"28"},
		"warn_at": {"80"}}); got.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", got.Status, got.Body)
	}
	list := c.Get("/set-up")
	for _, want := range []string{"2 consents required", "1 limit", "Everything is set up"} {
		if !strings.Contains(list.Body, want) {
			t.Errorf("the checklist does not say %q", want)
		}
	}
	if strings.Contains(c.Get("/").Body, "Open the checklist") {
		t.Error("the checklist stays though all is done")
	}
}
