package store_test

import (
	"reflect"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// life takes a record through its life. It is read as it was created. A change replaces every field, zero ones too. An
// older version is stale. Another academy never sees it. A deleted record is gone.
func life[T any](t *testing.T, w, other *world, r T, record func(*T) *models.Record, change func(*T),
	create func(*store.Tx, *T) error, get func(*store.Tx, int64) (T, error), update func(*store.Tx, *T) error,
	remove func(*store.Tx, int64, int64) error) {
	t.Helper()
	name := reflect.TypeFor[T]().Name()
	t.Run(name, func(t *testing.T) {
		fetch := func() T {
			var got T
			read(t, w.s, w.manager, func(tx *store.Tx) (err error) { got, err = get(tx, record(&r).ID); return err })
			return got
		}
		write(t, w.s, w.manager, func(tx *store.Tx) error { return create(tx, &r) })
		if rec := record(&r); rec.ID <= 0 || rec.Version != 1 || !rec.CreatedAt.Equal(storetest.Now()) ||
			rec.CreatedAt.Location() != time.UTC || rec.AcademyID != w.academy.ID {
			t.Errorf("created as %+v", *rec)
		}
		if got := fetch(); !reflect.DeepEqual(got, r) {
			t.Errorf("created\n%+v, read\n%+v", r, got)
		}
		first := r
		change(&r)
		sent := *record(&r)
		// only id and version are the caller's
		*record(&r) = models.Record{ID: sent.ID, Version: sent.Version, AcademyID: other.academy.ID,
			CreatedAt: time.Unix(0, 0)}
		write(t, w.s, w.manager, func(tx *store.Tx) error { return update(tx, &r) })
		if rec := record(&r); rec.Version != 2 || rec.AcademyID != w.academy.ID || !rec.CreatedAt.Equal(storetest.Now()) {
			t.Errorf("changed to %+v", *rec)
		}
		if got := fetch(); !reflect.DeepEqual(got, r) {
			t.Errorf("changed to\n%+v, read\n%+v", r, got)
		}
		refused(t, w.s, w.manager, models.Stale, func(tx *store.Tx) error { return update(tx, &first) })
		refused(t, w.s, w.manager, models.Stale, func(tx *store.Tx) error { return remove(tx, record(&r).ID, 1) })
		refused(t, w.s, other.manager, models.NotFound, func(tx *store.Tx) error {
			_, err := get(tx, record(&r).ID)
			return err
		})
		refused(t, w.s, other.manager, models.NotFound, func(tx *store.Tx) error { copied := r; return update(tx, &copied) })
		refused(t, w.s, other.manager, models.NotFound, func(tx *store.Tx) error { return remove(tx, record(&r).ID, 2) })
		if got := fetch(); !reflect.DeepEqual(got, r) {
			t.Errorf("after refusals read\n%+v, want\n%+v", got, r)
		}
		write(t, w.s, w.manager, func(tx *store.Tx) error { return remove(tx, record(&r).ID, 2) })
		refused(t, w.s, w.manager, models.NotFound, func(tx *store.Tx) error {
			_, err := get(tx, record(&r).ID)
			return err
		})
		refused(t, w.s, w.manager, models.NotFound, func(tx *store.Tx) error { return update(tx, &r) })
		refused(t, w.s, w.manager, models.NotFound, func(tx *store.Tx) error { return remove(tx, record(&r).ID, 3) })
		again := first // a deleted record's name or number is free again
		write(t, w.s, w.manager, func(tx *store.Tx) error { return create(tx, &again) })
		if record(&again).ID == record(&r).ID {
			t.Error("an id is given twice")
		}
	})
}

func TestEveryRecordIsKeptAsItWasMade(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		other := addAcademy(t, s, "Fell Academy", "fell")
		day := func(d string) *models.Date { return ptr(models.Date(d)) }
		life(t, w, other, models.Season{Name: "2026-27", Starts: "2026-09-01", Ends: "2027-05-31"},
			func(r *models.Season) *models.Record {
				return &r.Record
			}, func(r *models.Season) { r.Name, r.Ends = "26/27", "2027-06-30" },
			(*store.Tx).CreateSeason, (*store.Tx).Season, (*store.Tx).UpdateSeason, (*store.Tx).DeleteSeason)
		life(t, w, other, models.Squad{Name: "Sevens", AgeBand: 18, BandMonth: 9},
			func(r *models.Squad) *models.Record { return &r.Record }, func(r *models.Squad) { r.AgeBand, r.BandMonth = 0, 0 },
			(*store.Tx).CreateSquad, (*store.Tx).Squad, (*store.Tx).UpdateSquad, (*store.Tx).DeleteSquad)
		life(t, w, other, models.Player{Name: "Åse Üñal", KnownAs: "Åse", BornOn: day("2009-02-28"),
			Positions: []models.Position{"wing", "full_back"}},
			func(r *models.Player) *models.Record {
				return &r.Record
			}, func(r *models.Player) { r.KnownAs, r.BornOn, r.Positions = "", nil, nil },
			(*store.Tx).CreatePlayer, (*store.Tx).Player, (*store.Tx).UpdatePlayer, (*store.Tx).DeletePlayer)
		life(t, w, other, models.Membership{SeasonID: w.season.ID, SquadID: w.juniors.ID, PlayerID: w.bram.ID,
			From: "2025-10-01", Until: day("2025-10-31")},
			func(r *models.Membership) *models.Record { return &r.Record }, func(r *models.Membership) { r.Until = nil },
			(*store.Tx).CreateMembership, (*store.Tx).Membership, (*store.Tx).UpdateMembership, (*store.Tx).DeleteMembership)
		life(t, w, other, models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeRecords, GivenBy: "Hanne Oakes",
			Relation: models.ByGuardian, On: "2025-09-01",
			Until: day("2026-08-31"), WithdrawnOn: day("2026-03-01"), KeptAt: "Office,\nsecond drawer",
			RecordedBy: w.manager.UserID},
			func(r *models.Consent) *models.Record { return &r.Record },
			func(r *models.Consent) {
				r.GivenBy, r.On, r.Until, r.WithdrawnOn, r.KeptAt = "Ole Oakes", "2025-09-02", nil, nil, ""
			},
			(*store.Tx).CreateConsent, (*store.Tx).Consent, (*store.Tx).UpdateConsent, (*store.Tx).DeleteConsent)
		life(t, w, other, models.Guardian{PlayerID: w.bram.ID, Name: "Ole Oakes", Relation: "grandfather",
			Contact: "0123\nevenings"},
			func(r *models.Guardian) *models.Record {
				return &r.Record
			}, func(r *models.Guardian) { r.Name, r.Relation, r.Contact = "O. Oakes", "uncle", "" },
			(*store.Tx).CreateGuardian, (*store.Tx).Guardian, (*store.Tx).UpdateGuardian, (*store.Tx).DeleteGuardian)
		life(t, w, other, models.MinutesLimit{Name: "A month", SquadID: &w.colts.ID, Days: 30, Minutes: 320.5, WarnAt: 0.75},
			func(r *models.MinutesLimit) *models.Record { return &r.Record },
			func(r *models.MinutesLimit) {
				r.Name, r.SquadID, r.Days, r.Minutes, r.WarnAt = "The season", nil, 0, 2000, 1
			},
			(*store.Tx).CreateMinutesLimit, (*store.Tx).MinutesLimit, (*store.Tx).UpdateMinutesLimit,
			(*store.Tx).DeleteMinutesLimit)
		life(t, w, other, models.Spell{PlayerID: w.bram.ID, Status: models.Unavailable, From: "2025-10-01",
			Until: day("2025-10-31")},
			func(r *models.Spell) *models.Record {
				return &r.Record
			}, func(r *models.Spell) { r.Status, r.Until = models.Modified, nil },
			(*store.Tx).CreateSpell, (*store.Tx).Spell, (*store.Tx).UpdateSpell, (*store.Tx).DeleteSpell)
		life(t, w, other, models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-11-08", Opponent: "Dunmere",
			Venue: ptr(models.Away), Difficulty: ptr(4),
			Competition: "League", Conditions: "wet", Halves: 2, HalfMinutes: 35},
			func(r *models.Match) *models.Record { return &r.Record },
			func(r *models.Match) {
				r.SquadID, r.OtherTeam, r.Venue, r.Difficulty, r.Competition, r.Conditions = nil, "Westbrook School", nil, nil, "",
					""
			},
			(*store.Tx).CreateMatch, (*store.Tx).Match, (*store.Tx).UpdateMatch, (*store.Tx).DeleteMatch)
		life(t, w, other, models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 3), Kind: models.EventSubstitution,
			Ours: true, PlayerID: &w.noor.ID, OffID: &w.bram.ID},
			func(r *models.MatchEvent) *models.Record { return &r.Record },
			func(r *models.MatchEvent) {
				r.Clock, r.Kind, r.Ours, r.PlayerID, r.OffID = clock(2, 40, 0), models.EventTry, false, nil, nil
			},
			(*store.Tx).CreateMatchEvent, (*store.Tx).MatchEvent, (*store.Tx).UpdateMatchEvent, (*store.Tx).DeleteMatchEvent)
		life(t, w, other, models.TeamTotals{MatchID: w.match.ID, Scope: models.Forwards,
			Counts: models.Counts{"carries": 70, "metres": 311.5}},
			func(r *models.TeamTotals) *models.Record {
				return &r.Record
			}, func(r *models.TeamTotals) { r.Counts = models.Counts{"carries": 0} },
			(*store.Tx).CreateTeamTotals, (*store.Tx).TeamTotal, (*store.Tx).UpdateTeamTotals, (*store.Tx).DeleteTeamTotals)
		life(t, w, other, models.Appearance{MatchID: w.schoolMatch.ID, PlayerID: w.tove.ID, Minutes: 41.5,
			Started: ptr(false), Shirt: ptr(10), Position: "fly_half"},
			func(r *models.Appearance) *models.Record { return &r.Record },
			func(r *models.Appearance) { r.Minutes, r.Started, r.Shirt, r.Position = 12.25, nil, nil, "" },
			(*store.Tx).CreateAppearance, (*store.Tx).Appearance, (*store.Tx).UpdateAppearance, (*store.Tx).DeleteAppearance)
		life(t, w, other, models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, LoggerID: w.coach.UserID, Depth: models.Full,
			Kinds:  []models.Kind{models.KindPass, models.KindKick},
			Covers: []models.Span{{From: clock(1, 0, 0), To: clock(1, 20, 0)}}, Finished: true, Key: "k-1"},
			func(r *models.Log) *models.Record {
				return &r.Record
			}, func(r *models.Log) { r.Depth, r.Covers, r.Finished, r.Key = models.Core, nil, false, "" },
			(*store.Tx).CreateLog, (*store.Tx).Log, (*store.Tx).UpdateLog, (*store.Tx).DeleteLog)
		life(t, w, other, models.Involvement{LogID: w.log.ID, Clock: clock(1, 12, 34), Kind: models.KindPass,
			Details:  map[string]string{"result": "accurate"},
			Measures: map[string]float64{"defenders_held": 1}, Results: []models.Result{models.ResultTryAssist},
			Possession: ptr(4), Phase: ptr(2), LinkedTo: &w.carry.ID,
			Options: "Outside runner", Note: "Late.\nSee again.", VideoFile: "first half", VideoFrom: ptr(754.25),
			VideoTo: ptr(760.0), Moment: true, Key: "k-2"},
			func(r *models.Involvement) *models.Record { return &r.Record },
			func(r *models.Involvement) {
				*r = models.Involvement{Record: r.Record, LogID: r.LogID, Clock: clock(2, 50, 0), Kind: models.KindTackle}
			},
			(*store.Tx).CreateInvolvement, (*store.Tx).Involvement, (*store.Tx).UpdateInvolvement,
			(*store.Tx).DeleteInvolvement)
		life(t, w, other, models.MatchTotals{MatchID: w.match.ID, PlayerID: w.bram.ID, Source: "statistics.csv",
			Counts: models.Counts{"carries": 7, "metres": 0.1}},
			func(r *models.MatchTotals) *models.Record {
				return &r.Record
			}, func(r *models.MatchTotals) { r.Counts = models.Counts{"carries": 0} },
			(*store.Tx).CreateMatchTotals, (*store.Tx).MatchTotals, (*store.Tx).UpdateMatchTotals,
			(*store.Tx).DeleteMatchTotals)
		life(t, w, other, models.TrainingObservation{PlayerID: w.bram.ID, CoachID: w.coach.UserID, Date: "2025-10-21",
			Skill: "tackle", Text: "Good."},
			func(r *models.TrainingObservation) *models.Record {
				return &r.Record
			}, func(r *models.TrainingObservation) { r.Skill, r.GoalID = "", &w.goal.ID },
			(*store.Tx).CreateTrainingObservation, (*store.Tx).TrainingObservation, (*store.Tx).UpdateTrainingObservation,
			(*store.Tx).DeleteTrainingObservation)
		life(t, w, other, models.Skill{Code: "restart_chase", Label: "Restart chase",
			Grades: [5]string{"a", "b", "c", "d", "e"}, Groups: []models.Group{models.GroupBackThree}},
			func(r *models.Skill) *models.Record { return &r.Record }, func(r *models.Skill) { r.Groups = nil },
			(*store.Tx).CreateSkill, (*store.Tx).Skill, (*store.Tx).UpdateSkill, (*store.Tx).DeleteSkill)
		life(t, w, other, models.Indicator{Code: "breaks", Label: "Line breaks", Meaning: "How often you get through.",
			Family: models.Rate, Unit: "per match",
			Numerator: "line_breaks", Better: models.Higher, Depth: models.Core, Groups: []models.Group{models.GroupCentre}},
			func(r *models.Indicator) *models.Record {
				return &r.Record
			}, func(r *models.Indicator) { r.Depth, r.Groups = models.Full, nil },
			(*store.Tx).CreateIndicator, (*store.Tx).Indicator, (*store.Tx).UpdateIndicator, (*store.Tx).DeleteIndicator)
		life(t, w, other, models.Rating{PlayerID: w.bram.ID, RaterID: w.coach.UserID, Skill: "tackle", Grade: 4,
			Comment: "Low.", Date: w.match.Date, MatchID: &w.match.ID},
			func(r *models.Rating) *models.Record {
				return &r.Record
			}, func(r *models.Rating) { r.Comment, r.MatchID, r.Block, r.Date = "", nil, "Autumn", "2025-11-30" },
			(*store.Tx).CreateRating, (*store.Tx).Rating, (*store.Tx).UpdateRating, (*store.Tx).DeleteRating)
		life(t, w, other, models.RatingRound{SeasonID: w.season.ID, SquadID: w.colts.ID, Name: "After Fellmoor",
			Date: w.match.Date, MatchID: &w.match.ID,
			Opens: day("2025-10-05"), Closes: "2025-10-12"},
			func(r *models.RatingRound) *models.Record { return &r.Record },
			func(r *models.RatingRound) {
				r.MatchID, r.Block, r.Date, r.Opens, r.Closes = nil, "Autumn", "2025-11-30", nil, "2025-12-05"
			},
			(*store.Tx).CreateRatingRound, (*store.Tx).RatingRound, (*store.Tx).UpdateRatingRound,
			(*store.Tx).DeleteRatingRound)
		life(t, w, other, w.meeting(),
			func(r *models.Meeting) *models.Record { return &r.Record },
			func(r *models.Meeting) {
				r.Purpose, r.Date, r.Present, r.Criteria, r.Places, r.Candidates = "Another", "2026-03-02", nil, nil, nil, nil
			},
			(*store.Tx).CreateMeeting, (*store.Tx).Meeting, (*store.Tx).UpdateMeeting, (*store.Tx).DeleteMeeting)
		life(t, w, other, models.Goal{PlayerID: w.bram.ID, OwnerID: w.coach.UserID, Indicator: "carries",
			SetOn: "2025-10-10", By: "2026-01-01", Baseline: ptr(8.0), BaselineReason: "Counted by hand.", Target: 10,
			Why: "More.", Actions: "Get up.", Insist: insisted[2:4], InsistReason: "It is what the player lacks."},
			func(r *models.Goal) *models.Record { return &r.Record },
			func(r *models.Goal) {
				r.Indicator, r.Skill, r.Baseline, r.Target, r.Actions = "", "tackle", ptr(3.0), 4, ""
				r.Insist = insisted[2:3]
			},
			(*store.Tx).CreateGoal, (*store.Tx).Goal, (*store.Tx).UpdateGoal, (*store.Tx).DeleteGoal)
		life(t, w, other, models.CheckIn{GoalID: w.goal.ID, AuthorID: w.coach.UserID, Date: "2025-11-01",
			Text: "On the way."},
			func(r *models.CheckIn) *models.Record { return &r.Record }, func(r *models.CheckIn) { r.Text = "Stuck." },
			(*store.Tx).CreateCheckIn, (*store.Tx).CheckIn, (*store.Tx).UpdateCheckIn, (*store.Tx).DeleteCheckIn)
		life(t, w, other, models.ReviewNote{PlayerID: w.bram.ID, AuthorID: w.coach.UserID, Date: "2025-10-20",
			MatchID: &w.match.ID, InvolvementID: &w.carry.ID,
			Skill: "tackle", GoalID: &w.goal.ID, Shared: true, Text: "See this.", FollowUp: day("2025-11-01")},
			func(r *models.ReviewNote) *models.Record { return &r.Record },
			func(r *models.ReviewNote) {
				r.MatchID, r.InvolvementID, r.Skill, r.GoalID, r.Shared, r.FollowUp = nil, nil, "", nil, false, nil
			},
			(*store.Tx).CreateReviewNote, (*store.Tx).ReviewNote, (*store.Tx).UpdateReviewNote, (*store.Tx).DeleteReviewNote)
		life(t, w, other, models.User{Login: "tove", Name: "Tove Lind", Role: models.RolePlayer, PlayerID: &w.tove.ID,
			PasswordHash: "$argon2id$x"},
			func(r *models.User) *models.Record {
				return &r.Record
			}, func(r *models.User) { r.Role, r.PlayerID, r.PasswordHash = models.RoleCoach, nil, "" },
			(*store.Tx).CreateUser, (*store.Tx).User, (*store.Tx).UpdateUser, (*store.Tx).DeleteUser)
	})
}

func TestStintsAreKeptWithTheirAppearance(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		if w.bramPlays.Minutes != 65 {
			t.Errorf("stints of 35 and 30 minutes give %v minutes", w.bramPlays.Minutes)
		}
		var got models.Appearance
		read(t, s, w.manager, func(tx *store.Tx) (err error) { got, err = tx.Appearance(w.bramPlays.ID); return err })
		if !reflect.DeepEqual(got, w.bramPlays) {
			t.Errorf("read %+v, want %+v", got, w.bramPlays)
		}
		got.Stints = []models.Stint{{On: clock(1, 0, 0), Off: clock(1, 20, 0), Position: "number_eight"}}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateAppearance(&got) })
		var again models.Appearance
		read(t, s, w.manager, func(tx *store.Tx) (err error) { again, err = tx.Appearance(w.bramPlays.ID); return err })
		if !reflect.DeepEqual(got, again) || again.Minutes != 20 || len(again.Stints) != 1 {
			t.Errorf("read %+v, want %+v", again, got)
		}
	})
}

func TestSendingAgainWithTheSameKeyIsHarmless(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		log := models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, Depth: models.Core,
			Kinds: []models.Kind{models.KindPass}, Key: "laptop-1"}
		pass := models.Involvement{Clock: clock(1, 5, 0), Kind: models.KindPass, Key: "laptop-1-1"}
		var ids [2][2]int64
		for n := range ids {
			l, p := log, pass
			write(t, s, w.coach, func(tx *store.Tx) error {
				if err := tx.CreateLog(&l); err != nil {
					return err
				}
				p.LogID = l.ID
				return tx.CreateInvolvement(&p)
			})
			ids[n] = [2]int64{l.ID, p.ID}
		}
		if ids[0] != ids[1] || ids[0][0] == 0 || ids[0][1] == 0 {
			t.Errorf("ids %v at first, %v again", ids[0], ids[1])
		}
		read(t, s, w.coach, func(tx *store.Tx) error {
			all, err := tx.Involvements(models.InvolvementFilter{LogID: ids[0][0]})
			if len(all) != 1 {
				t.Errorf("%d involvements", len(all))
			}
			return err
		})
		stolen := log
		stolen.PlayerID = w.bram.ID
		refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error { return tx.CreateLog(&stolen) })
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.AddSquadStaff(w.juniorCoach.UserID, w.colts.ID) })
		helper, err := s.WhoByID(t.Context(), w.academy.ID, w.juniorCoach.UserID)
		if err != nil {
			t.Fatal(err)
		}
		another := log
		refused(t, s, helper, models.Forbidden, func(tx *store.Tx) error { return tx.CreateLog(&another) })
	})
}

func TestWhatOthersNeedIsNotDeleted(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		note := models.ReviewNote{PlayerID: w.bram.ID, Date: "2025-10-20", InvolvementID: &w.carry.ID, Text: "See this."}
		pass := models.Involvement{LogID: w.log.ID, Clock: clock(1, 12, 33), Kind: models.KindPass, LinkedTo: &w.carry.ID}
		write(t, s, w.coach, func(tx *store.Tx) error {
			return all(func() error { return tx.CreateReviewNote(&note) }, func() error { return tx.CreateInvolvement(&pass) })
		})
		alone := struct {
			season models.Season
			squad  models.Squad
			player models.Player
			match  models.Match
		}{models.Season{Name: "2026-27", Starts: "2026-09-01", Ends: "2027-05-31"}, models.Squad{Name: "Sevens"},
			models.Player{Name: "Odd Moen"},
			models.Match{SeasonID: w.season.ID, OtherTeam: "Westbrook School", Date: "2025-11-12", Opponent: "Thornlea",
				Halves: 2, HalfMinutes: 30}}
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(func() error {
				return tx.CreateSeason(&alone.season)
			}, func() error { return tx.CreateSquad(&alone.squad) },
				func() error { return tx.CreatePlayer(&alone.player) }, func() error { return tx.CreateMatch(&alone.match) },
				func() error {
					return tx.CreateRatingRound(&models.RatingRound{SeasonID: w.season.ID, SquadID: w.colts.ID, Name: "x",
						Date: alone.match.Date, MatchID: &alone.match.ID, Closes: "2025-11-20"})
				},
				func() error {
					m := w.meeting()
					m.SeasonID, m.SquadID, m.Candidates[0].PlayerID = alone.season.ID, alone.squad.ID, alone.player.ID
					return tx.CreateMeeting(&m)
				})
		})
		for name, remove := range map[string]func(tx *store.Tx) error{
			"season":                  func(tx *store.Tx) error { return tx.DeleteSeason(w.season.ID, 1) },
			"squad":                   func(tx *store.Tx) error { return tx.DeleteSquad(w.colts.ID, 1) },
			"player":                  func(tx *store.Tx) error { return tx.DeletePlayer(w.bram.ID, 1) },
			"match":                   func(tx *store.Tx) error { return tx.DeleteMatch(w.match.ID, 1) },
			"appearance":              func(tx *store.Tx) error { return tx.DeleteAppearance(w.bramPlays.ID, 1) },
			"log":                     func(tx *store.Tx) error { return tx.DeleteLog(w.log.ID, 1) },
			"involvement":             func(tx *store.Tx) error { return tx.DeleteInvolvement(w.carry.ID, 1) },
			"season of a meeting":     func(tx *store.Tx) error { return tx.DeleteSeason(alone.season.ID, 1) },
			"squad of a meeting":      func(tx *store.Tx) error { return tx.DeleteSquad(alone.squad.ID, 1) },
			"candidate":               func(tx *store.Tx) error { return tx.DeletePlayer(alone.player.ID, 1) },
			"match of a rating round": func(tx *store.Tx) error { return tx.DeleteMatch(alone.match.ID, 1) },
		} {
			t.Run(name, func(t *testing.T) { refused(t, s, w.manager, models.Conflict, remove) })
		}
	})
}

func TestDeletedLogTakesItsInvolvementsWithIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteLog(w.log.ID, 1) })
		read(t, s, w.manager, func(tx *store.Tx) error {
			if _, err := tx.Involvement(w.carry.ID); models.CodeOf(err) != models.NotFound {
				t.Errorf("the involvement gives %v", err)
			}
			left, err := tx.Observations(models.ObservationFilter{PlayerID: w.bram.ID})
			if len(left) != 0 {
				t.Errorf("observations are left: %+v", left)
			}
			return err
		})
	})
}

func TestMatchIsNotMadeShorterThanWhatIsRecordedOfIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		shorter := w.match
		shorter.HalfMinutes = 30
		refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error { return tx.UpdateMatch(&shorter) })
		off := w.bramPlays
		off.Stints = off.Stints[1:] // the carry was in the first half
		refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error { return tx.UpdateAppearance(&off) })
		narrower := w.log
		narrower.Covers = []models.Span{{From: clock(2, 35, 0), To: clock(2, 70, 0)}}
		refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error { return tx.UpdateLog(&narrower) })
	})
}

func TestAnotherLengthOfAMatchSetsTheMinutesOfStintsAnew(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		match := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-11-08", Opponent: "Dunmere",
			Halves: 2, HalfMinutes: 35}
		plays := models.Appearance{PlayerID: w.bram.ID, Stints: []models.Stint{{On: clock(1, 10, 0), Off: clock(1, 35, 0)}}}
		log := models.Log{PlayerID: w.bram.ID, Depth: models.Core, Finished: true, Kinds: []models.Kind{models.KindTackle}}
		write(t, s, w.coach, func(tx *store.Tx) error {
			if err := tx.CreateMatch(&match); err != nil {
				return err
			}
			plays.MatchID, log.MatchID = match.ID, match.ID
			return all(func() error { return tx.CreateAppearance(&plays) }, func() error { return tx.CreateLog(&log) })
		})
		match.HalfMinutes = 30
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateMatch(&match) })
		read(t, s, w.coach, func(tx *store.Tx) error {
			a, err := tx.Appearance(plays.ID)
			if err != nil || a.Minutes != 20 || a.Version != 2 { // of 25 minutes 5 are added time now
				t.Errorf("%v minutes, version %d, %v", a.Minutes, a.Version, err)
			}
			observed, err := tx.Observations(models.ObservationFilter{MatchID: match.ID})
			if err != nil || len(observed) != 1 || observed[0].Denominator != 20 {
				t.Errorf("observed %+v, %v", observed, err)
			}
			return nil
		})
		unchanged(t, w, "another length")
	})
}

func TestListsAreInTheirOrder(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			for _, d := range []models.Date{"2025-12-06", "2025-09-13", "2025-12-06"} {
				if err := tx.CreateMatch(&models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: d, Opponent: "Dunmere",
					Halves: 2, HalfMinutes: 35}); err != nil {
					return err
				}
			}
			return nil
		})
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.Matches(models.MatchFilter{})
			for i := 1; i < len(all); i++ {
				if a, b := all[i-1], all[i]; a.Date > b.Date || a.Date == b.Date && a.ID >= b.ID {
					t.Errorf("match %d on %s before %d on %s", a.ID, a.Date, b.ID, b.Date)
				}
			}
			return err
		})
	})
}
