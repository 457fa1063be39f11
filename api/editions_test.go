package api_test

import (
	"flag"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// edgePlayers adds players at the edges of a season to a squad of the demonstration, not the demo player's, by what
// each has: no match, grades only, a single match, an absence all season.
func edgePlayers(t *testing.T, s *store.Store, demo scenario.Loaded) map[string]int64 {
	t.Helper()
	all := map[string]int64{}
	err := s.Write(t.Context(), models.Console(demo.Academy.ID), func(tx *store.Tx) error {
		season, err := tx.Season(demo.SeasonID)
		if err != nil {
			return err
		}
		squads, err := tx.Squads(models.SquadFilter{})
		if err != nil {
			return err
		}
		squad := squads[slices.IndexFunc(squads, func(s models.Squad) bool { return s.ID != demo.SquadID })].ID
		matches, err := tx.Matches(models.MatchFilter{SeasonID: demo.SeasonID, SquadID: squad})
		if err != nil {
			return err
		}
		born := models.Date("2008-11-12")
		for _, what := range []string{"no match", "grades only", "one match", "unavailable"} {
			p := models.Player{Name: "Player With " + what, Positions: []models.Position{models.Flanker}, BornOn: &born}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			all[what] = p.ID
			member := models.Membership{SeasonID: demo.SeasonID, SquadID: squad, PlayerID: p.ID, From: season.Starts}
			if err := tx.CreateMembership(&member); err != nil {
				return err
			}
		}
		if err := tx.CreateAppearance(&models.Appearance{MatchID: matches[0].ID, PlayerID: all["one match"],
			Minutes: 40}); err != nil {
			return err
		}
		for _, coach := range []int64{demo.Coach.ID, demo.Manager.ID} {
			for i, skill := range []string{"tackle", "breakdown"} {
				if err := tx.CreateRating(&models.Rating{PlayerID: all["grades only"], RaterID: coach, Skill: skill,
					Grade: 2 + i, Date: matches[0].Date, Block: "Autumn block"}); err != nil {
					return err
				}
			}
		}
		return tx.CreateSpell(&models.Spell{PlayerID: all["unavailable"], Status: models.Unavailable, From: season.Starts})
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// busiest are the demo player, who has goals and reviews, and a player of two squads.
func busiest(t *testing.T, s *store.Store, demo scenario.Loaded) map[string]int64 {
	t.Helper()
	all := map[string]int64{"the demo player": demo.PlayerID}
	err := s.Read(t.Context(), models.Console(demo.Academy.ID), func(tx *store.Tx) error {
		members, err := tx.Memberships(models.MembershipFilter{SeasonID: demo.SeasonID})
		if err != nil {
			return err
		}
		squads := map[int64]int{}
		for _, m := range members {
			if squads[m.PlayerID]++; squads[m.PlayerID] == 2 && all["two squads"] == 0 {
				all["two squads"] = m.PlayerID
			}
		}
		return nil
	})
	if err != nil || all["two squads"] == 0 {
		t.Fatalf("players %v: %v", all, err)
	}
	return all
}

// overlapping are texts of a page that lie over each other, or that are cut off by a box that does not scroll. It looks
// at lines of text as they are drawn.
const overlapping = `(() => {
	const boxes = [], bad = [], main = document.querySelector("main")
	const walker = document.createTreeWalker(main, NodeFilter.SHOW_TEXT)
	while (walker.nextNode()) {
		const node = walker.currentNode
		if (!node.data.trim() || !node.parentElement.checkVisibility()) continue
		const range = document.createRange()
		range.selectNodeContents(node)
		for (const r of range.getClientRects())
			if (r.width > 1 && r.height > 1) boxes.push({r, text: node.data.trim().slice(0, 30)})
	}
	boxes.sort((a, b) => a.r.top - b.r.top)
	for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
		const a = boxes[i].r, b = boxes[j].r, slack = 6
		if (b.top > a.bottom - slack) break
		if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 &&
			Math.min(a.bottom, b.bottom) - b.top > slack) bad.push(boxes[i].text + " / " + boxes[j].text)
	}
	return bad.slice(0, 5).join("; ")
})()`

// openWords are the words of the player's edition that show without opening anything, its pictures left out.
const openWords = `(() => {
	const open = document.querySelector(".opening").cloneNode(true)
	open.querySelectorAll("svg, details").forEach(e => e.remove())
	return open.textContent.trim().split(/\s+/).length
})()`

// The player's edition opens with at most six screens of a phone and 450 words, a talk sheet is one side of A4, and the
// staff's edition four before its appendices, whatever the player's season has. No text lies over another.
func TestTheEditionsOfTheSeasonReportKeepToTheirLengths(t *testing.T) {
	storetest.OneByOne(t)
	a, demo := demoServed(t)
	players := edgePlayers(t, a.Store, demo)
	for name, id := range busiest(t, a.Store, demo) {
		players[name] = id
	}
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/sign-in")
	browsertest.Eval[bool](b, `document.querySelector("[name=user]").focus(), true`)
	b.Type(demo.Manager.Login + kb.Tab + apitest.Password)
	b.Leave(kb.Enter)
	for name, id := range players {
		at := fmt.Sprintf("%s/players/%d/seasons/%d?edition=", a.URL, id, demo.SeasonID)
		for edition, most := range map[string]int{"player": 0, "talk-sheet": 1, "staff": 4} {
			b.Open(at + edition)
			for _, width := range []int64{360, 1280} {
				b.Width(width)
				if said := browsertest.Eval[string](b, overlapping); said != "" || b.Overflow() > 0 {
					t.Errorf("%s, %s, %d pixels wide: texts over each other: %s; %d too wide", name, edition, width, said,
						b.Overflow())
				}
			}
			if n := b.PrintedPages(); most > 0 && n > most {
				t.Errorf("%s, %s: %d printed pages, want %d at most", name, edition, n, most)
			}
		}
		b.Open(at + "player")
		b.Width(360)
		words := browsertest.Eval[int](b, openWords)
		high := browsertest.Eval[int](b, `Math.ceil(document.querySelector(".opening").getBoundingClientRect().height)`)
		if words > 450 || high > 6*800 || words < 50 {
			t.Errorf("%s: the player's edition opens with %d words on %d pixels; want 450 and %d at most", name, words, high,
				6*800)
		}
	}
	goldenEditions(t, a, demo)
}

// folded breaks a line after a word before column 110, and sets what follows in.
func folded(line string) string {
	var b strings.Builder
	column := 0
	for i, word := range strings.Fields(line) {
		wide := utf8.RuneCountInString(word)
		switch {
		case i > 0 && column+1+wide > 110:
			b.WriteString("\n  ")
			column = 2
		case i > 0:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += wide
	}
	return b.String()
}

var updateEditions = flag.Bool("update-editions", false, "write the editions of the demo player anew")

// goldenEditions holds the words of each edition of the demo player against a file that a person has read.
func goldenEditions(t *testing.T, a *apitest.Academy, demo scenario.Loaded) {
	t.Helper()
	manager := a.SignIn(t, demo.Manager.Login)
	// Tables that repeat the JSON and lists of all moments are left out.
	blocks := regexp.MustCompile(`(?s)<svg.*?</svg>|<dl class="method">.*?</dl>|<nav.*?</nav>|<table>.*?</table>|` +
		`<table id="(figures|matches|skills|shown|quarters|passages)-table".*?</table>|<h2>More moments</h2>.*?</details>`)
	for _, edition := range []string{"staff", "player", "talk-sheet", "guardian"} {
		page := manager.Get(fmt.Sprintf("/players/%d/seasons/%d?edition=%s", demo.PlayerID, demo.SeasonID, edition))
		_, main, _ := strings.Cut(page.Body, "<main")
		main, _, _ = strings.Cut("<main"+main, "</main>")
		var lines []string
		for line := range strings.SplitSeq(regexp.MustCompile(`</(p|h\d|li|tr|dt|dd|caption|summary)>`).ReplaceAllString(
			strings.Join(strings.Fields(blocks.ReplaceAllString(main, "")), " "), "\n"), "\n") {
			line = html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(line, " "))
			if line = strings.Join(strings.Fields(line), " "); line != "" {
				lines = append(lines, folded(line))
			}
		}
		file, got := filepath.Join("testdata", "editions", edition+".txt"), strings.Join(lines, "\n")+"\n"
		if *updateEditions {
			if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(got), 0o600); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if string(want) != got {
			t.Errorf("the %s edition of the demo player differs from %s; look at the difference, and write it anew with "+
				"-update-editions", edition, file)
		}
	}
}
