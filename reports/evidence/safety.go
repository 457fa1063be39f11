package evidence

import (
	"fmt"

	"throughline/models"
	"throughline/reports/paper"
)

// SafetySource is what ReadSafety reads.
type SafetySource interface {
	Safety(player, season int64, day models.Date) (models.Safety, error)
}

// ReadSafety reads what must be known before any figure: for staff the head contacts not yet reported to the medical
// lead, stand-downs and missing consents; for the player that they are stood down. The cautions say how near the
// player is now to the academy's limits of minutes.
func (p *Player) ReadSafety(src SafetySource, day models.Date) error {
	s, err := src.Safety(p.Person.ID, p.Season.ID, day)
	if err != nil {
		return err
	}
	p.Alerts = []string{}
	alert := func(format string, args ...any) { p.Alerts = append(p.Alerts, fmt.Sprintf(format, args...)) }
	own := p.Edition == PlayerEdition
	if !own {
		for _, a := range s.Actions {
			alert("%s. The squad’s lead coach or a manager settles it on the player’s page.", a.InWords())
		}
		for _, h := range s.HeadContacts {
			alert("Head contact on %s, not yet reported to the medical lead. %s", paper.Day(string(h.Date)), h.AskOn(day))
		}
	}
	for _, d := range s.StandDowns {
		until := "until it is lifted"
		if d.LiftedOn != nil {
			until = "until " + paper.Day(string(*d.LiftedOn))
		}
		if own {
			alert("You are stood down from %s %s. You do not play in that time. The union’s return-to-play protocol and a "+
				"licensed practitioner decide when you come back. There is no hurry, and nothing here counts against you.",
				paper.Day(string(d.From)), until)
			continue
		}
		alert("Stood down from %s %s: the player appears in no match. A manager lifts it and names the licensed "+
			"practitioner who cleared the player under the union’s return-to-play protocol.",
			paper.Day(string(d.From)), until)
	}
	if own {
		return nil
	}
	for _, purpose := range models.ConsentPurposes() {
		for _, missing := range s.Missing {
			if missing == purpose.Code {
				alert("Missing consent from a guardian: %s. %s", paper.Lower(purpose.Label), purpose.Blocks)
			}
		}
	}
	for _, l := range s.Loads {
		window := "in the season"
		if l.Days > 0 {
			window = "within " + paper.Plural(l.Days, "day", "days")
		}
		near := map[models.LoadWarning]string{models.LoadNear: "are near", models.LoadOver: "are over",
			models.LoadUnknown: "may be near or over"}[l.WarningNow]
		missing := ""
		if n := l.UnrecordedNow; n > 0 {
			missing = " Minutes were not recorded in " + paper.Plural(n, "match", "matches") + " and are not included."
		}
		p.Loads = append(p.Loads, fmt.Sprintf("Minutes for all of the player’s teams %s the limit “%s”: %s of %s %s, "+
			"up to %s.%s The governing body’s limits come before any plan made from these figures.",
			near, l.Name, paper.Number(l.Now, 0), paper.Number(l.Limit, 0), window, paper.Day(string(day)), missing))
	}
	return nil
}
