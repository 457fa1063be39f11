package papertest

import (
	"encoding/json"
	"fmt"
	"html"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"throughline/reports/paper"
)

var (
	number = regexp.MustCompile(`[−-]?\d[\d,]*(\.\d+)?`)
	// pictures, whose values stand in tables, how figures are made, and ways to other pages
	notFigures = regexp.MustCompile(`(?s)<head>.*?</head>|<noscript>.*?</noscript>|<svg.*?</svg>|` +
		`<dl class="method">.*?</dl>|<details id="method">.*?</details>|<nav.*?</nav>`)
)

// constants are the numbers that papers' own words say: shares of ranges, least matches and minutes, days.
var constants = []string{"80", "95", "4", "160", "14", "1", "5"}

// UnknownNumbers returns the numbers of a page that stand neither in the JSON of the same copy of the paper, as papers
// print numbers, nor among the constants of the paper's own words. Each has the words around it.
func UnknownNumbers(t testing.TB, asJSON []byte, page string, own ...string) (odd []string) {
	t.Helper()
	var content any
	if err := json.Unmarshal(asJSON, &content); err != nil {
		t.Fatal(err)
	}
	known := inJSON{}
	known.add("", content)
	for _, c := range append(own, constants...) {
		known[c] = true
	}
	text := notFigures.ReplaceAllString(page, "|")
	text = html.UnescapeString(tags.ReplaceAllString(text, "|"))
	for _, at := range number.FindAllStringIndex(text, -1) {
		n := strings.TrimRight(text[at[0]:at[1]], ",")
		if bare := strings.TrimLeft(n, "−-"); !known[n] && !known[bare] {
			odd = append(odd, n+" in …"+text[max(0, at[0]-40):min(len(text), at[1]+30)]+"…")
		}
	}
	return odd
}

// inJSON are the numbers of a JSON document, as papers print them.
type inJSON map[string]bool

func (known inJSON) number(key string, v float64) {
	for decimals := range 3 {
		known[paper.Number(v, decimals)] = true
		known[paper.Number(math.Abs(v), decimals)] = true
	}
	known[paper.Number(100*v, 0)] = true
	if key == "second" || key == "video_from" { // of a clock
		known[fmt.Sprint(int(v)/60)], known[fmt.Sprintf("%02d", int(v)%60)] = true, true
	}
}

func (known inJSON) add(key string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for key, member := range v {
			known.add(key, member)
		}
	case []any:
		for n := range len(v) + 1 { // how many, of all or of some
			known[fmt.Sprint(n)] = true
		}
		for _, member := range v {
			known.add(key, member)
		}
	case float64:
		known.number(key, v)
	case string:
		for _, n := range number.FindAllString(v, -1) {
			known[n] = true
		}
		if day, err := time.Parse(time.DateOnly, v); err == nil {
			known[fmt.Sprint(day.Day())], known[fmt.Sprint(day.AddDate(0, 0, 1).Day())] = true, true
		}
		if moment, err := time.Parse(time.RFC3339, v); err == nil {
			known[fmt.Sprint(moment.Day())] = true
		}
	}
}
