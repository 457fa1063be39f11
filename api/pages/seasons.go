package pages

import (
	"fmt"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// seasonsPage lists the seasons, each with its form.
type seasonsPage struct {
	Form    Form
	Seasons []models.Season
	After   map[int64]models.Season // the season that each was carried over to
}

func (p *Pages) seasons(c *gin.Context, who models.Who) error { return p.seasonsWith(c, who, Form{}) }

// seasonsWith is GET /seasons.
func (p *Pages) seasonsWith(c *gin.Context, who models.Who, form Form) error {
	if err := manages(who); err != nil {
		return err
	}
	page := seasonsPage{Form: form}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Seasons, err = tx.Seasons(models.SeasonFilter{}); err != nil {
			return err
		}
		all, err := tx.Memberships(models.MembershipFilter{})
		page.After = carriedTo(page.Seasons, all)
		return err
	})
	if err != nil {
		return fmt.Errorf("seasons: %w", err)
	}
	return p.render(c, form.status(), "seasons", "Seasons", page)
}

func seasonTyped(f *fields) models.Season {
	return models.Season{Name: f.text("name"), Starts: f.day("starts"), Ends: f.day("ends")}
}

// addSeason is POST /seasons.
func (p *Pages) addSeason(c *gin.Context, who models.Who, f *fields) (string, error) {
	s := seasonTyped(f)
	return "/seasons", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error { return tx.CreateSeason(&s) })
}

// changeSeason is POST /seasons/:id.
func (p *Pages) changeSeason(c *gin.Context, who models.Who, f *fields) (string, error) {
	season, err := id(c, "id")
	if err != nil {
		return "", err
	}
	s := seasonTyped(f)
	s.ID, s.Version = season, f.version()
	return "/seasons", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error { return tx.UpdateSeason(&s) })
}

// deleteSeason is POST /seasons/:id/delete.
func (p *Pages) deleteSeason(c *gin.Context, who models.Who, f *fields) (string, error) {
	season, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/seasons", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.DeleteSeason(season, f.version())
	})
}
