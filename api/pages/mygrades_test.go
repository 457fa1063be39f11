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

// ownGrades are a player's self-ratings, as the console reads them.
func ownGrades(t *testing.T, a *apitest.Academy, player models.Player) (all []models.SelfRating) {
	t.Helper()
	err := a.Store.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) (err error) {
		all, err = tx.SelfRatings(models.RatingFilter{PlayerID: player.ID})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// On a phone, with the keys alone: a match is chosen, three skills are graded in the words that are in view, and kept.
func TestAPlayerGradesAMatchOnAPhone(t *testing.T) {
	a := apitest.OnSQLite(t)
	b := signedIn(t, a, "bryn")
	b.Width(360)
	tabTo(t, b, "Grade myself")
	b.Leave(kb.Enter)
	b.Leave(followFirst(t, b, `a[href^="/my-grades?match="]`))
	if over := b.Overflow(); over > 0 {
		t.Errorf("the form is %d pixels wider than a phone", over)
	}
	for i, skill := range []string{"tackle", "breakdown", "presentation"} {
		browsertest.Eval[bool](b, fmt.Sprintf(`document.querySelector("[name=g-%s]").focus(), true`, skill))
		b.Type(" " + strings.Repeat(kb.ArrowDown, i+1))
	}
	tabTo(t, b, "Save my grades")
	b.Leave(kb.Enter)
	got := map[string]int{}
	for _, r := range ownGrades(t, a, a.Bryn) {
		if r.MatchID == nil || r.Words == "" || !r.Self {
			t.Errorf("kept as %+v; want the match's, in words, and the player's own", r)
		}
		got[r.Skill] = r.Grade
	}
	if fmt.Sprint(got) != "map[breakdown:3 presentation:4 tackle:2]" {
		t.Errorf("kept %v", got)
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

// followFirst puts the focus on the first link that fits, and returns the key that follows it.
func followFirst(t *testing.T, b *browsertest.Browser, link string) string {
	t.Helper()
	if !browsertest.Eval[bool](b, fmt.Sprintf(`document.querySelector(%[1]q)?.focus(), `+
		`document.activeElement.matches(%[1]q)`, link)) {
		t.Fatalf("the page has no %s", link)
	}
	return kb.Enter
}

func TestOwnGradesAreChangedWithTheirEarlierValueKeptAndAMistakeLosesNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "bryn")
		day := a.Season.Starts.AddDays(60)
		form := url.Values{"block": {"October"}, "date": {string(day)}, "g-tackle": {"3"}, "c-tackle": {"late once"},
			"g-breakdown": {"9"}}
		wrong := c.Post("/my-grades", form)
		if wrong.Status != http.StatusUnprocessableEntity || len(ownGrades(t, a, a.Bryn)) != 0 ||
			!strings.Contains(wrong.Body, "choose a grade from 1 to 5") || !strings.Contains(wrong.Body, `value="late once"`) {
			t.Errorf("%d, kept %v; want nothing kept and the words shown again", wrong.Status, ownGrades(t, a, a.Bryn))
		}
		form.Del("g-breakdown")
		if got := c.Post("/my-grades", form); got.Status != http.StatusSeeOther {
			t.Fatalf("%d\n%s", got.Status, got.Body)
		}
		form.Set("g-tackle", "4")
		if got := c.Post("/my-grades", form); got.Status != http.StatusPreconditionFailed ||
			!strings.Contains(got.Body, "On file now: Tackle 3") {
			t.Errorf("a form that never saw the grade: %d; want both shown", got.Status)
		}
		form.Set("v-tackle", "1")
		if got := c.Post("/my-grades", form); got.Status != http.StatusSeeOther {
			t.Fatalf("%d\n%s", got.Status, got.Body)
		}
		kept := ownGrades(t, a, a.Bryn)
		if len(kept) != 1 || kept[0].Grade != 4 || kept[0].Version != 2 {
			t.Errorf("kept %+v; want one grade, changed once", kept)
		}
		if list := c.Get("/my-grades").Body; !strings.Contains(list, "Tackle: 4") {
			t.Errorf("the list lacks what was said:\n%s", list)
		}
		if got := c.Get("/my-grades?match=987654321"); got.Status != http.StatusNotFound {
			t.Errorf("a match that the player was not in: %d", got.Status)
		}
	})
}
