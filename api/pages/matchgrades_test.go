package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// A coach grades a whole match day squad in a skill from the keyboard: a number for each player, then Enter.
func TestACoachGradesAMatchOfTwentyThreeFromTheKeyboard(t *testing.T) {
	storetest.OneByOne(t)
	a := apitest.OnSQLite(t)
	var match models.Match
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		matches, err := tx.Matches(models.MatchFilter{SeasonID: a.Season.ID, SquadID: a.Under18.ID})
		if err != nil {
			return err
		}
		match = matches[0]
		for n := range 21 {
			p := models.Player{Name: fmt.Sprintf("Player %02d", n+1), Positions: []models.Position{models.Flanker}}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			in := models.Membership{SeasonID: a.Season.ID, SquadID: a.Under18.ID, PlayerID: p.ID, From: a.Season.Starts}
			if err := tx.CreateMembership(&in); err != nil {
				return err
			}
			if err := tx.CreateAppearance(&models.Appearance{MatchID: match.ID, PlayerID: p.ID, Minutes: 40}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	b := signedIn(t, a, "ansel")
	b.Open(a.URL + fmt.Sprintf("/matches/%d/grades", match.ID))
	graded := 0
	const next = `(() => { const all = [...document.querySelectorAll("#skill-tackle select")], n = %d;
		all[n]?.focus(); return n < all.length })()`
	for ; browsertest.Eval[bool](b, fmt.Sprintf(next, graded)); graded++ {
		b.Type(fmt.Sprint(1 + graded%5))
	}
	if graded != 23 {
		t.Fatalf("%d players can be graded; want 23", graded)
	}
	b.Leave(focusOn(t, b, "Give these grades"))
	var kept []models.Rating
	err = a.Store.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) (err error) {
		kept, err = tx.Ratings(models.RatingFilter{SeasonID: a.Season.ID})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0
	for _, r := range kept {
		if r.Skill != "tackle" || r.MatchID == nil || *r.MatchID != match.ID || r.Words == "" {
			t.Errorf("kept %+v", r)
		}
		sum += r.Grade
	}
	if len(kept) != 23 || sum != 4*15+1+2+3 {
		t.Errorf("kept %d grades with the sum %d; want 23 and %d", len(kept), sum, 4*15+1+2+3)
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

// focusOn puts the focus on the button with a text, and returns the key that presses it.
func focusOn(t *testing.T, b *browsertest.Browser, text string) string {
	t.Helper()
	if !browsertest.Eval[bool](b, fmt.Sprintf(`(() => { const b = [...document.querySelectorAll("button")].find(`+
		`b => b.textContent.trim() === %q); b?.focus(); return !!b })()`, text)) {
		t.Fatalf("the page has no button %q", text)
	}
	return kb.Enter
}

// What is wrong in one grade keeps them all from being saved, and all that was typed is shown again.
func TestMatchGradesAreAllKeptOrNone(t *testing.T) {
	a := apitest.OnSQLite(t)
	var match int64
	err := a.Store.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		matches, err := tx.Matches(models.MatchFilter{SeasonID: a.Season.ID, SquadID: a.Under18.ID})
		if err == nil {
			match = matches[0].ID
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	page := fmt.Sprintf("/matches/%d/grades", match)
	c := a.SignIn(t, "ansel")
	bryn, owen := fmt.Sprintf("-%d-tackle", a.Bryn.ID), fmt.Sprintf("-%d-tackle", a.Owen.ID)
	got := c.Post(page, url.Values{"g" + bryn: {"4"}, "c" + bryn: {"wrapped early"}, "g" + owen: {"7"}})
	if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, `value="wrapped early"`) ||
		!strings.Contains(got.Body, "choose a grade from 1 to 5") || strings.Contains(got.Body, "You gave") {
		t.Errorf("%d; want nothing kept and all shown again:\n%s", got.Status, got.Body)
	}
	for login, want := range map[string]int{"sorrel": http.StatusForbidden, "bryn": http.StatusForbidden,
		"edda": http.StatusNotFound} {
		if got := a.SignIn(t, login).Get(page); got.Status != want {
			t.Errorf("%s: %d; want %d", login, got.Status, want)
		}
	}
}
