package api_test

import (
	"fmt"
	"slices"
	"testing"

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
				if said := b.CutOrCovered(false); said != "" || b.Overflow() > 0 {
					t.Errorf("%s, %s, %d pixels wide: texts cut or over each other: %s; %d too wide", name, edition, width, said,
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
}
