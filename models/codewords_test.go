package models

import "testing"

func TestACodeIsReadAsItsLabelAndEveryOtherTextAsItIs(t *testing.T) {
	for text, want := range map[string]string{"attack_ruck": "Attack ruck", "own_22": "Own 22", "not_chosen": "not chosen",
		"support_lines": "Support lines", "won": "won", "Watch clip_2 again.": "Watch clip_2 again.", "": ""} {
		if got := CodeInWords(text); got != want {
			t.Errorf("%q is read as %q, want %q", text, got, want)
		}
	}
}
