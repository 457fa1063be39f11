package pages

import (
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// helpPage says what the reader's role does here, and what each word and number means.
type helpPage struct {
	Role       models.Role
	Alone      bool       // only what the role does, to print
	Parts      []part     // that can be printed alone
	Kinds      []kindHelp // for those who log, or read logs
	Indicators []models.Indicator
	Skills     []models.Skill
}

// part is what a role does here, by its address.
type part struct{ Name, Address string }

// helpRoles are the roles that have a part of their own.
var helpRoles = []models.Role{models.RoleManager, models.RoleCoach, models.RoleSelector, models.RolePlayer}

// kindHelp is a kind of involvement with its details.
type kindHelp struct {
	models.KindInfo
	Details []models.Detail
}

// help is GET /help; with ?for= it has only what that role does, on a page to print.
func (p *Pages) help(c *gin.Context, who models.Who) error {
	page := helpPage{Role: who.Role}
	if role := models.Role(c.Query("for")); role != "" {
		if role != who.Role && !slices.Contains(helpRoles, role) {
			return models.Errorf(models.NotFound, "there is no help for that role")
		}
		return p.render(c, http.StatusOK, "help", "Help", helpPage{Role: role, Alone: true})
	}
	for _, role := range helpRoles {
		if role == who.Role || who.Role == models.RoleManager {
			page.Parts = append(page.Parts, part{string(role), "/help?for=" + string(role)})
		}
	}
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
