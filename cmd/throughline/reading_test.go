package main_test

import (
	"bytes"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper/papertest"
	"throughline/reports/season"
)

// A sentence of the player's edition has at most so many words, and each edition is at least so easy, see
// papertest.Ease.
const (
	longestSentence = 25
	leastEase       = 70
)

// playersEditionsReadEasily reads the edition of every player of a demonstration, as the player would.
func playersEditionsReadEasily(t *testing.T, database string) {
	t.Helper()
	s, err := store.Open(t.Context(), database, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	academies, err := s.Academies(t.Context())
	if err != nil || len(academies) != 1 {
		t.Fatalf("academies %+v, %v; want one", academies, err)
	}
	var players []models.Player
	var seasons []models.Season
	err = s.Read(t.Context(), models.Console(academies[0].ID), func(tx *store.Tx) (err error) {
		if players, err = tx.Players(models.PlayerFilter{}); err != nil {
			return err
		}
		seasons, err = tx.Seasons(models.SeasonFilter{})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	tooLong, read, levels := map[string]bool{}, 0, 0
	for _, p := range players {
		for _, one := range seasons {
			who := models.Who{AcademyID: academies[0].ID, Role: models.RolePlayer, PlayerID: p.ID, From: models.Here}
			page, program, current := edition(t, s, who, one.ID)
			if page == "" {
				continue
			}
			read++
			if current {
				levels++
			}
			sentences := papertest.Sentences(page)
			for _, said := range sentences {
				if n := len(papertest.Words(said)); n > longestSentence && !tooLong[said] {
					tooLong[said] = true
					t.Errorf("%d words, to %s: %q", n, p.Name, said)
				}
			}
			ours := papertest.Sentences(program)
			if all, own := papertest.Ease(sentences), papertest.Ease(ours); all < leastEase || own < leastEase {
				t.Errorf("the edition of %s in %s has reading ease %.1f, and %.1f without what people wrote; want %d at least",
					p.Name, one.Name, all, own, leastEase)
			}
		}
	}
	if read < 80 || levels < read/2 {
		t.Errorf("%d editions were read, %d of them with levels; want some ninety, most with levels", read, levels)
	}
}

// edition is a player's report of a season as a file without pictures, and once more without what people wrote: goals,
// notes and moments. Both are empty where the player has none.
func edition(t *testing.T, s *store.Store, who models.Who, in int64) (page, program string, current bool) {
	t.Helper()
	words, err := season.NewPage(nil)
	if err != nil {
		t.Fatal(err)
	}
	var r *season.Report
	err = s.Read(t.Context(), who, func(tx *store.Tx) (err error) {
		r, err = season.Read(t.Context(), tx, season.Request{PlayerID: who.PlayerID, SeasonID: in, Who: who,
			Now: time.Date(2026, 5, 2, 18, 30, 0, 0, time.UTC)})
		return err
	})
	if models.CodeOf(err) == models.NotFound {
		return "", "", false
	}
	if err != nil {
		t.Fatal(err)
	}
	written := func() string {
		var b bytes.Buffer
		if err := words.WriteFile(t.Context(), &b, r); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	page = written()
	r.Goals, r.Notes, r.Moments = nil, nil, nil
	return page, written(), r.Trends.Current
}
