package store_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// entries are those of an academy's audit trail.
func entries(t testing.TB, s *store.Store, academy int64, f models.AuditFilter) (all []models.AuditEntry) {
	t.Helper()
	if err := s.AccountForReads(t.Context()); err != nil {
		t.Fatal(err)
	}
	read(t, s, models.Console(academy), func(tx *store.Tx) (err error) {
		all, err = tx.AuditEntries(f)
		return err
	})
	return all
}

// payload is what an entry says.
func payload(t testing.TB, e models.AuditEntry) (p struct {
	From          string
	Before, After map[string]any
}) {
	t.Helper()
	if e.Payload == nil {
		t.Fatalf("entry %d has no payload", e.Number)
	}
	if err := json.Unmarshal([]byte(*e.Payload), &p); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestEveryChangeLeavesAnEntry(t *testing.T) {
	// What follows from records, keeps account of itself, or is no record of the academy.
	derived := []string{"academies", "observations", "carry_cells", "trends", "publications", "forecasts",
		"forecast_pairs", "squad_seasons", "stints", "audit_entries",
		"sessions", "devices", "sign_in_attempts", "refused_sign_ins", "repeats", "earlier_versions"}
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		before := map[string]bool{}
		for _, row := range content(t, s, w.academy.ID) {
			before[row] = true
		}
		last := entries(t, s, w.academy.ID, models.AuditFilter{})
		w.changeEverything(t)
		noted := map[string]bool{} // kinds of record that have an entry since
		for _, e := range entries(t, s, w.academy.ID, models.AuditFilter{})[len(last):] {
			noted[strings.ReplaceAll(e.Kind, " ", "_")] = true
		}
		kind := map[string]string{"logs": "involvement_log", "check_ins": "check-in", "spells": "spell_of_availability",
			"squad_staff": "squad's_staff", "matches": "match",
			"academy_settings": "academy's_settings", "minutes_limits": "limit_of_minutes", "note_answers": "answer",
			"stand_downs": "stand-down", "links": "one-time_link"}
		for _, row := range content(t, s, w.academy.ID) {
			table, _, _ := strings.Cut(row, " ")
			if before[row] || slices.Contains(derived, table) {
				continue
			}
			name := kind[table]
			if name == "" {
				name = strings.TrimSuffix(table, "s")
			}
			if !noted[name] && !noted[table] {
				t.Errorf("rows of %s changed and the trail has no entry of a %s: %v", table, name, noted)
				noted[name] = true // once
			}
		}
	})
}

func TestAnEntrySaysWhoWhenWhereAndWhat(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		coach := w.coach
		coach.From, coach.TokenID = "192.0.2.7", 31
		note := w.secret
		note.Text = "Watch his minutes at home too."
		write(t, s, coach, func(tx *store.Tx) error { return tx.UpdateReviewNote(&note) })
		write(t, s, coach, func(tx *store.Tx) error { return tx.DeleteReviewNote(note.ID, note.Version) })
		all := entries(t, s, w.academy.ID, models.AuditFilter{Kind: "review note", RecordID: w.secret.ID})
		if len(all) != 3 {
			t.Fatalf("%d entries; want that it was made, changed and deleted", len(all))
		}
		for i, want := range []models.AuditAction{models.AuditCreate, models.AuditChange, models.AuditDelete} {
			e := all[i]
			if e.Action != want || e.UserID != w.coach.UserID || e.Role != models.RoleCoach || e.PlayerID != w.bram.ID ||
				e.At.IsZero() {
				t.Errorf("entry %+v", e)
			}
		}
		p := payload(t, all[1])
		if p.From != "192.0.2.7" || all[1].TokenID != 31 || p.Before["text"] != w.secret.Text ||
			p.After["text"] != note.Text {
			t.Errorf("it says %+v", p)
		}
		if p := payload(t, all[2]); p.Before["text"] != note.Text || p.After != nil {
			t.Errorf("it says %+v", p)
		}
	})
}

func TestWhatIsRefusedOrRolledBackLeavesNoEntry(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		before := entries(t, s, w.academy.ID, models.AuditFilter{})
		note := w.note
		refused(t, s, w.juniorCoach, models.NotFound, func(tx *store.Tx) error { return tx.UpdateReviewNote(&note) })
		err := s.Write(t.Context(), w.coach, func(tx *store.Tx) error {
			if err := tx.UpdateReviewNote(&note); err != nil {
				return err
			}
			return fmt.Errorf("the caller has changed his mind")
		})
		if err == nil {
			t.Error("it was written")
		}
		if after := entries(t, s, w.academy.ID, models.AuditFilter{}); len(after) != len(before) {
			t.Errorf("%d entries more", len(after)-len(before))
		}
	})
}

func TestNoPasswordOrTokenIsInTheTrail(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			u, err := tx.User(w.coach.UserID)
			if err != nil {
				return err
			}
			u.PasswordHash = "$argon2id$v=19$m=19456,t=2,p=1$c2FsdHNhbHRzYWx0$aGFzaGhhc2hoYXNo"
			return tx.UpdateUser(&u)
		})
		for _, e := range entries(t, s, w.academy.ID, models.AuditFilter{}) {
			if strings.Contains(*e.Payload, "argon2id") {
				t.Errorf("entry %d: %s", e.Number, *e.Payload)
			}
		}
	})
}

func TestTheTrailIsOnlyEverAddedTo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		want := "the audit trail is only ever added to"
		// SQLite takes the old row away for this without a word to the trigger on deletion.
		replaced := "REPLACE INTO audit_entries SELECT * FROM audit_entries WHERE number = 1"
		if s.Postgres() {
			want = "permission denied"
			replaced = "INSERT INTO audit_entries SELECT * FROM audit_entries WHERE number = 1 ON CONFLICT (academy_id, " +
				"number) DO UPDATE SET role = 'nobody'"
		}
		for _, statement := range []string{
			"UPDATE audit_entries SET user_id = 1", "UPDATE audit_entries SET payload = '{}'",
			"UPDATE audit_entries SET hash = payload_hash, payload = NULL",
			"DELETE FROM audit_entries", "DELETE FROM audit_entries WHERE number = 1",
			replaced,
		} {
			err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error { return tx.Raw().Exec(statement).Error })
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s gives %v", statement, err)
			}
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			trail, err := tx.VerifyTrail(nil)
			if err != nil || trail.Entries < 20 || trail.Erased != 0 || trail.Last.Number != trail.Entries {
				t.Errorf("%+v, %v", trail, err)
			}
			return err
		})
	})
}

// The owner of the tables on PostgreSQL, or anyone who has a SQLite file, can rewrite the trail with some trouble; the
// chain shows that they did.
func TestATrailThatWasTamperedWithDoesNotVerify(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s := storetest.With(t, url, store.Options{Now: storetest.Now})
		w := newWorld(t, s)
		var noted *models.AuditEntry
		read(t, s, w.manager, func(tx *store.Tx) error {
			trail, err := tx.VerifyTrail(nil)
			noted = trail.Last
			return err
		})
		lift := []string{"DROP TRIGGER audit_entries_stay", "DROP TRIGGER audit_entries_stay_all"}
		academy := fmt.Sprint(w.academy.ID)
		if s.Postgres() {
			lift = []string{"ALTER TABLE audit_entries DISABLE TRIGGER USER",
				"ALTER TABLE audit_entries NO FORCE ROW LEVEL SECURITY"}
		}
		execute(t, url, lift...)
		check := func(what string, want string) {
			t.Helper()
			read(t, s, w.manager, func(tx *store.Tx) error {
				_, err := tx.VerifyTrail(noted)
				if err == nil || !strings.Contains(err.Error(), want) {
					t.Errorf("%s: %v; want that %s", what, err, want)
				}
				return nil
			})
		}
		execute(
			t, url, "DELETE FROM audit_entries WHERE number = (SELECT max(number) FROM audit_entries WHERE academy_id = "+
				academy+") AND academy_id = "+academy)
		check("the last entry is gone", "have been cut off")
		execute(t, url, "UPDATE audit_entries SET user_id = 77 WHERE number = 9 AND academy_id = "+academy)
		check("somebody else did it", "entry 9 of the audit trail")
		execute(t, url, "UPDATE audit_entries SET payload = '{}' WHERE number = 5 AND academy_id = "+academy)
		check("something else was done", "the payload of entry 5")
		execute(t, url, "DELETE FROM audit_entries WHERE number = 3 AND academy_id = "+academy)
		check("an entry is gone", "entry 3 of the audit trail is missing")
	})
}

func TestReadsOfAMinorsRecordByStaffAreAccountedFor(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			grown := w.tove
			grown.BornOn = ptr(models.Date("2001-04-01"))
			return tx.UpdatePlayer(&grown)
		})
		reads := func() (all []models.AuditEntry) {
			return entries(t, s, w.academy.ID, models.AuditFilter{Action: models.AuditRead})
		}
		look := func(who models.Who) {
			who.From = "192.0.2.7"
			read(t, s, who, func(tx *store.Tx) error {
				for _, id := range []int64{w.bram.ID, w.tove.ID} {
					if _, err := tx.Player(id); err != nil && models.CodeOf(err) != models.NotFound {
						return err
					}
				}
				if _, err := tx.Involvements(models.InvolvementFilter{SeasonID: w.season.ID}); err != nil {
					return err
				}
				if _, err := tx.Observations(models.ObservationFilter{SeasonID: w.season.ID}); err != nil {
					return err
				}
				_, err := tx.ReviewNotes(models.ReviewNoteFilter{})
				return err
			})
		}
		look(w.bramHimself)
		look(models.Console(w.academy.ID))
		if all := reads(); len(all) != 0 {
			t.Errorf("what the player and the console read is in the trail: %+v", all)
		}
		look(w.coach)
		look(w.coach) // within the hour
		all := reads()
		if len(all) != 1 || all[0].PlayerID != w.bram.ID || all[0].UserID != w.coach.UserID ||
			all[0].Role != models.RoleCoach {
			t.Fatalf("entries %+v; want one, that the coach read what is kept of Bram, a minor", all)
		}
		p := payload(t, all[0])
		if got := fmt.Sprint(p.After["read"]); p.From != "192.0.2.7" ||
			got != "[involvement observation player review note]" {
			t.Errorf("it says %q from %q", got, p.From)
		}
		read(t, s, w.coach, func(tx *store.Tx) error {
			_, err := tx.Goals(models.GoalFilter{PlayerID: w.bram.ID})
			return err
		})
		if all := reads(); len(all) != 2 || fmt.Sprint(payload(t, all[1]).After["read"]) != "[goal]" {
			t.Errorf("%d entries; want another for what he had not read yet", len(all))
		}
		read(t, s, w.selector, func(tx *store.Tx) error {
			_, err := tx.Players(models.PlayerFilter{}) // a list of names
			return err
		})
		if all := reads(); len(all) != 2 {
			t.Errorf("a list of names is a read: %+v", all[2:])
		}
	})
}

func TestReadsThatWaitAreWrittenWhenTheStoreIsClosed(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
		if err != nil {
			t.Fatal(err)
		}
		w := newWorld(t, s)
		read(t, s, w.coach, func(tx *store.Tx) error { _, err := tx.Goals(models.GoalFilter{}); return err })
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if s, err = store.Open(t.Context(), url, store.Options{Now: storetest.Now}); err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		if all := entries(t, s, w.academy.ID, models.AuditFilter{Action: models.AuditRead}); len(all) != 1 {
			t.Errorf("entries %+v", all)
		}
	})
}

func TestTheTrailIsForTheManager(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		other := addAcademy(t, s, "Fell Academy", "fell")
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			err := s.Read(t.Context(), who, func(tx *store.Tx) error {
				_, err := tx.AuditEntries(models.AuditFilter{})
				return err
			})
			if models.CodeOf(err) != models.Forbidden {
				t.Errorf("a %s gets %v", who.Role, err)
			}
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.LatestAuditEntries(models.AuditFilter{}, 0, 1000)
			for i, e := range all {
				if e.AcademyID != w.academy.ID || i > 0 && e.Number != all[i-1].Number-1 {
					t.Errorf("entry %d of academy %d", e.Number, e.AcademyID)
				}
			}
			day := models.DateOf(time.Now().AddDate(1, 0, 0))
			none, err2 := tx.AuditEntries(models.AuditFilter{From: &day})
			if err != nil || err2 != nil || len(all) < 20 || len(none) != 0 {
				t.Errorf("%d and %d entries, %v, %v", len(all), len(none), err, err2)
			}
			return nil
		})
		if got := entries(t, s, other.academy.ID, models.AuditFilter{}); got[0].Number != 1 {
			t.Errorf("the other academy's trail begins with %d", got[0].Number)
		}
	})
}

// TestAReadThatWasLostIsWrittenWhenItIsSeenAgain has no room for what a second person reads, as when the database
// was away.
func TestAReadThatWasLostIsWrittenWhenItIsSeenAgain(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		s.RoomForReads(1)
		look := func(who models.Who) {
			read(t, s, who, func(tx *store.Tx) error {
				_, err := tx.Goals(models.GoalFilter{PlayerID: w.bram.ID})
				return err
			})
		}
		readers := func() (all []int64) {
			for _, e := range entries(t, s, w.academy.ID, models.AuditFilter{Action: models.AuditRead}) {
				all = append(all, e.UserID)
			}
			return all
		}
		look(w.coach)
		look(w.manager)
		if got := readers(); !slices.Equal(got, []int64{w.coach.UserID}) {
			t.Fatalf("with room for one, %v are in the trail", got)
		}
		look(w.manager) // within the hour
		if got := readers(); !slices.Equal(got, []int64{w.coach.UserID, w.manager.UserID}) {
			t.Errorf("%v are in the trail; want the manager, whose first read was lost, too", got)
		}
	})
}
