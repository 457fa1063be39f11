package overview

import (
	"context"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Paper declares the overview of a squad.
func Paper(*chart.Renderer) (paper.Paper, error) {
	page, err := NewPage()
	if err != nil {
		return paper.Paper{}, err
	}
	return paper.Kind[Source, *Report]{
		Facts: paper.Facts{
			Code: "squad-overview", Word: "overview", Name: "squad overview",
			Of:    []paper.Subject{paper.OfSquad, paper.OfSeason},
			Areas: []models.Area{models.AreaPlayers, models.AreaPerformance, models.AreaContact}, Example: example(),
			About: "Every player of a squad’s season by position group: levels in the group’s headline figures and skills " +
				"with their direction, minutes and how much of them was logged, goals, and the next review. For staff. " +
				"Selectors read it without the players hidden from them.",
		},
		Read: func(ctx context.Context, src Source, a paper.Asked) (*Report, error) {
			return Read(ctx, src, Request{SquadID: a.IDs[paper.OfSquad], SeasonID: a.IDs[paper.OfSeason], Who: a.Who,
				Now: a.Now, AsOf: a.AsOf})
		},
		Sheet: page.Sheet, HandedOver: (*Report).asFile,
		Trends: func(src Source, a paper.Asked) ([]models.SquadSeason, error) {
			of, err := src.SquadSeason(a.IDs[paper.OfSeason], a.IDs[paper.OfSquad])
			return []models.SquadSeason{of}, err
		},
	}.Paper(), nil
}

// Title is the title of its page.
func (o *Report) Title() string { return o.Squad.Name + ": squad overview " + o.Season.Name }

// FileName is what a file of it is called.
func (o *Report) FileName() string {
	return paper.FileName("squad-overview", o.Squad.Name, o.Season.Name)
}

// asFile is the overview as it leaves the program: a file leads nowhere.
func (o *Report) asFile() *Report {
	file := *o
	file.unlinked = true
	return &file
}

// example is a squad of one player.
func example() *Report {
	of := evidence.Example()
	due, level, average := models.Date("2025-10-20"), 0.58, 0.55
	around := &models.Range{Lo: 0.53, Hi: 0.63}
	improved, declined := 0.81, 0.04
	o := &Report{
		MadeAt: evidence.ExampleTime, Season: of.Season, Squad: *of.Squad, Trends: of.Trends, Cautions: cautions[:2],
		Groups: []Group{{Code: models.GroupBackRow, Label: models.GroupBackRow.Label(),
			Columns: []Column{{Indicator: "contact_won", Label: "Contact won", Unit: "%", Better: models.Higher,
				Meaning: of.Indicators[0].Meaning, Scale: around}},
			Players: []Row{{PlayerID: of.Person.ID, Name: of.Person.Name, Positions: of.Person.Positions, Notes: []string{},
				Available: true, Evidence: Evidence{Matches: 5, Minutes: 310, LogMinutes: 250, LogShare: 250.0 / 310, Enough: true},
				Cells: []Cell{{Matches: 5, Level: &level, Range80: around, Verdict: "probably improving",
					Words: "probably improving", Improved: &improved, Declined: &declined, Average: &average,
					Against: "back row"}},
				Goals: Goals{Open: 1},
				Review: &Review{Status: models.ReviewNotDue, Due: &due, Words: "Next due on 20 October 2025. Never reviewed in " +
					"this squad; counted from 8 September 2025."}}},
		}},
		OtherReaders: models.OtherLevels(false, false),
	}
	o.summarise()
	o.Methods, o.Sentences = o.methods()[:1], o.sentences()
	return o
}
