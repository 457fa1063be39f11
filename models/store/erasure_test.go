package store_test

import (
	"bytes"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestAnErasureLeavesWhatFiguresRestOn(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		write(t, s, w.coach, func(tx *store.Tx) error {
			w.log.Kinds = append(w.log.Kinds, models.KindReposition)
			if err := tx.UpdateLog(&w.log); err != nil {
				return err
			}
			for n, head := range []bool{false, true} {
				feet, seconds := map[string]float64{"seconds_to_feet": float64(2 + 7*n)}, map[string]float64{"seconds": 3}
				for _, i := range []models.Involvement{
					{Kind: models.KindTackle, Details: map[string]string{"result": "won"}, Measures: feet},
					{Kind: models.KindReposition, Details: map[string]string{"in_place": "yes"}, Measures: seconds},
				} {
					i.LogID, i.Clock, i.HeadContact = w.log.ID, clock(1, 20+n, 0), head
					if err := tx.CreateInvolvement(&i); err != nil {
						return err
					}
				}
			}
			return nil
		})
		observations := func() (all []models.Observation) {
			read(t, s, w.manager, func(tx *store.Tx) (err error) {
				all, err = tx.Observations(models.ObservationFilter{})
				return err
			})
			return all
		}
		before := observations()
		if !slices.ContainsFunc(before, func(o models.Observation) bool { return o.Indicator == "back_to_feet" }) {
			t.Fatalf("the world has no figure that a head contact is left out of: %+v", before)
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			checked, differ, err := tx.Recompute(0)
			if checked == 0 || len(differ) > 0 {
				t.Errorf("after the erasure, %d of %d figures are not what they were: %+v", len(differ), checked, differ)
			}
			return err
		})
		if after := observations(); !reflect.DeepEqual(before, after) {
			t.Errorf("figures were %+v and are %+v", before, after)
		}
		var marks int64
		err := s.Pool(t.Context()).Raw("SELECT count(*) FROM involvements WHERE head_contact").Scan(&marks).Error
		if err != nil || marks != 0 {
			t.Errorf("%d marks of head contacts are left, %v", marks, err)
		}
	})
}

// TestAnErasureWaitsForReadersOfTheFileAndSaysSo holds a state of the file from before an erasure, as a long report
// or a backup by another program does.
func TestAnErasureWaitsForReadersOfTheFileAndSaysSo(t *testing.T) {
	url := storetest.SQLite(t)
	path := strings.TrimPrefix(url, "sqlite:")
	opened := func() *store.Store {
		s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	held := func(word string) (files []string) {
		all, err := filepath.Glob(path + "*")
		if err != nil || len(all) == 0 {
			t.Fatalf("files %v, %v", all, err)
		}
		for _, name := range all {
			content, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if bytes.Contains(content, []byte(word)) {
				files = append(files, filepath.Base(name))
			}
		}
		return files
	}
	pending := func(s *store.Store, w *world) (all []bool) {
		read(t, s, w.manager, func(tx *store.Tx) error {
			requests, err := tx.DataRequests()
			for _, r := range requests {
				all = append(all, r.FilePending)
			}
			return err
		})
		return all
	}
	s := opened()
	w := newWorld(t, s)
	w.markBram(t)
	db, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	look := func() (release func()) {
		reader, err := db.BeginTx(t.Context(), nil)
		if err != nil {
			t.Fatal(err)
		}
		var n int
		if err := reader.QueryRowContext(t.Context(), "SELECT count(*) FROM players").Scan(&n); err != nil || n == 0 {
			t.Fatalf("%d players, %v", n, err)
		}
		return func() { _ = reader.Rollback() }
	}

	release := look()
	s.Impatient()
	proof, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer)
	if err != nil || !proof.FilePending || len(held(secret)) == 0 {
		t.Fatalf("while a reader holds the file: %+v, %v, in %v; want a proof with the file pending", proof, err,
			held(secret))
	}
	if err := s.RewriteFile(t.Context()); err == nil || !slices.Equal(pending(s, w), []bool{true}) {
		t.Errorf("again, with the reader there: %v, pending %v", err, pending(s, w))
	}
	release()
	err = s.RewriteFile(t.Context())
	if err != nil || !slices.Equal(pending(s, w), []bool{false}) || len(held(secret)) > 0 {
		t.Errorf("once the reader has gone: %v, pending %v, in %v", err, pending(s, w), held(secret))
	}

	release = look()
	another, err := s.ErasePlayer(t.Context(), w.manager, w.iver.ID, w.iver.Name, models.AskedByPlayer)
	if err != nil || !another.FilePending {
		t.Fatalf("%+v, %v", another, err)
	}
	if err := s.Close(); err != nil {
		t.Errorf("a store that closes with the file pending: %v", err)
	}
	if len(held("Iver Strand")) == 0 {
		t.Fatal("the reader holds no name any more, and what follows tests nothing")
	}
	release()
	s = opened() // the next start goes on
	defer s.Close()
	if got := pending(s, w); !slices.Equal(got, []bool{false, false}) || len(held("Iver Strand")) > 0 {
		t.Errorf("after the next start, pending %v, in %v", got, held("Iver Strand"))
	}
	third, err := s.ErasePlayer(t.Context(), w.manager, w.noor.ID, w.noor.Name, models.AskedByPlayer)
	if err != nil || third.FilePending || len(held("Noor Vale")) > 0 {
		t.Errorf("without a reader: %+v, %v, in %v", third, err, held("Noor Vale"))
	}
}

func TestAnExportHoldsTheStintsOfADeletedAppearance(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		school := models.Appearance{MatchID: w.schoolMatch.ID, PlayerID: w.bram.ID,
			Stints: []models.Stint{{On: clock(1, 3, 17), Off: clock(1, 29, 0)}}}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateAppearance(&school) })
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.DeleteAppearance(school.ID, school.Version) })
		record, err := s.ExportPlayer(t.Context(), w.manager, w.bram.ID, models.AskedByPlayer)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range record.Parts {
			if p.Code != "appearances" {
				continue
			}
			last := string(p.Items[len(p.Items)-1])
			if !strings.Contains(last, `"deleted_at"`) || !strings.Contains(last, `"second":197`) {
				t.Errorf("the deleted appearance is exported as %s; want its stint from 3:17", last)
			}
		}
	})
}

// TestTheProofOfAnErasureSearchesEveryColumnOfText writes a name into each column that the database has, one after
// the other. Only SQLite lets a test write what a check forbids; the columns are the same on both, which another
// test sees to.
func TestTheProofOfAnErasureSearchesEveryColumnOfText(t *testing.T) {
	url := storetest.SQLite(t)
	s := storetest.With(t, url, store.Options{Now: storetest.Now})
	w := newWorld(t, s)
	w.markBram(t)
	path := strings.TrimPrefix(url, "sqlite:")
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=ignore_check_constraints(1)&_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.ExecContext(t.Context(), "DROP TRIGGER audit_entries_stay"); err != nil {
		t.Fatal(err)
	}
	texts := map[string][]string{}
	found, err := db.QueryContext(t.Context(),
		`SELECT m.name, c.name FROM sqlite_master AS m, pragma_table_info(m.name) AS c
		WHERE m.type = 'table' AND lower(c.type) = 'text' AND m.name IN
		(SELECT o.name FROM sqlite_master AS o, pragma_table_info(o.name) AS a WHERE a.name = 'academy_id')`)
	if err != nil {
		t.Fatal(err)
	}
	for found.Next() {
		var table, column string
		if err := found.Scan(&table, &column); err != nil {
			t.Fatal(err)
		}
		texts[table] = append(texts[table], column)
	}
	if err := errorsOf(found); err != nil || len(texts) < 30 {
		t.Fatalf("%d tables with text, %v", len(texts), err)
	}
	tried := 0
	for table, columns := range texts {
		id := "id"
		switch table {
		case "audit_entries":
			id = "number"
		case "earlier_versions":
			id = "record_id"
		}
		fill(t, db, table, w.academy.ID)
		for _, column := range columns {
			if !slices.Contains(s.Texts(table), column) {
				continue // its type in models says that no one writes freely there
			}
			tried++
			name := "Zq" + strings.ReplaceAll(table+column, "_", "")
			const update = "UPDATE %[1]s SET %[2]s = ? WHERE academy_id = ? AND %[3]s = (SELECT min(%[3]s) FROM %[1]s)"
			done, err := db.ExecContext(t.Context(), fmt.Sprintf(update, table, column, id), `["`+name+`"]`, w.academy.ID)
			if err != nil {
				t.Fatalf("%s.%s: %v", table, column, err)
			}
			if n, err := done.RowsAffected(); err != nil || n != 1 {
				t.Fatalf("there is no row of %s to write a name into", table)
			}
			read(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
				all, err := tx.Mentions(models.Player{Name: name})
				if len(all) != 1 {
					t.Errorf("a name in %s.%s is found in %v; want it found once", table, column, all)
				}
				return err
			})
		}
	}
	if tried < 45 {
		t.Errorf("only %d columns were written to: look at which fields of models have the tag texts:\"-\"", tried)
	}
}

// fill writes a row into a table that has none, by what its columns are, past every check and reference.
func fill(t *testing.T, db *sql.DB, table string, academy int64) {
	t.Helper()
	var there int
	if err := db.QueryRowContext(t.Context(), "SELECT count(*) FROM "+table).Scan(&there); err != nil || there > 0 {
		return
	}
	const values = `SELECT group_concat(name),
		group_concat(CASE WHEN name = 'academy_id' THEN ?2 WHEN lower(type) = 'text' THEN '''x''' ELSE 1 END)
		FROM pragma_table_info(?1) WHERE "notnull"`
	var columns, row string
	if err := db.QueryRowContext(t.Context(), values, table, academy).Scan(&columns, &row); err != nil {
		t.Fatalf("%s: %v", table, err)
	}
	if _, err := db.ExecContext(t.Context(), fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", table, columns,
		row)); err != nil {
		t.Fatalf("%s: %v", table, err)
	}
}

func errorsOf(rows *sql.Rows) error {
	if err := rows.Err(); err != nil {
		return err
	}
	return rows.Close()
}
