package store_test

import (
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// kindsOf are the items of a caller on a day about a player, by kind.
func kindsOf(t testing.TB, s *store.Store, who models.Who, day models.Date, player int64) map[models.ItemKind]int {
	t.Helper()
	of := map[models.ItemKind]int{}
	read(t, s, who, func(tx *store.Tx) error {
		all, err := tx.Items(models.ItemFilter{PlayerID: player}, day)
		for _, i := range all {
			of[i.Kind]++
		}
		return err
	})
	return of
}

func TestAFollowUpWaitsForItsAuthorFromItsDayUntilItIsSettled(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		day := models.Date("2026-02-10")
		note := models.ReviewNote{PlayerID: w.tove.ID, Date: "2026-01-13", Text: "Ask again.", FollowUp: &day}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateReviewNote(&note) })
		waits := func(who models.Who, on models.Date, want int) {
			t.Helper()
			if got := kindsOf(t, s, who, on, w.tove.ID)[models.ItemFollowUp]; got != want {
				t.Errorf("on %s %d follow-ups wait for a %s; want %d", on, got, who.Role, want)
			}
		}
		waits(w.coach, "2026-02-09", 0)
		waits(w.coach, "2026-02-10", 1)
		waits(w.manager, "2026-02-10", 0)
		for _, more := range []models.ReviewNote{{PlayerID: w.tove.ID, Date: "2026-02-09", Text: "The day before."},
			{PlayerID: w.bram.ID, Date: "2026-02-10", Text: "Of another player."}} {
			write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateReviewNote(&more) })
		}
		waits(w.coach, "2026-02-11", 1)
		later := models.ReviewNote{PlayerID: w.tove.ID, Date: "2026-02-11", Text: "Asked."}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateReviewNote(&later) })
		waits(w.coach, "2026-02-11", 0)
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteReviewNote(later.ID, later.Version) })
		waits(w.coach, "2026-02-11", 1)
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.FollowedUpNote(note.ID) })
		waits(w.coach, "2026-02-11", 0)
		write(t, s, w.coach, func(tx *store.Tx) error { // another day is another follow-up
			n, err := tx.ReviewNote(note.ID)
			if err != nil {
				return err
			}
			n.FollowUp = ptr(models.Date("2026-03-01"))
			return tx.UpdateReviewNote(&n)
		})
		waits(w.coach, "2026-03-01", 1)
	})
}

// enteredAtTheStart makes it so that memberships were entered before the season began.
func (w *world) enteredAtTheStart(t testing.TB) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		return tx.Raw().Exec("UPDATE memberships SET created_at = ? WHERE academy_id = ?",
			time.Date(2025, 7, 1, 9, 0, 0, 0, time.UTC), w.academy.ID).Error
	})
}

// A squad's list that is imported in March has players who joined in September: their first review is six weeks away.
func TestNoReviewIsOverdueOnTheDayOnWhichASquadIsEntered(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s) // on 14 March
		cycle := func(day models.Date) (all []models.DueReview) {
			t.Helper()
			read(t, s, w.manager, func(tx *store.Tx) (err error) {
				all, err = tx.ReviewCycleOn(models.ReviewCycleFilter{SquadID: w.colts.ID}, day)
				return err
			})
			return all
		}
		for _, d := range cycle("2026-03-15") {
			if d.Status == models.ReviewOverdue || d.CountedFrom != "2026-03-14" {
				t.Errorf("the day after the import: %+v; want it counted from that day", d)
			}
		}
		for _, d := range cycle("2026-04-25") {
			if d.Status != models.ReviewDue && d.Status != models.ReviewPaused {
				t.Errorf("six weeks after the import: %+v; want it due", d)
			}
		}
		w.enteredAtTheStart(t)
		for _, d := range cycle("2026-03-15") {
			if d.Status != models.ReviewOverdue && d.Status != models.ReviewPaused {
				t.Errorf("of a squad that was entered before the season: %+v; want it overdue", d)
			}
		}
	})
}

// The player and a selector read when the next review is due, and not who is to write it; another player reads neither.
func TestThePlayerReadsTheDayOfTheNextReview(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.enteredAtTheStart(t)
		for _, c := range []struct {
			who  models.Who
			want int
		}{{w.bramHimself, 1}, {w.selector, 1}, {w.coach, 1}, {w.manager, 1}} {
			read(t, s, c.who, func(tx *store.Tx) error {
				all, err := tx.NextReviews(w.bram.ID, w.season.ID, "2025-10-01")
				if err != nil || len(all) != c.want || all[0].Due == nil || *all[0].Due != "2025-10-13" ||
					len(all[0].By) != 0 {
					t.Errorf("a %s reads %+v, %v; want 13 October, by no one", c.who.Role, all, err)
				}
				other, err := tx.NextReviews(w.tove.ID, w.season.ID, "2025-10-01")
				if c.who.Role == models.RolePlayer && (err != nil || len(other) != 0) {
					t.Errorf("a player reads another’s next review: %+v, %v", other, err)
				}
				late, err := tx.NextReviews(w.bram.ID, w.season.ID, "2027-10-01")
				if err != nil || len(late) != 0 {
					t.Errorf("after the season: %+v, %v", late, err)
				}
				return nil
			})
		}
	})
}

// A minor's reply to a review waits for a second member of staff: not for its author, and not for the author of the
// review, until one of them has seen it.
func TestAMinorsReplyToAReviewWaitsForASecondMemberOfStaff(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		r := models.Review{PlayerID: w.bram.ID, SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2026-02-13",
			Summary: "Better feet.", NextStep: "Two looks.", Shared: true}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateReview(&r) })
		waits := func(who models.Who, want int) {
			t.Helper()
			if got := kindsOf(t, s, who, "2026-03-14", w.bram.ID)[models.ItemReviewReply]; got != want {
				t.Errorf("%d replies wait for a %s; want %d", got, who.Role, want)
			}
		}
		waits(w.manager, 0)
		a := models.ReviewAnswer{ReviewID: r.ID, Text: "Both sides?"}
		write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.AnswerReview(&a) })
		waits(w.manager, 1)
		waits(w.coach, 0) // wrote the review
		waits(w.selector, 0)
		waits(w.bramHimself, 0)
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { _, err := tx.SeeReviewAnswer(a.ID); return err })
		write(t, s, w.manager, func(tx *store.Tx) error { _, err := tx.SeeReviewAnswer(a.ID); return err })
		waits(w.manager, 0)
	})
}

func TestAReviewWaitsForTheOneWhoIsToWriteItAndThenForThePlayer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.enteredAtTheStart(t)
		waits := func(who models.Who, on models.Date, kind models.ItemKind, want int) {
			t.Helper()
			if got := kindsOf(t, s, who, on, w.bram.ID)[kind]; got != want {
				t.Errorf("on %s %d of %s wait for a %s; want %d", on, got, kind, who.Role, want)
			}
		}
		// Bram joined on 1 September, so a first review is due on 13 October, by the owner of the player's goal.
		waits(w.coach, "2025-10-12", models.ItemReview, 0)
		waits(w.coach, "2025-10-13", models.ItemReview, 1)
		waits(w.manager, "2025-10-13", models.ItemReview, 0)
		waits(w.selector, "2025-10-13", models.ItemReview, 0)
		r := models.Review{PlayerID: w.bram.ID, SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-10-13",
			Summary: "Better feet.", NextStep: "Two looks."}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateReview(&r) })
		waits(w.coach, "2025-10-13", models.ItemReview, 1)
		waits(w.bramHimself, "2025-10-13", models.ItemReadReview, 0)
		r.Shared = true
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateReview(&r) })
		waits(w.coach, "2025-10-14", models.ItemReview, 0)
		waits(w.bramHimself, "2025-10-14", models.ItemReadReview, 1)
		write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.MarkReviewRead(r.ID) })
		waits(w.bramHimself, "2025-10-14", models.ItemReadReview, 0)
		write(t, s, w.manager, func(tx *store.Tx) error {
			now, err := tx.Review(r.ID)
			if err != nil {
				return err
			}
			now.StaffNoteIDs = []int64{w.secret.ID} // nothing that the player reads
			if err := tx.UpdateReview(&now); err != nil {
				return err
			}
			if now.ReadAt == nil {
				t.Error("a note for staff made the review unread")
			}
			now.NextStep = "Three looks."
			return tx.UpdateReview(&now)
		})
		waits(w.bramHimself, "2025-10-14", models.ItemReadReview, 1)
		waits(w.manager, "2025-11-24", models.ItemReview, 1) // six weeks later, by the author
		read(t, s, w.coach, func(tx *store.Tx) error {
			all, err := tx.ReviewCycleOn(models.ReviewCycleFilter{PlayerID: w.bram.ID}, "2025-11-25")
			if err != nil || len(all) != 1 || all[0].Status != models.ReviewOverdue || all[0].OverdueDays != 1 {
				t.Errorf("the day after: %+v, %v", all, err)
			}
			return nil
		})
	})
}

func TestThePastOfAReviewTellsThePlayerNothingOfADraft(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		r := models.Review{PlayerID: w.bram.ID, SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-10-13",
			Summary: "Careful, a first thought.", StaffNoteIDs: []int64{w.secret.ID}}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateReview(&r) })
		r.Summary, r.NextStep, r.Shared = "Better feet.", "Two looks.", true
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateReview(&r) })
		r.Summary = "Much better feet."
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateReview(&r) })
		for who, want := range map[*models.Who]int{&w.coach: 2, &w.manager: 2, &w.bramHimself: 1, &w.selector: 1} {
			read(t, s, *who, func(tx *store.Tx) error {
				all, err := tx.Earlier("review", r.ID)
				if err != nil || len(all) != want {
					t.Errorf("a %s reads %d earlier versions, %v; want %d", who.Role, len(all), err, want)
				}
				return nil
			})
		}
		record, err := s.ExportPlayer(t.Context(), w.bramHimself, w.bram.ID, models.AskedByPlayer)
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range record.Parts {
			for _, item := range part.Items {
				if part.Code == "reviews" || part.Code == "earlier_versions" {
					if text := string(item); strings.Contains(text, "first thought") || strings.Contains(text, `"staff_note_ids":[1`) {
						t.Errorf("the player's own archive has %s: %s", part.Code, text)
					}
				}
			}
		}
	})
}
