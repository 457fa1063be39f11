package models

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// name checks a one-line name of a person or thing: min to max characters, and nothing that a spreadsheet would run as
// a formula when the text is exported.
func (f *findings) name(where, s string, min, max int) {
	if !f.clean(where, s, false) || !f.length(where, s, min, max) || s == "" {
		return
	}
	first, _ := utf8.DecodeRuneInString(s)
	last, _ := utf8.DecodeLastRuneInString(s)
	switch {
	case strings.ContainsRune("=+-@＝＋－＠", first):
		f.add(where, "%q starts with %q, which a spreadsheet runs as a formula; start with a letter or a digit", clip(s),
			string(first))
	case unicode.IsSpace(first) || unicode.IsSpace(last):
		f.add(where, "%q starts or ends with a space; leave it out", clip(s))
	}
}

// text checks text of any number of lines, of min to max characters.
func (f *findings) text(where, s string, min, max int) {
	if f.clean(where, s, true) && f.length(where, s, min, max) && min > 0 && strings.TrimSpace(s) == "" {
		f.add(where, "is missing; write %d to %d characters", min, max)
	}
}

// clean finds characters that no text may have: broken UTF-8, NUL and other control characters, and marks that reverse
// the direction of the text, which would make a page show another text than the stored one. Only texts of several
// lines may have tabs and line ends.
func (f *findings) clean(where, s string, lines bool) bool {
	if !utf8.ValidString(s) {
		f.add(where, "is not valid UTF-8 text; save or send it as UTF-8")
		return false
	}
	for i, r := range s {
		if lines && (r == '\n' || r == '\r' || r == '\t') {
			continue
		}
		switch {
		case r == '\t' && i == 0:
			f.add(where, "starts with a tab, which a spreadsheet may run as a formula; start with a letter or a digit")
		case unicode.IsControl(r), r == '\u2028', r == '\u2029':
			f.add(where, "contains the control character %U; leave it out", r)
		case r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069', r == '\ufeff':
			f.add(where, "contains the invisible character %U; leave it out", r)
		default:
			continue
		}
		return false
	}
	return true
}

func (f *findings) length(where, s string, min, max int) bool {
	n := utf8.RuneCountInString(s)
	switch {
	case n == 0 && min > 0:
		f.add(where, "is missing; write %d to %d characters", min, max)
	case n < min:
		f.add(where, "has %d characters; write %d to %d", n, min, max)
	case n > max:
		f.add(where, "has %d characters; write at most %d", n, max)
	default:
		return true
	}
	return false
}

// slug checks a code that people or programs choose: lower case letters, digits and underscores, beginning with a
// letter.
func (f *findings) slug(where, s string) {
	ok := len(s) >= 1 && len(s) <= 60 && s[0] >= 'a' && s[0] <= 'z'
	for i := 0; ok && i < len(s); i++ {
		c := s[i]
		ok = c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '_'
	}
	if !ok {
		f.add(where, "%q is not a code; write 1 to 60 lower-case letters, digits and underscores, starting with a letter",
			clip(s))
	}
}

// key checks a key that a program chose: empty, or up to max visible ASCII characters.
func (f *findings) key(where, s string, max int) {
	ok := len(s) <= max
	for i := 0; ok && i < len(s); i++ {
		ok = s[i] > ' ' && s[i] < 0x7f
	}
	if !ok {
		f.add(where, "%q is not a key; write at most %d visible ASCII characters without spaces", clip(s), max)
	}
}

// list joins codes for a message.
func list[S ~string](codes []S) string {
	var b strings.Builder
	for i, c := range codes {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(string(c))
	}
	return b.String()
}

// unique refuses a second one of the same code.
func unique[S ~string](f *findings, where string, codes []S) {
	for i, c := range codes {
		if slices.Contains(codes[:i], c) {
			f.add(at(where, i), "%q is listed twice; list it once", clip(string(c)))
		}
	}
}

// at is the place of an element of a list.
func at(where string, i int) string { return where + "[" + strconv.Itoa(i) + "]" }

// date checks a day that must be there.
func (f *findings) date(where string, d Date) bool {
	if d == "" {
		f.add(where, "is missing; write a date such as 2026-09-05")
		return false
	}
	if err := d.Validate(); err != nil {
		f.add(where, "%s", err.Error())
		return false
	}
	return true
}

// dateIfAny checks a day that may be absent, and says whether it is there and right.
func (f *findings) dateIfAny(where string, d *Date) bool {
	return d != nil && f.date(where, *d)
}

// whole checks a whole number.
func (f *findings) whole(where string, n, min, max int) bool {
	if n >= min && n <= max {
		return true
	}
	f.add(where, "%d is not allowed; write %d to %d", n, min, max)
	return false
}

// finite is an error for NaN and infinities.
func (f *findings) finite(where string, v float64) bool {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		f.add(where, "is not a number")
		return false
	}
	return true
}

// ref checks the id of a record that must be named.
func (f *findings) ref(where string, id int64) {
	if id <= 0 {
		f.add(where, "is missing; give the id")
	}
}

// refIfAny checks the id of a record that may be named.
func (f *findings) refIfAny(where string, id *int64) {
	if id != nil && *id <= 0 {
		f.add(where, "%d is not an id; write a whole number from 1 up, or leave it out", *id)
	}
}

// groups checks the position groups that something suits.
func (f *findings) groups(where string, suits []Group) {
	for i, g := range suits {
		oneOf(f, at(where, i), g)
	}
	unique(f, where, suits)
}

// position checks a position, which may be empty.
func (f *findings) position(where string, p Position) {
	if p == "" || p.Label() != "" {
		return
	}
	oneOf(f, where, p)
}

// clip shortens text for a message to at most 60 characters.
func clip(s string) string {
	const most = 60
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	n := 0
	for i := range s {
		if n == most-1 {
			return s[:i] + "…"
		}
		n++
	}
	return s
}

// number formats a number for a message.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
