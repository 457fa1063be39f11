package rest

import (
	"bytes"
	"net/http"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/season"
	"throughline/reports/trend"
)

// ofSeason is the input of what is asked of a player's season.
type ofSeason struct {
	Player int64 `path:"id" minimum:"1" doc:"The id of the player"`
	Season int64 `path:"season" minimum:"1" doc:"The id of the season"`
}

func reports(s *Service) {
	does(s, operation{
		method: http.MethodGet, path: "/players/{id}/seasons/{season}/report", id: "season-report", summary: "Read a season report", part: learned,
		about:    "All that a season says of one player: sentences, figures with how sure each is, ratings, goals, notes, and how it was computed. A player gets an edition of his own, without what is for the staff alone. With Accept: text/html it is one file to keep or to print, which needs nothing else.",
		gives:    []content{{media: jsonType, example: exampleReport()}, {media: htmlType, example: "<!DOCTYPE html>…"}},
		refusals: []int{http.StatusNotFound},
	}, func(r *request, in *ofSeason) (*reply, error) {
		report, err := s.seasonReport(r, in)
		if err != nil {
			return nil, err
		}
		if r.prefers(jsonType, htmlType) == jsonType {
			return r.foundJSON("", report)
		}
		var file bytes.Buffer
		if err := s.season.WriteFile(r, &file, report); err != nil {
			return nil, err
		}
		out, err := r.found(htmlType+"; charset=utf-8", "", file.Bytes())
		if err == nil {
			out.Disposition = `attachment; filename="season-report.html"`
		}
		return out, err
	})
}

func (s *Service) seasonReport(r *request, in *ofSeason) (report *season.Report, err error) {
	err = s.store.Read(r, r.who, func(tx *store.Tx) error {
		report, err = season.Read(r, tx, season.Request{PlayerID: in.Player, SeasonID: in.Season, Who: r.who, Now: s.now()})
		return err
	})
	return report, err
}

// exampleReport is a short season of the player of the examples: one match is too little to say.
func exampleReport() season.Report {
	starts, minutes := 1, 50.0
	interval := func(lo, hi float64) *trend.Interval { return &trend.Interval{Lo: lo, Hi: hi} }
	r := season.Report{
		Edition: evidence.StaffEdition, MadeAt: time.Date(2025, time.September, 8, 7, 0, 0, 0, time.UTC),
		Player: evidence.Person{ID: examplePlayer, Name: "Tam Okell", KnownAs: "Tam", Positions: []models.Position{models.Flanker}, BirthQuarter: 1},
		Season: models.Season{Record: exampleRecord(exampleSeason), Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"},
		Squad:  &models.Squad{Record: exampleRecord(exampleSquad), Name: "Under 18", AgeBand: 18, BandMonth: 9},
		Group:  evidence.GroupOf{Code: models.GroupBackRow, Label: "back row", FullMatch: 70},
		Summary: evidence.Summary{
			Matches: 1, Started: &starts, Minutes: minutes, Logged: 1,
		},
		Matches: []evidence.MatchLine{{
			ID: exampleMatch, Date: "2025-09-06", Opponent: "Fellmoor", Venue: some(models.Home), Difficulty: some(3), FullMatch: 70, Minutes: minutes,
			Started: some(true), Source: models.FromLog,
		}},
		Headlines: []string{"contact_won"},
		Indicators: []evidence.IndicatorLine{{
			Code: "contact_won", Label: "Contact won", Meaning: "Of your carries into contact, the share in which you won it.", Family: models.Proportion,
			Unit: "%", Better: models.Higher, Headline: true, Counted: []string{"Contact won: the carrier gets past the point where he was met."},
			Matches: 1, Numerator: 6, Denominator: 9, Season: 0.6667, Season95: interval(0.3542, 0.8794), Countable: 1,
			Points: []evidence.Point{{MatchID: exampleMatch, Value: 0.6667, Numerator: 6, Denominator: 9, Plausible80: interval(0.4558, 0.8267), Source: models.FromLog}},
		}},
		Skills: []evidence.SkillLine{{
			Code: "tackle", Label: "Tackle", Ratings: 1, Coaches: 1, Mean: 4, Looks: "Chooses his height and stops his man.",
			Grades: []evidence.GradeLine{{Date: "2025-09-06", Rater: "Ansel Brock", RaterID: exampleUser, Grade: 4, On: "Fellmoor"}},
		}},
		Notes:    []evidence.NoteLine{{ID: 15, Date: "2025-09-08", Author: "Ansel Brock", On: "Fellmoor", Shared: true, Text: "Watch 12:34: feet first, then shoulder."}},
		Alerts:   []string{"Head contact on 6 September 2025, and nobody is recorded to have told the medical lead."},
		Cautions: []string{"One match is weak evidence."},
		Methods: []evidence.Method{{
			Name: "Season figure", Formula: "Σ numerator ÷ Σ denominator", Words: "Only what was recorded counts.", Source: "common practice",
		}},
	}
	return r
}
