package pages_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// The squads at a glance are narrowed to those whom the reader asks for, and what cannot be asked for is refused.
func TestHomeShowsThosePlayersWhoAreAskedFor(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		born := a.Season.Starts.AddDays(-17 * 366)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			bryn, err := tx.Player(a.Bryn.ID)
			if err != nil {
				return err
			}
			bryn.BornOn = &born
			return tx.UpdatePlayer(&bryn)
		})
		if err != nil {
			t.Fatal(err)
		}
		c := a.SignIn(t, "mabyn")
		for query, want := range map[string][]string{
			"":                                    {"Bryn Calder", "Owen Tarrant", "Owen Tarrant", "Tam Veale"},
			"only=gaps":                           {"Bryn Calder", "Owen Tarrant", "Owen Tarrant"},
			"age=17":                              {"Bryn Calder"},
			"group=front_row":                     {"Tam Veale"},
			"only=goalless":                       {"Bryn Calder", "Owen Tarrant", "Owen Tarrant", "Tam Veale"},
			"only=action":                         nil,
			"only=gaps&age=17":                    {"Bryn Calder"},
			"group=front_row&age=17":              nil,
			fmt.Sprintf("squad=%d", a.Under16.ID): {"Owen Tarrant", "Tam Veale"},
		} {
			got := c.Get("/?" + query)
			var names []string
			for _, row := range rows(got.Body) {
				if name, _, _ := strings.Cut(row, "|"); name != "Player" {
					names = append(names, name)
				}
			}
			slices.Sort(names)
			if got.Status != http.StatusOK || !slices.Equal(names, want) {
				t.Errorf("%q: %d, %q; want %q", query, got.Status, names, want)
			}
			if want == nil && !strings.Contains(got.Body, "No player fits that.") {
				t.Errorf("%q does not say that no player fits", query)
			}
		}
		for _, query := range []string{"squad=x", "age=old", "only=best"} {
			if got := c.Get("/?" + query); got.Status != http.StatusBadRequest ||
				!strings.Contains(got.Body, "hoose one from the list") {
				t.Errorf("%q: %d; want 400 with what would be right", query, got.Status)
			}
		}
	})
}
