package store_test

import (
	"encoding/json"
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
		meeting.Candidates[1].Decision, meeting.Candidates[1].Reason = models.Deferred, "Front row training first."
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
		for _, decision := range []models.Decision{models.Chosen, models.Reserve, models.NotChosen, models.Deferred} {
			err := refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error {
				m := w.meeting()
				m.Candidates[1].Decision = decision
				return tx.CreateMeeting(&m)
			})
			if err != nil && !strings.Contains(err.Error(), "candidates[1].reason: is missing; give the reason in words") {
				t.Errorf("%s without a reason: %q", decision, err)
			}
		}
		meeting := w.meeting()
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&meeting) })
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

func TestAClosedMeetingIsOpenedAgainByAManagerAlone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		meeting := w.meeting()
		meeting.Candidates[1].Decision, meeting.Candidates[1].Reason = models.NotChosen,
			"Two ahead of him in the spring; asked for again in May."
		write(t, s, w.selector, func(tx *store.Tx) error { return tx.CreateMeeting(&meeting) })
		meeting.Status = models.MeetingClosed
		write(t, s, w.selector, func(tx *store.Tx) error { return tx.UpdateMeeting(&meeting) })
		reopened := func() models.Meeting { m := meeting; m.Status = models.MeetingOpen; return m }
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			m := reopened()
			return tx.UpdateMeeting(&m)
		})
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			m := meeting
			m.Purpose = "x"
			return tx.UpdateMeeting(&m)
		})
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			return tx.DeleteMeeting(meeting.ID, meeting.Version)
		})
		refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error {
			m := meeting
			m.Purpose = "x"
			return tx.UpdateMeeting(&m)
		})
		again := reopened()
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateMeeting(&again) })
		again.Purpose = "The county trial, second look"
		write(t, s, w.selector, func(tx *store.Tx) error { return tx.UpdateMeeting(&again) })
		write(t, s, w.selector, func(tx *store.Tx) error { return tx.DeleteMeeting(again.ID, again.Version) })
	})
}

func TestASelectorDoesNotSeeNotesForStaffThroughAMeeting(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		meeting := w.meeting()
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&meeting) })
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
			Status:     models.MeetingOpen,
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
