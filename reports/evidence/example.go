package evidence

import (
	"time"

	"throughline/models"
	"throughline/reports/trend"
)

// ExampleTime is when the papers of the service's description were made.
var ExampleTime = time.Date(2025, time.September, 8, 7, 0, 0, 0, time.UTC)

// Example is the evidence that the service's description shows: a short season of the player of its examples.
func Example() *Player {
	record := func(id int64) models.Record {
		made := ExampleTime.Add(-12*time.Hour - 30*time.Minute)
		return models.Record{ID: id, Version: 1, CreatedAt: made, ChangedAt: made}
	}
	const match, coach, minutes = 31, 3, 50
	next := models.Date("2025-10-20")
	one, venue, hard, yes, fitted := 1, models.Home, 3, true, ExampleTime
	return &Player{
		Edition: StaffEdition,
		Person: Person{ID: 12, Name: "Tam Okell", KnownAs: "Tam", Positions: []models.Position{models.Flanker},
			BirthQuarter: 1},
		Season:  models.Season{Record: record(1), Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"},
		Squad:   &models.Squad{Record: record(2), Name: "Under 18", AgeBand: 18, BandMonth: 9},
		Group:   GroupOf{Code: models.GroupBackRow, Label: "back row", FullMatch: 70},
		Trends:  TrendState{Current: true, MadeAt: &fitted, Revision: 6},
		Summary: Summary{Matches: 1, Started: &one, Minutes: minutes, Logged: 1},
		Matches: []MatchLine{{
			ID: match, Date: "2025-09-06", Opponent: "Fellmoor", Venue: &venue, Difficulty: &hard, FullMatch: 70,
			Minutes: minutes, Started: &yes,
			Source: models.FromLog,
		}},
		Indicators: []IndicatorLine{{
			Code: "contact_won", Label: "Contact won", Meaning: "Of your carries into contact, the share in which you won it.",
			Family: models.Proportion,
			Unit:   "%", Better: models.Higher, Headline: true,
			Counted: []string{"Contact won: the carrier gets past the point where they were met."},
			Matches: 1, Numerator: 6, Denominator: 9, Season: 0.6667, Season95: &trend.Interval{Lo: 0.3542, Hi: 0.8794},
			Countable: 1,
			Points: []Point{{
				MatchID: match, Value: 0.6667, Numerator: 6, Denominator: 9, Plausible80: &trend.Interval{Lo: 0.4558, Hi: 0.8267},
				Source: models.FromLog,
			}},
		}},
		Skills: []SkillLine{{
			Code: "tackle", Label: "Tackle", Ratings: 1, Coaches: 1, Mean: 4,
			Looks: "Chooses the height and stops the carrier.",
			Grades: []GradeLine{{Date: "2025-09-06", Rater: "Ansel Brock", RaterID: coach, Grade: 4, On: "Fellmoor",
				Counts: true, ShownAfter: "2025-09-20"}},
		}},
		Notes: []NoteLine{{
			ID: 15, Date: "2025-09-08", Author: "Ansel Brock", On: "Fellmoor", Shared: true,
			Text: "Watch 12:34: feet first, then shoulder.",
		}},
		Reviewed: Reviewed{
			Latest: &ReviewLine{ID: 21, Date: "2025-09-08", Author: "Ansel Brock", Read: true,
				NextStep: "Two looks before each ball. Call what you saw.",
				Replies:  []ReplyLine{{Date: "2025-09-08", Text: "I will. Can we look at the second half together?"}}},
			Next: []NextReview{{Status: models.ReviewNotDue, Due: &next,
				Words: "The next review is due on 20 Oct 2025."}},
		},
		Alerts: []string{"Head contact on 6 September 2025, not yet reported to the medical lead."},
	}
}
