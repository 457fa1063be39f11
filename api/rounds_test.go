package api_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// roundIn is the id of the only round in the list of a user.
func (s *stage) roundIn(t *testing.T, login string) models.RatingRound {
	t.Helper()
	var found []models.RatingRound
	if err := s.Store.Read(t.Context(), s.user(t, login), func(tx *store.Tx) (err error) {
		found, err = tx.RatingRounds(models.RatingRoundFilter{})
		return err
	}); err != nil || len(found) != 1 {
		t.Fatalf("%s reads the rounds %v, %v", login, found, err)
	}
	return found[0]
}

// sends posts a form on a page that must take it.
func (s *stage) sends(t *testing.T, login, path string, form url.Values) {
	t.Helper()
	if got := s.browser(t, login).Post(path, form); got.Status != http.StatusSeeOther {
		t.Fatalf("%s sends %s: %d\n%s", login, path, got.Status, spoken(got.Body))
	}
}

// shows fails where a page does not say a text.
func (s *stage) shows(t *testing.T, login, path string, want bool, text string) {
	t.Helper()
	got := s.browser(t, login).Get(path)
	if got.Status != http.StatusOK || strings.Contains(spoken(got.Body), text) != want {
		t.Errorf("%s reads %s: status %d, says %q: %v\n%s", login, path, got.Status, text, !want, spoken(got.Body))
	}
}

// A round is opened on a page with who grades whom. Each coach's list has an item while they owe grades, and none once
// they have given all, or once the round has closed. The page says who owes what, what a grade was before it was
// changed, and which moments show it.
func TestARoundIsOpenedGradedAndClosedOnPagesAndRemindsWhoOwes(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db, func(o *api.Options) { o.Now = storetest.Now }), map[string]models.Who{},
			map[string]*apitest.Client{}}
		s.coach(t, "hedda", s.Under18.ID)
		ansel, hedda := s.user(t, "ansel").UserID, s.user(t, "hedda").UserID
		moment := s.moment(t, s.Bryn.ID, "2026-03-09", true)
		later := s.moment(t, s.Bryn.ID, "2026-03-11", true)
		s.shows(t, "ansel", "/rating-rounds", true, "No rounds yet. Open one")
		s.shows(t, "ansel", "/", true, "Rating rounds")
		new := fmt.Sprintf("/rating-rounds/new?squad=%d", s.Under18.ID)
		s.shows(t, "ansel", new, true, "Coach hedda")

		form := url.Values{"season_id": {fmt.Sprint(s.Season.ID)}, "squad_id": {fmt.Sprint(s.Under18.ID)},
			"name": {"March block"}, "block": {"Contact"}, "begins": {"2026-03-02"}, "date": {"2026-03-10"},
			"closes": {"2026-03-20"}, "skill": {"tackle"}}
		got := s.browser(t, "ansel").Post("/rating-rounds", form)
		if text := spoken(got.Body); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(text, "choose at least one coach") || !strings.Contains(got.Body, "March block") {
			t.Errorf("a round that asks no coach: %d %s", got.Status, text)
		}
		form[fmt.Sprintf("coach-%d", ansel)] = []string{string(models.GroupBackRow)}
		form[fmt.Sprintf("coach-%d", hedda)] = []string{"all"}
		s.sends(t, "ansel", "/rating-rounds", form)
		round := s.roundIn(t, "ansel")
		at := roundPath(round)

		for login, want := range map[string]string{ // Bryn is a flanker, Owen a fly half
			"ansel": "[Give the 1 grade that you still owe for March block]",
			"hedda": "[Give the 2 grades that you still owe for March block]", "mabyn": "[]"} {
			if items := fmt.Sprint(itemsOf(t, s.Academy, login, models.ItemGrades)); items != want {
				t.Errorf("what %s owes: %s, want %s", login, items, want)
			}
		}
		s.shows(t, "ansel", "/", true, "Give the 1 grade that you still owe for March block")
		s.shows(t, "mabyn", "/rating-rounds", true, "Coach hedda: owes 2 of 2")
		s.shows(t, "mabyn", at, true, "Owen Tarrant: Tackle")
		s.shows(t, "ansel", at, false, "Owen Tarrant: Tackle")
		page := s.browser(t, "ansel").Get(at).Body
		offers := func(moment int64) bool { return strings.Contains(page, fmt.Sprintf(`-tackle-m%d"`, moment)) }
		if !offers(moment) || offers(later) {
			t.Errorf("the form offers other moments than those of the block:\n%s", page)
		}

		end := fmt.Sprintf("-%d-tackle", s.Bryn.ID)
		s.sends(t, "ansel", at, url.Values{"g" + end: {"3"}, "c" + end: {"Feet close."}, "s" + end: {"yes"},
			"m" + end: {fmt.Sprint(moment)}})
		if items := itemsOf(t, s.Academy, "ansel", models.ItemGrades); len(items) > 0 {
			t.Errorf("the coach has given all and is still reminded: %v", items)
		}
		var grade models.Rating
		s.as(t, "ansel", func(tx *store.Tx) error {
			all, err := tx.Ratings(models.RatingFilter{RoundID: round.ID})
			if err == nil {
				grade = all[0]
			}
			return err
		})
		if len(grade.Evidence) != 1 || grade.Evidence[0] != moment || !grade.CommentShared || grade.Words == "" {
			t.Errorf("the form gave %+v", grade)
		}
		s.shows(t, "ansel", at, true, "9 Mar 2026 v Moorside")
		s.shows(t, "hedda", at, false, "Feet close.")
		s.shows(t, "ansel", at, false, "Take the grade back")
		s.shows(t, "ansel", fmt.Sprintf("%s?change=%d", at, grade.ID), true, "Take the grade back")
		s.sends(t, "ansel", fmt.Sprintf("%s/grades/%d", at, grade.ID), url.Values{"version": {"1"}, "g": {"4"},
			"c": {"Feet close."}, "s": {"yes"}, "m": {fmt.Sprint(moment)}})
		s.shows(t, "ansel", at, true, "was 3 until 14 Mar 2026")
		s.shows(t, "mabyn", at, true, "was 3 until 14 Mar 2026")
		s.shows(t, "hedda", at, false, "was 3")

		form.Set("version", fmt.Sprint(round.Version))
		form.Set("closes", "2026-03-13")
		s.sends(t, "mabyn", at+"/change", form)
		if items := itemsOf(t, s.Academy, "hedda", models.ItemGrades); len(items) > 0 {
			t.Errorf("the round has closed and a coach is still reminded: %v", items)
		}
		s.shows(t, "hedda", at, true, "was 3 until 14 Mar 2026")
		form.Set("version", fmt.Sprint(round.Version+1))
		form.Set("closes", "2026-03-20")
		s.sends(t, "mabyn", at+"/change", form)
		if items := itemsOf(t, s.Academy, "hedda", models.ItemGrades); len(items) != 1 {
			t.Errorf("the round was opened again and a coach who owes is not reminded: %v", items)
		}
	})
}

func roundPath(r models.RatingRound) string { return fmt.Sprintf("/rating-rounds/%d", r.ID) }
