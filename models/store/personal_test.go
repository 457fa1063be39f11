package store_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// The markers are in everything that is written of Bram, and those of staff-only texts in nothing else.
const (
	marked = "Quillfeather"
	secret = "Staffroom"
)

// markBram writes markers into every free text about Bram, and one about them into a note on Tove.
func (w *world) markBram(t testing.TB) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		p := w.bram
		p.Name, p.KnownAs = "Bram "+marked, marked
		if err := tx.UpdatePlayer(&p); err != nil {
			return err
		}
		w.bram = p
		u, err := tx.User(w.bramHimself.UserID)
		if err != nil {
			return err
		}
		u.Name, u.Login = p.Name, "quillfeather@"+strings.ToLower(u.Login)
		return all(
			func() error { return tx.UpdateUser(&u) },
			func() error {
				return tx.CreateSpell(&models.Spell{PlayerID: p.ID, Status: models.Modified, From: "2025-11-01"})
			},
			func() error {
				return tx.CreateMatchEvent(&models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0), Kind: models.EventTry,
					Ours: true, PlayerID: &p.ID})
			},
			func() error {
				return tx.CreateConsent(&models.Consent{PlayerID: p.ID, Purpose: models.PurposeSelection, GivenBy: marked,
					Relation: models.ByGuardian, On: "2025-09-01", KeptAt: marked})
			},
			func() error {
				return tx.CreateGuardian(&models.Guardian{PlayerID: p.ID, Name: "Ida " + marked, Relation: "mother",
					Contact: marked})
			},
			func() error {
				return storetest.Hold(tx, &models.Meeting{SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-11-20",
					Purpose: "Against Saltby",
					Places:  []models.Place{{Name: "Flanker", Position: "flanker", Wanted: 1}}, Candidates: []models.Candidate{
						{PlayerID: w.tove.ID, Place: "Flanker"}, {PlayerID: p.ID, Place: "Flanker", Decision: models.Deferred,
							Reason: marked, Dissent: marked}}}, models.MeetingOpened)
			},
			func() error {
				return tx.CreateHeadContact(&models.HeadContact{PlayerID: p.ID, Date: "2025-11-21", StandDown: true})
			},
			func() error {
				return tx.AnswerNote(&models.NoteAnswer{NoteID: w.note.ID, Text: marked})
			},
			func() error {
				return tx.KeepRecord(&models.RetentionReview{PlayerID: p.ID, KeepUntil: "2030-01-01", Because: marked})
			},
		)
	})
	write(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		return tx.CreateAccessToken(&models.AccessToken{UserID: w.bramHimself.UserID, Label: marked, Scope: models.ScopeRead,
			ExpiresAt: tx.Now().AddDate(0, 0, 30),
			Hash:      bytes.Repeat([]byte{7}, 32)})
	})
	write(t, w.s, w.bramHimself, func(tx *store.Tx) error {
		return tx.CreateSelfRating(&models.SelfRating{Rating: models.Rating{Skill: "tackle", Grade: 3, Comment: marked,
			Date: w.match.Date, MatchID: &w.match.ID}})
	})
	write(t, w.s, w.coach, func(tx *store.Tx) error {
		secretly := w.secret
		secretly.Text = secret + " " + marked
		carry := w.carry
		carry.Note, carry.Options, carry.VideoFile, carry.VideoFrom, carry.VideoTo = marked, marked, marked, ptr(1.0),
			ptr(2.0)
		return all(
			func() error { return tx.UpdateReviewNote(&secretly) },
			func() error { return tx.UpdateInvolvement(&carry) },
			func() error {
				return tx.CreateRating(&models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 4, Comment: marked,
					Date: w.match.Date, MatchID: &w.match.ID})
			},
			func() error {
				return tx.CreateCheckIn(&models.CheckIn{GoalID: w.goal.ID, Shared: true, Date: "2025-11-01", Text: marked})
			},
			func() error {
				return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: w.bram.ID, Date: "2025-11-02",
					Skill: "tackle", Text: marked})
			},
			func() error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.tove.ID, Date: "2025-11-03",
					Text: "Runs the line that " + marked + " runs."})
			},
		)
	})
}

func TestEveryTableThatNamesPlayersIsExportedAndErased(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		statement := `SELECT DISTINCT m.name FROM sqlite_master AS m, pragma_table_info(m.name) AS c WHERE m.type = 'table'
			AND m.name NOT LIKE 'sqlite%'
			AND (c.name IN ('player_id', 'off_id') OR c.name = 'user_id' AND m.name <> 'squad_staff')`
		if s.Postgres() {
			statement = `SELECT DISTINCT c.relname FROM pg_class AS c, pg_attribute AS a WHERE c.relkind = 'r'
				AND c.relnamespace = 'public'::regnamespace
				AND a.attrelid = c.oid AND (a.attname IN ('player_id', 'off_id') OR a.attname = 'user_id'
				AND c.relname <> 'squad_staff')`
		}
		var tables []string
		if err := s.Pool(t.Context()).Raw(statement).Scan(&tables).Error; err != nil {
			t.Fatal(err)
		}
		if len(tables) < 14 {
			t.Fatalf("only %v name players", tables)
		}
		traced := store.Traces()
		for _, table := range tables {
			if !slices.Contains(traced, table) {
				t.Errorf("%s names players or their users, and nothing says how it is read out and what becomes of it when a "+
					"player is erased", table)
			}
		}
	})
}

func TestAnExportHoldsEverythingThatIsKeptOfAPlayer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.markBram(t)
		export := func(who models.Who) (r models.PersonalRecord) {
			r, err := s.ExportPlayer(t.Context(), who, w.bram.ID, models.AskedByGuardian)
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		deleted := models.ReviewNote{PlayerID: w.bram.ID, Date: "2025-11-04", Shared: true, Text: "Written in haste."}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateReviewNote(&deleted) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteReviewNote(deleted.ID, deleted.Version) })
		full := export(w.manager)
		parts := map[string]int{}
		for _, p := range full.Parts {
			parts[p.Code] = len(p.Items)
		}
		for _, code := range []string{"memberships", "spells", "appearances", "match_events", "logs", "involvements",
			"observations", "check_ins", "review_notes",
			"training_observations", "goals", "ratings", "access_tokens", "users", "audit_entries", "consents", "guardians",
			"note_answers", "head_contacts", "stand_downs",
			"retention_reviews", "candidates"} {
			if parts[code] == 0 {
				t.Errorf("nothing of %s is in the export", code)
			}
		}
		text, err := json.Marshal(full)
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{secret, deleted.Text, `"deleted_at"`, "Fellmoor", "Colm Reyes"} {
			if !bytes.Contains(text, []byte(want)) {
				t.Errorf("%q is not in the export", want)
			}
		}
		if bytes.Contains(text, []byte("Tove")) {
			t.Error("another player is in the export")
		}
		for id, name := range full.Staff {
			if name == "Jo Bakke" {
				t.Errorf("user %d, who has recorded nothing of him, is named", id)
			}
		}
		himself := w.bramHimself
		own := export(himself)
		text, err = json.Marshal(own)
		if err != nil {
			t.Fatal(err)
		}
		for _, kind := range []string{`"kind":"candidate"`, `"kind":"review note"`, `"meeting"`} {
			if bytes.Contains(text, []byte(kind)) {
				t.Errorf("the player's own export tells of %s, of which some are for the staff only", kind)
			}
		}
		if bytes.Contains(text, []byte(secret)) || bytes.Contains(text, []byte(deleted.Text)) || !own.Own {
			t.Error("what is for staff only, or was deleted, is in the player's own export")
		}
		for _, want := range []string{marked, "contact_won", "audit_entries"} {
			if !bytes.Contains(text, []byte(want)) {
				t.Errorf("%q is not in the player's own export", want)
			}
		}
		for _, who := range []models.Who{w.coach, w.selector} {
			if _, err := s.ExportPlayer(t.Context(), who, w.bram.ID,
				models.AskedByPlayer); models.CodeOf(err) != models.Forbidden {
				t.Errorf("a %s: %v; want it forbidden", who.Role, err)
			}
		}
		if _, err := s.ExportPlayer(t.Context(), himself, w.tove.ID,
			models.AskedByPlayer); models.CodeOf(err) != models.NotFound {
			t.Errorf("another player's record: %v; want it not found", err)
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.DataRequests()
			if err != nil || len(all) != 2 || all[0].Kind != models.RequestExport || all[0].Counts["goals"] != 1 {
				t.Errorf("requests %+v, %v", all, err)
			}
			return nil
		})
	})
}

func TestAnErasedPlayerIsNowhereInTheDatabase(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s := storetest.With(t, url, store.Options{Now: storetest.Now})
		w := newWorld(t, s)
		w.markBram(t)
		squad := models.GroupFilter{SeasonID: w.season.ID, SquadID: w.colts.ID}
		figures := func() (all []models.GroupObservation, own []models.Observation) {
			read(t, s, w.manager, func(tx *store.Tx) (err error) {
				if all, err = tx.GroupObservations(squad); err != nil {
					return err
				}
				own, err = tx.Observations(models.ObservationFilter{})
				return err
			})
			return all, own
		}
		group, observations := figures()
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, "Bram",
			models.AskedByGuardian); models.CodeOf(err) != models.Invalid {
			t.Errorf("with another name: %v", err)
		}
		for who, code := range map[*models.Who]models.Code{&w.coach: models.Forbidden, &w.bramHimself: models.Forbidden,
			&w.juniorCoach: models.NotFound} {
			if _, err := s.ErasePlayer(t.Context(), *who, w.bram.ID, w.bram.Name,
				models.AskedByPlayer); models.CodeOf(err) != code {
				t.Errorf("a %s gets %v; want %s", who.Role, err, code)
			}
		}
		proof, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByGuardian)
		if err != nil {
			t.Fatal(err)
		}
		if proof.Counts["review_notes"] != 2 || proof.Counts["goals"] != 1 || proof.Counts["users"] != 1 ||
			proof.Payloads == 0 || proof.DoneBy != w.manager.UserID {
			t.Errorf("the proof is %+v", proof)
		}
		if len(proof.Mentions) != 2 || proof.Mentions[0].Kind != "entry of the audit trail" ||
			proof.Mentions[1].Kind != "review note" {
			t.Errorf("mentions %+v; want the note on Tove that names him, and what the trail says of it", proof.Mentions)
		}
		write(t, s, w.manager, func(tx *store.Tx) error { // as the proof asks
			n, err := tx.ReviewNote(proof.Mentions[1].RecordID)
			if err != nil {
				return err
			}
			n.Text = "Runs good lines."
			return tx.UpdateReviewNote(&n)
		})
		for _, row := range content(t, s, w.academy.ID) {
			// what was said of Tove, in the trail alone: the edit that took the name out kept no copy of it
			table, _, _ := strings.Cut(row, " ")
			if table != "audit_entries" || !strings.Contains(row, "Runs the line") {
				for _, word := range []string{marked, strings.ToLower(marked), "2008-10-03"} {
					if strings.Contains(row, word) {
						t.Errorf("%q is still in the database: %s", word, row)
					}
				}
			}
		}
		groupNow, observationsNow := figures()
		if !reflect.DeepEqual(group, groupNow) || !reflect.DeepEqual(observations, observationsNow) {
			t.Error("the squad's figures are not what they were")
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			trail, err := tx.VerifyTrail(nil)
			if err != nil || trail.Erased != int64(proof.Payloads) {
				t.Errorf("the trail %+v, %v; want that it holds without %d payloads", trail, err, proof.Payloads)
			}
			if _, err := tx.Player(w.bram.ID); models.CodeOf(err) != models.NotFound {
				t.Errorf("the player is %v", err)
			}
			if all, err := tx.Players(models.PlayerFilter{Name: "Bram"}); err != nil || len(all) != 0 {
				t.Errorf("players %v, %v", all, err)
			}
			all, err := tx.DataRequests()
			if err != nil || len(all) != 1 || all[0].ID != proof.ID {
				t.Errorf("requests %+v, %v", all, err)
			}
			return nil
		})
		last := entries(t, s, w.academy.ID, models.AuditFilter{Action: models.AuditErase})
		if len(last) != 1 || last[0].Payload == nil || last[0].RecordID != w.bram.ID {
			t.Errorf("the trail says %+v of the erasure", last)
		}
		if _, err := s.WhoByID(t.Context(), w.academy.ID, w.bramHimself.UserID); models.CodeOf(err) != models.NotFound {
			t.Errorf("his user is %v", err)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name,
			models.AskedByGuardian); models.CodeOf(err) != models.NotFound {
			t.Errorf("a second time: %v", err)
		}
		// nor in what the file still holds of rows that were deleted
		if path, file := strings.CutPrefix(url, "sqlite:"); file {
			files, err := filepath.Glob(path + "*")
			if err != nil || len(files) == 0 {
				t.Fatalf("files %v, %v", files, err)
			}
			for _, name := range files {
				bytesOf, err := os.ReadFile(name)
				if err != nil {
					t.Fatal(err)
				}
				for _, word := range []string{marked + `"`, secret} {
					if bytes.Contains(bytesOf, []byte(word)) {
						t.Errorf("%q is still in the bytes of %s", word, filepath.Base(name))
					}
				}
			}
		}
	})
}
