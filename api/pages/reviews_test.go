package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// oneLine is a text without line breaks, as a browser shows it.
func oneLine(body string) string { return strings.Join(strings.Fields(body), " ") }

func TestACoachWritesAReviewAndThePlayerReadsAndAnswersIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, bryn := a.SignIn(t, "ansel"), a.SignIn(t, "bryn")
		var shared, staffs models.ReviewNote
		goal := models.Goal{PlayerID: a.Bryn.ID, Skill: "tackle", SetOn: "2025-10-01", By: "2026-05-01", Target: 4,
			Why:    "You miss tackles close in.",
			Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
		_, ansel, err := s.UserByLogin(t.Context(), "ansel")
		if err != nil {
			t.Fatal(err)
		}
		err = s.Write(t.Context(), ansel, func(tx *store.Tx) error {
			shared = models.ReviewNote{PlayerID: a.Bryn.ID, Date: "2026-03-01", Shared: true, Text: "Feet first."}
			staffs = models.ReviewNote{PlayerID: a.Bryn.ID, Date: "2026-03-02", Text: "Tired lately."}
			if err := tx.CreateReviewNote(&shared); err != nil {
				return err
			}
			if err := tx.CreateReviewNote(&staffs); err != nil {
				return err
			}
			return tx.CreateGoal(&goal)
		})
		if err != nil {
			t.Fatal(err)
		}
		list := coach.Get("/reviews")
		at := fmt.Sprintf("/players/%d/reviews/new?squad=%d", a.Bryn.ID, a.Under18.ID)
		// no review is overdue on the day on which the squad was entered
		if !strings.Contains(words(list.Body), "never reviewed here, counted from 14 Mar 2026") ||
			!strings.Contains(list.Body, strings.ReplaceAll(at, "&", "&amp;")) {
			t.Errorf("the list has no player who was entered today with a way to the form:\n%s", list.Body)
		}
		form := coach.Get(at)
		for _, want := range []string{"Feet first.", "staff only: the player does not see it",
			fmt.Sprintf(`name="check_in_%d"`, goal.ID)} {
			if !strings.Contains(form.Body, want) {
				t.Errorf("the form lacks %q", want)
			}
		}
		// beside the summary, beside the next step, and beside the check-ins
		if n := strings.Count(oneLine(form.Body), "safeguarding concern here"); n != 3 {
			t.Errorf("the form has the safeguarding sentence %d times; want 3", n)
		}
		sent := url.Values{"squad_id": {fmt.Sprint(a.Under18.ID)}, "summary": {"You tackle lower than in autumn."},
			"next_step": {"Close the last two metres."}, "note_ids": {fmt.Sprint(shared.ID)},
			"staff_note_ids": {fmt.Sprint(staffs.ID)}, fmt.Sprintf("check_in_%d", goal.ID): {"Better every week."},
			"follow_up": {"2026-03-14"}, "share": {"no"}}
		got := post(coach, fmt.Sprintf("/players/%d/reviews", a.Bryn.ID), sent)
		page := got.Header.Get("Location")
		if got.Status != http.StatusSeeOther || !strings.HasPrefix(page, "/reviews/") {
			t.Fatalf("kept as a draft: %d %s", got.Status, got.Body)
		}
		if got := bryn.Get(page); got.Status != http.StatusNotFound {
			t.Errorf("the player opens a draft: %d", got.Status)
		}
		edit := coach.Get(page + "/edit")
		values := formOn(t, edit, page)
		for name, was := range sent {
			if name != "squad_id" && !strings.HasPrefix(name, "check_in") {
				values[name] = was
			}
		}
		values.Set("share", "yes")
		if got := post(coach, page, values); got.Status != http.StatusSeeOther {
			t.Fatalf("shared: %d %s", got.Status, got.Body)
		}
		if home := bryn.Get(bryn.Get("/").Header.Get("Location")); !strings.Contains(home.Body,
			"Your coach shared a review. Read it and answer") {
			t.Error("nothing tells the player that a review waits")
		}
		read := bryn.Get(page)
		for _, want := range []string{"You tackle lower than in autumn.", "Close the last two metres.", "Feet first.",
			"Better every week.", "I have read it"} {
			if !strings.Contains(read.Body, want) {
				t.Errorf("the player’s page lacks %q", want)
			}
		}
		if strings.Contains(read.Body, "Tired lately.") {
			t.Error("the player reads a note for staff only")
		}
		if got := post(bryn, page+"/read", url.Values{}); got.Status != http.StatusSeeOther {
			t.Errorf("marked as read: %d", got.Status)
		}
		if got := post(bryn, page+"/answers", url.Values{"text": {"The last two metres, yes."}}); got.Status !=
			http.StatusSeeOther {
			t.Errorf("answered: %d %s", got.Status, got.Body)
		}
		if !strings.Contains(coach.Get(page).Body, "The last two metres, yes.") {
			t.Error("the coach does not see the answer")
		}
		if !strings.Contains(a.SignIn(t, "mabyn").Get("/safety").Body, "The last two metres, yes.") {
			t.Error("no second member of staff is asked to see the answer")
		}
		edit = coach.Get(page + "/edit")
		if !strings.Contains(oneLine(edit.Body), "it counts as unread again and the player is told") {
			t.Error("the form does not say what a change does to a review that was read")
		}
		values.Set("version", formOn(t, edit, page).Get("version"))
		values.Set("summary", "You tackle lower, and earlier.")
		values.Set("share", "yes")
		if got := post(coach, page, values); got.Status != http.StatusSeeOther {
			t.Fatalf("changed: %d %s", got.Status, got.Body)
		}
		again := oneLine(bryn.Get(page).Body)
		for _, want := range []string{"after you read it. Read it again", "Earlier texts (1)",
			"You tackle lower than in autumn."} {
			if !strings.Contains(again, want) {
				t.Errorf("after a change the player’s page lacks %q", want)
			}
		}
		if due := coach.Get("/reviews"); !strings.Contains(due.Body, "/reviews/") || !strings.Contains(due.Body,
			"Mark as done") {
			t.Errorf("the follow-up of today does not wait:\n%s", due.Body)
		}
		if got := post(coach, page+"/followed-up", url.Values{}); got.Status != http.StatusSeeOther ||
			strings.Contains(coach.Get("/reviews").Body, "Mark as done") {
			t.Errorf("a follow-up marked as done still waits: %d", got.Status)
		}
	})
}

func TestAManagerSetsTheWeeksOfASquadsCycle(t *testing.T) {
	a := apitest.OnSQLite(t)
	manager := a.SignIn(t, "mabyn")
	at := fmt.Sprintf("/squads/%d/review-weeks", a.Under18.ID)
	page := manager.Get("/reviews")
	if !strings.Contains(page.Body, "A review every 6 weeks.") {
		t.Errorf("a squad that sets nothing is not reviewed every six weeks:\n%s", page.Body)
	}
	values := formOn(t, page, at)
	values.Set("weeks", "4")
	if got := post(manager, at, values); got.Status != http.StatusSeeOther {
		t.Fatalf("set: %d %s", got.Status, got.Body)
	}
	if !strings.Contains(manager.Get("/reviews").Body, "A review every 4 weeks.") {
		t.Error("the cycle that was set is not shown")
	}
	values.Set("weeks", "8")
	if got := post(manager, at, values); got.Status != http.StatusPreconditionFailed {
		t.Errorf("from the version before: %d; want 412", got.Status)
	}
}
