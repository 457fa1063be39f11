package store_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// calendar is a clock that a test puts to another day.
type calendar struct{ day models.Date }

func (c *calendar) now() time.Time {
	at, err := c.day.Time()
	if err != nil {
		panic(err)
	}
	return at.Add(23 * time.Hour) // late, so that the whole of the day counts
}

// withCalendar runs a test on both databases with a clock that it puts to the days that it needs.
func withCalendar(t *testing.T, test func(t *testing.T, w *world, today *calendar)) {
	t.Helper()
	storetest.EachURL(t, func(t *testing.T, url string) {
		today := &calendar{"2025-10-04"}
		s := storetest.With(t, url, store.Options{Now: today.now})
		test(t, newWorld(t, s), today)
	})
}

// addStaff makes a person with squads of their own, and says who they are.
func (w *world) addStaff(t *testing.T, login string, role models.Role, squads ...int64) models.Who {
	t.Helper()
	u := models.User{Login: login, Name: "Kit " + login, Role: role}
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		if err := tx.CreateUser(&u); err != nil {
			return err
		}
		for _, squad := range squads {
			if err := tx.AddSquadStaff(u.ID, squad); err != nil {
				return err
			}
		}
		return nil
	})
	who, err := w.s.WhoByID(t.Context(), w.academy.ID, u.ID)
	if err != nil {
		t.Fatal(err)
	}
	return who
}

// round makes a rating round of the colts, as the manager: for a match, or else for a block that ends on the day of
// the match.
func (w *world) round(t *testing.T, match *int64, block string, closes models.Date) models.RatingRound {
	t.Helper()
	r := models.RatingRound{SeasonID: w.season.ID, SquadID: w.colts.ID, Name: "Round" + block, Date: w.match.Date,
		MatchID: match, Block: block, Closes: closes}
	write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateRatingRound(&r) })
	return r
}

// rate gives bram a grade for a match, or else for a block that ends on the day of the match.
func (w *world) rate(t *testing.T, who models.Who, skill string, match *int64, block string) models.Rating {
	t.Helper()
	r := models.Rating{PlayerID: w.bram.ID, Skill: skill, Grade: 3, Date: w.match.Date, MatchID: match, Block: block}
	write(t, w.s, who, func(tx *store.Tx) error { return tx.CreateRating(&r) })
	return r
}

// sees says whether a person sees a rating, by its id and among all of them.
func (w *world) sees(t *testing.T, who models.Who, r models.Rating) bool {
	t.Helper()
	var listed, found bool
	read(t, w.s, who, func(tx *store.Tx) error {
		all, err := tx.Ratings(models.RatingFilter{PlayerID: r.PlayerID})
		if err != nil {
			return err
		}
		listed = slices.ContainsFunc(all, func(o models.Rating) bool { return o.ID == r.ID })
		_, err = tx.Rating(r.ID)
		if found = err == nil; !found && models.CodeOf(err) != models.NotFound {
			return err
		}
		return nil
	})
	if listed != found {
		t.Errorf("%s finds rating %d: %v, has it in the list: %v", who.Name, r.ID, found, listed)
	}
	return found
}

func TestAnothersGradeIsHiddenBeforeAndVisibleAfterOnesOwnAndAfterTheRoundCloses(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		for _, of := range []struct {
			match *int64
			block string
		}{{&w.match.ID, ""}, {nil, "Autumn"}} {
			today.day = "2025-10-04"
			w.round(t, of.match, of.block, "2025-10-12")
			tackle := w.rate(t, w.coach, "tackle", of.match, of.block)
			breakdown := w.rate(t, w.coach, "breakdown", of.match, of.block)
			expect := func(when string, tackleSeen, breakdownSeen bool) {
				t.Helper()
				if a, b := w.sees(t, second, tackle), w.sees(t, second, breakdown); a != tackleSeen || b != breakdownSeen {
					t.Errorf("%s %s on %s the second coach sees %v and %v, want %v and %v", of.block, when, today.day, a, b,
						tackleSeen, breakdownSeen)
				}
				for _, who := range []models.Who{w.manager, w.coach} { // from whom nothing is hidden
					if !w.sees(t, who, tackle) || !w.sees(t, who, breakdown) {
						t.Errorf("%s does not see both grades", who.Name)
					}
				}
				if closed := today.day > "2025-10-12"; w.sees(t, w.selector, tackle) != closed ||
					w.sees(t, w.selector, breakdown) != closed {
					t.Errorf("closed is %v, and the selector sees the grades otherwise", closed)
				}
				if w.sees(t, w.bramHimself, tackle) || w.sees(t, w.bramHimself, breakdown) {
					t.Error("the player sees a coach's grade")
				}
				if w.sees(t, w.juniorCoach, tackle) || w.sees(t, w.juniorCoach, breakdown) {
					t.Error("the coach of another squad sees a grade")
				}
			}
			expect("before his own", false, false)
			w.rate(t, second, "tackle", of.match, of.block)
			expect("after his own", true, false)
			today.day = "2025-10-12"
			expect("on the last day", true, false)
			today.day = "2025-10-13"
			expect("after the last day", true, true)
		}
	})
}

func TestARoundClosesWhatItIsForAndNothingElse(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID, w.juniors.ID)
		w.round(t, nil, "Autumn", "2025-10-05")
		var others []models.Rating
		for _, r := range []models.Rating{
			{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID},
			{PlayerID: w.bram.ID, Date: w.match.Date, Block: "Contact"},
			{PlayerID: w.bram.ID, Date: "2025-10-03", Block: "Autumn"},
			{PlayerID: w.iver.ID, Date: w.match.Date, Block: "Autumn"}, // a junior
			{PlayerID: w.noor.ID, Date: w.match.Date, Block: "Autumn"}, // a colt last season
		} {
			r.Skill, r.Grade, r.RaterID = "tackle", 3, w.coach.UserID
			write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateRating(&r) })
			others = append(others, r)
		}
		his := w.rate(t, w.coach, "tackle", nil, "Autumn")
		today.day = "2025-10-06"
		if !w.sees(t, second, his) {
			t.Error("the round has not closed what it is for")
		}
		for _, r := range others {
			if w.sees(t, second, r) {
				t.Errorf("the round has closed %+v too", r)
			}
		}
		w.rate(t, second, "tackle", nil, "Contact")
	})
}

func TestWithSeveralRoundsTheLastOneCloses(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		w.round(t, nil, "Autumn", "2025-10-12")
		write(t, w.s, w.manager, func(tx *store.Tx) error {
			m := models.Membership{SeasonID: w.season.ID, SquadID: w.juniors.ID, PlayerID: w.bram.ID, From: w.season.Starts}
			r := models.RatingRound{SeasonID: w.season.ID, SquadID: w.juniors.ID, Name: "Juniors", Date: w.match.Date,
				Block: "Autumn", Closes: "2025-10-20"}
			return all(func() error { return tx.CreateMembership(&m) }, func() error { return tx.CreateRatingRound(&r) })
		})
		his := w.rate(t, w.coach, "tackle", nil, "Autumn")
		today.day = "2025-10-13"
		if w.sees(t, second, his) {
			t.Error("he sees the grade although a round for it is open")
		}
		w.rate(t, second, "breakdown", nil, "Autumn")
		today.day = "2025-10-21"
		if !w.sees(t, second, his) {
			t.Error("he does not see the grade although all rounds for it have closed")
		}
		grade := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 4, Date: w.match.Date, Block: "Autumn"}
		refused(t, w.s, second, models.Conflict, func(tx *store.Tx) error { return tx.CreateRating(&grade) })
	})
}

func TestAfterARoundClosesNoCoachGivesChangesOrTakesBackAGradeButAManagerMay(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		for _, of := range []struct {
			match *int64
			block string
		}{{&w.match.ID, ""}, {nil, "Autumn"}} {
			today.day = "2025-10-04"
			w.round(t, of.match, of.block, "2025-10-12")
			his := w.rate(t, w.coach, "tackle", of.match, of.block)
			elsewhere := w.rate(t, w.coach, "tackle", nil, "Open"+of.block)
			today.day = "2025-10-12"
			his.Grade = 4
			write(t, w.s, w.coach, func(tx *store.Tx) error { return tx.UpdateRating(&his) })
			today.day = "2025-10-13"
			another := models.Rating{PlayerID: w.bram.ID, Skill: "breakdown", Grade: 2, Date: w.match.Date, MatchID: of.match,
				Block: of.block}
			for what, try := range map[string]func(tx *store.Tx) error{
				"gives one":      func(tx *store.Tx) error { r := another; return tx.CreateRating(&r) },
				"changes his":    func(tx *store.Tx) error { r := his; r.Grade = 1; return tx.UpdateRating(&r) },
				"takes his back": func(tx *store.Tx) error { return tx.DeleteRating(his.ID, his.Version) },
				"moves his out": func(tx *store.Tx) error {
					r := his
					r.MatchID, r.Block = nil, "Elsewhere"
					return tx.UpdateRating(&r)
				},
				"moves another's in": func(tx *store.Tx) error {
					r := elsewhere
					r.Skill, r.MatchID, r.Block = "breakdown", of.match, of.block
					return tx.UpdateRating(&r)
				},
			} {
				err := refused(t, w.s, w.coach, models.Conflict, try)
				if err != nil && !strings.Contains(err.Error(), "closed after 2025-10-12: ask a manager") {
					t.Errorf("a coach who %s is told %q", what, err)
				}
			}
			write(t, w.s, w.manager, func(tx *store.Tx) error {
				his.Grade, another.RaterID = 2, w.coach.UserID
				return all(func() error { return tx.UpdateRating(&his) }, func() error { return tx.CreateRating(&another) },
					func() error { return tx.DeleteRating(another.ID, another.Version) })
			})
		}
	})
}

// Without a round a grade is shown a fortnight after its date: to coaches, selectors, players and in figures alike.
func TestWithoutARoundGradesAreShownAFortnightAfterTheirDateToEverybody(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		for _, of := range []struct {
			match *int64
			block string
		}{{&w.match.ID, ""}, {nil, "Autumn"}} {
			today.day = w.match.Date
			given := w.rate(t, w.coach, "tackle", of.match, of.block)
			w.rate(t, second, "breakdown", of.match, of.block)
			for day, closed := range map[models.Date]bool{w.match.Date: false, w.match.Date.AddDays(14): false,
				w.match.Date.AddDays(15): true} {
				today.day = day
				for _, who := range []models.Who{second, w.selector} {
					if w.sees(t, who, given) != closed {
						t.Errorf("on %s %s sees the grade: %v", day, who.Name, !closed)
					}
				}
				read(t, w.s, w.bramHimself, func(tx *store.Tx) error {
					shown, err := tx.ShownGrades(models.RatingFilter{PlayerID: w.bram.ID})
					shown = slices.DeleteFunc(shown, func(g models.ShownGrade) bool { return g.Block != of.block })
					if len(shown) > 0 != closed {
						t.Errorf("on %s the player is shown %+v", day, shown)
					}
					return err
				})
				read(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
					all, err := tx.Ratings(models.RatingFilter{PlayerID: w.bram.ID, Counting: true})
					if slices.ContainsFunc(all, func(r models.Rating) bool { return r.ID == given.ID && r.Counts }) != closed {
						t.Errorf("on %s the grade counts: %v", day, !closed)
					}
					return err
				})
			}
		}
	})
}

// A coach must not get at the others' grades, or give their own late, by way of the round.
func TestACoachNeitherClosesARoundAtOnceNorOpensAClosedOneAgain(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		both := w.addStaff(t, "both", models.RoleCoach, w.colts.ID, w.juniors.ID)
		today.day = "2025-11-01"
		round := models.RatingRound{SeasonID: w.season.ID, SquadID: w.colts.ID, Name: "Autumn", Date: "2025-10-20",
			Block: "Autumn", Closes: "2025-10-31"}
		refused(t, w.s, both, models.Invalid, func(tx *store.Tx) error { r := round; return tx.CreateRatingRound(&r) })
		round.Closes = "2025-11-01"
		write(t, w.s, both, func(tx *store.Tx) error { return tx.CreateRatingRound(&round) })
		refused(t, w.s, both, models.Invalid, func(tx *store.Tx) error {
			r := round
			r.Closes = "2025-10-31"
			return tx.UpdateRatingRound(&r)
		})
		round.Closes = "2025-11-02"
		write(t, w.s, both, func(tx *store.Tx) error { return tx.UpdateRatingRound(&round) })
		today.day = "2025-11-03"
		spring := models.RatingRound{SeasonID: w.season.ID, SquadID: w.juniors.ID, Name: "Spring", Date: "2025-10-20",
			Block: "Spring", Closes: "2025-11-10"}
		write(t, w.s, both, func(tx *store.Tx) error { return tx.CreateRatingRound(&spring) })
		for what, try := range map[string]func(tx *store.Tx) error{
			"opens it again": func(tx *store.Tx) error {
				r := round
				r.Closes = "2025-11-10"
				return tx.UpdateRatingRound(&r)
			},
			"makes it another's": func(tx *store.Tx) error {
				r := round
				r.Block = "x"
				return tx.UpdateRatingRound(&r)
			},
			"deletes it": func(tx *store.Tx) error { return tx.DeleteRatingRound(round.ID, round.Version) },
			"opens one beside it": func(tx *store.Tx) error {
				r := spring
				r.ID, r.Block = 0, "Autumn"
				return tx.CreateRatingRound(&r)
			},
			"makes another the same as": func(tx *store.Tx) error {
				r := spring
				r.Block = "Autumn"
				return tx.UpdateRatingRound(&r)
			},
		} {
			if err := refused(t, w.s, both, models.Forbidden, try); err != nil &&
				!strings.Contains(err.Error(), "only a manager") {
				t.Errorf("a coach who %s is told %q", what, err)
			}
		}
		round.Closes = "2025-11-10"
		write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.UpdateRatingRound(&round) })
		write(t, w.s, both, func(tx *store.Tx) error { return tx.DeleteRatingRound(round.ID, round.Version) })
	})
}

func TestRoundsAreForTheStaffOfTheirSquad(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		round := w.round(t, &w.match.ID, "", "2025-10-12")
		for _, c := range []struct {
			who           models.Who
			read, changes models.Code
		}{
			{w.manager, "", ""}, {w.coach, "", ""}, {w.selector, "", models.Forbidden},
			{w.juniorCoach, models.NotFound, models.NotFound},
			{w.bramHimself, models.NotFound, models.Forbidden}, // they change no round at all
		} {
			err := w.s.Read(t.Context(), c.who, func(tx *store.Tx) error { _, err := tx.RatingRound(round.ID); return err })
			if models.CodeOf(err) != c.read {
				t.Errorf("%s reads a round: %v, want code %q", c.who.Name, err, c.read)
			}
			err = w.s.Write(t.Context(), c.who, func(tx *store.Tx) error { return tx.UpdateRatingRound(&round) })
			if models.CodeOf(err) != c.changes {
				t.Errorf("%s changes a round: %v, want code %q", c.who.Name, err, c.changes)
			}
		}
		other := models.RatingRound{SeasonID: w.season.ID, SquadID: w.juniors.ID, Name: "x", Date: "2025-10-04",
			Block: "Autumn", Closes: "2025-10-12"}
		refused(t, w.s, w.coach, models.Forbidden, func(tx *store.Tx) error { r := other; return tx.CreateRatingRound(&r) })
		refused(t, w.s, w.manager, models.Conflict, func(tx *store.Tx) error {
			s := w.season
			s.Starts = "2025-10-05"
			return tx.UpdateSeason(&s)
		})
	})
}

func TestRoundsAreFoundBySeasonAndSquad(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		write(t, w.s, w.manager, func(tx *store.Tx) error {
			for _, r := range []models.RatingRound{
				{SeasonID: w.season.ID, SquadID: w.juniors.ID, Name: "B", Date: "2025-11-04", Block: "Autumn",
					Closes: "2025-11-12"},
				{SeasonID: w.season.ID, SquadID: w.colts.ID, Name: "A", Date: "2025-10-04", Block: "Autumn", Closes: "2025-12-12"},
				{SeasonID: w.last.ID, SquadID: w.colts.ID, Name: "C", Date: "2025-03-04", Block: "Spring", Closes: "2025-03-12"},
			} {
				if err := tx.CreateRatingRound(&r); err != nil {
					return err
				}
			}
			return nil
		})
		for want, f := range map[string]models.RatingRoundFilter{"CAB": {}, "AB": {SeasonID: w.season.ID},
			"CA": {SquadID: w.colts.ID}, "A": {SeasonID: w.season.ID, SquadID: w.colts.ID}} {
			read(t, w.s, w.manager, func(tx *store.Tx) error {
				found, err := tx.RatingRounds(f)
				got := ""
				for _, r := range found {
					got += r.Name
				}
				if got != want {
					t.Errorf("%+v gives %q, want %q", f, got, want)
				}
				return err
			})
		}
	})
}
