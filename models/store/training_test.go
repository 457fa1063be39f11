package store_test

import (
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// trains is a session of the colts with contact, which the coach made.
func (w *world) trains(t *testing.T, date models.Date, change func(*models.TrainingSession)) models.TrainingSession {
	t.Helper()
	s := models.TrainingSession{SquadID: w.colts.ID, Date: date, Start: "18:30", Minutes: 75, Purpose: "Live attack",
		Contact: true, ContactMinutes: ptr(15)}
	if change != nil {
		change(&s)
	}
	write(t, w.s, w.coach, func(tx *store.Tx) error { return tx.CreateTrainingSession(&s) })
	return s
}

// attends tries to record one attendance as the coach does.
func (w *world) attends(a models.Attendance) func(tx *store.Tx) error {
	return func(tx *store.Tx) error { return tx.CreateAttendance(&a) }
}

func TestNoOneTakesPartInContactWhileStoodDown(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		contact := w.trains(t, "2025-11-18", nil)
		light := w.trains(t, "2025-11-20", func(s *models.TrainingSession) { s.Contact, s.ContactMinutes = false, nil })
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.CreateStandDown(&models.StandDown{PlayerID: w.bram.ID, From: "2025-11-17"})
		})
		at := func(session int64, status models.AttendanceStatus, without bool) models.Attendance {
			return models.Attendance{SessionID: session, PlayerID: w.bram.ID, Status: status, WithoutContact: without}
		}
		for _, a := range []models.Attendance{at(contact.ID, models.AttendedPresent, false),
			at(contact.ID, models.AttendedModified, false)} {
			says(t, refused(t, s, w.coach, models.Conflict, w.attends(a)), "Bram Oakes is stood down from 2025-11-17",
				"modified, without contact, or as absent", "licensed practitioner")
		}
		write(t, s, w.coach, w.attends(at(light.ID, models.AttendedPresent, false)))
		write(t, s, w.coach, w.attends(at(contact.ID, models.AttendedModified, true)))
		light.Contact = true // contact is not brought in behind the player's back
		says(t, refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error { return tx.UpdateTrainingSession(&light) }),
			"attendance of Bram Oakes", "stood down")
		light.Contact = false
		contact.Date = "2025-11-16" // before the stand-down
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateTrainingSession(&contact) })
		read(t, s, w.coach, func(tx *store.Tx) error {
			all, err := tx.Attendances(models.AttendanceFilter{SessionID: contact.ID})
			if len(all) != 1 || all[0].Date != "2025-11-16" {
				t.Errorf("the attendance of the moved session: %+v", all)
			}
			return err
		})
	})
}

// On the day of a head contact at training, what the player did until then is recorded, as it is in a match.
func TestAPlayerWhoCameOffAtTrainingIsRecordedAsModified(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		session := w.trains(t, "2025-11-18", nil)
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.CreateHeadContact(&models.HeadContact{PlayerID: w.bram.ID, Date: session.Date, StandDown: true})
		})
		refused(t, s, w.coach, models.Conflict, w.attends(models.Attendance{SessionID: session.ID, PlayerID: w.bram.ID,
			Status: models.AttendedPresent}))
		write(t, s, w.coach, w.attends(models.Attendance{SessionID: session.ID, PlayerID: w.bram.ID,
			Status: models.AttendedModified, Minutes: ptr(30)}))
	})
}

func TestAttendanceOfAWholeSessionIsAllOrNothingAndNothingWhenSentAgain(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		session := w.trains(t, "2025-11-18", nil)
		record := func(who models.Who, rows ...models.Attendance) (refused []error, err error) {
			err = s.Write(t.Context(), who, func(tx *store.Tx) error {
				all := make([]*models.Attendance, len(rows))
				for i := range rows {
					all[i] = &rows[i]
				}
				if refused, err = tx.RecordAttendance(session.ID, all); err != nil {
					return err
				}
				var faults models.Faults
				for _, err := range refused {
					if err := faults.Add("row", err); err != nil {
						return err
					}
				}
				return faults.Err("refused")
			})
			return refused, err
		}
		on := func() (all []models.Attendance) {
			read(t, s, w.coach, func(tx *store.Tx) (err error) {
				all, err = tx.Attendances(models.AttendanceFilter{SessionID: session.ID})
				return err
			})
			return all
		}
		bram := models.Attendance{PlayerID: w.bram.ID, Status: models.AttendedPresent}
		long := models.Attendance{PlayerID: w.tove.ID, Status: models.AttendedModified, Minutes: ptr(90)}
		refused, err := record(w.coach, bram, long)
		if models.CodeOf(err) != models.Invalid || refused[0] != nil || refused[1] == nil {
			t.Fatalf("a row of 90 minutes: %v, %v", err, refused)
		}
		says(t, refused[1], "Tove Lind", "90 is more than the session's 75 minutes")
		if all := on(); len(all) != 0 {
			t.Errorf("the other row was written: %+v", all)
		}
		twice := []models.Attendance{bram, bram}
		if _, err := record(w.coach, twice...); models.CodeOf(err) != models.Conflict {
			t.Errorf("a player twice: %v", err)
		}
		long.Minutes = ptr(40)
		for range 2 {
			if refused, err := record(w.coach, bram, long); err != nil {
				t.Fatalf("%v %v", err, refused)
			}
		}
		before := on()
		if len(before) != 2 || before[0].Version != 1 || before[1].Version != 1 {
			t.Errorf("sent twice: %+v; want two rows of the first version", before)
		}
		gone := models.Attendance{PlayerID: w.bram.ID, Status: models.AttendedAbsent, Reason: models.ReasonSchool}
		if refused, err := record(w.manager, gone); models.CodeOf(err) != models.Stale {
			t.Errorf("changed without the version: %v %v", err, refused)
		}
		gone.Version = 1
		if _, err := record(w.manager, gone); err != nil {
			t.Error(err)
		}
		gone.Status, gone.Reason = models.AttendedModified, ""
		refused, err = record(w.coach, gone)
		if models.CodeOf(err) != models.Stale {
			t.Errorf("changed from an old version: %v", err)
		}
		says(t, refused[0], "Bram Oakes", "absent")
		for _, who := range []models.Who{w.selector, w.bramHimself} {
			if _, err := record(who, bram); models.CodeOf(err) != models.Forbidden {
				t.Errorf("%s records attendance: %v", who.Role, err)
			}
		}
		if _, err := record(w.juniorCoach, bram); models.CodeOf(err) != models.NotFound {
			t.Errorf("another squad's coach records attendance: %v", err)
		}
	})
}

func TestContactAtTrainingCountsTowardsItsLimitAndNotRecordedIsNotNone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "Contact in a week", Counts: models.CountsContact, Days: 7,
				Minutes: 30})
		})
		first := w.trains(t, "2025-11-18", nil)
		second := w.trains(t, "2025-11-20", func(s *models.TrainingSession) { s.ContactMinutes = ptr(10) })
		load := func(player int64) (l models.Load) {
			read(t, s, w.coach, func(tx *store.Tx) error {
				all, err := tx.PlayerLoad(player, "2025-11-20")
				for _, one := range all {
					if one.Name == "Contact in a week" {
						l = one
					}
				}
				return err
			})
			return l
		}
		l := load(w.bram.ID) // 15 and 10 minutes, if they were there: 25 of 30 is near
		if l.WarningNow != models.LoadUnknown || l.UnrecordedNow != 2 || l.Now != 0 ||
			!strings.Contains(l.WordsNow, "the minutes of contact of 2 sessions were not recorded") {
			t.Errorf("without attendance: %+v", l)
		}
		write(t, s, w.coach, w.attends(models.Attendance{SessionID: first.ID, PlayerID: w.bram.ID,
			Status: models.AttendedPresent}))
		modified := models.Attendance{SessionID: second.ID, PlayerID: w.bram.ID, Status: models.AttendedModified,
			Minutes: ptr(9)}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateAttendance(&modified) })
		l = load(w.bram.ID)
		if l.WarningNow != models.LoadNear || l.Now != 24 || !strings.Contains(l.WordsNow,
			"24 of 30 minutes of contact at training") {
			t.Errorf("15 minutes of contact and 9 of 10: %+v", l)
		}
		modified.WithoutContact = true
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateAttendance(&modified) })
		if l = load(w.bram.ID); l.WarningNow != models.LoadWithin || l.Now != 15 || l.UnrecordedNow != 0 {
			t.Errorf("15 minutes of contact and a session without: %+v", l)
		}
		write(t, s, w.coach, w.attends(models.Attendance{SessionID: first.ID, PlayerID: w.tove.ID,
			Status: models.AttendedAbsent}))
		if l = load(w.tove.ID); l.Now != 0 || l.UnrecordedNow != 1 || l.WarningNow != models.LoadWithin {
			t.Errorf("absent once, and once not recorded: %+v", l)
		}
	})
}

func TestAPlayerReadsOwnAttendanceAndSharedObservationsAlone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		session, other := w.trains(t, "2025-11-18", nil), w.trains(t, "2025-11-20", nil)
		remark := func(player int64, text string, shared bool) func(tx *store.Tx) error {
			return func(tx *store.Tx) error {
				return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: player, Date: session.Date,
					SessionID: &session.ID, Text: text, Shared: shared})
			}
		}
		write(t, s, w.coach, w.attends(models.Attendance{SessionID: session.ID, PlayerID: w.bram.ID,
			Status: models.AttendedPresent}))
		write(t, s, w.coach, w.attends(models.Attendance{SessionID: session.ID, PlayerID: w.tove.ID,
			Status: models.AttendedPresent}))
		for range 2 { // sent again, nothing is made twice
			write(t, s, w.coach, remark(w.bram.ID, "You hit every ruck low.", true))
			write(t, s, w.coach, remark(w.bram.ID, "Tires early: watch.", false))
		}
		write(t, s, w.coach, remark(w.tove.ID, "You called well.", true))
		for _, want := range []struct {
			who                         models.Who
			sessions, attendance, words int
		}{{w.bramHimself, 1, 1, 1}, {w.coach, 2, 2, 3}, {w.manager, 2, 2, 3}, {w.selector, 2, 2, 2},
			{w.juniorCoach, 0, 0, 0}} {
			read(t, s, want.who, func(tx *store.Tx) error {
				sessions, err := tx.TrainingSessions(models.TrainingSessionFilter{SquadID: w.colts.ID})
				if err != nil {
					return err
				}
				there, err := tx.Attendances(models.AttendanceFilter{})
				if err != nil {
					return err
				}
				words, err := tx.TrainingObservations(models.TrainingObservationFilter{SessionID: session.ID})
				if len(sessions) != want.sessions || len(there) != want.attendance || len(words) != want.words {
					t.Errorf("%s reads %d sessions, %d attendances, %d observations; want %+v", want.who.Name, len(sessions),
						len(there), len(words), want)
				}
				return err
			})
		}
		refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error {
			return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: w.bram.ID, Date: "2025-11-19",
				SessionID: &session.ID, Text: "Of another day."})
		})
		refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error {
			return tx.DeleteTrainingSession(session.ID, session.Version)
		})
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteTrainingSession(other.ID, other.Version) })
	})
}

func TestAnErasedPlayersAttendanceAndObservationsGo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		session := w.trains(t, "2025-11-18", nil)
		for _, p := range []models.Player{w.bram, w.tove} {
			write(t, s, w.coach, w.attends(models.Attendance{SessionID: session.ID, PlayerID: p.ID,
				Status: models.AttendedPresent}))
			write(t, s, w.coach, func(tx *store.Tx) error {
				return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: p.ID, Date: session.Date,
					SessionID: &session.ID, Text: "Good."})
			})
		}
		record, err := s.ExportPlayer(t.Context(), w.manager, w.bram.ID, models.AskedByAcademy)
		if err != nil {
			t.Fatal(err)
		}
		kept := map[string]int{}
		for _, part := range record.Parts {
			kept[part.Title] = len(part.Items)
		}
		if kept["Attendance at training"] != 1 || kept["Training observations"] != 1 {
			t.Errorf("the archive has %v", kept)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			there, err := tx.Attendances(models.AttendanceFilter{SessionID: session.ID})
			if err != nil {
				return err
			}
			words, err := tx.TrainingObservations(models.TrainingObservationFilter{SessionID: session.ID})
			if len(there) != 1 || len(words) != 1 || there[0].PlayerID != w.tove.ID || words[0].PlayerID != w.tove.ID {
				t.Errorf("after the erasure: %+v, %+v", there, words)
			}
			return err
		})
	})
}
