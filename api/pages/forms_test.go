package pages_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
)

// What was typed and not sent is lost only to a user who was asked; a session that ended meanwhile loses nothing.
func TestWhatWasTypedIsNotLostSilently(t *testing.T) {
	a := apitest.OnSQLite(t)
	var m models.Match
	asManager(t, a, func(tx *store.Tx) error {
		all, err := tx.Matches(models.MatchFilter{PlayerID: a.Bryn.ID})
		m = all[0]
		return err
	})
	b := signedIn(t, a, "ansel")
	path := fmt.Sprintf("/matches/%d/totals", m.ID)
	b.Open(a.URL + path + "?count=carries")
	cell := fmt.Sprintf(`document.querySelector("[name=c-%d-0]")`, a.Bryn.ID)
	link := `[...document.links].find(a => a.textContent === "Back to the match")`
	focus := func(element string) { browsertest.Eval[bool](b, element+`.focus(), true`) }
	typeInto := func(text string) {
		focus(cell)
		browsertest.Eval[bool](b, cell+`.select(), true`)
		b.Type(text)
	}

	// Words in a search are asked anew: leaving is not.
	focus(`document.getElementById("find")`)
	b.Type("Br")
	focus(link)
	b.Leave(kb.Enter)
	if b.Asked() != 0 {
		t.Error("a page with words in its search asks before it is left")
	}

	b.Open(a.URL + path + "?count=carries")
	typeInto("8")
	b.Stay(true)
	focus(link)
	b.Type(kb.Enter)
	if at := browsertest.Eval[string](b, `location.pathname`); at != path || b.Asked() != 1 {
		t.Errorf("a link leads from what was typed to %s; it asked %d times", at, b.Asked())
	}

	// The session ends, and then another user signs in, in this browser.
	form := func(action, body string) {
		browsertest.Await[string](b, fmt.Sprintf(`fetch(%q, {method: "POST", redirect: "manual", body: new `+
			`URLSearchParams(%q)}).then(r => r.type)`, action, body))
	}
	save := func() string {
		browsertest.Eval[bool](b, `document.querySelector(".unsent")?.remove(), true`)
		focus(`[...document.querySelectorAll("button")].find(b => b.textContent === "Save the totals")`)
		b.Type(kb.Enter)
		return browsertest.Await[string](b, `new Promise(done => { const look = setInterval(() => { const said = document.`+
			`querySelector(".unsent"); if (said) { clearInterval(look); done(said.textContent) } }, 20) })`)
	}
	form("/sign-out", "")
	if said := save(); !strings.Contains(said, "You were signed out. Nothing was sent") {
		t.Errorf("the page says %q", said)
	}
	form("/sign-in", "user=mabyn&password="+apitest.Password)
	if said := save(); !strings.Contains(said, "Another user is signed in now") {
		t.Errorf("the page says %q", said)
	}
	form("/sign-out", "")
	form("/sign-in", "user=ansel&password="+apitest.Password)
	focus(`[...document.querySelectorAll("button")].find(b => b.textContent === "Save the totals")`)
	b.Leave(kb.Enter)
	if now := totalsOnFile(t, a, m)[a.Bryn.ID]["carries"]; now != 8 || b.Asked() != 1 {
		t.Errorf("after signing in again %v carries are on file, and the page asked %d times", now, b.Asked())
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}

	// A refused form has what was typed, and its page asks too.
	typeInto("many")
	b.Type(kb.Enter + kb.Enter)
	focus(`[...document.querySelectorAll("button")].find(b => b.textContent === "Save the totals")`)
	b.Leave(kb.Enter)
	if said := browsertest.Eval[string](b, cell+`.value`); said != "many" {
		t.Errorf("after the refusal the cell has %q", said)
	}
	focus(link)
	b.Type(kb.Enter)
	if at := browsertest.Eval[string](b, `location.pathname`); at != path || b.Asked() != 2 {
		t.Errorf("a link leads from a refused form to %s; its page asked %d times", at, b.Asked()-1)
	}
	b.Stay(false)
}
