package pages_test

import (
	"net/http"
	"strconv"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// A name is found by the beginnings of its parts, whatever the case and the accents, and only by those who see the
// player anyway.
func TestAPlayerIsFoundByTheBeginningOfANameAmongThoseThatOneSees(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			for _, name := range []string{"Renée O’Hara", "Rene Ostler"} {
				if err := tx.CreatePlayer(&models.Player{Name: name}); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		manager := a.SignIn(t, "mabyn")
		bryn := "/players/" + strconv.FormatInt(a.Bryn.ID, 10)
		for _, typed := range []string{"bryn", "CALD", "calder+br", "Brýn+Calder"} {
			if got := manager.Get("/search?name=" + typed); got.Status != http.StatusSeeOther ||
				got.Header.Get("Location") != bryn {
				t.Errorf("%q: %d to %q; want the page of the only one who fits", typed, got.Status,
					got.Header.Get("Location"))
			}
		}
		both := manager.Get("/search?name=rene+o").Body
		if !strings.Contains(both, "2 players fit") || !strings.Contains(both, "O’Hara") ||
			!strings.Contains(both, "Ostler") {
			t.Errorf("two who fit:\n%s", both)
		}
		for _, typed := range []string{"ryn", "<i>noname"} {
			if got := manager.Get("/search?name=" + typed); got.Status != http.StatusOK ||
				!strings.Contains(got.Body, "No player that you can see") || strings.Contains(got.Body, "<i>") {
				t.Errorf("%q: %d\n%s", typed, got.Status, got.Body)
			}
		}
		for _, login := range []string{"sorrel", "owen"} { // a selector of another squad, a coach of another academy
			if got := a.SignIn(t, login).Get("/search?name=tam"); strings.Contains(got.Header.Get("Location"), "/players/") {
				t.Errorf("%s is led to %s, whom they may not see", login, got.Header.Get("Location"))
			}
		}
		if got := a.SignIn(t, "bryn").Get("/search?name=tam"); got.Status != http.StatusForbidden {
			t.Errorf("a player: %d; want 403", got.Status)
		}
	})
}
