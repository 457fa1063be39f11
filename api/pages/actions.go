package pages

import (
	"fmt"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// LostAction is what was wrong with the form of an action that no longer waits: its form is not on the page any more.
func (page playerPage) LostAction() []errorLine {
	for _, a := range page.Safety.Actions {
		if page.Form.Name == fmt.Sprintf("action-%d", a.ID) {
			return nil
		}
	}
	if !strings.HasPrefix(page.Form.Name, "action-") {
		return nil
	}
	return page.Form.summary()
}

// settleAction is POST /players/:player/actions/:id/settle: what was done before the player went back into contact.
func (p *Pages) settleAction(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	action, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return playerAddress(player), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		a, err := tx.ContactAction(action)
		if err != nil {
			return err
		}
		if a.PlayerID != player {
			return models.Errorf(models.NotFound, "there is no such action")
		}
		_, err = tx.SettleContactAction(action, f.text("word"))
		return err
	})
}
