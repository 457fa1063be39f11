package pages

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// workPage is the academy's list of work, with a count for each kind.
type workPage struct {
	Counts []models.WorkCount
	Left   int  // how much there is in all
	Season bool // one has begun or is to come
}

// Short is what the home page says: the kinds with a count above zero.
func (w workPage) Short() (some []models.WorkCount) {
	for _, c := range w.Counts {
		if c.N > 0 {
			some = append(some, c)
		}
	}
	return some
}

// workKindPage is the work of one kind.
type workKindPage struct {
	models.WorkInfo
	All []models.Work
	// for missing consents: the squads for which they are entered together
	Squads []paper.Cell
	Next   []models.WorkCount // the other kinds with a count above zero
}

// readWork counts what waits in the academy.
func (p *Pages) readWork(tx *store.Tx) (w workPage, err error) {
	season, err := p.seasonNow(tx)
	if err != nil {
		return w, err
	}
	w.Season = season != nil
	w.Counts, err = tx.WorkCounts(season, tx.Who().Day(p.now()))
	for _, c := range w.Counts {
		w.Left += c.N
	}
	return w, err
}

// seasonNow is the current season, nil if none has begun.
func (p *Pages) seasonNow(tx *store.Tx) (*models.Season, error) {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	if err != nil {
		return nil, err
	}
	return p.pick(tx.Who(), seasons, "")
}

// work is GET /work.
func (p *Pages) work(c *gin.Context, who models.Who) error {
	var page workPage
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page, err = p.readWork(tx)
		return err
	})
	if err != nil {
		return fmt.Errorf("list of work: %w", err)
	}
	return p.render(c, http.StatusOK, "work", "Work list", page)
}

// workOfKind is GET /work/:kind.
func (p *Pages) workOfKind(c *gin.Context, who models.Who) error {
	page := workKindPage{WorkInfo: models.WorkInfo{Code: models.WorkKind(c.Param("kind"))}}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		season, err := p.seasonNow(tx)
		if err != nil {
			return err
		}
		if page.All, err = tx.Work(page.Code, season, tx.Who().Day(p.now())); err != nil {
			return err
		}
		if page.Code == models.WorkConsents {
			if page.Squads, err = squadsOfConsents(tx); err != nil {
				return err
			}
		}
		counts, err := tx.WorkCounts(season, tx.Who().Day(p.now()))
		for _, one := range counts {
			switch {
			case one.Code == page.Code:
				page.WorkInfo = one.WorkInfo
			case one.N > 0:
				page.Next = append(page.Next, one)
			}
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("list of work: %w", err)
	}
	return p.render(c, http.StatusOK, "work-kind", page.Title, page)
}
