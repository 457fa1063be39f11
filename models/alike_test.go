package models

import "testing"

// Distances from the worked examples of the Levenshtein distance, such as kitten and sitting: Wagner & Fischer 1974;
// from memory.
func TestSlipsBetweenNames(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"flaw", "lawn", 2}, {"saturday", "sunday", 3}, {"", "ab", 2}, {"oakes", "oakes", 0}} {
		if got := slipsBetween([]rune(c.a), []rune(c.b), 9); got != c.want {
			t.Errorf("between %q and %q: %d, want %d", c.a, c.b, got, c.want)
		}
		if got := slipsBetween([]rune(c.a), []rune(c.b), 1); (got <= 1) != (c.want <= 1) {
			t.Errorf("between %q and %q, one at the most: %d", c.a, c.b, got)
		}
	}
}

func TestWhichPlayersLookAlike(t *testing.T) {
	born := func(day Date) *Date { return &day }
	for _, c := range []struct {
		a, b           string
		bornA, bornB   *Date
		looksAlike     bool
		forThisBecause string
	}{
		{"bram oakes", "oakes bram", nil, born("2008-10-03"), true, "an import may turn a name round"},
		{"bram oakes", "bram oakes", born("2008-10-03"), born("2008-03-10"), true, "a birth date may be mistyped"},
		{"bram oakes", "bram oaks", nil, nil, true, "one slip"},
		{"bram oakes", "abraham oakes", born("2008-10-03"), born("2008-10-03"), true, "one birth date, one last name"},
		{"bram oakes", "bran oaks", nil, nil, false, "two slips in a short name"},
		{"bram oakes", "bram oaks", born("2008-10-03"), born("2010-01-30"), false, "they may be brothers"},
		{"bram oakes", "tove lind", nil, nil, false, "nothing is alike"},
	} {
		if got := Alike(Player{BornOn: c.bornA}, Player{BornOn: c.bornB}, c.a, c.b); (got != "") != c.looksAlike {
			t.Errorf("%s and %s: %q; %s", c.a, c.b, got, c.forThisBecause)
		}
	}
}
