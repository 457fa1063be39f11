package models

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The paired examples and the three written-out matches are the test of the definitions: readers who see the
// definitions and the prose, but neither the expected codes nor each other, must choose the same codes.
//
//	go test ./models -run TestTextsForReaders -texts DIR
//
// writes what a reader gets. Their answers are kept beside the prose as first.jsonl and second.jsonl.
var textsDir = flag.String("texts", "", "write what readers of the definitions get into this folder")

// coded is one item of the prose, or of a reader's answers: what it is and the codes of its choices.
type coded struct {
	Item    string            `json:"item"`
	Kind    Kind              `json:"kind"` // none: no involvement
	Details map[string]string `json:"details,omitempty"`

	match, prose string
	asked        []string
}

var codedLine = regexp.MustCompile(`^- \*\*([A-Z]\d\d)\*\* (.*) → (.*)$`)

// codedProse reads one page of prose. A heading names the kind of the examples below it; a match's lines name their
// own.
func codedProse(t *testing.T, file string) (all []coded) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "testdata", "coding", file))
	if err != nil {
		t.Fatal(err)
	}
	heading := ""
	joined := strings.ReplaceAll(string(text), "\n  ", " ") // an item goes on in lines that are indented
	for line := range strings.Lines(joined) {
		if h, ok := strings.CutPrefix(strings.TrimSpace(line), "## "); ok {
			heading = h
		}
		m := codedLine.FindStringSubmatch(strings.TrimSpace(line))
		if m == nil {
			if strings.HasPrefix(line, "- ") {
				t.Errorf("%s: cannot read %q", file, line)
			}
			continue
		}
		c := coded{Item: m[1], Kind: Kind(heading), prose: m[2], match: heading, Details: map[string]string{}}
		codes := m[3]
		if kind, rest, ok := strings.Cut(codes, ": "); ok {
			c.Kind, codes = Kind(kind), rest
		} else if codes == "none" {
			c.Kind, codes = "none", ""
		}
		for _, pair := range strings.Split(codes, ", ") {
			if detail, value, ok := strings.Cut(pair, " "); ok {
				c.Details[detail] = value
				c.asked = append(c.asked, detail)
			}
		}
		all = append(all, c)
	}
	return all
}

func TestTextsForReaders(t *testing.T) {
	if *textsDir == "" {
		t.Skip("no -texts")
	}
	write := func(file, text string) {
		if err := os.WriteFile(filepath.Join(*textsDir, file), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("definitions.md", definitionsPage())
	var examples, matches strings.Builder
	examples.WriteString("# Examples\n\nAnswer every example with the kind given and the details asked for.\n")
	kind := Kind("")
	for _, c := range codedProse(t, "examples.md") {
		if c.Kind != kind {
			kind = c.Kind
			fmt.Fprintf(&examples, "\n## %s\n\n", kind)
		}
		fmt.Fprintf(&examples, "- **%s** %s (asked: %s)\n", c.Item, c.prose, strings.Join(c.asked, ", "))
	}
	write("examples.md", examples.String())
	var more strings.Builder
	more.WriteString("# More examples\n\nAnswer every example with the kind given and the details asked for.\n")
	for _, c := range codedProse(t, "added.md") {
		fmt.Fprintf(&more, "\n- **%s** (%s) %s (asked: %s)\n", c.Item, c.Kind, c.prose, strings.Join(c.asked, ", "))
	}
	write("added.md", more.String())
	matches.WriteString("# Three matches\n\nEach match follows one player. Each line is one involvement of that " +
		"player, or none. Choose the kind, " +
		"give\nits core details always and the others wherever the words settle them.\n")
	heading := ""
	for _, c := range codedProse(t, "matches.md") {
		if c.match != heading {
			heading = c.match
			fmt.Fprintf(&matches, "\n## %s\n\n", heading)
		}
		fmt.Fprintf(&matches, "- **%s** %s\n", c.Item, c.prose)
	}
	write("matches.md", matches.String())
	write("answers.md", answersPage)
}

const answersPage = `# Answers

Read definitions.md from beginning to end. Choose codes by these definitions alone, not by what you would call it
elsewhere. Then answer every numbered item of examples.md and of matches.md, in their order, one JSON object a line,
and nothing else:

    {"item": "C07", "kind": "carry", "details": {"contact": "even", "gain_line": "behind"}}

For an example give the kind of its heading and the details asked for. For a line of a match choose the kind; give all
details marked core, and those marked full wherever the words settle them. Leave out what the words do not tell. A line
in which the player did nothing that is logged is {"item": "X99", "kind": "none"}. Use the codes as they are printed.
Do not ask, do not look elsewhere, and do not compare with another reader.
`

// definitionsPage is every kind with its choices as the catalogue defines them, without those of all kinds.
func definitionsPage() string {
	var b strings.Builder
	b.WriteString("# Definitions\n")
	for _, k := range Kinds() {
		fmt.Fprintf(&b, "\n## `%s` %s\n\n%s\n", k.Code, k.Label, k.Definition)
		for _, d := range DetailsOf(k.Code) {
			if len(d.Kinds) == len(kinds) || len(d.Options) == 0 {
				continue
			}
			fmt.Fprintf(&b, "\n### `%s` %s (%s)\n\n%s\n\n", d.Code, d.Label, d.Depth, d.Definition)
			for _, o := range d.Options {
				fmt.Fprintf(&b, "- `%s` %s: %s\n", o.Code, o.Label, o.Definition)
			}
		}
	}
	return b.String()
}

// The expected codes are themselves an example of the rules: known, complete at core depth, and never contradictory.
func TestCodedProseIsValid(t *testing.T) {
	perKind := map[Kind]int{}
	seen := map[string]bool{}
	examples, matches := codedProse(t, "examples.md"), codedProse(t, "matches.md")
	for _, c := range examples {
		perKind[c.Kind]++
	}
	for _, k := range Kinds() {
		if perKind[k.Code] != 10 {
			t.Errorf("%s has %d paired examples, want 10", k.Code, perKind[k.Code])
		}
	}
	added := codedProse(t, "added.md")
	perDetail := map[string]int{}
	for _, c := range added {
		for _, detail := range []string{"fold", "chase", "decision", "form", "called"} {
			if c.Details[detail] != "" {
				perDetail[detail]++
			}
		}
	}
	for detail, n := range perDetail {
		if n != 10 {
			t.Errorf("%s has %d paired examples added, want 10", detail, n)
		}
	}
	for _, c := range slices.Concat(examples, matches, added) {
		if seen[c.Item] {
			t.Errorf("%s is there twice", c.Item)
		}
		seen[c.Item] = true
		if c.Kind == "none" {
			continue
		}
		i := did(c.Kind, clk(1, 1, 0))
		i.Details = c.Details
		for code, value := range c.Details {
			d, _ := DetailOf(c.Kind, code)
			if o, ok := d.Option(value); ok && o.Result != "" {
				i.Results = append(i.Results, o.Result)
			}
		}
		if err := i.Validate(); err != nil {
			t.Errorf("%s: %v", c.Item, err)
		}
		for _, d := range DetailsOf(c.Kind) {
			if d.Depth == Core && c.Details[d.Code] == "" {
				t.Errorf("%s does not say %s", c.Item, d.Code)
			}
		}
	}
}

func codedAnswers(t *testing.T, file string) map[string]coded {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "testdata", "coding", file))
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]coded{}
	for line := range strings.Lines(string(text)) {
		var c coded
		if strings.TrimSpace(line) == "" {
			continue
		}
		if err := json.Unmarshal([]byte(line), &c); err != nil {
			t.Fatalf("%s: %q: %v", file, line, err)
		}
		all[c.Item] = c
	}
	return all
}

// The bars that two independent codings from the definitions alone must reach. Kappa (Cohen 1960; see kappa) is asked
// for where it means something: 30 pairs or more, and two codes used five times or more each. Elsewhere the share of
// agreement counts.
const (
	kappaPairs = 30
	codeUses   = 5
	kappaBar   = 0.8
	shareBar   = 0.9
)

func TestTwoReadersOfTheDefinitionsAgree(t *testing.T) {
	first, second := codedAnswers(t, "first.jsonl"), codedAnswers(t, "second.jsonl")
	items := slices.Concat(codedProse(t, "examples.md"), codedProse(t, "added.md"), codedProse(t, "matches.md"))
	type choice struct {
		kind Kind
		code string
	}
	pairs := map[choice][][2]*Involvement{}
	kindsAgreed := 0
	for _, c := range items {
		a, inA := first[c.Item]
		b, inB := second[c.Item]
		if !inA || !inB {
			t.Fatalf("%s was not coded by both readers", c.Item)
		}
		if a.Kind != b.Kind {
			continue
		}
		kindsAgreed++
		one, two := &Involvement{Kind: a.Kind, Details: a.Details}, &Involvement{Kind: b.Kind, Details: b.Details}
		for code := range a.Details {
			if _, ok := DetailOf(a.Kind, code); !ok {
				t.Errorf("%s: %s has no detail %s", c.Item, a.Kind, code)
			}
			if b.Details[code] != "" {
				pairs[choice{a.Kind, code}] = append(pairs[choice{a.Kind, code}], [2]*Involvement{one, two})
			}
		}
	}
	if share := float64(kindsAgreed) / float64(len(items)); share < shareBar {
		t.Errorf("the readers agree on the kind of %.2f of all items, want %.2f", share, shareBar)
	}
	byKappa := 0
	for c, p := range pairs {
		d, _ := DetailOf(c.kind, c.code)
		agreed, ok := agreeOn(&d, c.kind, p)
		switch {
		case !ok:
			t.Errorf("%s %s: no pair has a code of the catalogue", c.kind, c.code)
		case agreed.Both >= kappaPairs && codesUsed(c.code, p) >= 2:
			byKappa++
			if agreed.Kappa == nil || *agreed.Kappa < kappaBar {
				t.Errorf("%s %s: kappa of %d pairs is below %.1f", c.kind, c.code, agreed.Both, kappaBar)
			}
		case agreed.Share() < shareBar:
			t.Errorf("%s %s: the readers agree on %d of %d", c.kind, c.code, agreed.Agreed, agreed.Both)
		}
	}
	if byKappa < 5 {
		t.Errorf("kappa was asked of %d details, want 5 or more", byKappa)
	}
}

// codesUsed counts the codes that both readers together used at least codeUses times for each of them.
func codesUsed(code string, pairs [][2]*Involvement) (n int) {
	uses := map[string]int{}
	for _, p := range pairs {
		uses[p[0].Details[code]]++
		uses[p[1].Details[code]]++
	}
	for _, u := range uses {
		if u >= 2*codeUses {
			n++
		}
	}
	return n
}

// What both readers call differently from the page is a fault of the page or of the definition.
func TestReadersChooseTheExpectedCodes(t *testing.T) {
	for _, file := range []string{"first.jsonl", "second.jsonl"} {
		answers := codedAnswers(t, file)
		asked, right := 0, 0
		for _, c := range slices.Concat(codedProse(t, "examples.md"), codedProse(t, "added.md"),
			codedProse(t, "matches.md")) {
			asked++
			if answers[c.Item].Kind == c.Kind {
				right++
			}
			for code, value := range c.Details {
				if got := answers[c.Item].Details[code]; got != "" {
					asked++
					if got == value {
						right++
					}
				}
			}
		}
		if share := float64(right) / float64(asked); share < 0.98 {
			t.Errorf("%s: %d of %d codes are the expected ones", file, right, asked)
		}
	}
}

// What a definition excludes is refused where it is entered, with what would be right.
func TestPairsThatDefinitionsExcludeAreQuestioned(t *testing.T) {
	at := clk(1, 5, 0)
	carry := func(contact, measure string, value float64) Involvement {
		return measured(did(KindCarry, at, "contact", contact, "gain_line", "over"), map[string]float64{measure: value})
	}
	for _, c := range []struct {
		name, field string
		i           Involvement
	}{
		{"even with 2 m after contact", "measures.metres_after_contact", carry("even", "metres_after_contact", 2)},
		{"even with 0.9 m after contact", "", carry("even", "metres_after_contact", 0.9)},
		{"lost with no tackler", "measures.tacklers_committed", carry("lost", "tacklers_committed", 0)},
		{"lost with one", "", carry("lost", "tacklers_committed", 1)},
		{"even with no tackler", "measures.tacklers_committed", carry("even", "tacklers_committed", 0)},
		{"lost and a try", "results", resulted(did(KindCarry, at, "contact", "lost", "gain_line", "over"), ResultTry)},
		{"50:22 and returned", "details.result", did(KindKick, at, "form", "fifty_22", "result", "returned")},
		{"missed and turnover won", "results",
			resulted(did(KindTackle, at, "result", "missed"), ResultTurnoverWon)},
		{"stay out and slowed", "details.effect", did(KindDefenceRuck, at, "decision", "stay_out", "effect", "slowed")},
		{"in place and folded late", "details.fold", did(KindReposition, at, "in_place", "yes", "fold", "late")},
	} {
		err := c.i.Validate()
		if c.field == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		refused, ok := errors.AsType[*Error](err)
		if !ok || !slices.ContainsFunc(refused.Fields, func(f FieldError) bool { return f.Where == c.field }) {
			t.Errorf("%s: %v, want a finding at %s", c.name, err, c.field)
		}
	}
}

var (
	shareOf  = regexp.MustCompile(`(fewer than (\d+)|(\d+) or (\d+)|(\d+) to (\d+)|(\d+) or more) of 10`)
	unsafeIn = regexp.MustCompile(`[Ii]s unsafe|unsafely`)
)

// chosen says whether a grade's words fit what was seen: how many of ten were unsafe, how many were right, and whether
// half of the hard ones were.
func chosen(t *testing.T, grade string, unsafe, right int, hard bool) bool {
	t.Helper()
	m := shareOf.FindStringSubmatch(grade)
	if m == nil {
		t.Fatalf("%q does not say in how many of 10", grade)
	}
	number := func(group int) int { n, _ := strconv.Atoi(m[group]); return n }
	n := right
	if unsafeIn.MatchString(grade) {
		n = unsafe
	} else if strings.Contains(grade, "safe") && unsafe > 0 {
		return false
	}
	fits := false
	switch {
	case m[2] != "":
		fits = n < number(2)
	case m[3] != "":
		fits = n == number(3) || n == number(4)
	case m[5] != "":
		fits = number(5) <= n && n <= number(6)
	default:
		fits = n >= number(7)
	}
	if strings.Contains(grade, ", but ") {
		return fits && !hard && strings.Contains(grade, "fewer than half")
	}
	if strings.Contains(grade, "half or more") {
		return fits && hard
	}
	return fits
}

// Whatever is seen of a player, exactly one grade fits: no two graders who count the same choose differently.
func TestExactlyOneGradeOfEachSkillFits(t *testing.T) {
	for _, s := range SkillCatalogue() {
		if !strings.Contains(s.How, "last ten") || strings.Count(s.How, "round down") != 1 {
			t.Errorf("%s: %q does not say what to watch, with one tie-break", s.Code, s.How)
		}
		safety := strings.Contains(s.How, "Safety comes first")
		for unsafe := 0; unsafe <= 10; unsafe++ {
			for right := 0; right <= 10; right++ {
				for _, hard := range []bool{false, true} {
					var fit []int
					for n, g := range s.Grades {
						if chosen(t, g, unsafe, right, hard) {
							fit = append(fit, n+1)
						}
					}
					if (unsafe == 0 || safety) && len(fit) != 1 {
						t.Errorf("%s, %d unsafe, %d right of 10, hard %v: grades %v fit", s.Code, unsafe, right, hard, fit)
					}
				}
			}
		}
		for _, sentence := range strings.Split(strings.Join(s.Grades[:], " "), ". ") {
			if n := len(strings.Fields(sentence)); n > 25 {
				t.Errorf("%s: a sentence of %d words: %q", s.Code, n, sentence)
			}
		}
	}
}
