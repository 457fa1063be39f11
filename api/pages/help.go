package pages

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// helpPage says what the reader's role does here, and what each word and number means.
type helpPage struct {
	Role       models.Role
	Kinds      []kindHelp // for those who log, or read logs
	Indicators []models.Indicator
	Skills     []models.Skill
}

// kindHelp is a kind of involvement with its details.
type kindHelp struct {
	models.KindInfo
	Details []models.Detail
}

// help is GET /help.
func (p *Pages) help(c *gin.Context, who models.Who) error {
	page := helpPage{Role: who.Role}
	if who.Role == models.RoleOperator {
		return p.render(c, http.StatusOK, "help", "Help", page)
	}
	for _, k := range models.Kinds() {
		page.Kinds = append(page.Kinds, kindHelp{k, models.DetailsOf(k.Code)})
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Indicators, err = tx.Indicators(); err != nil {
			return err
		}
		page.Skills, err = tx.Skills()
		return err
	})
	if err != nil {
		return fmt.Errorf("page of help: %w", err)
	}
	return p.render(c, http.StatusOK, "help", "Help", page)
}
