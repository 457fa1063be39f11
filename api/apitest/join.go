package apitest

import (
	"crypto/rand"
	"testing"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

// Found adds an academy without anybody in it to those that are served.
func (a *Academy) Found(t testing.TB, name string) models.Academy {
	t.Helper()
	academy, err := a.Store.CreateAcademy(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	return academy
}

// Join adds a user to an academy, with everybody's password and a token, on the staff of squads. It returns why the
// store does not take them.
func (a *Academy) Join(t testing.TB, academy int64, u models.User, squads ...int64) (models.User, error) {
	t.Helper()
	hash, err := auth.HashPassword(Password)
	if err != nil {
		t.Fatal(err)
	}
	u.PasswordHash = hash
	token, sum, err := auth.NewToken(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	err = a.Store.Write(t.Context(), models.Console(academy), func(tx *store.Tx) error {
		if err := tx.CreateUser(&u); err != nil {
			return err
		}
		for _, squad := range squads {
			if err := tx.AddSquadStaff(u.ID, squad); err != nil {
				return err
			}
		}
		return tx.CreateAccessToken(&models.AccessToken{UserID: u.ID, Label: "test", Scope: models.ScopeWrite,
			ExpiresAt: tx.Now().AddDate(0, 6, 0), Hash: sum})
	})
	if err == nil {
		a.tokens[u.Login] = token
	}
	return u, err
}
