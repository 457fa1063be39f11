package rest

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"throughline/models"
	"throughline/models/store"
)

// Earlier is a record as it was before a change.
type Earlier[T any] struct {
	Version int64     `json:"version" doc:"The version that the record had"`
	At      time.Time `json:"at" doc:"When it was replaced by the next version, in UTC"`
	UserID  int64     `json:"user_id,omitempty" doc:"The id of the user who replaced it; absent for the console"`
	By      string    `json:"by,omitempty" doc:"Their name"`
	Record  T         `json:"record" doc:"The record as it was"`
}

// earlierWanted is the input of a list of earlier versions.
type earlierWanted struct {
	ID int64 `path:"id" minimum:"1" doc:"The id of the record"`
	Page
}

// addEarlier registers the list of a record's earlier versions.
func (x *resource[T, F]) addEarlier(s *Service) {
	example := Earlier[T]{Version: 1, At: exampleRecord(1).ChangedAt, UserID: exampleUser, By: "Keir Rowan",
		Record: x.example}
	does(s, operation{
		method: http.MethodGet, path: x.path + "/{id}/earlier", id: "list-earlier-" + strings.ReplaceAll(x.many, " ", "-"),
		summary: "List earlier versions of " + article(x.name), part: x.part,
		about: "Each change keeps the record as it was, with who changed it and when. All who may read the record may " +
			"read them, but for what was for staff only then.\n\nOrdered by version, the first one first.",
		gives: listed(example), refusals: []int{http.StatusNotFound},
	}, func(r *request, in *earlierWanted) (*reply, error) {
		var all []Earlier[T]
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = earlier[T](tx, x.name, in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, func(e Earlier[T]) string { return strconv.FormatInt(e.Version, 10) })
	})
}

// earlier reads the earlier versions of a record.
func earlier[T any](tx *store.Tx, kind string, id int64) ([]Earlier[T], error) {
	kept, err := tx.Earlier(kind, id)
	if err != nil {
		return nil, err
	}
	names, err := tx.UserNames()
	if err != nil {
		return nil, err
	}
	all := make([]Earlier[T], len(kept))
	for i, v := range kept {
		all[i] = Earlier[T]{Version: v.Version, At: v.At, UserID: v.UserID, By: names[v.UserID]}
		if err := json.Unmarshal(v.Record(), &all[i].Record); err != nil {
			return nil, fmt.Errorf("read an earlier %s: %w", kind, err)
		}
	}
	return all, nil
}

// startedFrom is the version that a caller read before a change whose condition does not hold: the one that If-Match
// names, if it names one and that is not the record's version now.
func startedFrom(wanted tags, now int64) int64 {
	if len(wanted.list) != 1 {
		return noVersion
	}
	if n := versionIn(strings.TrimPrefix(wanted.list[0], "W/")); n != now {
		return n
	}
	return noVersion
}

// versionIn is the version that a strong entity tag names, alone or before a hyphen; noVersion if it names none.
func versionIn(tag string) int64 {
	text, _, _ := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(tag, `"`), `"`), "-")
	if n, err := strconv.ParseInt(text, 10, 64); err == nil && n > 0 {
		return n
	}
	return noVersion
}

// version says whether one of the tags names a version.
func (t tags) version(now int64) bool {
	return slices.ContainsFunc(t.list, func(tag string) bool { return versionIn(tag) == now })
}

// withoutFixed leaves members that only the service sets out of what an error says has changed: no one sends them.
func (x *resource[T, F]) withoutFixed(err error) error {
	var e *models.Error
	if errors.As(err, &e) && e.Changed != nil {
		e.Changed.Fields = slices.DeleteFunc(e.Changed.Fields, func(f models.ChangedField) bool {
			return slices.Contains(x.fixed, f.Field)
		})
	}
	return err
}
