package rest

import (
	"bytes"
	"net/http"
	"reflect"
	"strconv"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/pack"
)

// Packing says which reports a pack is to have.
type Packing struct {
	Edition string `json:"edition" minLength:"1" maxLength:"40" doc:"The edition of the season report, such as staff"`
	PDF     bool   `json:"pdf" doc:"Whether each report is there as PDF too; it needs a server with a Chromium"`
}

func reportPacks(s *Service) {
	const about = "A report pack is the season reports of all players of a squad’s season in one ZIP file. It is made " +
		"in the background. Only the member of staff who asked for it sees it, while they reach every player in it. It is " +
		"deleted after 24 hours, and when the data of a player are erased."
	asked := time.Date(2026, time.May, 30, 16, 0, 0, 0, time.UTC)
	example := models.ReportPack{ID: 4, SeasonID: exampleSeason, SquadID: exampleSquad, UserID: exampleUser,
		Edition: "staff", State: models.PackMaking, Players: 24, Made: 9, AskedAt: asked,
		Until: asked.Add(models.ReportPackFor)}
	does(s, operation{
		method: http.MethodPost, path: "/squads/{id}/seasons/{season}/report-packs", id: "create-report-pack",
		summary: "Make a report pack", part: learned,
		about: about + " Refused with 403 to callers who do not reach every player of the squad, and with 409 while they " +
			"have a pack of the same squad and season.",
		takes: &content{media: jsonType, example: Packing{Edition: "staff"}},
		gives: []content{{media: jsonType, example: example}}, keyed: true, created: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *struct {
		Squad  int64 `path:"id" minimum:"1" doc:"The id of the squad"`
		Season int64 `path:"season" minimum:"1" doc:"The id of the season"`
	}) (*reply, error) {
		err := s.store.Read(r, r.who, func(tx *store.Tx) error { return tx.MayPack(in.Season, in.Squad) })
		if err != nil {
			return nil, err
		}
		var sent Packing
		if err := s.read(r, s.schemaOf(reflect.TypeFor[Packing]()), &sent); err != nil {
			return nil, err
		}
		report, err := pack.ReportIn(s.papers)
		if err != nil {
			return nil, err
		}
		p := models.ReportPack{SquadID: in.Squad, SeasonID: in.Season, Edition: sent.Edition, PDF: sent.PDF}
		err = s.making(r, func(tx *store.Tx) ([]int64, error) {
			if err := tx.MayPack(p.SeasonID, p.SquadID); err != nil {
				return nil, err
			}
			if err := pack.Check(report, r.who, p, s.printer); err != nil {
				return nil, inBody(err)
			}
			err := tx.CreateReportPack(&p)
			return []int64{p.ID}, err
		}, func(tx *store.Tx, made []int64) (err error) {
			p, err = tx.ReportPack(made[0])
			return err
		})
		if err != nil {
			return nil, err
		}
		body, err := marshal(p)
		if err != nil {
			return nil, err
		}
		answer, err := done(http.StatusCreated, bodyTag(body), p)
		if err == nil {
			answer.Location = Path + "/report-packs/" + strconv.FormatInt(p.ID, 10)
		}
		return answer, err
	})
	does(s, operation{
		method: http.MethodGet, path: "/report-packs", id: "list-report-packs", summary: "List your report packs",
		part: learned, about: about + "\n\nOldest first.",
		gives:    []content{{media: jsonType, example: []models.ReportPack{example}}},
		refusals: []int{http.StatusForbidden},
	}, func(r *request, _ *struct{}) (*reply, error) {
		var all []models.ReportPack
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = tx.ReportPacks()
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON("", all)
	})
	does(s, operation{
		method: http.MethodGet, path: "/report-packs/{id}", id: "get-report-pack", summary: "Get a report pack",
		part: learned,
		about: about + " With Accept: application/zip you get the file, or 409 while it is not ready. The file has the " +
			"same bytes each time.",
		gives:    []content{{media: jsonType, example: example}, {media: zipType, example: "(an archive)"}},
		refusals: []int{http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		if r.prefers(jsonType, zipType) == zipType {
			return s.packFile(r, in.ID)
		}
		var found models.ReportPack
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.ReportPack(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON("", found)
	})
	does(s, operation{
		method: http.MethodDelete, path: "/report-packs/{id}", id: "delete-report-pack", summary: "Delete a report pack",
		part: learned, about: about + " A pack that is being made is stopped.", refusals: []int{http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		err := s.store.Write(r, r.who, func(tx *store.Tx) error { return tx.DeleteReportPack(in.ID) })
		if err != nil {
			return nil, err
		}
		return &reply{Status: http.StatusNoContent}, nil
	})
}

// packFile answers with the file of a pack.
func (s *Service) packFile(r *request, id int64) (*reply, error) {
	report, err := pack.ReportIn(s.papers)
	if err != nil {
		return nil, err
	}
	var file pack.Contents
	err = s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
		file, err = pack.Read(tx, id, report)
		return err
	})
	if err != nil {
		return nil, err
	}
	var made bytes.Buffer
	if err := file.Write(&made); err != nil {
		return nil, err
	}
	out, err := r.found(zipType, "", made.Bytes())
	if err == nil {
		out.Disposition = `attachment; filename="report-pack.zip"`
	}
	return out, err
}
