package store_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// require has an academy ask for consent to some purposes.
func (w *world) require(t testing.TB, purposes ...models.Purpose) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		s, err := tx.Settings()
		if err != nil {
			return err
		}
		s.Requires = purposes
		return tx.SaveSettings(&s)
	})
}

// says checks that an error tells a person something.
func says(t testing.TB, err error, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("error %v does not say %q", err, part)
		}
	}
}

func TestNoFilmOfAMinorWithoutAGuardiansConsent(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		filmed := func(log int64) models.Involvement {
			return models.Involvement{LogID: log, Clock: clock(1, 20, 0), Kind: models.KindTackle, VideoFile: "first half",
				VideoFrom: ptr(12.0)}
		}
		try := func(tx *store.Tx) error { i := filmed(w.log.ID); return tx.CreateInvolvement(&i) }
		write(t, s, w.coach, try) // bram's guardian has consented
		withdrawn := w.consent
		withdrawn.WithdrawnOn = ptr(models.Date("2026-01-15"))
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateConsent(&withdrawn) })
		says(t, refused(t, s, w.coach, models.Conflict, try), "Bram Oakes is 17 on 2025-10-04", "filming",
			"withdrawn on 2026-01-15", "leave out the video file")
		plain := filmed(w.log.ID)
		plain.VideoFile, plain.VideoFrom = "", nil
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&plain) })
		plain.VideoFrom = ptr(3.0)
		refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error { return tx.UpdateInvolvement(&plain) })

		// Tove has no birth date on file, and counts as a minor until she has.
		log := models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, Depth: models.Core,
			Kinds: []models.Kind{models.KindTackle}}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateLog(&log) })
		of := func(tx *store.Tx) error { i := filmed(log.ID); return tx.CreateInvolvement(&i) }
		says(t, refused(t, s, w.coach, models.Conflict, of), "Tove Lind has no birth date on file")
		grown := w.tove
		grown.BornOn = ptr(models.Date("2007-10-04")) // 18 on the day of the match
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdatePlayer(&grown) })
		write(t, s, w.coach, of)

		// The same rule holds for many at once.
		bulk := func(player int64) func(tx *store.Tx) error {
			return func(tx *store.Tx) error {
				return tx.AddPlays([]models.Play{{Match: w.schoolMatch, Appearance: models.Appearance{PlayerID: player,
					Minutes: 60}, Logs: []models.LoggedPlay{{
					Log:          models.Log{Depth: models.Core, Kinds: []models.Kind{models.KindTackle}},
					Involvements: []models.Involvement{filmed(0)}}}}})
			}
		}
		says(t, refused(t, s, w.coach, models.Conflict, bulk(w.bram.ID)),
			"plays[0].logs[0].involvements[0]: Bram Oakes is 17 on 2025-10-08", "filming")
		write(t, s, w.coach, bulk(w.tove.ID))
		w.require(t)
		write(t, s, w.coach, bulk(w.bram.ID))
		w.require(t, models.PurposeStaffDevices) // asked for beside filming, wherever the academy asks for it
		says(t, refused(t, s, w.coach, models.Conflict, of2(w.log.ID, filmed)), "staff_devices")
	})
}

func of2(log int64, filmed func(int64) models.Involvement) func(tx *store.Tx) error {
	return func(tx *store.Tx) error {
		i := filmed(log)
		i.Clock = clock(1, 22, 0)
		return tx.CreateInvolvement(&i)
	}
}

func TestNothingBeyondAppearancesIsRecordedOfAMinorWithoutConsentToRecords(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.require(t, models.PurposeRecords)
		appearance := models.Appearance{MatchID: w.schoolMatch.ID, PlayerID: w.bram.ID, Minutes: 50}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateAppearance(&appearance) })
		game := w.schoolMatch.ID
		blocked := map[string]func(tx *store.Tx) error{
			"log": func(tx *store.Tx) error {
				return tx.CreateLog(&models.Log{MatchID: game, PlayerID: w.bram.ID, Depth: models.Core,
					Kinds: []models.Kind{models.KindPass}})
			},
			"involvement": func(tx *store.Tx) error {
				return tx.CreateInvolvement(&models.Involvement{LogID: w.log.ID, Clock: clock(1, 20, 0), Kind: models.KindTackle})
			},
			"totals": func(tx *store.Tx) error {
				return tx.CreateMatchTotals(&models.MatchTotals{MatchID: game, PlayerID: w.bram.ID, Source: "x",
					Counts: models.Counts{"carries": 1}})
			},
			"rating": func(tx *store.Tx) error {
				return tx.CreateRating(&models.Rating{PlayerID: w.bram.ID, Skill: "tackle", Grade: 3, Date: w.match.Date,
					MatchID: &w.match.ID})
			},
			"training observation": func(tx *store.Tx) error {
				return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: w.bram.ID, Date: "2025-10-21",
					Skill: "tackle", Text: "x"})
			},
			"goal": func(tx *store.Tx) error {
				return tx.CreateGoal(&models.Goal{PlayerID: w.bram.ID, Skill: "tackle", SetOn: "2025-11-01", By: "2026-02-01",
					Target: 4, Why: "x",
					Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."})
			},
			"check-in": func(tx *store.Tx) error {
				return tx.CreateCheckIn(&models.CheckIn{GoalID: w.goal.ID, Date: "2025-11-01", Text: "x"})
			},
			"note": func(tx *store.Tx) error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: w.bram.ID, Date: "2025-11-01", Text: "x"})
			},
			"score": func(tx *store.Tx) error {
				return tx.CreateMatchEvent(&models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0), Kind: models.EventTry,
					Ours: true, PlayerID: &w.bram.ID})
			},
		}
		for what, try := range blocked {
			t.Run(what, func(t *testing.T) {
				says(t, refused(t, s, w.coach, models.Conflict, try), "Bram Oakes is 17", "records")
			})
		}
		says(t, refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error {
			return tx.AddPlays([]models.Play{{Match: w.match, Appearance: models.Appearance{PlayerID: w.noor.ID, Minutes: 5},
				Totals: &models.MatchTotals{Source: "x", Counts: models.Counts{"carries": 1}}}})
		}), "plays[0].totals: Noor Vale has no birth date")
		for what, allowed := range map[string]func(tx *store.Tx) error{
			"substitution": func(tx *store.Tx) error {
				return tx.CreateMatchEvent(&models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0),
					Kind: models.EventSubstitution, Ours: true, PlayerID: &w.bram.ID})
			},
			"head contact": func(tx *store.Tx) error {
				return tx.CreateMatchEvent(&models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0),
					Kind: models.EventHeadContact, Ours: true, PlayerID: &w.bram.ID})
			},
			"appearance": func(tx *store.Tx) error { a := appearance; a.Minutes = 40; return tx.UpdateAppearance(&a) },
		} {
			t.Run(what, func(t *testing.T) { write(t, s, w.coach, allowed) })
		}
		consent := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeRecords, GivenBy: "Hanne Oakes",
			Relation: models.ByGuardian, On: "2025-09-01"}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&consent) })
		for what, try := range blocked {
			t.Run(what+" with consent", func(t *testing.T) { write(t, s, w.coach, try) })
		}
	})
}

func TestSelectorsAreShownNoMinorWithoutConsentToSelection(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.CreateMatchEvent(&models.MatchEvent{MatchID: w.match.ID, Clock: clock(1, 20, 0), Kind: models.EventTry,
				Ours: true, PlayerID: &w.bram.ID})
		})
		before := w.readEverything(t, w.selector)
		w.require(t, models.PurposeSelection)
		grown := w.tove
		grown.BornOn = ptr(models.Date("2008-03-14")) // of age on the day of the store's clock
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdatePlayer(&grown) })
		names := func() (all []string) {
			read(t, s, w.selector, func(tx *store.Tx) error {
				seen, err := tx.Players(models.PlayerFilter{})
				for _, p := range seen {
					all = append(all, p.Name)
				}
				return err
			})
			return all
		}
		if got := names(); !slices.Equal(got, []string{"Tove Lind"}) {
			t.Errorf("the selector sees %v", got)
		}
		read(t, s, w.selector, func(tx *store.Tx) error {
			if _, err := tx.Player(w.bram.ID); models.CodeOf(err) != models.NotFound {
				t.Errorf("bram gives %v", err)
			}
			about := func(what string, players []int64, err error) {
				t.Helper()
				if err != nil || slices.Contains(players, w.bram.ID) {
					t.Errorf("%s are of players %v, %v", what, players, err)
				}
			}
			memberships, err := tx.Memberships(models.MembershipFilter{})
			about("memberships", ids(memberships, func(r models.Membership) int64 { return r.PlayerID }), err)
			appearances, err := tx.Appearances(models.AppearanceFilter{})
			about("appearances", ids(appearances, func(r models.Appearance) int64 { return r.PlayerID }), err)
			logs, err := tx.Logs(models.LogFilter{})
			about("logs", ids(logs, func(r models.Log) int64 { return r.PlayerID }), err)
			observations, err := tx.Observations(models.ObservationFilter{})
			about("observations", ids(observations, func(r models.Observation) int64 { return r.PlayerID }), err)
			cells, err := tx.CarryCells(models.ObservationFilter{})
			about("carry cells", ids(cells, func(r models.CarryCell) int64 { return r.PlayerID }), err)
			goals, err := tx.Goals(models.GoalFilter{})
			about("goals", ids(goals, func(r models.Goal) int64 { return r.PlayerID }), err)
			notes, err := tx.ReviewNotes(models.ReviewNoteFilter{})
			about("notes", ids(notes, func(r models.ReviewNote) int64 { return r.PlayerID }), err)
			involvements, err := tx.Involvements(models.InvolvementFilter{})
			if err != nil || len(involvements) != 0 {
				t.Errorf("involvements %v, %v", involvements, err)
			}
			events, err := tx.MatchEvents(w.match.ID)
			if err != nil || len(events) != 1 || events[0].PlayerID != nil {
				t.Errorf("events %+v, %v", events, err)
			}
			matches, err := tx.Matches(models.MatchFilter{PlayerID: w.bram.ID})
			if err != nil || len(matches) != 0 {
				t.Errorf("his matches %v, %v", matches, err)
			}
			if loads, err := tx.Loads(w.season.ID, "2025-12-01", []int64{w.bram.ID, w.tove.ID}); err != nil || len(loads) != 1 {
				t.Errorf("loads %v, %v", loads, err)
			}
			return nil
		})
		read(t, s, w.coach, func(tx *store.Tx) error { _, err := tx.Player(w.bram.ID); return err })
		refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error {
			return tx.Consented(w.bram.ID, "2025-12-01", models.PurposeSelection)
		})
		consent := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeSelection, GivenBy: "Hanne Oakes",
			Relation: models.ByGuardian, On: "2025-09-01"}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&consent) })
		if got := names(); !slices.Equal(got, []string{"Bram Oakes", "Tove Lind"}) {
			t.Errorf("with consent the selector sees %v", got)
		}
		consent.WithdrawnOn = ptr(models.Date("2026-03-14"))
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateConsent(&consent) })
		if got := names(); !slices.Equal(got, []string{"Tove Lind"}) {
			t.Errorf("after it was withdrawn today the selector sees %v", got)
		}
		w.require(t)
		after := w.readEverything(t, w.selector)
		for _, list := range []string{"players", "logs", "involvements", "goals", "observations"} {
			if before[list] != after[list] || before[list] == 0 {
				t.Errorf("%s: %d before, %d where nothing is asked for", list, before[list], after[list])
			}
		}
	})
}

func TestConsentIsGivenByAGuardianForAMinorAndDeletedByManagersAlone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		own := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeRecords, GivenBy: "Bram Oakes",
			Relation: models.BySelf, On: "2025-10-01"}
		says(t, refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error {
			return tx.CreateConsent(&own)
		}), "relation", "a guardian must consent for a minor")
		own.On = "2026-10-03" // the player's 18th birthday
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&own) })
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { return tx.DeleteConsent(w.consent.ID, 1) })
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error { c := w.consent; return tx.UpdateConsent(&c) })
		other := w.consent
		other.Purpose = models.PurposeRecords
		refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error { return tx.UpdateConsent(&other) })
		for _, c := range []struct {
			who  models.Who
			seen int
		}{{w.manager, 2}, {w.coach, 2}, {w.bramHimself, 2}, {w.juniorCoach, 0}} {
			read(t, s, c.who, func(tx *store.Tx) error {
				got, err := tx.Consents(models.ConsentFilter{PlayerID: w.bram.ID})
				if err != nil || len(got) != c.seen {
					t.Errorf("%s sees %d consents, %v", c.who.Name, len(got), err)
				}
				return nil
			})
		}
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			_, err := tx.Consents(models.ConsentFilter{})
			return err
		})
		refused(t, s, w.selector, models.NotFound, func(tx *store.Tx) error {
			_, err := tx.Consent(w.consent.ID)
			return err
		})
	})
}

func TestAMarkMakesOneHeadContactThatStays(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		contacts := func(who models.Who) (all []models.HeadContact) {
			t.Helper()
			read(t, s, who, func(tx *store.Tx) (err error) {
				all, err = tx.HeadContacts(models.HeadContactFilter{PlayerID: w.bram.ID})
				return err
			})
			return all
		}
		tackle := models.Involvement{LogID: w.log.ID, Clock: clock(1, 23, 10), Kind: models.KindTackle, HeadContact: true,
			Key: "k"}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&tackle) })
		all := contacts(w.coach)
		if len(all) != 1 || !strings.Contains(tackle.Ask, "gone off at once") || all[0].Ask != tackle.Ask {
			t.Fatalf("a mark makes %+v and asks %q", all, tackle.Ask)
		}
		if h := all[0]; h.Date != w.match.Date || *h.MatchID != w.match.ID || *h.Clock != tackle.Clock ||
			*h.InvolvementID != tackle.ID || *h.MarkedBy != w.coach.UserID || !h.Open() {
			t.Errorf("the head contact is %+v", h)
		}
		for _, marked := range []bool{false, true, true} { // taken back, made again, and left
			tackle.HeadContact = marked
			write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateInvolvement(&tackle) })
			if all := contacts(w.coach); len(all) != 1 || (tackle.Ask != "") != marked {
				t.Errorf("marked %v: %d head contacts, asks %q", marked, len(all), tackle.Ask)
			}
		}
		event := models.MatchEvent{MatchID: w.match.ID, Clock: clock(2, 50, 0), Kind: models.EventHeadContact, Ours: true,
			PlayerID: &w.bram.ID}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateMatchEvent(&event) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateMatchEvent(&event) })
		refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error {
			e := event
			e.PlayerID = &w.tove.ID
			return tx.UpdateMatchEvent(&e)
		})
		if all := contacts(w.bramHimself); len(all) != 2 || event.Ask != tackle.Ask {
			t.Errorf("an event makes %d head contacts in all, asks %q", len(all), event.Ask)
		}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteMatchEvent(event.ID, event.Version) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteInvolvement(tackle.ID, tackle.Version) })
		all = contacts(w.manager)
		if len(all) != 2 {
			t.Errorf("%d head contacts are left of two whose marks were deleted", len(all))
		}

		// A report to the medical lead is recorded once.
		refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error {
			_, err := tx.TellMedicalLead(all[0].ID, "")
			return err
		})
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			_, err := tx.TellMedicalLead(all[0].ID, "Dr Ina Fold")
			return err
		})
		refused(t, s, w.juniorCoach, models.NotFound, func(tx *store.Tx) error {
			_, err := tx.TellMedicalLead(all[0].ID, "Dr Ina Fold")
			return err
		})
		write(t, s, w.coach, func(tx *store.Tx) error {
			h, err := tx.TellMedicalLead(all[0].ID, "Dr Ina Fold")
			if h.Ask != "" || h.MedicalLead != "Dr Ina Fold" || *h.ToldBy != w.coach.UserID ||
				!h.ToldAt.Equal(storetest.Now()) {
				t.Errorf("told: %+v", h)
			}
			return err
		})
		says(t, refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error {
			_, err := tx.TellMedicalLead(all[0].ID, "Dr Ina Fold")
			return err
		}), "already recorded that")
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error {
			return tx.DeleteHeadContact(all[1].ID, all[1].Version)
		})
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteHeadContact(all[1].ID, all[1].Version) })

		// Many at once make theirs too.
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.AddPlays([]models.Play{{Match: w.schoolMatch, Appearance: models.Appearance{PlayerID: w.bram.ID,
				Minutes: 60}, Logs: []models.LoggedPlay{{
				Log: models.Log{Depth: models.Core, Kinds: []models.Kind{models.KindTackle},
					LoggedOnBecause: "how it went on"},
				Involvements: []models.Involvement{{Clock: clock(1, 1, 0), Kind: models.KindTackle, HeadContact: true},
					{Clock: clock(1, 2, 0), Kind: models.KindTackle}}}}}})
		})
		if all := contacts(w.coach); len(all) != 2 || all[1].Date != w.schoolMatch.Date {
			t.Errorf("after plays with one mark: %+v", all)
		}
	})
}

func TestAGuestsHeadContactIsToldByWhoMarkedIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		up := models.Appearance{MatchID: w.match.ID, PlayerID: w.iver.ID, Minutes: 20}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateAppearance(&up) })
		log := models.Log{MatchID: w.match.ID, PlayerID: w.iver.ID, Depth: models.Core,
			Kinds: []models.Kind{models.KindTackle}}
		// a junior, in the match of the colts' coach
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateLog(&log) })
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.CreateInvolvement(&models.Involvement{LogID: log.ID, Clock: clock(1, 1, 0), Kind: models.KindTackle,
				HeadContact: true})
		})
		for _, who := range []models.Who{w.juniorCoach, w.coach} {
			write(t, s, who, func(tx *store.Tx) error {
				all, err := tx.HeadContacts(models.HeadContactFilter{PlayerID: w.iver.ID})
				if err != nil || len(all) != 1 {
					t.Fatalf("%s sees %+v, %v", who.Name, all, err)
				}
				if who.UserID == w.coach.UserID {
					_, err = tx.TellMedicalLead(all[0].ID, "Dr Ina Fold")
				}
				return err
			})
		}
	})
}

func TestNobodyWhoIsStoodDownAppears(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		match := func(day models.Date) models.Match {
			m := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: day, Opponent: "Dunmere", Halves: 2,
				HalfMinutes: 35}
			write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateMatch(&m) })
			return m
		}
		before, same, next, later := match("2025-10-03"), match("2025-10-04"), match("2025-10-11"), match("2025-11-01")
		played := models.Appearance{MatchID: next.ID, PlayerID: w.bram.ID, Minutes: 30}
		// put down before anybody knew
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateAppearance(&played) })
		contact := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID, StandDown: true}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&contact) })
		var down models.StandDown
		read(t, s, w.bramHimself, func(tx *store.Tx) error {
			all, err := tx.StandDowns(models.StandDownFilter{OpenOnly: true})
			if err != nil || len(all) != 1 || all[0].From != w.match.Date || *all[0].HeadContactID != contact.ID ||
				all[0].SetBy != w.coach.UserID {
				t.Fatalf("he is stood down by %+v, %v", all, err)
			}
			down = all[0]
			return nil
		})
		appear := func(m models.Match) func(tx *store.Tx) error {
			return func(tx *store.Tx) error {
				return tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: w.bram.ID, Minutes: 20})
			}
		}
		bulk := func(m models.Match) func(tx *store.Tx) error {
			return func(tx *store.Tx) error {
				return tx.AddPlays([]models.Play{{Match: m, Appearance: models.Appearance{PlayerID: w.bram.ID, Minutes: 20}}})
			}
		}
		for _, who := range []models.Who{w.coach, w.manager, models.Console(w.academy.ID)} {
			says(t, refused(t, s, who, models.Conflict, appear(later)), "Bram Oakes is stood down from 2025-10-04",
				"return-to-play protocol", "licensed practitioner", "A manager lifts the stand-down")
			refused(t, s, who, models.Conflict, appear(same))
			refused(t, s, who, models.Conflict, func(tx *store.Tx) error {
				a := played
				a.Minutes = 70
				return tx.UpdateAppearance(&a)
			})
			says(t, refused(t, s, who, models.Conflict, bulk(later)), "plays[0].appearance: Bram Oakes is stood down")
		}
		write(t, s, w.coach, appear(before))
		refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error {
			m := before
			m.Date = "2025-10-05"
			return tx.UpdateMatch(&m)
		})
		// the match of the head contact
		write(t, s, w.coach, func(tx *store.Tx) error { a := w.bramPlays; a.Shirt = ptr(6); return tx.UpdateAppearance(&a) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteAppearance(played.ID, played.Version) })

		lift := func(tx *store.Tx) error { _, err := tx.LiftStandDown(down.ID, "2025-10-25", "Dr Ina Fold"); return err }
		refused(t, s, w.coach, models.Forbidden, lift)
		refused(t, s, w.selector, models.Forbidden, lift)
		refused(t, s, w.bramHimself, models.Forbidden, lift)
		refused(t, s, w.juniorCoach, models.NotFound, lift)
		says(t, refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error {
			_, err := tx.LiftStandDown(down.ID, "2025-10-25", "")
			return err
		}), "name the licensed practitioner")
		write(t, s, w.manager, lift)
		refused(t, s, w.manager, models.Conflict, lift)
		says(t, refused(t, s, w.coach, models.Conflict, appear(next)), "until 2025-10-25")
		write(t, s, w.coach, appear(later))
		refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error {
			return tx.DeleteHeadContact(contact.ID, contact.Version)
		})
	})
}

func TestMinutesCountOverAllOfAPlayersTeams(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(
				func() error { // for school, four days after 65 for the colts
					return tx.CreateAppearance(&models.Appearance{MatchID: w.schoolMatch.ID, PlayerID: w.bram.ID, Minutes: 60})
				},
				func() error {
					return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "Juniors only", SquadID: &w.juniors.ID, Days: 7,
						Minutes: 10})
				},
			)
		})
		for _, who := range []models.Who{w.manager, w.coach, w.selector, w.bramHimself} {
			read(t, s, who, func(tx *store.Tx) error {
				loads, err := tx.PlayerLoad(w.bram.ID, "2025-10-09")
				// 0.8 of 140 is 112
				if err != nil || len(loads) != 1 || loads[0].Now != 125 || loads[0].Most != 125 ||
					loads[0].Warning != models.LoadNear {
					t.Errorf("%s reads %+v, %v", who.Role, loads, err)
				}
				return nil
			})
		}
		read(t, s, w.bramHimself, func(tx *store.Tx) error {
			if _, err := tx.PlayerLoad(w.tove.ID, "2025-10-09"); models.CodeOf(err) != models.NotFound {
				t.Errorf("another's gives %v", err)
			}
			return nil
		})
		read(t, s, w.manager, func(tx *store.Tx) error {
			if loads, err := tx.PlayerLoad(w.iver.ID, "2025-10-05"); err != nil || len(loads) != 2 ||
				loads[1].Warning != models.LoadOver {
				t.Errorf("a junior's are %+v, %v", loads, err)
			}
			for _, day := range []models.Date{"2025-10-05", "2025-10-09", "2025-12-01"} {
				ids := []int64{w.bram.ID, w.iver.ID}
				all, err := tx.Loads(w.season.ID, day, ids)
				if err != nil {
					return err
				}
				now, err := tx.LoadsNow(w.season.ID, day, ids)
				if err != nil {
					return err
				}
				for player := range all {
					for i := range all[player] {
						all[player][i] = all[player][i].JustNow()
					}
				}
				if !reflect.DeepEqual(now, all) {
					t.Errorf("on %s: %+v now, want those of the whole season's records: %+v", day, now, all)
				}
			}
			if loads, err := tx.PlayerLoad(w.iver.ID, "2020-10-05"); err != nil || len(loads) != 0 {
				t.Errorf("before any season: %+v, %v", loads, err)
			}
			return nil
		})
	})
}

func TestAnswersAreNeverAPrivateChannel(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s) // bram has answered the coach's note
		for _, c := range []struct {
			who  models.Who
			seen int
		}{{w.manager, 1}, {w.coach, 1}, {w.bramHimself, 1}, {w.juniorCoach, 0}} {
			read(t, s, c.who, func(tx *store.Tx) error {
				got, err := tx.NoteAnswers(w.note.ID)
				if err != nil || len(got) != c.seen {
					t.Errorf("%s sees %d answers, %v", c.who.Name, len(got), err)
				}
				return nil
			})
		}
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			_, err := tx.NoteAnswers(w.note.ID)
			return err
		})
		refused(t, s, w.selector, models.Forbidden, func(tx *store.Tx) error {
			return tx.AnswerNote(&models.NoteAnswer{NoteID: w.note.ID, Text: "x"})
		})
		refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error {
			return tx.AnswerNote(&models.NoteAnswer{NoteID: w.secret.ID, Text: "x"})
		})
		refused(t, s, w.bramHimself, models.Invalid, func(tx *store.Tx) error {
			return tx.AnswerNote(&models.NoteAnswer{NoteID: w.secret.ID, Text: "x"})
		})

		// Not in another user's name.
		forged := models.NoteAnswer{NoteID: w.note.ID, AuthorID: w.coach.UserID, Text: "Not me.", SeenBy: &w.manager.UserID}
		write(t, s, w.bramHimself, func(tx *store.Tx) error { return tx.AnswerNote(&forged) })
		if forged.AuthorID != w.bramHimself.UserID || forged.SeenBy != nil {
			t.Errorf("an answer in another's name is %+v", forged)
		}

		// The note stays where everybody sees it.
		says(t, refused(t, s, w.coach, models.Conflict, func(tx *store.Tx) error {
			n := w.note
			n.Shared = false
			return tx.UpdateReviewNote(&n)
		}), "replies (2)")
		says(t, refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error {
			return tx.DeleteReviewNote(w.note.ID, w.note.Version)
		}), "replies (2)")

		// A second member of staff has seen it.
		see := func(tx *store.Tx) error { _, err := tx.SeeNoteAnswer(w.answer.ID); return err }
		refused(t, s, w.coach, models.Forbidden, see)       // wrote the note
		refused(t, s, w.bramHimself, models.Forbidden, see) // wrote the answer
		refused(t, s, w.juniorCoach, models.NotFound, see)
		refused(t, s, models.Console(w.academy.ID), models.Forbidden, see) // the console is no user
		write(t, s, w.manager, see)
		write(t, s, w.manager, see)
		read(t, s, w.coach, func(tx *store.Tx) error {
			a, err := tx.NoteAnswer(w.answer.ID)
			if err != nil || *a.SeenBy != w.manager.UserID || !a.SeenAt.Equal(storetest.Now()) || a.Version != 2 {
				t.Errorf("seen: %+v, %v", a, err)
			}
			return nil
		})
		own := models.NoteAnswer{NoteID: w.note.ID, Text: "Good."}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.AnswerNote(&own) })
		refused(t, s, w.manager, models.Forbidden, func(tx *store.Tx) error {
			_, err := tx.SeeNoteAnswer(own.ID)
			return err
		})
	})
}

func TestAMinorsNoteIsAnsweredOnlyWhereTwoOfTheStaffMayReadIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		answer := func(tx *store.Tx) error { return tx.AnswerNote(&models.NoteAnswer{NoteID: w.note.ID, Text: "Again."}) }
		write(t, s, w.bramHimself, answer) // the manager and the colts' coach
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.RemoveSquadStaff(w.coach.UserID, w.colts.ID) })
		for _, who := range []models.Who{w.bramHimself, w.manager} {
			says(t, refused(t, s, who, models.Conflict, answer), "Bram Oakes is a minor", "only 1 can",
				"to add a coach to the squad")
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.AddSquadStaff(w.juniorCoach.UserID, w.colts.ID) })
		write(t, s, w.bramHimself, answer)
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.RemoveSquadStaff(w.juniorCoach.UserID, w.colts.ID) })
		refused(t, s, w.bramHimself, models.Conflict, answer)
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateUser(&models.User{Login: "second", Name: "Una Berg", Role: models.RoleManager})
		})
		write(t, s, w.bramHimself, answer)
		grown := w.bram
		grown.BornOn = ptr(models.Date("2008-03-14")) // of age on the day of the store's clock
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdatePlayer(&grown) })
		write(t, s, w.manager, func(tx *store.Tx) error {
			u, err := tx.Users(models.UserFilter{Login: "second"})
			if err != nil {
				return err
			}
			return tx.DeleteUser(u[0].ID, u[0].Version)
		})
		write(t, s, w.bramHimself, answer)
	})
}

func TestWhoLeftIsListedOnceTheMonthsAreOverUntilAReviewKeepsHim(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		old := models.Season{Name: "2022-23", Starts: "2022-09-01", Ends: "2023-05-31"}
		left, early := models.Player{Name: "Corin Lowe"}, models.Player{Name: "Ebba Falk"}
		write(t, s, w.manager, func(tx *store.Tx) error {
			if err := all(func() error {
				return tx.CreateSeason(&old)
			}, func() error { return tx.CreatePlayer(&left) }, func() error { return tx.CreatePlayer(&early) }); err != nil {
				return err
			}
			return all(
				func() error {
					return tx.CreateMembership(&models.Membership{SeasonID: old.ID, SquadID: w.colts.ID, PlayerID: left.ID,
						From: old.Starts})
				},
				func() error {
					return tx.CreateMembership(&models.Membership{SeasonID: old.ID, SquadID: w.colts.ID, PlayerID: early.ID,
						From: old.Starts, Until: ptr(models.Date("2022-12-01"))})
				},
				func() error { // a user from before who is still there
					return tx.CreateMembership(&models.Membership{SeasonID: old.ID, SquadID: w.colts.ID, PlayerID: w.bram.ID,
						From: old.Starts})
				},
			)
		})
		listed := func() (names []string) {
			t.Helper()
			read(t, s, w.manager, func(tx *store.Tx) error {
				all, err := tx.Retention()
				for _, d := range all {
					names = append(names, d.Name+" "+string(d.LeftOn))
				}
				return err
			})
			return names
		}
		// the clock stands in March 2026
		if got := listed(); !slices.Equal(got, []string{"Ebba Falk 2022-12-01", "Corin Lowe 2023-05-31"}) {
			t.Errorf("listed are %v", got)
		}
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error { _, err := tx.Retention(); return err })
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error {
				return tx.KeepRecord(&models.RetentionReview{PlayerID: w.bram.ID, KeepUntil: "2027-01-01", Because: "x"})
			})
		}
		keep := models.RetentionReview{PlayerID: early.ID, KeepUntil: "2026-03-14", Because: "Coaches the under 12s."}
		says(t, refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error {
			return tx.KeepRecord(&keep)
		}), "not after today")
		keep.KeepUntil = "2026-03-15"
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.KeepRecord(&keep) })
		if got := listed(); !slices.Equal(got, []string{"Corin Lowe 2023-05-31"}) || *keep.ReviewerID != w.manager.UserID {
			t.Errorf("after a review listed are %v", got)
		}
		decide := func(months int) {
			write(t, s, w.manager, func(tx *store.Tx) error {
				rules, err := tx.Settings()
				if err != nil {
					return err
				}
				rules.RetentionMonths = months
				return tx.SaveSettings(&rules)
			})
		}
		// 33 months after the end of May 2023 it is the end of February 2026
		for months, want := range map[int]int{0: 0, 60: 0, 33: 1, 34: 0} {
			decide(months)
			if got := listed(); len(got) != want {
				t.Errorf("after %d months listed are %v, want %d", months, got, want)
			}
		}
	})
}

func TestSettingsAreOneForAnAcademyAndItsManagersTo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, o := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		read(t, s, w.bramHimself, func(tx *store.Tx) error {
			rules, err := tx.Settings()
			if err != nil || rules.Version != 0 || rules.RetentionMonths != 24 ||
				!slices.Equal(rules.Requires, []models.Purpose{models.PurposeFilming}) {
				t.Errorf("the defaults are %+v, %v", rules, err)
			}
			return nil
		})
		for _, who := range []models.Who{w.coach, w.selector, w.bramHimself} {
			refused(t, s, who, models.Forbidden, func(tx *store.Tx) error {
				rules := models.DefaultSettings()
				return tx.SaveSettings(&rules)
			})
		}
		w.require(t, models.PurposeRecords)
		w.require(t, models.PurposeRecords, models.PurposeSelection)
		stale := models.DefaultSettings()
		refused(t, s, w.manager, models.Stale, func(tx *store.Tx) error { return tx.SaveSettings(&stale) })
		read(t, s, o.manager, func(tx *store.Tx) error {
			rules, err := tx.Settings()
			if rules.Version != 0 {
				t.Errorf("another academy's settings are %+v", rules)
			}
			return err
		})
	})
}
