package models

// majority is the age at which a player is no minor any more: that of the Convention on the Rights of the Child, article 1.
const majority = 18

// AgeOn returns how many years old the player is on a day, and false where the day of birth is not recorded.
func (p Player) AgeOn(day Date) (years int, known bool) {
	if p.BornOn == nil {
		return 0, false
	}
	born, err := p.BornOn.Time()
	if err != nil {
		return 0, false
	}
	on, err := day.Time()
	if err != nil {
		return 0, false
	}
	years = on.Year() - born.Year()
	if born.AddDate(years, 0, 0).After(on) {
		years--
	}
	return years, true
}

// MinorOn says whether the player is a minor on a day. One whose day of birth is not recorded is taken for one.
func (p Player) MinorOn(day Date) bool {
	years, known := p.AgeOn(day)
	return !known || years < majority
}
