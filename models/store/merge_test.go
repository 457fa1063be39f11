package store_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestAMergeKnowsEveryColumnThatNamesAPlayer compares what a merge moves with the database.
func TestAMergeKnowsEveryColumnThatNamesAPlayer(t *testing.T) {
	s := storetest.With(t, storetest.SQLite(t), store.Options{Now: storetest.Now})
	type column struct {
		Name, Player string
		Unique       bool
	}
	var found []column
	err := s.Pool(t.Context()).Raw(`SELECT m.name, c.name AS player, EXISTS (SELECT 1 FROM pragma_index_list(m.name) AS l,
			pragma_index_info(l.name) AS i WHERE l."unique" AND i.name = c.name) AS "unique"
		FROM sqlite_master AS m, pragma_table_info(m.name) AS c WHERE m.type = 'table'
		AND (c.name LIKE '%player%' AND c.name LIKE '%id' OR c.name IN ('off_id', 'other_id'))`).Scan(&found).Error
	if err != nil || len(found) < 35 {
		t.Fatalf("%d columns, %v", len(found), err)
	}
	known := store.Mergings()
	for _, c := range found {
		m, traced := known[c.Name]
		switch {
		case !traced:
			t.Errorf("%s.%s names players, and no merge knows the table: say in mergeRules what becomes of it", c.Name,
				c.Player)
		case m.Left == "" && !slices.Contains(m.Columns, c.Player):
			t.Errorf("%s.%s names players, and a merge does not move it", c.Name, c.Player)
		case m.Left == "" && c.Unique && !m.Together && c.Name != "candidate_evidence": // which goes with candidates
			t.Errorf("%s is unique by its player, and a merge does not know which rows of two players meet", c.Name)
		}
	}
	for table, m := range known {
		if m.Left == "not a table of traces" {
			t.Errorf("mergeRules knows %s, which traces does not", table)
		}
	}
}

// twinOf makes a second record of bram, with records that a hasty import and several coaches would have left there.
func (w *world) twinOf(t *testing.T, random *rand.Rand) models.Player {
	t.Helper()
	twin := models.Player{Name: fmt.Sprint("Bram Oaks ", random.IntN(1000))}
	if random.IntN(2) == 0 {
		twin.BornOn = w.bram.BornOn
	}
	write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreatePlayer(&twin) })
	extra := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Opponent: "Marrick", Halves: 2, HalfMinutes: 35,
		Date: models.Date("2025-12-10").AddDays(random.IntN(60))}
	goal := models.Goal{PlayerID: twin.ID, Indicator: "contact_won", SetOn: "2025-11-10", By: "2026-03-01", Target: 0.6,
		Insist: insisted, InsistReason: "There is no trend yet.", Why: "To win more.", Actions: "Feet."}
	contact := models.HeadContact{PlayerID: twin.ID, Date: extra.Date.AddDays(1), StandDown: true}
	steps := []func(tx *store.Tx) error{
		func(tx *store.Tx) error { // the same as bram's, or within it
			return tx.CreateMembership(&models.Membership{SeasonID: w.season.ID, SquadID: w.colts.ID, PlayerID: twin.ID,
				From: w.season.Starts.AddDays(random.IntN(5))})
		},
		func(tx *store.Tx) error {
			return all(func() error { return tx.CreateMatch(&extra) }, func() error {
				return tx.CreateAppearance(&models.Appearance{MatchID: extra.ID, PlayerID: twin.ID, Minutes: 55})
			}, func() error {
				return tx.CreateMatchTotals(&models.MatchTotals{MatchID: extra.ID, PlayerID: twin.ID, Source: "by hand",
					Counts: models.Counts{"carries": 4}})
			}, func() error {
				return tx.CreateMatchEvent(&models.MatchEvent{MatchID: extra.ID, Clock: clock(1, 3, 0),
					Kind: models.EventTry, Ours: true, PlayerID: &twin.ID})
			}, func() error {
				return tx.CreateRating(&models.Rating{PlayerID: twin.ID, RaterID: w.coach.UserID, Skill: "tackle", Grade: 4,
					Date: extra.Date, MatchID: &extra.ID})
			})
		},
		func(tx *store.Tx) error { // as bram played in it
			return tx.CreateAppearance(&models.Appearance{MatchID: w.match.ID, PlayerID: twin.ID, Started: ptr(true),
				Position: "flanker", Stints: w.bramPlays.Stints})
		},
		func(tx *store.Tx) error {
			return tx.CreateConsent(&models.Consent{PlayerID: twin.ID, Purpose: models.PurposeFilming, GivenBy: "Hanne Oakes",
				Relation: models.ByGuardian, On: "2025-09-01", WithdrawnOn: ptr(models.Date("2026-01-10"))})
		},
		func(tx *store.Tx) error {
			return tx.CreateGuardian(&models.Guardian{PlayerID: twin.ID, Name: "Hanne Oakes", Relation: "mother"})
		},
		func(tx *store.Tx) error { return tx.CreateHeadContact(&contact) },
		func(tx *store.Tx) error {
			return tx.CreateSpell(&models.Spell{PlayerID: twin.ID, Status: models.Modified, From: "2026-02-01",
				Until: ptr(models.Date("2026-02-10"))})
		},
		func(tx *store.Tx) error {
			return tx.KeepRecord(&models.RetentionReview{PlayerID: twin.ID, KeepUntil: "2031-01-01", Because: "Asked."})
		},
		func(tx *store.Tx) error {
			return all(func() error { return tx.CreateGoal(&goal) }, func() error {
				return tx.CreateCheckIn(&models.CheckIn{GoalID: goal.ID, Date: "2025-12-01", Text: "On the way."})
			}, func() error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: twin.ID, Date: "2025-12-02", GoalID: &goal.ID,
					Text: "Better feet."})
			})
		},
	}
	for _, step := range steps {
		if random.IntN(3) > 0 {
			write(t, w.s, w.manager, step)
		}
	}
	read(t, w.s, w.coach, func(tx *store.Tx) error {
		if random.IntN(2) == 0 {
			return nil
		}
		all, err := tx.Players(models.PlayerFilter{IDs: []int64{twin.ID}})
		if len(all) == 1 {
			tx.Opened(twin.ID, w.season.ID)
		}
		return err
	})
	if err := w.s.AccountForReads(t.Context()); err != nil {
		t.Fatal(err)
	}
	return twin
}

// rowsOf are all rows of the academy's tables, but for versions and times of change, and for what only ever grows or a
// job makes again.
func (w *world) rowsOf(t *testing.T) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	read(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		for _, kept := range store.Kept() {
			table, _, err := w.s.Columns(kept)
			if err != nil {
				return err
			}
			switch table {
			case "audit_entries", "player_merges", "trends", "trend_draws", "squad_seasons", "job_servers", "sealing_keys":
				continue
			}
			var rows []map[string]any
			if err := tx.Raw().Table(table).Find(&rows).Error; err != nil {
				return err
			}
			for _, row := range rows {
				delete(row, "changed_at")
				if table != "earlier_versions" { // where it is a part of its name
					delete(row, "version")
				}
				if p, is := row["positions"].(string); is && (p == "[]" || p == "null") {
					row["positions"] = nil
				}
				all[table] = append(all[table], fmt.Sprint(row))
			}
			slices.Sort(all[table])
		}
		return nil
	})
	return all
}

func TestAMergeThatIsUndoneLeavesEveryRowAsItWas(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		storetest.OneByOne(t)
		w := newWorld(t, s)
		w.changeEverything(t)
		w.leaveRows(t)
		moved := map[string]int{}
		const tries = 8
		refusals := 0
		for try := range tries {
			random := rand.New(rand.NewPCG(13, uint64(try)))
			twin := w.twinOf(t, random)
			m := models.PlayerMerge{PlayerID: w.bram.ID, OtherID: twin.ID}
			if random.IntN(2) == 0 || try == 0 {
				m.PlayerID, m.OtherID = m.OtherID, m.PlayerID
			}
			if try == tries-1 { // they played the same match in two shirts
				m = models.PlayerMerge{PlayerID: w.bram.ID, OtherID: w.tove.ID}
			}
			before := w.rowsOf(t)
			err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error { return tx.MergePlayers(&m, "") })
			if models.CodeOf(err) == models.Conflict {
				refusals++
				differ(t, before, w.rowsOf(t), "a refused merge")
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			for table, n := range m.Moved {
				moved[table] += n
			}
			if leftOver := w.naming(t, m.OtherID); len(leftOver) > 0 {
				t.Errorf("try %d: after the merge, %v still name the other record", try, leftOver)
			}
			w.figuresHold(t, fmt.Sprint("try ", try, ": after the merge"))
			write(t, s, w.manager, func(tx *store.Tx) error { _, err := tx.UndoMerge(m.ID); return err })
			differ(t, before, w.rowsOf(t), fmt.Sprint("try ", try, ": merge and undo"))
			w.figuresHold(t, fmt.Sprint("try ", try, ": after the undo"))
		}
		if refusals == 0 || refusals > 2 {
			t.Errorf("%d of %d merges were refused; want the one of two people, and few others", refusals, tries)
		}
		for table, m := range store.Mergings() {
			if m.Left == "" && moved[table] == 0 {
				t.Errorf("no row of %s was moved, so nothing is tried there: give one of the two one", table)
			}
		}
	})
}

// differ says in which tables rows are not what they were.
func differ(t *testing.T, before, after map[string][]string, what string) {
	t.Helper()
	for table := range before {
		for _, row := range before[table] {
			if !slices.Contains(after[table], row) {
				t.Errorf("%s: %s had %s", what, table, row)
			}
		}
		for _, row := range after[table] {
			if !slices.Contains(before[table], row) {
				t.Errorf("%s: %s now has %s", what, table, row)
			}
		}
	}
}

// naming are the tables that a merge moves, with rows that name a player all the same and are not hidden.
func (w *world) naming(t *testing.T, player int64) (tables []string) {
	t.Helper()
	read(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		for table, m := range store.Mergings() {
			if table == "report_openings" { // of a day on which both reports were opened, one is enough
				continue
			}
			for _, column := range m.Columns {
				live := ""
				if slices.ContainsFunc(store.DeclaredTables(), func(d store.Declared) bool { return d.Name == table && d.Kind }) {
					live = " AND deleted_at IS NULL"
				}
				n, err := tx.Count("SELECT count(*) FROM "+table+" WHERE "+column+" = ?"+live, player)
				if err != nil {
					return err
				}
				if n > 0 {
					tables = append(tables, table)
				}
			}
		}
		return nil
	})
	return tables
}

// figuresHold checks that all observations are those that follow from what is recorded.
func (w *world) figuresHold(t *testing.T, when string) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		checked, differ, err := tx.Recompute(0)
		if checked == 0 || len(differ) > 0 {
			t.Errorf("%s, %d of %d figures are not those that follow: %+v", when, len(differ), checked, differ)
		}
		return err
	})
}

// planOf is the plan of a merge of another record into bram's.
func (w *world) planOf(t *testing.T, other int64) (plan models.MergePlan) {
	t.Helper()
	read(t, w.s, w.manager, func(tx *store.Tx) (err error) {
		plan, err = tx.MergePlan(w.bram.ID, other)
		return err
	})
	return plan
}

func wordsOf(all []models.MergeClash) string {
	var words []string
	for _, c := range all {
		words = append(words, c.Words)
	}
	return strings.Join(words, "\n")
}

func TestAMergeIsRefusedUntilWhatDiffersIsMended(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		twin := models.Player{Name: "Bram Oaks", BornOn: ptr(models.Date("2008-03-10"))}
		login := models.User{Login: "oaks@harbour", Name: "Bram Oaks", Role: models.RolePlayer}
		plays := models.Appearance{MatchID: w.match.ID, Minutes: 20, Shirt: ptr(20)}
		sub := models.MatchEvent{MatchID: w.match.ID, Clock: clock(2, 50, 0), Kind: models.EventSubstitution, Ours: true,
			OffID: &w.bram.ID}
		grades := []models.Rating{{PlayerID: w.bram.ID, Skill: "tackle", Grade: 3}, {Skill: "tackle", Grade: 4}}
		write(t, s, w.manager, func(tx *store.Tx) error {
			if err := tx.CreatePlayer(&twin); err != nil {
				return err
			}
			login.PlayerID, plays.PlayerID, sub.PlayerID, grades[1].PlayerID = &twin.ID, twin.ID, &twin.ID, twin.ID
			for i := range grades {
				grades[i].RaterID, grades[i].Date, grades[i].MatchID = w.coach.UserID, w.match.Date, &w.match.ID
				if err := tx.CreateRating(&grades[i]); err != nil {
					return err
				}
			}
			return all(func() error { return tx.CreateUser(&login) }, func() error { return tx.CreateAppearance(&plays) },
				func() error { return tx.CreateMatchEvent(&sub) })
		})
		merge := func(tx *store.Tx) error {
			return tx.MergePlayers(&models.PlayerMerge{PlayerID: w.bram.ID, OtherID: twin.ID}, "")
		}
		err := refused(t, s, w.manager, models.Conflict, merge)
		for _, want := range []string{"birth dates differ, 2008-10-03 and 2008-03-10", "an account, and the two differ",
			"an appearance in the match against Fellmoor on 2025-10-04", "the one replaced the other",
			"a grade by the same coach for tackle in the match against Fellmoor on 2025-10-04"} {
			says(t, err, want)
		}
		refused(t, s, w.coach, models.Forbidden, merge)
		refused(t, s, w.bramHimself, models.Forbidden, merge)
		refused(t, s, w.manager, models.Invalid, func(tx *store.Tx) error {
			return tx.MergePlayers(&models.PlayerMerge{PlayerID: w.bram.ID, OtherID: w.bram.ID}, "")
		})

		seen := w.planOf(t, twin.ID).Seen
		write(t, s, w.manager, func(tx *store.Tx) error { // as the sentences ask
			twin.BornOn = nil
			grades[1].Grade = 3
			return all(func() error { return tx.UpdatePlayer(&twin) }, func() error { return tx.DeleteUser(login.ID, 1) },
				func() error { return tx.DeleteMatchEvent(sub.ID, 1) },
				func() error { return tx.DeleteAppearance(plays.ID, 1) },
				func() error { return tx.UpdateRating(&grades[1]) })
		})
		refused(t, s, w.manager, models.Stale, func(tx *store.Tx) error {
			return tx.MergePlayers(&models.PlayerMerge{PlayerID: w.bram.ID, OtherID: twin.ID}, seen)
		})
		if plan := w.planOf(t, twin.ID); len(plan.Refused) > 0 || !strings.Contains(wordsOf(plan.Settled), "is set aside") {
			t.Errorf("mended, the plan is %+v", plan)
		}
		write(t, s, w.manager, merge)
		read(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.Ratings(models.RatingFilter{PlayerID: w.bram.ID})
			if len(all) != 1 {
				t.Errorf("bram has the grades %+v; want the one that both had", all)
			}
			return err
		})
	})
}

func TestTheStricterConsentHoldsAfterAMerge(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		twin := models.Player{Name: "Bram Oaks"}
		given := func(purpose models.Purpose, player int64, on models.Date, until, withdrawn *models.Date) models.Consent {
			return models.Consent{PlayerID: player, Purpose: purpose, GivenBy: "Hanne Oakes", Relation: models.ByGuardian,
				On: on, Until: until, WithdrawnOn: withdrawn}
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			if err := tx.CreatePlayer(&twin); err != nil {
				return err
			}
			for _, c := range []models.Consent{
				given(models.PurposeFilming, twin.ID, "2025-09-01", nil, ptr(models.Date("2025-12-01"))), // bram's is open
				given(models.PurposeRecords, w.bram.ID, "2025-09-01", ptr(models.Date("2026-01-31")), nil),
				given(models.PurposeRecords, twin.ID, "2025-09-01", nil, nil),
				given(models.PurposeRecords, twin.ID, "2026-02-01", nil, nil), // a new decision, after the other's end
			} {
				if err := tx.CreateConsent(&c); err != nil {
					return err
				}
			}
			return nil
		})
		held := func() (all []string) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				found, err := tx.Consents(models.ConsentFilter{PlayerID: w.bram.ID})
				for _, c := range found {
					end := func(d *models.Date) models.Date {
						if d == nil {
							return "-"
						}
						return *d
					}
					all = append(all, fmt.Sprint(c.Purpose, " ", c.On, " ", end(c.Until), " ", end(c.WithdrawnOn)))
				}
				return err
			})
			slices.Sort(all)
			return all
		}
		before := held()
		m := models.PlayerMerge{PlayerID: w.bram.ID, OtherID: twin.ID}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.MergePlayers(&m, "") })
		want := []string{"filming 2024-09-01 - 2025-12-01", "filming 2025-09-01 - 2025-12-01",
			"records 2025-09-01 2026-01-31 -", "records 2025-09-01 2026-01-31 -", "records 2026-02-01 - -"}
		if got := held(); !slices.Equal(got, want) {
			t.Errorf("consents are %q; want %q", got, want)
		}
		write(t, s, w.manager, func(tx *store.Tx) error { _, err := tx.UndoMerge(m.ID); return err })
		if got := held(); !slices.Equal(got, before) {
			t.Errorf("after the undo, consents are %q; want %q", got, before)
		}
	})
}

func TestAMergeIsToldOfBothAndGoesWithThePerson(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s := storetest.With(t, url, store.Options{Now: storetest.Now})
		w := newWorld(t, s)
		twin := models.Player{Name: "Brahm Quillfeather"}
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(func() error { return tx.CreatePlayer(&twin) }, func() error {
				return tx.CreateGuardian(&models.Guardian{PlayerID: twin.ID, Name: "Hanne Oakes", Relation: "mother"})
			}, func() error {
				return tx.CreateReviewNote(&models.ReviewNote{PlayerID: twin.ID, Date: "2025-12-02", Text: "Quillfeather sat out."})
			})
		})
		revision := func() (n int64) {
			read(t, s, w.manager, func(tx *store.Tx) error {
				of, err := tx.SquadSeason(w.season.ID, w.colts.ID)
				n = of.Revision
				return err
			})
			return n
		}
		was := revision()
		m := models.PlayerMerge{PlayerID: w.bram.ID, OtherID: twin.ID}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.MergePlayers(&m, "") })
		if revision() == was {
			t.Error("the trends of the squad are not made again")
		}
		for _, player := range []int64{w.bram.ID, twin.ID} {
			told := entries(t, s, w.academy.ID, models.AuditFilter{PlayerID: player, Kind: "player merge"})
			if len(told) != 1 || strings.Contains(*told[0].Payload, "Oakes") {
				t.Errorf("the trail of player %d has %d entries about the merge; want one, without names", player, len(told))
			}
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			found, err := tx.Players(models.PlayerFilter{})
			for _, p := range found {
				if p.ID == twin.ID {
					t.Error("the other record is still in the list of players")
				}
			}
			return err
		})
		record, err := s.ExportPlayer(t.Context(), w.manager, w.bram.ID, models.AskedByPlayer)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(record)
		if err != nil {
			t.Fatal(err)
		}
		// the note, the guardian that was set aside, the merge itself with the other name, and the trail of both
		for _, want := range []string{"sat out", `"other_name":"Brahm Quillfeather"`, `"deleted_at"`,
			fmt.Sprintf(`"player_id":%d`, twin.ID)} {
			if !strings.Contains(string(text), want) {
				t.Errorf("the export lacks %s", want)
			}
		}
		if _, err := s.ErasePlayer(t.Context(), w.manager, w.bram.ID, w.bram.Name, models.AskedByPlayer); err != nil {
			t.Fatal(err)
		}
		for _, row := range content(t, s, w.academy.ID) {
			for _, word := range []string{"Quillfeather", "Oakes", "sat out"} {
				if strings.Contains(row, word) {
					t.Errorf("after the erasure, %q is still in %s", word, row)
				}
			}
		}
		says(t, refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error {
			_, err := tx.UndoMerge(m.ID)
			return err
		}), "erased on 2026-03-14: nothing can be put back")
	})
}

func TestWhyAMergeCannotBeUndoneIsSaid(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		now := storetest.Now()
		s := storetest.With(t, url, store.Options{Now: func() time.Time { return now }})
		w := newWorld(t, s)
		twin, third := models.Player{Name: "Bram Oaks"}, models.Player{Name: "B. Oakes"}
		goal := models.Goal{Indicator: "contact_won", SetOn: "2025-11-10", By: "2026-06-01", Target: 0.6,
			Insist: insisted, InsistReason: "There is no trend yet.", Why: "To win more.", Actions: "Feet."}
		write(t, s, w.manager, func(tx *store.Tx) error {
			return all(func() error { return tx.CreatePlayer(&twin) }, func() error { return tx.CreatePlayer(&third) },
				func() error { goal.PlayerID = twin.ID; return tx.CreateGoal(&goal) })
		})
		m := models.PlayerMerge{PlayerID: w.bram.ID, OtherID: twin.ID}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.MergePlayers(&m, "") })
		undo := func(tx *store.Tx) error { _, err := tx.UndoMerge(m.ID); return err }

		// a note on a goal that would be the other record's
		note := models.ReviewNote{PlayerID: w.bram.ID, Date: "2026-03-01", GoalID: &goal.ID, Text: "It comes."}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateReviewNote(&note) })
		says(t, refused(t, s, w.manager, models.Conflict, undo), "a review note was recorded that needs a goal of the other")
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteReviewNote(note.ID, note.Version) })

		// the record that stayed went into a third
		again := models.PlayerMerge{PlayerID: third.ID, OtherID: w.bram.ID}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.MergePlayers(&again, "") })
		says(t, refused(t, s, w.manager, models.Conflict, undo), "undo that merge first")
		write(t, s, w.manager, func(tx *store.Tx) error { _, err := tx.UndoMerge(again.ID); return err })

		refused(t, s, w.coach, models.Forbidden, undo)
		now = now.AddDate(0, 0, models.MergeUndoDays+1)
		says(t, refused(t, s, w.manager, models.Conflict, undo),
			"can be undone for 30 days; this one could be until 2026-04-13")
		now = now.AddDate(0, 0, -1)
		write(t, s, w.manager, undo)
		says(t, refused(t, s, w.manager, models.Conflict, func(tx *store.Tx) error {
			_, err := tx.UndoMerge(m.ID)
			return err
		}), "was undone on 2026-04-13")
	})
}
