package rest

import (
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
)

// Patterns of text, as regular expressions that JSON Schema, Go and JavaScript read alike (JSON Schema 2020-12 Core
// §6.4). Each says less than Validate does, and never more.
const (
	slugPattern  = `^[a-z][a-z0-9_]{0,59}$`
	codePattern  = `^[a-z][a-z0-9_]*$` // of a filter, whose length is told apart
	keyPattern   = `^[!-~]*$`
	loginPattern = `^[^\sA-Z]+$`
	dayPattern   = `^(19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}$` // the years that models.Date allows
	timePattern  = `^([01][0-9]|2[0-3]):[0-5][0-9]$`
	// namePattern is text of one line that a spreadsheet does not run as a formula.
	namePattern = `^([^\s=+@＝＋－＠-]([^\n\r]*\S)?)?$`
)

// inWords says what a pattern asks for.
var inWords = map[string]string{
	slugPattern:  "a code: 1 to 60 lower-case letters, digits and underscores, starting with a letter",
	codePattern:  "a code: lower-case letters, digits and underscores, starting with a letter",
	keyPattern:   "a key: visible ASCII characters without spaces",
	loginPattern: "a username: lower-case letters, digits and . _ - @",
	dayPattern:   "a date from 1900-01-01 to 2199-12-31, such as 2026-09-05",
	timePattern:  "a time of day: hours and minutes on a clock of 24 hours, such as 18:30",
	namePattern:  "a name: one line that starts with a letter or a digit and does not end with a space",
}

// patternOf is what a text looks like, by the form of its limit; "" where any will do. A code that may be left out may
// be empty.
func patternOf(l models.Limit) string {
	switch {
	case l.Form == models.LimitName:
		return namePattern
	case l.Form == models.LimitLogin:
		return loginPattern
	case l.Form == models.LimitKey:
		return keyPattern
	case l.Form == models.LimitSlug && l.Least > 0:
		return slugPattern
	}
	return ""
}

// day stands in for a date.
type day string

// Schema says what a date looks like.
func (day) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Format: "date", Pattern: dayPattern}
}

// dated gives parameters that are dates the limits of dates.
func dated(params []*huma.Param) {
	for _, p := range params {
		if p.Schema != nil && p.Schema.Format == "date" {
			p.Schema.Pattern = dayPattern
			p.Schema.PrecomputeMessages()
		}
	}
}

// patternInWords turns the library's message on a pattern into ours.
func patternInWords(message string) (string, bool) {
	pattern, ok := strings.CutPrefix(message, "expected string to match pattern ")
	words := inWords[pattern]
	return "is not " + words, ok && words != ""
}
