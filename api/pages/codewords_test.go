package pages

import "testing"

// An error on a page says codes in words, and what was typed as it was typed.
func TestAnErrorSaysCodesInWords(t *testing.T) {
	for message, want := range map[string]string{
		"5 is more than the 3 of tackles_attempted": "5 is more than the 3 of tackles attempted",
		`"attack_ruck" is unknown; allowed are attack_ruck, carry`: `"attack_ruck" is unknown; allowed are attack ruck, ` +
			"carry",
		"“my_word” is not a position": "“my_word” is not a position",
	} {
		if got := codesInWords(message); got != want {
			t.Errorf("%s: %s; want %s", message, got, want)
		}
	}
}
