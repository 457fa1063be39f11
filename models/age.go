package models

import (
	"fmt"
	"strings"
)

// AgeOn returns the age in completed years on a day, and whether it is known: it is not where the birth date is not
// recorded, or is later than the day.
//
// An age is attained at the beginning of the birthday (England's Family Law Reform Act 1969, s. 9, from memory).
// A person born on 29 February has their birthday on 1 March in years without that day (*common practice*).
func (p Player) AgeOn(day Date) (years int, known bool) {
	if p.BornOn == nil {
		return 0, false
	}
	born, err := p.BornOn.Time()
	if err != nil {
		return 0, false
	}
	on, err := day.Time()
	if err != nil || on.Before(born) {
		return 0, false
	}
	years = on.Year() - born.Year()
	if on.Month() < born.Month() || on.Month() == born.Month() && on.Day() < born.Day() {
		years--
	}
	return years, true
}

// MinorOn says whether the player is to be protected as a minor on a day: under Majority, or of an age that is not
// known. What is not recorded is never read as no.
func (p Player) MinorOn(day Date) bool {
	years, known := p.AgeOn(day)
	return !known || years < Majority
}

// ComesOfAge returns the day from which the player consents for themselves: their eighteenth birthday. It is false
// where the birth date is not recorded.
func (p Player) ComesOfAge() (Date, bool) {
	if p.BornOn == nil {
		return "", false
	}
	born, err := p.BornOn.Time()
	if err != nil {
		return "", false
	}
	return DateOf(born.AddDate(Majority, 0, 0)), true // 29 February gives 1 March, as in AgeOn
}

// BirthdayDays is how many days before a player comes of age their own consents are asked for, and for how many days
// after it managers are reminded.
const BirthdayDays = 31

// ComingOfAge is a player around their eighteenth birthday, whose own consents are to be asked for.
type ComingOfAge struct {
	Player Player
	On     Date      // the birthday
	Lacks  []Purpose // the consents that the academy requires and the player has not given themselves
}

// ComingOfAge says whether a player's own consents are to be asked for on a day: from BirthdayDays before the birthday,
// because a guardian's consent and the guardian's print end with it, and until BirthdayDays after it. What the academy
// requires settles it, as soon as the player's own consents from the birthday on are on file. Where the academy
// requires none, it only says that the print ends, and goes on the birthday.
func (s Settings) ComingOfAge(p Player, consents []Consent, today Date) (ComingOfAge, bool) {
	on, known := p.ComesOfAge()
	if !known || today < on.AddDays(-BirthdayDays) || today > on.AddDays(BirthdayDays) {
		return ComingOfAge{}, false
	}
	c := ComingOfAge{Player: p, On: on}
	for _, purpose := range s.Requires {
		if holding(p, consents, purpose, BySelf, max(on, today), today) == nil {
			c.Lacks = append(c.Lacks, purpose)
		}
	}
	return c, len(c.Lacks) > 0 || today < on && len(s.Requires) == 0
}

// InWords says what is to be done, after the player's name.
func (c ComingOfAge) InWords(today Date) string {
	var labels []string
	for _, purpose := range c.Lacks {
		info, _ := purposeOf(purpose)
		labels = append(labels, info.Label)
	}
	asked := strings.Join(labels, ", ")
	switch {
	case today >= c.On:
		return "turned 18 on " + c.On.InWords() + "; the player’s own consents are missing: " + asked
	case asked == "":
		return "turns 18 on " + c.On.InWords() + "; the guardian’s print ends that day"
	}
	return "turns 18 on " + c.On.InWords() + "; the guardian’s consents and print end that day. Ask the player to " +
		"sign for: " + asked
}

// MajorBornBy returns the latest birth date of those who are of age on a day, so that a query can say what MinorOn
// says.
func MajorBornBy(day Date) Date {
	t, err := day.Time()
	if err != nil {
		return ""
	}
	if t.Month() == 2 && t.Day() == 29 {
		t = t.AddDate(0, 0, -1) // a player born on 1 March comes of age tomorrow, and 18 years ago was no leap year
	}
	return DateOf(t.AddDate(-Majority, 0, 0))
}

// ageInWords says how old the player is on a day, for a message.
func (p Player) ageInWords(day Date) string {
	if years, known := p.AgeOn(day); known {
		return fmt.Sprintf("%s is %d on %s", p.Name, years, day)
	}
	return fmt.Sprintf("%s has no birth date on file, so they count as a minor on %s", p.Name, day)
}
