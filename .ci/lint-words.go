//go:build ignore

// Lint-words finds the words of .ci/words in what people read: pages, messages, descriptions, flags and the guides. It
// also finds lines over 120 columns, and counts the comments that still need new words: the count in .ci/words may only
// fall. Run it from the top of the project: go run .ci/lint-words.go
package main

import (
	"bufio"
	"fmt"
	"go/scanner"
	"go/token"
	"os"
	"os/exec"
	"path"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

const widest = 120

// rules are the parts of .ci/words.
type rules struct {
	said, library []*regexp.Regexp
	allowed       []allowance
	comments      int
}

// An allowance lets a line of the files that match the pattern be, if it contains the text.
type allowance struct{ files, text string }

func (r rules) lets(file, line string) bool {
	for _, a := range r.allowed {
		match, err := path.Match(a.files, file)
		if (err == nil && match || strings.HasSuffix(a.files, "/") && strings.HasPrefix(file, a.files)) &&
			strings.Contains(line, a.text) {
			return true
		}
	}
	return false
}

func main() {
	r, err := read(".ci/words")
	if err != nil {
		fmt.Fprintln(os.Stderr, "lint-words:", err)
		os.Exit(2)
	}
	listed, err := exec.Command("git", "ls-files").Output()
	if err != nil {
		fmt.Fprintln(os.Stderr, "lint-words: git ls-files:", err)
		os.Exit(2)
	}
	c := check{rules: r}
	for _, file := range strings.Fields(string(listed)) {
		c.file(file)
	}
	c.glossary("DEVELOPERS.md")
	switch {
	case c.comments > r.comments:
		c.report("%d comments have words of .ci/words; there were %d: write the new ones otherwise", c.comments, r.comments)
	case c.comments < r.comments:
		c.report("only %d comments have words of .ci/words now: write %[1]d there in place of %d", c.comments, r.comments)
	}
	if c.found > 0 {
		fmt.Printf("lint-words: %d places\n", c.found)
		os.Exit(1)
	}
}

// read reads the list: a line each, under the headings [said], [library], [allowed] and [comments].
func read(file string) (r rules, err error) {
	in, err := os.Open(file)
	if err != nil {
		return r, err
	}
	defer in.Close()
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
		switch heading {
		case "[said]", "[library]":
			e, err := regexp.Compile(`(?i)` + line)
			if err != nil {
				return r, fmt.Errorf("%s, line %d: %w", file, n, err)
			}
			if heading == "[said]" {
				r.said = append(r.said, e)
			} else {
				r.library = append(r.library, e)
			}
		case "[allowed]":
			files, text, _ := strings.Cut(line, " ")
			r.allowed = append(r.allowed, allowance{files, text})
		case "[comments]":
			if r.comments, err = strconv.Atoi(line); err != nil {
				return r, fmt.Errorf("%s, line %d: %q is not a number", file, n, line)
			}
		default:
			return r, fmt.Errorf("%s, line %d: stands under no heading", file, n)
		}
	}
	return r, lines.Err()
}

type check struct {
	rules
	found, comments int
	read            strings.Builder // all that people read, in lower case
}

// glossary finds terms of the guide's glossary that nothing uses.
func (c *check) glossary(guide string) {
	text, err := os.ReadFile(guide)
	if err != nil {
		c.report("%s: %v", guide, err)
		return
	}
	_, table, found := strings.Cut(string(text), "\n## Glossary\n")
	terms := 0
	for _, row := range strings.Split(table, "\n") {
		cells := strings.Split(row, "|")
		if len(cells) != 5 || strings.HasPrefix(cells[1], "---") || strings.TrimSpace(cells[1]) == "term" {
			continue
		}
		terms++
		if term := strings.TrimSpace(cells[1]); !strings.Contains(c.read.String(), term) {
			c.report("%s: the glossary has %q, and no page, message or description does", guide, term)
		}
	}
	if !found || terms == 0 {
		c.report("%s: there is no glossary with a table of terms", guide)
	}
}

func (c *check) report(format string, args ...any) {
	c.found++
	fmt.Printf(format+"\n", args...)
}

// file reads one file by its kind.
func (c *check) file(name string) {
	kind := path.Ext(name)
	data, err := os.ReadFile(name)
	if err != nil || !utf8.Valid(data) {
		return // deleted, or not a text
	}
	lines := strings.Split(string(data), "\n")
	switch kind {
	case ".go", ".html", ".css", ".js", ".sql", ".md", "":
		for i, line := range lines {
			row := kind == ".md" && strings.HasPrefix(line, "|") // a table's row cannot be broken
			if utf8.RuneCountInString(line) > widest && !row && !c.lets(name, line) {
				c.report("%s:%d: %d columns; the most are %d", name, i+1, utf8.RuneCountInString(line), widest)
			}
		}
	}
	switch kind {
	case ".html":
		c.read.WriteString(strings.ToLower(string(data)))
	}
	switch kind {
	case ".html", ".md":
		for i, line := range lines {
			c.words(c.said, name, i+1, line)
		}
	case ".go":
		c.code(name, data)
	}
}

// code reads the strings and comments of a file of Go. What a test expects a person to read is read for texts of
// libraries only.
func (c *check) code(name string, data []byte) {
	said := c.said
	if strings.HasSuffix(name, "_test.go") {
		said = nil
	}
	set := token.NewFileSet()
	file := set.AddFile(name, set.Base(), len(data))
	var s scanner.Scanner
	s.Init(file, data, nil, scanner.ScanComments)
	for {
		at, kind, text := s.Scan()
		switch kind {
		case token.EOF:
			return
		case token.STRING:
			if !statement.MatchString(text) {
				if said != nil {
					c.read.WriteString(strings.ToLower(text))
				}
				c.words(said, name, file.Line(at), text)
				c.words(c.library, name, file.Line(at), text)
			}
		case token.COMMENT:
			for _, e := range c.said {
				c.comments += len(e.FindAllString(text, -1))
			}
		}
	}
}

// statement is what only SQL has.
var statement = regexp.MustCompile(`\b(SELECT|FROM|WHERE|JOIN|EXISTS|UPDATE|INSERT|AND)\b`)

func (c *check) words(banned []*regexp.Regexp, file string, line int, text string) {
	for _, e := range banned {
		if word := e.FindString(text); word != "" && !c.lets(file, text) {
			c.report("%s:%d: %q", file, line, word)
		}
	}
}
