package store_test

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestMeetingsAreForManagersAndForStaffOfTheSquad(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		juniorSelector := w.addStaff(t, "juniorselector", models.RoleSelector, w.juniors.ID)
		meeting := w.meeting()
		write(t, s, w.selector, func(tx *store.Tx) error { return tx.CreateMeeting(&meeting) })
		for _, c := range []struct {
			who                   models.Who
			read, change, another models.Code
		}{
			{w.manager, "", "", ""},
			{w.selector, "", "", ""},
			{w.coach, "", models.Forbidden, models.Forbidden},
			{w.juniorCoach, models.NotFound, models.Forbidden, models.Forbidden}, // they change no meeting at all
			{juniorSelector, models.NotFound, models.NotFound, models.Forbidden},
			{w.bramHimself, models.NotFound, models.Forbidden, models.Forbidden}, // although they were chosen
		} {
			try := func(what string, want models.Code, do func(tx *store.Tx) error) {
				t.Helper()
				if err := s.Write(t.Context(), c.who, do); models.CodeOf(err) != want {
					t.Errorf("%s: %s a meeting gives %v, want code %q", c.who.Name, what, err, want)
				}
			}
			try("reading", c.read, func(tx *store.Tx) error { _, err := tx.Meeting(meeting.ID); return err })
			try("changing", c.change, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
			try("making", c.another, func(tx *store.Tx) error { m := w.meeting(); return tx.CreateMeeting(&m) })
			seen := 0
			err := s.Read(t.Context(), c.who, func(tx *store.Tx) error {
				all, err := tx.Meetings(models.MeetingFilter{PlayerID: w.bram.ID})
				seen = len(all)
				return err
			})
			if (seen > 0) != (c.read == "") || err != nil && models.CodeOf(err) != models.Forbidden {
				t.Errorf("%s lists %d meetings, %v", c.who.Name, seen, err)
			}
		}
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			m := w.meeting()
			m.SquadID = w.juniors.ID
			return tx.CreateMeeting(&m)
		})
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			m := meeting
			m.SquadID = w.juniors.ID
			return tx.UpdateMeeting(&m)
		})
	})
}

func TestASelectorPutsUpOnlyWhomHeReachesAndKeepsWhomAManagerPutUp(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		meeting := w.meeting()
		meeting.Candidates[1] = models.Candidate{PlayerID: w.iver.ID, Place: "Back row"} // a junior, who might play up
		refused(t, s, w.selector, models.Invalid, func(tx *store.Tx) error { m := meeting; return tx.CreateMeeting(&m) })
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&meeting) })
		meeting.Purpose = "The county trial, and one who might play up"
		write(t, s, w.selector, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
		meeting.Candidates = meeting.Candidates[:1]
		write(t, s, w.selector, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
		meeting.Candidates = append(meeting.Candidates, models.Candidate{PlayerID: w.iver.ID, Place: "Back row"})
		err := refused(t, s, w.selector, models.Invalid, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
		if err != nil && !strings.Contains(err.Error(), "candidates[1].player_id") {
			t.Errorf("error %q does not say where", err)
		}
	})
}

func TestADecisionNeedsItsReasonInTheDatabaseToo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		meeting := w.held(t)
		for _, decision := range []models.Decision{models.Chosen, models.Reserve, models.NotChosen, models.Deferred} {
			err := refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error {
				m := meeting
				m.Candidates = slices.Clone(meeting.Candidates)
				m.Candidates[1].Decision = decision
				return tx.UpdateMeeting(&m)
			})
			if err != nil && !strings.Contains(err.Error(), "candidates[1].reason: is missing; give the reason in words") {
				t.Errorf("%s without a reason: %q", decision, err)
			}
		}
		err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
			return tx.Raw().Exec(`INSERT INTO candidates (academy_id, meeting_id, player_id, place, decision, reason, `+
				`dissent) VALUES (?, ?, ?, 'Back row', 'not_chosen', '', '')`,
				w.academy.ID, meeting.ID, w.noor.ID).Error
		})
		if err == nil || !strings.Contains(strings.ToLower(err.Error()), "constraint") {
			t.Errorf("the database takes a decision without a reason: %v", err)
		}
	})
}

func TestAReasonThatIsOnlyFiguresIsQuestionedOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		meeting := w.held(t)
		meeting.Candidates[0].Reason = "Contact 58 %, tackle 3.9: highest composite"
		err := refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error {
			m := meeting
			return tx.UpdateMeeting(&m)
		})
		if err != nil && !strings.Contains(err.Error(), "candidates[0].reason: is only figures; say in words") {
			t.Errorf("the refusal is %q", err)
		}
		meeting.Candidates[0].Insist = true
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) }) // and it stays so
	})
}

// TestAMeetingGoesStepByStepAndEachOtherStepIsRefusedWithItsReason walks every pair of statuses of the table.
func TestAMeetingGoesStepByStepAndEachOtherStepIsRefusedWithItsReason(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, from := range models.MeetingStatus("").Codes() {
			m := w.meeting()
			for i := range m.Candidates {
				m.Candidates[i].Decision, m.Candidates[i].Reason = models.Deferred, "We have not seen enough of the season."
			}
			write(t, s, w.manager, func(tx *store.Tx) error {
				if from == models.MeetingDraft {
					for i := range m.Candidates {
						m.Candidates[i].Decision, m.Candidates[i].Reason = "", ""
					}
					return tx.CreateMeeting(&m)
				}
				return storetest.Hold(tx, &m, from)
			})
			for _, step := range models.MeetingSteps() {
				if step.From != from || step.Why == "" {
					continue
				}
				for _, who := range []models.Who{w.selector, w.manager} {
					err := refused(t, s, who, models.Conflict, func(tx *store.Tx) error {
						to := m
						to.Status = step.To
						return tx.UpdateMeeting(&to)
					})
					if err == nil || !strings.Contains(err.Error(), step.Why) {
						t.Errorf("%s from %s to %s: %v; want %q", who.Role, from, step.To, err, step.Why)
					}
				}
			}
			for _, change := range []struct {
				what    string
				in      []models.MeetingStatus // where it is allowed
				says    string
				changed func(m *models.Meeting)
			}{
				{"a weight", []models.MeetingStatus{models.MeetingDraft}, "locked", func(m *models.Meeting) {
					m.Criteria = slices.Clone(m.Criteria)
					m.Criteria[0].Weight++
				}},
				{"a place", []models.MeetingStatus{models.MeetingDraft}, "locked", func(m *models.Meeting) {
					m.Places = slices.Clone(m.Places)
					m.Places[0].Wanted++
				}},
				{"a decision", []models.MeetingStatus{models.MeetingOpened, models.MeetingDecided}, "not open yet",
					func(m *models.Meeting) {
						m.Candidates = slices.Clone(m.Candidates)
						m.Candidates[0].Decision, m.Candidates[0].Reason = models.Reserve, "Brave, and still learning when to pass."
					}},
				{"fewer candidates", []models.MeetingStatus{models.MeetingDraft, models.MeetingLocked},
					"opened with this candidate",
					func(m *models.Meeting) { m.Candidates = m.Candidates[:1] }},
				{"who was there", []models.MeetingStatus{models.MeetingDraft, models.MeetingLocked, models.MeetingOpened,
					models.MeetingDecided}, "", func(m *models.Meeting) { m.Present = m.Present[:1] }},
			} {
				to := m
				change.changed(&to)
				err := s.Write(t.Context(), w.selector, func(tx *store.Tx) error {
					if err := tx.UpdateMeeting(&to); err != nil {
						return err
					}
					return errKept
				})
				want := change.says
				if from == models.MeetingClosed {
					want = "add a correction instead"
				}
				switch {
				case slices.Contains(change.in, from) != errors.Is(err, errKept):
					t.Errorf("%s in %s gives %v", change.what, from, err)
				case !errors.Is(err, errKept) && (models.CodeOf(err) != models.Conflict || !strings.Contains(err.Error(), want)):
					t.Errorf("%s in %s: %v; want a conflict that says %q", change.what, from, err, want)
				}
			}
			deleting := map[models.MeetingStatus]models.Code{models.MeetingOpened: models.Forbidden,
				models.MeetingDecided: models.Forbidden, models.MeetingClosed: models.Conflict}
			if code, refuses := deleting[from]; refuses {
				refused(t, s, w.selector, code, func(tx *store.Tx) error { return tx.DeleteMeeting(m.ID, m.Version) })
			}
			if from == models.MeetingClosed {
				refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error { return tx.DeleteMeeting(m.ID, m.Version) })
				continue
			}
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteMeeting(m.ID, m.Version) })
		}
	})
}

// errKept undoes a change that was allowed.
var errKept = errors.New("allowed")

func TestASelectorDoesNotSeeNotesForStaffThroughAMeeting(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		meeting := w.held(t)
		read(t, s, w.selector, func(tx *store.Tx) error {
			m, err := tx.Meeting(meeting.ID)
			if err != nil {
				return err
			}
			text, err := json.Marshal(m)
			if err != nil {
				return err
			}
			if !strings.Contains(string(text), "S. Ode would wait") || strings.Contains(string(text), w.secret.Text) ||
				strings.Contains(string(text), w.note.Text) {
				t.Errorf("the meeting shows %s", text)
			}
			if _, err := tx.ReviewNote(w.secret.ID); models.CodeOf(err) != models.NotFound {
				t.Errorf("a note for staff on a candidate gives %v", err)
			}
			notes, err := tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: w.bram.ID})
			if err != nil || len(notes) != 1 || notes[0].ID != w.note.ID {
				t.Errorf("notes on a candidate: %+v, %v", notes, err)
			}
			return nil
		})
	})
}

func TestMeetingsAreFoundByCandidateAlsoAfterTheyChange(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		meeting, other := w.meeting(), w.meeting()
		other.SquadID, other.SeasonID, other.Candidates = w.juniors.ID, w.last.ID,
			[]models.Candidate{{PlayerID: w.iver.ID, Place: "Back row"}}
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(func() error { return tx.CreateMeeting(&meeting) }, func() error { return tx.CreateMeeting(&other) })
		})
		finds := func(f models.MeetingFilter, want ...models.Meeting) {
			t.Helper()
			read(t, s, w.manager, func(tx *store.Tx) error {
				got, err := tx.Meetings(f)
				if len(got) != len(want) {
					t.Errorf("%+v finds %d meetings, want %d", f, len(got), len(want))
				}
				for i := range min(len(got), len(want)) {
					if got[i].ID != want[i].ID || len(got[i].Candidates) != len(want[i].Candidates) {
						t.Errorf("%+v finds %+v, want %+v", f, got[i], want[i])
					}
				}
				return err
			})
		}
		finds(models.MeetingFilter{}, meeting, other)
		finds(models.MeetingFilter{PlayerID: w.bram.ID}, meeting)
		finds(models.MeetingFilter{PlayerID: w.iver.ID}, other)
		finds(models.MeetingFilter{PlayerID: w.noor.ID})
		finds(models.MeetingFilter{SquadID: w.juniors.ID}, other)
		finds(models.MeetingFilter{SeasonID: w.season.ID}, meeting)
		finds(models.MeetingFilter{SeasonID: w.season.ID, PlayerID: w.iver.ID})
		meeting.Candidates[0].PlayerID, meeting.Candidates[0].Place = w.noor.ID, "Outside half"
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
		finds(models.MeetingFilter{PlayerID: w.bram.ID})
		finds(models.MeetingFilter{PlayerID: w.noor.ID}, meeting)
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteMeeting(meeting.ID, meeting.Version) })
		finds(models.MeetingFilter{PlayerID: w.noor.ID})
	})
}

func TestWhoWasThereAndWhatWasComparedStaysThoughTheyAreGone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		skill := models.Skill{Code: "restart_chase", Label: "Restart chase", Grades: [5]string{"a", "b", "c", "d", "e"}}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateSkill(&skill) })
		meeting := w.meeting()
		meeting.Present[0].Name = "Somebody Else" // the user's own name counts
		meeting.Criteria[1].Skill = skill.Code
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&meeting) })
		if meeting.Present[0].Name != w.selector.Name || meeting.TotalWeight != 4.5 {
			t.Errorf("%+v was there, the weights sum to %v", meeting.Present[0], meeting.TotalWeight)
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(func() error {
				return tx.DeleteUser(w.selector.UserID, 1)
			}, func() error { return tx.DeleteSkill(skill.ID, skill.Version) })
		})
		meeting.Purpose = "The county trial, as minuted"
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
		if meeting.Present[0].Name != w.selector.Name {
			t.Errorf("%+v was there", meeting.Present[0])
		}
		another := w.meeting()
		refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error { return tx.CreateMeeting(&another) })
	})
}

func TestAMinorWithoutConsentToSelectionIsNoCandidate(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			rules, err := tx.Settings()
			if err != nil {
				return err
			}
			rules.Requires = append(rules.Requires, models.PurposeSelection)
			return tx.SaveSettings(&rules)
		})
		m := models.Meeting{SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-11-20", Purpose: "Against Saltby",
			Status:     models.MeetingDraft,
			Places:     []models.Place{{Name: "Flanker", Position: "flanker", Wanted: 1}},
			Candidates: []models.Candidate{{PlayerID: w.bram.ID, Place: "Flanker"}}}
		refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error { return tx.CreateMeeting(&m) })
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateConsent(&models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeSelection, GivenBy: "Ida Oakes",
				Relation: models.ByGuardian, On: "2025-09-01"})
		})
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&m) })
		// Withdrawn, they are not there for selectors any more, and what a selector changes leaves them where they were.
		write(t, s, w.manager, func(tx *store.Tx) error {
			given, err := tx.Consents(models.ConsentFilter{PlayerID: w.bram.ID})
			for _, c := range given {
				if err == nil && c.Purpose == models.PurposeSelection {
					c.WithdrawnOn = ptr(models.Date("2025-12-01"))
					err = tx.UpdateConsent(&c)
				}
			}
			return err
		})
		read(t, s, w.selector, func(tx *store.Tx) error {
			got, err := tx.Meeting(m.ID)
			of, err2 := tx.Meetings(models.MeetingFilter{PlayerID: w.bram.ID})
			if err != nil || err2 != nil || len(got.Candidates) != 0 || len(of) != 0 {
				t.Errorf("a selector is shown %+v, and that he is in %d meetings; %v, %v", got.Candidates, len(of), err, err2)
			}
			return nil
		})
		write(t, s, w.selector, func(tx *store.Tx) error {
			got, err := tx.Meeting(m.ID)
			if err != nil {
				return err
			}
			got.Purpose = "Against Saltby, at home"
			return tx.UpdateMeeting(&got)
		})
		read(t, s, w.manager, func(tx *store.Tx) error {
			if got, err := tx.Meeting(m.ID); err != nil || len(got.Candidates) != 1 ||
				got.Purpose != "Against Saltby, at home" {
				t.Errorf("the manager sees %+v, %v; want the candidate still", got, err)
			}
			return nil
		})
	})
}
