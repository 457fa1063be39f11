package pages

import (
	"bytes"
	"fmt"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/pack"
	"throughline/reports/paper"
)

// packAddress is the page of the pack of a squad's season reports.
func packAddress(squad, season int64) string {
	return fmt.Sprintf("/squads/%d/seasons/%d/pack", squad, season)
}

// packPage is where a member of staff asks for all season reports of a squad in one file, sees how far it is, and
// downloads it.
type packPage struct {
	Form     Form
	Squad    models.Squad
	Season   models.Season
	Pack     *models.ReportPack // the caller's; nil for none
	Edition  string             // of the pack, as people call it
	Until    string             // when the pack is deleted
	Editions []field            // to choose from
	CanPrint bool
	WhyNot   string // why the caller may not ask for one
}

// At is the address of the page.
func (p packPage) At() string { return packAddress(p.Squad.ID, p.Season.ID) }

func (p *Pages) registerPacks(router *gin.Engine) {
	router.GET("/squads/:squad/seasons/:season/pack", p.known(p.pack))
	router.GET("/squads/:squad/seasons/:season/pack.zip", p.known(p.packFile))
	router.POST("/squads/:id/seasons/:season/pack", p.sent("pack", p.packWith, p.askForPack))
	router.POST("/squads/:id/seasons/:season/pack/delete", p.sent("delete", p.packWith, p.deletePack))
}

func (p *Pages) pack(c *gin.Context, who models.Who) error { return p.packWith(c, who, Form{}) }

// packWith is GET /squads/:squad/seasons/:season/pack.
func (p *Pages) packWith(c *gin.Context, who models.Who, form Form) error {
	report, err := pack.ReportIn(p.papers)
	if err != nil {
		return err
	}
	page := packPage{Form: form, CanPrint: p.printer != nil}
	for _, e := range pack.Editions(report, who) {
		page.Editions = append(page.Editions, field{e.Code, paper.Upper(e.Name)})
	}
	err = p.readPack(c, who, func(tx *store.Tx, squad, season int64) error {
		if page.Squad, err = tx.Squad(squad); err != nil {
			return err
		}
		if page.Season, err = tx.Season(season); err != nil {
			return err
		}
		if page.Pack, err = packOf(tx, squad, season); err != nil || page.Pack != nil {
			return err
		}
		switch err := tx.MayPack(season, squad); models.CodeOf(err) {
		case models.Forbidden, models.Conflict:
			page.WhyNot = sentence(err.Error())
			return nil
		default:
			return err
		}
	})
	if err != nil {
		return err
	}
	if page.Pack != nil {
		until := who.Local(page.Pack.Until)
		page.Edition = editionName(report, page.Pack.Edition)
		page.Until = dayOf(until) + " at " + until.Format("15:04")
	}
	return p.render(c, form.status(), "pack", page.Squad.Name+": all season reports", page)
}

// readPack calls fn with the squad and the season of the address, for one of the staff.
func (p *Pages) readPack(c *gin.Context, who models.Who, fn func(tx *store.Tx, squad, season int64) error) error {
	if !who.Staff() {
		return models.Errorf(models.Forbidden, "packs of reports are for staff")
	}
	squad, season, err := packed(c)
	if err != nil {
		return err
	}
	return p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error { return fn(tx, squad, season) })
}

// packed are the ids of the address.
func packed(c *gin.Context) (squad, season int64, err error) {
	if squad, err = squadID(c); err == nil {
		season, err = id(c, "season")
	}
	return squad, season, err
}

// packOf is the caller's pack of a squad's season, or nil.
func packOf(tx *store.Tx, squad, season int64) (*models.ReportPack, error) {
	all, err := tx.ReportPacks()
	for i := range all {
		if all[i].SquadID == squad && all[i].SeasonID == season {
			return &all[i], err
		}
	}
	return nil, err
}

func editionName(report paper.Paper, code string) string {
	for _, e := range report.Editions {
		if e.Code == code {
			return e.Name
		}
	}
	return code
}

// askForPack is POST /squads/:id/seasons/:season/pack.
func (p *Pages) askForPack(c *gin.Context, who models.Who, f *fields) (string, error) {
	report, err := pack.ReportIn(p.papers)
	if err != nil {
		return "", err
	}
	asked := models.ReportPack{Edition: f.text("edition"), PDF: f.checked("pdf")}
	if asked.SquadID, asked.SeasonID, err = packed(c); err != nil {
		return "", err
	}
	return packAddress(asked.SquadID, asked.SeasonID), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if err := tx.MayPack(asked.SeasonID, asked.SquadID); err != nil {
			return err
		}
		if err := pack.Check(report, who, asked, p.printer); err != nil {
			return err
		}
		return tx.CreateReportPack(&asked)
	})
}

// deletePack is POST /squads/:id/seasons/:season/pack/delete: it stops a pack that is being made, too.
func (p *Pages) deletePack(c *gin.Context, who models.Who, f *fields) (string, error) {
	if !who.Staff() {
		return "", models.Errorf(models.Forbidden, "packs of reports are for staff")
	}
	squad, season, err := packed(c)
	if err != nil {
		return "", err
	}
	pack := f.idIfAny("pack")
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if _, err := tx.Squad(squad); err != nil {
			return err
		}
		if _, err := tx.Season(season); err != nil {
			return err
		}
		if err := f.err(); err != nil || pack == nil {
			return err
		}
		err := tx.DeleteReportPack(*pack)
		if models.CodeOf(err) == models.NotFound { // deleted already
			return nil
		}
		return err
	})
	return packAddress(squad, season), err
}

// packFile is GET /squads/:squad/seasons/:season/pack.zip.
func (p *Pages) packFile(c *gin.Context, who models.Who) error {
	report, err := pack.ReportIn(p.papers)
	if err != nil {
		return err
	}
	var file pack.Contents
	err = p.readPack(c, who, func(tx *store.Tx, squad, season int64) error {
		there, err := packOf(tx, squad, season)
		if err != nil {
			return err
		}
		if there == nil {
			return models.Errorf(models.NotFound, "there is no pack of this squad for you")
		}
		file, err = pack.Read(tx, there.ID, report)
		return err
	})
	if err != nil {
		return err
	}
	var made bytes.Buffer
	if err := file.Write(&made); err != nil {
		return err
	}
	handOver(c, file.FileName(), "application/zip", made.Bytes())
	return nil
}
