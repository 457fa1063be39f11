package pages

import (
	"bytes"
	"fmt"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"unicode"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
	"throughline/reports/season"
)

// seasonReportAddress is where a player's season report is.
func seasonReportAddress(player, season int64) string {
	return fmt.Sprintf("/players/%d/seasons/%d", player, season)
}

// seasonPage is a season report with ways out of it.
type seasonPage struct {
	Sheet  paper.Sheet
	File   string // the address of the same as a file
	Player string // the address of the player's own page
	Others []otherSeason
}

// otherSeason leads to the player's report of another season.
type otherSeason struct{ Name, Address string }

// seasonReport is GET /players/{player}/seasons/{season}.
func (p *Pages) seasonReport(c *gin.Context, who models.Who) error {
	report, others, err := p.readSeasonReport(c, who)
	if err != nil {
		return err
	}
	sheet, err := p.season.Sheet(c.Request.Context(), report)
	if err != nil {
		return err
	}
	page := seasonPage{Sheet: sheet, File: seasonReportAddress(report.Player.ID, report.Season.ID) + "/report.html", Player: playerAddress(report.Player.ID), Others: others}
	return p.render(c, http.StatusOK, "season", sheet.Title, page)
}

// seasonReportFile is GET /players/{player}/seasons/{season}/report.html: the same report as one self-contained file, to keep or to
// print.
func (p *Pages) seasonReportFile(c *gin.Context, who models.Who) error {
	report, _, err := p.readSeasonReport(c, who)
	if err != nil {
		return err
	}
	var file bytes.Buffer
	if err := p.season.WriteFile(c.Request.Context(), &file, report); err != nil {
		return err
	}
	name := fileName("season-report", report.Player.Name, report.Season.Name) + ".html"
	c.Header("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	c.Header("Content-Length", strconv.Itoa(file.Len()))
	c.Data(http.StatusOK, "text/html; charset=utf-8", file.Bytes())
	return nil
}

// readSeasonReport reads the report that an address names, and the player's other seasons.
func (p *Pages) readSeasonReport(c *gin.Context, who models.Who) (report *season.Report, others []otherSeason, err error) {
	player, err := id(c, "player")
	if err != nil {
		return nil, nil, err
	}
	wanted, err := id(c, "season")
	if err != nil {
		return nil, nil, err
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		report, err = season.Read(c.Request.Context(), tx, season.Request{PlayerID: player, SeasonID: wanted, Who: who, Now: p.now()})
		if err != nil {
			return err
		}
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		if seasons, err = seasonsOf(tx, seasons, player); err != nil {
			return err
		}
		for _, s := range seasons {
			if s.ID != wanted {
				others = append(others, otherSeason{Name: s.Name, Address: seasonReportAddress(player, s.ID)})
			}
		}
		return nil
	})
	return report, others, err
}

// fileName joins parts to a name that every file system takes: letters, digits, dots and underscores, with hyphens for all the rest.
func fileName(parts ...string) string {
	name := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || r == '.' || r == '_' {
			return r
		}
		return '-'
	}, strings.Join(parts, "-"))
	for strings.Contains(name, "--") {
		name = strings.ReplaceAll(name, "--", "-")
	}
	return strings.Trim(name, "-.")
}
