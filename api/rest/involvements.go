package rest

import (
	"fmt"
	"net/http"
	"reflect"

	"throughline/models"
	"throughline/models/store"
)

type involvementsWanted struct {
	Page
	Dated
	InSquad
	Season  int64 `query:"season" minimum:"1" doc:"Only involvements in matches of this season."`
	Match   int64 `query:"match" minimum:"1" doc:"Only involvements in this match."`
	Player  int64 `query:"player" minimum:"1" doc:"Only involvements of this player."`
	Log     int64 `query:"log" minimum:"1" doc:"Only involvements of this log."`
	Moments bool  `query:"moments" doc:"With true: only moments marked as worth showing."`
}

// inLog is the input of what is done to a log's involvements.
type inLog struct {
	Log int64 `path:"id" minimum:"1" doc:"The id of the log"`
}

// Involvements are some of one log, sent together.
type Involvements struct {
	Items []models.Involvement `json:"items" minItems:"1" maxItems:"300" doc:"The involvements, in any order"`
}

func involvements(s *Service) {
	x := resource[models.Involvement, involvementsWanted]{
		name: "involvement", many: "involvements", path: "/involvements", part: logging,
		order: "by the date of the match, then player, log and clock",
		about: "An involvement is one action of one player in one match. Beyond the kind and the clock it has details, " +
			"chosen from codes, and measures, which are numbers. The catalogue lists both for each kind and says what they " +
			"mean. An involvement must fit what its log covers and cannot move to another log. Marking it as a head contact " +
			"also creates a head contact record.",
		list: func(tx *store.Tx, in *involvementsWanted) ([]models.Involvement, error) {
			return tx.Involvements(models.InvolvementFilter{LogID: in.Log, MatchID: in.Match, PlayerID: in.Player,
				SeasonID: in.Season, MomentsOnly: in.Moments})
		},
		get: (*store.Tx).Involvement, update: (*store.Tx).UpdateInvolvement, remove: (*store.Tx).DeleteInvolvement,
		record: func(r *models.Involvement) *models.Record { return &r.Record },
		fixed:  []string{"log_id", "ask", "proposal"}, optional: []string{"moment", "head_contact", "confirmed"},
		tag:  func(i *models.Involvement) string { return stopTag(i.Version, i.Ask != "", i.Proposal != nil) },
		keep: func(now, sent *models.Involvement) { sent.LogID = now.LogID },
		example: models.Involvement{
			Record: exampleRecord(812), LogID: exampleLog, Clock: models.Clock{Half: 1, Second: 754}, Kind: models.KindCarry,
			Details:  map[string]string{"contact": "won", "gain_line": "over", "approach": "step"},
			Measures: map[string]float64{"metres": 6.5}, Results: []models.Result{models.ResultLineBreak},
			VideoFile: "fellmoor-home", VideoFrom: some(1204.0), VideoTo: some(1213.5), Moment: true, Key: "tablet-4:17",
		},
	}
	add(s, x)

	example := content{media: jsonType, example: x.example}
	refused := []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusGone}
	does(s, operation{
		method: http.MethodPost, path: "/logs/{id}/involvements", id: "create-involvement", summary: "Log an involvement",
		part:  logging,
		about: x.about, takes: &example, gives: []content{example}, created: true, keyed: true, refusals: refused,
	}, func(r *request, in *inLog) (*reply, error) {
		x := x
		x.create = func(tx *store.Tx, i *models.Involvement) error {
			refused, err := tx.CreateInvolvements(in.Log, []*models.Involvement{i})
			if err != nil {
				return err
			}
			return refused[0]
		}
		return x.created(s, r, func(*store.Tx, *models.Involvement) error { return nil })
	})

	several := Involvements{Items: []models.Involvement{x.example, {
		Record: exampleRecord(813), LogID: exampleLog, Clock: models.Clock{Half: 1, Second: 801}, Kind: models.KindTackle,
		Details: map[string]string{"result": "won"}, Key: "tablet-4:18",
	}}}
	does(s, operation{
		method: http.MethodPost, path: "/logs/{id}/involvements/batch", id: "create-involvements",
		summary: "Log several involvements", part: logging,
		about: "Logs all of them or none. The errors name each one that cannot be logged, such as " +
			"body.items[3].details.contact. If an item's key already exists, the answer has the existing involvement.",
		takes: &content{media: jsonType, example: several}, gives: []content{{media: jsonType, example: several}},
		untagged: true, keyed: true, refusals: refused,
	}, func(r *request, in *inLog) (*reply, error) {
		var sent Involvements
		if err := s.read(r, s.schemaOf(reflect.TypeFor[Involvements]()), &sent); err != nil {
			return nil, err
		}
		err := s.making(r, func(tx *store.Tx) ([]int64, error) {
			err := createAll(tx, in.Log, sent.Items)
			ids := make([]int64, len(sent.Items))
			for i := range sent.Items {
				ids[i] = sent.Items[i].ID
			}
			return ids, err
		}, func(tx *store.Tx, made []int64) (err error) {
			all, err := tx.Involvements(models.InvolvementFilter{LogID: in.Log})
			if err != nil {
				return err
			}
			sent.Items, err = stillThere(all, made, "involvement", func(i models.Involvement) int64 { return i.ID })
			return err
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, "", sent)
	})
}

// createAll adds involvements to a log. The error names each that cannot be, and is of the code of the first.
func createAll(tx *store.Tx, log int64, items []models.Involvement) error {
	all := make([]*models.Involvement, len(items))
	for n := range items {
		all[n] = &items[n]
	}
	refused, err := tx.CreateInvolvements(log, all)
	if err != nil {
		return err
	}
	var faults models.Faults
	for n, err := range refused {
		if err := faults.Add(fmt.Sprintf("body.items[%d]", n), err); err != nil {
			return err
		}
	}
	return faults.Err("no involvement was logged; the errors say which ones are wrong and why")
}
