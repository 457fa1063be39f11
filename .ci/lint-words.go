//go:build ignore

// Lint-words finds the words of .ci/words in every text of the project: pages, messages, descriptions, comments, SQL,
// scripts, golden answers and the guides. It also finds lines over 120 columns, and terms of the glossary that nothing
// uses. It first tries itself on the examples below. Run it from the top of the project: go run .ci/lint-words.go
package main

import (
	"bufio"
	"errors"
	"fmt"
	"go/scanner"
	"go/token"
	"io"
	"os"
	"os/exec"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

const widest = 120

func main() {
	if err := tryExamples(); err != nil {
		fmt.Fprintln(os.Stderr, "lint-words, trying itself:", err)
		os.Exit(2)
	}
	findings, err := lint()
	if err != nil {
		fmt.Fprintln(os.Stderr, "lint-words:", err)
		os.Exit(2)
	}
	for _, f := range findings {
		fmt.Println(f)
	}
	if len(findings) > 0 {
		fmt.Printf("lint-words: %d places\n", len(findings))
		os.Exit(1)
	}
}

// lint reads the files that git knows.
func lint() ([]string, error) {
	list, err := os.Open(".ci/words")
	if err != nil {
		return nil, err
	}
	defer list.Close()
	r, err := readRules(list)
	if err != nil {
		return nil, fmt.Errorf(".ci/words, %w", err)
	}
	listed, err := exec.Command("git", "ls-files", "-z").Output()
	if err != nil {
		return nil, fmt.Errorf("git ls-files: %w", err)
	}
	c := check{rules: r}
	for name := range strings.SplitSeq(strings.TrimSuffix(string(listed), "\x00"), "\x00") {
		data, err := os.ReadFile(name)
		if errors.Is(err, os.ErrNotExist) {
			continue // deleted, and not yet committed
		}
		if err != nil {
			return nil, err
		}
		c.file(name, data)
	}
	guide, err := os.ReadFile("DEVELOPERS.md")
	if err != nil {
		return nil, err
	}
	c.glossary("DEVELOPERS.md", string(guide))
	c.needless()
	return c.findings, nil
}

// rules are the parts of .ci/words.
type rules struct {
	said, library []*regexp.Regexp
	unread, long  []*allowance
	allowed       []*allowance
}

// An allowance lets the files of a pattern be, in lines that contain the text. Used says whether any place needs it.
type allowance struct {
	line        int
	files, text string
	used        bool
}

func (a *allowance) covers(file string) bool {
	match, err := path.Match(a.files, file)
	if !strings.Contains(a.files, "/") {
		match, err = path.Match(a.files, path.Base(file))
	}
	return err == nil && match
}

// lets says whether an allowance of the list covers a text of a file.
func lets(all []*allowance, file, text string) bool {
	for _, a := range all {
		if a.covers(file) && strings.Contains(text, a.text) {
			a.used = true
			return true
		}
	}
	return false
}

// gap is what may stand between two words of a phrase: spaces, or the end of a line and the sign of the next comment.
const gap = `(?:[ \t]+|[ \t]*\n[ \t]*(?:(?://|--|#|\*)[ \t]*)?)`

// readRules reads the list, a line each under the headings [said], [library], [unread], [long] and [allowed].
func readRules(in io.Reader) (r rules, err error) {
	heading := ""
	lines := bufio.NewScanner(in)
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if strings.HasPrefix(line, "[") {
			heading = line
			continue
		}
		var e *regexp.Regexp
		var a *allowance
		switch heading {
		case "[said]", "[library]":
			e, err = regexp.Compile(`(?i)` + strings.ReplaceAll(line, " ", gap))
		case "[unread]", "[long]":
			a, err = readAllowance(n, line, false)
		case "[allowed]":
			a, err = readAllowance(n, line, true)
		default:
			err = errors.New("stands under no heading")
		}
		if err != nil {
			return r, fmt.Errorf("line %d: %w", n, err)
		}
		switch heading {
		case "[said]":
			r.said = append(r.said, e)
		case "[library]":
			r.library = append(r.library, e)
		case "[unread]":
			r.unread = append(r.unread, a)
		case "[long]":
			r.long = append(r.long, a)
		case "[allowed]":
			r.allowed = append(r.allowed, a)
		}
	}
	return r, lines.Err()
}

// readAllowance reads files, with a quoted text if one is asked for, and the reason, which must not be empty.
func readAllowance(n int, line string, quoted bool) (*allowance, error) {
	files, rest, _ := strings.Cut(line, " ")
	a := &allowance{line: n, files: files}
	if _, err := path.Match(files, ""); err != nil {
		return nil, fmt.Errorf("%s: %w", files, err)
	}
	if quoted {
		text, err := strconv.QuotedPrefix(rest)
		if err != nil {
			return nil, fmt.Errorf("after %s there must be a text in quotation marks", files)
		}
		rest = rest[len(text):]
		if a.text, err = strconv.Unquote(text); err != nil || a.text == "" {
			return nil, fmt.Errorf("the text of %s must not be empty", files)
		}
	}
	if strings.TrimSpace(rest) == "" {
		return nil, fmt.Errorf("%s has no reason", files)
	}
	return a, nil
}

type check struct {
	rules
	findings []string
	read     strings.Builder // what the program says to people, in lower case
}

func (c *check) report(format string, args ...any) {
	c.findings = append(c.findings, fmt.Sprintf(format, args...))
}

// file reads one file: the length of its lines and its words. Of Go it reads strings and comments.
func (c *check) file(name string, data []byte) {
	if !utf8.Valid(data) || lets(c.unread, name, "") {
		return
	}
	text := string(data)
	c.lengths(name, text)
	switch path.Ext(name) {
	case ".go":
		c.code(name, data)
	case ".html":
		c.read.WriteString(strings.ToLower(text))
		fallthrough
	default:
		c.words(name, slices.Concat(c.said, c.library), []piece{{1, text}})
	}
}

func (c *check) lengths(name, text string) {
	n := 0
	for line := range strings.SplitSeq(text, "\n") {
		n++
		columns := utf8.RuneCountInString(line)
		if columns <= widest || path.Ext(name) == ".md" && strings.HasPrefix(line, "|") { // a table's row is one line
			continue
		}
		if !lets(c.long, name, "") {
			c.report("%s:%d: %d columns; the most are %d", name, n, columns, widest)
		}
	}
}

// A piece is a text and the line where it begins.
type piece struct {
	line int
	text string
}

// words finds phrases in pieces that are read as one text.
func (c *check) words(name string, banned []*regexp.Regexp, pieces []piece) {
	var whole strings.Builder
	for _, p := range pieces {
		whole.WriteString(p.text)
	}
	text := whole.String()
	for _, e := range banned {
		for _, at := range e.FindAllStringIndex(text, -1) {
			from, to := strings.LastIndex(text[:at[0]], "\n")+1, len(text)
			if end := strings.Index(text[at[1]:], "\n"); end >= 0 {
				to = at[1] + end
			}
			if !lets(c.allowed, name, text[from:to]) {
				c.report("%s:%d: %q", name, lineOf(pieces, at[0]), text[at[0]:at[1]])
			}
		}
	}
}

// lineOf is the line of a place in the text of pieces.
func lineOf(pieces []piece, at int) int {
	for _, p := range pieces {
		if at < len(p.text) {
			return p.line + strings.Count(p.text[:at], "\n")
		}
		at -= len(p.text)
	}
	return 0
}

// code reads the strings and comments of a file of Go. Strings that are added up are one text, and so are comments in
// lines that follow each other. Strings of tests are read only for texts of libraries: a test may say anything else.
func (c *check) code(name string, data []byte) {
	strs, comments := texts(name, data)
	inTest := strings.HasSuffix(name, "_test.go")
	for _, pieces := range strs {
		c.words(name, c.library, pieces)
		if inTest {
			continue
		}
		c.words(name, c.said, pieces)
		for _, p := range pieces {
			if !isSQL(p.text) {
				c.read.WriteString(strings.ToLower(p.text))
			}
		}
	}
	for _, pieces := range comments {
		c.words(name, slices.Concat(c.said, c.library), pieces)
	}
}

// texts returns the strings of a file of Go, without quotation marks, and its comments.
func texts(name string, data []byte) (strs, comments [][]piece) {
	set := token.NewFileSet()
	file := set.AddFile(name, set.Base(), len(data))
	var s scanner.Scanner
	s.Init(file, data, nil, scanner.ScanComments)
	last, ended := token.ILLEGAL, 0 // the token before that is not a comment, and the line where a comment ended
	added := false                  // the last two tokens are a string and a plus
	for {
		at, kind, text := s.Scan()
		line := file.Line(at)
		switch kind {
		case token.EOF:
			return strs, comments
		case token.COMMENT:
			if len(comments) > 0 && ended == line-1 {
				comments[len(comments)-1] = append(comments[len(comments)-1], piece{line, "\n" + text})
			} else {
				comments = append(comments, []piece{{line, text}})
			}
			ended = line + strings.Count(text, "\n")
			continue
		case token.STRING:
			said, err := strconv.Unquote(text)
			if err != nil {
				said = text
			}
			if added {
				strs[len(strs)-1] = append(strs[len(strs)-1], piece{line, said})
			} else {
				strs = append(strs, []piece{{line, said}})
			}
		}
		added = last == token.STRING && kind == token.ADD
		last = kind
	}
}

// statement is how a text of SQL begins, clause how a column is compared or a table is joined in a part of one.
var (
	statement = regexp.MustCompile(`^\W*(SELECT|INSERT INTO|UPDATE \w+ SET|DELETE FROM|WITH|CREATE|ALTER|DROP|SET) `)
	clause    = regexp.MustCompile(`\?|\b\w+\.\w+ (=|<|>|<=|>=|<>|IN|IS|LIKE) |\b(FROM|JOIN) \w+ (AS|ON|WHERE) `)
	capital   = regexp.MustCompile(`\b(SELECT|FROM|WHERE|JOIN|EXISTS|UPDATE|INSERT|AND|OR|ORDER BY|IN|IS|LIKE)\b`)
)

// isSQL says whether a string is SQL: it begins as a statement, or has a word of SQL in capitals and a clause too. A
// sentence with a word in capitals has neither. SQL is read for words like every text, but is not said to people.
func isSQL(text string) bool {
	return statement.MatchString(text) || capital.MatchString(text) && clause.MatchString(text)
}

// glossary finds terms of the guide's glossary that the program does not use.
func (c *check) glossary(name, guide string) {
	_, table, found := strings.Cut(guide, "\n## Glossary\n")
	terms := 0
	for _, row := range strings.Split(table, "\n") {
		cells := strings.Split(row, "|")
		if len(cells) != 5 || strings.HasPrefix(cells[1], "---") || strings.TrimSpace(cells[1]) == "term" {
			continue
		}
		terms++
		if term := strings.TrimSpace(cells[1]); !strings.Contains(c.read.String(), term) {
			c.report("%s: the glossary has %q, and no page, message or description does", name, term)
		}
	}
	if !found || terms == 0 {
		c.report("%s: there is no glossary with a table of terms", name)
	}
}

// needless finds allowances that no place needs.
func (c *check) needless() {
	for _, a := range slices.Concat(c.unread, c.long, c.allowed) {
		if !a.used {
			c.report(".ci/words:%d: nothing needs this allowance of %s: delete it", a.line, a.files)
		}
	}
}

// exampleRules ban made-up words, so that the examples do not have the real ones.
const exampleRules = `
[said]
\b(grockle|blorb)s?\b
\bfrom which\b
[library]
parse fault
[unread]
old/0000[12]_*.sql never edited
[long]
*.json a string cannot be broken
[allowed]
guide.md "| blorb |" the column of words we do not use
`

// examples are files and what is found in them.
var examples = []struct {
	name, text string
	want       []string
}{
	{"a.go", "package a // A grockle.\n", []string{`a.go:1: "grockle"`}},
	{"a.go", "package a\n\n// One from\n// which another comes.\n", []string{`a.go:3: "from\n// which"`}},
	{"a.go", "package a\n\nvar a = `two\nBlorbs`\n", []string{`a.go:4: "Blorbs"`}},
	{"a.go", "package a\n\nvar a = \"one from \" +\n\t\"which\"\n", []string{`a.go:3: "from which"`}},
	{"a.go", "package a\n\nvar a = f(\"one from \", \"which\")\n", nil},
	{"a.go", "package a\n\nvar grockle = 1\n", nil},
	{"a.go", "package a\n\nvar a = \"SELECT one FROM all AS blorb\"\n", []string{`a.go:3: "blorb"`}},
	{"a.go", "package a\n\nvar a = \"this AND a grockle\"\n", []string{`a.go:3: "grockle"`}},
	{"a.go", "package a\n\nvar a = \"parse fault at 1\"\n", []string{`a.go:3: "parse fault"`}},
	{"a_test.go", "package a\n\nvar a = \"grockle: parse fault\"\n", []string{`a_test.go:3: "parse fault"`}},
	{"a_test.go", "package a\n\n// A grockle.\n", []string{`a_test.go:3: "grockle"`}},
	{"a.js", "f() // a grockle\n", []string{`a.js:1: "grockle"`}},
	{"a.css", "a { } /* one from\nwhich */\n", []string{`a.css:1: "from\nwhich"`}},
	{"a.html", "<p>A grockle</p>\n", []string{`a.html:1: "grockle"`}},
	{"a.yml", "a: grockle\n", []string{`a.yml:1: "grockle"`}},
	{"a.txt", "parse fault\n", []string{`a.txt:1: "parse fault"`}},
	{"a.json", "{\"a\": \"parse fault\"}\n", []string{`a.json:1: "parse fault"`}},
	{".ci/a", "# one from\n# which\n", []string{`.ci/a:1: "from\n# which"`}},
	{"old/00003_a.sql", "-- from\n-- which\nRAISE 'a grockle';\n", []string{`old/00003_a.sql:3: "grockle"`,
		`old/00003_a.sql:1: "from\n-- which"`}},
	{"old/00002_a.sql", "-- a grockle\n" + strings.Repeat("x", widest+1), nil},
	{"guide.md", "| plain | blorb |\n| a grockle |\n", []string{`guide.md:2: "grockle"`}},
	{"other.md", "| plain | blorb |\n", []string{`other.md:1: "blorb"`}},
	{"a.css", strings.Repeat("é", widest) + "\n", nil},
	{"a.css", strings.Repeat("x", widest+1) + "\n", []string{"a.css:1: 121 columns; the most are 120"}},
	{"a.yml", "\n" + strings.Repeat("x", widest+1), []string{"a.yml:2: 121 columns; the most are 120"}},
	{".ci/a", strings.Repeat("x", widest+1), []string{".ci/a:1: 121 columns; the most are 120"}},
	{"a.json", strings.Repeat("x", widest+1), nil},
	{"a.md", "|" + strings.Repeat("x", widest) + "\n", nil},
	{"a.md", "- " + strings.Repeat("x", widest) + "\n", []string{"a.md:1: 122 columns; the most are 120"}},
	{"a.gz", "grockle\xff", nil},
}

// sqlExamples are strings, and whether each is SQL.
var sqlExamples = map[string]bool{
	"SELECT id FROM players":                             true,
	"\n\tUPDATE players SET name = ?":                    true,
	"(SELECT 1)":                                         true,
	"EXISTS (SELECT 1 FROM matches AS m WHERE m.id = 1)": true,
	"players.id IN (1) AND players.name = ?":             true,
	"read players AND matches":                           false,
	"write FROM and TO as dates":                         false,
	"Set a date":                                         false,
	"Which player? Choose one":                           false,
}

// tryExamples is an error if the examples are not found as they say.
func tryExamples() error {
	for _, e := range examples {
		r, err := readRules(strings.NewReader(exampleRules))
		if err != nil {
			return err
		}
		c := check{rules: r}
		c.file(e.name, []byte(e.text))
		if !slices.Equal(c.findings, e.want) {
			return fmt.Errorf("%s, %q: found %q, want %q", e.name, e.text, c.findings, e.want)
		}
	}
	for text, want := range sqlExamples {
		if isSQL(text) != want {
			return fmt.Errorf("isSQL(%q) is %v", text, !want)
		}
	}
	for _, bad := range []string{"a\n", "[long]\n*.txt\n", "[allowed]\n*.txt reason\n", "[allowed]\n*.txt \"a\"\n",
		"[allowed]\n*.txt \"\" reason\n", "[said]\n(\n", "[unread]\na[ reason\n"} {
		if _, err := readRules(strings.NewReader(bad)); err == nil {
			return fmt.Errorf("the rules %q are read without an error", bad)
		}
	}
	r, err := readRules(strings.NewReader(exampleRules))
	if err != nil {
		return err
	}
	c := check{rules: r}
	c.file("a.html", []byte("<p>first</p>"))
	c.file("a.go", []byte("package a\n\nvar a, b = \"second\", \"SELECT third FROM all\"\n"))
	c.glossary("guide.md",
		"\n## Glossary\n| term | b | c |\n|---|---|---|\n| first | | |\n| second | | |\n| third | | |\n")
	c.needless()
	want := []string{`guide.md: the glossary has "third", and no page, message or description does`,
		".ci/words:8: nothing needs this allowance of old/0000[12]_*.sql: delete it",
		".ci/words:10: nothing needs this allowance of *.json: delete it",
		".ci/words:12: nothing needs this allowance of guide.md: delete it"}
	if !slices.Equal(c.findings, want) {
		return fmt.Errorf("glossary and allowances: found %q, want %q", c.findings, want)
	}
	return nil
}
