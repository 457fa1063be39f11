package store_test

import (
	"fmt"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestAnInvolvementTakesTwelveStatementsAndAHundredNoMoreThanForty(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		w := newWorld(t, s)
		var seen []string
		if err := s.Statements(url, func(sql string) { seen = append(seen, sql) }); err != nil {
			t.Fatal(err)
		}
		carry := func(n int) models.Involvement {
			return models.Involvement{LogID: w.log.ID, Clock: models.Clock{Half: 1, Second: 20 * n}, Kind: models.KindCarry,
				Key: fmt.Sprint("tablet:", n), Details: map[string]string{"contact": "won", "gain_line": "over"},
				Measures: map[string]float64{"metres": 4}}
		}
		within := func(name string, most int, fn func(tx *store.Tx) error) {
			t.Helper()
			seen = nil
			write(t, s, w.coach, fn)
			if len(seen) > most {
				t.Errorf("%s takes %d statements, BEGIN and COMMIT among them; want at most %d:\n%s",
					name, len(seen), most, strings.Join(seen, "\n"))
			} else {
				t.Logf("%s takes %d statements", name, len(seen))
			}
		}
		within("one involvement", 12, func(tx *store.Tx) error {
			one := carry(0)
			return tx.CreateInvolvement(&one)
		})
		within("a hundred involvements", 40, func(tx *store.Tx) error {
			var many []*models.Involvement
			for n := range 100 {
				one := carry(n + 1)
				many = append(many, &one)
			}
			refused, err := tx.CreateInvolvements(w.log.ID, many)
			for _, err := range refused {
				if err != nil {
					return err
				}
			}
			return err
		})
	})
}
