package store_test

import (
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// The tests of this file compare what the kinds say of themselves with what the database says of its tables. Each
// failure names the file and the field to write.

func declaredAs(table string) (all []store.Declared) {
	for _, d := range store.DeclaredTables() {
		if d.Name == table {
			all = append(all, d)
		}
	}
	return all
}

func TestEveryTableIsInTheRegistry(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := catalogueOf(t, s)
		there := map[string]bool{}
		for _, f := range c.fields {
			if !there[f.Table] && len(declaredAs(f.Table)) == 0 {
				t.Errorf("the table %s is not in models/store/registry.go: add its kind to kinds(), or a line to besideKinds() "+
					"where it has none", f.Table)
			}
			there[f.Table] = true
		}
		for _, d := range store.DeclaredTables() {
			if !there[d.Name] {
				folder := map[bool]string{true: "postgres", false: "sqlite"}[s.Postgres()]
				t.Errorf("models/store/registry.go declares the table %s, which no migration in migrations/%s makes: write "+
					"CREATE TABLE there too", d.Name, folder)
				continue
			}
			if _, known := c.field(d.Name, d.Known); !known {
				t.Errorf("models/store/registry.go: %s has no column %q; write the one by which people know a row as known",
					d.Name, d.Known)
			}
		}
	})
}

func TestEveryKindSaysWhomItsRowsAreAbout(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := catalogueOf(t, s)
		about := map[string]string{} // a table of rows about players, and the column that says who
		for _, d := range store.DeclaredTables() {
			if d.Player != "" {
				about[d.Name] = d.Player
			}
		}
		for _, d := range store.DeclaredTables() {
			if !d.Kind {
				continue
			}
			for _, r := range c.references {
				column := about[r.Target]
				if r.Target == "players" {
					column = d.Name + "." + r.Column
				}
				if r.From == d.Name && r.Target != d.Name && column != "" && d.Player == "" && d.Whose != store.Nobodys {
					t.Errorf("%s: %s refers to %s by %s, and its kind does not say whose its rows are: write whose: %q (and join "+
						"%s by joins), or whose: nobodys "+
						"where load takes out players; until then selectors see minors without consent", fileOf(t, d.Name), d.Name,
						r.Target, r.Column, column, r.Target)
				}
			}
			if d.Player != "" && d.Owner == nil {
				t.Errorf("%s: write player: about(func(r *models.…) int64 { return r.PlayerID }), or with tx.playerOf, "+
					"so that the audit trail and an erasure find the entries about a player", fileOf(t, d.Name))
			}
		}
	})
}

func TestEveryKindNamesItsUsers(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := catalogueOf(t, s)
		for _, d := range store.DeclaredTables() {
			for _, r := range c.references {
				if r.From == d.Name && r.Target == "users" && !slices.Contains(d.Users, r.Column) {
					t.Errorf("%s: %s refers to a user: add %q to users, so that an export says who it was", fileOf(t, d.Name), d.Name,
						r.Column)
				}
			}
			for _, f := range c.fields {
				number := strings.Contains(f.Type, "int")
				if f.Table == d.Name && number && (strings.HasSuffix(f.Name, "_by") || f.Name == "user_id") &&
					!slices.Contains(d.Users, f.Name) {
					t.Errorf("%s: %s names a user: add %q to users, so that an export says who it was", fileOf(t, d.Name), d.Name,
						f.Name)
				}
			}
			for _, column := range d.Users {
				if _, there := c.field(d.Name, column); !there || !member(d.Row, column) {
					t.Errorf("%s: users has %q, which is not both a column and a member of the JSON", fileOf(t, d.Name), column)
				}
			}
		}
	})
}

// member says whether a row is written with a member of that name in JSON.
func member(row any, name string) bool {
	return slices.ContainsFunc(reflect.VisibleFields(reflect.TypeOf(row)), func(f reflect.StructField) bool {
		as, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		return as == name
	})
}

func TestEveryKindHoldsWhatRefersToIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := catalogueOf(t, s)
		for _, r := range c.references {
			to, from := declaredAs(r.Target), declaredAs(r.From)
			if len(to) == 0 || len(from) == 0 || !to[0].Kind || !from[0].Kind {
				continue
			}
			if r.Target == "users" {
				continue // a deleted user is still who it was; TestEveryKindNamesItsUsers asks for the name
			}
			held := store.Held{Table: r.From, Column: r.Column}
			if r.Column != "academy_id" && !(r.From == "involvements" && r.Column == "log_id" && r.Target == "involvements") &&
				!slices.Contains(to[0].Holds, held) {
				t.Errorf("%s: %s refers to %s by %s, so a %s could be deleted from under it: add {name: \"…\", table: %q, "+
					"column: %q} to holds, with own: goes(…) where its "+
					"rows go with the %s, or stays: \"why\" where they may go on referring to it", fileOf(t, r.Target), r.From,
					r.Target, r.Column, to[0].Called, r.From, r.Column, to[0].Called)
			}
		}
		for _, d := range store.DeclaredTables() {
			for _, h := range d.Holds {
				if !slices.ContainsFunc(c.references, func(r reference) bool {
					return r.From == h.Table && r.Column == h.Column && r.Target == d.Name
				}) {
					t.Errorf("%s: holds has %s.%s, which does not refer to %s", fileOf(t, d.Name), h.Table, h.Column, d.Name)
				}
				if !c.indexed(h.Table, h.Column) {
					t.Errorf("nothing finds %s by %s when a %s is deleted: write CREATE INDEX … ON %s (academy_id, %s) in "+
						"its migration", h.Table, h.Column, d.Called, h.Table, h.Column)
				}
			}
		}
	})
}

// unbound are columns that name a user without a foreign key: they are 0 if the console acted.
var unbound = []string{"links.made_by", "data_requests.done_by"}

// Without a foreign key a row may refer to what is not there, or to another academy's; and nothing above finds that a
// column refers to a kind.
func TestEveryReferenceIsAForeignKey(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := catalogueOf(t, s)
		for _, f := range c.fields {
			all := declaredAs(f.Table)
			if len(all) == 0 || !all[0].Kind || f.Name == "academy_id" || slices.Contains(unbound, f.Table+"."+f.Name) ||
				!strings.HasSuffix(f.Name, "_id") && !slices.Contains(all[0].Users, f.Name) {
				continue
			}
			if !slices.ContainsFunc(c.references, func(r reference) bool { return r.From == f.Table && r.Column == f.Name }) {
				t.Errorf("%s of %s refers to nothing: write FOREIGN KEY (academy_id, %[1]s) REFERENCES … (academy_id, id) in "+
					"its migration", f.Name, f.Table)
			}
		}
	})
}

func TestEveryListIsFoundByAnIndexAndHasNoGapsInItsOrder(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := catalogueOf(t, s)
		for _, d := range store.DeclaredTables() {
			if !d.Kind {
				continue
			}
			columns := strings.Split(d.Order, ", ")
			if last := columns[len(columns)-1]; last != d.Name+".id" {
				t.Errorf("%s: order must end in %s.id, so that no two rows have one place", fileOf(t, d.Name), d.Name)
			}
			for _, column := range columns {
				table, name, qualified := strings.Cut(column, ".")
				f, there := c.field(table, name)
				if qualified && there && (strings.HasPrefix(f.Type, "timestamp") || f.Type == "datetime") {
					t.Errorf("%s: order has %s, a time of day, which a cursor does not keep; order by a day or by id",
						fileOf(t, d.Name), column)
				}
				if qualified && there && !f.Required {
					t.Errorf("%s: order has %s, which may be NULL: a cursor would skip those rows", fileOf(t, d.Name), column)
				}
			}
			table, name, _ := strings.Cut(columns[0], ".")
			dated := table == d.Name && name != "id" && reflectedDate(d.Row, name)
			if dated && !c.indexed(table, name) {
				t.Errorf("%s is listed by %s and nothing finds it by that: write CREATE INDEX %s_date ON %s (academy_id, %s) in "+
					"its migration, "+
					"or with the player or season before the day", table, name, table, table, name)
			}
			if dated && listedBySeason(t, table) && !c.leads(table, name) {
				t.Errorf("%s is listed by season, which is a time from one day to another, and nothing finds it by that: write "+
					"CREATE INDEX %s_date ON %s (academy_id, %s) "+
					"in its migration", table, table, table, name)
			}
		}
	})
}

// listedBySeason says whether the store lists rows by the days of a season, with during.
func listedBySeason(t *testing.T, table string) bool {
	t.Helper()
	text, err := os.ReadFile(strings.TrimPrefix(fileOf(t, table), "models/store/"))
	if err != nil {
		t.Fatal(err)
	}
	return strings.Contains(string(text), fmt.Sprintf("during(%q", table))
}

// reflectedDate says whether a row's type has a date at a column.
func reflectedDate(row any, column string) bool {
	return slices.ContainsFunc(reflect.VisibleFields(reflect.TypeOf(row)), func(f reflect.StructField) bool {
		as, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		return (as == column || strings.Contains(f.Tag.Get("gorm"), "column:"+column)) &&
			f.Type == reflect.TypeFor[models.Date]()
	})
}

func TestTheServingRoleReachesEveryTableAndDeletesOnlyWhatGoesForGood(t *testing.T) {
	s := storetest.Open(t, "postgres")
	type right struct {
		Table                                string
		Reads, Adds, Deletes, Forced, Policy bool
	}
	var rights []right
	err := s.Pool(t.Context()).Raw(`SELECT c.relname AS table, has_table_privilege(c.oid, 'SELECT') AS reads,
		has_table_privilege(c.oid, 'INSERT') AS adds,
		has_table_privilege(c.oid, 'DELETE') OR has_table_privilege(c.oid, 'TRUNCATE') AS deletes, c.relrowsecurity
		AND c.relforcerowsecurity AS forced,
		EXISTS (SELECT 1 FROM pg_policy AS p WHERE p.polrelid = c.oid) AS policy
		FROM pg_class AS c WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace`).Scan(&rights).Error
	if err != nil || len(rights) < 30 {
		t.Fatalf("%d tables, %v", len(rights), err)
	}
	for _, r := range rights {
		all := declaredAs(r.Table)
		if len(all) == 0 {
			continue // TestEveryTableIsInTheRegistry says so
		}
		d := all[0]
		if !r.Reads || !r.Adds && d.Kind {
			t.Errorf("the serving role may not read or add %s: write GRANT SELECT, INSERT, UPDATE ON %[1]s TO "+
				"throughline_serving in its migration for PostgreSQL", r.Table)
		}
		if _, scoped := reflect.TypeOf(d.Row).FieldByName("AcademyID"); scoped && !(r.Forced && r.Policy) {
			t.Errorf("%s has an academy and no row-level security: write ALTER TABLE %[1]s ENABLE, and FORCE, ROW LEVEL "+
				"SECURITY and CREATE POLICY own_academy ON %[1]s "+
				"in its migration for PostgreSQL", r.Table)
		}
		switch want := d.Erased || d.Replaced; {
		case want && !r.Deletes:
			t.Errorf("rows of %s go for good, and the serving role may not delete them: write GRANT DELETE ON %[1]s TO "+
				"throughline_serving in its migration for PostgreSQL", r.Table)
		case !want && r.Deletes:
			t.Errorf("the serving role may delete rows of %s for good, and nothing does: leave DELETE out of its GRANT, or "+
				"say replaced: true in models/store/registry.go", r.Table)
		}
	}
}

// TestASelectorIsShownNothingOfAHiddenMinor reads every list there is, so that a new kind is among them.
func TestASelectorIsShownNothingOfAHiddenMinorInAnyList(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.markBram(t)
		write(t, s, w.manager, func(tx *store.Tx) error { // the one that lets selectors see them
			given, err := tx.Consents(models.ConsentFilter{PlayerID: w.bram.ID, Purpose: models.PurposeSelection})
			if err != nil || len(given) != 1 {
				t.Errorf("consents %v, %v", given, err)
			}
			return tx.DeleteConsent(given[0].ID, given[0].Version)
		})
		seen := func() (kinds []string) {
			for _, d := range store.DeclaredTables() {
				if d.List == nil || d.Owner == nil {
					continue
				}
				read(t, s, w.selector, func(tx *store.Tx) error {
					rows, err := d.List(tx)
					if models.CodeOf(err) == models.Forbidden {
						return nil
					}
					for _, row := range rows {
						player, failed := d.Owner(tx, row)
						if failed != nil {
							return failed
						}
						if player == w.bram.ID && !slices.Contains(kinds, d.Called) {
							kinds = append(kinds, d.Called)
						}
					}
					return err
				})
			}
			return kinds
		}
		if before := seen(); len(before) < 8 {
			t.Fatalf("a selector sees only %v of bram: the story tells nothing", before)
		}
		w.require(t, models.PurposeSelection)
		if after := seen(); len(after) > 0 {
			t.Errorf("a selector is shown the %v of a minor without consent: declare whose they are on the kind", after)
		}
	})
}
