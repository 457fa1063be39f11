package rest

import (
	"net/http"

	"throughline/models"
	"throughline/models/store"
)

type itemsWanted struct {
	Page
	InSquad
	OfPlayer
	Kind string `query:"kind" maxLength:"60" doc:"Only items of this kind."`
}

func items(s *Service) {
	does(s, operation{
		method: http.MethodGet, path: "/items", id: "list-items", summary: "List what waits for the caller",
		part: development,
		about: "An item is one thing that waits for the caller to do it, such as a head contact to report. text says what " +
			"to do, link is the address of the page where it is done. An item goes when its record says that it is done." +
			"\n\nOrdered by urgency, then by the day it is due.",
		gives: listed(models.Item{Kind: models.ItemHeadContact, For: exampleUser, PlayerID: some[int64](examplePlayer),
			About: "head contact", AboutID: 3, Since: "2025-11-08",
			Text: "Tell the medical lead about the head contact of Tam Okell, and record who you told",
			Link: "/safety#head-contacts"}),
	}, func(r *request, in *itemsWanted) (*reply, error) {
		var all []models.Item
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = tx.Items(models.ItemFilter{Kind: models.ItemKind(in.Kind), PlayerID: in.Player, SquadID: in.Squad},
				r.who.Day(s.now()))
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, models.Item.Key)
	})
}
