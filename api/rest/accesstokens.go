package rest

import (
	"crypto/rand"
	"net/http"
	"reflect"
	"strconv"
	"time"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

type accessTokensWanted struct {
	Page
	User int64 `query:"user" minimum:"1" doc:"Only tokens of this user."`
}

// TokenWanted is what an access token is made of.
type TokenWanted struct {
	Label string            `json:"label" minLength:"1" maxLength:"100" doc:"What it is for"`
	Scope models.TokenScope `json:"scope" doc:"read: only read; write: everything its user may do"`
	Days  int               `json:"days" minimum:"1" maximum:"366" doc:"How many days the token is valid"`
}

// TokenMade is an access token with what a program sends.
type TokenMade struct {
	models.AccessToken
	Token string `json:"token" doc:"The secret that a program sends; shown only once"`
}

func accessTokens(s *Service) {
	x := resource[models.AccessToken, accessTokensWanted]{
		name: "access token", many: "access tokens", path: "/access-tokens", part: access,
		order: "by user, oldest first",
		about: "An access token lets a program act as a user until the token expires. Managers see all tokens of their " +
			"academy; other users see their own. The secret is shown only once, because only its hash is kept.",
		list: func(tx *store.Tx, in *accessTokensWanted) ([]models.AccessToken, error) {
			return tx.AccessTokens(in.User)
		},
		get: (*store.Tx).AccessToken, remove: (*store.Tx).DeleteAccessToken,
		record: func(t *models.AccessToken) *models.Record { return &t.Record },
		example: models.AccessToken{
			Record: exampleRecord(4), UserID: exampleUser, Label: "analysis laptop", Scope: models.ScopeRead,
			ExpiresAt: time.Date(2025, 12, 5, 18, 0, 0, 0, time.UTC),
		},
	}
	add(s, x)
	does(s, operation{
		method: http.MethodPost, path: "/access-tokens", id: "create-access-token", summary: "Create an access token",
		part: access,
		about: "Creates an access token for the caller, who must have signed in on a page: a token cannot create another " +
			"token. The account page does the same.",
		takes: &content{media: jsonType, example: TokenWanted{Label: "analysis laptop", Scope: models.ScopeRead, Days: 90}},
		gives: []content{{media: jsonType,
			example: TokenMade{x.example, "throughline_Yk2uMDDQm0mWwN3V0pJz6n1Vb7c0C3yQq8eXr5TtLhA"}}}, created: true,
		keyed:    true,
		refusals: []int{http.StatusForbidden},
	}, func(r *request, _ *struct{}) (*reply, error) {
		var wanted TokenWanted
		if err := s.read(r, s.schemaOf(reflect.TypeFor[TokenWanted]()), &wanted); err != nil {
			return nil, err
		}
		token, hash, err := auth.NewToken(rand.Reader)
		if err != nil {
			return nil, err
		}
		made := models.AccessToken{UserID: r.who.UserID, Label: wanted.Label, Scope: wanted.Scope, Hash: hash}
		err = s.making(r, func(tx *store.Tx) ([]int64, error) {
			made.ExpiresAt = tx.Now().AddDate(0, 0, wanted.Days)
			return nil, inBody(tx.CreateAccessToken(&made))
		}, nil)
		if err != nil {
			return nil, err
		}
		out, err := done(http.StatusCreated, x.tagOf(&made), TokenMade{made, token})
		if err != nil {
			return nil, err
		}
		out.Location = Path + x.path + "/" + strconv.FormatInt(made.ID, 10)
		return out, nil
	})
}
