package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
)

// wholeTeam is a match day of the under 18s: 23 players in shirts 1 to 23.
func wholeTeam(t *testing.T, a *apitest.Academy) (m models.Match, players []models.Player) {
	t.Helper()
	record(t, a, func(tx *store.Tx) error {
		m = models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: "2025-11-29", Opponent: "Saltby", Halves: 2,
			HalfMinutes: 35}
		if err := tx.CreateMatch(&m); err != nil {
			return err
		}
		for i := range 23 {
			p := models.Player{Name: fmt.Sprintf("Player %c", 'A'+i)}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			players = append(players, p)
			err := tx.CreateMembership(&models.Membership{SeasonID: a.Season.ID, SquadID: a.Under18.ID, PlayerID: p.ID,
				From: a.Season.Starts})
			if err == nil {
				err = tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: p.ID, Shirt: new(i + 1), Minutes: 60})
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	return m, players
}

// record writes as the console does.
func record(t *testing.T, a *apitest.Academy, do func(*store.Tx) error) {
	t.Helper()
	if err := a.Store.Write(t.Context(), models.Console(a.ID), do); err != nil {
		t.Fatal(err)
	}
}

func totalsOnFile(t *testing.T, a *apitest.Academy, m models.Match) map[int64]models.Counts {
	t.Helper()
	all := map[int64]models.Counts{}
	asManager(t, a, func(tx *store.Tx) error {
		totals, err := tx.Totals(models.TotalsFilter{MatchID: m.ID})
		for _, one := range totals {
			all[one.PlayerID] = one.Counts
		}
		return err
	})
	return all
}

// A coach types four counts of 23 players with real keys and nothing else, pastes one column more, and saves once.
func TestAWholeTeamsTotalsAreTypedFromTheKeyboardAlone(t *testing.T) {
	a := apitest.OnSQLite(t)
	m, players := wholeTeam(t, a)
	codes := []string{"carries", "passes", "tackles_made", "turnovers_won", "errors"} // as columns stand
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/sign-in")
	browsertest.Eval[bool](b, `document.querySelector("[name=user]").focus(), true`)
	b.Type("ansel" + kb.Tab + apitest.Password)
	b.Leave(kb.Enter)
	b.Open(fmt.Sprintf("%s/matches/%d/totals?%s", a.URL, m.ID, url.Values{"count": codes}.Encode()))

	browsertest.Eval[bool](b, `document.querySelector("table.totals input:not([type=hidden])").focus(), true`)
	count := func(player, column int) float64 { return float64((player + 3*column) % 11) }
	var keys strings.Builder
	for column := range 4 {
		for player := range players {
			fmt.Fprintf(&keys, "%v%s", count(player, column), kb.Enter)
		}
	}
	b.Type(keys.String())
	var pasted []string
	for player := range players {
		pasted = append(pasted, fmt.Sprint(count(player, 4)))
	}
	said := browsertest.Eval[string](b, fmt.Sprintf(`(() => { const copied = new DataTransfer();
		copied.setData("text/plain", %q);
		document.activeElement.dispatchEvent(new ClipboardEvent("paste", {clipboardData: copied, bubbles: true}));
		return document.querySelector(".pasted").textContent })()`, strings.Join(pasted, "\r\n")+"\r\n"))
	if !strings.HasPrefix(said, "23 cells filled") {
		t.Errorf("after the paste the page says %q", said)
	}
	b.Type(strings.Repeat(kb.ArrowDown, 22) + kb.Enter) // the last cell leads to the button
	b.Leave(kb.Enter)

	now := totalsOnFile(t, a, m)
	for i, p := range players {
		for column, code := range codes {
			if got, recorded := now[p.ID][code]; !recorded || got != count(i, column) {
				t.Errorf("%s of %s: %v, recorded %v; typed %v", code, p.Name, got, recorded, count(i, column))
			}
		}
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

// totalsAction is where the form of the grid is sent.
const totalsAction = `method="post" action="/matches/`

// fieldsOf are the fields of the form on a page whose tag has some text; of boxes those that are ticked.
func fieldsOf(page, form string) url.Values {
	values := url.Values{}
	page = page[strings.Index(page, form):]
	page, _, _ = strings.Cut(page, "</form>")
	for _, tag := range regexp.MustCompile(`<input [^>]*>`).FindAllString(page, -1) {
		if attribute(tag, "type") != "checkbox" || strings.Contains(tag, "checked") {
			values.Add(attribute(tag, "name"), attribute(tag, "value"))
		}
	}
	return values
}

func attribute(tag, name string) string {
	found := regexp.MustCompile(`\s` + name + `="([^"]*)"`).FindStringSubmatch(tag)
	if found == nil {
		return ""
	}
	return found[1]
}

func TestARefusedCellOfTotalsIsNamedAndEverythingTypedStays(t *testing.T) {
	a := apitest.OnSQLite(t)
	m, players := wholeTeam(t, a)
	c := a.SignIn(t, "ansel")
	path := fmt.Sprintf("/matches/%d/totals", m.ID)
	columns := path + "?count=tackles_made&count=tackles_attempted&count=carries"
	form := fieldsOf(c.Get(columns).Body, totalsAction)
	carries, attempted, made := cellOf(players[0], 0), cellOf(players[0], 1), cellOf(players[0], 2)
	form.Set(carries, "many")
	form.Set(cellOf(players[1], 0), "2,5")
	form.Set(attempted, "3")
	form.Set(made, "5")
	form.Set(cellOf(players[2], 0), "0")
	got := c.Post(path, form)
	page := words(got.Body)
	for _, want := range []string{">Carries, Player A</a>: “many” is not a number",
		">Carries, Player B</a>: 2.5 is not a whole number", `value="many"`,
		`value="2,5"`, `value="0"`, `value="3"`, `value="5"`,
		`aria-describedby="f-` + carries + `-wrong"`} {
		if !strings.Contains(page, want) {
			t.Errorf("%d: the page lacks %s", got.Status, want)
		}
	}
	if now := totalsOnFile(t, a, m); got.Status != http.StatusUnprocessableEntity || len(now) > 0 {
		t.Errorf("%d, and on file %v; want nothing", got.Status, now)
	}
	form = fieldsOf(got.Body, totalsAction)
	form.Set(carries, "")
	form.Set(cellOf(players[1], 0), "2")
	if page := words(c.Post(path, form).Body); !strings.Contains(page,
		">Tackles made, Player A</a>: 5 is more than the 3 of tackles attempted, which it is part of") {
		t.Error("a count that is more than what it is part of is not refused in words")
	}
	form.Set(made, "3")
	if got := c.Post(path, form); got.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", got.Status, got.Body)
	}
	// Empty is not recorded, 0 is nought.
	now := totalsOnFile(t, a, m)
	if _, recorded := now[players[0].ID]["carries"]; recorded || now[players[2].ID]["carries"] != 0 || len(now) != 3 {
		t.Errorf("on file: %v", now)
	}
	form = fieldsOf(c.Get(columns).Body, totalsAction)
	form.Set(cellOf(players[2], 0), "")
	if got := c.Post(path, form); got.Status != http.StatusSeeOther || len(totalsOnFile(t, a, m)) != 2 {
		t.Errorf("%d: the last cell of a player was emptied, and on file is %v", got.Status, totalsOnFile(t, a, m))
	}
}

func cellOf(p models.Player, column int) string { return fmt.Sprintf("c-%d-%d", p.ID, column) }

func words(page string) string { return strings.Join(strings.Fields(page), " ") }

// The second of two people who changed one cell is shown both values. What only one of them changed is kept.
func TestTwoPeopleWhoTypeTotalsAreShownBothValues(t *testing.T) {
	a := apitest.OnSQLite(t)
	m, players := wholeTeam(t, a)
	c := a.SignIn(t, "ansel")
	path := fmt.Sprintf("/matches/%d/totals", m.ID)
	first := fieldsOf(c.Get(path+"?count=carries").Body, totalsAction)
	second := fieldsOf(c.Get(path+"?count=carries").Body, totalsAction)
	first.Set(cellOf(players[0], 0), "4")
	first.Set(cellOf(players[1], 0), "5")
	second.Set(cellOf(players[0], 0), "6")
	second.Set(cellOf(players[2], 0), "7")
	if got := c.Post(path, first); got.Status != http.StatusSeeOther {
		t.Fatalf("%d: %s", got.Status, got.Body)
	}
	got := a.SignIn(t, "mabyn").Post(path, second)
	if said := ">Carries, Player A</a>: someone saved 4 after you opened the page, and you typed 6"; got.Status !=
		http.StatusPreconditionFailed || !strings.Contains(words(got.Body), said) {
		t.Errorf("%d: the page does not say: %s", got.Status, said)
	}
	if got := c.Post(path, fieldsOf(got.Body, totalsAction)); got.Status != http.StatusSeeOther {
		t.Fatalf("sent again: %d: %s", got.Status, got.Body)
	}
	now := totalsOnFile(t, a, m)
	for i, want := range []float64{6, 5, 7} {
		if got := now[players[i].ID]["carries"]; got != want {
			t.Errorf("%s has %v carries; want %v", players[i].Name, got, want)
		}
	}
}

// What a finished log counts is shown in the grid and cannot be typed over, not even by a form that is older.
func TestTotalsAreNotTypedOverALog(t *testing.T) {
	a := apitest.OnSQLite(t)
	m, players := wholeTeam(t, a)
	c := a.SignIn(t, "ansel")
	path := fmt.Sprintf("/matches/%d/totals", m.ID)
	old := fieldsOf(c.Get(path+"?count=carries&count=passes").Body, totalsAction)
	record(t, a, func(tx *store.Tx) error {
		coach, err := tx.Users(models.UserFilter{Login: "ansel"})
		if err != nil {
			return err
		}
		l := models.Log{MatchID: m.ID, PlayerID: players[0].ID, LoggerID: coach[0].ID, Depth: models.Core,
			Kinds: []models.Kind{models.KindCarry}, Finished: true}
		if err := tx.CreateLog(&l); err != nil {
			return err
		}
		return tx.CreateInvolvement(&models.Involvement{LogID: l.ID, Kind: models.KindCarry,
			Clock: models.Clock{Half: 1, Second: 60}})
	})
	page := c.Get(path + "?count=carries&count=passes").Body
	if !strings.Contains(words(page), "<td>1 <small>log</small></td>") || strings.Contains(page,
		`name="`+cellOf(players[0], 0)+`"`) || !strings.Contains(page, `name="`+cellOf(players[0], 1)+`"`) {
		t.Error("the carries of the log are not shown as such, or the passes that it does not cover cannot be typed")
	}
	old.Set(cellOf(players[0], 0), "9")
	got := c.Post(path, old)
	if !strings.Contains(words(got.Body), ">Carries, Player A</a>: a finished log counts 1") || !strings.Contains(got.Body,
		`value="9"`) {
		t.Errorf("%d: %s", got.Status, got.Body)
	}
}
