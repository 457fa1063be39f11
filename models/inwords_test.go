package models

import (
	"slices"
	"testing"
)

func TestOneOfWhatIsCountedIsSingular(t *testing.T) {
	for _, c := range []struct {
		code  string
		kind  Kind
		value float64
		want  string
	}{
		{"defenders_beaten", KindCarry, 1, "defenders beaten: 1 defender"},
		{"defenders_beaten", KindCarry, 0, "defenders beaten: 0 defenders"},
		{"defenders_held", KindPass, 1, "defenders held: 1 defender"},
		{"seconds_to_pass", KindPass, 1, "s"},
	} {
		words := Involvement{Kind: c.kind, Measures: map[string]float64{c.code: c.value}}.InWords()
		if c.want == "s" {
			if len(words) != 1 || words[0][len(words[0])-3:] != "1 s" {
				t.Errorf("%s of %v: %q; want it to end in \"1 s\"", c.code, c.value, words)
			}
		} else if !slices.Equal(words, []string{c.want}) {
			t.Errorf("%s of %v: %q; want %q", c.code, c.value, words, c.want)
		}
	}
}

func TestAMinutesLimitReadsInWholeMinutesAndDays(t *testing.T) {
	limit := MinutesLimit{Name: "The year", Minutes: 1500, WarnAt: 0.9}
	for _, c := range []struct {
		minutes float64
		want    string
	}{
		{1514.2, "over the limit “The year”: 1,514 of 1,500 minutes in the season up to 5 Apr 2026"},
		{1500.2, "over the limit “The year”: 1,501 of 1,500 minutes in the season up to 5 Apr 2026"},
		{1400.4, "near the limit “The year”: 1,400 of 1,500 minutes in the season up to 5 Apr 2026"},
		{1, "within the limit “The year”: at most 1 of 1,500 minutes in the season"},
	} {
		if _, got := limit.said(c.minutes, "2026-04-05", c.minutes, 0); got != c.want {
			t.Errorf("%v: %q; want %q", c.minutes, got, c.want)
		}
	}
}
