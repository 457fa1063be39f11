package rest

import (
	"net/http"
	"slices"
	"testing"
)

// RFC 9110 §8.8.3 says what an entity tag is, §13.1.1 and §13.1.2 what If-Match and If-None-Match may hold, §8.8.3.2
// how tags are compared: the last four rows are its table.
func TestConditionsAreReadAsInRFC9110(t *testing.T) {
	for _, c := range []struct {
		lines []string
		list  []string
		any   bool
		bad   bool
	}{
		{lines: []string{`"1"`}, list: []string{`"1"`}},
		{lines: []string{`"xyzzy", "r2d2xxxx", "c3piozzzz"`}, list: []string{`"xyzzy"`, `"r2d2xxxx"`, `"c3piozzzz"`}},
		{lines: []string{`"1"`, `"2"`}, list: []string{`"1"`, `"2"`}},
		{lines: []string{`W/"1" ,"2"`}, list: []string{`W/"1"`, `"2"`}},
		{lines: []string{`"a,b","W/"`}, list: []string{`"a,b"`, `"W/"`}},
		{lines: []string{`""`}, list: []string{`""`}},
		{lines: []string{`,"1",,`}, list: []string{`"1"`}}, // RFC 9110 §5.6.1.2: a recipient passes over empty elements
		{lines: []string{" * "}, any: true},
		{lines: []string{`*, "1"`}, bad: true},
		{lines: []string{`1`}, bad: true}, {lines: []string{`"1`}, bad: true}, {lines: []string{`w/"1"`}, bad: true},
		{lines: []string{`"1" "2"`}, bad: true},
		{lines: []string{"\"a b\""}, bad: true}, {lines: []string{`W/`}, bad: true},
	} {
		got, err := tagsOf(http.Header{"If-Match": c.lines}, "If-Match")
		if (err != nil) != c.bad || err == nil && (!slices.Equal(got.list, c.list) || got.any != c.any || !got.sent) {
			t.Errorf("%q: %+v, %v; want %q, any: %v, refused: %v", c.lines, got, err, c.list, c.any, c.bad)
		}
	}
	if got, err := tagsOf(http.Header{}, "If-Match"); err != nil || got.sent || got.any || got.strong(`"1"`) {
		t.Errorf("without the header: %+v, %v; want nothing", got, err)
	}
	for _, c := range []struct {
		sent, tag    string
		strong, weak bool
	}{
		{`W/"1"`, `"2"`, false, false}, {`W/"1"`, `"1"`, false, true}, {`"1"`, `"1"`, true, true}, {`*`, `"1"`, true, true},
	} {
		got, err := tagsOf(http.Header{"If-Match": {c.sent}}, "If-Match")
		if err != nil || got.strong(c.tag) != c.strong || got.weak(c.tag) != c.weak {
			t.Errorf("%s and %s: strong %v, weak %v, %v; want %v and %v", c.sent, c.tag, got.strong(c.tag), got.weak(c.tag),
				err, c.strong, c.weak)
		}
	}
}
