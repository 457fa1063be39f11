package store_test

import (
	"fmt"
	"math"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestOpeningKeepsTheEvidenceAsItWas keeps trends of eight colts, opens a comparison, and then keeps others.
func TestOpeningKeepsTheEvidenceAsItWasUntilThePlayerIsErased(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		ids := []int64{w.bram.ID, w.tove.ID}
		write(t, s, w.manager, func(tx *store.Tx) error {
			for n := range 6 {
				p := models.Player{Name: fmt.Sprint("Colt ", n), Positions: []models.Position{models.Flanker}}
				if err := tx.CreatePlayer(&p); err != nil {
					return err
				}
				ids = append(ids, p.ID)
			}
			return nil
		})
		keep := func(level float64) {
			t.Helper()
			write(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
				of, err := tx.SquadSeason(w.season.ID, w.colts.ID)
				if err != nil {
					return err
				}
				out, err := tx.LeftOut(w.season.ID, w.colts.ID)
				if err != nil {
					return err
				}
				of.LeftOut = models.PlayerList(out)
				var trends []models.Trend
				for n, id := range ids {
					draws := make(models.Draws, models.DrawsKept)
					for d := range draws {
						draws[d] = level + float64(n)/10 + math.Sin(float64(d*(n+1)))/20
					}
					trends = append(trends, models.Trend{PlayerID: id, Indicator: "contact_won", Draws: draws,
						Figures: models.TrendFigures{Verdict: "steady", Matches: 9,
							Now: &models.Estimate{Mean: level + float64(n)/10}}})
				}
				return tx.KeepTrends(of, trends)
			})
		}
		keep(0.3)
		m := w.meeting()
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&m) })
		unread := func(tx *store.Tx) error { _, err := tx.CandidateEvidence(m.ID); return err }
		refused(t, s, w.manager, models.Conflict, unread)
		write(t, s, w.manager, func(tx *store.Tx) error { m.Status = models.MeetingLocked; return tx.UpdateMeeting(&m) })
		refused(t, s, w.manager, models.Conflict, unread)
		write(t, s, w.manager, func(tx *store.Tx) error { m.Status = models.MeetingOpened; return tx.UpdateMeeting(&m) })
		keep(0.5)
		evidence := func(who models.Who) (all []models.CandidateEvidence) {
			t.Helper()
			read(t, s, who, func(tx *store.Tx) (err error) { all, err = tx.CandidateEvidence(m.ID); return err })
			return all
		}
		all := evidence(w.manager)
		if len(all) != 2 || all[0].PlayerID != w.bram.ID || all[0].Late {
			t.Fatalf("the evidence is %+v; want two candidates", all)
		}
		l := all[0].Lines[0]
		z := models.UnpackDraws(l.Standard)
		if l.Level == nil || l.Level.Mean != 0.3 || l.Players != 7 || len(z) != models.DrawsKept || m.Revision == 0 {
			t.Fatalf("the line is %+v with %d draws; want the level from before, among seven", l, len(z))
		}
		if sum := z[0] + z[1]; !(sum < 0) { // the lowest of the eight
			t.Errorf("the lowest of the group stands at %v and %v", z[0], z[1])
		}
		if got := evidence(w.selector); len(got) != 2 {
			t.Errorf("the selector reads %d candidates; want 2", len(got))
		}
		m.Candidates = append(m.Candidates, models.Candidate{PlayerID: w.iver.ID, Place: "Back row"})
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.UpdateMeeting(&m) })
		for _, e := range evidence(w.manager) {
			if e.Late != (e.PlayerID == w.iver.ID) {
				t.Errorf("player %d is late: %v", e.PlayerID, e.Late)
			}
		}
		if got := evidence(w.selector); len(got) != 2 {
			t.Errorf("the selector reads %d candidates; want 2, without the junior out of reach", len(got))
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		for _, e := range evidence(w.manager) {
			if e.PlayerID == w.bram.ID {
				t.Error("the evidence on an erased player stays")
			}
		}
	})
}

// TestTheRecordOfAMeetingSaysWhoHadOpenedAReportBeforeItsCriteriaWereLocked and not who did after.
func TestTheRecordOfAMeetingSaysWhoHadOpenedAReportBeforeItsCriteriaWereLocked(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		m := w.meeting()
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&m) })
		read(t, s, w.coach, func(tx *store.Tx) error { tx.Opened(w.bram.ID, w.season.ID); return nil })
		if err := s.AccountForReads(t.Context()); err != nil {
			t.Fatal(err)
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			got, err := tx.Meeting(m.ID)
			if err != nil || len(got.OpenedBefore) != 1 || got.OpenedBefore[0].UserID != w.coach.UserID ||
				got.OpenedBefore[0].PlayerID != w.bram.ID || got.OpenedBefore[0].Name != w.coach.Name {
				t.Errorf("opened before: %+v, %v; want the coach, of bram", got.OpenedBefore, err)
			}
			return nil
		})
	})
}
