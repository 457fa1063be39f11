package paper

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// missing stands where there is no number to print.
const missing = "–"

// Number prints x with a number of decimals, with a true minus sign and thousands set apart by a comma, and a dash for
// a number that is not there (NaN or infinite).
func Number(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return missing
	}
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	whole, fraction, _ := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if fraction != "" {
		whole += "." + fraction
	}
	if x < 0 && strings.Trim(s, "0.") != "" {
		return "−" + whole
	}
	return whole
}

// Scale is how numbers of one unit are printed: multiplied by Factor, with Decimals, followed by Suffix.
type Scale struct {
	Factor   float64
	Decimals int
	Suffix   string
}

// ScaleOf returns the scale of an indicator's unit: proportions as whole per cent, metres and seconds with one
// decimal, counts per phase, which are small, with two, counts per match with one decimal.
func ScaleOf(unit string) Scale {
	switch unit {
	case "%":
		return Scale{100, 0, "%"}
	case "m", "s":
		return Scale{1, 1, " " + unit}
	case "per phase":
		return Scale{1, 2, ""}
	}
	return Scale{1, 1, ""}
}

// Value prints one number with its suffix: "61%", "5.8 m".
func (s Scale) Value(x float64) string {
	n := Number(x*s.Factor, s.Decimals)
	if n == missing {
		return n
	}
	return n + s.Suffix
}

// Range prints an interval with one suffix: "48 to 73%".
func (s Scale) Range(lo, hi float64) string {
	a, b := Number(lo*s.Factor, s.Decimals), Number(hi*s.Factor, s.Decimals)
	if a == missing && b == missing {
		return missing
	}
	return a + " to " + b + s.Suffix
}

// Chance prints a probability as whole per cent that never claims certainty: "more than 99%" and "less than 1%" at the
// ends.
func Chance(p float64) string {
	switch {
	case math.IsNaN(p):
		return missing
	case p > 0.99:
		return "more than 99%"
	case p < 0.01:
		return "less than 1%"
	}
	return Number(100*p, 0) + "%"
}

// Day prints an ISO date as people say it, "12 Sep 2025", and anything else as it is.
func Day(iso string) string { return reformat(iso, "2 Jan 2006") }

// ShortDay prints an ISO date without its year, "12 Sep".
func ShortDay(iso string) string { return reformat(iso, "2 Jan") }

func reformat(iso, layout string) string {
	t, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return t.Format(layout)
}

// Plural prints a count and its noun: "1 match", "22 matches".
func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return Number(float64(n), 0) + " " + many
}

// And joins words as a sentence does: "a", "a and b", "a, b and c".
func And(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

// Lower puts a label inside a sentence: "Contact won" becomes "contact won".
func Lower(label string) string {
	if label == "" {
		return label
	}
	return strings.ToLower(label[:1]) + label[1:]
}

// Upper puts a label at the beginning of a sentence: "season report" becomes "Season report".
func Upper(label string) string {
	if label == "" {
		return label
	}
	return strings.ToUpper(label[:1]) + label[1:]
}

// Sentences returns the sentences of a text that fit in some words, and says with three dots that more follow. If the
// first is longer, it is Short.
func Sentences(text string, words int) string {
	all := strings.Fields(text)
	if len(all) <= words {
		return Short(text, words)
	}
	for i := words - 1; i >= 0; i-- {
		if strings.ContainsAny(all[i][len(all[i])-1:], ".!?") {
			return Short(strings.Join(all[:i+1], " "), words) + " …"
		}
	}
	return Short(text, words)
}

// Short returns the first words of a text, and says with three dots that more follow. A word longer than any in use
// counts as several.
func Short(text string, words int) string {
	all := strings.Fields(text)
	kept, left := []string{}, 10*words // letters, so that no text without spaces runs on
	for i, w := range all {
		letters := []rune(w)
		if i == words || left == 0 {
			return strings.Join(kept, " ") + " …"
		}
		if len(letters) > left {
			return strings.Join(append(kept, string(letters[:left])), " ") + "…"
		}
		kept, left = append(kept, w), left-len(letters)
	}
	return strings.Join(kept, " ")
}
