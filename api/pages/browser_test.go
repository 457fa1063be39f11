package pages_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
)

// focused says what the keyboard acts on: a field's name, or the text of a link or button.
const focused = `document.activeElement.name || document.activeElement.textContent.trim()`

// tabTo presses Tab until an element has the focus, as a user without a mouse does, and checks that the focus shows.
func tabTo(t *testing.T, b *browsertest.Browser, what string) {
	t.Helper()
	var passed []string
	for range 60 {
		b.Type(kb.Tab)
		now := browsertest.Eval[string](b, focused)
		if outline := browsertest.Eval[string](b,
			`getComputedStyle(document.activeElement).outlineStyle`); outline == "none" {
			t.Errorf("the focus on %q does not show", now)
		}
		if now == what {
			return
		}
		passed = append(passed, now)
	}
	t.Fatalf("the keyboard does not reach %q; it passes %q", what, passed)
}

func TestSigningInAndReadingAReportByTheKeyboardAlone(t *testing.T) {
	a := apitest.OnSQLite(t)
	b := browsertest.Open(t, a.URL)
	b.Open(a.URL + "/")
	b.Type(kb.Tab)
	if first := browsertest.Eval[string](b, focused); first != "Skip to the content" {
		t.Errorf("the first Tab reaches %q; want the link that skips to the content", first)
	}
	tabTo(t, b, "user")
	b.Type("ansel")
	tabTo(t, b, "password")
	b.Type(apitest.Password)
	b.Leave(kb.Enter)
	if at := browsertest.Eval[string](b, `location.pathname`); at != "/" {
		t.Fatalf("after Enter the page is %s; want home", at)
	}
	tabTo(t, b, "Bryn Calder")
	b.Leave(kb.Enter)
	if at := browsertest.Eval[string](b, `location.pathname`); at != seasonReport(a.Bryn, a.Season) {
		t.Fatalf("after Enter on the name the page is %s; want the report", at)
	}
	if heading := browsertest.Eval[string](b, `document.querySelector("h1").textContent`); !strings.Contains(heading,
		"Bryn Calder") {
		t.Errorf("the report is headed %q", heading)
	}
	if cookies := browsertest.Eval[string](b, `document.cookie`); cookies != "" {
		t.Errorf("a script on the page would read the cookie %q", cookies)
	}
	tabTo(t, b, "Sign out")
	b.Leave(kb.Enter)
	if at := browsertest.Eval[string](b, `location.pathname`); at != "/sign-in" {
		t.Errorf("after signing out the page is %s; want the form to sign in", at)
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

func TestPagesFitAPhone(t *testing.T) {
	a := apitest.OnSQLite(t)
	b := browsertest.Open(t, a.URL)
	b.Width(360)
	look := func(path string) {
		b.Open(a.URL + path)
		if over := b.Overflow(); over > 0 {
			t.Errorf("%s is %d pixels wider than a phone", path, over)
		}
		small := browsertest.Eval[[]string](b, `[...document.querySelectorAll("button, `+
			`input:not([type=hidden])")].filter(e => e.checkVisibility() && `+
			`e.getBoundingClientRect().height < 44).map(e => e.outerHTML)`)
		if len(small) > 0 { // WCAG 2.2, success criterion 2.5.5: 44 CSS pixels
			t.Errorf("%s has things too small for a thumb: %q", path, small)
		}
	}
	look("/sign-in")
	look("/cautions")
	b.Open(a.URL + "/sign-in")
	tabTo(t, b, "user")
	b.Type("mabyn")
	tabTo(t, b, "password")
	b.Type(apitest.Password)
	b.Leave(kb.Enter)
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
	look("/")
	look(seasonReport(a.Bryn, a.Season))
	look(seasonReport(a.Tam, a.Season))
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
	look("/nothing") // the console says that it is missing
}
