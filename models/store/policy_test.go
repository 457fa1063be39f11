package store_test

import (
	"fmt"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestPlayerSeesOnlyHimself(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.coach, func(tx *store.Tx) error {
			return all(
				func() error {
					return tx.CreateMatchEvent(&models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0), Kind: models.EventTry,
						Ours: true, PlayerID: &w.bram.ID})
				},
				func() error {
					return tx.CreateMatchEvent(&models.MatchEvent{MatchID: w.match.ID, Clock: clock(2, 60, 0),
						Kind: models.EventYellowCard, Ours: true, PlayerID: &w.tove.ID})
				},
				func() error {
					return tx.CreateRating(&models.Rating{PlayerID: w.tove.ID, Skill: "tackle", Grade: 2, Date: w.match.Date,
						MatchID: &w.match.ID})
				},
				func() error {
					return tx.CreateGoal(&models.Goal{PlayerID: w.tove.ID, Skill: "tackle", SetOn: "2025-10-10", By: "2026-01-01",
						Target: 4, Why: "x",
						Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."})
				},
				func() error {
					return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.tove.ID, Date: "2025-10-12", Shared: true, Text: "x"})
				},
			)
		})
		read(t, s, w.bramHimself, func(tx *store.Tx) error {
			his := func(what string, players []int64, err error) {
				t.Helper()
				if err != nil {
					t.Errorf("%s: %v", what, err)
				}
				for _, p := range players {
					if p != w.bram.ID {
						t.Errorf("he sees %s of player %d", what, p)
					}
				}
			}
			players, err := tx.Players(models.PlayerFilter{})
			his("players", ids(players, func(r models.Player) int64 { return r.ID }), err)
			memberships, err := tx.Memberships(models.MembershipFilter{})
			his("memberships", ids(memberships, func(r models.Membership) int64 { return r.PlayerID }), err)
			appearances, err := tx.Appearances(models.AppearanceFilter{})
			his("appearances", ids(appearances, func(r models.Appearance) int64 { return r.PlayerID }), err)
			logs, err := tx.Logs(models.LogFilter{})
			his("logs", ids(logs, func(r models.Log) int64 { return r.PlayerID }), err)
			totals, err := tx.Totals(models.TotalsFilter{})
			his("totals", ids(totals, func(r models.MatchTotals) int64 { return r.PlayerID }), err)
			observations, err := tx.Observations(models.ObservationFilter{})
			his("observations", ids(observations, func(r models.Observation) int64 { return r.PlayerID }), err)
			cells, err := tx.CarryCells(models.ObservationFilter{})
			his("carry cells", ids(cells, func(r models.CarryCell) int64 { return r.PlayerID }), err)
			ratings, err := tx.Ratings(models.RatingFilter{})
			his("ratings", ids(ratings, func(r models.Rating) int64 { return r.PlayerID }), err)
			goals, err := tx.Goals(models.GoalFilter{})
			his("goals", ids(goals, func(r models.Goal) int64 { return r.PlayerID }), err)
			notes, err := tx.ReviewNotes(models.ReviewNoteFilter{})
			his("notes", ids(notes, func(r models.ReviewNote) int64 { return r.PlayerID }), err)
			if len(players) != 1 || len(appearances) != 1 || len(logs) != 1 || len(observations) == 0 || len(goals) != 1 ||
				len(notes) != 1 {
				t.Errorf("he sees %d players, %d appearances, %d logs, %d observations, %d goals, %d notes",
					len(players), len(appearances), len(logs), len(observations), len(goals), len(notes))
			}
			matches, err := tx.Matches(models.MatchFilter{})
			if err != nil || len(matches) != 1 || matches[0].ID != w.match.ID {
				t.Errorf("he sees matches %+v, %v", matches, err)
			}
			events, err := tx.MatchEvents(w.match.ID)
			if err != nil || len(events) != 2 || events[0].PlayerID == nil || *events[0].PlayerID != w.bram.ID ||
				events[1].PlayerID != nil {
				t.Errorf("he sees events %+v, %v", events, err)
			}
			for what, get := range map[string]func() error{
				"another player":    func() error { _, err := tx.Player(w.tove.ID); return err },
				"another's play":    func() error { _, err := tx.Appearance(w.tovePlays.ID); return err },
				"another's totals":  func() error { _, err := tx.MatchTotals(w.totals.ID); return err },
				"another's match":   func() error { _, err := tx.Match(w.juniorMatch.ID); return err },
				"a note for staff":  func() error { _, err := tx.ReviewNote(w.secret.ID); return err },
				"his own user":      func() error { _, err := tx.User(w.bramHimself.UserID); return err },
				"a match not there": func() error { _, err := tx.Match(-1); return err },
			} {
				if err := get(); models.CodeOf(err) != models.NotFound {
					t.Errorf("%s gives %v", what, err)
				}
			}
			names, err := tx.UserNames()
			if err != nil || names[w.coach.UserID] != "Colm Reyes" || names[w.bramHimself.UserID] != "Bram Oakes" {
				t.Errorf("names %v, %v", names, err)
			}
			return nil
		})
		for what, try := range map[string]func(tx *store.Tx) error{
			"his name":    func(tx *store.Tx) error { p := w.bram; p.Name = "Bram the Great"; return tx.UpdatePlayer(&p) },
			"his minutes": func(tx *store.Tx) error { a := w.bramPlays; return tx.UpdateAppearance(&a) },
			"his goal":    func(tx *store.Tx) error { return tx.DeleteGoal(w.goal.ID, 1) },
			"his note":    func(tx *store.Tx) error { n := w.note; n.Text = "Brilliant."; return tx.UpdateReviewNote(&n) },
			"a grade": func(tx *store.Tx) error {
				return tx.CreateRating(&models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 5, Date: "2025-10-04",
					MatchID: &w.match.ID, Self: true})
			},
			"his role": func(tx *store.Tx) error {
				return tx.CreateUser(&models.User{Login: "bram2", Name: "Bram", Role: models.RoleManager})
			},
			"observations": func(tx *store.Tx) error { _, _, err := tx.Recompute(0); return err },
			"plays":        func(tx *store.Tx) error { return tx.AddPlays(nil) },
		} {
			t.Run(what, func(t *testing.T) { refused(t, s, w.bramHimself, models.Forbidden, try) })
		}
	})
}

func ids[T any](all []T, id func(T) int64) []int64 {
	var out []int64
	for _, r := range all {
		out = append(out, id(r))
	}
	return out
}

func TestCoachReachesHisSquads(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		read(t, s, w.coach, func(tx *store.Tx) error {
			names := func(f models.PlayerFilter) string {
				all, err := tx.Players(f)
				if err != nil {
					t.Error(err)
				}
				out := ""
				for _, p := range all {
					out += p.Name[:4]
				}
				return out
			}
			for want, f := range map[string]models.PlayerFilter{
				"BramNoorTove": {},                                             // noor was their last season
				"BramTove":     {SeasonID: w.season.ID},                        // and is not in this one
				"Noor":         {SeasonID: w.last.ID},                          //
				"":             {SquadID: w.juniors.ID, SeasonID: w.season.ID}, // she is a junior now
			} {
				if got := names(f); got != want {
					t.Errorf("%+v gives %q, want %q", f, got, want)
				}
			}
			if _, err := tx.Player(w.iver.ID); models.CodeOf(err) != models.NotFound {
				t.Errorf("a junior gives %v", err)
			}
			if _, err := tx.Match(w.juniorMatch.ID); models.CodeOf(err) != models.NotFound {
				t.Errorf("the juniors' match gives %v", err)
			}
			if _, err := tx.Appearance(w.iverPlays.ID); models.CodeOf(err) != models.NotFound {
				t.Errorf("a junior's appearance gives %v", err)
			}
			return nil
		})
		for what, try := range map[string]struct {
			code models.Code
			do   func(tx *store.Tx) error
		}{
			"a player":         {models.Forbidden, func(tx *store.Tx) error { p := w.bram; return tx.UpdatePlayer(&p) }},
			"a season":         {models.Forbidden, func(tx *store.Tx) error { p := w.season; return tx.UpdateSeason(&p) }},
			"a user":           {models.Forbidden, func(tx *store.Tx) error { return tx.DeleteUser(w.selector.UserID, 1) }},
			"a junior's match": {models.NotFound, func(tx *store.Tx) error { m := w.juniorMatch; return tx.UpdateMatch(&m) }},
			"a match for the juniors": {models.Forbidden, func(tx *store.Tx) error {
				return tx.CreateMatch(&models.Match{SeasonID: w.season.ID, SquadID: &w.juniors.ID, Date: "2025-11-01",
					Opponent: "X", Halves: 2, HalfMinutes: 30})
			}},
			"giving his match away": {models.Forbidden, func(tx *store.Tx) error {
				m := w.match
				m.SquadID = &w.juniors.ID
				return tx.UpdateMatch(&m)
			}},
			"a junior in his match": {models.Invalid, func(tx *store.Tx) error {
				return tx.CreateAppearance(&models.Appearance{MatchID: w.match.ID, PlayerID: w.iver.ID, Minutes: 5})
			}},
			"another's name under a note": {models.Forbidden, func(tx *store.Tx) error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.bram.ID, AuthorID: w.manager.UserID, Date: "2025-10-20",
					Text: "x"})
			}},
			"another's name under a log": {models.Forbidden, func(tx *store.Tx) error {
				return tx.CreateLog(&models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, LoggerID: w.manager.UserID,
					Depth: models.Core, Kinds: []models.Kind{models.KindPass}})
			}},
			"juniors in bulk": {models.Invalid, func(tx *store.Tx) error {
				return tx.AddPlays([]models.Play{{Match: w.juniorMatch, Appearance: models.Appearance{PlayerID: w.noor.ID,
					Minutes: 5}}})
			}},
		} {
			t.Run(what, func(t *testing.T) { refused(t, s, w.coach, try.code, try.do) })
		}
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.AddPlays([]models.Play{{Match: w.schoolMatch, Appearance: models.Appearance{PlayerID: w.bram.ID,
				Minutes: 60}}})
		})
	})
}

func TestCoachFollowsHisPlayerIntoAnotherSquadsMatch(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		up := models.Appearance{MatchID: w.match.ID, PlayerID: w.iver.ID, Minutes: 20, Shirt: ptr(16)}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateAppearance(&up) })
		read(t, s, w.juniorCoach, func(tx *store.Tx) error {
			if _, err := tx.Match(w.match.ID); err != nil {
				t.Errorf("the match his player was in: %v", err)
			}
			seen, err := tx.Appearances(models.AppearanceFilter{MatchID: w.match.ID})
			if err != nil || len(seen) != 1 || seen[0].PlayerID != w.iver.ID {
				t.Errorf("he sees %+v, %v", seen, err)
			}
			return nil
		})
		refused(t, s, w.juniorCoach, models.Forbidden, func(tx *store.Tx) error { m := w.match; return tx.UpdateMatch(&m) })
		refused(t, s, w.juniorCoach, models.Forbidden, func(tx *store.Tx) error { a := up; return tx.UpdateAppearance(&a) })
		log := models.Log{MatchID: w.match.ID, PlayerID: w.iver.ID, Depth: models.Core,
			Kinds: []models.Kind{models.KindCarry}}
		write(t, s, w.juniorCoach, func(tx *store.Tx) error { return tx.CreateLog(&log) })
	})
}

func TestRecordOfLastSeasonStaysWithItsCoach(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		notes := map[models.Date]int64{}
		write(t, s, w.manager, func(tx *store.Tx) error {
			for _, d := range []models.Date{"2025-05-01", "2025-07-15", "2025-10-01"} {
				n := models.ReviewNote{PlayerID: w.noor.ID, Date: d, Text: "x"}
				if err := tx.CreateReviewNote(&n); err != nil {
					return err
				}
				notes[d] = n.ID
			}
			return nil
		})
		for _, c := range []struct {
			who  models.Who
			date models.Date
			code models.Code
		}{
			// noor is a junior since September
			{w.coach, "2025-05-01", ""}, {w.coach, "2025-07-15", ""}, {w.coach, "2025-10-01", models.NotFound},
			{w.juniorCoach, "2025-05-01", models.NotFound}, {w.juniorCoach, "2025-07-15", ""},
			{w.juniorCoach, "2025-10-01", ""},
		} {
			read(t, s, c.who, func(tx *store.Tx) error {
				if _, err := tx.ReviewNote(notes[c.date]); models.CodeOf(err) != c.code {
					t.Errorf("%s reads the note of %s: %v, want code %q", c.who.Name, c.date, err, c.code)
				}
				return nil
			})
		}
	})
}

func TestNotesForStaffStayWithStaff(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		for _, c := range []struct {
			who  models.Who
			seen int
		}{{w.manager, 2}, {w.coach, 2}, {w.selector, 1}, {w.bramHimself, 1}, {w.juniorCoach, 0}} {
			read(t, s, c.who, func(tx *store.Tx) error {
				got, err := tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: w.bram.ID})
				if err != nil || len(got) != c.seen {
					t.Errorf("%s sees %d notes, want %d (%v)", c.who.Role, len(got), c.seen, err)
				}
				return nil
			})
		}
		refused(t, s, w.bramHimself, models.NotFound, func(tx *store.Tx) error { return tx.MarkReviewNoteRead(w.secret.ID) })
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.MarkReviewNoteRead(w.note.ID) })
		write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.MarkReviewNoteRead(w.note.ID) })
		n := w.note // read before the player read it: the coach's change still counts
		n.Text = "Good feet before contact, twice."
		write(t, s, w.coach, func(tx *store.Tx) error {
			read, err := tx.ReviewNote(n.ID)
			if err != nil || read.ReadAt == nil || !read.ReadAt.Equal(storetest.Now()) {
				t.Errorf("read at %v, %v", read.ReadAt, err)
			}
			return tx.UpdateReviewNote(&n)
		})
		if n.ReadAt != nil {
			t.Error("the changed text counts as read")
		}
	})
}

func TestCoachSeesAnothersGradeOnlyAfterHisOwn(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, _ *calendar) {
		s := w.s
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.AddSquadStaff(w.juniorCoach.UserID, w.colts.ID) })
		second, err := s.WhoByID(t.Context(), w.academy.ID, w.juniorCoach.UserID)
		if err != nil {
			t.Fatal(err)
		}
		rate := func(who models.Who, skill string, match *int64, block string) {
			t.Helper()
			r := models.Rating{PlayerID: w.bram.ID, Skill: skill, Grade: 3, Date: w.match.Date, MatchID: match, Block: block}
			write(t, s, who, func(tx *store.Tx) error { return tx.CreateRating(&r) })
		}
		sees := func(who models.Who) (n int) {
			t.Helper()
			read(t, s, who, func(tx *store.Tx) error {
				got, err := tx.Ratings(models.RatingFilter{PlayerID: w.bram.ID, SeasonID: w.season.ID})
				n = len(got)
				return err
			})
			return n
		}
		rate(w.coach, "tackle", &w.match.ID, "")
		rate(w.coach, "tackle", nil, "Autumn")
		steps := []struct {
			do   func()
			want string
		}{
			{func() {}, "2 0 0 0"}, // the coach, the second coach, the selector, the player
			{func() { rate(second, "breakdown", &w.match.ID, "") }, "2 1 0 0"},
			{func() { rate(second, "tackle", &w.match.ID, "") }, "3 3 0 0"},
			{func() { rate(second, "tackle", nil, "Autumn") }, "4 5 0 0"},
		}
		for i, step := range steps {
			step.do()
			if got := fmt.Sprint(sees(w.coach), sees(second), sees(w.selector), sees(w.bramHimself)); got != step.want {
				t.Errorf("after step %d they see %s, want %s", i, got, step.want)
			}
		}
	})
}

func TestSelectorOnlyReads(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		read(t, s, w.selector, func(tx *store.Tx) error { _, err := tx.Player(w.bram.ID); return err })
		for what, try := range map[string]func(tx *store.Tx) error{
			"a match": func(tx *store.Tx) error { m := w.match; return tx.UpdateMatch(&m) },
			"a log":   func(tx *store.Tx) error { return tx.DeleteLog(w.log.ID, 1) },
			"a goal":  func(tx *store.Tx) error { g := w.goal; return tx.UpdateGoal(&g) },
			"a note":  func(tx *store.Tx) error { n := w.note; return tx.UpdateReviewNote(&n) },
			"a rating": func(tx *store.Tx) error {
				return tx.CreateRating(&models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 5, Date: "2025-10-04",
					MatchID: &w.match.ID})
			},
		} {
			t.Run(what, func(t *testing.T) { refused(t, s, w.selector, models.Forbidden, try) })
		}
	})
}

func TestUnknownRoleReachesNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		nobody := models.Who{AcademyID: w.academy.ID, Role: "janitor"}
		for name, n := range w.readEverything(t, nobody) {
			if n > 0 && name != "names" {
				t.Errorf("%s: %d are seen", name, n)
			}
		}
	})
}

func TestReadChangesNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		err := s.Read(t.Context(), w.manager, func(tx *store.Tx) error {
			return tx.CreateSquad(&models.Squad{Name: "Sevens"})
		})
		if err == nil {
			t.Error("a squad is created while reading")
		}
		err = s.Read(t.Context(), w.manager, func(tx *store.Tx) error {
			return tx.Raw().Exec("UPDATE squads SET name = 'x' WHERE academy_id = ?", w.academy.ID).Error
		})
		if err == nil {
			t.Error("the database lets a reading transaction write")
		}
	})
}

func TestGroupFiguresHaveNoNames(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		colts := models.GroupFilter{SeasonID: w.season.ID, SquadID: w.colts.ID}
		var whole []models.GroupObservation
		for _, who := range []models.Who{w.manager, w.coach} {
			read(t, s, who, func(tx *store.Tx) error {
				got, err := tx.GroupObservations(colts)
				if err != nil {
					return err
				}
				if whole == nil {
					whole = got
				}
				if fmt.Sprint(got) != fmt.Sprint(whole) || len(got) != 11 {
					t.Errorf("%s reads %v, the manager %v", who.Role, got, whole)
				}
				for _, o := range got {
					if o.FullMatch != 70 || o.MatchID != w.match.ID {
						t.Errorf("%+v is of no match of the colts", o)
					}
				}
				return nil
			})
		}
		read(t, s, w.coach, func(tx *store.Tx) error {
			backRow := colts
			backRow.Groups = []models.Group{models.GroupBackRow, models.GroupCentre}
			got, err := tx.GroupObservations(backRow)
			for _, o := range got {
				if o.Group != models.GroupBackRow || o.Mate != 1 {
					t.Errorf("%+v is not of the back row", o)
				}
			}
			if len(got) != 6 {
				t.Errorf("%d observations of the back row", len(got))
			}
			return err
		})
		refused(t, s, w.juniorCoach, models.NotFound, func(tx *store.Tx) error {
			_, err := tx.GroupObservations(colts)
			return err
		})
		refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error {
			_, err := tx.GroupObservations(models.GroupFilter{})
			return err
		})
	})
}

// TestMatesAreInAnOrderThatTellsNothing swaps the figures of two players: anyone who reads them must not notice.
func TestMatesAreInAnOrderThatTellsNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		var totals []models.MatchTotals
		write(t, s, w.manager, func(tx *store.Tx) error {
			for n := range 6 {
				p := models.Player{Name: fmt.Sprint("Prop ", n), Positions: []models.Position{"prop"}}
				if err := tx.CreatePlayer(&p); err != nil {
					return err
				}
				a := models.Appearance{MatchID: w.match.ID, PlayerID: p.ID, Minutes: 40}
				m := models.Membership{SeasonID: w.season.ID, SquadID: w.colts.ID, PlayerID: p.ID, From: w.season.Starts}
				c := models.MatchTotals{MatchID: w.match.ID, PlayerID: p.ID, Source: "x",
					Counts: models.Counts{"carries": float64(n)}}
				err := all(func() error {
					return tx.CreateAppearance(&a)
				}, func() error { return tx.CreateMembership(&m) }, func() error { return tx.CreateMatchTotals(&c) })
				if err != nil {
					return err
				}
				totals = append(totals, c)
			}
			return nil
		})
		props := func() (all []models.GroupObservation) {
			read(t, s, w.coach, func(tx *store.Tx) (err error) {
				all, err = tx.GroupObservations(models.GroupFilter{SeasonID: w.season.ID, SquadID: w.colts.ID,
					Groups: []models.Group{models.GroupFrontRow}})
				return err
			})
			return all
		}
		before := props()
		write(t, s, w.coach, func(tx *store.Tx) error {
			for n := range totals { // in reverse
				totals[n].Counts = models.Counts{"carries": float64(5 - n)}
				if err := tx.UpdateMatchTotals(&totals[n]); err != nil {
					return err
				}
			}
			return nil
		})
		if after := props(); len(before) != 6 || fmt.Sprint(before) != fmt.Sprint(after) {
			t.Errorf("before %v\nafter %v", before, after)
		}
		if fmt.Sprint(ids(before, func(o models.GroupObservation) int64 { return int64(o.Numerator) })) == "[0 1 2 3 4 5]" {
			t.Error("mates are in the order of their figures")
		}
	})
}
