package store_test

import (
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestASelectorIsNotShownTheSelfRatingsOfAMinorWithoutConsentForSelection(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		his := models.SelfRating{Rating: models.Rating{Skill: "tackle", Grade: 4, Date: w.match.Date, MatchID: &w.match.ID,
			Comment: "I am better on the left."}}
		write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.CreateSelfRating(&his) })
		seen := func(who models.Who) (n int) {
			read(t, s, who, func(tx *store.Tx) error {
				all, err := tx.SelfRatings(models.RatingFilter{})
				n = len(all)
				return err
			})
			return n
		}
		if seen(w.selector) != 1 {
			t.Error("a selector does not see it where no consent is asked for")
		}
		w.require(t, models.PurposeSelection) // bram is 17, and no one has consented
		if seen(w.selector) != 0 {
			t.Error("a selector sees what a minor thinks of himself, who is not shown to selectors")
		}
		refused(t, s, w.selector, models.NotFound, func(tx *store.Tx) error { _, err := tx.SelfRating(his.ID); return err })
		if seen(w.coach) != 1 || seen(w.bramHimself) != 1 {
			t.Error("others do not see it any more")
		}
	})
}

// headContactOf is an event of the match in which a person took a blow to the head.
func (w *world) headContactOf(t testing.TB, player int64) models.MatchEvent {
	t.Helper()
	e := models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 9, 0), Kind: models.EventHeadContact, Ours: true,
		PlayerID: &player}
	write(t, w.s, w.coach, func(tx *store.Tx) error { return tx.CreateMatchEvent(&e) })
	return e
}

func TestAHeadContactWhosePlayerWasErasedIsNobodyElses(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		e := w.headContactOf(t, w.bram.ID)
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByGuardian); err != nil {
			t.Fatal(err)
		}
		read(t, s, w.coach, func(tx *store.Tx) (err error) {
			e, err = tx.MatchEvent(e.ID)
			if err == nil && e.PlayerID != nil {
				t.Errorf("it is still of player %d", *e.PlayerID)
			}
			return err
		})
		e.PlayerID = &w.tove.ID
		says(t, refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error {
			return tx.UpdateMatchEvent(&e)
		}), "must keep its player")
	})
}

func TestAHeadContactCannotBeMovedToAnotherPlayerByWayOfAnotherEvent(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		e := w.headContactOf(t, w.bram.ID)
		update := func(tx *store.Tx) error { return tx.UpdateMatchEvent(&e) }
		e.Kind = models.EventTry // a slip of the finger, taken back
		write(t, s, w.coach, update)
		e.PlayerID = &w.tove.ID
		write(t, s, w.coach, update)
		e.Kind = models.EventHeadContact // it would be reported to no one: the event's head contact is about bram
		says(t, refused(t, s, w.coach, models.Invalid, update), "must keep its player")
		e.PlayerID = &w.bram.ID
		write(t, s, w.coach, update)
	})
}

func TestTheTrailNamesThePlayersOfAMatchEventWhereErasureFindsThem(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.headContactOf(t, w.bram.ID)
		on := models.MatchEvent{MatchID: w.match.ID, Clock: clock(2, 50, 0), Kind: models.EventSubstitution, Ours: true,
			PlayerID: &w.tove.ID, OffID: &w.bram.ID}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateMatchEvent(&on) })
		on.PlayerID, on.OffID = &w.bram.ID, &w.tove.ID
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateMatchEvent(&on) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteMatchEvent(on.ID, on.Version) })
		named := func(player int64) (n int) {
			for _, e := range entries(t, s, w.academy.ID,
				models.AuditFilter{PlayerID: player, Kind: "player of a match event"}) {
				if e.Payload != nil {
					n++
				}
			}
			return n
		}
		if b, v := named(w.bram.ID), named(w.tove.ID); b != 5 || v != 4 {
			t.Errorf("%d entries name bram and %d tove; want that each was named, moved within the event and taken out of it",
				b, v)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByGuardian); err != nil {
			t.Fatal(err)
		}
		for _, e := range entries(t, s, w.academy.ID, models.AuditFilter{}) {
			if e.Kind != "match event" && e.Kind != "player of a match event" || e.Payload == nil {
				continue
			}
			p := payload(t, e)
			for _, r := range []map[string]any{p.Before, p.After} {
				for _, field := range []string{"player_id", "off_id"} {
					if r[field] == float64(w.bram.ID) {
						t.Errorf("entry %d, %s, still says that bram was in it: %s", e.Number, e.Kind, *e.Payload)
					}
				}
			}
		}
		if named(w.bram.ID) != 0 || named(w.tove.ID) != 4 {
			t.Error("what was named of bram is not erased, or that of tove is")
		}
	})
}

func TestARecordThatMovesToAnotherPlayerIsInTheTrailOfBoth(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		o := models.TrainingObservation{PlayerID: w.bram.ID, Date: "2025-11-02", Skill: "tackle",
			Text: "Bram drops his head."}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateTrainingObservation(&o) })
		o.PlayerID, o.Text = w.tove.ID, "Square hips."
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateTrainingObservation(&o) })
		for player, want := range map[int64]struct{ before, after any }{w.bram.ID: {"Bram drops his head.", nil},
			w.tove.ID: {nil, "Square hips."}} {
			all := entries(t, s, w.academy.ID, models.AuditFilter{PlayerID: player, Kind: "training observation",
				Action: models.AuditChange})
			if len(all) != 1 {
				t.Errorf("%d entries of player %d; want one", len(all), player)
				continue
			}
			if p := payload(t, all[0]); p.Before["text"] != want.before || p.After["text"] != want.after {
				t.Errorf("the trail of player %d says %s", player, *all[0].Payload)
			}
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByGuardian); err != nil {
			t.Fatal(err)
		}
		for _, e := range entries(t, s, w.academy.ID, models.AuditFilter{Kind: "training observation"}) {
			if e.PlayerID == w.bram.ID && e.Payload != nil {
				t.Errorf("entry %d still has %s", e.Number, *e.Payload)
			}
		}
	})
}

func TestNobodyLearnsAPlayersNameByTakingHimForStaff(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		// the coach of the juniors does not reach bram, and no one has the other
		for _, id := range []int64{w.bramHimself.UserID, 987654} {
			err := refused(t, s, w.juniorCoach, models.Invalid, func(tx *store.Tx) error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.iver.ID, Date: "2025-11-01", Text: "Quick.",
					AuthorID: id})
			})
			says(t, err, "there is no user")
		}
	})
}

func TestACoachDoesNotLearnWhetherAnotherHasRatedByRatingInHisName(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.AddSquadStaff(w.juniorCoach.UserID, w.colts.ID) })
		other, err := s.WhoByID(t.Context(), w.academy.ID, w.juniorCoach.UserID)
		if err != nil {
			t.Fatal(err)
		}
		given := models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 4, Date: w.match.Date, MatchID: &w.match.ID}
		write(t, s, w.coach, func(tx *store.Tx) error { r := given; return tx.CreateRating(&r) })
		for _, skill := range []string{"tackle", "breakdown"} { // which the coach has rated, and which they have not
			refused(t, s, other, models.Forbidden, func(tx *store.Tx) error {
				r := given
				r.Skill, r.RaterID = skill, w.coach.UserID
				return tx.CreateRating(&r)
			})
		}
	})
}

func TestErasureFindsEveryUserThatAPlayerHasHad(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			u, err := tx.User(w.bramHimself.UserID)
			if err != nil {
				return err
			}
			return tx.DeleteUser(u.ID, u.Version)
		})
		again := models.User{Login: "bram2", Name: "Bram Oakes", Role: models.RolePlayer, PlayerID: &w.bram.ID}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateUser(&again) })
		himself, err := s.WhoByID(t.Context(), w.academy.ID, again.ID)
		if err != nil {
			t.Fatal(err)
		}
		himself.From = "192.0.2.77"
		if _, err := s.ExportPlayer(t.Context(), himself, w.bram.ID, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		for _, e := range entries(t, s, w.academy.ID, models.AuditFilter{UserID: again.ID}) {
			if e.Payload != nil {
				t.Errorf("entry %d still says what his second user did: %s", e.Number, *e.Payload)
			}
		}
	})
}

func TestAnErasureFindsNamesInEveryTextAndAlphabet(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		elodie := models.Player{Name: "Élodie Źwier", Positions: []models.Position{"hooker"}}
		m := w.meeting()
		m.Present = append(m.Present, models.Attendee{Name: "Father of Źwier"})
		m.Places = append(m.Places, models.Place{Name: "As Élodie", Position: "hooker", Wanted: 1})
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(
				func() error { return tx.CreatePlayer(&elodie) },
				func() error {
					return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.tove.ID, Date: "2025-11-03",
						Text: "As quick as Élodie."})
				},
				func() error {
					return tx.CreateGuardian(&models.Guardian{PlayerID: w.tove.ID, Name: "Una Lind", Relation: "aunt of Élodie too",
						Contact: "by post"})
				},
				func() error {
					return tx.KeepRecord(&models.RetentionReview{PlayerID: w.noor.ID, KeepUntil: "2031-01-01",
						Because: "Friend of Élodie Źwier."})
				},
				func() error { return tx.CreateMeeting(&m) },
				func() error { return tx.CreateSquad(&models.Squad{Name: "Friends of Źwier"}) },
				func() error {
					return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "As agreed with Źwier", Days: 7, Minutes: 80,
						WarnAt: 0.9})
				},
				func() error {
					return tx.CreateSkill(&models.Skill{Code: "zwier_step", Label: "The Źwier step",
						Grades: [5]string{"a", "b", "c", "d", "as Élodie does"}})
				},
				func() error {
					return tx.CreateIndicator(&models.Indicator{Code: "steps", Label: "Źwier steps", Meaning: "x",
						Family: models.Rate, Unit: "per match",
						Numerator: "line_breaks", Better: models.Higher, Depth: models.Core})
				},
				func() error {
					return tx.CreateMatch(&models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-11-15",
						Opponent:    "Saltby",
						Competition: "Źwier Cup", Halves: 2, HalfMinutes: 35})
				},
			)
		})
		proof, err := s.ErasePlayer(t.Context(), w.manager, elodie.ID, elodie.Name, models.AskedByPlayer)
		if err != nil {
			t.Fatal(err)
		}
		found := map[string]int{}
		for _, at := range proof.Mentions {
			found[at.Kind]++
		}
		for _, kind := range []string{"review note", "guardian", "retention review", "meeting", "squad", "limit of minutes",
			"skill", "indicator", "match"} {
			if found[kind] != 1 {
				t.Errorf("%d mentions in a %s; want one of %v", found[kind], kind, proof.Mentions)
			}
		}
	})
}

func TestTheTrailSaysHowAnAcademyWasCalled(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a, err := s.CreateAcademy(t.Context(), "Harbour")
		if err != nil {
			t.Fatal(err)
		}
		write(t, s, models.Console(models.Deployment), func(tx *store.Tx) error {
			_, err := tx.RenameAcademy(a.ID, "Haven")
			return err
		})
		changes := entries(t, s, models.Deployment, models.AuditFilter{Kind: "academy", Action: models.AuditChange})
		if len(changes) != 1 {
			t.Fatalf("%d entries; want one", len(changes))
		}
		if p := payload(t, changes[0]); p.Before["name"] != "Harbour" || p.After["name"] != "Haven" {
			t.Errorf("it says %s", *changes[0].Payload)
		}
	})
}

func TestMinutesThatFollowFromAMatchsLengthAreInTheTrail(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		m := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-11-01", Opponent: "Saltby", Halves: 2,
			HalfMinutes: 35}
		a := models.Appearance{PlayerID: w.bram.ID, Stints: []models.Stint{{On: clock(1, 0, 0), Off: clock(1, 38, 0)}}}
		write(t, s, w.manager, func(tx *store.Tx) error {
			if err := tx.CreateMatch(&m); err != nil {
				return err
			}
			a.MatchID = m.ID
			return tx.CreateAppearance(&a)
		})
		m.HalfMinutes = 40
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateMatch(&m) })
		var now models.Appearance
		read(t, s, w.manager, func(tx *store.Tx) (err error) { now, err = tx.Appearance(a.ID); return err })
		if now.Minutes == a.Minutes {
			t.Fatalf("his minutes are still %v: the story tells nothing", now.Minutes)
		}
		changes := entries(t, s, w.academy.ID, models.AuditFilter{Kind: "appearance", RecordID: a.ID,
			Action: models.AuditChange})
		if len(changes) != 1 || changes[0].PlayerID != w.bram.ID {
			t.Fatalf("entries %+v; want one about bram", changes)
		}
		if p := payload(t, changes[0]); p.Before["minutes"] != float64(a.Minutes) ||
			p.After["minutes"] != float64(now.Minutes) {
			t.Errorf("it says %s", *changes[0].Payload)
		}
	})
}
