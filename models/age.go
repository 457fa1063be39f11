package models

import "fmt"

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
