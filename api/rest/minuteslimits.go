package rest

import (
	"errors"
	"net/http"
	"strconv"

	"throughline/models"
	"throughline/models/store"
)

type minutesLimitsWanted struct {
	Page
	InSquad
}

func minutesLimits(s *Service) {
	add(s, resource[models.MinutesLimit, minutesLimitsWanted]{
		name: "limit of minutes", many: "limits of minutes", path: "/minutes-limits", part: safety, order: "by name",
		about: "A limit on minutes says how much a player may play in a number of days or in the season, for all of their " +
			"teams together, including school, club and loan, or how many minutes of contact at training they may have. The " +
			"academy enters its governing body's limits and its own; " +
			"none are built in. Reports and the home page warn when a player gets near a limit.",
		list: func(tx *store.Tx, _ *minutesLimitsWanted) ([]models.MinutesLimit, error) { return tx.MinutesLimits() },
		get:  (*store.Tx).MinutesLimit, create: (*store.Tx).CreateMinutesLimit, update: (*store.Tx).UpdateMinutesLimit,
		remove:   (*store.Tx).DeleteMinutesLimit,
		record:   func(r *models.MinutesLimit) *models.Record { return &r.Record },
		optional: []string{"warn_at", "counts"},
		example: models.MinutesLimit{Record: exampleRecord(1), Name: "Any seven days", SquadID: some[int64](exampleSquad),
			Counts: models.CountsMatches, Days: 7, Minutes: 140, WarnAt: 0.8},
	})
	example := models.MinutesLimit{Record: models.Record{ID: 1}, Name: "Any seven days", Days: 7, Minutes: 140,
		WarnAt: 0.8}.Load(
		[]models.Played{{Date: "2025-11-01", Minutes: 70}, {Date: "2025-11-05", Minutes: 60}},
		models.Season{Starts: "2025-08-01", Ends: "2026-06-30"}, "2025-11-10")
	does(s, operation{
		method: http.MethodGet, path: "/players/{id}/load", id: "list-player-load",
		summary: "List how much of each limit a player has used", part: safety,
		about: "Says how much of each limit a player had used by a day (today by default), for all of their teams " +
			"together. The season is the one the day falls in or, between seasons, the last one.\n\nOrdered by the name " +
			"of the limit.",
		gives: listed(example), refusals: []int{http.StatusNotFound},
	}, func(r *request, in *struct {
		Player int64 `path:"id" minimum:"1" doc:"The id of the player"`
		Page
		Date string `query:"date" format:"date" doc:"The day to count up to, such as 2025-11-10. Default: today."`
	}) (*reply, error) {
		day := r.who.Day(s.now())
		if in.Date != "" {
			day = models.Date(in.Date)
			var e *models.Error
			if err := day.Validate(); errors.As(err, &e) {
				return nil, &models.Error{Code: models.Invalid, Message: "the address is not valid",
					Fields: []models.FieldError{{Where: "query.date", Message: e.Message}}}
			}
		}
		var loads []models.Load
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			loads, err = tx.PlayerLoad(in.Player, day)
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, loads, func(l models.Load) string { return strconv.FormatInt(l.LimitID, 10) })
	})
}
