package season_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/chart"
	"throughline/reports/season"
)

// reviewed is a player with two shared reviews, a draft, two replies to the latest, and the day of the next.
func reviewed() *archive {
	a := flanker(8)
	due := models.Date("2026-05-12")
	at := time.Date(2026, 4, 2, 18, 0, 0, 0, time.UTC)
	review := func(id int64, day models.Date, next string, shared bool) models.Review {
		return models.Review{Record: models.Record{ID: id}, PlayerID: 11, SquadID: 3, AuthorID: 1, Date: day,
			Summary: "Careful, a first thought.", NextStep: next, Shared: shared}
	}
	a.reviews = []models.Review{review(1, "2026-02-10", "Five falls a side.", true),
		review(2, "2026-03-31", "Two looks before each ball.", true), review(3, "2026-04-20", "Nothing yet.", false)}
	a.replies = []models.ReviewAnswer{
		{Record: models.Record{CreatedAt: at}, ReviewID: 2, AuthorID: 9, Text: "I will, on both sides."},
		{Record: models.Record{CreatedAt: at}, ReviewID: 2, AuthorID: 2, Text: "Good. Tuesday then."}}
	a.next = []models.DueReview{{SquadID: 3, Status: models.ReviewNotDue, Due: &due}}
	return a
}

func TestASeasonReportSaysTheLatestSharedReviewAndTheDayOfTheNext(t *testing.T) {
	page, err := season.NewPage(chart.NewRenderer(1))
	if err != nil {
		t.Fatal(err)
	}
	selector := models.Who{AcademyID: 1, UserID: 4, Role: models.RoleSelector}
	for _, c := range []struct {
		edition string
		who     models.Who
		has     []string
		not     []string
	}{
		{"staff", staff, []string{"Latest review: 31 Mar 2026, Idris Vane", "Agreed next step:</b> Two looks",
			"The player replied</b> on 2 Apr 2026: I will", "The next review is due on 12 May 2026.",
			"The player has not marked it as read."}, []string{"first thought", "Tuesday then", "Five falls"}},
		{"player", himself, []string{"Your reviews", "What you agreed to do next:</b> Two looks",
			"You replied</b> on 2 Apr 2026: I will", "Your next review is due on 12 May 2026."},
			[]string{"The next review", "The player", "first thought", "Nothing yet"}},
		{"selector", selector, []string{"Agreed next step:</b> Two looks", "The next review is due on 12 May 2026."},
			[]string{"I will", "Nothing yet"}}, // selectors read no replies
	} {
		r := read(t, reviewed(), c.who)
		sheet, err := page.Sheet(t.Context(), r)
		if err != nil {
			t.Fatal(err)
		}
		text := string(sheet.Body)
		for _, want := range c.has {
			if !strings.Contains(text, want) {
				t.Errorf("the %s’s edition does not say %q", c.edition, want)
			}
		}
		for _, hidden := range c.not {
			if strings.Contains(text, hidden) {
				t.Errorf("the %s’s edition says %q", c.edition, hidden)
			}
		}
		var file bytes.Buffer
		if err := page.WriteFile(t.Context(), &file, r); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(file.String(), "I will, on both"); got != (c.edition == "player") {
			t.Errorf("the %s’s file has the reply: %v; only the player’s own has it", c.edition, got)
		}
	}
	paused := reviewed()
	paused.reviews = nil
	paused.next[0] = models.DueReview{SquadID: 3, Status: models.ReviewPaused, PausedBy: models.PauseStandDown}
	sheet, err := page.Sheet(t.Context(), read(t, paused, himself))
	if err != nil || !strings.Contains(string(sheet.Body), "Your next review waits until you are back.") ||
		!strings.Contains(string(sheet.Body), "No review was shared with you this season.") {
		t.Errorf("a stood-down player without a review does not read that the next one waits: %v", err)
	}
}
