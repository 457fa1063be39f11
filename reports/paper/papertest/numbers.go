package papertest

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"throughline/reports/paper"
)

// Own are words with numbers that a paper's JSON has not as members: thresholds, scales, and counts and sums of what
// the JSON lists.
type Own struct {
	// Says finds the words.
	Says *regexp.Regexp
	// Values are what the groups of Says must say, from the JSON's content; nil where the words are always the same,
	// all of them or those of the group.
	Values func(content map[string]any) []float64
}

// Says are words that a paper always says with the same numbers.
func Says(patterns ...string) (all []Own) {
	for _, p := range patterns {
		all = append(all, Own{Says: regexp.MustCompile(p)})
	}
	return all
}

// of all papers: shares of ranges, least chances, what is enough, and steps of grades
var common = Says(`\((?:80|95)%\)`, `\b(?:80|95)% range`, `middle 80%`, `less than 1%`, `more than 99%`,
	`4 matches (?:and|or) 160 minutes`, `from 0 to 100%, counts from 0`)

// UnknownNumbers returns the numbers of a page that do not come from the JSON of the same copy of the paper. Each has
// the words around it. What a number may come from depends on where it stands:
//
//   - In a sentence it is a member of what the sentence names (a player, a figure, a skill, a match), or of what a
//     heading above begins with, or stands in no list of the JSON.
//   - In a row of a table it is a member, at any depth, of what the row names; where it names nothing, of what the
//     headings name.
//   - A whole number before the name of a list may be the list's length: 8 players, 11 skills.
//   - A percentage is a share from 0 to 1. A number with decimals is rounded. A whole number is whole in the JSON, but
//     for minutes and metres. An id or a version is no number to print.
//   - What a person wrote is quoted as it stands. What the paper itself wrote proves nothing.
//   - Else the paper's own words say it.
func UnknownNumbers(t testing.TB, asJSON []byte, page string, own ...Own) (odd []string) {
	t.Helper()
	r := readJSON(t, asJSON, own)
	for _, b := range blocksOf(t, page) {
		odd = append(odd, r.unknown(b, b.text)...)
	}
	return odd
}

// Seen alters each number of a page, one at a time, by one in its last digit, and returns the share of the changes that
// UnknownNumbers sees. It is less than 1: a number beside the right one is often that of another match or figure.
func Seen(t testing.TB, asJSON []byte, page string, own ...Own) float64 {
	t.Helper()
	r := readJSON(t, asJSON, own)
	numbers, seen := 0, 0
	for _, b := range blocksOf(t, page) {
		before := len(r.unknown(b, b.text))
		for _, at := range written.FindAllStringIndex(b.text, -1) {
			numbers++
			last := at[0] + strings.LastIndexAny(b.text[at[0]:at[1]], "0123456789")
			altered := b.text[:last] + string('0'+(b.text[last]-'0'+1)%10) + b.text[last+1:]
			if len(r.unknown(b, altered)) > before {
				seen++
			}
		}
	}
	return float64(seen) / float64(max(1, numbers))
}

func around(text string, at []int) string {
	return fmt.Sprintf("%s in …%s…", text[at[0]:at[1]], strings.ToValidUTF8(text[max(0, at[0]-60):min(len(text),
		at[1]+40)], ""))
}

// object is an object of the JSON with those in it, but for the objects in its lists.
type object struct {
	names   []string // in lower case
	numbers map[string]bool
	lists   map[string]int // their lengths
	in      []*object      // those in its lists
	deep    map[string]bool
	ofDay   bool // one of many that differ by their day or match
}

func newObject() *object { return &object{numbers: map[string]bool{}, lists: map[string]int{}} }

// all are its numbers and those of its lists, but for what is listed by day or by match.
func (o *object) all() map[string]bool {
	if o.deep == nil {
		o.deep = map[string]bool{}
		for n := range o.numbers {
			o.deep[n] = true
		}
		for _, m := range o.in {
			if m.ofDay {
				continue
			}
			for n := range m.all() {
				o.deep[n] = true
			}
		}
	}
	return o.deep
}

// named tells whether a text, in lower case, has one of its names, but for some: anywhere, or first of all.
func (o *object) named(text string, first bool, but []string) bool {
	return slices.ContainsFunc(o.names, func(name string) bool {
		for from := 0; name != "" && from < len(text) && !slices.Contains(but, name); {
			i := strings.Index(text[from:], name)
			if i < 0 || first && from+i > 0 {
				return false
			}
			i += from
			from = i + 1
			before, _ := utf8.DecodeLastRuneInString(text[:i])
			after, _ := utf8.DecodeRuneInString(text[i+len(name):])
			if !inWord(before) && !inWord(after) {
				return true
			}
		}
		return false
	})
}

func inWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }

// narrow returns the objects in the lists of some that a text names. Those that hold another one of them by another
// name are holders.
func narrow(in []*object, text string, first bool) (out, holders []*object) {
	var find func(o *object, but []string) bool
	find = func(o *object, but []string) (any bool) {
		for _, m := range o.in {
			is := m.named(text, first, but)
			not := but
			if is {
				not = append(slices.Clip(but), m.names...)
			}
			inner := find(m, not)
			if inner && is {
				holders = append(holders, m)
			} else if is {
				out = append(out, m)
			}
			any = any || inner || is
		}
		return any
	}
	for _, o := range in {
		find(o, nil)
	}
	return out, holders
}

// record is a JSON document as its numbers are looked up.
type record struct {
	root  *object
	dates map[string]bool
	texts string              // what people wrote, and names
	names map[string][]string // of ids and codes, in lower case
	own   []owned
}

type owned struct {
	says   *regexp.Regexp
	values []float64
}

var (
	naming = []string{"name", "label", "player", "coach", "opponent", "date", "on", "zone", "squad", "text",
		"criterion"}
	// texts that papers write
	papersWords = []string{"sentences", "headlines", "changes", "keep", "work_on", "cautions", "methods", "method", "text",
		"words", "lead", "unusual", "basis"}
	noFigures = []string{"id", "version", "revision", "band_month", "first_log", "second_log"}
	whole     = []string{"minutes", "metres", "watched"} // as they are printed
)

func readJSON(t testing.TB, asJSON []byte, own []Own) *record {
	t.Helper()
	var content map[string]any
	if err := json.Unmarshal(asJSON, &content); err != nil {
		t.Fatal(err)
	}
	r := &record{root: newObject(), dates: map[string]bool{}, names: map[string][]string{}}
	for _, o := range append(own, common...) {
		one := owned{says: o.Says}
		if o.Values != nil {
			one.values = o.Values(content)
		}
		r.own = append(r.own, one)
	}
	r.index("", content)
	r.read(r.root, content)
	return r
}

// index learns what the ids and codes of the document name.
func (r *record) index(key string, v any) {
	learn := func(of string, id, name any) {
		if s, is := name.(string); is && id != nil {
			r.names[fmt.Sprint(of, id)] = append(r.names[fmt.Sprint(of, id)], strings.ToLower(asPrinted(s)))
		}
	}
	switch v := v.(type) {
	case []any:
		for _, m := range v {
			r.index(key, m)
		}
	case map[string]any:
		switch key {
		case "matches":
			learn("match_id", v["id"], v["date"])
		case "candidates", "players":
			learn("player_id", v["player_id"], v["name"])
			learn("other_id", v["player_id"], v["name"])
		}
		for _, of := range []string{"code", "indicator", "skill"} {
			learn(of, v["code"], v["label"])
		}
		for key, m := range v {
			r.index(key, m)
		}
	}
}

// read puts what a map holds into an object.
func (r *record) read(o *object, v map[string]any) {
	for key, m := range v {
		switch m := m.(type) {
		case map[string]any:
			within := newObject()
			within.numbers, within.lists = o.numbers, o.lists
			r.read(within, m)
			if second, is := m["second"].(float64); is && (key == "clock" || key == "from") {
				o.names = append(o.names, clock(second))
			}
			o.in = append(o.in, within.in...)
		case []any:
			o.lists[key] = len(m)
			for _, e := range m {
				switch e := e.(type) {
				case map[string]any:
					in := newObject()
					in.ofDay = e["date"] != nil || e["match_id"] != nil
					r.read(in, e)
					o.in = append(o.in, in)
				case float64:
					o.number(key, e, v)
				case string:
					r.text(key, e)
				}
			}
		case float64:
			o.names = append(o.names, r.names[fmt.Sprint(key, m)]...)
			o.number(key, m, v)
		case string:
			if slices.Contains(naming, key) {
				o.names = append(o.names, strings.ToLower(asPrinted(m)))
			}
			o.names = append(o.names, r.names[key+m]...)
			if key == "words" && v["grade"] != nil {
				key = "means"
			}
			r.text(key, m)
		}
	}
}

// number notes how a member among others may be printed.
func (o *object) number(key string, v float64, among map[string]any) {
	switch {
	case slices.Contains(noFigures, key), strings.HasSuffix(key, "_id"):
		return
	case key == "second" && among["half"] != nil, key == "video_from":
		o.numbers[clock(v)] = true
		o.numbers[strings.TrimPrefix(clock(v), "0")] = true
		return
	}
	o.numbers[paper.Number(math.Abs(v), 1)], o.numbers[paper.Number(math.Abs(v), 2)] = true, true
	if math.Abs(v) <= 1 {
		o.numbers[paper.Number(100*math.Abs(v), 0)+"%"] = true
	}
	if key == "ahead" { // of the other
		o.numbers[paper.Number(100*(1-v), 0)+"%"] = true
	}
	if v == math.Trunc(v) || slices.ContainsFunc(whole, func(s string) bool { return strings.HasSuffix(key, s) }) {
		o.numbers[paper.Number(math.Abs(v), 0)] = true
	}
}

// text notes what a person wrote, a name or a day.
func (r *record) text(key, v string) {
	if printed := asPrinted(v); printed != v {
		r.dates[printed], r.dates[printed[:len(printed)-5]] = true, true
	} else if !slices.Contains(papersWords, key) {
		r.texts += "\n" + strings.Join(strings.Fields(v), " ") + "\n"
	}
}

func clock(second float64) string { return fmt.Sprintf("%02d:%02d", int(second)/60, int(second)%60) }

// asPrinted is a text of the JSON as papers print it: a day by its month's name.
func asPrinted(v string) string {
	for _, layout := range []string{time.DateOnly, time.RFC3339} {
		if day, err := time.Parse(layout, v); err == nil {
			return day.Format("2 Jan 2006")
		}
	}
	return v
}

var (
	written = regexp.MustCompile(`\d+:\d\d|\d{1,2} (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b( \d{4})?|` +
		`\d+(,\d{3})*(\.\d+)?%?`)
	toPercent = regexp.MustCompile(`^ to −?\d+%`)
	lengthOf  = regexp.MustCompile(`^ ([a-z]+)`)
)

// unknown are the numbers of a block, with this text in place of its own, that the document does not account for.
func (r *record) unknown(b block, text string) (odd []string) {
	numbers := written.FindAllStringIndex(text, -1)
	if numbers == nil {
		return nil
	}
	scopes, about := [][]*object{{r.root}}, []*object{r.root}
	for _, heading := range b.above {
		in, holders := narrow(scopes[len(scopes)-1], strings.ToLower(strings.TrimLeft(heading, "| ")), true)
		if in != nil {
			scopes, about = append(scopes, in), append(append(about, holders...), in...)
		}
	}
	lower := strings.ToLower(text)
	var named, holders []*object
	for i := len(scopes) - 1; i >= 0 && named == nil; i-- {
		named, holders = narrow(scopes[i], lower, false)
	}
	about = append(about, holders...)
	for _, o := range r.root.in {
		if !slices.Contains(named, o) && o.named(lower, false, nil) {
			about = append(about, o)
		}
	}
	known := map[string]bool{}
	add := func(numbers map[string]bool) {
		for n := range numbers {
			known[n] = true
		}
	}
	for _, o := range append(about, named...) {
		if o != r.root || !b.row || named == nil {
			add(o.numbers)
		}
	}
	deep := named
	if named == nil {
		deep = scopes[len(scopes)-1]
	}
	for _, o := range deep {
		if b.row {
			add(o.all())
		}
	}
	says := r.ownWords(text)
	for _, at := range numbers {
		n := text[at[0]:at[1]]
		if !strings.HasSuffix(n, "%") && toPercent.MatchString(text[at[1]:]) {
			n += "%"
		}
		isLength := false
		if m := lengthOf.FindStringSubmatch(text[at[1]:]); m != nil {
			isLength = slices.ContainsFunc(append(about, named...), func(o *object) bool {
				for _, list := range []string{m[1], m[1] + "s", m[1] + "es"} {
					if length, is := o.lists[list]; is && fmt.Sprint(length) == n {
						return true
					}
				}
				return false
			})
		}
		if !known[n] && !isLength && !r.dates[n] && !says[at[0]] && !r.quoted(text, at) {
			odd = append(odd, around(text, at))
		}
	}
	return odd
}

// ownWords are the places of the numbers that are right by a paper's own words.
func (r *record) ownWords(text string) map[int]bool {
	right := map[int]bool{}
	for _, o := range r.own {
		for _, m := range o.says.FindAllStringSubmatchIndex(text, -1) {
			if o.values == nil {
				said := m[len(m)-2:]
				for at := said[0]; at < said[1]; at++ {
					right[at] = true
				}
			}
			for i, value := range o.values {
				said, err := strconv.ParseFloat(strings.ReplaceAll(text[m[2+2*i]:m[3+2*i]], ",", ""), 64)
				right[m[2+2*i]] = right[m[2+2*i]] || err == nil && said == value
			}
		}
	}
	return right
}

// quoted tells whether a number stands in a name or in what a person wrote: with its word, with the words before it, or
// with the whole of its element.
func (r *record) quoted(text string, at []int) bool {
	from, to := strings.LastIndexByte(text[:at[0]], '|')+1, len(text)
	if end := strings.IndexByte(text[at[1]:], '|'); end >= 0 {
		to = at[1] + end
	}
	if strings.Contains(r.texts, "\n"+strings.TrimSpace(text[from:to])+"\n") {
		return true
	}
	long := at[1] - at[0] + 3 // with something that tells it from another number
	written := func(words string) bool { return len(words) >= long && strings.Contains(r.texts, words) }
	word, _, _ := strings.Cut(text[at[1]:to], " ")
	start := strings.LastIndexByte(text[from:at[0]], ' ') + 1 + from
	if written(strings.Trim(text[start:at[1]]+word, ".,;:()“”")) {
		return true
	}
	for range 2 {
		start = strings.LastIndexByte(strings.TrimRight(text[from:start], " "), ' ') + 1 + from
		if written(strings.Trim(text[start:at[1]], "(“")) {
			return true
		}
	}
	return false
}
