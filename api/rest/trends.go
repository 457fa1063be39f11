package rest

import (
	"net/http"

	"throughline/models/store"
	"throughline/reports/evidence"
)

// refitSeconds is in how many seconds to ask again for trends that are being fitted: the data rest for a few, then a
// squad takes a few more.
const refitSeconds = "10"

func trends(s *Service) {
	const about = "A trend follows one indicator of a player through a season: the value of each match and of the " +
		"season, the player's level and how sure that is, and how it compares with the position group. Anything that " +
		"could not be computed is left out. While current is false, the trend is being recomputed because the data " +
		"changed. Until then the level comes from the matches and the group alone, as method says, and Retry-After says " +
		"when to ask again."
	key := func(l evidence.TrendLine) string { return l.Code }
	type wanted struct {
		Player int64 `path:"id" minimum:"1" doc:"The id of the player"`
		Season int64 `path:"season" minimum:"1" doc:"The id of the season"`
		OnIndicator
		Page
	}
	does(s, operation{
		method: http.MethodGet, path: "/players/{id}/seasons/{season}/trends", id: "list-trends",
		summary: "List a player's trends", part: learned,
		about: about + "\n\nIn the order of the catalogue, then the academy's own.", remade: true,
		gives: listed(exampleTrend()), refusals: []int{http.StatusNotFound},
	}, func(r *request, in *wanted) (*reply, error) {
		of, err := s.trendsOf(r, in.Player, in.Season)
		if err != nil {
			return nil, err
		}
		lines := make([]evidence.TrendLine, 0, len(of.Indicators))
		for i := range of.Indicators {
			if in.Indicator == "" || in.Indicator == of.Indicators[i].Code {
				lines = append(lines, of.TrendLine(&of.Indicators[i]))
			}
		}
		out, err := whole(r, &in.Page, lines, key)
		return askAgain(out, of), err
	})
	does(s, operation{
		method: http.MethodGet, path: "/players/{id}/seasons/{season}/trends/{indicator}", id: "get-trend",
		summary: "Read a player's trend", part: learned,
		about: about, remade: true, gives: []content{{media: jsonType, example: exampleTrend()}},
		refusals: []int{http.StatusNotFound},
	}, func(r *request, in *struct {
		Player    int64  `path:"id" minimum:"1" doc:"The id of the player"`
		Season    int64  `path:"season" minimum:"1" doc:"The id of the season"`
		Indicator string `path:"indicator" pattern:"^[a-z][a-z0-9_]{0,59}$" doc:"The indicator, by its code"`
	}) (*reply, error) {
		var of *evidence.Player
		var line evidence.TrendLine
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			of, line, err = evidence.One(tx, in.Player, in.Season, evidence.EditionFor(r.who), in.Indicator)
			return err
		})
		if err != nil {
			return nil, err
		}
		out, err := r.foundJSON("", line)
		return askAgain(out, of), err
	})
}

// askAgain says when to ask again for trends that are being fitted.
func askAgain(out *reply, of *evidence.Player) *reply {
	if out != nil && of.Trends.Behind() {
		out.RetryAfter = refitSeconds
	}
	return out
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

func exampleTrend() evidence.TrendLine {
	of := evidence.Example()
	return evidence.TrendLine{IndicatorLine: of.Indicators[0], TrendState: of.Trends}
}
