package rest

import (
	"crypto/rand"
	"net/http"
	"strconv"
	"time"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

type usersWanted struct {
	Page
	Login string `query:"login" maxLength:"100" doc:"Only the user with this username."`
	Role  string `query:"role" maxLength:"20" doc:"Only users with this role."`
}

// userSquad is the input of an operation on one squad of a user.
type userSquad struct {
	ID    int64 `path:"id" minimum:"1" doc:"The id of the user"`
	Squad int64 `path:"squad" minimum:"1" doc:"The id of the squad"`
}

// OneTimeLink is how a person comes in.
type OneTimeLink struct {
	Path      string             `json:"path" doc:"Where the user chooses a password; shown only once"`
	Purpose   models.LinkPurpose `json:"purpose" doc:"invitation: for a first password; reset: for a new one"`
	ExpiresAt time.Time          `json:"expires_at" doc:"When it expires, in UTC"`
}

// answered is what is answered when a link was made of a secret.
func answered(secret string, l models.Link) OneTimeLink {
	return OneTimeLink{auth.JoinPath + secret, l.Purpose, l.ExpiresAt}
}

var exampleLink = OneTimeLink{
	Path: auth.JoinPath + "Yk2uMDDQm0mWwN3V0pJz6n1Vb7c0C3yQq8eXr5TtLhA", Purpose: models.Invitation,
	ExpiresAt: time.Date(2025, 9, 13, 18, 0, 0, 0, time.UTC),
}

const aboutUsers = "A user is a person who signs in. Users get a one-time link and choose their own password, which " +
	"no program ever sees. Managers manage the users of their academy, operators those of the deployment. Roles can be " +
	"changed only in a signed-in session, not with an access token."

func users(s *Service) {
	add(s, resource[models.User, usersWanted]{
		name: "user", many: "users", path: "/users", part: access, order: "by name",
		about: aboutUsers +
			" Users cannot change their own role or delete themselves. The last manager of an academy cannot be deleted.",
		list: func(tx *store.Tx, in *usersWanted) ([]models.User, error) {
			return tx.Users(models.UserFilter{Login: in.Login, Role: models.Role(in.Role)})
		},
		get: (*store.Tx).User, update: (*store.Tx).UpdateUser, remove: (*store.Tx).DeleteUser,
		create: func(tx *store.Tx, u *models.User) error {
			u.SecondFactorSince = nil
			return tx.CreateUser(u)
		},
		record: func(u *models.User) *models.Record { return &u.Record },
		fixed:  []string{"second_factor_since"},
		keep: func(now, sent *models.User) {
			sent.PasswordHash, sent.TOTPSecret, sent.SecondFactorSince, sent.TOTPStep = now.PasswordHash, now.TOTPSecret,
				now.SecondFactorSince, now.TOTPStep
		},
		example: models.User{Record: exampleRecord(exampleUser), Login: "wyn.tarrow", Name: "Wyn Tarrow",
			Role: models.RoleCoach},
	})
	does(s, operation{
		method: http.MethodGet, path: "/users/{id}/squads", id: "list-user-squads", summary: "List the squads of a user",
		part:     access,
		about:    "The squads a coach or selector works with.\n\nOrdered by squad.",
		gives:    listed(models.SquadStaff{UserID: exampleUser, SquadID: exampleSquad}),
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *struct {
		ID int64 `path:"id" minimum:"1" doc:"The id of the user"`
		Page
	}) (*reply, error) {
		var all []models.SquadStaff
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			if in.ID != r.who.UserID {
				if _, err := tx.User(in.ID); err != nil {
					return err
				}
			}
			all, err = tx.SquadStaff(in.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, func(x models.SquadStaff) string { return strconv.FormatInt(x.SquadID, 10) })
	})
	onSquad := func(method, id, summary, about string, do func(tx *store.Tx, user, squad int64) error) {
		onSquadAt(s, method, "/users/{id}/squads/{squad}", id, summary, about, do)
	}
	onSquad(http.MethodPut, "add-user-squad", "Let a user work with a squad",
		"From now on the coach or selector works with the squad. Doing it again changes nothing.", (*store.Tx).AddSquadStaff)
	onSquad(http.MethodDelete, "remove-user-squad", "Take a user off a squad",
		"The user no longer works with the squad. If they never did, nothing changes.", (*store.Tx).RemoveSquadStaff)
	onLead := func(method, id, summary, about string, do func(tx *store.Tx, user, squad int64) error) {
		onSquadAt(s, method, "/users/{id}/squads/{squad}/lead", id, summary, about, do)
	}
	onLead(http.MethodPut, "set-lead-coach", "Make a coach the lead coach of a squad",
		"The coach must work with the squad, and takes the place of its lead coach, if there is one. What needs action in "+
			"the squad waits for the lead coach; without one it waits for the managers. A coach who stops working with the "+
			"squad no longer leads it. Doing it again changes nothing.", (*store.Tx).SetLeadCoach)
	onLead(http.MethodDelete, "end-lead-coach", "Take the lead of a squad from a coach",
		"The coach still works with the squad. If they did not lead it, nothing changes.", (*store.Tx).EndLeadCoach)
	does(s, operation{
		method: http.MethodPost, path: "/users/{id}/link", id: "make-user-link",
		summary: "Create a one-time link for a user",
		part:    access,
		about: "The user opens the link once and chooses a password: their first one (an invitation, valid for seven " +
			"days), or a new one if they forgot theirs (valid for a day). A new link replaces the user's earlier unused " +
			"links. Send it where only the user can read it. An access token cannot create a link for its own user.",
		gives: []content{{media: jsonType, example: exampleLink}}, untagged: true, keyed: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		secret, hash, err := auth.NewSecret(rand.Reader)
		if err != nil {
			return nil, err
		}
		link := models.Link{UserID: in.ID, Hash: hash}
		err = s.making(r, func(tx *store.Tx) ([]int64, error) {
			if _, err := tx.User(in.ID); err != nil {
				return nil, err
			}
			return nil, tx.CreateLink(&link)
		}, nil)
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, "", answered(secret, link))
	})
	does(s, operation{
		method: http.MethodDelete, path: "/users/{id}/second-factor", id: "end-user-second-factor",
		summary: "Turn off a user's two-factor sign-in", part: access,
		about: "For a user who lost their phone. They are signed out everywhere, and signing in asks for no one-time " +
			"code until they set it up again. First make sure that the request really comes from that user. Users can turn " +
			"off their own two-factor sign-in on their account page.",
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *one) (*reply, error) {
		err := s.store.Write(r, r.who, func(tx *store.Tx) error { return tx.EndSecondFactorOf(in.ID) })
		if err != nil {
			return nil, err
		}
		return &reply{Status: http.StatusNoContent}, nil
	})
}

// onSquadAt adds an operation on one squad of a user that answers with nothing.
func onSquadAt(s *Service, method, path, id, summary, about string, do func(tx *store.Tx, user, squad int64) error) {
	does(s, operation{
		method: method, path: path, id: id, summary: summary, part: access, about: about,
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, func(r *request, in *userSquad) (*reply, error) {
		err := s.store.Write(r, r.who, func(tx *store.Tx) error {
			if _, err := tx.User(in.ID); err != nil {
				return err
			}
			if _, err := tx.Squad(in.Squad); err != nil {
				return err
			}
			return within("path.", do(tx, in.ID, in.Squad))
		})
		if err != nil {
			return nil, err
		}
		return &reply{Status: http.StatusNoContent}, nil
	})
}
