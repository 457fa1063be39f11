package store_test

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"gorm.io/gorm"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// These tests bypass the policy on purpose. They speak to PostgreSQL as the store does, with its pool and its role,
// but without a WHERE: only the database's own lock is left. They read the tables to try from the database's
// catalogue, so a new table is tried too.

// theTables are all that have an academy's rows in them: everything but the academies themselves, the deployment's
// keys, what the migrations keep, and the tables of background jobs, whose own lock
// TestJobsOfAnotherAcademyAreLockedAway tries.
const theTables = `SELECT relname FROM pg_class AS c WHERE relkind IN ('r', 'p')
	AND relnamespace = 'public'::regnamespace
	AND relname NOT IN ('academies', 'sealing_keys', 'goose_db_version', 'job_servers') AND relname NOT LIKE 'river\_%'
	ORDER BY relname`

func scan[T any](t testing.TB, db *gorm.DB, statement string, args ...any) []T {
	t.Helper()
	var all []T
	if err := db.Raw(statement, args...).Scan(&all).Error; err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
	return all
}

// twoAcademies makes two academies on PostgreSQL. The first has a row in every table.
func twoAcademies(t *testing.T) (full, plain *world) {
	t.Helper()
	s := storetest.Open(t, "postgres")
	full, plain = newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
	full.changeEverything(t)
	full.leaveRows(t)
	plain.leaveRows(t)
	for _, table := range scan[string](t, s.Pool(t.Context()), theTables) {
		read(t, s, full.manager, func(tx *store.Tx) error {
			if n := scan[int](t, tx.Raw(), "SELECT count(*) FROM "+table)[0]; n == 0 {
				t.Errorf("%s has no row: give newWorld or changeEverything one, or nothing is tried there", table)
			}
			return nil
		})
	}
	return full, plain
}

// leaveRows leaves a row where changing everything leaves none that is not hidden, or none at all.
func (w *world) leaveRows(t *testing.T) {
	t.Helper()
	session := models.Session{Key: fmt.Sprintf("%043d", w.academy.ID), AcademyID: w.academy.ID, UserID: w.manager.UserID,
		Data: []byte("x")}
	try := store.SignInTry{AcademyID: w.academy.ID, UserID: w.manager.UserID, Part: models.PartPassword}
	_, tried := w.s.TryToSignIn(t.Context(), try)
	err := errors.Join(w.s.KeepSession(t.Context(), session, time.Hour), w.s.SignInRefused(t.Context(), w.manager), tried)
	if err != nil {
		t.Fatal(err)
	}
	hash := fmt.Appendf(nil, "%032d", w.academy.ID)
	write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.RememberDevice(hash) })
	if _, err := w.s.ExportPlayer(t.Context(), w.manager, w.bram.ID, models.AskedByGuardian); err != nil {
		t.Fatal(err)
	}
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		wren, again := models.Player{Name: "Wren Tolley"}, models.Player{Name: "Wren Tollley"}
		err := all(func() error { return tx.CreatePlayer(&wren) }, func() error { return tx.CreatePlayer(&again) },
			func() error { return tx.MergePlayers(&models.PlayerMerge{PlayerID: wren.ID, OtherID: again.ID}, "") })
		if err != nil {
			return err
		}
		return tx.Remember(models.Repeat{KeyHash: make([]byte, 32), Contents: make([]byte, 32), Made: []int64{wren.ID}})
	})
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		meeting := models.Meeting{SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-11-20", Purpose: "Against Saltby",
			Status:     models.MeetingDraft,
			Places:     []models.Place{{Name: "Flanker", Position: "flanker", Wanted: 1}},
			Candidates: []models.Candidate{{PlayerID: w.bram.ID, Place: "Flanker"}}}
		blow := models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 22, 0), Kind: models.EventHeadContact, Ours: true,
			PlayerID: &w.bram.ID}
		given := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeSelection, GivenBy: "Ida Oakes",
			Relation: models.ByGuardian, On: "2025-09-01"}
		return all(func() error {
			return tx.CreateConsent(&given)
		}, func() error { return tx.CreateMeeting(&meeting) }, func() error { return tx.CreateMatchEvent(&blow) })
	})
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		session := models.TrainingSession{SquadID: w.colts.ID, Date: "2025-11-18", Minutes: 60, Purpose: "Breakdown"}
		if err := tx.CreateTrainingSession(&session); err != nil {
			return err
		}
		there := models.Attendance{SessionID: session.ID, PlayerID: w.bram.ID, Status: models.AttendedPresent}
		if err := tx.CreateAttendance(&there); err != nil {
			return err
		}
		return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: w.bram.ID, Date: session.Date,
			SessionID: &session.ID, Text: "First to each ruck."})
	})
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		return tx.CreateReportPack(&models.ReportPack{SquadID: w.colts.ID, SeasonID: w.season.ID, Edition: "staff"})
	})
	w.leaveMeeting(t)
	w.leaveReview(t)
}

// leaveMeeting leaves a closed meeting with what goes with one, and the draws of a trend.
func (w *world) leaveMeeting(t *testing.T) {
	t.Helper()
	m := models.Meeting{SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-11-21", Purpose: "Against Dunmere",
		Status: models.MeetingDraft, Present: []models.Attendee{{Name: "Ebba Storm"}},
		Places: []models.Place{{Name: "Flanker", Position: "flanker", Wanted: 1}},
		Candidates: []models.Candidate{{PlayerID: w.bram.ID, Place: "Flanker", Decision: models.Chosen,
			Reason: "Does what was agreed."}}}
	draft := models.Meeting{SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-11-22", Purpose: "Against Saltby",
		Status: models.MeetingDraft, Places: m.Places,
		Candidates: []models.Candidate{{PlayerID: w.bram.ID, Place: "Flanker"}}}
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		return all(func() error { return storetest.Hold(tx, &m, models.MeetingClosed) },
			func() error { return tx.CreateMeeting(&draft) },
			func() error {
				return tx.AddCorrection(&models.Correction{MeetingID: m.ID, PlayerID: &w.bram.ID, Text: "The place is at seven.",
					Why: "A slip."})
			},
			func() error {
				of, err := tx.SquadSeason(w.season.ID, w.colts.ID)
				if err != nil {
					return err
				}
				return tx.KeepTrends(of, []models.Trend{{PlayerID: w.bram.ID, Indicator: "carries",
					Draws: models.Draws{0.5, 1.5}}})
			})
	})
	write(t, w.s, w.coach, func(tx *store.Tx) error {
		return tx.CreateRecommendation(&models.Recommendation{MeetingID: draft.ID, PlayerID: w.bram.ID,
			AuthorID: w.coach.UserID, View: models.RecommendChoose, Text: "Ready."})
	})
	read(t, w.s, w.coach, func(tx *store.Tx) error { tx.Opened(w.bram.ID, w.season.ID); return nil })
	if err := w.s.AccountForReads(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// leaveReview leaves a review with an answer, and a grade that asks for action before contact.
func (w *world) leaveReview(t *testing.T) {
	t.Helper()
	review := models.Review{PlayerID: w.bram.ID, SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2025-12-01",
		AuthorID: w.coach.UserID, Summary: "You work harder off the ball.", NextStep: "Two more phases each.",
		Shared: true}
	low := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 1, Date: "2025-12-01", Block: "Winter"}
	write(t, w.s, w.coach, func(tx *store.Tx) error {
		return all(func() error { return tx.CreateReview(&review) }, func() error { return tx.CreateRating(&low) })
	})
	write(t, w.s, w.bramHimself, func(tx *store.Tx) error {
		return tx.AnswerReview(&models.ReviewAnswer{ReviewID: review.ID, Text: "Thank you."})
	})
}

func TestEveryTableOfAnAcademyIsLockedAgainstTheOthers(t *testing.T) {
	s := storetest.Open(t, "postgres")
	db := s.Pool(t.Context())
	type locked struct {
		Name                     string
		Academy, Enabled, Forced bool
	}
	tables := scan[locked](t, db, `SELECT relname AS name, relrowsecurity AS enabled, relforcerowsecurity AS forced,
		EXISTS (SELECT 1 FROM pg_attribute AS a WHERE a.attrelid = c.oid AND a.attname = 'academy_id'
		AND a.attnotnull) AS academy
		FROM pg_class AS c WHERE c.oid IN (SELECT oid FROM pg_class
		WHERE relname IN (`+theTables+`) AND relnamespace = 'public'::regnamespace)`)
	if len(tables) < 20 {
		t.Fatalf("only %d tables found", len(tables))
	}
	for _, x := range tables {
		if !x.Academy || !x.Enabled || !x.Forced {
			t.Errorf("%s: has a column academy_id that is never NULL: %v; row-level security enabled: %v, forced: %v; "+
				"want all three", x.Name, x.Academy, x.Enabled, x.Forced)
		}
	}
	// Whatever policy lets the serving role see or write a row, it is the one that compares the academy.
	type policy struct{ Tablename, Policyname, Permissive, Cmd, Roles, Qual, WithCheck string }
	const own = "(academy_id = (NULLIF(current_setting('throughline.academy'::text, true), ''::text))::bigint)"
	locks := map[string]bool{}
	for _, p := range scan[policy](t, db,
		`SELECT tablename, policyname, permissive, cmd, array_to_string(roles, ',') AS roles, coalesce(qual, '') AS qual,
			coalesce(with_check, '') AS with_check
		FROM pg_policies WHERE schemaname = 'public' AND (roles = '{public}' OR 'throughline_serving' = ANY (roles))`) {
		if p.Tablename == "river_job" {
			continue
		}
		if p.Qual != own || p.WithCheck != "" && p.WithCheck != own {
			t.Errorf("the policy %s of %s lets rows through by %s, %s; want by the academy alone", p.Policyname, p.Tablename,
				p.Qual, p.WithCheck)
		}
		locks[p.Tablename] = locks[p.Tablename] || p.Cmd == "ALL"
	}
	for _, x := range tables {
		if !locks[x.Name] {
			t.Errorf("%s has no policy for its academy", x.Name)
		}
	}
	// A view runs as its owner, unless it says otherwise, and would look past the lock.
	if views := scan[string](t, db,
		`SELECT relname FROM pg_class WHERE relkind IN ('v', 'm') AND relnamespace = 'public'::regnamespace
		AND NOT coalesce('security_invoker=true' = ANY (reloptions), false)`); len(views) > 0 {
		t.Errorf("the views %v look past the lock", views)
	}
}

// What must be read before the academy is known goes through functions that run as the tables' owner. Each is a hole
// in the lock: it is named in doc.go with why it is there, finds its tables by their full names, and is for the
// serving role alone.
func TestEveryFunctionThatLooksPastTheLockIsNamedInThePackageComment(t *testing.T) {
	guide, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	type function struct{ Name, Config, Allowed string }
	all := scan[function](t, storetest.Open(t, "postgres").Pool(t.Context()),
		`SELECT proname AS name, coalesce(array_to_string(proconfig, ';'), '') AS config,
		coalesce((SELECT string_agg(CASE a.grantee WHEN 0 THEN 'PUBLIC' ELSE a.grantee::regrole::text END, ','
		ORDER BY a.grantee)
			FROM aclexplode(coalesce(proacl, acldefault('f', proowner))) AS a WHERE a.grantee <> proowner), '') AS allowed
		FROM pg_proc WHERE pronamespace = 'public'::regnamespace AND prosecdef ORDER BY proname`)
	if len(all) < 2 {
		t.Fatalf("only %d found", len(all))
	}
	for _, f := range all {
		if !strings.HasPrefix(f.Config, "search_path=pg_catalog, pg_temp") {
			t.Errorf("%s runs with %q; want search_path=pg_catalog, pg_temp, or a caller chooses what its names mean", f.Name,
				f.Config)
		}
		if f.Allowed != "throughline_serving" {
			t.Errorf("%s may be called by %q; want throughline_serving alone", f.Name, f.Allowed)
		}
		if !strings.Contains(string(guide), "\t"+f.Name) {
			t.Errorf("%s is not named in doc.go", f.Name)
		}
	}
}

func TestAForgottenScopeSeesNothingOfAnotherAcademy(t *testing.T) {
	o, w := twoAcademies(t)
	for _, table := range scan[string](t, w.s.Pool(t.Context()), theTables) {
		if n := scan[int](t, w.s.Pool(t.Context()), "SELECT count(*) FROM "+table)[0]; n != 0 {
			t.Errorf("without an academy %s has %d rows", table, n)
		}
		read(t, w.s, w.manager, func(tx *store.Tx) error {
			if seen := scan[int64](t, tx.Raw(), "SELECT DISTINCT academy_id FROM "+table); slices.ContainsFunc(seen,
				func(id int64) bool {
					return id != w.academy.ID
				}) {
				t.Errorf("%s shows the academies %v to %d", table, seen, w.academy.ID)
			}
			if n := scan[int](t, tx.Raw(), "SELECT count(*) FROM "+table+" WHERE academy_id = ?", o.academy.ID)[0]; n != 0 {
				t.Errorf("%s has %d rows of another academy that is asked for by its id", table, n)
			}
			return nil
		})
	}
}

// errBack takes back what was tried.
var errBack = errors.New("taken back")

// attempt runs a statement as the store would and takes it back. It returns how many rows it changed, and why it was
// refused.
func attempt(t *testing.T, w *world, statement string, args ...any) (rows int64, refused string) {
	t.Helper()
	err := w.s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
		done := tx.Raw().Exec(statement, args...)
		rows = done.RowsAffected
		if done.Error != nil {
			return done.Error
		}
		return errBack
	})
	if errors.Is(err, errBack) {
		return rows, ""
	}
	return 0, err.Error()
}

// locked says whether a refusal is that of the lock, or of a right that the role does not have.
func locked(refused string) bool {
	return strings.Contains(refused, "row-level security") || strings.Contains(refused, "permission denied")
}

func TestAForgottenScopeWritesNothingIntoAnotherAcademy(t *testing.T) {
	full, plain := twoAcademies(t)
	before := append(content(t, full.s, full.academy.ID), content(t, full.s, plain.academy.ID)...)
	db := full.s.Pool(t.Context())
	for _, table := range scan[string](t, db, theTables) {
		for what, statement := range map[string]string{
			"changes":    "UPDATE " + table + " SET academy_id = academy_id WHERE academy_id = ?",
			"takes over": fmt.Sprintf("UPDATE %s SET academy_id = %d WHERE academy_id = ?", table, plain.academy.ID),
			"deletes":    "DELETE FROM " + table + " WHERE academy_id = ?",
			"deletes whatever": "DELETE FROM " + table + " WHERE academy_id = ? OR academy_id <> " +
				fmt.Sprint(plain.academy.ID),
		} {
			if n, refused := attempt(t, plain, statement, full.academy.ID); n != 0 || refused != "" && !locked(refused) {
				t.Errorf("a statement that %s rows of another academy's %s: %d rows, %q", what, table, n, refused)
			}
		}
		columns := strings.Join(scan[string](t, db,
			`SELECT attname FROM pg_attribute WHERE attrelid = to_regclass(?) AND attnum > 0 AND NOT attisdropped
				AND attgenerated = ''
			AND attname NOT IN ('academy_id') AND NOT (attname = 'id' AND attidentity <> '') ORDER BY attnum`, table), ", ")
		// A row of one's own is given away, by a copy and as it is.
		copied := "INSERT INTO " + table + " (academy_id, " + columns + ") SELECT ?, " + columns + " FROM " + table +
			" LIMIT 1"
		if _, refused := attempt(t, full, copied, plain.academy.ID); !locked(refused) {
			t.Errorf("a row is put into another academy's %s: %q", table, refused)
		}
		if _, refused := attempt(t, full, "UPDATE "+table+" SET academy_id = ?", plain.academy.ID); !locked(refused) {
			t.Errorf("a row of %s is moved into another academy: %q", table, refused)
		}
	}
	if after := append(content(t, full.s, full.academy.ID),
		content(t, full.s, plain.academy.ID)...); !slices.Equal(before, after) {
		t.Error("something was changed")
	}
}

// A reference is by academy and id: a row cannot refer to another academy's row.
func TestNoForeignKeyReachesIntoAnotherAcademy(t *testing.T) {
	w, o := twoAcademies(t)
	type key struct{ From, Target, Member, Named string }
	keys := scan[key](t, w.s.Pool(t.Context()),
		`SELECT c.conrelid::regclass::text AS from, c.confrelid::regclass::text AS target, a.attname AS member,
			f.attname AS named
		FROM pg_constraint AS c, unnest(c.conkey, c.confkey) AS k (member, named), pg_attribute AS a, pg_attribute AS f
		WHERE c.contype = 'f' AND c.confrelid <> 'academies'::regclass AND a.attrelid = c.conrelid AND a.attnum = k.member
		AND f.attrelid = c.confrelid AND f.attnum = k.named AND a.attname <> 'academy_id' ORDER BY 1, 3`)
	if len(keys) < 30 {
		t.Fatalf("only %d foreign keys found", len(keys))
	}
	tried, stopped := 0, 0
	for _, k := range keys {
		var theirs []string
		read(t, o.s, o.manager, func(tx *store.Tx) error {
			theirs = scan[string](t, tx.Raw(), fmt.Sprintf("SELECT %s::text FROM %s ORDER BY 1 DESC LIMIT 1", k.Named,
				k.Target))
			return nil
		})
		var ours []string
		read(t, w.s, w.manager, func(tx *store.Tx) error {
			ours = scan[string](t, tx.Raw(), fmt.Sprintf("SELECT ctid::text FROM %s ORDER BY %s LIMIT 1", k.From, k.Member))
			return nil
		})
		if len(theirs) == 0 || len(ours) == 0 {
			t.Errorf("%s.%s: there is no row to try it with", k.From, k.Member)
			continue
		}
		tried++
		_, refused := attempt(t, w, fmt.Sprintf("UPDATE %s SET %s = ? WHERE ctid = ?::tid", k.From, k.Member),
			gorm.Expr("?", theirs[0]), ours[0])
		if strings.Contains(refused, "foreign key") {
			stopped++
			continue
		}
		if !strings.Contains(refused, "permission denied") && !strings.Contains(refused, "check constraint") {
			t.Errorf("%s.%s refers to another academy's %s: %q", k.From, k.Member, k.Target, refused)
		}
	}
	if tried < 30 || stopped < tried/2 {
		t.Errorf("%d were tried, and the key itself stopped %d: the rest were stopped before it was looked at", tried,
			stopped)
	}
}
