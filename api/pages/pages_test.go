package pages_test

import (
	"encoding/xml"
	"fmt"
	"io"
	"mime"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func seasonReport(p models.Player, s models.Season) string {
	return fmt.Sprintf("/players/%d/seasons/%d", p.ID, s.ID)
}

// rows returns the text of the rows of the tables of a page, cells separated by bars.
func rows(page string) []string {
	tags := regexp.MustCompile(`<[^>]*>`)
	var all []string
	for _, row := range regexp.MustCompile(`(?s)<tr>(.*?)</tr>`).FindAllStringSubmatch(page, -1) {
		var cells []string
		for _, cell := range regexp.MustCompile(`(?s)<t[hd][ >].*?</t[hd]>`).FindAllString(row[1], -1) {
			cells = append(cells, strings.TrimSpace(tags.ReplaceAllString(cell, "")))
		}
		all = append(all, strings.Join(cells, "|"))
	}
	return all
}

// undated are rows without the day on which a review is due, which moves with the clock.
func undated(rows []string) []string {
	for i, row := range rows {
		if cells := strings.Split(row, "|"); len(cells) == 9 {
			rows[i] = strings.Join(slices.Delete(cells, 7, 8), "|")
		}
	}
	return rows
}

func TestHomeShowsTheSquadsThatOneWorksWith(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		const heads = "Player|Position|Age|Matches|Minutes|Development|Open goals|Gaps"
		under16 := []string{heads, "Owen Tarrant|Fly half, Centre||5|205||0|no log, no grade",
			"Tam Veale|Hooker||0|0||0|"}
		under18 := []string{heads, "Bryn Calder|Flanker||5|350||0|no log, no grade",
			"Owen Tarrant|Fly half, Centre||5|205||0|no log, no grade"}
		selectors := []string{"Player|Position|Age|Matches|Minutes|Development|Open goals", "Bryn Calder|Flanker||5|350||0",
			"Owen Tarrant|Fly half, Centre||5|205||0"}
		for login, want := range map[string][]string{
			"mabyn": slices.Concat(under16, under18), "ansel": under18, "sorrel": selectors,
			"edda": {heads, "Wystan Rudd|Prop||0|0||0|"},
		} {
			got := a.SignIn(t, login).Get("/")
			if got.Status != http.StatusOK || !slices.Equal(undated(rows(got.Body)), want) {
				t.Errorf("%s: %d %q; want %q", login, got.Status, undated(rows(got.Body)), want)
			}
		}
		if got := a.SignIn(t, "mabyn").Get("/"); !strings.Contains(strings.Join(strings.Fields(got.Body), " "),
			"3 players in 2 squads") {
			t.Error("a player in two squads is not one player of three")
		}
		got := a.SignIn(t, "ansel").Get("/")
		for _, want := range []string{"2025-26", `href="` + seasonReport(a.Bryn, a.Season) + `"`, `href="` +
			seasonReport(a.Owen, a.Season) + `"`, fmt.Sprintf(`href="/?season=%d"`, a.Earlier.ID)} {
			if !strings.Contains(got.Body, want) {
				t.Errorf("the home page lacks %s", want)
			}
		}
	})
}

func TestHomeMarksInWordsWhoNearsALimitOfMinutesOverAllTeams(t *testing.T) {
	a := apitest.OnSQLite(t)
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		// Bryn: 350 for the squad and 35 for school
		return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "All season", Minutes: 400})
	})
	if err != nil {
		t.Fatal(err)
	}
	text := a.SignIn(t, "ansel").Get("/").Body
	if n := strings.Count(text, "near the limit “All season”: 385 of 400"); n != 1 {
		t.Errorf("the home page says %d times that Bryn is near the limit, want once", n)
	}
	if strings.Contains(text, "over the limit") {
		t.Error("somebody is over the limit")
	}
}

func TestHomeShowsAnotherSeasonThatIsAskedFor(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "mabyn")
		got := c.Get(fmt.Sprintf("/?season=%d", a.Earlier.ID))
		if want := []string{"Player|Position|Age|Matches|Minutes|Development|Open goals|Gaps",
			"Bryn Calder|Flanker||0|0||0|"}; got.Status != http.StatusOK || !slices.Equal(undated(rows(got.Body)), want) {
			t.Errorf("%d %q; want %q", got.Status, undated(rows(got.Body)), want)
		}
		for _, wish := range []string{"x", "0", "987654321", fmt.Sprint(a.OtherSeason.ID)} {
			if got := c.Get("/?season=" + wish); got.Status != http.StatusNotFound {
				t.Errorf("season %s: %d; want 404", wish, got.Status)
			}
		}
	})
}

func TestAPlayerIsSentToHisOwnReport(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "bryn")
		if got := c.Get("/"); got.Status != http.StatusSeeOther || got.Header.Get("Location") != seasonReport(a.Bryn,
			a.Season) {
			t.Errorf("%d to %s; want 303 to his own report", got.Status, got.Header.Get("Location"))
		}
		if got := c.Get(seasonReport(a.Bryn, a.Season)); got.Status != http.StatusOK ||
			!strings.Contains(got.Body, "Bryn Calder") || !strings.Contains(got.Body, `href="`+seasonReport(a.Bryn, a.Earlier)+
			`"`) {
			t.Errorf("his report: %d; want it, with a way to that of his earlier season", got.Status)
		}
	})
}

func TestHomeWithNothingToShowSaysSo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "ansel")
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			members, err := tx.Memberships(models.MembershipFilter{SeasonID: a.Season.ID, SquadID: a.Under18.ID})
			for _, m := range members {
				if err == nil {
					err = tx.DeleteMembership(m.ID, m.Version)
				}
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Get("/"); got.Status != http.StatusOK || !strings.Contains(got.Body, "No players to show") {
			t.Errorf("%d; want a page that says that there is nobody", got.Status)
		}
		if got := a.SignIn(t, "perran").Get("/"); got.Status != http.StatusOK ||
			!strings.Contains(got.Body, "You are not in a squad yet") {
			t.Errorf("a player without a squad: %d; want to be told that", got.Status)
		}
		// Bryn has left this season's squad, but was in one before.
		if got := a.SignIn(t, "bryn").Get("/"); got.Header.Get("Location") != seasonReport(a.Bryn, a.Earlier) {
			t.Errorf("a player who has left: to %q; want the last season that he was in", got.Header.Get("Location"))
		}
	})
}

// A page must not reveal whether a record hidden from the reader exists.
func TestOtherPeoplesReportsLookLikeNoneAtAll(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		digits := regexp.MustCompile(`[0-9]+`)
		for _, c := range []struct{ login, path string }{
			{"ansel", seasonReport(a.Tam, a.Season)}, {"sorrel", seasonReport(a.Tam, a.Season)},
			{"owen", seasonReport(a.Bryn, a.Season)},
			{"owen", seasonReport(a.Bryn, a.Season) + "/report.html"}, {"edda", seasonReport(a.Bryn, a.Season)},
			{"mabyn", seasonReport(a.Wystan, a.OtherSeason)},
		} {
			p := a.SignIn(t, c.login)
			hidden, none := p.Get(c.path), p.Get("/players/987654321/seasons/1")
			if hidden.Status != http.StatusNotFound || !strings.Contains(hidden.Body, "We could not find that") {
				t.Errorf("%s %s: %d; want 404 on a page that a person understands", c.login, c.path, hidden.Status)
			}
			if digits.ReplaceAllString(hidden.Body, "") != digits.ReplaceAllString(none.Body, "") {
				t.Errorf("%s %s differs from nobody at all:\n%s\n%s", c.login, c.path, hidden.Body, none.Body)
			}
		}
		for _, path := range []string{"/players/x/seasons/1", "/players/1/seasons/", "/players/-1/seasons/1",
			"/players/1/seasons/99999999999999999999", "/players", "/nothing"} {
			if got := a.SignIn(t, "mabyn").Get(path); got.Status != http.StatusNotFound {
				t.Errorf("%s: %d; want 404", path, got.Status)
			}
		}
	})
}

func TestTheReportFileStandsByItselfUnderASafeName(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			p, err := tx.Player(a.Bryn.ID)
			if err != nil {
				return err
			}
			p.Name = `Bryn "../Cälder" & Sons`
			return tx.UpdatePlayer(&p)
		})
		if err != nil {
			t.Fatal(err)
		}
		got := a.SignIn(t, "ansel").Get(seasonReport(a.Bryn, a.Season) + "/report.html")
		kind, params, err := mime.ParseMediaType(got.Header.Get("Content-Disposition"))
		if err != nil || got.Status != http.StatusOK || kind != "attachment" ||
			params["filename"] != "season-report-Bryn-..-Cälder-Sons-2025-26.html" {
			t.Errorf("%d %s %q, %v; want a file with a safe name", got.Status, got.Header.Get("Content-Disposition"),
				params["filename"], err)
		}
		if !strings.HasPrefix(got.Body, "<!doctype html>") || !strings.Contains(got.Body, "Cälder&#34; &amp; Sons") {
			t.Errorf("the file is not the report, or the name in it is not escaped: %.300s", got.Body)
		}
		if out := regexp.MustCompile(
			`(?i)(src|href|action|data)="?(https?:|//|/)|url\((https?:|//|/)|@import|<script|<link`).FindString(
			got.Body); out != "" {
			t.Errorf("the file reaches outside itself by %q", out)
		}
		// XML is stricter than HTML: what parses as tags that match has no text that broke out.
		d := xml.NewDecoder(strings.NewReader(got.Body))
		d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Errorf("the file's tags do not match: %v", err)
				break
			}
		}
	})
}

func TestEveryPageNamesTheCautionsAndCanBeUsedWithoutAMouse(t *testing.T) {
	a := apitest.OnSQLite(t)
	c := a.SignIn(t, "ansel")
	for name, got := range map[string]apitest.Answer{
		"sign in": a.Stranger(t).Get("/sign-in"), "home": c.Get("/"), "report": c.Get(seasonReport(a.Bryn, a.Season)),
		"cautions": a.Stranger(t).Get("/cautions"), "not found": c.Get("/nothing"),
		"forbidden": c.Post("/sign-out", nil, "Sec-Fetch-Site", "cross-site"),
	} {
		for _, want := range []string{`<html lang="en">`, `href="/cautions"`, `<a class="skip no-print" href="#main">`,
			`<main id="main"`, "<title>", `name="viewport"`} {
			if !strings.Contains(got.Body, want) {
				t.Errorf("%s lacks %s", name, want)
			}
		}
		if strings.Count(got.Body, "<h1") != 1 {
			t.Errorf("%s has %d main headings; want one", name, strings.Count(got.Body, "<h1"))
		}
		if bad := regexp.MustCompile(`(?i)<script>|<script[^>]+src="[^/]|<style|\sstyle=|\son[a-z]+=|https?://[^"]*"`).
			FindString(got.Body); bad != "" && bad != `http://www.w3.org/2000/svg"` {
			t.Errorf("%s has %s, which its policy forbids", name, bad)
		}
	}
}

// Design §7 lists what the program must say.
func TestTheCautionsSayWhatThisProgramIsNotFor(t *testing.T) {
	got := apitest.OnSQLite(t).Stranger(t).Get("/cautions")
	text := strings.Join(strings.Fields(got.Body), " ")
	for _, want := range []string{
		"medical advice", "concussion", "return-to-play protocol", "licensed practitioner", "medical lead", "playing on",
		"contact in training",
		"governing body", "Tackle height", "front row", "age band", "safeguarding", "data protection", "few matches",
		"on a number alone", "in person",
		"at least five other players", "stood-down", "the consents the academy requires", "withdraw", "private channel",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the cautions do not speak of %q", want)
		}
	}
}

func TestFilesThatAreTheSameForEverybodyMayBeKept(t *testing.T) {
	c := apitest.OnSQLite(t).Stranger(t)
	addresses := regexp.MustCompile(`/static/[^"]+`).FindAllString(c.Get("/sign-in").Body, -1)
	if len(addresses) != 6 {
		t.Fatalf("the page has the files %v; want two style sheets, three scripts and an icon", addresses)
	}
	kinds := map[string]string{".css": "text/css; charset=utf-8", ".svg": "image/svg+xml",
		".js": "text/javascript; charset=utf-8"}
	for _, address := range addresses {
		got := c.Get(address)
		kind := kinds[address[strings.LastIndex(address, "."):]]
		if got.Status != http.StatusOK || got.Header.Get("Content-Type") != kind ||
			!strings.Contains(got.Header.Get("Cache-Control"), "immutable") ||
			strings.Join(got.Header.Values("Vary"), ", ") != "Accept-Encoding" ||
			got.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: %d %v", address, got.Status, got.Header)
		}
	}
	for _, address := range []string{"/static/", "/static/paper.css", "/static/000000000000/paper.css",
		strings.Replace(addresses[0], "paper.css", "..%2fpages.go", 1)} {
		if got := c.Get(address); got.Status != http.StatusNotFound || strings.Contains(got.Header.Get("Cache-Control"),
			"public") {
			t.Errorf("%s: %d, %s; want 404, not to be kept", address, got.Status, got.Header.Get("Cache-Control"))
		}
	}
}

// leadsWithTheSeason checks that Bryn's page says first how the season goes, in the sentences of the season report,
// then goals and the latest notes, then matches with what is recorded of each, and consents further down.
func leadsWithTheSeason(t *testing.T, a *apitest.Academy) {
	t.Helper()
	c := a.SignIn(t, "ansel")
	page, report := c.Get(fmt.Sprintf("/players/%d", a.Bryn.ID)).Body, c.Get(seasonReport(a.Bryn, a.Season)).Body
	said := regexp.MustCompile(`<dt>[^<]*</dt><dd>([^<]*)</dd>`).FindAllStringSubmatch(page, 3)
	if len(said) != 3 {
		t.Fatalf("the page has %d sentences, want the three of the season report", len(said))
	}
	for _, one := range said {
		if !strings.Contains(report, one[1]) {
			t.Errorf("the player's page says %q, the season report does not", one[1])
		}
	}
	at := 0
	for _, part := range []string{said[0][1], "Improving: contact won (7 matches)", "No open goal", "Latest notes",
		`id="matches"`, "no log", `id="consents"`} {
		next := strings.Index(page[at:], part)
		if next < 0 {
			t.Fatalf("the page lacks %q after what should come before it", part)
		}
		at += next
	}
	for _, want := range []string{"Match|Minutes|Log|Grades", "|70|totals only|no grade"} {
		if !strings.Contains(strings.Join(rows(page), "\n"), want) {
			t.Errorf("the matches lack %q: %q", want, rows(page))
		}
	}
}

func TestHomeNamesTrendsWhileTheyAreCurrent(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		operator := models.Console(a.Season.AcademyID)
		trends := []models.Trend{
			{PlayerID: a.Bryn.ID, Indicator: "contact_won", Figures: models.TrendFigures{Verdict: "improving",
				Matches: 7}},
			{PlayerID: a.Bryn.ID, Indicator: "carries", Figures: models.TrendFigures{Verdict: "declining"}},
			{PlayerID: a.Bryn.ID, Skill: "tackle", Figures: models.TrendFigures{Verdict: "probably declining", Matches: 5}},
		}
		var now models.SquadSeason
		err := s.Write(t.Context(), operator, func(tx *store.Tx) (err error) {
			if now, err = tx.SquadSeason(a.Season.ID, a.Under18.ID); err != nil {
				return err
			}
			return tx.KeepTrends(now, trends)
		})
		if err != nil {
			t.Fatal(err)
		}
		// Fewer carries are neither better nor worse, and a probable decline is not firm.
		const want = "Bryn Calder|Flanker||5|350|Improving: contact won (7 matches); falling: carries (0 matches); " +
			"probably declining: tackle (5 matches)|0|no log, no grade"
		if got := undated(rows(a.SignIn(t, "ansel").Get("/").Body)); !slices.Contains(got, want) {
			t.Errorf("the home page has %q; want %q", got, want)
		}
		leadsWithTheSeason(t, a)
		err = s.Write(t.Context(), operator, func(tx *store.Tx) error {
			now.Revision++ // the data stand elsewhere
			return tx.KeepTrends(now, trends)
		})
		if err != nil {
			t.Fatal(err)
		}
		if got := undated(rows(a.SignIn(t, "ansel").Get("/").Body)); slices.Contains(got, want) {
			t.Error("trends behind the data are still named")
		}
	})
}

// A firm verdict that stands beside a slip says so: a match that levels leave out, or anything else to check. Where no
// verdict is firm, perhaps because of the slip, home asks to check the match alone: what looks wrong in the whole
// squad's records is no one player's.
func TestHomeAsksToCheckTheRecordBesideAVerdictAndWithoutAFirmOne(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		far := []models.OddMatch{{MatchID: 1, Value: 400, Expected: 8, SetAside: true}}
		err := s.Write(t.Context(), models.Console(a.Season.AcademyID), func(tx *store.Tx) error {
			now, err := tx.SquadSeason(a.Season.ID, a.Under18.ID)
			if err != nil {
				return err
			}
			return tx.KeepTrends(now, []models.Trend{
				{PlayerID: a.Bryn.ID, Indicator: "contact_won", Figures: models.TrendFigures{Verdict: "improving", Odd: far}},
				{PlayerID: a.Bryn.ID, Indicator: "errors", Figures: models.TrendFigures{Verdict: "improving",
					Odd: []models.OddMatch{{MatchID: 1, Value: 4, Expected: 1}}}},
				{PlayerID: a.Bryn.ID, Skill: "tackle", Figures: models.TrendFigures{Verdict: "declining",
					Checks: []string{"are they seconds?"}}},
				{PlayerID: a.Bryn.ID, Indicator: "carries", Figures: models.TrendFigures{Verdict: "unclear", Odd: far}},
				{PlayerID: a.Bryn.ID, Indicator: "passes", Figures: models.TrendFigures{Verdict: "unclear",
					Checks: []string{"are they seconds?"}}},
			})
		})
		if err != nil {
			t.Fatal(err)
		}
		const want = "Improving: contact won (0 matches), errors, falling (0 matches); declining: tackle (0 matches)" +
			"Check the record: carries, contact won, tackle"
		if got := undated(rows(a.SignIn(t, "ansel").Get("/").Body)); !slices.ContainsFunc(got, func(row string) bool {
			return strings.Contains(row, "|"+want+"|")
		}) {
			t.Errorf("the home page has %q; want %q", got, want)
		}
	})
}

func TestHomeCallsNoSkillImprovingWhileAGradeOfItCallsForAction(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		err := s.Write(t.Context(), models.Console(a.Season.AcademyID), func(tx *store.Tx) error {
			names, err := tx.UserNames()
			if err != nil {
				return err
			}
			var coach int64
			for id, name := range names {
				if name == "Ansel Brock" {
					coach = id
				}
			}
			r := models.Rating{PlayerID: a.Bryn.ID, RaterID: coach, Skill: "tackle", Grade: 2, Date: a.Season.Starts,
				Block: "First block"}
			return tx.CreateRating(&r)
		})
		if err != nil {
			t.Fatal(err)
		}
		err = s.Write(t.Context(), models.Console(a.Season.AcademyID), func(tx *store.Tx) error {
			now, err := tx.SquadSeason(a.Season.ID, a.Under18.ID)
			if err != nil {
				return err
			}
			return tx.KeepTrends(now, []models.Trend{
				{PlayerID: a.Bryn.ID, Skill: "tackle", Figures: models.TrendFigures{Verdict: "improving"}},
				{PlayerID: a.Bryn.ID, Skill: "maul", Figures: models.TrendFigures{Verdict: "improving"}},
			})
		})
		if err != nil {
			t.Fatal(err)
		}
		const want = "Improving: maul (0 matches)A grade calls for action: tackle"
		if got := undated(rows(a.SignIn(t, "ansel").Get("/").Body)); !slices.ContainsFunc(got, func(row string) bool {
			return strings.Contains(row, "|"+want+"|")
		}) {
			t.Errorf("the home page has %q; want %q", got, want)
		}
	})
}

func TestTheHomeOfAnAcademyWithoutASeasonSaysHowToSetOneUp(t *testing.T) {
	a := apitest.OnSQLite(t)
	empty := a.Found(t, "Eastmoor Rugby Academy")
	first := models.User{Login: "first", Name: "First Manager", Role: models.RoleManager}
	if _, err := a.Join(t, empty.ID, first); err != nil {
		t.Fatal(err)
	}
	home := a.SignIn(t, "first").Get("/")
	for _, want := range []string{"No season yet", `href="/set-up"`, "Add the season with its dates"} {
		if !strings.Contains(home.Body, want) {
			t.Errorf("the home page does not say %q: %s", want, home.Body)
		}
	}
}
