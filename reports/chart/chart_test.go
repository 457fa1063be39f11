package chart

import (
	"context"
	"encoding/xml"
	"flag"
	"fmt"
	"html/template"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"go.uber.org/goleak"
)

var update = flag.Bool("update", false, "write the golden files of this package anew")

// sharedRenderer is one compiled engine for all tests that draw.
var sharedRenderer = sync.OnceValue(func() *Renderer { return NewRenderer(2) })

func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	sharedRenderer().Close()
	if err := goleak.Find(); code == 0 && err != nil {
		fmt.Fprintln(os.Stderr, "after Close:", err)
		code = 1
	}
	os.Exit(code)
}

// node is an element of a fragment, read by encoding/xml: a fragment that is not well-formed XML fails every test.
type node struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Text    string     `xml:",chardata"`
	Nodes   []node     `xml:",any"`
}

func parse(t *testing.T, fragment template.HTML) node {
	t.Helper()
	var n node
	if err := xml.Unmarshal([]byte(fragment), &n); err != nil {
		t.Fatalf("the fragment is not well-formed: %v\n%s", err, fragment)
	}
	return n
}

func (n node) attr(name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// all returns the nodes below and including n that match.
func (n node) all(match func(node) bool) []node {
	var out []node
	if match(n) {
		out = append(out, n)
	}
	for _, c := range n.Nodes {
		out = append(out, c.all(match)...)
	}
	return out
}

func (n node) named(name string) []node {
	return n.all(func(c node) bool { return c.XMLName.Local == name })
}

func (n node) texts() []string {
	var out []string
	for _, c := range n.named("text") {
		out = append(out, c.Text)
	}
	return out
}

// svg returns one of the two layouts of a fragment.
func (n node) svg(t *testing.T, class string) node {
	t.Helper()
	for _, c := range n.Nodes {
		if c.XMLName.Local == "svg" && c.attr("class") == "chart-"+class {
			return c
		}
	}
	t.Fatalf("no %s layout", class)
	return node{}
}

func render(t *testing.T, id string, c Chart) node {
	t.Helper()
	out, err := sharedRenderer().Render(context.Background(), id, c)
	if err != nil {
		t.Fatal(err)
	}
	return parse(t, out)
}

// season is an invented trend: gaps, a level from the fourth match on, each kind of mark, and each kind of spell.
func season(matches int) Trend {
	opponents := []string{"Oakley", "Fenwick", "Marlow Vale", "St Aldhelm", "Ridgeway", "Harcombe", "Thornby"}
	months := []string{"Sep", "Oct", "Nov", "Dec", "Jan", "Feb", "Mar"}
	t := Trend{
		Title:  "Contact won",
		Unit:   "contact won, % of carries",
		Format: Format{Percent: true},
		Group:  &Reference{Label: "back row", Value: new(0.56), Range: &Range{0.49, 0.64}},
	}
	for i := range matches {
		m := Match{Label: fmt.Sprintf("%d %s %s", 1+i*9%28, months[i*len(months)/matches], opponents[i%len(opponents)])}
		if i != 7 && i != 8 {
			v := 0.55 + 0.005*float64(i) + 0.12*math.Sin(2.3*float64(i))
			m.Value, m.Whisker = new(v), &Range{v - 0.15, v + 0.13}
		}
		if i >= 3 {
			mid, half := 0.54+0.004*float64(i), 0.2/math.Sqrt(float64(i+1))
			m.Level = &Level{mid, &Range{mid - 0.65*half, mid + 0.65*half}, &Range{mid - half, mid + half}}
		}
		switch i {
		case 4:
			m.Mark = OtherTeam
		case 11:
			m.Mark = Unusual
		}
		t.Matches = append(t.Matches, m)
	}
	if matches > 16 {
		t.Spells = []Spell{{7, 9, Unavailable}, {12, 14, Modified}, {16, 16, Unavailable}}
	}
	return t
}

func footwork() Rating {
	r := Rating{Title: "Footwork into contact", Coaches: []string{"Adair", "Brandt", "Cole"}}
	for i := range 12 {
		o := Occasion{Label: fmt.Sprintf("block %d", i+1)}
		for j, c := range r.Coaches {
			if (i+j)%3 != 0 {
				o.Grades = append(o.Grades, Grade{c, float64(2 + (i+j)%3)})
			}
		}
		if i%4 == 0 {
			o.Self = new(4.0)
		}
		if i > 1 {
			mid, half := 2.9+0.05*float64(i), 1.5/math.Sqrt(float64(i))
			o.Mean = &Level{mid, &Range{mid - 0.65*half, mid + 0.65*half}, &Range{mid - half, mid + half}}
		}
		r.Occasions = append(r.Occasions, o)
	}
	return r
}

func standingBars() Bars {
	return Bars{Title: "Beside the back row", Rows: []Row{
		{Label: "Contact won", Value: new(0.8), Interval: &Range{0.3, 1.3}, Group: &Range{-1.2, 1.3},
			Note: "63%, group 56%"},
		{Label: "Effective arrival at the breakdown", Value: new(-0.6), Interval: &Range{-1.1, 0.1},
			Group: &Range{-1.3, 1.2}},
		{Label: "Released at the line", Group: &Range{-1.4, 1.1}, Note: "too little to say"},
	}}
}

func TestFragmentStandsUnderAStrictPolicy(t *testing.T) {
	for name, c := range map[string]Chart{"trend": season(26), "rating": footwork(), "bars": standingBars()} {
		t.Run(name, func(t *testing.T) {
			n := render(t, name, c)
			n.all(func(e node) bool {
				switch e.XMLName.Local {
				case "style", "script", "foreignObject", "image", "use", "a", "iframe":
					t.Errorf("element %s", e.XMLName.Local)
				}
				for _, a := range e.Attrs {
					switch l := strings.ToLower(a.Name.Local); {
					case l == "style", strings.HasPrefix(l, "on"), l == "href", l == "src":
						t.Errorf("<%s %s=%q>", e.XMLName.Local, a.Name.Local, a.Value)
					case strings.Contains(a.Value, "url(") && !strings.HasPrefix(a.Value, "url(#"+name+"-"):
						t.Errorf("<%s %s=%q> points outside the chart", e.XMLName.Local, a.Name.Local, a.Value)
					}
				}
				return false
			})
			for _, class := range []string{"wide", "narrow"} {
				svg := n.svg(t, class)
				if svg.attr("width") != "" || svg.attr("height") != "" {
					t.Errorf("%s has a fixed size", class)
				}
				var x, y, w, h int
				if _, err := fmt.Sscanf(svg.attr("viewBox"), "%d %d %d %d", &x, &y, &w, &h); err != nil || w < 300 || h < 100 {
					t.Errorf("%s: viewBox %q", class, svg.attr("viewBox"))
				}
			}
		})
	}
}

// Without our style sheet one picture shows, and a presentation attribute yields to any rule of a style sheet.
func TestOnlyTheWideLayoutShowsWithoutAStyleSheet(t *testing.T) {
	n := render(t, "f", season(8))
	if d := n.svg(t, "wide").attr("display"); d != "" {
		t.Errorf("wide: display %q", d)
	}
	if d := n.svg(t, "narrow").attr("display"); d != "none" {
		t.Errorf("narrow: display %q, want none", d)
	}
}

func TestScreenReadersGetTitleAndDescription(t *testing.T) {
	described := season(26)
	described.Description = "Contact won rose from 54% to 62%."
	cases := []struct {
		chart       Chart
		title, desc string
	}{
		{described, "Contact won", "Contact won rose from 54% to 62%."},
		{season(26), "Contact won", "24 of 26 matches with a value, from 44% to 77%. Running level from 55% to 64%, 80% " +
			"range now 61% to 67%. Compared with back row: 56%."},
		{footwork(), "Footwork into contact", "24 grades by 3 coaches on 12 occasions. Mean now 3.5, 80% range " +
			"3.2 to 3.7."},
		{standingBars(), "Beside the back row", "Scale: standard deviations from the middle of the group. Contact " +
			"won: 0.8 (80% " +
			"0.3 to 1.3); 63%, group 56%. Effective arrival at the breakdown: −0.6 (80% −1.1 to 0.1). Released at the line: " +
			"too little to say."},
	}
	for _, c := range cases {
		for _, class := range []string{"wide", "narrow"} {
			svg := render(t, "f", c.chart).svg(t, class)
			if svg.attr("role") != "img" {
				t.Errorf("role %q", svg.attr("role"))
			}
			var read []string
			for _, id := range strings.Fields(svg.attr("aria-labelledby")) {
				for _, e := range svg.all(func(e node) bool { return e.attr("id") == id }) {
					read = append(read, e.Text)
				}
			}
			if len(read) != 2 || read[0] != c.title || read[1] != c.desc {
				t.Errorf("%s reads\n%q, want\n%q", class, read, []string{c.title, c.desc})
			}
		}
	}
}

func TestIdsOfTwoChartsNeverMeetAndReferencesResolve(t *testing.T) {
	out, err := sharedRenderer().RenderAll(context.Background(), []Figure{{"a", season(26)}, {"b", season(26)},
		{"c", footwork()}, {"d", standingBars()}})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	var used []string
	for _, f := range out {
		parse(t, f).all(func(e node) bool {
			if id := e.attr("id"); id != "" {
				if seen[id] {
					t.Errorf("id %q twice", id)
				}
				seen[id] = true
			}
			for _, a := range e.Attrs {
				if id, ok := strings.CutPrefix(a.Value, "url(#"); ok {
					used = append(used, strings.TrimSuffix(id, ")"))
				}
			}
			return false
		})
	}
	if len(used) == 0 {
		t.Error("no reference seen: does the engine no longer clip? then this test protects nothing")
	}
	for _, id := range used {
		if !seen[id] {
			t.Errorf("url(#%s) leads nowhere", id)
		}
	}
}

func TestMarkupAndTemplatesInTextsStayText(t *testing.T) {
	nasty := `<script>alert("1")</script> & {b|bold} {value} 'x' ]]>`
	trend := season(4)
	trend.Title, trend.Unit, trend.Group.Label = nasty, nasty, nasty
	trend.Matches[0].Label = "{b|M} <1>"
	bars := standingBars()
	bars.Title, bars.Rows[0].Label, bars.Rows[0].Note, bars.Above = nasty, "a{b|<i>}", "{c} & <b>", "{d}"
	rating := footwork()
	rating.Coaches[1] = "<b>{a}</b>"
	for i := range rating.Occasions {
		for j := range rating.Occasions[i].Grades {
			if rating.Occasions[i].Grades[j].Coach == "Brandt" {
				rating.Occasions[i].Grades[j].Coach = "<b>{a}</b>"
			}
		}
	}

	n := render(t, "f", trend)
	if got := n.named("title")[0].Text; got != nasty {
		t.Errorf("title %q, want %q", got, nasty)
	}
	wants := map[string]node{nasty: n, "{b|M} <1>": n, "a{b|<i>}": render(t, "f", bars),
		"{c} & <b>": render(t, "f", bars), "{d} ▸": render(t, "f", bars)}
	for want, in := range wants {
		found := false
		for _, got := range in.svg(t, "wide").texts() {
			found = found || got == want
		}
		if !found {
			t.Errorf("no text %q in %q", want, in.svg(t, "wide").texts())
		}
	}
	key := render(t, "f", rating).named("li")
	if key[1].Text != "<b>{a}</b>" {
		t.Errorf("key has %q", key[1].Text)
	}
}

func TestControlCharactersAndBrokenUTF8DoNotReachTheMarkup(t *testing.T) {
	trend := season(4)
	trend.Title = "a\x00b\x1bc\xff\ue07bd\n\te"
	if got, want := render(t, "f", trend).named("title")[0].Text, "abc\ufffdd e"; got != want {
		t.Errorf("title %q, want %q", got, want)
	}
}

func TestKeyNamesWhatIsDrawnAndNothingElse(t *testing.T) {
	bare := season(3)
	bare.Group, bare.Spells = nil, nil
	for i := range bare.Matches {
		bare.Matches[i].Whisker, bare.Matches[i].Level = nil, nil
	}
	cases := []struct {
		chart Chart
		want  []string
	}{
		{bare, []string{"one match"}},
		{season(26), []string{"one match", "out of the ordinary", "for another team", "range of one match", "level",
			"its 80% and 95% ranges", "back row 56%", "middle 80% of the back row", "modified availability", "unavailable"}},
		{footwork(), []string{"Adair", "Brandt", "Cole", "own grade", "mean", "its 80% and 95% ranges"}},
		{standingBars(), []string{"level", "its likely range (80%)", "middle of the group",
			"middle 80% of the group"}},
	}
	for _, c := range cases {
		var got []string
		swatches := map[string]string{}
		for _, li := range render(t, "f", c.chart).named("li") {
			got = append(got, li.Text)
			picture := fmt.Sprint(withoutColour(li.Nodes[0]))
			if other, ok := swatches[picture]; ok {
				t.Errorf("%q and %q look the same without colour", li.Text, other)
			}
			swatches[picture] = li.Text
		}
		if strings.Join(got, "|") != strings.Join(c.want, "|") {
			t.Errorf("key\n%q, want\n%q", got, c.want)
		}
	}
}

// withoutColour drops fills and strokes: what is left must still tell one entry of a key from another.
func withoutColour(n node) node {
	var attrs []xml.Attr
	for _, a := range n.Attrs {
		if hollow := a.Name.Local == "fill" && a.Value == colourPaper; hollow || a.Name.Local != "fill" &&
			a.Name.Local != "stroke" {
			attrs = append(attrs, a)
		}
	}
	n.Attrs = attrs
	nodes := make([]node, len(n.Nodes))
	for i, c := range n.Nodes {
		nodes[i] = withoutColour(c)
	}
	n.Nodes = nodes
	return n
}

func TestEachCoachHasAShapeOfHisOwn(t *testing.T) {
	seen := map[string]int{}
	for i := range maxCoaches {
		m := coachMark(i)
		look := fmt.Sprint(m.shape.path, m.fill == colourPaper)
		if j, ok := seen[look]; ok {
			t.Errorf("coaches %d and %d look alike", i, j)
		}
		seen[look] = i
	}
}

// WCAG 2.2: 1.4.3 asks 4.5:1 of text, 1.4.11 asks 3:1 of graphics (relative luminance and contrast ratio as defined
// there; from memory). White is 1.05/(L+0.05).
func TestFallbackColoursContrastWithWhite(t *testing.T) {
	cases := map[string]float64{
		colourText: 4.5, colourMuted: 4.5, colourLevel: 3, colourPoint: 3, colourUnusual: 3, colourGroup: 3, colourSelf: 3,
		colourSpell: 3,
	}
	for _, c := range coachColours {
		cases[c] = 3
	}
	for colour, least := range cases {
		var r, g, b int
		_, fallback, _ := strings.Cut(colour, ",#")
		if _, err := fmt.Sscanf(fallback, "%2x%2x%2x)", &r, &g, &b); err != nil {
			t.Fatalf("%s: %v", colour, err)
		}
		linear := func(v int) float64 {
			c := float64(v) / 255
			if c <= 0.04045 {
				return c / 12.92
			}
			return math.Pow((c+0.055)/1.055, 2.4)
		}
		if got := 1.05 / (0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b) + 0.05); got < least {
			t.Errorf("%s: contrast %.2f, want %.1f", colour, got, least)
		}
	}
}

// The golden outlines hold what is drawn, in order, without coordinates: a person reads the difference.
func TestOutlineOfEachChart(t *testing.T) {
	for name, c := range map[string]Chart{"trend": season(18), "rating": footwork(), "bars": standingBars()} {
		t.Run(name, func(t *testing.T) {
			var b strings.Builder
			writeOutline(&b, render(t, name, c), 0)
			file := filepath.Join("testdata", name+".txt")
			if *update {
				if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			got := strings.Split(b.String(), "\n")
			for i, line := range strings.Split(string(want), "\n") {
				if i >= len(got) || got[i] != line {
					t.Fatalf("line %d of %s: got %q, want %q (run with -update if this is meant)", i+1, file,
						append(got, "")[min(i, len(got))], line)
				}
			}
			if len(got) != strings.Count(string(want), "\n")+1 {
				t.Errorf("%s: more is drawn than the golden file holds", file)
			}
		})
	}
}

func writeOutline(b *strings.Builder, n node, depth int) {
	fmt.Fprintf(b, "%*s%s", 2*depth, "", n.XMLName.Local)
	for _, a := range n.Attrs {
		switch a.Name.Local {
		case "class", "role", "aria-labelledby", "aria-hidden", "id", "fill", "fill-opacity", "stroke", "stroke-width",
			"stroke-opacity", "stroke-dasharray", "clip-path", "text-anchor", "display":
			fmt.Fprintf(b, " %s=%q", a.Name.Local, a.Value)
		}
	}
	if text := strings.TrimSpace(n.Text); text != "" {
		fmt.Fprintf(b, " %q", text)
	}
	b.WriteString("\n")
	for _, c := range n.Nodes {
		writeOutline(b, c, depth+1)
	}
}
