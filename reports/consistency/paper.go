package consistency

import (
	"context"
	"time"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// Edition names one of the ways in which the report is made.
type Edition string

// The editions.
const (
	Names     Edition = "names"
	StaffRoom Edition = "staff-room"
)

// Codes are the codes of all editions.
func (Edition) Codes() []Edition { return []Edition{Names, StaffRoom} }

// editions are declared in the order in which a reader gets them.
var editions = []paper.Edition{
	{Code: string(Names), Name: "edition with names", Roles: []models.Role{models.RoleManager},
		About: "For managers alone: coaches and loggers by name, and how strict each coach is."},
	{Code: string(StaffRoom), Name: "staff room’s edition", Roles: paper.Writers(),
		About: "For the coaches of the squad: coaches by letter and loggers by number. A coach who reads it is “you” " +
			"and reads their own severity, where four coaches or more have graded. It says no one else’s."},
}

// Paper declares the consistency report.
func Paper(*chart.Renderer) (paper.Paper, error) {
	page, err := NewPage()
	if err != nil {
		return paper.Paper{}, err
	}
	return paper.Kind[Source, *Report]{
		Facts: paper.Facts{
			Code: "consistency-report", Word: "consistency", Name: "consistency report",
			Of:    []paper.Subject{paper.OfSquad, paper.OfSeason},
			Areas: []models.Area{models.AreaConsistency}, Example: example(),
			About: "How far grades and logs of a squad’s season can be relied on. For each skill: the reliability of one " +
				"coach’s grade (the six correlations of Shrout and Fleiss where the same coaches graded everything, and " +
				"variance components in any case), Krippendorff’s alpha with its interval, how many coaches’ mean would " +
				"reach 0.8, how strict coaches are, and the largest disagreements with what was seen. Of matches that two people " +
				"logged: what both have, and which definition they read differently. It stands on the grades that the caller " +
				"may read.",
			Closed:   "may not read how far coaches’ grades agree",
			Editions: editions,
		},
		Read: func(_ context.Context, src Source, a paper.Asked) (*Report, error) {
			return Read(src, Request{SquadID: a.IDs[paper.OfSquad], SeasonID: a.IDs[paper.OfSeason], Who: a.Who, Now: a.Now,
				Edition: Edition(a.Edition)})
		},
		Sheet: page.Sheet, HandedOver: (*Report).asFile,
	}.Paper(), nil
}

// Title is the title of its page.
func (r *Report) Title() string { return r.Squad.Name + ": consistency report " + r.Season.Name }

// FileName is what a file of it is called.
func (r *Report) FileName() string {
	return paper.FileName("consistency-report", r.Squad.Name, r.Season.Name, string(r.Edition))
}

// asFile is the report as it leaves the program: a file leads nowhere.
func (r *Report) asFile() *Report {
	file := *r
	file.unlinked = true
	return &file
}

// example is a report about one skill.
func example() *Report {
	of := evidence.Example()
	vance, match := int64(9), int64(41)
	one, two, needed, alpha, kappa := 0.45, 0.62, 5, 0.68, 0.81
	strict := Severity{Coach: "Sorrel Vance", UserID: &vance, Grades: 60, Players: 22, Shared: 20,
		Estimate: models.Estimate{Mean: 0.4, Range80: models.Range{Lo: 0.2, Hi: 0.6},
			Range95: models.Range{Lo: 0.1, Hi: 0.7}}}
	r := &Report{Edition: Names, Season: of.Season, Squad: *of.Squad, MadeAt: evidence.ExampleTime.Truncate(time.Second),
		Named: true, Grades: 240, Coaches: 4, Severity: []Severity{strict},
		Skills: []Skill{{Code: "tackle", Label: "Tackle", Grades: 240, Coaches: 4, Graded: 110, ByTwo: 80, OneCoach: &one,
			TwoCoaches: &two, CoachesFor80: &needed, Alpha: &alpha, Alpha95: &models.Range{Lo: 0.58, Hi: 0.76},
			Severity: []Severity{strict}, Notes: []string{}}},
		Disagreements: []Disagreement{{Skill: "tackle", Label: "Tackle", PlayerID: of.Person.ID, Player: of.Person.Name,
			Date: "2025-11-08", MatchID: &match, On: "Saltmarsh", Apart: 3,
			Grades: []Seen{
				{Coach: "Bryn Ellery", Grade: 5, Means: "Wins most collisions.", Comment: "Two dominant hits on their line"},
				{Coach: "Sorrel Vance", Grade: 2, Means: "Slips off the first contact.",
					Comment: "Missed three in the first half"},
			}}},
		Loggers: LogAgreement{Doubles: []Double{{PlayerID: of.Person.ID, Player: of.Person.Name, MatchID: match,
			Opponent: "Saltmarsh", Date: "2025-11-08",
			Pairs: []Pair{{FirstLog: 12, SecondLog: 13, First: "Bryn Ellery", Second: "Sorrel Vance",
				Found: &Found{Minutes: 70, Either: 51, Matched: 41, OnlyFirst: 4, OnlySecond: 6, Kappa: &kappa,
					Misread: &Misread{Kind: models.KindCarry, Detail: "contact", Words: "“contact” of a carry", Pairs: 1, Both: 11,
						Disagreed: 4}}}}}}},
	}
	r.Loggers.sum()
	r.Basis, r.Sentences = r.basis(), r.sentences()
	return r
}
