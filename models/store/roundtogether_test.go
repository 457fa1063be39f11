package store_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// Twenty coaches grade at once, in transactions of their own. Nothing is lost, and while the round is open no coach
// reads another's grade of a skill before their own is kept, the selector and the player none at all.
func TestTwentyCoachesGradeAtOnceAndNothingIsLostOrSeenEarly(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		const coaches = 20
		skills := []string{"tackle", "breakdown", "support_lines"}
		round := w.round(t, &w.match.ID, "", "2025-10-12")
		all := make([]models.Who, coaches)
		for n := range all {
			all[n] = w.addStaff(t, fmt.Sprintf("grader%02d", n), models.RoleCoach, w.colts.ID)
		}
		seen := func(who models.Who) (others, own map[string]int, err error) {
			others, own = map[string]int{}, map[string]int{}
			err = w.s.Read(t.Context(), who, func(tx *store.Tx) error {
				found, err := tx.Ratings(models.RatingFilter{PlayerID: w.bram.ID})
				for _, r := range found {
					if r.RaterID == who.UserID {
						own[r.Skill]++
					} else {
						others[r.Skill]++
					}
				}
				if shown, failed := tx.ShownGrades(models.RatingFilter{}); err == nil && (failed != nil || len(shown) > 0) {
					t.Errorf("%s is shown %v, %v", who.Name, shown, failed)
				}
				return err
			})
			return others, own, err
		}
		var together sync.WaitGroup
		start := make(chan struct{})
		for n, who := range all {
			together.Go(func() {
				<-start
				for k := range skills {
					skill := skills[(k+n)%len(skills)]
					r := models.Rating{PlayerID: w.bram.ID, Skill: skill, Grade: 1 + n%5, Date: w.match.Date, MatchID: &w.match.ID}
					if err := w.s.Write(t.Context(), who, func(tx *store.Tx) error { return tx.CreateRating(&r) }); err != nil {
						t.Errorf("%s grades %s: %v", who.Name, skill, err)
					}
					w.findsNoNeighbour(t, who, r)
					others, own, err := seen(who)
					for _, of := range skills {
						if err != nil || others[of] > 0 && own[of] == 0 {
							t.Errorf("%s reads %v of others with %v of their own, %v", who.Name, others, own, err)
						}
					}
				}
			})
		}
		for _, who := range []models.Who{w.selector, w.bramHimself} {
			together.Go(func() {
				<-start
				for range coaches {
					if others, _, err := seen(who); err != nil || len(others) > 0 {
						t.Errorf("%s reads %v, %v", who.Name, others, err)
					}
				}
			})
		}
		close(start)
		together.Wait()
		read(t, w.s, w.manager, func(tx *store.Tx) error {
			kept, err := tx.Ratings(models.RatingFilter{PlayerID: w.bram.ID})
			if len(kept) != coaches*len(skills) {
				t.Errorf("%d grades are kept, want %d", len(kept), coaches*len(skills))
			}
			for _, r := range kept {
				if want := 1 + int(r.RaterID-all[0].UserID)%5; r.Grade != want || r.Counts {
					t.Errorf("the grade %+v, want %d and not counting yet", r, want)
				}
			}
			return err
		})
		today.day = round.Closes.AddDays(1)
		read(t, w.s, w.bramHimself, func(tx *store.Tx) error {
			shown, err := tx.ShownGrades(models.RatingFilter{})
			if len(shown) != len(skills) || shown[0].Coaches != coaches || shown[0].Grade == nil || *shown[0].Grade != 3 {
				t.Errorf("after the round the player is shown %+v", shown)
			}
			return err
		})
	})
}

// findsNoNeighbour fails if a coach finds the grades that were kept just before and after their own, of a skill that
// they have not graded yet, by their ids or in who owes what.
func (w *world) findsNoNeighbour(t *testing.T, who models.Who, own models.Rating) {
	err := w.s.Read(t.Context(), who, func(tx *store.Tx) error {
		mine, err := tx.Ratings(models.RatingFilter{PlayerID: own.PlayerID})
		if err != nil {
			return err
		}
		graded := map[string]bool{}
		for _, r := range mine {
			graded[r.Skill] = graded[r.Skill] || r.RaterID == who.UserID
		}
		for _, id := range []int64{own.ID - 2, own.ID - 1, own.ID + 1, own.ID + 2} {
			if r, err := tx.Rating(id); err == nil && !graded[r.Skill] {
				t.Errorf("%s finds the grade %+v before their own", who.Name, r)
			}
			if before, err := tx.Earlier("rating", id); err == nil && len(before) > 0 {
				t.Errorf("%s reads what a grade was that was never changed: %+v", who.Name, before)
			}
		}
		rounds, err := tx.RatingRounds(models.RatingRoundFilter{})
		for _, r := range rounds {
			owed, failed := tx.Owed(r.ID)
			if err = failed; failed != nil {
				return err
			}
			for _, o := range owed {
				if o.CoachID != who.UserID && len(o.Grades) > 0 {
					t.Errorf("%s reads which grades %s owes", who.Name, o.Coach)
				}
			}
		}
		return err
	})
	if err != nil {
		t.Errorf("%s: %v", who.Name, err)
	}
}

// A player is shown a grade that two coaches stand behind, with the comments that coaches share and no name.
func TestAPlayerIsShownWhatTwoCoachesStandBehindAndTheCommentsTheyShare(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		w.round(t, &w.match.ID, "", "2025-10-12")
		give := func(who models.Who, skill string, grade int, comment string, shared bool) models.Rating {
			r := models.Rating{PlayerID: w.bram.ID, Skill: skill, Grade: grade, Date: w.match.Date, MatchID: &w.match.ID,
				Comment: comment, CommentShared: shared}
			write(t, w.s, who, func(tx *store.Tx) error { return tx.CreateRating(&r) })
			return r
		}
		first := give(w.coach, "tackle", 3, "Feet close.", true)
		give(second, "tackle", 4, "For staff.", false)
		give(w.coach, "breakdown", 2, "", false)
		refused(t, w.s, w.manager, models.Forbidden, func(tx *store.Tx) error {
			r := models.Rating{PlayerID: w.bram.ID, RaterID: second.UserID, Skill: "breakdown", Grade: 4, Date: w.match.Date,
				MatchID: &w.match.ID, Comment: "Theirs.", CommentShared: true}
			return tx.CreateRating(&r)
		})
		first.Grade = 2
		write(t, w.s, w.coach, func(tx *store.Tx) error { return tx.UpdateRating(&first) })
		read(t, w.s, w.coach, func(tx *store.Tx) error {
			kept, err := tx.Earlier("rating", first.ID)
			if len(kept) != 1 || kept[0].Version != 1 {
				t.Errorf("the earlier grade is not kept: %+v", kept)
			}
			return err
		})
		today.day = "2025-10-13"
		read(t, w.s, w.bramHimself, func(tx *store.Tx) error {
			shown, err := tx.ShownGrades(models.RatingFilter{})
			if len(shown) != 2 || shown[0].Skill != "breakdown" || shown[0].Any() || shown[1].Grade == nil ||
				*shown[1].Grade != 3 || shown[1].Coaches != 2 || fmt.Sprint(shown[1].Comments) != "[Feet close.]" {
				t.Errorf("the player is shown %+v", shown)
			}
			return err
		})
	})
}

// Who owes grades is counted for each coach of the squad; a coach reads only their own list.
func TestOwedGradesAreCountedForEachCoachOfTheSquad(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, _ *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		round := w.round(t, nil, "Autumn", "2025-10-12")
		round.Skills = []string{"tackle", "breakdown"}
		write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.UpdateRatingRound(&round) })
		w.rate(t, second, "tackle", nil, "Autumn")
		for _, who := range []models.Who{w.manager, w.coach, second} {
			read(t, w.s, who, func(tx *store.Tx) error {
				owed, err := tx.Owed(round.ID)
				for _, o := range owed {
					given := 0
					if o.CoachID == second.UserID {
						given = 1
					}
					if o.Given != given || o.Owes == 0 || o.Owes%2 != given {
						t.Errorf("%s reads %+v", who.Name, o)
					}
					if lists := who.Role == models.RoleManager || o.CoachID == who.UserID; len(o.Grades) > 0 != lists {
						t.Errorf("%s reads the list %v of %s", who.Name, o.Grades, o.Coach)
					}
				}
				if len(owed) != 2 {
					t.Errorf("%s reads %+v", who.Name, owed)
				}
				return err
			})
		}
		refused(t, w.s, w.selector, models.Forbidden, func(tx *store.Tx) error { _, err := tx.Owed(round.ID); return err })
	})
}

// A round asks the coaches it names of the players of the groups it names, and the others for nothing.
func TestARoundAsksTheCoachesAndGroupsThatItNames(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, _ *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		w.addStaff(t, "third", models.RoleCoach, w.colts.ID)
		round := w.round(t, nil, "Autumn", "2025-10-12")
		round.Skills = []string{"tackle"}
		change := func(coaches ...models.RoundCoach) {
			round.Coaches = coaches
			write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.UpdateRatingRound(&round) })
		}
		owes := func() map[int64]int {
			all := map[int64]int{}
			read(t, w.s, w.manager, func(tx *store.Tx) error {
				owed, err := tx.Owed(round.ID)
				for _, o := range owed {
					all[o.CoachID] = o.Owes
				}
				return err
			})
			return all
		}
		change()
		everyone := owes()
		if n := everyone[w.coach.UserID]; n == 0 || len(everyone) != 3 || everyone[second.UserID] != n {
			t.Fatalf("without names, %v are owed", everyone)
		}
		group := w.bram.Group()
		change(models.RoundCoach{CoachID: w.coach.UserID}, models.RoundCoach{CoachID: second.UserID,
			Groups: []models.Group{group}})
		some := owes()
		if len(some) != 2 || some[w.coach.UserID] != everyone[w.coach.UserID] || some[second.UserID] == 0 ||
			some[second.UserID] >= everyone[second.UserID] {
			t.Errorf("with names, %v are owed; of everyone %v", some, everyone)
		}
		for what, c := range map[string]models.RoundCoach{"a selector": {CoachID: w.selector.UserID},
			"a coach of another squad": {CoachID: w.juniorCoach.UserID}} {
			r := round
			r.Coaches = append([]models.RoundCoach{}, c)
			err := refused(t, w.s, w.manager, models.Invalid, func(tx *store.Tx) error { return tx.UpdateRatingRound(&r) })
			if err == nil || !strings.Contains(err.Error(), "coaches[0].coach_id") {
				t.Errorf("%s is asked: %v", what, err)
			}
		}
	})
}
