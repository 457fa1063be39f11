package rest

import (
	"net/http"

	"throughline/models"
	"throughline/models/store"
)

type observationsWanted struct {
	MeasuredWanted
	Indicator string `query:"indicator" maxLength:"60" pattern:"^[a-z][a-z0-9_.]*$" doc:"Only this indicator, by code."`
}

func (in *observationsWanted) filter() models.ObservationFilter {
	f := in.MeasuredWanted.filter()
	f.Indicator = in.Indicator
	return f
}

// MeasuredWanted is what lists of what was measured in matches may be asked for.
type MeasuredWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only observations from matches of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only observations from matches of this squad."`
	Match  int64 `query:"match" minimum:"1" doc:"Only observations from this match."`
	Player int64 `query:"player" minimum:"1" doc:"Only observations of this player."`
}

func (in *MeasuredWanted) filter() models.ObservationFilter {
	return models.ObservationFilter{PlayerID: in.Player, SeasonID: in.Season, MatchID: in.Match, SquadID: in.Squad,
		From: dayOf(in.From), To: dayOf(in.To)}
}

func observations(s *Service) {
	does(s, operation{
		method: http.MethodGet, path: "/observations", id: "list-observations", summary: "List observations", part: learned,
		about: "An observation is the value of one indicator for one player in one match. Observations are computed from " +
			"the records and change when the records change. Some indicators are also computed for parts of the match: " +
			"in_place.q4 is in_place in the last quarter of the player's own time on the pitch. The catalogue lists the " +
			"parts.\n\nOrdered by the date of the match, " +
			"then player and indicator.",
		gives: listed(models.Observation{
			PlayerID: examplePlayer, MatchID: exampleMatch, Indicator: "contact_won", Numerator: 6, Denominator: 9,
			Source: models.FromLog,
		}),
	}, func(r *request, in *observationsWanted) (*reply, error) {
		return paged(s, r, &in.Page, func(tx *store.Tx) ([]models.Observation, error) {
			return tx.Observations(in.filter())
		})
	})
}

func carryCells(s *Service) {
	does(s, operation{
		method: http.MethodGet, path: "/carry-cells", id: "list-carry-cells", summary: "List measured carries by cell",
		part: learned,
		about: "A cell counts the measured carries of one player in one match with the same width, ball speed and zone, " +
			"and adds up their metres. Metres over expected are computed by comparing a player's cells with the " +
			"squad's.\n\nOrdered by the date of the match, then player, width, speed and zone.",
		gives: listed(models.CarryCell{PlayerID: examplePlayer, MatchID: exampleMatch, Width: "close", Speed: "quick",
			Zone: "their_22", Carries: 3, Metres: 11.5}),
	}, func(r *request, in *MeasuredWanted) (*reply, error) {
		return paged(s, r, &in.Page, func(tx *store.Tx) ([]models.CarryCell, error) { return tx.CarryCells(in.filter()) })
	})
}
