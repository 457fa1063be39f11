package models

import (
	"strings"
	"testing"
)

// World Rugby, Laws of the Game: Law 5 (two halves of at most 40 minutes; under-19 variations: 35), Law 3 (15 players
// a side; match squads of up to 23, reached with 8 replacements) (from memory; check against the current edition).
func TestLawConstants(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want int
	}{
		{"halves (Law 5)", LawHalves, 2},
		{"minutes of a half (Law 5)", LawHalfMinutes, 40},
		{"minutes of a half, under 19 (variations to Law 5)", LawHalfMinutesUnder19, 35},
		{"players a side (Law 3)", LawPlayersASide, 15},
		{"match squad (Law 3)", LawMatchSquad, 15 + 8},
	} {
		if c.got != c.want {
			t.Errorf("%s: %d, want %d", c.name, c.got, c.want)
		}
	}
	full := Match{Halves: LawHalves, HalfMinutes: LawHalfMinutes}
	under19 := Match{Halves: LawHalves, HalfMinutes: LawHalfMinutesUnder19}
	if full.FullMatch() != 80 || under19.FullMatch() != 70 {
		t.Errorf("a full match lasts %d and %d minutes, want 80 and 70", full.FullMatch(), under19.FullMatch())
	}
}

// World Rugby, Laws of the Game, Law 14: a held carrier with a knee on the ground is tackled; Law 16: a maul that goes
// to ground is over (from memory). Who logs a carry is held to it.
func TestFinishOfACarryFollowsTheLawsOnTackleAndMaul(t *testing.T) {
	carry := func(finish string, details ...string) Involvement {
		i := Involvement{Clock: clk(1, 5, 0), Kind: KindCarry, Details: map[string]string{"finish": finish}}
		for n := 0; n < len(details); n += 2 {
			i.Details[details[n]] = details[n+1]
		}
		return i
	}
	for _, i := range []Involvement{
		carry("ground", "presentation", "long"), carry("held_up_then_ground", "presentation", "poor"), carry("maul"),
		carry("on_feet"),
	} {
		if err := i.Validate(); err != nil {
			t.Errorf("%v: %v", i.Details, err)
		}
	}
	for _, i := range []Involvement{
		carry("maul", "presentation", "long"), carry("on_feet", "presentation", "long"),
		carry("held_up_then_ground", "contact", "none"), carry("maul", "contact", "none"),
	} {
		if err := i.Validate(); CodeOf(err) != Invalid {
			t.Errorf("%v was not refused: %v", i.Details, err)
		}
	}
}

// The limits are common practice under the under-19 variations; the union's own come first.
func TestTheUnderAgeLimitsStandBesideEveryScrum(t *testing.T) {
	said := map[string]string{}
	for _, k := range Kinds() {
		if k.Code == KindScrum {
			said["kind"] = k.Definition
		}
	}
	for _, d := range DetailsOf(KindScrum) {
		if d.Code == "effect" {
			said["effect"] = d.Definition
		}
	}
	said["indicator"] = ScrumHint("scrums_kept")
	skill, _ := SkillOf("scrum")
	said["skill"] = skill.How
	for _, place := range []string{"kind", "effect", "indicator", "skill"} {
		for _, want := range []string{"push", "uncontested", "common practice", "check with your union"} {
			if !strings.Contains(said[place], want) {
				t.Errorf("%s: %q does not say %q", place, said[place], want)
			}
		}
	}
	if ScrumHint("lineout") != "" {
		t.Error("a lineout has the hint of a scrum")
	}
}
