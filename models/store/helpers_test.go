package store_test

import (
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver pgx

	"throughline/models"
	"throughline/models/store"
)

// execute runs statements on a database as the user in its address, below the store.
func execute(t testing.TB, url string, statements ...string) {
	t.Helper()
	driver, address := "pgx", url
	if path, file := strings.CutPrefix(url, "sqlite:"); file {
		driver, address = "sqlite", "file:"+strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(path)
	}
	db, err := sql.Open(driver, address)
	if err != nil {
		t.Fatal(err)
	}
	for _, statement := range statements {
		if _, err := db.ExecContext(t.Context(), statement); err != nil {
			t.Errorf("%s: %v", statement, err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// content is every row of an academy, as text.
func content(t testing.TB, s *store.Store, academy int64) []string {
	t.Helper()
	var all []string
	read(t, s, models.Console(academy), func(tx *store.Tx) error {
		for _, kept := range store.Kept() {
			table, _, err := s.Columns(kept)
			if err != nil {
				return err
			}
			var rows []map[string]any
			if err := tx.Raw().Table(table).Find(&rows).Error; err != nil {
				return err
			}
			for _, row := range rows {
				all = append(all, fmt.Sprint(table, " ", row))
			}
		}
		return nil
	})
	slices.Sort(all)
	return all
}
