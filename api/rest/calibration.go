package rest

import (
	"net/http"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/calibration"
)

// account offers how often what the trends forecast came true.
func account(s *Service) {
	share := calibration.Share{Rate: 0.8, Lo: 0.75, Hi: 0.85, N: 240}
	counted := calibration.Counted{Settled: 240, Open: 40, Players: 30, Enough: true}
	example := calibration.Report{Families: []calibration.Family{{
		Family: models.Rate,
		Next:   calibration.Figures{Counted: counted, Within80: &share, Within95: &share},
	}}}
	does(s, operation{
		method: http.MethodGet, path: "/calibration", id: "calibration", summary: "Check how often forecasts came true",
		part: learned,
		about: "Compares what trends forecast with what happened, for each family of indicators: the next match, the rest " +
			"of the season, and which of two players does more over their next five matches. It names no player. For managers.",
		gives:    []content{{media: jsonType, example: example}},
		refusals: []int{http.StatusForbidden},
	}, func(r *request, in *struct {
		Season int64 `query:"season" minimum:"1" doc:"Only forecasts for this season."`
		Squad  int64 `query:"squad" minimum:"1" doc:"Only forecasts for this squad."`
	}) (*reply, error) {
		var made *calibration.Report
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			made, err = calibration.Read(tx, models.ForecastFilter{SeasonID: in.Season, SquadID: in.Squad})
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON("", made)
	})
}
