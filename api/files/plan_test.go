package files

import (
	"encoding/json"
	"maps"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

const twoPlayers = "season,squad,match_date,opponent,player,minutes,carries\n" +
	"2025-26,Colts,2025-10-04,Fellmoor,Bram Oakes,60,5\n2025-26,Colts,2025-10-04,Fellmoor,Tove Lind,70,9\n"

func readTotals(t *testing.T, text string) *Totals {
	t.Helper()
	totals, err := ReadTotals(t.Context(), strings.NewReader(text), TotalsOptions{Source: "autumn.csv"})
	if err != nil {
		t.Fatal(err)
	}
	return totals
}

// TestAPlanThatIsOvertakenIsMadeAgain has a squad made by hand between the planning of a file and its import.
func TestAPlanThatIsOvertakenIsMadeAgain(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a, err := s.CreateAcademy(t.Context(), "Hazel Ridge Academy")
		if err != nil {
			t.Fatal(err)
		}
		who, totals := models.Console(a.ID), readTotals(t, twoPlayers)
		p, err := totals.plan(t.Context(), s, who)
		if err != nil || p.summary.Squads.Created != 1 {
			t.Fatalf("the plan: %+v, %v", p, err)
		}
		err = s.Write(t.Context(), who, func(tx *store.Tx) error { return tx.CreateSquad(&models.Squad{Name: "Colts"}) })
		if err != nil {
			t.Fatal(err)
		}
		sum, err := totals.apply(t.Context(), s, who, p)
		if err != nil || sum.Squads != (Tally{Unchanged: 1}) || sum.Appearances.Created != 2 {
			t.Errorf("the import: %+v, %v; want the squad as it is now", sum, err)
		}
	})
}

func TestTheTrailSaysWhatAnImportMadeAndChanged(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a, err := s.CreateAcademy(t.Context(), "Hazel Ridge Academy")
		if err != nil {
			t.Fatal(err)
		}
		who := models.Console(a.ID)
		trail := func() (all []models.AuditEntry) {
			err := s.Read(t.Context(), who, func(tx *store.Tx) (err error) {
				all, err = tx.AuditEntries(models.AuditFilter{})
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			return all
		}
		add := func(text string) []models.AuditEntry {
			before := len(trail())
			if _, err := readTotals(t, text).Import(t.Context(), s, who); err != nil {
				t.Fatal(err)
			}
			return trail()[before:]
		}
		entries := add(twoPlayers)
		last, rest := entries[len(entries)-1], entries[:len(entries)-1]
		var said struct{ After models.Imported }
		if last.Action != models.AuditImport || last.Payload == nil || json.Unmarshal([]byte(*last.Payload), &said) != nil {
			t.Fatalf("the last entry is %+v; want that of the import", last)
		}
		if said.After.Source != "autumn.csv" || said.After.Entries != len(rest) {
			t.Errorf("it says %+v; want the file's name, and the %d entries before it", said.After, len(rest))
		}
		made := map[string]int{}
		for _, e := range rest {
			made[e.Kind]++
			if e.RecordID == 0 || e.Action != models.AuditCreate {
				t.Errorf("an entry of something else than a new record: %+v", e)
			}
		}
		// Two players of one squad, each with a membership and an appearance in one match of one season.
		want := map[string]int{"season": 1, "squad": 1, "player": 2, "membership": 2, "match": 1, "play": 2}
		if !maps.Equal(made, want) {
			t.Errorf("the trail has %v; want %v", made, want)
		}
		if entries := add(twoPlayers); len(entries) != 0 {
			t.Errorf("the same file once more leaves %d entries", len(entries))
		}
		entries = add(strings.Replace(twoPlayers, "60,5", "60,6", 1))
		if len(entries) != 2 || entries[0].Action != models.AuditChange || entries[1].Action != models.AuditImport {
			t.Errorf("another count leaves %+v; want its change and the import", entries)
		}
	})
}
