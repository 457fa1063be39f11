package pages

import (
	"bytes"
	"fmt"
	"mime"
	"net/http"
	"regexp"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/asof"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
)

// seasonReportAddress is where a player's season report is.
func seasonReportAddress(player, season int64) string {
	return fmt.Sprintf("/players/%d/seasons/%d", player, season)
}

// consistencyAddress is where a squad's consistency report is.
func consistencyAddress(squad, season int64) string {
	return fmt.Sprintf("/squads/%d/seasons/%d/consistency", squad, season)
}

var braced = regexp.MustCompile(`\{(\w+)\}`)

// pattern is an address with names in braces as the router writes it.
func pattern(address string) string { return braced.ReplaceAllString(address, ":$1") }

// paperPage is a paper with ways out of it.
type paperPage struct {
	Sheet  paper.Sheet
	File   string // the address of the same as a file
	PDF    string // the address of the file as PDF; empty where nothing prints it
	Player string // the address of the player's own page, where it is about one
	Others []way  // the same paper of other seasons, and other papers about the same
	// the editions of this paper that the reader may have, this one without an address; none if there is one only
	Editions []way

	Feedback []models.Feedback // that was released to the player who reads it

	Waiting waiting // for a player, whose first page this is
}

// paperPage answers with a paper as a page.
func (p *Pages) paperPage(one paper.Paper) func(*gin.Context, models.Who) error {
	return func(c *gin.Context, who models.Who) error {
		var page paperPage
		read, err := p.readPaper(c, who, one, &page)
		if err != nil {
			return err
		}
		if page.Sheet, err = read.Sheet(c.Request.Context()); err != nil {
			return err
		}
		return p.render(c, http.StatusOK, "paper", page.Sheet.Title, page)
	}
}

// paperFile answers with a paper as one self-contained file, to keep or to print.
func (p *Pages) paperFile(one paper.Paper) func(*gin.Context, models.Who) error {
	return func(c *gin.Context, who models.Who) error {
		read, err := p.readPaper(c, who, one, nil)
		if err != nil {
			return err
		}
		var file bytes.Buffer
		if err := read.WriteFile(c.Request.Context(), &file); err != nil {
			return err
		}
		handOver(c, read.FileName()+".html", "text/html; charset=utf-8", file.Bytes())
		return nil
	}
}

// paperPDF answers with the same file as PDF.
func (p *Pages) paperPDF(one paper.Paper) func(*gin.Context, models.Who) error {
	return func(c *gin.Context, who models.Who) error {
		read, err := p.readPaper(c, who, one, nil)
		if err != nil {
			return err
		}
		var file bytes.Buffer
		if err := read.WriteFile(c.Request.Context(), &file); err != nil {
			return err
		}
		made, err := p.printer.Print(c.Request.Context(), file.Bytes())
		if err != nil {
			return err
		}
		handOver(c, read.FileName()+".pdf", pdf.Media, made)
		return nil
	}
}

// handOver answers with a file to keep.
func handOver(c *gin.Context, name, media string, file []byte) {
	c.Header("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	c.Header("Content-Length", strconv.Itoa(len(file)))
	c.Data(http.StatusOK, media, file)
}

// readPaper reads the copy that an address names, and the ways out of its page where there is one.
func (p *Pages) readPaper(c *gin.Context, who models.Who, one paper.Paper, page *paperPage) (read *paper.Copy,
	err error) {
	asked := paper.Asked{IDs: map[paper.Subject]int64{}, Who: who, Now: who.Local(p.now()), Edition: c.Query("edition")}
	if day := c.Query("as_of"); day != "" {
		if asked.AsOf, err = asof.Day(day); err != nil {
			return nil, models.Errorf(models.Invalid, "as_of: %v", err)
		}
	}
	for _, of := range one.Of {
		if asked.IDs[of], err = id(c, string(of)); err != nil {
			return nil, err
		}
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if read, err = asof.ReadPaper(c.Request.Context(), tx, one, asked, nil); err != nil || page == nil {
			return err
		}
		if who.Role == models.RolePlayer {
			if page.Feedback, err = ownFeedback(tx, who); err != nil {
				return err
			}
			if page.Waiting, err = p.waitingFor(tx); err != nil {
				return err
			}
		}
		page.File = asked.Address(one.File()) + asked.Query()
		if p.printer != nil {
			page.PDF = asked.Address(one.PDF()) + asked.Query()
		}
		page.Editions = editions(one, asked, read.Content)
		if player := asked.IDs[paper.OfPlayer]; player != 0 {
			page.Player = playerAddress(player)
		}
		page.Others, err = p.waysOut(tx, one, asked)
		return err
	})
	return read, err
}

// editions are the editions of a paper that the reader may have, the one asked for without an address.
func editions(one paper.Paper, asked paper.Asked, of paper.Content) (all []way) {
	lacking, _ := of.(paper.Lacking)
	this, err := one.EditionOf(asked.Who, asked.Edition)
	if err != nil {
		return nil
	}
	for _, e := range one.EditionsFor(asked.Who) {
		if lacking != nil && lacking.Lacks(e.Code) {
			continue
		}
		other := way{Name: paper.Upper(e.Name)}
		if e.Code != this.Code {
			asked.Edition = e.Code
			other.Address = asked.Address(one.Page()) + asked.Query()
		}
		all = append(all, other)
	}
	if len(all) < 2 {
		return nil
	}
	return all
}

// waysOut lead to the same paper of the player's other seasons, and to the other papers about the same records.
func (p *Pages) waysOut(tx *store.Tx, one paper.Paper, asked paper.Asked) (all []way, err error) {
	player, season := asked.IDs[paper.OfPlayer], asked.IDs[paper.OfSeason]
	if player != 0 && season != 0 {
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return nil, err
		}
		if seasons, err = seasonsOf(tx, seasons, player); err != nil {
			return nil, err
		}
		for _, s := range seasons {
			if s.ID != season {
				asked.IDs[paper.OfSeason] = s.ID
				all = append(all, way{Address: asked.Address(one.Page()), Name: "Season " + s.Name})
			}
		}
		asked.IDs[paper.OfSeason] = season
	}
	if squad := asked.IDs[paper.OfSquad]; squad != 0 && season != 0 {
		all = append(all, way{Address: packAddress(squad, season), Name: "All season reports in one file"})
	}
	for _, other := range p.papers {
		if other.Code != one.Code && slices.Equal(other.Of, one.Of) && readsAll(asked.Who, other.Areas) {
			all = append(all, way{Address: asked.Address(other.Page()), Name: paper.Upper(other.Name)})
		}
	}
	return all, nil
}

// readsAll says whether the caller's role reads something of every area.
func readsAll(who models.Who, areas []models.Area) bool {
	return !slices.ContainsFunc(areas, func(a models.Area) bool { return who.Reach(models.Read, a) == models.ReachNone })
}
