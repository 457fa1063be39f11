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
	b.Open(a.URL + fmt.Sprintf("/matches/%d/grades?skill=tackle", match.ID))
	graded := 0
	const next = `(() => { const all = [...document.querySelectorAll("#skill-tackle select")], n = %d;
		all[n]?.focus(); return n < all.length })()`
	for ; browsertest.Eval[bool](b, fmt.Sprintf(next, graded)); graded++ {
		b.Type(fmt.Sprint(1 + graded%5))
	}
	if graded != 23 {
		t.Fatalf("%d players can be graded; want 23", graded)
	}
	// A third of the height that the page had with all skills open; the skill and its words beside the last player.
	for width, most := range map[int64]int{1280: 9000, 360: 20975} {
		b.Width(width)
		if high := browsertest.Eval[int](b, `document.documentElement.scrollHeight`); high > most {
			t.Errorf("the page is %d pixels high at %d; want at most %d", high, width, most)
		}
		if hidden := browsertest.Eval[string](b, headOutOfView); hidden != "" {
			t.Errorf("at %d, while the last player is graded, out of view: %s", width, hidden)
		}
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

// headOutOfView is what of a skill's name and the words of its grades is not in the window with its last player.
const headOutOfView = `(() => { const all = [...document.querySelectorAll("#skill-tackle select")], last = all.at(-1);
	last.blur(); last.scrollIntoView({block: "end"}); last.focus();
	return [...document.querySelectorAll("#skill-tackle h2, #skill-tackle .skill-head li"), last].filter((e) => {
		const r = e.getBoundingClientRect(); return r.top < -1 || r.bottom > innerHeight + 1 || r.left < 0 || e !== last &&
			r.bottom > last.getBoundingClientRect().top }).map((e) => e.textContent).join("; ") })()`

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
	got := c.Post(page+"?skill=tackle", url.Values{"g" + bryn: {"4"}, "c" + bryn: {"wrapped early"}, "g" + owen: {"7"}})
	if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, `value="wrapped early"`) ||
		!strings.Contains(got.Body, "choose a grade from 1 to 5") || strings.Contains(got.Body, "You gave") {
		t.Errorf("%d; want nothing kept and all shown again:\n%s", got.Status, got.Body)
	}
	got = c.Post(page+"?skill=tackle", url.Values{"g" + bryn: {""}, "c" + bryn: {"wrapped early"}, "g" + owen: {"4"}})
	for _, want := range []string{a.Bryn.Name + ", Tackle: choose a grade too, or clear the comment.", "<details open>",
		`name="g` + bryn + `" aria-invalid="true" aria-describedby="`} {
		if !strings.Contains(got.Body, want) {
			t.Errorf("a comment without a grade: the page does not say %q", want)
		}
	}
	for at, want := range map[string]string{"?player=" + fmt.Sprint(a.Bryn.ID): "2 of one player", "": "1"} {
		named := strings.Count(c.Get(page+at).Body, `class="grading"`)
		if (named > 1) != (want != "1") {
			t.Errorf("%s%s has %d skills; want %s", page, at, named, want)
		}
	}
	for login, want := range map[string]int{"sorrel": http.StatusForbidden, "bryn": http.StatusForbidden,
		"edda": http.StatusNotFound} {
		if got := a.SignIn(t, login).Get(page); got.Status != want {
			t.Errorf("%s: %d; want %d", login, got.Status, want)
		}
	}
}
