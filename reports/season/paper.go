package season

import (
	"context"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Paper declares the season report.
func Paper(charts *chart.Renderer) (paper.Paper, error) {
	page, err := NewPage(charts)
	if err != nil {
		return paper.Paper{}, err
	}
	return paper.Kind[Source, *Report]{
		Facts: paper.Facts{
			Code: "season-report", Word: "report", Name: "season report", Of: []paper.Subject{paper.OfPlayer, paper.OfSeason},
			Front: true,
			Areas: []models.Area{models.AreaPlayers, models.AreaPerformance}, Example: example(),
			About: "All that a season says of one player: sentences, figures with how sure each is, ratings, goals, notes, " +
				"and how it was computed. " +
				"A player gets an edition of their own, without what is for staff only.",
			Editions: editions(),
		},
		Read: func(ctx context.Context, src Source, a paper.Asked) (*Report, error) {
			return Read(ctx, src, Request{PlayerID: a.IDs[paper.OfPlayer], SeasonID: a.IDs[paper.OfSeason], Who: a.Who,
				Now: a.Now, AsOf: a.AsOf, Edition: Edition(a.Edition)})
		},
		Sheet: page.Sheet, HandedOver: (*Report).handedOver,
		Trends: func(src Source, a paper.Asked) ([]models.SquadSeason, error) {
			return evidence.SquadSeasons(src, a.IDs[paper.OfPlayer], a.IDs[paper.OfSeason])
		},
	}.Paper(), nil
}

// FileName is what a file of the report is called.
func (r *Report) FileName() string {
	if r.Edition == StaffEdition {
		return paper.FileName("season-report", r.Player.Name, r.Season.Name)
	}
	return paper.FileName("season-report", r.Player.Name, r.Season.Name, string(r.Edition))
}

// example is a short season: one match is too little to say.
func example() *Report {
	of := evidence.Example()
	return &Report{
		Edition: StaffEdition, MadeAt: evidence.ExampleTime, Player: of.Person, Season: of.Season, Squad: of.Squad,
		Group: of.Group, Summary: of.Summary, Trends: of.Trends,
		Matches: of.Matches, Headlines: []string{of.Indicators[0].Code}, Indicators: of.Indicators, Skills: of.Skills,
		Notes: of.Notes, Reviews: of.Reviewed, Alerts: of.Alerts,
		Cautions: []string{"One match is weak evidence."}, Methods: of.Methods()[:1],
	}
}
