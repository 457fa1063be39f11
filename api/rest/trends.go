package rest

import (
	"net/http"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
)

func trends(s *Service) {
	const about = "A trend is one indicator of a player over a season: match by match, the season's value, the level that it shows and how sure that is, and how that stands against his position group. What could not be computed is left out."
	key := func(l evidence.IndicatorLine) string { return l.Code }
	type wanted struct {
		Player int64 `path:"id" minimum:"1" doc:"The id of the player"`
		Season int64 `path:"season" minimum:"1" doc:"The id of the season"`
		Page
	}
	does(s, operation{
		method: http.MethodGet, path: "/players/{id}/seasons/{season}/trends", id: "list-trends", summary: "List a player's trends", part: learned,
		about: about + "\n\nThe list is in the order of the catalogue, then the academy's own.",
		gives: listed(exampleTrend()), refusals: []int{http.StatusNotFound},
	}, func(r *request, in *wanted) (*reply, error) {
		of, err := s.trendsOf(r, in.Player, in.Season)
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, of.Indicators, key)
	})
	does(s, operation{
		method: http.MethodGet, path: "/players/{id}/seasons/{season}/trends/{indicator}", id: "get-trend", summary: "Read a player's trend", part: learned,
		about: about, gives: []content{{media: jsonType, example: exampleTrend()}}, refusals: []int{http.StatusNotFound},
	}, func(r *request, in *struct {
		Player    int64  `path:"id" minimum:"1" doc:"The id of the player"`
		Season    int64  `path:"season" minimum:"1" doc:"The id of the season"`
		Indicator string `path:"indicator" pattern:"^[a-z][a-z0-9_]{0,59}$" doc:"The indicator, by its code"`
	}) (*reply, error) {
		of, err := s.trendsOf(r, in.Player, in.Season)
		if err != nil {
			return nil, err
		}
		if line := of.Indicator(in.Indicator); line != nil {
			return r.foundJSON("", line)
		}
		return nil, models.Errorf(models.NotFound, "there is nothing of the indicator %s in this season of %s", in.Indicator, of.Person.Name)
	})
}

// trendsOf reads the figures of a player's season.
func (s *Service) trendsOf(r *request, player, season int64) (of *evidence.Player, err error) {
	err = s.store.Read(r, r.who, func(tx *store.Tx) error {
		if of, err = evidence.Of(tx, player, season, evidence.EditionFor(r.who)); err != nil {
			return err
		}
		if err = of.ReadTrends(tx); err != nil {
			return err
		}
		return of.ReadIndicators(tx)
	})
	return of, err
}

func exampleTrend() evidence.IndicatorLine { return evidence.Example().Indicators[0] }
