package main_test

import (
	"bytes"
	"html"
	"regexp"
	"strings"
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
			r, page, program := edition(t, s, who, one.ID)
			if r == nil {
				continue
			}
			read++
			if r.Trends.Current {
				levels++
			}
			wordedForThem(t, r, page, program)
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
// notes and moments. Both are empty, and the report nil, where the player has
// none.
func edition(t *testing.T, s *store.Store, who models.Who, in int64) (r *season.Report, page, program string) {
	t.Helper()
	words, err := season.NewPage(nil)
	if err != nil {
		t.Fatal(err)
	}
	err = s.Read(t.Context(), who, func(tx *store.Tx) (err error) {
		r, err = season.Read(t.Context(), tx, season.Request{PlayerID: who.PlayerID, SeasonID: in, Who: who,
			Now: time.Date(2026, 5, 2, 18, 30, 0, 0, time.UTC)})
		return err
	})
	if models.CodeOf(err) == models.NotFound {
		return nil, "", ""
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
	return r, page, written()
}

var (
	heads  = regexp.MustCompile(`(?s)<(h[1-6]|caption|th|dt|title)\b[^>]*>(.*?)</`)
	third  = regexp.MustCompile(`(?i)\bthe player\b|\btheir\b|\bhis\b|\bher\b`)
	markup = regexp.MustCompile(`(?s)<head>.*?</head>|<[^>]*>`)
)

// wordedForThem checks what a player's edition never says.
func wordedForThem(t *testing.T, r *season.Report, page, program string) {
	t.Helper()
	where := r.Player.Name + " in " + r.Season.Name
	if high := r.Sentences[1].Skill; high != "" && high == r.Sentences[2].Skill {
		t.Errorf("%s: %s is both highest and lowest", where, high)
	}
	words := html.UnescapeString(markup.ReplaceAllString(page, " "))
	for _, never := range []string{"most of them", "hold the figures against", "held against"} {
		if strings.Contains(strings.ToLower(words), never) {
			t.Errorf("%s: the edition says %q", where, never)
		}
	}
	_, body, _ := strings.Cut(program, "</h1>")
	for _, found := range heads.FindAllStringSubmatch(body, -1) {
		said := html.UnescapeString(found[2])
		if third.MatchString(said) || strings.Contains(said, r.Player.Name) {
			t.Errorf("%s: the heading %q does not speak to the player", where, said)
		}
	}
}
