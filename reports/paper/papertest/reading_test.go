package papertest

import (
	"math"
	"slices"
	"testing"
)

// The syllables of words as dictionaries divide them, from memory.
var divided = map[int]string{
	1: "the you your match game ball played made time shows range most try tries tried half whole squad ground passed " +
		"caught kicked stayed goals score scores scored phase next grade grades line lines clear through worth worse " +
		"likes cause each those loose dropped helped come there where more one’s works share based side moved v",
	2: "level levels season matches figure figures tackle tackled tackles moving carry carries moment better minutes " +
		"number others middle likely practice places needed started wanted ruckwork contact lineout coaches under over " +
		"only many away open player player’s players choices passes pieces handle little table going being doing seeing " +
		"trying carried forwards body lifted into after before ahead support recent surely nearly careful useful " +
		"someone sometimes somewhere outside sideline balance quickly changes higher younger asked-for",
	3: "average improving recorded opponent completed presented decision physical following accurate video idea " +
		"area another however division effective penalty together percentage arrival arrivals remember involvement " +
		"attention penalised guardian position concussion previous media",
	4: "practitioner information ability academy reliable unusual available particular usually",
	5: "opportunity international university",
	6: "availability responsibility",
}

func TestSyllablesAreCountedAsTheyAreSpoken(t *testing.T) {
	for want, list := range divided {
		for _, w := range Words(list) {
			if got := Syllables(w); got != want {
				t.Errorf("%s: %d, want %d", w, got, want)
			}
		}
	}
}

func TestRunningTextIsWhatEndsAsASentence(t *testing.T) {
	page := `<head><title>A title.</title></head><h2>A heading</h2><p>You played 3.5 matches. Well done!</p>
		<ol><li><b>Lead</b> It went <i>up</i>.</li></ol><table><td>71%</td><td>Looks up,
		and passes.<small>not this</small></td></table><svg><text>No text.</text></svg><code>x.</code>`
	want := []string{"You played 3.5 matches.", "Well done!", "It went up.", "Looks up, and passes."}
	if got := Sentences(page); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// By hand: 3 sentences of 12 words and 13 syllables, and a number.
func TestEaseIsFleschs(t *testing.T) {
	got := Ease([]string{"You ran at a gap.", "It went well.", "Do it 12 again soon."})
	if want := 206.835 - 1.015*12/3 - 84.6*13/12; math.Abs(got-want) > 1e-9 {
		t.Errorf("%v, want %v", got, want)
	}
}
