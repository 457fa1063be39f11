package rest

import (
	"net/http"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/consistency"
)

// consistencies offers how far coaches' grades of a squad's season can be relied on.
func consistencies(s *Service) {
	does(s, operation{
		method: http.MethodGet, path: "/squads/{id}/seasons/{season}/consistency", id: "grade-consistency",
		summary: "Check how far coaches' grades agree", part: learned,
		about: "For each skill of a squad's season: how far one coach's grade can be relied on (the six correlations of " +
			"Shrout and Fleiss where the same coaches graded everything, and variance components in any case), " +
			"Krippendorff's alpha with its interval, how many coaches' mean would reach 0.8, how strict coaches are, and the " +
			"largest disagreements with what was seen. It stands on the grades that the caller may read. Managers read " +
			"names. Coaches read letters, and of severity only their own, where four coaches or more have graded. " +
			"Selectors and players may not read it.",
		gives:    []content{{media: jsonType, example: exampleConsistency}},
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *struct {
		Squad  int64 `path:"id" minimum:"1" doc:"The id of the squad"`
		Season int64 `path:"season" minimum:"1" doc:"The id of the season"`
	}) (*reply, error) {
		var made *consistency.Report
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			made, err = consistency.Read(tx, consistency.Request{SquadID: in.Squad, SeasonID: in.Season, Who: r.who,
				Now: r.who.Local(s.now())})
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON("", made)
	})
}

var exampleConsistency = consistency.Report{
	Season: models.Season{Record: exampleRecord(exampleSeason), Name: "2025-26", Starts: "2025-09-01", Ends: "2026-05-31"},
	Squad:  models.Squad{Record: exampleRecord(exampleSquad), Name: "Under 18"},
	MadeAt: time.Date(2026, time.May, 2, 18, 30, 0, 0, time.UTC), Named: true,
	Basis: "Based on all 240 grades by coaches.", Grades: 240, Coaches: 4,
	Sentences: []string{"Coaches agree in part on tackle."},
	Severity:  []consistency.Severity{exampleSeverity},
	Skills: []consistency.Skill{{Code: "tackle", Label: "Tackle", Grades: 240, Coaches: 4, Graded: 110, ByTwo: 80,
		OneCoach: some(0.45), TwoCoaches: some(0.62), CoachesFor80: some(5), Alpha: some(0.68),
		Alpha95: &models.Range{Lo: 0.58, Hi: 0.76}, Severity: []consistency.Severity{exampleSeverity}, Notes: []string{}}},
	Disagreements: []consistency.Disagreement{{Skill: "tackle", Label: "Tackle", PlayerID: examplePlayer,
		Player: "Tam Okell", Date: "2025-11-08", MatchID: some(int64(exampleMatch)), On: "Saltmarsh", Apart: 3,
		Grades: []consistency.Seen{
			{Coach: "Bryn Ellery", Grade: 5, Means: "Wins most collisions.", Comment: "Two dominant hits on their line"},
			{Coach: "Sorrel Vance", Grade: 2, Means: "Slips off the first contact.", Comment: "Missed three in the first half"},
		}}},
}

var exampleSeverity = consistency.Severity{Coach: "Sorrel Vance", UserID: some(int64(exampleUser)), Grades: 60,
	Players: 22, Shared: 20, Estimate: models.Estimate{Mean: 0.4, Range80: models.Range{Lo: 0.2, Hi: 0.6},
		Range95: models.Range{Lo: 0.1, Hi: 0.7}}}
