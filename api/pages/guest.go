package pages

import (
	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// addGuest is POST /matches/:match/guests: it puts a player of another squad on the team sheet, or someone who is not
// of the academy, of whom it makes a record in no squad.
func (p *Pages) addGuest(c *gin.Context, who models.Who, f *fields) (string, error) {
	next, err := p.onMatch(c, who, func(tx *store.Tx, m models.Match) error {
		if who.Reach(models.Write, models.AreaPlayers) != models.ReachAcademy {
			return models.Errorf(models.Forbidden, "only managers add guests to a team sheet")
		}
		line := sheetLine{Number: 1, Shirt: f.text("shirt"), On: f.text("on"), Off: f.text("off"),
			Position: f.text("position")}
		if line.On == "" {
			line.On = "0"
		}
		a, stint, wrong := line.read(m)
		f.wrong = append(f.wrong, wrong...)
		player := f.idIfAny("player_id")
		name := f.text("name")
		switch {
		case player == nil && name == "":
			f.refuse("name", "choose a player of another squad, or write the name of a new guest")
		case player != nil && name != "":
			f.refuse("name", "you chose a player already; leave this empty, or choose none")
		}
		if err := f.err(); err != nil {
			return err
		}
		if player == nil {
			guest := models.Player{Name: name, BornOn: f.dayIfAny("born_on")}
			if a.Position != "" {
				guest.Positions = []models.Position{a.Position}
			}
			if err := tx.CreatePlayer(&guest); err != nil {
				return err
			}
			player = &guest.ID
		}
		starts := stint.On.Second == 0
		a.MatchID, a.PlayerID, a.Stints, a.Started = m.ID, *player, []models.Stint{*stint}, &starts
		return tx.CreateAppearance(&a)
	})
	return next + "#sheet", err
}
