package papertest

import (
	"html"
	"regexp"
	"strings"
	"unicode"
)

// Ease returns the Flesch reading ease of sentences:
//
//	206.835 − 1.015 · words ÷ sentences − 84.6 · syllables ÷ words
//
// 70 to 80 is fairly easy, for readers of about thirteen. Source: Flesch 1948, A new readability yardstick, J Applied
// Psychology 32, 221–233. Numbers are left out, as they would make any text easy; a word with hyphens is one word.
func Ease(sentences []string) float64 {
	words, syllables := 0, 0 // without numbers
	for _, s := range sentences {
		for _, w := range Words(s) {
			if !strings.ContainsFunc(w, unicode.IsLetter) {
				continue
			}
			words++
			syllables += Syllables(w)
		}
	}
	if words == 0 {
		return 0
	}
	return 206.835 - 1.015*float64(words)/float64(len(sentences)) - 84.6*float64(syllables)/float64(words)
}

var (
	unread   = regexp.MustCompile(`(?is)<(head|svg|code|style|script)\b.*?</(head|svg|code|style|script)>`)
	blocks   = regexp.MustCompile(`(?i)</?(p|li|[uod]l|dd|dt|h\d|td|th|tr|caption|figcaption|summary|small|br?)\b[^>]*>`)
	tags     = regexp.MustCompile(`<[^>]*>`)
	sentence = regexp.MustCompile(`[.!?]["”’)]*\s+`)
)

// Sentences returns the sentences that a page or a file shows as running text: of each block of text, a cell of a table
// among them, that ends as a sentence does. Headings, labels, numbers and formulas are none.
func Sentences(page string) (all []string) {
	text := blocks.ReplaceAllString(unread.ReplaceAllString(page, "\x00"), "\x00")
	for _, block := range strings.Split(html.UnescapeString(tags.ReplaceAllString(text, "")), "\x00") {
		block = strings.Join(strings.Fields(block), " ")
		if !strings.HasSuffix(strings.TrimRight(block, `"”’)`), ".") && !strings.HasSuffix(block, "?") &&
			!strings.HasSuffix(block, "!") {
			continue
		}
		from := 0
		for _, end := range sentence.FindAllStringIndex(block, -1) {
			all = append(all, strings.TrimSpace(block[from:end[1]]))
			from = end[1]
		}
		all = append(all, block[from:])
	}
	return all
}

// Words returns the words and numbers of a sentence.
func Words(s string) (all []string) {
	for _, w := range strings.Fields(s) {
		if strings.ContainsFunc(w, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) {
			all = append(all, w)
		}
	}
	return all
}

// Syllables counts the syllables of a word by its spelling. It is never none.
func Syllables(word string) int {
	n := 0
	for _, part := range strings.FieldsFunc(strings.ToLower(word), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if part == "s" || part == "t" || part == "re" || part == "ll" || part == "ve" { // after an apostrophe
			continue
		}
		n += spoken(part)
	}
	return max(1, n)
}

// Endings before which a silent e stays silent, in compounds too.
var endings = []string{"ly", "ful", "ment", "ments", "less", "ness", "line", "out", "times", "where", "one", "thing"}

var (
	vowels = regexp.MustCompile(`[aeiouy]+`)
	// like a consonant: the y of player, the u of quick and guard
	between   = regexp.MustCompile(`([aeiou])y([aeiou])`)
	afterward = regexp.MustCompile(`([qg])u([aeiou])`)
	silent    = regexp.MustCompile(`([^aeiouyl]|[aeiouy]l)es?$|([^aeiouydtl]|[aeiouy]l)ed$|[aeiou]#ed$`)
	sounded   = regexp.MustCompile(`([sxzcg]|[cs]h)es$`) // matches, places
	apart     = regexp.MustCompile(`[^ctsgx]i[ao]|eos?$|iu|ua[lt]|[aeiouy]ing|ism$|crea|(ide|are)as?$`)
)

// spoken counts the vowels that are heard: groups of them, without a silent e, and with those that are spoken apart.
func spoken(word string) int {
	for _, end := range endings {
		if rest, has := strings.CutSuffix(word, end); has && len(rest) > 2 && strings.HasSuffix(rest, "e") {
			return spoken(rest) + spoken(end)
		}
	}
	word = afterward.ReplaceAllString(between.ReplaceAllString(word, "$1#$2"), "$1$2")
	n := len(vowels.FindAllString(word, -1)) + len(apart.FindAllString(word, -1))
	if silent.MatchString(word) && !sounded.MatchString(word) {
		n--
	}
	return max(1, n)
}
