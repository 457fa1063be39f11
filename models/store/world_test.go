package store_test

import (
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// world is a small academy of our own invention, with one of everything, in which the tests' stories take place.
type world struct {
	s *store.Store

	academy        models.Academy
	last, season   models.Season
	colts, juniors models.Squad // under 18 and under 16
	// bram and tove are colts, iver is a junior, noor was a colt last season
	bram, tove, iver, noor                models.Player
	manager, coach, juniorCoach, selector models.Who
	bramHimself                           models.Who
	match, juniorMatch, schoolMatch       models.Match
	bramPlays, tovePlays, iverPlays       models.Appearance
	log                                   models.Log // of bram, by coach
	carry                                 models.Involvement
	totals                                models.MatchTotals // of tove
	goal                                  models.Goal
	note, secret                          models.ReviewNote // shared with bram, and for staff only
	consent                               models.Consent    // to filming bram
	contact                               models.HeadContact
	down                                  models.StandDown // of tove, as the head contact is, for one day
	limit                                 models.MinutesLimit
	answer                                models.NoteAnswer // of bram to the note
}

// meeting is the draft of a meeting on the colts' flankers. Nothing of it is kept.
func (w *world) meeting() models.Meeting {
	return models.Meeting{SeasonID: w.season.ID, SquadID: w.colts.ID, Date: "2026-03-01", Purpose: "The county trial",
		Status:  models.MeetingDraft,
		Present: []models.Attendee{{UserID: &w.selector.UserID, Name: w.selector.Name}, {Name: "Ebba Storm"}},
		Criteria: []models.Criterion{{Label: "Contact", Indicator: "contact_won", Weight: 2},
			{Label: "Tackle", Skill: "tackle", Weight: 1.5},
			{Label: "Under pressure", Words: "What he does when we are behind.", Weight: 1}},
		TotalWeight: 4.5,
		Places: []models.Place{{Name: "Back row", Group: models.GroupBackRow, Wanted: 1},
			{Name: "Outside half", Position: models.FlyHalf, Wanted: 2}},
		Candidates: []models.Candidate{
			{PlayerID: w.bram.ID, Place: "Back row"},
			{PlayerID: w.tove.ID, Place: "Outside half"},
		}}
}

// held is the meeting with its comparison open, at which bram was chosen and tove is not decided yet.
func (w *world) held(t *testing.T) models.Meeting {
	t.Helper()
	m := w.meeting()
	m.Candidates[0].Decision, m.Candidates[0].Reason = models.Chosen, "Wins contact against the stronger sides too."
	m.Candidates[0].Dissent = "S. Ode would wait."
	write(t, w.s, w.manager, func(tx *store.Tx) error { return storetest.Hold(tx, &m, models.MeetingOpened) })
	return m
}

// insisted are the questions that a goal without a trend raises, and one too many.
var insisted = models.AskFewMatches.Codes()

func ptr[T any](v T) *T { return &v }

func clock(half, minute, second int) models.Clock {
	return models.Clock{Half: half, Second: minute*60 + second}
}

// write makes a change that must succeed.
func write(t testing.TB, s *store.Store, who models.Who, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := s.Write(t.Context(), who, fn); err != nil {
		t.Fatal(err)
	}
}

// read reads what must be readable.
func read(t testing.TB, s *store.Store, who models.Who, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := s.Read(t.Context(), who, fn); err != nil {
		t.Fatal(err)
	}
}

// refused checks that a change is refused with a code.
func refused(t testing.TB, s *store.Store, who models.Who, code models.Code, fn func(tx *store.Tx) error) error {
	t.Helper()
	err := s.Write(t.Context(), who, fn)
	if got := models.CodeOf(err); got != code {
		t.Errorf("error %v has code %q, want %q", err, got, code)
	}
	return err
}

// all runs changes one after the other until one fails.
func all(changes ...func() error) error {
	for _, change := range changes {
		if err := change(); err != nil {
			return err
		}
	}
	return nil
}

// newWorld fills a store. Everything is dated in the season 2025-26.
func newWorld(t testing.TB, s *store.Store) *world {
	t.Helper()
	return addAcademy(t, s, "Harbour Academy", "harbour")
}

func addAcademy(t testing.TB, s *store.Store, name, login string) *world {
	t.Helper()
	w := &world{s: s}
	var err error
	if w.academy, err = s.CreateAcademy(t.Context(), name); err != nil {
		t.Fatal(err)
	}
	operator := models.Console(w.academy.ID)
	var users []*models.User
	write(t, s, operator, func(tx *store.Tx) error {
		w.last = models.Season{Name: "2024-25", Starts: "2024-09-01", Ends: "2025-05-31"}
		w.season = models.Season{Name: "2025-26", Starts: "2025-09-01", Ends: "2026-05-31"}
		w.colts = models.Squad{Name: "Colts", AgeBand: 18, BandMonth: 9}
		w.juniors = models.Squad{Name: "Juniors", AgeBand: 16, BandMonth: 9}
		w.bram = models.Player{Name: "Bram Oakes", KnownAs: "Bram", BornOn: ptr(models.Date("2008-10-03")),
			Positions: []models.Position{"flanker"}}
		w.tove = models.Player{Name: "Tove Lind", Positions: []models.Position{"fly_half"}}
		w.iver = models.Player{Name: "Iver Strand", Positions: []models.Position{"hooker"}}
		w.noor = models.Player{Name: "Noor Vale"}
		if err := all(
			func() error { return tx.CreateSeason(&w.last) },
			func() error { return tx.CreateSeason(&w.season) },
			func() error { return tx.CreateSquad(&w.colts) },
			func() error { return tx.CreateSquad(&w.juniors) },
			func() error { return tx.CreatePlayer(&w.bram) },
			func() error { return tx.CreatePlayer(&w.tove) },
			func() error { return tx.CreatePlayer(&w.iver) },
			func() error { return tx.CreatePlayer(&w.noor) },
		); err != nil {
			return err
		}
		for _, m := range []models.Membership{
			{SeasonID: w.season.ID, SquadID: w.colts.ID, PlayerID: w.bram.ID, From: w.season.Starts},
			{SeasonID: w.season.ID, SquadID: w.colts.ID, PlayerID: w.tove.ID, From: w.season.Starts},
			{SeasonID: w.season.ID, SquadID: w.juniors.ID, PlayerID: w.iver.ID, From: w.season.Starts},
			{SeasonID: w.last.ID, SquadID: w.colts.ID, PlayerID: w.noor.ID, From: w.last.Starts},
			{SeasonID: w.season.ID, SquadID: w.juniors.ID, PlayerID: w.noor.ID, From: w.season.Starts},
		} {
			if err := tx.CreateMembership(&m); err != nil {
				return err
			}
		}
		for _, u := range []*models.User{
			{Login: "manager@" + login, Name: "Mara Quist", Role: models.RoleManager},
			{Login: "coach@" + login, Name: "Colm Reyes", Role: models.RoleCoach},
			{Login: "juniors@" + login, Name: "Jo Bakke", Role: models.RoleCoach},
			{Login: "selector@" + login, Name: "Sian Ode", Role: models.RoleSelector},
			{Login: "bram@" + login, Name: "Bram Oakes", Role: models.RolePlayer, PlayerID: &w.bram.ID},
		} {
			if err := tx.CreateUser(u); err != nil {
				return err
			}
			users = append(users, u)
		}
		return all(
			func() error { return tx.AddSquadStaff(users[1].ID, w.colts.ID) },
			func() error { return tx.AddSquadStaff(users[2].ID, w.juniors.ID) },
			func() error { return tx.AddSquadStaff(users[3].ID, w.colts.ID) },
		)
	})
	for i, who := range []*models.Who{&w.manager, &w.coach, &w.juniorCoach, &w.selector, &w.bramHimself} {
		if *who, err = s.WhoByID(t.Context(), w.academy.ID, users[i].ID); err != nil {
			t.Fatal(err)
		}
	}
	write(t, s, w.manager, func(tx *store.Tx) error {
		w.match = models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-10-04", Opponent: "Fellmoor",
			Venue:      ptr(models.Home),
			Difficulty: ptr(3), Halves: 2, HalfMinutes: 35}
		w.juniorMatch = models.Match{SeasonID: w.season.ID, SquadID: &w.juniors.ID, Date: "2025-10-05", Opponent: "Saltby",
			Halves: 2, HalfMinutes: 30}
		w.schoolMatch = models.Match{SeasonID: w.season.ID, OtherTeam: "Westbrook School", Date: "2025-10-08",
			Opponent: "Thornlea", Halves: 2, HalfMinutes: 30}
		if err := all(
			func() error { return tx.CreateMatch(&w.match) },
			func() error { return tx.CreateMatch(&w.juniorMatch) },
			func() error { return tx.CreateMatch(&w.schoolMatch) },
		); err != nil {
			return err
		}
		w.bramPlays = models.Appearance{MatchID: w.match.ID, PlayerID: w.bram.ID, Started: ptr(true), Shirt: ptr(7),
			Position: "flanker",
			Stints:   []models.Stint{{On: clock(1, 0, 0), Off: clock(1, 35, 0)}, {On: clock(2, 35, 0), Off: clock(2, 65, 0)}}}
		w.tovePlays = models.Appearance{MatchID: w.match.ID, PlayerID: w.tove.ID, Minutes: 70, Shirt: ptr(10)}
		w.iverPlays = models.Appearance{MatchID: w.juniorMatch.ID, PlayerID: w.iver.ID, Minutes: 60, Shirt: ptr(2)}
		return all(
			func() error { return tx.CreateAppearance(&w.bramPlays) },
			func() error { return tx.CreateAppearance(&w.tovePlays) },
			func() error { return tx.CreateAppearance(&w.iverPlays) },
		)
	})
	write(t, s, w.coach, func(tx *store.Tx) error {
		w.log = models.Log{MatchID: w.match.ID, PlayerID: w.bram.ID, Depth: models.Full, Finished: true,
			Kinds: []models.Kind{models.KindCarry, models.KindPass, models.KindOffload, models.KindTackle}}
		if err := tx.CreateLog(&w.log); err != nil {
			return err
		}
		w.carry = models.Involvement{LogID: w.log.ID, Clock: clock(1, 12, 30), Kind: models.KindCarry, Moment: true,
			Details: map[string]string{"contact": "won", "gain_line": "over"}, Measures: map[string]float64{"metres": 6.5}}
		w.totals = models.MatchTotals{MatchID: w.match.ID, PlayerID: w.tove.ID, Source: "statistics.csv",
			Counts: models.Counts{"carries": 9, "passes": 31, "passes_accurate": 28, "tackles_made": 6, "tackles_missed": 2}}
		w.goal = models.Goal{PlayerID: w.bram.ID, Indicator: "contact_won", SetOn: "2025-10-10", By: "2026-03-01",
			Target: 0.6, Insist: insisted, InsistReason: "There is no trend yet.",
			Why: "Dominates contact less often than they could.", Actions: "Late footwork in every carry."}
		w.note = models.ReviewNote{PlayerID: w.bram.ID, Date: "2025-10-12", Shared: true, Text: "Good feet before contact."}
		w.secret = models.ReviewNote{PlayerID: w.bram.ID, Date: "2025-10-13", Text: "Watch his minutes with school and us."}
		return all(
			func() error { return tx.CreateInvolvement(&w.carry) },
			func() error { return tx.CreateMatchTotals(&w.totals) },
			func() error { return tx.CreateGoal(&w.goal) },
			func() error { return tx.CreateReviewNote(&w.note) },
			func() error { return tx.CreateReviewNote(&w.secret) },
		)
	})
	write(t, s, w.manager, func(tx *store.Tx) error {
		w.consent = models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeFilming, GivenBy: "Hanne Oakes",
			Relation: models.ByGuardian, On: "2024-09-01"}
		// in training, after the match: what they did in it counts
		w.contact = models.HeadContact{PlayerID: w.tove.ID, Date: "2025-10-05", StandDown: true}
		w.limit = models.MinutesLimit{Name: "A week", Days: 7, Minutes: 140}
		if err := all(
			func() error { return tx.CreateConsent(&w.consent) },
			func() error {
				return tx.CreateGuardian(&models.Guardian{PlayerID: w.bram.ID, Name: "Hanne Oakes", Relation: "mother"})
			},
			func() error { return tx.CreateHeadContact(&w.contact) },
			func() error { return tx.CreateMinutesLimit(&w.limit) },
			func() error {
				return tx.KeepRecord(&models.RetentionReview{PlayerID: w.noor.ID, KeepUntil: "2030-01-01",
					Because: "Asked to be kept."})
			},
		); err != nil {
			return err
		}
		downs, err := tx.StandDowns(models.StandDownFilter{PlayerID: w.tove.ID})
		if err != nil {
			return err
		}
		w.down, err = tx.LiftStandDown(downs[0].ID, "2025-10-05", "Dr Ina Fold")
		return err
	})
	w.answer = models.NoteAnswer{NoteID: w.note.ID, Text: "Thanks. I felt it too."}
	write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.AnswerNote(&w.answer) })
	return w
}
