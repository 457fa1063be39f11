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

// contactTrend is a trend of bram's contact with a level of 0.5, and players who differ by 0.05.
func (w *world) contactTrend(outlooks ...models.GoalOutlook) models.Trend {
	worthwhile := 0.01
	now := models.Estimate{Mean: 0.5, Range80: models.Range{Lo: 0.44, Hi: 0.56}, Range95: models.Range{Lo: 0.4, Hi: 0.6}}
	return models.Trend{PlayerID: w.bram.ID, Indicator: "contact_won", Figures: models.TrendFigures{Verdict: "steady",
		Matches: 6, Now: &now, Worthwhile: &worthwhile, Goals: outlooks,
		Curve: []models.CurvePoint{{Date: "2025-10-04", Estimate: now}, {Date: "2025-10-18", Estimate: now}}}}
}

// fit keeps trends of the colts' season as they stand on the data.
func (w *world) fit(t testing.TB, trends ...models.Trend) (revision int64) {
	t.Helper()
	write(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		of, err := tx.SquadSeason(w.season.ID, w.colts.ID)
		if err != nil {
			return err
		}
		revision = of.Revision
		return tx.KeepTrends(of, trends)
	})
	return revision
}

// aimed is a goal of bram's on contact that raises no question while the trend is there.
func (w *world) aimed() models.Goal {
	return models.Goal{PlayerID: w.bram.ID, Indicator: "contact_won", SetOn: "2025-11-03", By: "2026-04-01", Target: 0.6,
		Why: "To get over the line."}
}

func TestAGoalStartsFromTheTrendAndATypedStartNeedsAReason(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		revision := w.fit(t, w.contactTrend())
		g := w.aimed()
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateGoal(&g) })
		if g.Baseline == nil || *g.Baseline != 0.5 || g.Baseline80 == nil || g.Baseline80.Lo != 0.44 ||
			g.BaselineOn == nil || *g.BaselineOn != "2025-10-18" || g.BaselineRevision != revision {
			t.Errorf("the goal starts at %v %v on %v, revision %d; want the level of the trend", g.Baseline, g.Baseline80,
				g.BaselineOn, g.BaselineRevision)
		}
		typed := w.aimed()
		typed.Baseline = ptr(0.52)
		err := refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error { g := typed; return tx.CreateGoal(&g) })
		if !strings.Contains(err.Error(), "baseline_reason") {
			t.Errorf("a typed start is refused with %v; want that its reason is missing", err)
		}
		typed.BaselineReason, typed.Baseline80, typed.BaselineOn = "Seen in trials.", &models.Range{Lo: 0.1, Hi: 0.9},
			ptr(models.Date("2025-10-01"))
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateGoal(&typed) })
		if *typed.Baseline != 0.52 || typed.Baseline80 != nil || typed.BaselineOn != nil {
			t.Errorf("a typed start is kept as %+v; want it without a range or a day", typed)
		}
		// What is left out of a change stays, wherever it came from.
		g.Why, g.Baseline, g.Baseline80, g.BaselineOn, g.BaselineRevision = "Feet first.", nil, nil, nil, 0
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateGoal(&g) })
		if g.Baseline == nil || *g.Baseline != 0.5 || g.BaselineOn == nil || g.BaselineRevision != revision {
			t.Errorf("after a change the goal starts at %+v", g)
		}
	})
}

func TestAGoalIsQuestionedBeforeItIsSaved(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		back := models.Trend{PlayerID: w.bram.ID, Indicator: "back_to_feet", Figures: models.TrendFigures{Verdict: "steady",
			Matches: 6, Now: &models.Estimate{Mean: 4}}}
		carries := models.Trend{PlayerID: w.bram.ID, Indicator: "carries", Figures: models.TrendFigures{Verdict: "steady",
			Matches: 3, Now: &models.Estimate{Mean: 8}}}
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateIndicator(&models.Indicator{Code: "own_carries", Label: "Our carries", Meaning: "As we count.",
				Family: models.Rate, Unit: "per match", Numerator: "carries", Better: models.Higher, Depth: models.Core})
		})
		w.fit(t, w.contactTrend(), back, carries)
		for _, q := range []struct {
			what   string
			change func(*models.Goal)
			want   []models.GoalQuestion
		}{
			{"within reach", func(*models.Goal) {}, nil},
			{"four spreads away", func(g *models.Goal) { g.Target = 0.7 }, nil},
			{"more than four spreads away", func(g *models.Goal) { g.Target = 0.71 }, []models.GoalQuestion{models.AskFar}},
			{"met already", func(g *models.Goal) { g.Target = 0.5 }, []models.GoalQuestion{models.AskAlreadyMet}},
			{"met already by a typed start", func(g *models.Goal) { g.Baseline, g.BaselineReason = ptr(0.65), "Seen." },
				[]models.GoalQuestion{models.AskAlreadyMet}},
			{"contact, and three matches", func(g *models.Goal) { g.Indicator, g.Target = "carries", 10 },
				[]models.GoalQuestion{models.AskFewMatches, models.AskVolume}},
			{"the academy's own count of contact", func(g *models.Goal) { g.Indicator, g.Target = "own_carries", 10 },
				[]models.GoalQuestion{models.AskFewMatches, models.AskVolume}},
			{"getting up", func(g *models.Goal) { g.Indicator, g.Target = "back_to_feet", 3 },
				[]models.GoalQuestion{models.AskGettingUp}},
			{"no slower", func(g *models.Goal) { g.Indicator, g.Target = "back_to_feet", 5 },
				[]models.GoalQuestion{models.AskAlreadyMet, models.AskGettingUp}},
			{"another season", func(g *models.Goal) { g.SetOn, g.By = "2024-10-01", "2025-04-01" },
				[]models.GoalQuestion{models.AskFewMatches}},
		} {
			g := w.aimed()
			q.change(&g)
			var asked []models.GoalQuestion
			undone := errors.New("undone")
			err := s.Write(t.Context(), w.coach, func(tx *store.Tx) error {
				sent := g
				if err := tx.CreateGoal(&sent); err != nil {
					return err
				}
				return undone
			})
			var e *models.Error
			if errors.As(err, &e) {
				for _, one := range e.Questions {
					asked = append(asked, one.Code)
				}
			}
			if !slices.Equal(asked, q.want) || len(q.want) == 0 && !errors.Is(err, undone) {
				t.Errorf("%s: asked %v, %v; want %v", q.what, asked, err, q.want)
			}
			if len(q.want) == 0 {
				continue
			}
			g.Insist = q.want
			refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error { sent := g; return tx.CreateGoal(&sent) })
			g.InsistReason, g.Insist = "The season asks for it.", models.AskFar.Codes()
			err = s.Write(t.Context(), w.coach, func(tx *store.Tx) error {
				if err := tx.CreateGoal(&g); err != nil {
					return err
				}
				if !slices.ContainsFunc(q.want, func(c models.GoalQuestion) bool { return slices.Contains(g.Insist, c) }) ||
					len(g.Insist) != len(q.want) || g.InsistReason == "" {
					t.Errorf("%s: insisted on %v because %q; want %v and the reason kept", q.what, g.Insist, g.InsistReason, q.want)
				}
				return undone
			})
			if !errors.Is(err, undone) {
				t.Errorf("%s, insisting: %v", q.what, err)
			}
		}
		for n := range 3 { // with the one of the world that makes three open ones, and then a fourth
			g := w.aimed()
			err := s.Write(t.Context(), w.coach, func(tx *store.Tx) error { return tx.CreateGoal(&g) })
			if n < 2 && err != nil || n == 2 && (err == nil || !strings.Contains(err.Error(), "3 open goals")) {
				t.Errorf("open goal %d: %v", n+2, err)
			}
		}
		// A change of the target is questioned too; one of the words is not.
		g := w.goal
		g.Why = "Feet first."
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateGoal(&g) })
		g.Target, g.Insist, g.InsistReason = 0.9, nil, ""
		err := refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error { return tx.UpdateGoal(&g) })
		if !strings.Contains(err.Error(), "more than four times") {
			t.Errorf("a target far away: %v", err)
		}
	})
}

func TestAGoalIsMetOnlyWhereTheProgramProposesItAndACoachConfirms(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		there := models.GoalOutlook{GoalID: w.goal.ID, Target: w.goal.Target, By: w.goal.By, Reached: 0.93, Now: 0.91,
			Met: true}
		not := there
		not.Now, not.Met = 0.62, false
		today := func(who models.Who) (g models.Goal) {
			t.Helper()
			read(t, s, who, func(tx *store.Tx) error {
				one, err := tx.Goal(w.goal.ID)
				if err != nil {
					return err
				}
				all := []models.Goal{one}
				err = tx.GoalsToday(all)
				g = all[0]
				return err
			})
			return g
		}
		closing := func(who models.Who, result models.GoalResult) error {
			return s.Write(t.Context(), who, func(tx *store.Tx) error {
				g, err := tx.Goal(w.goal.ID)
				if err != nil {
					return err
				}
				g.ClosedOn, g.Result, g.Outcome = ptr(models.Date("2026-03-01")), result, "You did it."
				return tx.UpdateGoal(&g)
			})
		}
		says := func(err error, code models.Code, words string) {
			t.Helper()
			if models.CodeOf(err) != code || !strings.Contains(err.Error(), words) {
				t.Errorf("%v; want %s that says %q", err, code, words)
			}
		}
		// The day of the tests is 14 March 2026, after the goal's.
		if g := today(w.coach); g.Status != models.GoalIsOverdue || g.Prospect != nil {
			t.Errorf("without a trend, after its day: %s %v; want overdue", g.Status, g.Prospect)
		}
		says(closing(w.coach, models.GoalMet), models.Conflict, "too little to say")
		spell := models.Spell{PlayerID: w.bram.ID, Status: models.Unavailable, From: "2026-03-10"}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateSpell(&spell) })
		if g := today(w.coach); g.Status != models.GoalIsTooLittle {
			t.Errorf("while the player is unavailable: %s; want too little to say", g.Status)
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteSpell(spell.ID, spell.Version) })
		w.fit(t, w.contactTrend(not))
		if g := today(w.coach); g.Status != models.GoalIsOverdue || g.Prospect == nil || g.Prospect.Reached != 0.93 ||
			g.Prospect.Assumes == "" {
			t.Errorf("with a trend that is not there: %s %+v; want overdue and a chance", g.Status, g.Prospect)
		}
		says(closing(w.coach, models.GoalMet), models.Conflict, "62 %")
		w.fit(t, w.contactTrend(there))
		if g := today(w.coach); g.Status != models.GoalIsMetProposed {
			t.Errorf("with a level that is there: %s; want met proposed", g.Status)
		}
		if g := today(w.bramHimself); g.Prospect != nil || g.Status == models.GoalIsMetProposed {
			t.Errorf("a player with nothing published reads %s %v", g.Status, g.Prospect)
		}
		read(t, s, w.coach, func(tx *store.Tx) error {
			items, err := tx.Items(models.ItemFilter{Kind: models.ItemGoalMet}, "2026-03-14")
			if err != nil || len(items) != 1 || items[0].AboutID != w.goal.ID || !strings.Contains(items[0].Text, "Bram") {
				t.Errorf("the owner's items are %+v, %v; want one to confirm the goal", items, err)
			}
			return nil
		})
		read(t, s, w.manager, func(tx *store.Tx) error {
			items, err := tx.Items(models.ItemFilter{Kind: models.ItemGoalMet}, "2026-03-14")
			if err != nil || len(items) != 0 {
				t.Errorf("another's items are %+v, %v", items, err)
			}
			return nil
		})
		// A trend that was made for another target proposes nothing.
		other := there
		other.Target = 0.55
		w.fit(t, w.contactTrend(other))
		says(closing(w.coach, models.GoalMet), models.Conflict, "too little to say")
		w.fit(t, w.contactTrend(there))
		says(closing(w.bramHimself, models.GoalMet), models.Forbidden, "may not change")
		says(closing(w.selector, models.GoalMet), models.Forbidden, "may not change")
		if err := closing(w.coach, models.GoalMet); err != nil {
			t.Fatal(err)
		}
		if g := today(w.bramHimself); g.Status != models.GoalIsMet {
			t.Errorf("confirmed: %s; want met", g.Status)
		}
		says(closing(w.coach, models.GoalDropped), models.Conflict, "is closed")
		says(closing(w.manager, models.GoalDropped), models.Conflict, "is closed")
		write(t, s, w.manager, func(tx *store.Tx) error { // a name that must go, for example
			g, err := tx.Goal(w.goal.ID)
			if err != nil {
				return err
			}
			g.Why = "Better words."
			return tx.UpdateGoal(&g)
		})
		if all := w.past(t, w.goal.ID); len(all) != 2 || all[0].Result != "" || all[1].Result != models.GoalMet {
			t.Errorf("its past is %+v; want it open, then closed", all)
		}
	})
}

// past are the earlier versions of a goal.
func (w *world) past(t testing.TB, id int64) (all []models.Goal) {
	t.Helper()
	read(t, w.s, w.manager, func(tx *store.Tx) error {
		kept, err := tx.Earlier("goal", id)
		for _, v := range kept {
			var g models.Goal
			if err := json.Unmarshal(v.Record(), &g); err != nil {
				return err
			}
			all = append(all, g)
		}
		return err
	})
	return all
}

func TestACheckInForStaffOnlyIsNotThereForThePlayer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		hidden := models.CheckIn{GoalID: w.goal.ID, Date: "2025-11-01", Text: "Ask about sleep first."}
		told := models.CheckIn{GoalID: w.goal.ID, Date: "2025-11-02", Text: "Between us.", Shared: false}
		write(t, s, w.coach, func(tx *store.Tx) error {
			return all(func() error { return tx.CreateCheckIn(&hidden) }, func() error { return tx.CreateCheckIn(&told) })
		})
		told.Text, told.Shared = "You are nearly there.", true
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateCheckIn(&told) })
		for who, want := range map[*models.Who]int{&w.coach: 2, &w.manager: 2, &w.selector: 1, &w.bramHimself: 1} {
			read(t, s, *who, func(tx *store.Tx) error {
				found, err := tx.CheckIns(w.goal.ID)
				if err != nil || len(found) != want {
					t.Errorf("a %s reads %d check-ins, %v; want %d", who.Role, len(found), err, want)
				}
				past, err := tx.Earlier("check-in", told.ID)
				if err != nil || len(past) != want-1 {
					t.Errorf("a %s reads %d earlier versions, %v; want %d: it was for staff only then", who.Role, len(past), err,
						want-1)
				}
				if _, err := tx.CheckIn(hidden.ID); (models.CodeOf(err) == models.NotFound) != (want == 1) {
					t.Errorf("a %s reads the hidden one: %v", who.Role, err)
				}
				return nil
			})
		}
	})
}

func TestAGoalWhoseStatusRestsOnGradesThatOthersDoNotReadSaysSoToEachReader(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		today.day = "2025-10-20"
		g := models.Goal{PlayerID: w.bram.ID, Skill: "tackle", SetOn: "2025-10-01", By: "2026-04-01", Target: 4,
			Why: "To be trusted.", Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
		other := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 1, Date: w.match.Date, Block: "Autumn",
			RaterID: w.manager.UserID}
		write(t, w.s, w.coach, func(tx *store.Tx) error { return tx.CreateGoal(&g) })
		w.round(t, nil, "Autumn", "2025-10-26")
		write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateRating(&other) })
		trend := w.contactTrend(models.GoalOutlook{GoalID: g.ID, Target: g.Target, By: g.By, Reached: 0.93, Now: 0.91,
			Met: true})
		trend.Indicator, trend.Skill = "", "tackle"
		w.fit(t, trend)
		for _, of := range []struct {
			who    models.Who
			status models.GoalStatus
			seen   models.GradesSeen
		}{{w.manager, models.GoalIsOpen, models.EveryGrade}, {w.coach, models.GoalIsMetProposed, models.GradesAfterOwn},
			{w.selector, models.GoalIsMetProposed, models.CountingGrades}} {
			read(t, w.s, of.who, func(tx *store.Tx) error {
				one := []models.Goal{g}
				err := tx.GoalsToday(one)
				if err != nil || one[0].Status != of.status || one[0].Prospect == nil ||
					!strings.Contains(one[0].Prospect.OtherReaders, of.seen.Line()) {
					t.Errorf("a %s reads %s %+v, %v; want %s with %q", of.who.Role, one[0].Status, one[0].Prospect, err,
						of.status, of.seen.Line())
				}
				return nil
			})
		}
	})
}
