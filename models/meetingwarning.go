package models

import (
	"fmt"
	"slices"
	"strings"
)

// WarningKind says what a warning about a candidate is of.
type WarningKind string

// The kinds, in the order in which they are said.
const (
	WarnStandDown   WarningKind = "stand_down"
	WarnHeadContact WarningKind = "head_contact"
	WarnUnavailable WarningKind = "availability"
	WarnConsent     WarningKind = "consent"
	WarnMinutes     WarningKind = "minutes"
	WarnAge         WarningKind = "age_band"
	WarnFrontRow    WarningKind = "front_row"
)

// Codes lists the kinds.
func (WarningKind) Codes() []WarningKind {
	return []WarningKind{WarnStandDown, WarnHeadContact, WarnUnavailable, WarnConsent, WarnMinutes, WarnAge, WarnFrontRow}
}

// Area is what a reader must be allowed to read to be told a warning of the kind.
func (k WarningKind) Area() Area {
	switch k {
	case WarnStandDown, WarnHeadContact:
		return AreaSafety
	case WarnConsent:
		return AreaConsents
	}
	return AreaPlayers
}

// Warning is what must be known before a candidate is chosen.
type Warning struct {
	Kind WarningKind `json:"kind"`
	Text string      `json:"text"` // as a sentence
}

// WarningsFor returns the warnings that a caller may read.
func WarningsFor(who Who, all []Warning) []Warning {
	return slices.DeleteFunc(slices.Clone(all), func(w Warning) bool {
		return who.Reach(Read, w.Kind.Area()) == ReachNone
	})
}

// Warned is what the warnings about a candidate follow from.
type Warned struct {
	Day     Date // of the warnings
	Player  Player
	Place   Place
	Season  Season
	Squad   Squad // that the meeting is for
	Squads  map[int64]Squad
	Safety  Safety
	Spells  []Spell
	Members []Membership // of the player in the season
}

// Warnings are those about a candidate: stand-downs, availability, consents, minutes, the age band, and the front
// row's training.
func (w Warned) Warnings() []Warning {
	all := []Warning{}
	warn := func(kind WarningKind, format string, args ...any) {
		all = append(all, Warning{kind, fmt.Sprintf(format, args...)})
	}
	for _, d := range w.Safety.StandDowns {
		if d.LiftedOn == nil || *d.LiftedOn > w.Day {
			warn(WarnStandDown, "Stood down since %s: no match until a licensed practitioner has cleared the player.",
				d.From.inWords())
		}
	}
	if len(w.Safety.HeadContacts) > 0 {
		warn(WarnHeadContact, "A head contact is not yet reported to the medical lead.")
	}
	for _, s := range w.Spells {
		if s.Status == Available || s.Until != nil && *s.Until < w.Day {
			continue
		}
		until := ", with no end yet"
		if s.Until != nil {
			until = " until " + s.Until.inWords()
		}
		warn(WarnUnavailable, "%s from %s%s.", map[Availability]string{Unavailable: "Unavailable",
			Modified: "Trains or plays with limits"}[s.Status], s.From.inWords(), until)
	}
	for _, purpose := range ConsentPurposes() {
		if slices.Contains(w.Safety.Missing, purpose.Code) {
			warn(WarnConsent, "Missing consent from a guardian: %s.", strings.ToLower(purpose.Label[:1])+purpose.Label[1:])
		}
	}
	for _, l := range w.Safety.Loads {
		warn(WarnMinutes, "Minutes: %.0f of %.0f of the limit “%s”.", l.Now, l.Limit, l.Name)
	}
	if age := w.age(); age != "" {
		warn(WarnAge, "%s", age)
	}
	if w.Place.Group == GroupFrontRow || GroupOf(w.Place.Position) == GroupFrontRow {
		warn(WarnFrontRow, "Front row: check that the player is suitably trained for it, as the Laws and the union ask.")
	}
	return all
}

// age warns of playing up or down, empty for neither.
func (w Warned) age() string {
	band := w.Squad.AgeBand
	if band == 0 {
		return ""
	}
	const rules = "Playing up follows the union’s own rules: check them, and ask a guardian."
	member, lower := false, 0
	for _, m := range w.Members {
		member = member || m.SquadID == w.Squad.ID
		if b := w.Squads[m.SquadID].AgeBand; b > 0 && b < band {
			lower = b
		}
	}
	day := w.Squad.BandDay(w.Season)
	age, known := w.Player.AgeOn(day)
	switch {
	case !known:
		return fmt.Sprintf("The birth date is not recorded: check the age band, under %d.", band)
	case age >= band:
		return fmt.Sprintf("Was %d on %s: too old for under %d unless the competition allows it.", age, day.inWords(), band)
	case lower > 0 && !member:
		return fmt.Sprintf("Belongs to the under %ds; this is for under %d. %s", lower, band, rules)
	case lower > 0 || age <= band-3:
		return fmt.Sprintf("Was %d on %s; this is for under %d. %s", age, day.inWords(), band, rules)
	}
	return ""
}
