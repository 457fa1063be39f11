package store_test

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// beforeWords is the version of the schema before grades kept the words they were given under.
const beforeWords = 30

// oldGrades fill an academy of a database of that version: a grade of a built-in skill, one of a skill of the
// academy's own, and one of a skill that was deleted later.
func oldGrades(academy int, own string) []string {
	const made = "'2025-09-01 10:00:00+00:00'"
	record := fmt.Sprintf("%d, 1, %s, %s", academy, made, made)
	words := func(name string) string {
		return fmt.Sprintf(`'["%[1]s 1", "%[1]s 2", "%[1]s 3", "%[1]s 4", "%[1]s 5"]'`, name)
	}
	skill := func(code, deleted string) string {
		return fmt.Sprintf(`INSERT INTO skills (academy_id, version, created_at, changed_at, deleted_at, code, label, grades)
			VALUES (%s, %s, '%s', 'Label of %s', %s)`, record, deleted, code, code, words(own+" "+code))
	}
	grade := func(skill string, grade int) string {
		return fmt.Sprintf(`INSERT INTO ratings (academy_id, version, created_at, changed_at, player_id, rater_id, skill,
			grade, comment, date, block, self) SELECT %s, p.id, u.id, '%s', %d, '', '2025-09-03', 'Pre-season', false
			FROM players AS p JOIN users AS u ON u.academy_id = p.academy_id WHERE p.academy_id = %d`, record, skill, grade,
			academy)
	}
	return []string{
		fmt.Sprintf("INSERT INTO academies (name) VALUES ('%s')", own),
		fmt.Sprintf(`INSERT INTO players (academy_id, version, created_at, changed_at, name, known_as)
			VALUES (%s, 'Wat Sedge', '')`, record),
		fmt.Sprintf(`INSERT INTO users (academy_id, version, created_at, changed_at, login, name, role, password_hash,
			totp_secret, totp_step) VALUES (%s, 'ansel.%d', 'Ansel Tarn', 'coach', '', '', 0)`, record, academy),
		skill("restart_receipt", "NULL"), skill("chase", made),
		grade("tackle", 1), grade("restart_receipt", 4), grade("chase", 2),
	}
}

// The two academies have skills with the same codes and other words: neither may get the other's.
func TestOldGradesGetTheLabelAndWordsOfTheirOwnAcademyWhenTheDatabaseIsMigrated(t *testing.T) {
	check := func(t *testing.T, url string) {
		if _, err := store.MigrateTo(t.Context(), url, beforeWords); err != nil {
			t.Fatal(err)
		}
		before, err := store.SchemaStatus(t.Context(), url)
		if err != nil || before.Current != beforeWords {
			t.Fatalf("the database has version %d, %v; want %d", before.Current, err, beforeWords)
		}
		for n, own := range []string{"Fen", "Moor"} {
			statements := oldGrades(n+1, own)
			if strings.HasPrefix(url, "postgres") { // the owner is bound by row-level security too
				set := fmt.Sprintf("SELECT set_config('throughline.academy', '%d', false);", n+1)
				for i := range statements {
					statements[i] = set + statements[i]
				}
			}
			execute(t, url, statements...)
		}
		if _, err := store.Migrate(t.Context(), url); err != nil {
			t.Fatal(err)
		}
		if _, err := store.Settle(t.Context(), url); err != nil {
			t.Fatal(err)
		}
		s := storetest.With(t, url, store.Options{Now: storetest.Now})
		tackle, _ := models.SkillOf("tackle")
		for n, own := range []string{"Fen", "Moor"} {
			want := map[string][2]string{
				"tackle":          {"Tackle", tackle.Grades[0]},
				"restart_receipt": {"Label of restart_receipt", own + " restart_receipt 4"},
				"chase":           {"Label of chase", own + " chase 2"},
			}
			read(t, s, models.Console(int64(n+1)), func(tx *store.Tx) error {
				all, err := tx.Ratings(models.RatingFilter{})
				if len(all) != len(want) {
					t.Errorf("%s has %d grades, want %d", own, len(all), len(want))
				}
				for _, r := range all {
					if got := [2]string{r.Label, r.Words}; got != want[r.Skill] {
						t.Errorf("%s, %s: label and words %q, want %q", own, r.Skill, got, want[r.Skill])
					}
				}
				return err
			})
		}
	}
	t.Run("sqlite", func(t *testing.T) { check(t, "sqlite:"+filepath.Join(t.TempDir(), "old.db")) })
	t.Run("postgres", func(t *testing.T) { check(t, storetest.Postgres(t)) })
}
