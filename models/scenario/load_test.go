package scenario_test

import (
	"context"
	"errors"
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

// hash stands for a password hash, which the scenario does not look into.
func hash(models.User) string { return "$argon2id$v=19$m=1,t=1,p=1$c2FsdHNhbHQ$aGFzaA" }

func TestLoadWritesTheWholeAcademyOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		done, total := 0, 0
		loaded, err := scenario.Load(t.Context(), s, demo, hash, func(d, n int) {
			if d <= done || total != 0 && n != total {
				t.Errorf("progress goes from %d of %d to %d of %d", done, total, d, n)
			}
			done, total = d, n
		})
		if err != nil {
			t.Fatal(err)
		}
		if done != total || total == 0 || loaded.Already {
			t.Errorf("progress ends at %d of %d, already there: %v", done, total, loaded.Already)
		}
		compareWith(t, s, loaded)

		again, err := scenario.Load(t.Context(), s, demo, func(models.User) string {
			t.Error("a second load asks for a password")
			return ""
		}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !again.Already || again.PlayerID != loaded.PlayerID || again.Manager.ID != loaded.Manager.ID ||
			again.SeasonID != loaded.SeasonID {
			t.Errorf("a second load gives %+v, the first gave %+v", again, loaded)
		}
		compareWith(t, s, again)
		for range 2 { // the second time nothing is there to do
			if err := scenario.Review(t.Context(), s, loaded); err != nil {
				t.Fatal(err)
			}
		}
		showsReviews(t, s, loaded)
		for range 2 {
			if err := scenario.Grade(t.Context(), s, loaded); err != nil {
				t.Fatal(err)
			}
		}
		showsRound(t, s, loaded)
	})
}

// showsRound checks that the demo has a round in progress: coaches who owe and one who does not, and a grade with
// moments and a shared comment that was changed once.
func showsRound(t *testing.T, s *store.Store, l scenario.Loaded) {
	t.Helper()
	coach := models.Who{AcademyID: l.Academy.ID, UserID: l.Coach.ID, Name: l.Coach.Name, Role: models.RoleCoach,
		SquadIDs: []int64{l.SquadID}, From: models.Here}
	err := s.Read(t.Context(), coach, func(tx *store.Tx) error {
		rounds, err := tx.RatingRounds(models.RatingRoundFilter{SquadID: l.SquadID, SeasonID: l.SeasonID})
		if err != nil {
			return err
		}
		open := rounds[len(rounds)-1]
		owed, err := tx.Owed(open.ID)
		owing, done := 0, 0
		for _, o := range owed {
			if o.Owes > 0 {
				owing++
			} else if o.Given > 0 {
				done++
			}
		}
		if err != nil || open.Closed(models.DateOf(tx.Now())) || owing < 2 || done != 1 {
			t.Errorf("the round %+v has %d coaches who owe and %d who do not, %v", open, owing, done, err)
		}
		items, err := tx.Items(models.ItemFilter{}, max(models.DateOf(tx.Now()), open.Date))
		if err != nil || !slices.ContainsFunc(items, func(i models.Item) bool { return i.Kind == models.ItemGrades }) {
			t.Errorf("the head coach owes grades and has the items %v, %v", items, err)
		}
		given, err := tx.Ratings(models.RatingFilter{RoundID: open.ID, PlayerID: l.PlayerID})
		if err != nil {
			return err
		}
		before, err := tx.EarlierGrades(given)
		shown := slices.ContainsFunc(given, func(r models.Rating) bool {
			return len(r.Evidence) > 0 && r.CommentShared && len(before[r.ID]) == 1
		})
		if !shown {
			t.Errorf("no grade of %+v has moments, a shared comment and an earlier value", given)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// showsReviews checks that the demo shows each thing that a review cycle can say.
func showsReviews(t *testing.T, s *store.Store, l scenario.Loaded) {
	t.Helper()
	err := s.Read(t.Context(), models.Console(l.Academy.ID), func(tx *store.Tx) error {
		all, err := tx.ReviewCycleOn(models.ReviewCycleFilter{SquadID: l.SquadID}, "2026-11-26")
		if err != nil {
			return err
		}
		shown := map[string]int{}
		for _, d := range all {
			shown[string(d.Status)+string(d.PausedBy)]++
		}
		for _, want := range []string{"due", "due_soon", "overdue", "pausedstand_down"} {
			if shown[want] == 0 {
				t.Errorf("the demo shows %v; want some of %s", shown, want)
			}
		}
		own, err := tx.Reviews(models.ReviewFilter{PlayerID: l.PlayerID})
		if err != nil || len(own) != 2 || own[0].ReadAt == nil || own[1].ChangedSinceReadAt == nil {
			t.Fatalf("the player of the demo has %+v, %v; want one read and one changed since", own, err)
		}
		answers, err := tx.ReviewAnswers(own[0].ID)
		if err != nil || len(answers) != 1 {
			t.Errorf("answers %v, %v; want one", answers, err)
		}
		earlier, err := tx.Earlier("review", own[1].ID)
		if err != nil || len(earlier) != 1 {
			t.Errorf("earlier texts %v, %v; want one", earlier, err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// compareWith checks that a database holds what was simulated, by number and, for the demo player, in full.
func compareWith(t *testing.T, s *store.Store, l scenario.Loaded) {
	t.Helper()
	err := s.Read(t.Context(), models.Console(l.Academy.ID), func(tx *store.Tx) error {
		count := func(what string, want int) func(int, error) {
			return func(got int, err error) {
				if err != nil || got != want {
					t.Errorf("%d %s, want %d (%v)", got, what, want, err)
				}
			}
		}
		matches, err := tx.Matches(models.MatchFilter{SeasonID: l.SeasonID})
		count("matches", len(demo.Matches))(len(matches), err)
		appearances, err := tx.Appearances(models.AppearanceFilter{SeasonID: l.SeasonID})
		count("appearances", len(demo.Plays))(len(appearances), err)
		ratings, err := tx.Ratings(models.RatingFilter{})
		count("ratings", len(demo.Ratings))(len(ratings), err)
		rounds, err := tx.RatingRounds(models.RatingRoundFilter{SeasonID: l.SeasonID, SquadID: l.SquadID})
		count("rating rounds", len(demo.Rounds))(len(rounds), err)
		meetings, err := tx.Meetings(models.MeetingFilter{SeasonID: l.SeasonID, SquadID: l.SquadID, PlayerID: l.PlayerID})
		count("meetings with the demo player", 2)(len(meetings), err)
		for _, m := range meetings {
			for _, planned := range demo.Meetings {
				if planned.Purpose == m.Purpose {
					count("candidates", len(planned.Candidates))(len(m.Candidates), nil)
				}
			}
			if m.Candidates[0].PlayerID != l.PlayerID || m.Present[0].UserID == nil || *m.Present[0].UserID != l.Selector.ID {
				t.Errorf("the meeting is %+v", m)
			}
		}
		notes, err := tx.ReviewNotes(models.ReviewNoteFilter{})
		count("review notes", len(demo.Notes))(len(notes), err)
		sessions, err := tx.TrainingSessions(models.TrainingSessionFilter{})
		count("training sessions", len(demo.Sessions))(len(sessions), err)
		there, err := tx.Attendances(models.AttendanceFilter{})
		count("attendances", len(demo.Attendance))(len(there), err)
		training, err := tx.TrainingObservations(models.TrainingObservationFilter{})
		count("training observations", len(demo.Training))(len(training), err)
		goals, err := tx.Goals(models.GoalFilter{})
		count("goals", len(demo.Goals))(len(goals), err)
		logs, involvements, read := 0, 0, 0
		for _, p := range demo.Plays {
			logs += len(p.Logs)
			for _, x := range p.Logs {
				involvements += len(x.Involvements)
			}
		}
		for _, n := range demo.Notes {
			if n.ReadAt != nil {
				read++
			}
		}
		for _, n := range notes {
			if n.ReadAt != nil {
				read--
			}
		}
		if read != 0 {
			t.Errorf("%d more notes were read than are marked", read)
		}
		all, err := tx.Logs(models.LogFilter{SeasonID: l.SeasonID})
		count("logs", logs)(len(all), err)
		found, err := tx.Involvements(models.InvolvementFilter{SeasonID: l.SeasonID})
		count("involvements", involvements)(len(found), err)

		// The stored records of the demo player give the same observations as the simulated ones.
		want := map[string]float64{}
		for _, p := range demo.Plays {
			if p.Appearance.PlayerID == demo.Cast.Improver {
				seen, _ := models.Observe(p, models.IndicatorCatalogue())
				for _, o := range seen {
					want[o.Indicator] += o.Numerator
				}
			}
		}
		got := map[string]float64{}
		stored, err := tx.Observations(models.ObservationFilter{PlayerID: l.PlayerID})
		if err != nil {
			return err
		}
		for _, o := range stored {
			got[o.Indicator] += o.Numerator
		}
		for code, w := range want {
			if g := got[code]; g < w-1e-6 || g > w+1e-6 {
				t.Errorf("%s of the demo player sums to %v, want %v", code, g, w)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	err = s.Write(t.Context(), models.Console(l.Academy.ID), func(tx *store.Tx) error {
		checked, differences, err := tx.Recompute(0)
		if checked != len(demo.Plays) || len(differences) != 0 {
			t.Errorf("recomputing %d appearances finds %d differences, want none in %d", checked, len(differences),
				len(demo.Plays))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for role, u := range map[models.Role]models.User{models.RoleManager: l.Manager, models.RoleCoach: l.Coach,
		models.RoleSelector: l.Selector, models.RolePlayer: l.Player} {
		if u.Role != role || u.ID == 0 {
			t.Errorf("the %s is %+v", role, u)
		}
		who, err := s.WhoByID(t.Context(), l.Academy.ID, u.ID)
		if err != nil {
			t.Fatal(err)
		}
		err = s.Read(t.Context(), who, func(tx *store.Tx) error {
			_, err := tx.Player(l.PlayerID)
			return err
		})
		if err != nil {
			t.Errorf("the %s %s does not reach the demo player: %v", role, u.Login, err)
		}
	}
}

func TestLoadThatFailsWritesNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		// Enough of the academy to go wrong in; notes are left out because they refer to plays that are.
		small := *demo
		small.Plays, small.Events, small.Ratings, small.Notes = demo.Plays[:40], demo.Events[:40], demo.Ratings[:40], nil
		small.Answers = nil
		broken := small
		broken.Training = slices.Clone(demo.Training)
		broken.Training[len(broken.Training)-1].Text = "" // the last record of all
		if _, err := scenario.Load(t.Context(), s, &broken, hash, nil); models.CodeOf(err) != models.Invalid {
			t.Fatalf("loading a broken academy gives %v, want an invalid record", err)
		}
		empty(t, s)

		ctx, stop := context.WithCancel(t.Context())
		_, err := scenario.Load(ctx, s, &small, hash, func(done, total int) {
			if done*2 > total {
				stop()
			}
		})
		if !errors.Is(err, context.Canceled) {
			t.Fatalf("a load that was stopped half way gives %v", err)
		}
		empty(t, s)

		if _, err := scenario.Load(t.Context(), s, &small, hash, nil); err != nil {
			t.Fatalf("loading after a failure: %v", err)
		}
	})
}

// empty checks that an academy of the scenario's name has nothing in it.
func empty(t *testing.T, s *store.Store) {
	t.Helper()
	all, err := s.Academies(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			players, err := tx.Players(models.PlayerFilter{})
			if len(players) > 0 {
				t.Errorf("%d players are left of a load that failed", len(players))
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

func BenchmarkLoad(b *testing.B) {
	for _, name := range []string{"sqlite", "postgres"} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := scenario.Load(b.Context(), storetest.Open(b, name), demo, hash, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
