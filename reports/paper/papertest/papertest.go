// Package papertest has a small invented paper, for tests of what is the same for all papers.
package papertest

import (
	"context"
	"errors"
	"fmt"
	"html/template"

	"throughline/models"
	"throughline/reports/paper"
)

// Source is what the paper reads.
type Source interface {
	Player(id int64) (models.Player, error)
	Season(id int64) (models.Season, error)
	Appearances(models.AppearanceFilter) ([]models.Appearance, error)
}

// MinutesSheet is the paper: how long a player played in a season.
type MinutesSheet struct {
	Edition string  `json:"edition"`
	Player  string  `json:"player"`
	Season  string  `json:"season"`
	Minutes float64 `json:"minutes"` // in all matches
}

// Title is the paper's title.
func (m MinutesSheet) Title() string { return m.Player + ": minutes " + m.Season }

// FileName is what a file of it is called.
func (m MinutesSheet) FileName() string { return paper.FileName("minutes-sheet", m.Player, m.Season) }

// Paper declares it.
func Paper() paper.Paper { return sheet().Paper() }

// Undrawable declares a paper that is read and cannot be drawn.
func Undrawable() paper.Paper {
	k := sheet()
	k.Sheet = func(context.Context, MinutesSheet) (paper.Sheet, error) {
		return paper.Sheet{}, errors.New("there is nothing to draw with")
	}
	return k.Paper()
}

func sheet() paper.Kind[Source, MinutesSheet] {
	return paper.Kind[Source, MinutesSheet]{
		Facts: paper.Facts{
			Code: "minutes-sheet", Word: "minutes", Name: "minutes sheet", About: "How long a player played in a season.",
			Of: []paper.Subject{paper.OfPlayer, paper.OfSeason}, Areas: []models.Area{models.AreaPlayers,
				models.AreaPerformance},
			Example: MinutesSheet{Edition: "full", Player: "Tam Okell", Season: "2025-26", Minutes: 50},
			Editions: []paper.Edition{
				{Code: "full", Name: "full sheet", About: "For staff.", Roles: paper.Staff()},
				{Code: "own", Name: "player’s sheet", About: "For the player.",
					Roles: append(paper.Writers(), models.RolePlayer)},
			},
		},
		Read: read,
		Sheet: func(_ context.Context, m MinutesSheet) (paper.Sheet, error) {
			words := template.HTMLEscapeString(fmt.Sprintf("%s played %g minutes.", m.Player, m.Minutes))
			return paper.Sheet{Title: m.Title(), Body: template.HTML("<p>" + words + "</p>")}, nil // escaped above
		},
	}
}

func read(_ context.Context, src Source, a paper.Asked) (MinutesSheet, error) {
	player, err := src.Player(a.IDs[paper.OfPlayer])
	if err != nil {
		return MinutesSheet{}, err
	}
	season, err := src.Season(a.IDs[paper.OfSeason])
	if err != nil {
		return MinutesSheet{}, err
	}
	m := MinutesSheet{Edition: a.Edition, Player: player.Name, Season: season.Name}
	played, err := src.Appearances(models.AppearanceFilter{PlayerID: player.ID, SeasonID: season.ID})
	for _, a := range played {
		m.Minutes += a.Minutes
	}
	return m, err
}
