package api_test

import (
	"database/sql"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestAReportSurvivesAnyStoredValue writes numbers into every column of numbers that the database takes, as an
// older program or a hand may have, and asks for a report on them.
func TestAReportSurvivesAnyStoredValue(t *testing.T) {
	storetest.OneByOne(t)
	address := storetest.SQLite(t)
	s, err := store.Open(t.Context(), address, store.Options{Now: storetest.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	a := apitest.Serve(t, s)
	defer a.Stop()
	err = s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		matches, err := tx.Matches(models.MatchFilter{PlayerID: a.Bryn.ID})
		if err != nil {
			return err
		}
		coach, err := tx.Users(models.UserFilter{Login: "ansel"})
		if err != nil {
			return err
		}
		played := matches[0].ID
		for _, change := range []error{
			tx.CreateGoal(&models.Goal{PlayerID: a.Bryn.ID, OwnerID: coach[0].ID, Indicator: "carries", SetOn: "2025-09-01",
				By: "2026-03-01", Target: 9, Why: "More.",
				Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}),
			tx.CreateTeamTotals(&models.TeamTotals{MatchID: played, Scope: models.WholeTeam,
				Counts: models.Counts{"carries": 90}}),
			tx.CreateMinutesLimit(&models.MinutesLimit{Name: "A week", Days: 7, Minutes: 140}),
		} {
			if change != nil {
				return change
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", "file:"+strings.TrimPrefix(address, "sqlite:")+"?_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	recompute := func(what string) {
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			_, _, err := tx.Recompute(0)
			return err
		})
		if err != nil {
			t.Errorf("%s: recompute: %v", what, err)
		}
	}
	manager, program := a.SignIn(t, "mabyn"), a.Program(t, "mabyn")
	look := func(what string) {
		season := fmt.Sprintf("/players/%d/seasons/%d", a.Bryn.ID, a.Season.ID)
		for path, by := range map[string]*apitest.Client{season: manager, "/": manager, "/api/v1" + season +
			"/report": program} {
			if got := by.Get(path); got.Status != http.StatusOK {
				t.Errorf("%s: %s is answered %d", what, path, got.Status)
			}
		}
	}
	for table, columns := range columnsOfNumbers(t, db) {
		derived := table == "observations" || table == "carry_cells"
		for _, column := range columns {
			for _, value := range []string{"5e-324", "10000000000000002", "1.7e308", "-1.7e308"} {
				what, was := table+"."+column+" is "+value, map[int64]any{}
				if !derived {
					was = valuesOf(t, db, table, column)
				}
				of := value
				if column == "counts" {
					of = fmt.Sprintf(`'{"carries": %[1]s, "tackles_made": %[1]s}'`, value)
				}
				if _, err := db.ExecContext(t.Context(), fmt.Sprintf("UPDATE %s SET %s = %s", table, column, of)); err != nil {
					continue // the database itself refuses it
				}
				look(what)
				recompute(what)
				if derived {
					continue // and is what it was
				}
				look(what + ", and recomputed")
				for id, value := range was {
					if _, err := db.ExecContext(t.Context(), fmt.Sprintf("UPDATE %s SET %s = ? WHERE id = ?", table, column), value,
						id); err != nil {
						t.Fatal(err)
					}
				}
				recompute("what was")
			}
		}
	}
}

// columnsOfNumbers are the columns of a SQLite file that hold numbers with a fraction, by table.
func columnsOfNumbers(t *testing.T, db *sql.DB) map[string][]string {
	t.Helper()
	all := map[string][]string{"match_totals": {"counts"}, "team_totals": {"counts"}}
	found, err := db.QueryContext(t.Context(),
		`SELECT m.name, c.name FROM sqlite_master AS m, pragma_table_info(m.name) AS c
		WHERE m.type = 'table' AND lower(c.type) = 'real'
			AND m.name NOT IN ('forecasts', 'forecast_pairs')`) // which no report reads
	if err != nil {
		t.Fatal(err)
	}
	defer found.Close()
	for found.Next() {
		var table, column string
		if err := found.Scan(&table, &column); err != nil {
			t.Fatal(err)
		}
		all[table] = append(all[table], column)
	}
	if err := found.Err(); err != nil || len(all) < 6 {
		t.Fatalf("columns of numbers: %v, %v", all, err)
	}
	return all
}

// valuesOf are the values of a column, by id.
func valuesOf(t *testing.T, db *sql.DB, table, column string) map[int64]any {
	t.Helper()
	found, err := db.QueryContext(t.Context(), fmt.Sprintf("SELECT id, %s FROM %s", column, table))
	if err != nil {
		t.Fatal(err)
	}
	defer found.Close()
	all := map[int64]any{}
	for found.Next() {
		var id int64
		var value any
		if err := found.Scan(&id, &value); err != nil {
			t.Fatal(err)
		}
		all[id] = value
	}
	return all
}
