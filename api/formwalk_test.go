package api_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"throughline/api/apitest"
)

// element is an element of a page, as a browser reads it.
type element struct{ *html.Node }

func (e element) attr(name string) string {
	for _, a := range e.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func (e element) has(name string) bool {
	return slices.ContainsFunc(e.Attr, func(a html.Attribute) bool { return a.Key == name })
}

// all are the elements within one that a rule holds for.
func (e element) all(is func(element) bool) (found []element) {
	for n := range e.Descendants() {
		if n.Type == html.ElementNode && is(element{n}) {
			found = append(found, element{n})
		}
	}
	return found
}

func (e element) text() string {
	var text strings.Builder
	for n := range e.Descendants() {
		if n.Type == html.TextNode {
			text.WriteString(n.Data)
		}
	}
	return strings.Join(strings.Fields(text.String()), " ")
}

func pageOf(t *testing.T, body string) element {
	t.Helper()
	page, err := html.Parse(strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	return element{page}
}

// typedIn says whether an element is one in which a person types or chooses.
func typedIn(e element) bool {
	switch e.Data {
	case "select", "textarea":
		return true
	case "input":
		return !slices.Contains([]string{"hidden", "submit"}, e.attr("type")) && e.has("name")
	}
	return false
}

// filled is what a form sends where every field has what typed gives it; hidden fields stay.
func filled(form element, typed func(field element) (string, bool)) url.Values {
	sent := url.Values{}
	for _, field := range form.all(func(e element) bool { return e.has("name") && e.Data != "fieldset" }) {
		if !typedIn(field) {
			if field.attr("type") == "hidden" {
				sent.Add(field.attr("name"), field.attr("value"))
			}
			continue
		}
		if value, ok := typed(field); ok {
			sent.Add(field.attr("name"), value)
		}
	}
	return sent
}

// The ways to fill a form wrongly.
var wrongly = []struct {
	name  string
	typed func(field element) (string, bool)
}{
	{"empty", func(field element) (string, bool) {
		return "", field.attr("type") != "checkbox" && field.attr("type") != "radio"
	}},
	{"nonsense", func(field element) (string, bool) {
		switch field.attr("type") {
		case "checkbox", "radio":
			return "nonsense", true
		case "date":
			return "2025-02-31", true
		}
		return strings.Repeat("many ", 12), true
	}},
	{"far off", func(field element) (string, bool) {
		switch {
		case field.attr("type") == "checkbox", field.attr("type") == "radio":
			return field.attr("value"), true
		case field.attr("type") == "date":
			return "1999-01-31", true
		case field.attr("type") == "number":
			return "99999", true
		case field.Data == "select":
			options := field.all(func(e element) bool { return e.Data == "option" })
			return options[len(options)-1].attr("value"), true
		}
		return "7", true
	}},
}

// numbers are what tells records apart in an address.
var numbers = regexp.MustCompile(`\d+`)

// formPages are pages with forms, for the people who have them. Names in braces are ids of a player's records.
var formPages = map[string][]string{
	"manager": {"/people", "/squads", "/settings", "/seasons", "/seasons/{season}/next", "/squads/{squad}?season={season}",
		"/squads/{squad}/consents", "/squads/{squad}/training?season={season}", "/training-sessions/{training_session}",
		"/matches?season={season}", "/matches/{match}", "/matches/{match}/totals",
		"/players/{player}",
		"/players/{player}/edit", "/players/{player}/elsewhere", "/players/{player}/goals", "/goals/{goal}",
		"/players/{player}/reviews/new?squad={squad}", "/reviews/{review}/edit", "/reviews", "/meetings",
		"/meetings/{meeting}", "/rating-rounds/new?squad={squad}", "/rating-rounds/{rating_round}", "/new-skill",
		"/skills/tackle", "/safety", "/squads/{squad}/seasons/{season}/pack"},
	"the player": {"/my-grades?block=October", "/reviews/{review}"},
	"operator":   {"/academies", "/people"},
}

// unmarked are forms in which no one field is wrong, with the reason.
var unmarked = map[string]string{
	"/academies/N/manager": "the academies have a manager, and no more is looked at",
}

// codeNames are names of the code that no person reads: weight-1, given_by, candidates[2].
var codeNames = regexp.MustCompile(`[a-z]-\d|[a-z]_[a-z]|\[\d|, number \d`)

// A form that is refused says what is wrong beside each field, in the words of its label, and above with a link to it.
// What was typed is still there.
func TestEveryFormSaysWhatIsWrongBesideItsFields(t *testing.T) {
	c := newCast(t, apitest.OnSQLite(t))
	own := c.places["own"]
	for _, title := range []string{"manager", "the player", "operator"} {
		client, done := c.a.SignIn(t, c.person(title).login), map[string]bool{}
		for _, path := range formPages[title] {
			for name, id := range own.ids {
				path = strings.ReplaceAll(path, "{"+strings.TrimSuffix(name, "_id")+"}", fmt.Sprint(id))
			}
			got := client.Get(path)
			if got.Status != http.StatusOK {
				t.Errorf("%s, as the %s: %d", path, title, got.Status)
			}
			page := pageOf(t, got.Body)
			for _, form := range page.all(func(e element) bool { return e.Data == "form" && e.attr("method") == "post" }) {
				action, _, _ := strings.Cut(form.attr("action"), "#")
				kind, _, _ := strings.Cut(numbers.ReplaceAllString(action, "N"), "?")
				if done[kind] || len(form.all(typedIn)) == 0 {
					continue
				}
				done[kind] = true
				marked := 0
				var answers []int
				for _, way := range wrongly {
					sent := filled(form, way.typed)
					got := client.Post(action, sent)
					answers = append(answers, got.Status)
					if got.Status == http.StatusUnprocessableEntity {
						marked += refusedWell(t, way.name+" "+kind+" by the "+title, action, got, sent)
						if again := client.Post(action, sent); again.Body != got.Body {
							t.Errorf("%s %s: sent again, the page is another", way.name, kind)
						}
					}
				}
				if why := unmarked[kind]; (marked == 0) != (why != "") {
					t.Errorf("%s, as the %s, marks %d fields, whatever is wrong: %v; listed is %q", kind, title, marked, answers, why)
				}
			}
		}
	}
}

// refusedWell holds a refused form to the rules, and returns how many of its fields are marked.
func refusedWell(t *testing.T, what, action string, got apitest.Answer, sent url.Values) int {
	t.Helper()
	page := pageOf(t, got.Body)
	texts := map[string]string{}
	for _, e := range page.all(func(e element) bool { return e.has("id") }) {
		texts[e.attr("id")] = e.text()
	}
	wrong := page.all(func(e element) bool { return e.attr("aria-invalid") == "true" })
	ids := map[string]bool{}
	for _, e := range wrong {
		ids["#"+e.attr("id")] = true
		said := ""
		for _, id := range strings.Fields(e.attr("aria-describedby")) {
			if strings.HasSuffix(id, "-wrong") {
				said = texts[id]
			}
		}
		if said == "" || codeNames.MatchString(markers.ReplaceAllString(strings.ToLower(said), "")) {
			t.Errorf("%s: beside %s stands %q", what, e.attr("name"), said)
		}
	}
	lines := 0
	for _, p := range page.all(func(e element) bool {
		return e.Data == "p" && e.Parent != nil &&
			element{e.Parent}.attr("class") == "refused"
	}) {
		lines++
		words := markers.ReplaceAllString(strings.ToLower(p.text()), "")
		if codeNames.MatchString(words) || strings.HasSuffix(words, "?.") {
			t.Errorf("%s: above stands %q", what, p.text())
		}
		for _, a := range p.all(func(e element) bool { return e.Data == "a" }) {
			if len(wrong) > 0 && !ids[a.attr("href")] {
				t.Errorf("%s: a link to %s, which is no field that is marked", what, a.attr("href"))
			}
		}
	}
	if lines == 0 {
		t.Errorf("%s: nothing stands above the form", what)
	}
	kept(t, what, action, page, sent)
	return len(wrong)
}

// kept says that the form of an address has what was sent. What cannot be chosen is not chosen.
func kept(t *testing.T, what, action string, page element, sent url.Values) {
	t.Helper()
	forms := page.all(func(e element) bool {
		at, _, _ := strings.Cut(e.attr("action"), "#")
		return e.Data == "form" && e.attr("method") == "post" && at == action
	})
	for _, form := range forms[:min(1, len(forms))] {
		for _, field := range form.all(typedIn) {
			now := field.attr("value")
			switch {
			case field.attr("type") == "password", field.Data == "select":
				continue
			case field.Data == "textarea":
				now = field.text()
			case field.attr("type") == "checkbox", field.attr("type") == "radio":
				if field.has("checked") != slices.Contains(sent[field.attr("name")], field.attr("value")) {
					t.Errorf("%s: the box %s is not as it was sent", what, field.attr("name"))
				}
				continue
			}
			if want := sent.Get(field.attr("name")); strings.TrimSpace(now) != strings.TrimSpace(want) {
				t.Errorf("%s: %s has %q; %q was sent", what, field.attr("name"), now, want)
			}
		}
	}
}
