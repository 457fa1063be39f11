package store_test

import (
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// A program that sends a record again gets the one that there is. Under the same key something else is never taken for
// it in silence.
func TestTheKeyOfARecordStandsForWhatItWasMadeOf(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		carry := func() models.Involvement {
			return models.Involvement{
				LogID: w.log.ID, Clock: clock(1, 30, 0), Kind: models.KindCarry, Details: map[string]string{"contact": "won",
					"gain_line": "over"}, Key: "tablet:1",
			}
		}
		send := func(i models.Involvement) (models.Involvement, error) {
			err := s.Write(t.Context(), w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&i) })
			return i, err
		}
		made, err := send(carry())
		if err != nil {
			t.Fatal(err)
		}
		other := carry()
		other.Details = map[string]string{"contact": "lost", "gain_line": "over"}
		refused := func(when string, i models.Involvement) {
			t.Helper()
			if _, err := send(i); models.CodeOf(err) != models.Conflict {
				t.Errorf("%s, something else under the same key: %v; want that it is in the way", when, err)
			}
		}
		same := func(when string) {
			t.Helper()
			if got, err := send(carry()); err != nil || got.ID != made.ID {
				t.Errorf("%s, the same again: involvement %d, %v; want %d", when, got.ID, err, made.ID)
			}
		}
		same("at first")
		refused("at first", other)
		changed := other
		changed.Record = made.Record
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.UpdateInvolvement(&changed) })
		same("after a change")
		refused("after a change", other)

		log := models.Log{MatchID: w.match.ID, PlayerID: w.log.PlayerID, LoggerID: w.manager.UserID, Depth: models.Core,
			Kinds: []models.Kind{models.KindCarry}, Key: "a-log"}
		sendLog := func(l models.Log) error {
			return s.Write(t.Context(), w.manager, func(tx *store.Tx) error { return tx.CreateLog(&l) })
		}
		if err := sendLog(log); err != nil {
			t.Fatal(err)
		}
		if err := sendLog(log); err != nil {
			t.Errorf("the same log again: %v", err)
		}
		log.Kinds = []models.Kind{models.KindTackle}
		if err := sendLog(log); models.CodeOf(err) != models.Conflict {
			t.Errorf("another log under the same key: %v; want that it is in the way", err)
		}
	})
}
