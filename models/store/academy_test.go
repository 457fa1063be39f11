package store_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestAnotherAcademyIsNeverVisible(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		empty, err := s.CreateAcademy(t.Context(), "Fell Academy")
		if err != nil {
			t.Fatal(err)
		}
		for name, n := range w.readEverything(t, models.Console(empty.ID)) {
			want := map[string]int{"skills": len(models.SkillCatalogue()), "indicators": len(models.IndicatorCatalogue())}[name]
			if n != want {
				t.Errorf("%s: %d of another academy are seen", name, n-want)
			}
		}
	})
}

func TestAnotherAcademyIsNeverReferable(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, o := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		before := content(t, s, w.academy.ID)
		for field, try := range map[string]func(tx *store.Tx) error{
			"season_id": func(tx *store.Tx) error {
				return tx.CreateMatch(&models.Match{SeasonID: o.season.ID, SquadID: &w.colts.ID, Date: "2025-11-01", Opponent: "X",
					Halves: 2, HalfMinutes: 35})
			},
			"squad_id": func(tx *store.Tx) error {
				return tx.CreateMatch(&models.Match{SeasonID: w.season.ID, SquadID: &o.colts.ID, Date: "2025-11-01", Opponent: "X",
					Halves: 2, HalfMinutes: 35})
			},
			"player_id": func(tx *store.Tx) error {
				return tx.CreateAppearance(&models.Appearance{MatchID: w.match.ID, PlayerID: o.noor.ID, Minutes: 5})
			},
			"match_id": func(tx *store.Tx) error {
				return tx.CreateAppearance(&models.Appearance{MatchID: o.match.ID, PlayerID: w.noor.ID, Minutes: 5})
			},
			"logger_id": func(tx *store.Tx) error {
				return tx.CreateLog(&models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, LoggerID: o.coach.UserID,
					Depth: models.Core, Kinds: []models.Kind{models.KindPass}})
			},
			"log_id": func(tx *store.Tx) error {
				return tx.CreateInvolvement(&models.Involvement{LogID: o.log.ID, Clock: clock(1, 1, 0), Kind: models.KindCarry})
			},
			"goal_id": func(tx *store.Tx) error {
				return tx.CreateCheckIn(&models.CheckIn{GoalID: o.goal.ID, AuthorID: w.coach.UserID, Date: "2025-11-01",
					Text: "x"})
			},
			"involvement_id": func(tx *store.Tx) error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.bram.ID, AuthorID: w.coach.UserID, Date: "2025-11-01",
					InvolvementID: &o.carry.ID, Text: "x"})
			},
			"candidates[0].player_id": func(tx *store.Tx) error {
				m := w.meeting()
				m.Candidates[0].PlayerID = o.bram.ID
				return tx.CreateMeeting(&m)
			},
			"present[0].user_id": func(tx *store.Tx) error {
				m := w.meeting()
				m.Present[0].UserID = &o.coach.UserID
				return tx.CreateMeeting(&m)
			},
			"user_id": func(tx *store.Tx) error { return tx.AddSquadStaff(o.coach.UserID, w.colts.ID) },
			"plays[0].appearance.match_id": func(tx *store.Tx) error {
				return tx.AddPlays([]models.Play{{Match: o.match, Appearance: models.Appearance{PlayerID: w.noor.ID, Minutes: 5}}})
			},
			"plays[0].appearance.player_id": func(tx *store.Tx) error {
				return tx.AddPlays([]models.Play{{Match: w.match, Appearance: models.Appearance{PlayerID: o.noor.ID, Minutes: 5}}})
			},
		} {
			t.Run(field, func(t *testing.T) {
				if err := refused(t, s, w.manager, models.Invalid, try); err != nil && !strings.Contains(err.Error(), field) {
					t.Errorf("error %q does not name %s", err, field)
				}
			})
		}
		if after := content(t, s, w.academy.ID); !slices.Equal(before, after) {
			t.Error("something was written")
		}
	})
}

func TestReferenceIntoAnotherAcademyIsRefusedByTheDatabase(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, o := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
			return tx.Raw().Exec("UPDATE memberships SET player_id = ? WHERE academy_id = ?", o.bram.ID, w.academy.ID).Error
		})
		if err == nil || !strings.Contains(strings.ToLower(err.Error()), "foreign key") {
			t.Errorf("a row refers to another academy's: %v", err)
		}
	})
}

// TestServingRoleMayLittle reads the rights of the role that the program serves as. What it may do to each table is in
// TestTheServingRoleReachesEveryTableAndDeletesOnlyWhatGoesForGood.
func TestServingRoleMayLittle(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		if !s.Postgres() {
			t.Skip("SQLite has no roles")
		}
		var role struct {
			Name                                                      string
			Super, Bypass, Login, Createrole, Createdb, Owns, Creates int
		}
		err := s.Pool(t.Context()).Raw(`SELECT rolname AS name, rolsuper::int AS super, rolbypassrls::int AS bypass,
			rolcanlogin::int AS login,
			rolcreaterole::int AS createrole, rolcreatedb::int AS createdb,
			(SELECT count(*) FROM pg_class WHERE relowner = r.oid) AS owns, has_schema_privilege('public',
			'CREATE')::int AS creates
			FROM pg_roles AS r WHERE rolname = current_user`).Scan(&role).Error
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(role) != "{throughline_serving 0 0 0 0 0 0 0}" {
			t.Errorf("served as %+v", role)
		}
	})
}

func TestWhoSignsInIsFoundInAnyAcademy(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, o := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		hash := []byte(strings.Repeat("\x00\xff", 16))
		token := models.AccessToken{UserID: o.coach.UserID, Label: "analysis laptop", Scope: models.ScopeWrite,
			ExpiresAt: storetest.Now().AddDate(0, 1, 0), Hash: hash}
		write(t, s, o.coach, func(tx *store.Tx) error { return tx.CreateAccessToken(&token) })

		user, who, err := s.UserByLogin(t.Context(), "coach@harbour")
		if err != nil || user.ID != w.coach.UserID || fmt.Sprint(who) != fmt.Sprint(w.coach) {
			t.Errorf("coach@harbour is %+v, %+v, %v", user, who, err)
		}
		if !slices.Equal(who.SquadIDs, []int64{w.colts.ID}) {
			t.Errorf("his squads are %v", who.SquadIDs)
		}
		_, who, err = s.UserByLogin(t.Context(), "bram@fell")
		if err != nil || who.AcademyID != o.academy.ID || who.PlayerID != o.bram.ID {
			t.Errorf("bram@fell is %+v, %v", who, err)
		}
		who, err = s.WhoByToken(t.Context(), hash)
		asProgram := o.coach
		asProgram.TokenID = token.ID
		if err != nil || fmt.Sprint(who) != fmt.Sprint(asProgram) {
			t.Errorf("the token is %+v's, %v", who, err)
		}
		for _, login := range []string{"", "nobody", "COACH@harbour", "coach@harbour\x00", "coach\xff"} {
			if _, _, err := s.UserByLogin(t.Context(), login); models.CodeOf(err) != models.NotFound {
				t.Errorf("login %q gives %v", login, err)
			}
		}
		if _, err := s.WhoByToken(t.Context(), nil); models.CodeOf(err) != models.NotFound {
			t.Errorf("no token gives %v", err)
		}
		if _, err := s.WhoByID(t.Context(), w.academy.ID, o.coach.UserID); models.CodeOf(err) != models.NotFound {
			t.Errorf("another academy's user gives %v", err)
		}
		write(t, s, o.manager, func(tx *store.Tx) error { return tx.DeleteUser(o.coach.UserID, 1) })
		if _, err := s.WhoByToken(t.Context(), hash); models.CodeOf(err) != models.NotFound {
			t.Errorf("the token of a deleted user gives %v", err)
		}
		if _, _, err := s.UserByLogin(t.Context(), "coach@fell"); models.CodeOf(err) != models.NotFound {
			t.Errorf("the login of a deleted user gives %v", err)
		}
		taken := models.User{Login: "coach@harbour", Name: "Cora Reed", Role: models.RoleCoach}
		refused(t, s, o.manager, models.Conflict, func(tx *store.Tx) error { return tx.CreateUser(&taken) })
	})
}

func TestAcademiesHaveDifferentNames(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		for _, name := range []string{"Harbour", "Fell"} {
			if _, err := s.CreateAcademy(t.Context(), name); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := s.CreateAcademy(t.Context(), "Fell"); models.CodeOf(err) != models.Conflict {
			t.Errorf("a second Fell gives %v", err)
		}
		if _, err := s.CreateAcademy(t.Context(), "=Fell"); models.CodeOf(err) != models.Invalid {
			t.Errorf("a formula gives %v", err)
		}
		all, err := s.Academies(t.Context())
		if err != nil || len(all) != 2 || all[0].Name != "Fell" || all[1].Name != "Harbour" {
			t.Errorf("academies %+v, %v", all, err)
		}
	})
}
