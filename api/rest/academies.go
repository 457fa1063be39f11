package rest

import (
	"crypto/rand"
	"net/http"
	"reflect"
	"strconv"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

// FirstManager is who is to manage an academy.
type FirstManager struct {
	Login string `json:"login" minLength:"2" maxLength:"100" doc:"Username: lower case, unique on this server"`
	Name  string `json:"name" minLength:"1" maxLength:"100" doc:"Full name"`
}

// ManagerMade is the first manager of an academy, and how they come in.
type ManagerMade struct {
	UserID int64       `json:"user_id" doc:"The user's id"`
	Link   OneTimeLink `json:"link" doc:"Their one-time link"`
}

func academies(s *Service) {
	example := models.Academy{ID: 2, Name: "Ostrel Vale Rugby Academy"}
	const about = "An academy is one organisation on this server. It never sees another academy's records. Only " +
		"operators list academies, and they see no academy's records."
	s.shapes[reflect.TypeFor[models.Academy]()] = shape{fixed: []string{"id"}}
	does(s, operation{
		method: http.MethodGet, path: "/academies", id: "list-academies", summary: "List academies", part: access,
		about: about + "\n\nOrdered by name.", gives: listed(example), refusals: []int{http.StatusForbidden},
	}, func(r *request, in *struct{ Page }) (*reply, error) {
		var all []models.Academy
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = tx.Academies()
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, func(a models.Academy) string { return strconv.FormatInt(a.ID, 10) })
	})
	body := content{media: jsonType, example: example}
	does(s, operation{
		method: http.MethodPost, path: "/academies", id: "create-academy", summary: "Create an academy", part: access,
		about: about,
		takes: &body, gives: []content{body}, untagged: true, keyed: true,
		refusals: []int{http.StatusForbidden, http.StatusConflict},
	}, func(r *request, _ *struct{}) (*reply, error) {
		var sent models.Academy
		if err := s.read(r, s.schemaOf(reflect.TypeFor[models.Academy]()), &sent); err != nil {
			return nil, err
		}
		err := s.making(r, func(tx *store.Tx) ([]int64, error) {
			err := inBody(tx.CreateAcademy(&sent))
			return []int64{sent.ID}, err
		}, func(tx *store.Tx, made []int64) error {
			all, err := tx.Academies()
			for _, a := range all {
				if a.ID == made[0] {
					sent = a
				}
			}
			return err // no academy is ever deleted
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, "", sent)
	})
	does(s, operation{
		method: http.MethodPut, path: "/academies/{id}", id: "rename-academy", summary: "Rename an academy", part: access,
		about: about,
		takes: &body, gives: []content{body}, untagged: true, refusals: []int{http.StatusForbidden, http.StatusNotFound,
			http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		var sent models.Academy
		if err := s.read(r, s.schemaOf(reflect.TypeFor[models.Academy]()), &sent); err != nil {
			return nil, err
		}
		err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
			sent, err = tx.RenameAcademy(in.ID, sent.Name)
			return inBody(err)
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, "", sent)
	})
	does(s, operation{
		method: http.MethodPost, path: "/academies/{id}/manager", id: "create-first-manager",
		summary: "Create the first manager of an academy", part: access,
		about: "Creates the first manager of an academy, who joins through a one-time link and then invites everyone " +
			"else. Refused if the academy already has a manager.",
		takes: &content{media: jsonType, example: FirstManager{Login: "ines.marl", Name: "Ines Marl"}},
		gives: []content{{media: jsonType, example: ManagerMade{exampleUser, exampleLink}}}, untagged: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		var sent FirstManager
		if err := s.read(r, s.schemaOf(reflect.TypeFor[FirstManager]()), &sent); err != nil {
			return nil, err
		}
		secret, hash, err := auth.NewSecret(rand.Reader)
		if err != nil {
			return nil, err
		}
		user, link := models.User{Login: sent.Login, Name: sent.Name}, models.Link{Hash: hash}
		if err := s.store.CreateFirstManager(r, r.who, in.ID, &user, &link); err != nil {
			return nil, inBody(err)
		}
		return done(http.StatusOK, "", ManagerMade{user.ID, answered(secret, link)})
	})
}
