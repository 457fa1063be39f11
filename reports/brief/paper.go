package brief

import (
	"context"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/paper"
	"throughline/reports/selection"
)

// Paper declares the selection brief.
func Paper(*chart.Renderer) (paper.Paper, error) {
	page, err := NewPage()
	if err != nil {
		return paper.Paper{}, err
	}
	return paper.Kind[Source, *Report]{
		Facts: paper.Facts{
			Code: "selection-brief", Word: "brief", Name: "selection brief",
			Of: []paper.Subject{paper.OfMeeting}, Areas: []models.Area{models.AreaMeetings}, Example: example(),
			About: "What a selection meeting has on the table, place by place: the agreed criteria and weights, each " +
				"candidate’s kept evidence, composite and chances, who is likely ahead of whom, what would change the order, " +
				"minutes, goals, warnings and coaches’ recommendations, with room to write; afterwards the record. Before the " +
				"comparison is opened it has no figures. No one is selected or released on a number alone. Tell the player in " +
				"person before a decision appears on a screen.",
		},
		Read: func(_ context.Context, src Source, a paper.Asked) (*Report, error) {
			return Read(src, Request{MeetingID: a.IDs[paper.OfMeeting], Who: a.Who, Now: a.Now})
		},
		Sheet: page.Sheet,
	}.Paper(), nil
}

// Title is the title of its page.
func (r *Report) Title() string {
	return r.Squad.Name + ": selection brief, " + paper.Day(string(r.Date))
}

// FileName is what a file of it is called.
func (r *Report) FileName() string {
	return paper.FileName("selection-brief", r.Squad.Name, string(r.Date))
}

// example is the brief of a meeting about one place.
func example() *Report {
	of, c := evidence.Example(), selection.Example()
	r := &Report{MeetingID: c.MeetingID, Purpose: c.Purpose, Date: c.Date, Status: models.MeetingOpened,
		Season: of.Season, Squad: *of.Squad, MadeAt: evidence.ExampleTime, FrozenAt: c.FrozenAt, Until: c.Date,
		Changed: c.Revision != c.Today, Present: []string{"Sorrel Vance"}, Places: []Place{}, Corrections: []string{},
		Steps:    []Step{{Words: "Criteria, weights and places locked", By: "Sorrel Vance", On: c.Date}},
		Criteria: []Criterion{{Label: "Contact won", Weight: 2, Share: 1}}, Cautions: cautions[:1], Method: method}
	for _, p := range c.Places {
		place := Place{Name: p.Name, Wanted: p.Wanted, Candidates: []Candidate{}, Pairs: p.Pairs, Sentences: p.Sentences,
			Changes: p.Changes, Notes: p.Notes, Shifts: p.Shifts}
		for _, one := range p.Candidates {
			place.Candidates = append(place.Candidates, Candidate{PlayerID: one.PlayerID, Name: one.Name, Matches: 11,
				Minutes: 640, Lines: one.Lines, Composite: one.Composite, First: one.First, Second: one.Second,
				Third: one.Third, Warnings: one.Warnings, Then: []string{}, Notes: one.Notes, Moved: []string{},
				Availability: availability(c.Date, nil), Grades: one.Grades,
				Goals: []Goal{}, Coaches: []Recommendation{}})
		}
		r.Places = append(r.Places, place)
	}
	r.Sentences = r.sentences()
	return r
}
