package store

import (
	"fmt"
	"slices"
	"strings"

	"throughline/models"
)

// comingOfAge returns the players around their eighteenth birthday whose own consents are to be asked for on a day, by
// the birthday. They are in a squad that day or later. It reads the whole academy.
func (tx *Tx) comingOfAge(today models.Date) ([]models.ComingOfAge, error) {
	first := models.MajorBornBy(today.AddDays(-models.BirthdayDays - 1)) // a day more: 29 February moves a birthday
	last := models.MajorBornBy(today.AddDays(models.BirthdayDays + 1))
	around, err := players().find(tx, where{}, that("players.born_on BETWEEN ? AND ?", first, last),
		that(`EXISTS (SELECT 1 FROM memberships AS part
			JOIN seasons AS its ON its.academy_id = part.academy_id AND its.id = part.season_id
			WHERE part.academy_id = players.academy_id AND part.player_id = players.id AND part.deleted_at IS NULL
			AND COALESCE(part.until_date, its.ends) >= ?)`, today))
	if err != nil || len(around) == 0 {
		return nil, err
	}
	rules, err := tx.settled()
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(around))
	for i, p := range around {
		ids[i] = p.ID
	}
	var given []models.Consent
	for some := range slices.Chunk(ids, idsAtOnce) {
		more, err := consents().find(tx, where{}, that("consents.player_id IN ?", some))
		if err != nil {
			return nil, err
		}
		given = append(given, more...)
	}
	var all []models.ComingOfAge
	for _, p := range around {
		if c, asked := rules.ComingOfAge(p, given, today); asked {
			all = append(all, c)
		}
	}
	slices.SortStableFunc(all, func(a, b models.ComingOfAge) int { return strings.Compare(string(a.On), string(b.On)) })
	return all, nil
}

// comingOfAgeItems are the players around their eighteenth birthday, for managers, who keep the consents.
func comingOfAgeItems(tx *Tx, today models.Date) ([]models.Item, error) {
	if tx.who.Reach(models.Write, models.AreaConsents) != models.ReachAcademy {
		return nil, nil
	}
	around, err := tx.comingOfAge(today)
	var all []models.Item
	for _, c := range around {
		all = append(all, models.Item{PlayerID: &c.Player.ID, About: "player", AboutID: c.Player.ID, Due: &c.On,
			Since: c.On.AddDays(-models.BirthdayDays), Text: c.Player.Name + " " + c.InWords(today),
			Link: fmt.Sprintf("/players/%d#consents", c.Player.ID)})
	}
	return all, err
}

// birthdays are those of them on the list of work whose birthday is to come. From then on what they have not signed is
// among the missing consents.
func (l *workList) birthdays() ([]models.Work, error) {
	around, err := l.tx.comingOfAge(l.today)
	var all []models.Work
	for _, c := range around {
		if l.today >= c.On {
			continue
		}
		all = append(all, models.Work{PlayerID: c.Player.ID, Name: c.Player.Name, Said: c.InWords(l.today),
			Do: "Print the consent form", Link: fmt.Sprintf("/players/%d/consent-form", c.Player.ID)})
	}
	return all, err
}
