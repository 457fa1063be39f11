package rest

import (
	"bytes"
	"fmt"
	"net/http"
	"reflect"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/personal"
)

// zipType is the media type of an archive.
const zipType = "application/zip"

// exportWanted is the input of a request for all that is kept about a player.
type exportWanted struct {
	Player  int64  `path:"id" minimum:"1" doc:"The id of the player"`
	AskedBy string `query:"asked_by" enum:"player,guardian,academy,other" default:"player" doc:"Who asked"`
}

// Erasure says whose data are to be erased.
type Erasure struct {
	Name    string         `json:"name" minLength:"1" maxLength:"100" doc:"The player's name, as a safety check"`
	AskedBy models.AskedBy `json:"asked_by" doc:"Who asked for it, without a name"`
}

func dataRequests(s *Service) {
	proof := models.DataRequest{
		Record: exampleRecord(3), PlayerID: examplePlayer, Kind: models.RequestErasure, AskedBy: models.AskedByGuardian,
		DoneBy: exampleUser,
		Counts: map[string]int{"review_notes": 9, "goals": 2, "players": 1}, Payloads: 212,
		Mentions: []models.Mention{{Kind: "review note", RecordID: 77}},
	}
	does(s, operation{
		method: http.MethodGet, path: "/data-requests", id: "list-data-requests", summary: "List fulfilled data requests",
		part: people,
		about: "A data request asks for everything kept about a person, or for its erasure. Fulfilled requests are listed " +
			"here, as proof, without names.\n\nOldest first.",
		gives: listed(proof), refusals: []int{http.StatusForbidden},
	}, func(r *request, in *Page) (*reply, error) {
		return paged(s, r, in, (*store.Tx).DataRequests)
	})
	does(s, operation{
		method: http.MethodPost, path: "/players/{id}/record", id: "export-player",
		summary: "Export everything kept about a player", part: people,
		about: "A ZIP archive with everything kept about the player: record.html for people and record.json for programs. " +
			"A manager's archive includes what only staff may read: decide with the academy's adviser what to hand over. The " +
			"player's own archive leaves that out. Each export is recorded, so it needs a token that may write. A caller has " +
			fmt.Sprint(models.MostExports) + " archives of a player in 24 hours; one more is 429.",
		gives: []content{{media: zipType, example: "(an archive)"}}, untagged: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *exportWanted) (*reply, error) {
		record, err := s.store.ExportPlayer(r, r.who, in.Player, models.AskedBy(in.AskedBy))
		if err != nil {
			return nil, err
		}
		var archive bytes.Buffer
		if err := personal.WriteArchive(&archive, record); err != nil {
			return nil, err
		}
		return &reply{
			Status: http.StatusOK, ContentType: zipType, Disposition: `attachment; filename="personal-record.zip"`,
			Body: archive.Bytes(),
		}, nil
	})
	example := Erasure{Name: "Tam Okell", AskedBy: models.AskedByGuardian}
	does(s, operation{
		method: http.MethodPost, path: "/players/{id}/erasure", id: "erase-player", summary: "Erase a player's data",
		part: people,
		about: "Erases everything kept about the player. Figures that other players' results depend on stay, without a " +
			"link to the player. This cannot be undone. The answer is the proof. It has no names, and it lists other records " +
			"that may still name the player: a person has to read those. Backups still contain the erased data until you " +
			"replace them. On SQLite the database file is rewritten too. While file_pending is true, another program is " +
			"still reading the file and the rewrite has to wait: do not back the file up yet.",
		takes: &content{media: jsonType, example: example}, gives: []content{{media: jsonType, example: proof}},
		untagged: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		var sent Erasure
		if err := s.read(r, s.schemaOf(reflect.TypeFor[Erasure]()), &sent); err != nil {
			return nil, err
		}
		proof, err := s.store.ErasePlayer(r, r.who, in.ID, sent.Name, sent.AskedBy)
		if err != nil {
			return nil, inBody(err)
		}
		return done(http.StatusOK, "", proof)
	})
}
