package rest

import (
	"net/http"
	"reflect"
	"strconv"

	"throughline/models"
	"throughline/models/store"
)

// Merging says which two records are one person's.
type Merging struct {
	PlayerID int64  `json:"player_id" minimum:"1" doc:"The record that stays"`
	OtherID  int64  `json:"other_id" minimum:"1" doc:"The record that goes into it"`
	Seen     string `json:"seen,omitempty" maxLength:"64" doc:"The plan's mark: refused if the plan changed meanwhile"`
}

func playerMerges(s *Service) {
	const about = "A merge makes two records of one person one. Everything kept about the other record is moved to the " +
		"record that stays, and the other record leaves all lists. Where the two meet, nothing is lost: of two records " +
		"that say the same, one is set aside; where they differ, the merge is refused and says what to mend first. The " +
		"stricter of two consents holds. Only managers merge players."
	example := models.PlayerMerge{Record: exampleRecord(1), PlayerID: examplePlayer, OtherID: 57, Name: "Tam Okell",
		OtherName: "Tam Okel", MergedBy: some[int64](exampleUser), UndoUntil: "2025-12-06",
		Moved: map[string]int{"appearances": 3, "guardians": 1}}
	does(s, operation{
		method: http.MethodGet, path: "/player-merges", id: "list-player-merges", summary: "List merges of players",
		part: people, about: about + "\n\nOldest first.", gives: listed(example),
		refusals: []int{http.StatusForbidden},
	}, func(r *request, in *Page) (*reply, error) { return paged(s, r, in, (*store.Tx).PlayerMerges) })
	does(s, operation{
		method: http.MethodGet, path: "/player-merges/{id}", id: "get-player-merge", summary: "Get a merge of players",
		part: people, about: about, gives: []content{{media: jsonType, example: example}},
		refusals: []int{http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		var found models.PlayerMerge
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.PlayerMerge(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, versionTag(found.Version), found)
	})
	plan := models.MergePlan{
		Player:  models.Player{Record: exampleRecord(examplePlayer), Name: "Tam Okell", Positions: []models.Position{}},
		Other:   models.Player{Record: exampleRecord(57), Name: "Tam Okel", Positions: []models.Position{}},
		Has:     []models.MergeCount{{Table: "appearances", Title: "Appearances", Player: 9, Other: 3}},
		Refused: []models.MergeClash{}, Seen: "8d969eef6ecad3c2",
		Settled: []models.MergeClash{{Table: "players", Words: "The names differ: Tam Okell stays."}},
	}
	does(s, operation{
		method: http.MethodGet, path: "/players/{id}/merge-plan", id: "plan-player-merge",
		summary: "See what a merge of two players would do", part: people,
		about: "What each record has, what must be mended first, and what the merge would do where the two meet. Nothing " +
			"is changed. " + about,
		gives: []content{{media: jsonType, example: plan}}, untagged: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *struct {
		Player int64 `path:"id" minimum:"1" doc:"The id of the record that would stay"`
		Other  int64 `query:"other" minimum:"1" doc:"The id of the record that would go into it"`
	}) (*reply, error) {
		var found models.MergePlan
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.MergePlan(in.Player, in.Other)
			return err
		})
		if err != nil {
			return nil, within("query.", err)
		}
		return done(http.StatusOK, "", found)
	})
	does(s, operation{
		method: http.MethodPost, path: "/player-merges", id: "merge-players", summary: "Merge two records of one person",
		part: people, about: about + " It can be undone for " + strconv.Itoa(models.MergeUndoDays) + " days.",
		takes: &content{media: jsonType, example: Merging{PlayerID: examplePlayer, OtherID: 57}},
		gives: []content{{media: jsonType, example: example}}, keyed: true, created: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed},
	}, func(r *request, in *struct{}) (*reply, error) {
		var sent Merging
		if err := s.read(r, s.schemaOf(reflect.TypeFor[Merging]()), &sent); err != nil {
			return nil, err
		}
		m := models.PlayerMerge{PlayerID: sent.PlayerID, OtherID: sent.OtherID}
		err := s.making(r, func(tx *store.Tx) ([]int64, error) {
			err := inBody(tx.MergePlayers(&m, sent.Seen))
			return []int64{m.ID}, err
		}, func(tx *store.Tx, made []int64) (err error) {
			m, err = tx.PlayerMerge(made[0])
			return err
		})
		if err != nil {
			return nil, err
		}
		answer, err := done(http.StatusCreated, versionTag(m.Version), m)
		if err == nil {
			answer.Location = Path + "/player-merges/" + strconv.FormatInt(m.ID, 10)
		}
		return answer, err
	})
	undone := example
	undone.UndoUntil, undone.UndoneAt, undone.UndoneBy = "", &undone.ChangedAt, some[int64](exampleUser)
	does(s, operation{
		method: http.MethodPost, path: "/player-merges/{id}/undo", id: "undo-player-merge",
		summary: "Undo a merge of players", part: people,
		about: "Puts back exactly what the merge moved. What was recorded since then stays with the record that stayed. " +
			"Refused with the reason if the merge is too old, the player's data were erased, or a newer record needs both " +
			"records to be one.",
		gives:    []content{{media: jsonType, example: undone}},
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		var found models.PlayerMerge
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			found, err = tx.UndoMerge(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, versionTag(found.Version), found)
	})
}
