package pages_test

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// TestTheLookIsMadeOfTokens holds both style sheets to the tokens that DEVELOPERS.md names: no rule has a colour or a
// size of text of its own. Print has its sizes in points, and text may be sized by the text around it (em).
func TestTheLookIsMadeOfTokens(t *testing.T) {
	own := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|\brgba?\(|font-size: [\d.]+(rem|px)`)
	token := regexp.MustCompile(`--[a-z0-9-]+: [^;]+;`)
	guide, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"static/pages.css", "../../reports/paper/paper.css"} {
		style, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(style), "\n") {
			for _, set := range token.FindAllString(line, -1) {
				if called, _, _ := strings.Cut(set, ":"); !strings.Contains(string(guide), "`"+called+"`") &&
					!strings.HasPrefix(called, "--chart-") {
					t.Errorf("%s:%d: DEVELOPERS.md does not name the token %s", name, i+1, called)
				}
			}
			if found := own.FindString(token.ReplaceAllString(line, "")); found != "" && !strings.Contains(line, " text {") {
				t.Errorf("%s:%d: %s where a token would do", name, i+1, found)
			}
		}
	}
}
