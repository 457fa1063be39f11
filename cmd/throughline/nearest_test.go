package main

import (
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestAnUnknownNameNamesTheNearestOfTheSeason(t *testing.T) {
	s, err := store.Open(t.Context(), storetest.SQLite(t), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	academy, err := s.CreateAcademy(t.Context(), "Northmoor")
	if err != nil {
		t.Fatal(err)
	}
	err = s.Write(t.Context(), models.Console(academy.ID), func(tx *store.Tx) error {
		season := models.Season{Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"}
		squad := models.Squad{Name: "Under 18"}
		here, gone := models.Player{Name: "Wren Tolley"}, models.Player{Name: "Wren Tollman"}
		for _, err := range []error{tx.CreateSeason(&season), tx.CreateSquad(&squad), tx.CreatePlayer(&here),
			tx.CreatePlayer(&gone)} {
			if err != nil {
				return err
			}
		}
		err := tx.CreateMembership(&models.Membership{SeasonID: season.ID, SquadID: squad.ID, PlayerID: here.ID,
			From: season.Starts})
		if err != nil {
			return err
		}
		for _, c := range []struct{ name, season, says string }{
			{"wren tolly", "2025-26", "; the nearest: Wren Tolley"},
			{"Wren Tolly", "", "; the nearest: Wren Tolley, Wren Tollman"},
			{"Odo Vane", "2025-26", "; check the spelling, or give the player's id"},
		} {
			if _, err := playerOfSeason(tx, c.name, c.season); err == nil || !strings.HasSuffix(err.Error(), c.says) {
				t.Errorf("%s in %q: %v; want it to end in %q", c.name, c.season, err, c.says)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestTheNearestNamesAreAtMostThreeTheLikestFirst(t *testing.T) {
	names := []string{"Tolan Reed", "Wren Tollman", "Wren Tolley", "Tolver Ash", "Odo Vane", "Wren Tolley"}
	if got, want := nearest(names, "WREN tolly"),
		[]string{"Wren Tolley", "Wren Tollman", "Tolan Reed"}; !slices.Equal(got,
		want) {
		t.Errorf("%q; want %q", got, want)
	}
}

func TestASlipInTheFirstLettersIsNear(t *testing.T) {
	names := []string{"Odo Vane", "Wren Tolley", "Rhodri Maelgwyn", "Ed Li"}
	for typed, want := range map[string]string{"Nrem Yolley": "Wren Tolley", "rohdri": "Rhodri Maelgwyn",
		"Waelgwyn": "Rhodri Maelgwyn"} {
		if got := nearest(names, typed); len(got) != 1 || got[0] != want {
			t.Errorf("%s: %q; want %q", typed, got, want)
		}
	}
	if got := nearest(names, "Jago Al"); len(got) != 0 {
		t.Errorf("names far away are near: %q", got)
	}
}
