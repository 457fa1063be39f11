package store_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"throughline/models/store"
)

// reference is a foreign key: a column of one table that refers to the id of another.
type reference struct{ From, Column, Target string }

// field is a column of a table in the database.
type field struct {
	Table, Name, Type string
	Required          bool // it is never NULL
}

// index is a list of columns of a table by which the database finds rows.
type index struct {
	Table, Name string
	Columns     []string
}

// catalogue is what the database itself says of its tables.
type catalogue struct {
	references []reference
	fields     []field
	indexes    []index
}

// mine leaves out the tables that libraries bring, migrate and use by themselves.
const mine = "NOT LIKE 'sqlite%%' AND %[1]s NOT LIKE 'goose%%' AND %[1]s NOT LIKE 'river%%'"

func catalogueOf(t *testing.T, s *store.Store) catalogue {
	t.Helper()
	var c catalogue
	var found []struct{ Table, Name, Columns string }
	own := func(column string) string { return fmt.Sprintf("%[1]s "+mine, column) }
	references := `SELECT m.name AS "from", f."from" AS "column", f."table" AS target
		FROM sqlite_master AS m, pragma_foreign_key_list(m.name) AS f WHERE m.type = 'table' AND f."from" <> 'academy_id'
		AND ` + own("m.name")
	fields := `SELECT m.name AS "table", c.name, lower(c.type) AS type, c."notnull" OR c.pk > 0 AS required
		FROM sqlite_master AS m, pragma_table_info(m.name) AS c WHERE m.type = 'table' AND ` + own("m.name")
	indexes := `SELECT m.name AS "table", i.name, (SELECT group_concat(name) FROM pragma_index_info(i.name)) AS columns
		FROM sqlite_master AS m, pragma_index_list(m.name) AS i WHERE m.type = 'table' AND ` + own("m.name")
	if s.Postgres() {
		references = `SELECT f.relname AS "from", a.attname AS "column", t.relname AS target
			FROM pg_constraint AS c JOIN pg_class AS f ON f.oid = c.conrelid
			JOIN pg_class AS t ON t.oid = c.confrelid, unnest(c.conkey) AS k (attnum), pg_attribute AS a
			WHERE c.contype = 'f' AND a.attrelid = c.conrelid AND a.attnum = k.attnum AND a.attname <> 'academy_id'
			AND ` + own("f.relname")
		fields = `SELECT f.relname AS "table", a.attname AS name, format_type(a.atttypid, NULL) AS type,
			a.attnotnull AS required
			FROM pg_class AS f JOIN pg_attribute AS a ON a.attrelid = f.oid WHERE f.relkind = 'r'
			AND f.relnamespace = 'public'::regnamespace
			AND a.attnum > 0 AND NOT a.attisdropped AND ` + own("f.relname")
		indexes = `SELECT f.relname AS "table", i.relname AS name, string_agg(a.attname, ',' ORDER BY k.n) AS columns
			FROM pg_index AS x JOIN pg_class AS i ON i.oid = x.indexrelid JOIN pg_class AS f ON f.oid = x.indrelid,
				unnest(x.indkey::int[]) WITH ORDINALITY AS k (attnum, n), pg_attribute AS a
			WHERE f.relnamespace = 'public'::regnamespace AND a.attrelid = f.oid AND a.attnum = k.attnum
			AND ` + own("f.relname") + ` GROUP BY f.relname, i.relname`
	}
	db := s.Pool(t.Context())
	for statement, into := range map[string]any{references: &c.references, fields: &c.fields, indexes: &found} {
		if err := db.Raw(statement).Scan(into).Error; err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
	}
	for _, i := range found {
		c.indexes = append(c.indexes, index{i.Table, i.Name, strings.Split(i.Columns, ",")})
	}
	if len(c.references) < 40 || len(c.fields) < 300 || len(c.indexes) < 60 {
		t.Fatalf("only %d references, %d columns and %d indexes found", len(c.references), len(c.fields), len(c.indexes))
	}
	return c
}

// field finds a column; the second value is false if the table has no such column.
func (c catalogue) field(table, name string) (field, bool) {
	at := slices.IndexFunc(c.fields, func(f field) bool { return f.Table == table && f.Name == name })
	if at < 0 {
		return field{}, false
	}
	return c.fields[at], true
}

// indexed says whether an index finds rows by a column, after the academy and at most one reference to another record.
func (c catalogue) indexed(table, column string) bool {
	return slices.ContainsFunc(c.indexes, func(i index) bool {
		at := slices.Index(i.Columns, column)
		switch {
		case i.Table != table || at < 1 || i.Columns[0] != "academy_id":
			return false
		case at == 1:
			return true
		}
		return at == 2 && strings.HasSuffix(i.Columns[1], "_id")
	})
}

// leads says whether an index finds rows by a column, after the academy alone.
func (c catalogue) leads(table, column string) bool {
	return slices.ContainsFunc(c.indexes, func(i index) bool {
		return i.Table == table && len(i.Columns) > 1 && i.Columns[0] == "academy_id" && i.Columns[1] == column
	})
}

// fileOf is the file in which the kind of a table is declared.
func fileOf(t *testing.T, table string) string {
	t.Helper()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasSuffix(name, "_test.go") && strings.Contains(string(text), fmt.Sprintf("table: %q, area:", table)) {
			return "models/store/" + name
		}
	}
	return "models/store/registry.go"
}
