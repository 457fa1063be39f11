package store_test

import (
	"reflect"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// tackleOf is a tackle at a minute of the second half, won and timed.
func tackleOf(log int64, minute int) models.Involvement {
	return models.Involvement{LogID: log, Clock: clock(2, minute, 0), Kind: models.KindTackle,
		Details: map[string]string{"result": "won"}, Measures: map[string]float64{"seconds_to_feet": 3}}
}

// figuresOf are what is observed of a player, by match and indicator.
func (w *world) figuresOf(t *testing.T, player int64) map[int64]map[string][2]float64 {
	t.Helper()
	out := map[int64]map[string][2]float64{}
	read(t, w.s, w.manager, func(tx *store.Tx) error {
		all, err := tx.Observations(models.ObservationFilter{PlayerID: player})
		for _, o := range all {
			if out[o.MatchID] == nil {
				out[o.MatchID] = map[string][2]float64{}
			}
			out[o.MatchID][o.Indicator] = [2]float64{o.Numerator, o.Denominator}
		}
		return err
	})
	return out
}

// consistent fails if the stored figures differ from those that the records give.
func (w *world) consistent(t *testing.T, when string) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		_, differ, err := tx.Recompute(0)
		if len(differ) > 0 {
			t.Errorf("%s: stored figures are not as computed: %+v", when, differ)
		}
		return err
	})
}

// stopWorld is a world in which Bram has tackles at 40:00 and 55:00 of one match, and totals of the next.
func stopWorld(t *testing.T, s *store.Store) (*world, models.Match) {
	w := newWorld(t, s)
	next := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-10-18", Opponent: "Dunmere", Halves: 2,
		HalfMinutes: 35}
	write(t, s, w.coach, func(tx *store.Tx) error {
		w.log.Covers = nil
		if err := tx.UpdateLog(&w.log); err != nil {
			return err
		}
		for _, minute := range []int{40, 55} {
			i := tackleOf(w.log.ID, minute)
			if err := tx.CreateInvolvement(&i); err != nil {
				return err
			}
		}
		if err := tx.CreateMatch(&next); err != nil {
			return err
		}
		if err := tx.CreateAppearance(&models.Appearance{MatchID: next.ID, PlayerID: w.bram.ID, Minutes: 70}); err != nil {
			return err
		}
		return tx.CreateMatchTotals(&models.MatchTotals{MatchID: next.ID, PlayerID: w.bram.ID, Source: "sheet",
			Counts: models.Counts{"carries": 4}})
	})
	return w, next
}

func TestFromAMarkedHeadContactOnFiguresStandUntilTheStandDownEnds(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, next := stopWorld(t, s)
		before := w.figuresOf(t, w.bram.ID)
		if before[w.match.ID]["tackles"][0] != 2 || before[next.ID]["carries"] != [2]float64{4, 70} {
			t.Fatalf("the world has figures %v", before)
		}
		contact := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID,
			Clock: &models.Clock{Half: 2, Second: 3000}}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&contact) })
		if contact.Ask != models.LateHeadContactAsk || contact.Proposal == nil ||
			contact.Proposal.From != w.match.Date {
			t.Errorf("entered months later: asks %q, proposes %+v", contact.Ask, contact.Proposal)
		}
		after := w.figuresOf(t, w.bram.ID)
		if got := after[w.match.ID]["tackles"]; got[0] != 1 || got[1] > 50 || after[next.ID]["carries"] != [2]float64{4,
			70} {
			t.Errorf("after the head contact: %v", after)
		}
		// Sent again it is the same one, and the stand-down that was proposed can still be set with it.
		again := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID,
			Clock: &models.Clock{Half: 2, Second: 3000}, StandDown: true}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&again) })
		if again.ID != contact.ID || again.Proposal != nil {
			t.Errorf("the second time it is %+v, and the first it was %d", again, contact.ID)
		}
		if after := w.figuresOf(t, w.bram.ID); len(after[next.ID]) > 0 {
			t.Errorf("stood down, totals of the next match count: %v", after[next.ID])
		}
		w.consistent(t, "stood down")
		// Sent once more without its moment, it is still the same one.
		untimed := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&untimed) })
		if untimed.ID != contact.ID || untimed.Clock == nil {
			t.Errorf("without its moment it is %+v, want %d with its clock", untimed, contact.ID)
		}
		var log models.Log
		read(t, s, w.coach, func(tx *store.Tx) (err error) {
			log, err = tx.Log(w.log.ID)
			m, err2 := tx.Match(w.match.ID)
			all, err3 := tx.Appearances(models.AppearanceFilter{MatchID: next.ID, PlayerID: w.bram.ID})
			if err2 != nil || err3 != nil || len(m.Stops) == 0 || m.Stops[0].PlayerID != w.bram.ID ||
				all[0].CountedMinutes() != 0 {
				t.Errorf("the match says %+v, the next appearance %+v; %v, %v", m.Stops, all, err2, err3)
			}
			return err
		})
		if log.Stop == nil || *log.Stop.From != *contact.Clock || !strings.Contains(log.Stop.Words, "50:00") ||
			log.Proposal != nil {
			t.Errorf("the log says %+v and proposes %+v", log.Stop, log.Proposal)
		}
		// Logging on asks for a reason; before the head contact nothing is asked.
		early, late := tackleOf(w.log.ID, 45), tackleOf(w.log.ID, 60)
		says(t, refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error {
			i := late
			return tx.CreateInvolvement(&i)
		}),
			"clock", "logged_on_because")
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&early) })
		log.LoggedOnBecause = "The doctor asked how long play went on."
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateLog(&log) })
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&late) })
		if got := w.figuresOf(t, w.bram.ID)[w.match.ID]["tackles"]; got[0] != 2 {
			t.Errorf("with one tackle before and one after, tackles are %v", got)
		}
		// Cleared from the day of the next match on, that one counts again.
		write(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.StandDowns(models.StandDownFilter{PlayerID: w.bram.ID})
			if err != nil || len(all) != 1 {
				t.Fatalf("stand-downs %+v, %v", all, err)
			}
			_, err = tx.LiftStandDown(all[0].ID, next.Date, "Dr Ina Fold")
			return err
		})
		if got := w.figuresOf(t, w.bram.ID)[next.ID]["carries"]; got != [2]float64{4, 70} {
			t.Errorf("cleared, the next match has %v", got)
		}
		w.consistent(t, "cleared")
	})
}

func TestResendingWithoutAKeyMakesNoSecondHeadContactForTheMoment(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, _ := stopWorld(t, s)
		contacts := func() (all []models.HeadContact) {
			read(t, s, w.manager, func(tx *store.Tx) (err error) {
				all, err = tx.HeadContacts(models.HeadContactFilter{PlayerID: w.bram.ID})
				return err
			})
			return all
		}
		blank := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID}
		for range 2 {
			h := blank
			write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&h) })
		}
		for n := range 2 { // and the log finds out when it was
			i := tackleOf(w.log.ID, 50)
			i.HeadContact, i.StandDown = true, true
			write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&i) })
			if i.Ask == "" || i.Proposal != nil || i.StandDown {
				t.Errorf("mark %d: asks %q and proposes %+v", n, i.Ask, i.Proposal)
			}
		}
		event := models.MatchEvent{MatchID: w.match.ID, Clock: clock(2, 50, 0), Kind: models.EventHeadContact, Ours: true,
			PlayerID: &w.bram.ID}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateMatchEvent(&event) })
		all := contacts()
		if len(all) != 1 || all[0].Clock == nil || event.Ask != all[0].Ask || event.Ask == "" {
			t.Errorf("one head contact, sent six times, makes %+v; the event asks %q", all, event.Ask)
		}
		w.consistent(t, "marked")
		// Deleting one that was recorded by mistake removes its marks, and what came after counts again.
		other := tackleOf(w.log.ID, 52)
		other.HeadContact = true
		write(t, s, w.manager, func(tx *store.Tx) error {
			w.log.LoggedOnBecause = "for the record"
			if err := tx.UpdateLog(&w.log); err != nil {
				return err
			}
			return tx.CreateInvolvement(&other)
		})
		last := contacts()[1]
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteHeadContact(last.ID, last.Version) })
		read(t, s, w.manager, func(tx *store.Tx) error {
			i, err := tx.Involvement(other.ID)
			if i.HeadContact {
				t.Error("a head contact that was deleted is still marked in the log")
			}
			return err
		})
		w.consistent(t, "deleted")
	})
}

// TestAnErasureLeavesWhatCountsAndNoSignOfAHeadContact erases a player with work before and after a head contact.
func TestAnErasureLeavesWhatCountsAndNoSignOfAHeadContact(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, next := stopWorld(t, s)
		contact := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID,
			Clock: &models.Clock{Half: 2, Second: 3000}, StandDown: true}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&contact) })
		before := w.figuresOf(t, w.bram.ID)
		if before[w.match.ID]["tackles"][0] != 1 || len(before[next.ID]) > 0 {
			t.Fatalf("figures %v", before)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		w.consistent(t, "erased")
		var after map[int64]map[string][2]float64
		if after = w.figuresOf(t, w.bram.ID); !reflect.DeepEqual(before, after) {
			t.Errorf("figures were %v and are %v", before, after)
		}
		read(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
			contacts, err := tx.HeadContacts(models.HeadContactFilter{PlayerID: w.bram.ID})
			downs, err2 := tx.StandDowns(models.StandDownFilter{PlayerID: w.bram.ID})
			if len(contacts)+len(downs) > 0 || err2 != nil {
				t.Errorf("head contacts %v and stand-downs %v are left, %v", contacts, downs, err2)
			}
			return err
		})
	})
}

// A head contact without its moment stops the whole match. Once its minute is sent, what came before it counts, and
// there is still one.
func TestAHeadContactGetsItsMinuteLaterAndStaysOne(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w, _ := stopWorld(t, s)
		contact := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&contact) })
		if got := w.figuresOf(t, w.bram.ID)[w.match.ID]; len(got) > 0 {
			t.Errorf("without its moment the match counts: %v", got)
		}
		for _, clock := range []models.Clock{{Half: 2, Second: 3000}, {Half: 2, Second: 3000}} {
			timed := models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID, Clock: &clock}
			write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateHeadContact(&timed) })
			if timed.ID != contact.ID || timed.Clock == nil || *timed.Clock != clock {
				t.Errorf("with its moment it is %+v, want %d", timed, contact.ID)
			}
		}
		if got := w.figuresOf(t, w.bram.ID)[w.match.ID]["tackles"]; got[0] != 1 {
			t.Errorf("tackles %v, want the one at 40:00", got)
		}
		w.consistent(t, "timed")
		says(t, refused(t, s, w.coach, models.Invalid, func(tx *store.Tx) error {
			return tx.CreateHeadContact(&models.HeadContact{PlayerID: w.bram.ID, Date: w.match.Date, MatchID: &w.match.ID,
				Clock: &models.Clock{Half: 7, Second: 3000}})
		}), "clock")
	})
}
