package store_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestTheWorkListHasWhatIsMissingUntilItIsDone makes one thing of each kind wait, and does it: it stands on the list of
// its kind, once, in the count and with the page where it is done, and then no longer. The days are those of the
// store's clock, 14 March 2026.
func TestTheWorkListHasWhatIsMissingUntilItIsDone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		today := models.DateOf(storetest.Now())
		list := func(kind models.WorkKind) (lines []string) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				all, err := tx.Work(kind, &w.season, today)
				if err != nil {
					return err
				}
				for _, one := range all {
					lines = append(lines, one.Name+": "+one.Said+" → "+one.Link)
				}
				counts, err := tx.WorkCounts(&w.season, today)
				i := slices.IndexFunc(counts, func(c models.WorkCount) bool { return c.Code == kind })
				if i < 0 || counts[i].N != len(all) {
					t.Errorf("%s: the counts are %v, and the list has %d", kind, counts, len(all))
				}
				return err
			})
			return lines
		}
		contact := models.HeadContact{PlayerID: w.bram.ID, Date: "2026-03-10"}
		match := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2026-03-08", Opponent: "Dunmere", Halves: 2,
			HalfMinutes: 35}
		tomorrow := match
		tomorrow.Date, tomorrow.Opponent = "2026-03-15", "Saltby"
		joiner := models.User{Login: "odd", Name: "Odd Moen", Role: models.RoleCoach}
		sheet := models.Appearance{PlayerID: w.bram.ID, MinutesNotRecorded: true}
		log := models.Log{PlayerID: w.bram.ID, Depth: models.Core, Kinds: []models.Kind{models.KindPass}, Finished: true}
		grade := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 3, Date: match.Date}
		hash := []byte("01234567890123456789012345678901")
		write(t, s, w.manager, func(tx *store.Tx) error {
			rules := models.Settings{RetentionMonths: 24, Requires: []models.Purpose{models.PurposeFilming}}
			return all(
				func() error { return tx.SaveSettings(&rules) },
				func() error { return tx.CreateHeadContact(&contact) },
				func() error { return tx.CreateMatch(&match) },
				func() error { return tx.CreateMatch(&tomorrow) }, // which lacks nothing yet
				func() error { sheet.MatchID, log.MatchID, grade.MatchID = match.ID, match.ID, &match.ID; return nil },
				func() error { return tx.CreateUser(&joiner) },
				func() error { return tx.CreateLink(&models.Link{UserID: joiner.ID, Hash: hash}) },
				// the players were entered when they joined
				func() error {
					return tx.Raw().Exec("UPDATE memberships SET created_at = ?", time.Date(2025, 9, 1, 0, 0, 0, 0, time.UTC)).Error
				},
				func() error { w.limit.Days = 0; return tx.UpdateMinutesLimit(&w.limit) },
			)
		})
		bram, of := fmt.Sprintf("/players/%d", w.bram.ID), "Colts against Dunmere, 8 Mar 2026: "
		for _, step := range []struct {
			kind models.WorkKind
			line string
			who  models.Who
			do   func(tx *store.Tx) error
		}{
			{models.WorkHeadContacts, "Bram Oakes: 10 Mar 2026 → /safety#head-contacts", w.manager,
				func(tx *store.Tx) error { _, err := tx.TellMedicalLead(contact.ID, "Dr Ina Fold"); return err }},
			{models.WorkConsents, "Tove Lind: Filming → " + fmt.Sprintf("/players/%d#consents", w.tove.ID), w.manager,
				func(tx *store.Tx) error {
					return tx.CreateConsent(&models.Consent{PlayerID: w.tove.ID, Purpose: models.PurposeFilming,
						GivenBy: "Ask Lind", Relation: models.ByGuardian, On: today})
				}},
			// six weeks from 1 September are 13 October
			{models.WorkReviews, fmt.Sprintf("Bram Oakes: 152 days overdue; Colm Reyes writes it → %s/reviews/new?squad=%d",
				bram, w.colts.ID), w.coach, func(tx *store.Tx) error {
				return tx.CreateReview(&models.Review{PlayerID: w.bram.ID, SeasonID: w.season.ID, SquadID: w.colts.ID,
					Date: today, Shared: true,
					Summary: "Strong feet.", NextStep: "Look up earlier."})
			}},
			{models.WorkMinutes, of + "no team sheet yet → " + fmt.Sprintf("/matches/%d#sheet", match.ID), w.coach,
				func(tx *store.Tx) error { return tx.CreateAppearance(&sheet) }},
			{models.WorkMinutes, of + "minutes of 1 player not recorded → " + fmt.Sprintf("/matches/%d#sheet", match.ID),
				w.coach, func(tx *store.Tx) error {
					sheet.MinutesNotRecorded, sheet.Minutes = false, 61
					return tx.UpdateAppearance(&sheet)
				}},
			{models.WorkLogs, of + "no finished log → " + fmt.Sprintf("/logging?match=%d", match.ID), w.coach,
				func(tx *store.Tx) error { return tx.CreateLog(&log) }},
			{models.WorkGrades, of + "no coach’s grade → " + fmt.Sprintf("/matches/%d/grades", match.ID), w.coach,
				func(tx *store.Tx) error { return tx.CreateRating(&grade) }},
			{models.WorkAccounts, "Odd Moen: coach; the link works until 21 Mar 2026 → " +
				fmt.Sprintf("/people#person-%d", joiner.ID), w.manager,
				func(tx *store.Tx) error { return tx.DeleteUser(joiner.ID, joiner.Version) }},
		} {
			if got := list(step.kind); !slices.Contains(got, step.line) {
				t.Errorf("%s: the list has %q, want %q", step.kind, got, step.line)
			}
			write(t, s, step.who, step.do)
			if got := list(step.kind); slices.Contains(got, step.line) {
				t.Errorf("%s: it is done, and the list still has %q", step.kind, step.line)
			}
		}
		// Two matches of Bram's, 65 and 61 minutes of the season's 140, are over its 80%.
		if got := list(models.WorkLimits); len(got) != 1 || got[0][:12] != "Bram Oakes: " {
			t.Errorf("near the limit are %q", got)
		}
		// A link that has ended needs a new one.
		write(t, s, w.manager, func(tx *store.Tx) error {
			late := models.User{Login: "ebba", Name: "Ebba Storm", Role: models.RoleSelector}
			return all(func() error { return tx.CreateUser(&late) },
				func() error {
					return tx.CreateLink(&models.Link{UserID: late.ID, Hash: slices.Repeat([]byte("x"), 32)})
				},
				func() error {
					return tx.Raw().Exec("UPDATE links SET expires_at = ? WHERE user_id = ?",
						storetest.Now().Add(-36*time.Hour), late.ID).Error
				})
		})
		if got := list(models.WorkAccounts); !slices.ContainsFunc(got, func(line string) bool {
			return strings.HasPrefix(line, "Ebba Storm: selector; the link ended on 1")
		}) {
			t.Errorf("users who have not joined: %q", got)
		}
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			err := s.Read(t.Context(), who, func(tx *store.Tx) error {
				_, err := tx.WorkCounts(&w.season, today)
				return err
			})
			if models.CodeOf(err) != models.Forbidden {
				t.Errorf("a %s reads the list of work: %v", who.Role, err)
			}
		}
	})
}

// TestAnAcademyThatGradesTrainingBlocksIsNotAskedForGradesOfMatches begins with a match without a grade.
func TestAnAcademyThatGradesTrainingBlocksIsNotAskedForGradesOfMatches(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		match := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2026-03-08", Opponent: "Dunmere",
			Halves: 2, HalfMinutes: 35}
		next := match
		next.Date, next.Opponent = "2026-03-12", "Saltby"
		round := models.RatingRound{SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2026-03-10", Closes: "2026-03-20"}
		block, ofMatch := round, round
		block.Name, block.Block = "Block 1", "February"
		ofMatch.Name = "Saltby"
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(
				func() error { return tx.Raw().Exec("UPDATE ratings SET deleted_at = created_at").Error },
				func() error { return tx.CreateMatch(&match) },
				func() error { return tx.CreateMatch(&next) },
				func() error {
					return tx.CreateAppearance(&models.Appearance{PlayerID: w.bram.ID, MatchID: match.ID, Minutes: 20})
				})
		})
		waits := func() (n int) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				list, err := tx.Work(models.WorkGrades, &w.season, models.DateOf(storetest.Now()))
				for _, one := range list {
					if strings.Contains(one.Name, "Dunmere") {
						n++
					}
				}
				return err
			})
			return n
		}
		if waits() != 1 {
			t.Error("a match without grades is not on the list")
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateRatingRound(&block) })
		if waits() != 0 {
			t.Error("coaches grade training blocks alone, and a match waits for grades")
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			ofMatch.MatchID, ofMatch.Date = &next.ID, next.Date
			return tx.CreateRatingRound(&ofMatch)
		})
		if waits() != 1 {
			t.Error("coaches grade matches too, and a match without grades is not on the list")
		}
	})
}
