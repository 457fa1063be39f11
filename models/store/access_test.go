package store_test

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"throughline/migrations"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// addOperator adds an operator to the deployment, as its console.
func addOperator(t testing.TB, s *store.Store, login string) models.Who {
	t.Helper()
	u := models.User{Login: login, Name: "Orla Finch", Role: models.RoleOperator}
	write(t, s, models.Console(models.Deployment), func(tx *store.Tx) error { return tx.CreateUser(&u) })
	who, err := s.WhoByID(t.Context(), models.Deployment, u.ID)
	if err != nil {
		t.Fatal(err)
	}
	return who
}

// sums are hashes of secrets, each of another sign.
func sum(sign string) []byte { return []byte(strings.Repeat(sign, 32)) }

func TestOperatorsManageAcademiesAndSeeNobody(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		orla := addOperator(t, s, "orla")
		built := map[string]int{"skills": 0, "indicators": 0}
		for name, n := range w.readEverything(t, orla) {
			if n > built[name] && name != "users" && name != "squad staff" && name != "names" {
				t.Errorf("an operator sees %d %s", n, name)
			}
		}
		for what, get := range map[string]func(tx *store.Tx) error{
			"a player":  func(tx *store.Tx) error { _, err := tx.Player(w.bram.ID); return err },
			"a manager": func(tx *store.Tx) error { _, err := tx.User(w.manager.UserID); return err },
		} {
			read(t, s, orla, func(tx *store.Tx) error {
				if err := get(tx); models.CodeOf(err) != models.NotFound {
					t.Errorf("%s gives an operator %v", what, err)
				}
				return nil
			})
		}
		var fell models.Academy
		write(t, s, orla, func(tx *store.Tx) (err error) {
			fell = models.Academy{Name: "Fell"}
			if err := tx.CreateAcademy(&fell); err != nil {
				return err
			}
			fell, err = tx.RenameAcademy(fell.ID, "Fell Academy")
			return err
		})
		all, err := s.Academies(t.Context())
		if err != nil || len(all) != 2 || all[0] != fell {
			t.Errorf("academies %+v, %v; want Fell Academy first, and not the deployment", all, err)
		}
		refused(t, s, orla, models.Conflict, func(tx *store.Tx) error {
			_, err := tx.RenameAcademy(fell.ID, w.academy.Name)
			return err
		})
		refused(t, s, orla, models.NotFound, func(tx *store.Tx) error {
			_, err := tx.RenameAcademy(models.Deployment, "Mine")
			return err
		})
		refused(t, s, orla, models.NotFound, func(tx *store.Tx) error {
			_, err := tx.RenameAcademy(99_999, "Mine")
			return err
		})
		refused(t, s, orla, models.Invalid, func(tx *store.Tx) error {
			return tx.CreateAcademy(&models.Academy{Name: "@deployment"})
		})
		for _, who := range []models.Who{w.manager, w.coach, w.bramHimself, models.Console(w.academy.ID)} {
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error {
				return tx.CreateAcademy(&models.Academy{Name: "Another"})
			})
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { _, err := tx.Academies(); return err })
			u := models.User{Login: "x1", Name: "X"}
			if err := s.CreateFirstManager(t.Context(), who, fell.ID, &u,
				&models.Link{Hash: sum("a")}); models.CodeOf(err) != models.NotFound {
				t.Errorf("a %s makes a manager elsewhere: %v", who.Role, err)
			}
		}

		ines := models.User{Login: "ines", Name: "Ines Marl"}
		link := models.Link{Hash: sum("b")}
		if err := s.CreateFirstManager(t.Context(), orla, fell.ID, &ines, &link); err != nil {
			t.Fatal(err)
		}
		if link.MadeBy != orla.UserID || link.Purpose != models.Invitation || ines.Role != models.RoleManager {
			t.Errorf("made %+v by %+v", ines, link)
		}
		for academy, code := range map[int64]models.Code{fell.ID: models.Conflict, w.academy.ID: models.Conflict,
			models.Deployment: models.NotFound, 99_999: models.NotFound} {
			u := models.User{Login: "second", Name: "S"}
			if err := s.CreateFirstManager(t.Context(), orla, academy, &u,
				&models.Link{Hash: sum("c")}); models.CodeOf(err) != code {
				t.Errorf("a manager of academy %d: %v, want %s", academy, err, code)
			}
		}
		if who, err := s.UseLink(t.Context(), sum("b"), passwordHash, "192.0.2.1"); err != nil || who.AcademyID != fell.ID ||
			who.Role != models.RoleManager {
			t.Errorf("she comes in as %+v, %v", who, err)
		}
	})
}

func TestOperatorsAreOfTheDeploymentAndNobodyElseIs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		orla := addOperator(t, s, "orla")
		operator := models.User{Login: "other", Name: "Other", Role: models.RoleOperator}
		for _, who := range []models.Who{w.manager, models.Console(w.academy.ID)} {
			refused(t, s, who, models.Invalid, func(tx *store.Tx) error { u := operator; return tx.CreateUser(&u) })
		}
		for _, who := range []models.Who{orla, models.Console(models.Deployment)} {
			refused(t, s, who, models.Invalid, func(tx *store.Tx) error {
				return tx.CreateUser(&models.User{Login: "other", Name: "Other", Role: models.RoleManager})
			})
		}
		write(t, s, orla, func(tx *store.Tx) error { u := operator; return tx.CreateUser(&u) })
		refused(t, s, orla, models.Forbidden, func(tx *store.Tx) error { return tx.DeleteUser(orla.UserID, 1) })
		// The database knows it by itself.
		for who, change := range map[string]string{"manager": "users SET role = 'operator' WHERE role = 'manager'",
			"operator": "users SET role = 'manager'"} {
			as := map[string]models.Who{"manager": w.manager, "operator": orla}[who]
			err := s.Write(t.Context(), as, func(tx *store.Tx) error {
				return tx.Raw().Exec("UPDATE "+change+" AND academy_id = ?", as.AcademyID).Error
			})
			if who == "operator" {
				err = s.Write(t.Context(), as, func(tx *store.Tx) error {
					return tx.Raw().Exec("UPDATE "+change+" WHERE academy_id = ?", as.AcademyID).Error
				})
			}
			if err == nil || !strings.Contains(strings.ToLower(err.Error()), "constraint") {
				t.Errorf("%s gives %v", change, err)
			}
		}
	})
}

func TestNobodyRaisesHimselfAndTheLastManagerStays(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		as := func(id int64, change func(u *models.User)) func(tx *store.Tx) error {
			return func(tx *store.Tx) error {
				u, err := tx.User(id)
				if err != nil {
					return err
				}
				change(&u)
				return tx.UpdateUser(&u)
			}
		}
		refused(t, s, w.manager, models.Forbidden, as(w.manager.UserID, func(u *models.User) { u.Role = models.RoleCoach }))
		refused(t, s, w.manager, models.Forbidden, func(tx *store.Tx) error { return tx.DeleteUser(w.manager.UserID, 1) })
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			refused(t, s, who, models.NotFound, as(who.UserID, func(u *models.User) { u.Role = models.RoleManager }))
		}
		console := models.Console(w.academy.ID)
		refused(t, s, console, models.Conflict, as(w.manager.UserID, func(u *models.User) { u.Role = models.RoleSelector }))
		refused(t, s, console, models.Conflict, func(tx *store.Tx) error { return tx.DeleteUser(w.manager.UserID, 1) })
		write(t, s, w.manager, as(w.coach.UserID, func(u *models.User) { u.Role = models.RoleManager }))
		write(t, s, console, func(tx *store.Tx) error { return tx.DeleteUser(w.manager.UserID, 1) })
		// What a program could try to set beside.
		write(t, s, console, as(w.selector.UserID, func(u *models.User) {
			u.Name, u.PasswordHash, u.TOTPSecret, u.TOTPStep = "Sian Ode-Marl", passwordHash, "JBSWY3DPEHPK3PXP", 9
			u.SecondFactorSince = ptr(storetest.Now())
		}))
		u, _, err := s.User(t.Context(), w.academy.ID, w.selector.UserID)
		if err != nil || u.Name != "Sian Ode-Marl" || u.PasswordHash != "" || u.TOTPSecret != "" || u.TOTPStep != 0 ||
			u.SecondFactorSince != nil {
			t.Errorf("after the change he is %+v, %v", u, err)
		}
	})
}

// clocked opens a database whose clock the test moves.
func clocked(t *testing.T, test func(t *testing.T, s *store.Store, now *time.Time)) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		now := storetest.Now()
		s := storetest.With(t, url, store.Options{Now: func() time.Time { return now }})
		test(t, s, &now)
	})
}

func TestASessionEndsWhenItIsNotUsedAndWhenItIsOld(t *testing.T) {
	clocked(t, func(t *testing.T, s *store.Store, now *time.Time) {
		w := newWorld(t, s)
		const idle, lifetime = 2 * time.Hour, 12 * time.Hour
		key := func(sign string) string { return strings.Repeat(sign, 43) }
		keep := func(sign string) {
			t.Helper()
			if err := s.KeepSession(t.Context(), models.Session{Key: key(sign), AcademyID: w.academy.ID, UserID: w.coach.UserID,
				Data: []byte("x")}, idle); err != nil {
				t.Fatal(err)
			}
		}
		there := func(sign string) bool {
			t.Helper()
			got, err := s.Session(t.Context(), key(sign))
			if err != nil && models.CodeOf(err) != models.NotFound {
				t.Fatal(err)
			}
			if err == nil {
				if err := s.ProlongSession(t.Context(), got, idle, lifetime); err != nil {
					t.Fatal(err)
				}
			}
			return err == nil
		}
		keep("a")
		*now = now.Add(idle)
		if there("a") {
			t.Error("a session is there two hours after it was used")
		}
		keep("b")
		sessions := func() (n int) {
			read(t, s, w.coach, func(tx *store.Tx) error {
				return tx.Raw().Raw("SELECT count(*) FROM sessions WHERE academy_id = ?", w.academy.ID).Scan(&n).Error
			})
			return n
		}
		if got, err := s.EndedSession(t.Context(), key("a")); err != nil || got.UserID != w.coach.UserID {
			t.Errorf("whose session has ended: %+v, %v", got, err)
		}
		if _, err := s.EndedSession(t.Context(), key("b")); models.CodeOf(err) != models.NotFound {
			t.Errorf("a session in use has ended: %v", err)
		}
		for hour := 1; hour <= 11; hour++ {
			*now = now.Add(time.Hour)
			if !there("b") {
				t.Fatalf("a session that is used each hour is gone after %d", hour)
			}
		}
		*now = now.Add(time.Hour)
		if there("b") {
			t.Error("a session is there after 12 hours")
		}
		if _, err := s.EndedSession(t.Context(), key("a")); models.CodeOf(err) != models.NotFound {
			t.Errorf("it is known whose session ended 12 hours ago: %v", err)
		}
		keep("c")
		if n := sessions(); n != 2 {
			t.Errorf("%d sessions are kept after the next sign-in; want the one that ended 12 hours ago deleted", n)
		}
	})
}

func TestSessionsEndWithWhatTheyStandOn(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, o := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		spare := models.User{Login: "spare", Name: "Spare Coach", Role: models.RoleCoach}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateUser(&spare) })
		begin := func(sign string, who models.Who) {
			t.Helper()
			err := s.KeepSession(t.Context(), models.Session{Key: strings.Repeat(sign, 43), AcademyID: who.AcademyID,
				UserID: who.UserID, Data: []byte("x")}, time.Hour)
			if err != nil {
				t.Fatal(err)
			}
		}
		left := func() string {
			out := ""
			for _, sign := range []string{"c", "d", "s", "m", "o"} {
				if _, err := s.Session(t.Context(), strings.Repeat(sign, 43)); err == nil {
					out += sign
				}
			}
			return out
		}
		all := func() {
			begin("c", w.coach)
			begin("d", w.coach)
			begin("s", models.Who{AcademyID: w.academy.ID, UserID: spare.ID})
			begin("m", w.manager)
			begin("o", o.coach)
		}
		user := func(tx *store.Tx, id int64) models.User {
			u, err := tx.User(id)
			if err != nil {
				t.Fatal(err)
			}
			return u
		}
		for _, step := range []struct {
			what, left string
			do         func()
		}{
			{"nothing", "cdsmo", func() {}},
			{"his name", "cdsmo", func() {
				write(t, s, w.manager, func(tx *store.Tx) error {
					u := user(tx, w.coach.UserID)
					u.Name = "Colm R"
					return tx.UpdateUser(&u)
				})
			}},
			{"ending the others", "csmo", func() {
				write(t, s, w.coach, func(tx *store.Tx) error { return tx.EndOtherSessions(strings.Repeat("c", 43)) })
			}},
			{"his password", "smo", func() {
				write(t, s, w.coach, func(tx *store.Tx) error { return tx.SetPassword(w.coach.UserID, passwordHash) })
			}},
			{"a reset", "smo", func() {
				write(t, s, w.manager, func(tx *store.Tx) error {
					return tx.CreateLink(&models.Link{UserID: w.coach.UserID, Hash: sum("l")})
				})
				if _, err := s.UseLink(t.Context(), sum("l"), passwordHash, ""); err != nil {
					t.Fatal(err)
				}
			}},
			{"another role", "smo", func() {
				write(t, s, w.manager, func(tx *store.Tx) error {
					u := user(tx, w.coach.UserID)
					u.Role = models.RoleSelector
					return tx.UpdateUser(&u)
				})
			}},
			{"a lost second factor", "smo", func() {
				write(t, s, w.manager, func(tx *store.Tx) error { return tx.EndSecondFactorOf(w.coach.UserID) })
			}},
			{"his deletion", "cdmo", func() {
				write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteUser(spare.ID, 1) })
			}},
		} {
			all()
			if step.do(); left() != step.left {
				t.Errorf("%s leaves the sessions %q, want %q", step.what, left(), step.left)
			}
		}
		read(t, s, w.coach, func(tx *store.Tx) error {
			got, err := tx.Sessions()
			if err != nil || len(got) != 2 || got[0].UserID != w.coach.UserID {
				t.Errorf("he sees sessions %+v, %v", got, err)
			}
			return nil
		})
		if err := s.EndSession(t.Context(), strings.Repeat("m", 43)); err != nil || left() != "cdo" {
			t.Errorf("signing out leaves %q, %v", left(), err)
		}
	})
}

func TestALinkIsGoodOnceAndForAWhile(t *testing.T) {
	clocked(t, func(t *testing.T, s *store.Store, now *time.Time) {
		w := newWorld(t, s)
		make := func(sign string) (l models.Link) {
			t.Helper()
			l = models.Link{UserID: w.coach.UserID, Hash: sum(sign)}
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateLink(&l) })
			return l
		}
		valid := func(sign string) bool {
			t.Helper()
			i, err := s.Invited(t.Context(), sum(sign))
			if err == nil && (i.User.Name != "Colm Reyes" || i.Academy != w.academy.Name) {
				t.Errorf("the link is for %+v", i)
			}
			if err != nil && models.CodeOf(err) != models.NotFound {
				t.Fatal(err)
			}
			return err == nil
		}
		first := make("1")
		for range 2 {
			if !valid("1") || first.Purpose != models.Invitation || first.MadeBy != w.manager.UserID {
				t.Errorf("looking at a link uses it up, or it is %+v", first)
			}
		}
		make("2")
		if valid("1") || !valid("2") {
			t.Error("a newer link does not take the place of the one before")
		}
		*now = now.Add(models.Invitation.Lasts())
		if valid("2") {
			t.Error("an invitation is good after a week")
		}
		make("3")
		if _, err := s.UseLink(t.Context(), sum("3"), "secret", ""); models.CodeOf(err) != models.Invalid || !valid("3") {
			t.Errorf("a password that is no hash: %v", err)
		}
		who, err := s.UseLink(t.Context(), sum("3"), passwordHash, "192.0.2.1")
		if err != nil || who.UserID != w.coach.UserID || who.From != "192.0.2.1" {
			t.Errorf("used by %+v, %v", who, err)
		}
		if _, err := s.UseLink(t.Context(), sum("3"), passwordHash, ""); models.CodeOf(err) != models.NotFound ||
			valid("3") {
			t.Errorf("used again: %v", err)
		}
		if u, _, err := s.User(t.Context(), w.academy.ID, w.coach.UserID); err != nil || u.PasswordHash != passwordHash {
			t.Errorf("he has the hash %q, %v", u.PasswordHash, err)
		}
		reset := make("4")
		if reset.Purpose != models.Reset {
			t.Errorf("to somebody with a password goes %+v", reset)
		}
		*now = now.Add(models.Reset.Lasts())
		if valid("4") {
			t.Error("a reset is good after a day")
		}
		make("5")
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.SetPassword(w.coach.UserID, passwordHash) })
		if valid("5") {
			t.Error("a link outlives the password's change")
		}
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			refused(t, s, who, models.Invalid, func(tx *store.Tx) error {
				return tx.CreateLink(&models.Link{UserID: w.juniorCoach.UserID, Hash: sum("6")})
			})
		}
		program := w.manager
		program.TokenID = 3
		refused(t, s, program, models.Forbidden, func(tx *store.Tx) error {
			return tx.CreateLink(&models.Link{UserID: program.UserID, Hash: sum("7")})
		})
		make("8")
		write(t, s, w.manager, func(tx *store.Tx) error {
			u, err := tx.User(w.coach.UserID)
			if err != nil {
				return err
			}
			return tx.DeleteUser(u.ID, u.Version)
		})
		if valid("8") {
			t.Error("the link of a deleted user is good")
		}
	})
}

func TestATokenIsItsMakersAndExpires(t *testing.T) {
	clocked(t, func(t *testing.T, s *store.Store, now *time.Time) {
		w := newWorld(t, s)
		token := func(user int64, sign string, scope models.TokenScope) *models.AccessToken {
			return &models.AccessToken{UserID: user, Label: "laptop", Scope: scope, ExpiresAt: now.Add(24 * time.Hour),
				Hash: sum(sign)}
		}
		reads := token(w.coach.UserID, "r", models.ScopeRead)
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateAccessToken(reads) })
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.CreateAccessToken(token(w.coach.UserID, "w", models.ScopeWrite))
		})
		reader, err := s.WhoByToken(t.Context(), sum("r"))
		if err != nil || !reader.ReadOnly || reader.TokenID != reads.ID {
			t.Errorf("the reader is %+v, %v", reader, err)
		}
		writer, err := s.WhoByToken(t.Context(), sum("w"))
		if err != nil || writer.ReadOnly || writer.TokenID == 0 {
			t.Errorf("the writer is %+v, %v", writer, err)
		}
		squad := func(tx *store.Tx) error { g := w.goal; return tx.UpdateGoal(&g) }
		refused(t, s, reader, models.Forbidden, squad)
		refused(t, s, reader, models.Forbidden, func(tx *store.Tx) error { return tx.MarkReviewNoteRead(w.note.ID) })
		refused(t, s, reader, models.Forbidden, func(*store.Tx) error { return nil })
		write(t, s, writer, squad)
		// A program makes no tokens, and no one makes another person's.
		refused(t, s, writer, models.Forbidden, func(tx *store.Tx) error {
			return tx.CreateAccessToken(token(w.coach.UserID, "x", models.ScopeRead))
		})
		refused(t, s, w.manager, models.Forbidden, func(tx *store.Tx) error {
			return tx.CreateAccessToken(token(w.coach.UserID, "x", models.ScopeRead))
		})
		refused(t, s, writer, models.Forbidden, func(tx *store.Tx) error {
			return tx.SetPassword(w.coach.UserID, passwordHash)
		})
		refused(t, s, writer, models.Forbidden, func(tx *store.Tx) error { return tx.EndOtherSessions("") })
		refused(t, s, writer, models.Forbidden, func(tx *store.Tx) error { return tx.OfferSecondFactor("JBSWY3DPEHPK3PXP") })
		// What was made stays what it is.
		write(t, s, w.coach, func(tx *store.Tx) error {
			more := *reads
			more.Label, more.Scope, more.ExpiresAt, more.Hash = "desk", models.ScopeWrite, now.AddDate(0, 6, 0), sum("y")
			if err := tx.UpdateAccessToken(&more); err != nil {
				return err
			}
			if more.Scope != models.ScopeRead || !more.ExpiresAt.Equal(reads.ExpiresAt) || more.Label != "desk" ||
				!slices.Equal(more.Hash, reads.Hash) {
				t.Errorf("changed to %+v", more)
			}
			return nil
		})
		for who, want := range map[*models.Who]string{&w.coach: "2 true", &w.selector: "0 false", &w.bramHimself: "0 false",
			&w.manager: "2 true"} {
			read(t, s, *who, func(tx *store.Tx) error {
				all, err := tx.AccessTokens(0)
				_, one := tx.AccessToken(reads.ID)
				if got := fmt.Sprint(len(all), one == nil); err != nil || got != want {
					t.Errorf("%s sees %s, %v; want %s", who.Name, got, err, want)
				}
				return nil
			})
		}
		refused(t, s, w.selector, models.NotFound, func(tx *store.Tx) error { return tx.DeleteAccessToken(reads.ID, 2) })
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteAccessToken(reads.ID, 2) })
		if _, err := s.WhoByToken(t.Context(), sum("r")); models.CodeOf(err) != models.NotFound {
			t.Errorf("an ended token: %v", err)
		}
		*now = now.Add(24 * time.Hour)
		if _, err := s.WhoByToken(t.Context(), sum("w")); models.CodeOf(err) != models.NotFound {
			t.Errorf("an expired token: %v", err)
		}
	})
}

func TestACodeOfTheSecondFactorIsGoodOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		const secret = "JBSWY3DPEHPK3PXP"
		refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error { return tx.ConfirmSecondFactor(10) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.OfferSecondFactor(secret) })
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.UseCode(10) }) // it is not on yet
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.ConfirmSecondFactor(10) })
		for _, step := range []int64{9, 10} {
			refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.UseCode(step) })
		}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UseCode(11) })
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.UseCode(11) })
		refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error { return tx.OfferSecondFactor(secret) })
		refused(t, s, w.bramHimself, models.Forbidden, func(tx *store.Tx) error { return tx.OfferSecondFactor(secret) })
		read(t, s, w.manager, func(tx *store.Tx) error {
			if u, err := tx.User(w.coach.UserID); err != nil || u.SecondFactorSince == nil ||
				!u.SecondFactorSince.Equal(storetest.Now()) {
				t.Errorf("the manager sees %+v, %v", u.SecondFactorSince, err)
			}
			return nil
		})
		refused(t, s, w.selector, models.NotFound, func(tx *store.Tx) error { return tx.EndSecondFactorOf(w.coach.UserID) })
		refused(t, s, w.manager, models.Forbidden, func(tx *store.Tx) error {
			return tx.EndSecondFactorOf(w.manager.UserID)
		})
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.EndSecondFactorOf(w.coach.UserID) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.OfferSecondFactor(secret) })
	})
}

// TestOnlyTheServingRoleLooksUpWhoIsAsking reads the rights of the functions that answer before the academy is known.
func TestOnlyTheServingRoleLooksUpWhoIsAsking(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		if !s.Postgres() {
			return // SQLite has no roles
		}
		var all []struct{ Name, Config, Rights string }
		err := s.Pool(t.Context()).Raw(`SELECT proname AS name, array_to_string(proconfig, ',') AS config,
			(SELECT string_agg(a.grantee::regrole::text, ',' ORDER BY a.grantee::regrole::text) FROM aclexplode(proacl) AS a
				WHERE a.grantee <> proowner AND a.privilege_type = 'EXECUTE') AS rights
			FROM pg_proc WHERE prosecdef AND pronamespace = 'public'::regnamespace ORDER BY proname`).Scan(&all).Error
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, f := range all {
			names = append(names, f.Name)
			if f.Config != "search_path=pg_catalog, pg_temp" || f.Rights != "throughline_serving" {
				t.Errorf("%s has the settings %q and is for %q", f.Name, f.Config, f.Rights)
			}
		}
		for _, want := range []string{"link_by_hash", "session_by_hash", "user_by_login", "user_by_token"} {
			if !slices.Contains(names, want) {
				t.Errorf("there is no function %s among %v", want, names)
			}
		}
		// Without an academy there is not even the deployment's.
		addOperator(t, s, "orla")
		if _, _, err := s.UserByLogin(t.Context(), "orla"); err != nil {
			t.Error(err)
		}
		err = s.Read(t.Context(), models.Who{}, func(tx *store.Tx) error {
			var n int
			if err := tx.Raw().Raw("SELECT count(*) FROM users").Scan(&n).Error; err != nil || n != 0 {
				t.Errorf("nobody sees %d users, %v", n, err)
			}
			return nil
		})
		if err != nil {
			t.Error(err)
		}
	})
}

// TestADatabaseFromBeforeAccessIsBroughtUpToDate migrates a database of version 2 that has users and tokens.
func TestADatabaseFromBeforeAccessIsBroughtUpToDate(t *testing.T) {
	before := func(t *testing.T, dialect goose.Dialect, driver, address, insert string) {
		t.Helper()
		db, err := sql.Open(driver, address)
		if err != nil {
			t.Fatal(err)
		}
		files := migrations.SQLite()
		if dialect == goose.DialectPostgres {
			files = migrations.Postgres()
		}
		provider, err := goose.NewProvider(dialect, db, files, goose.WithDisableGlobalRegistry(true))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := provider.UpTo(t.Context(), 2); err != nil {
			t.Fatal(err)
		}
		if _, err := db.ExecContext(t.Context(), insert); err != nil {
			t.Fatal(err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	after := func(t *testing.T, url string) *store.Store {
		t.Helper()
		if _, err := store.Migrate(t.Context(), url); err != nil {
			t.Fatal(err)
		}
		if _, err := store.Settle(t.Context(), url); err != nil {
			t.Fatal(err)
		}
		s := storetest.With(t, url, store.Options{Now: storetest.Now})
		all, err := s.Academies(t.Context())
		if err != nil || len(all) != 1 || all[0].Name != "Harbour Academy" {
			t.Errorf("academies %+v, %v", all, err)
		}
		who, err := s.WhoByToken(t.Context(), []byte("01234567890123456789012345678901")) // made 364 days ago
		if err != nil || who.ReadOnly || who.Name != "Mara Quist" {
			t.Errorf("the token opens %+v, %v", who, err)
		}
		// 366 days ago
		if _, err := s.WhoByToken(t.Context(),
			[]byte("abcdefghabcdefghabcdefghabcdefgh")); models.CodeOf(err) != models.NotFound {
			t.Errorf("the older token opens %v", err)
		}
		addOperator(t, s, "orla")
		next, err := s.CreateAcademy(t.Context(), "Fell Academy")
		if err != nil || next.ID <= all[0].ID {
			t.Errorf("the next academy is %+v, %v", next, err)
		}
		err = s.Write(t.Context(), models.Console(all[0].ID), func(tx *store.Tx) error {
			return tx.Raw().Exec("UPDATE users SET role = 'owner'").Error
		})
		if err == nil || !strings.Contains(strings.ToLower(err.Error()), "constraint") {
			t.Errorf("a role that there is not: %v", err)
		}
		return s
	}
	const rows = `INSERT INTO academies (name) VALUES ('Harbour Academy');
		INSERT INTO users (academy_id, version, created_at, changed_at, login, name, role, password_hash)
			VALUES (1, 1, '2025-01-01 00:00:00+00:00', '2025-01-01 00:00:00+00:00', 'mara', 'Mara Quist', 'manager', '');
		INSERT INTO squads (academy_id, version, created_at, changed_at, name, age_band, band_month)
			VALUES (1, 1, '2025-01-01 00:00:00+00:00', '2025-01-01 00:00:00+00:00', 'Colts', 18, 9);
		INSERT INTO squad_staff (academy_id, user_id, squad_id) VALUES (1, 1, 1);
		INSERT INTO access_tokens (academy_id, version, created_at, changed_at, user_id, label, hash) VALUES `
	t.Run("sqlite", func(t *testing.T) {
		file := filepath.Join(t.TempDir(), "academy.db")
		before(t, goose.DialectSQLite3, "sqlite", "file:"+file+"?_pragma=foreign_keys(1)", rows+`
			(1, 1, '2025-03-15 15:09:26.535897+00:00', '2025-03-15 15:09:26.535897+00:00', 1, 'x',
				CAST('01234567890123456789012345678901' AS BLOB)),
			(1, 1, '2025-03-13 15:09:26+00:00', '2025-03-13 15:09:26+00:00', 1, 'y',
				CAST('abcdefghabcdefghabcdefghabcdefgh' AS BLOB));`)
		s := after(t, "sqlite:"+file)
		for pragma, want := range map[string][]string{"integrity_check": {"ok"}, "foreign_key_check": nil} {
			var got []string
			if err := s.Pool(t.Context()).Raw("PRAGMA " + pragma).Scan(&got).Error; err != nil || !slices.Equal(got, want) {
				t.Errorf("%s says %q, %v", pragma, got, err)
			}
		}
	})
	t.Run("postgres", func(t *testing.T) {
		url := storetest.Postgres(t)
		before(t, goose.DialectPostgres, "pgx", url, "SET throughline.academy = '1';"+rows+`
			(1, 1, '2025-03-15 15:09:26.535897+00:00', '2025-03-15 15:09:26.535897+00:00', 1, 'x',
				'01234567890123456789012345678901'),
			(1, 1, '2025-03-13 15:09:26+00:00', '2025-03-13 15:09:26+00:00', 1, 'y', 'abcdefghabcdefghabcdefghabcdefgh');`)
		after(t, url)
	})
}
