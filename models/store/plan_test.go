package store_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"gorm.io/gorm"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// whole are the tables that are read from end to end: one row an academy, and one row a table.
var whole = []string{"academies", "sqlite_sequence"}

// TestNoQueryReadsAWholeTable reads the plan of every query that the store makes when everything is read by everybody,
// and when everything is written once.
func TestNoQueryReadsAWholeTable(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		queries := map[string][]any{}
		var mu sync.Mutex
		err := s.Trace(func(sql string, args []any) {
			mu.Lock()
			defer mu.Unlock()
			if word, _, _ := strings.Cut(sql, " "); slices.Contains([]string{"SELECT", "UPDATE", "DELETE", "WITH"}, word) {
				queries[shape(sql)] = append([]any{sql}, args...)
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		w := newWorld(t, s)
		w.changeEverything(t)
		for _, who := range []models.Who{w.manager, w.coach, w.selector, w.bramHimself} {
			w.readEverything(t, who)
			w.readPages(t, who)
			w.readNarrowed(t, who)
		}
		if _, err := s.Academies(t.Context()); err != nil {
			t.Fatal(err)
		}
		if _, _, err := s.UserByLogin(t.Context(), "coach@harbour"); err != nil {
			t.Fatal(err)
		}
		if _, err := s.WhoByToken(t.Context(), make([]byte, 32)); models.CodeOf(err) != models.NotFound {
			t.Fatal(err)
		}
		seen := maps.Clone(queries)
		if len(seen) < 100 {
			t.Errorf("only %d queries were seen", len(seen))
		}
		write(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
			db := tx.Raw()
			if s.Postgres() { // the tables are too small for an index to be worth it
				if err := db.Exec("SET LOCAL enable_seqscan = off").Error; err != nil {
					return err
				}
			}
			for _, q := range slices.Sorted(maps.Keys(seen)) {
				sql, args := seen[q][0].(string), seen[q][1:]
				for _, bad := range wholeTables(t, db, s.Postgres(), sql, args) {
					t.Errorf("%s\nin %s", bad, sql)
				}
			}
			return nil
		})
	})
}

// shape is a query without its numbers of arguments.
func shape(sql string) string {
	return regexp.MustCompile(`\(([$?]\d*,?)+\)`).ReplaceAllString(sql, "(…)")
}

// wholeTables lists the steps of a query's plan that read a table or an index from end to end.
func wholeTables(t *testing.T, db *gorm.DB, postgres bool, sql string, args []any) []string {
	t.Helper()
	var bad []string
	for _, step := range steps(t, db, postgres, sql, args) {
		if step.condition == "" && !slices.Contains(whole, step.table) {
			bad = append(bad, "a scan of "+step.table)
		}
	}
	return bad
}

// step is a step of a plan that reads a table, by a condition on an index or by none.
type step struct{ table, condition string }

func steps(t *testing.T, db *gorm.DB, postgres bool, sql string, args []any) []step {
	t.Helper()
	var all []step
	if postgres {
		var plan string
		if err := db.Statement.ConnPool.QueryRowContext(t.Context(), "EXPLAIN (FORMAT JSON) "+sql,
			args...).Scan(&plan); err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
		var trees []map[string]any
		if err := json.Unmarshal([]byte(plan), &trees); err != nil {
			t.Fatal(err)
		}
		for _, tree := range trees {
			all = append(all, nodes(tree["Plan"].(map[string]any), "")...)
		}
		return all
	}
	rows, err := db.Statement.ConnPool.QueryContext(t.Context(), "EXPLAIN QUERY PLAN "+sql, args...)
	if err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	defer rows.Close()
	for rows.Next() {
		var id, parent, unused int
		var detail string
		if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
			t.Fatal(err)
		}
		word, rest, _ := strings.Cut(detail, " ") // SEARCH table USING INDEX index (a=? AND b=?), or SCAN table
		if word != "SEARCH" && word != "SCAN" || rest == "CONSTANT ROW" {
			continue
		}
		table, using, _ := strings.Cut(rest, " ")
		one := step{table: table}
		if at := strings.LastIndex(using, "("); word == "SEARCH" && at >= 0 {
			one.condition = strings.TrimSuffix(using[at+1:], ")")
		}
		all = append(all, one)
	}
	return all
}

// nodes lists the steps of a PostgreSQL plan. A bitmap's index is below the node that names the table.
func nodes(node map[string]any, above string) []step {
	var all []step
	kind, _ := node["Node Type"].(string)
	table, named := node["Relation Name"].(string)
	if !named {
		table = above
	}
	condition, _ := node["Index Cond"].(string)
	switch {
	case kind == "Seq Scan", strings.HasSuffix(kind, "Index Scan"), kind == "Index Only Scan":
		all = append(all, step{table, condition})
	}
	children, _ := node["Plans"].([]any)
	for _, c := range children {
		all = append(all, nodes(c.(map[string]any), table)...)
	}
	return all
}

// TestTheScoresOfAListAreOneQueryByMatch has four matches, two of them with a score: a list reads all scores at once,
// by the matches' ids and no other match's events, and a bare list reads none. A player's list has only their own
// matches.
func TestTheScoresOfAListAreOneQueryByMatch(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		w := newWorld(t, s)
		second := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-11-08", Opponent: "Fellmoor",
			Halves: 2, HalfMinutes: 35, Score: &models.MatchScore{Ours: 99}}
		third := second
		third.Date = "2025-11-15"
		write(t, s, w.coach, func(tx *store.Tx) error {
			return all(
				func() error { return tx.CreateMatch(&second) }, func() error { return tx.CreateMatch(&third) },
				func() error { return scores(tx, w.match, true, models.EventTry, models.EventConversion) },
				func() error { return scores(tx, w.match, false, models.EventPenaltyGoal) },
				func() error { return scores(tx, second, false, models.EventTry) },
				func() error { return scores(tx, third, true, models.EventYellowCard) },
			)
		})
		if second.Score != nil {
			t.Errorf("a new match keeps the score %v that was sent", *second.Score)
		}
		w.addCards(t)
		if s.Postgres() {
			execute(t, url, "ANALYZE match_events")
		}
		var asked [][]any
		err = s.Trace(func(sql string, args []any) {
			if strings.Contains(sql, "FROM match_events") {
				asked = append(asked, append([]any{sql}, args...))
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		shown := func(who models.Who, bare bool) map[int64]string {
			of := map[int64]string{}
			read(t, s, who, func(tx *store.Tx) error {
				found, err := tx.Matches(models.MatchFilter{SeasonID: w.season.ID, Bare: bare})
				for _, m := range found {
					of[m.ID] = "none"
					if m.Score != nil {
						of[m.ID] = fmt.Sprintf("%d–%d", m.Score.Ours, m.Score.Theirs)
					}
				}
				return err
			})
			return of
		}
		want := map[int64]string{w.match.ID: "7–3", second.ID: "0–5", third.ID: "none", w.schoolMatch.ID: "none"}
		if got := shown(w.coach, false); !maps.Equal(got, want) || len(asked) != 1 {
			t.Errorf("scores %v in %d queries, want %v in one", got, len(asked), want)
		}
		want = map[int64]string{w.match.ID: "7–3"}
		if got := shown(w.bramHimself, false); !maps.Equal(got, want) || len(asked) != 2 {
			t.Errorf("the player sees %v in %d queries, want %v in one", got, len(asked)-1, want)
		}
		want = map[int64]string{w.match.ID: "none", second.ID: "none", third.ID: "none", w.schoolMatch.ID: "none"}
		if got := shown(w.coach, true); !maps.Equal(got, want) || len(asked) != 2 {
			t.Errorf("a bare list has scores %v after %d queries, want none", got, len(asked)-2)
		}
		read(t, s, w.manager, func(tx *store.Tx) error {
			for _, step := range steps(t, tx.Raw(), s.Postgres(), asked[0][0].(string), asked[0][1:]) {
				if !strings.Contains(step.condition, "match_id") {
					t.Errorf("%s is read by %q, want by the match", step.table, step.condition)
				}
			}
			return nil
		})
	})
}

// addCards adds so many events to a match of the juniors that an index is worth it.
func (w *world) addCards(t *testing.T) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		if err := scores(tx, w.juniorMatch, true, models.EventYellowCard); err != nil {
			return err
		}
		const columns = "academy_id, version, created_at, changed_at, match_id, half, second, kind, ours"
		for range 12 {
			err := tx.Raw().Exec("INSERT INTO match_events ("+columns+") SELECT "+columns+
				" FROM match_events WHERE match_id = ?", w.juniorMatch.ID).Error
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// scores adds a side's events to a match.
func scores(tx *store.Tx, m models.Match, ours bool, kinds ...models.EventKind) error {
	for _, kind := range kinds {
		e := models.MatchEvent{MatchID: m.ID, Clock: clock(1, 12, 0), Kind: kind, Ours: ours}
		if err := tx.CreateMatchEvent(&e); err != nil {
			return err
		}
	}
	return nil
}

// large are the tables that grow with every match.
var large = []string{"appearances", "stints", "logs", "involvements", "match_totals", "observations", "carry_cells"}

// TestSeasonReportReadsNoOtherSeason reads the plans of what a season report and its match pages read, in an academy
// with some seasons of rows: no large table may be walked through for the whole academy.
func TestSeasonReportReadsNoOtherSeason(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{Now: storetest.Now})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		w := newWorld(t, s)
		w.addSeasons(t)
		if s.Postgres() {
			execute(t, url, "ANALYZE")
		}
		queries := map[string][]any{}
		err = s.Trace(func(sql string, args []any) { queries[shape(sql)] = append([]any{sql}, args...) })
		if err != nil {
			t.Fatal(err)
		}
		for _, who := range []models.Who{w.manager, w.coach, w.bramHimself} {
			read(t, s, who, func(tx *store.Tx) error { return w.readReport(tx) })
		}
		write(t, s, w.coach, func(tx *store.Tx) error {
			i := models.Involvement{LogID: w.log.ID, Clock: clock(1, 30, 0), Kind: models.KindTackle, Key: "k"}
			return tx.CreateInvolvement(&i)
		})
		seen := maps.Clone(queries)
		if len(seen) < 30 {
			t.Errorf("only %d queries were seen", len(seen))
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			for _, q := range slices.Sorted(maps.Keys(seen)) {
				sql, args := seen[q][0].(string), seen[q][1:]
				if word, _, _ := strings.Cut(sql, " "); !slices.Contains([]string{"SELECT", "DELETE", "UPDATE"}, word) {
					continue
				}
				for _, bad := range academyWide(t, tx.Raw(), s.Postgres(), sql, args) {
					t.Errorf("%s\nin %s", bad, sql)
				}
			}
			return nil
		})
	})
}

// readReport makes the reads of a season report of bram and of a page of their match.
func (w *world) readReport(tx *store.Tx) error {
	player, season, squad, match := w.bram.ID, w.season.ID, w.colts.ID, w.match.ID
	reads := []func() error{
		func() error { _, err := tx.Player(player); return err },
		func() error { _, err := tx.Season(season); return err },
		func() error {
			_, err := tx.Memberships(models.MembershipFilter{PlayerID: player, SeasonID: season})
			return err
		},
		func() error { _, err := tx.Players(models.PlayerFilter{SquadID: squad, SeasonID: season}); return err },
		func() error { _, err := tx.Matches(models.MatchFilter{SeasonID: season, PlayerID: player}); return err },
		func() error { _, err := tx.Matches(models.MatchFilter{SeasonID: season, SquadID: squad}); return err },
		func() error {
			_, err := tx.Appearances(models.AppearanceFilter{PlayerID: player, SeasonID: season})
			return err
		},
		func() error { _, err := tx.Appearances(models.AppearanceFilter{MatchID: match}); return err },
		func() error {
			_, err := tx.Observations(models.ObservationFilter{PlayerID: player, SeasonID: season})
			return err
		},
		func() error { _, err := tx.Observations(models.ObservationFilter{MatchID: match}); return err },
		func() error {
			_, err := tx.CarryCells(models.ObservationFilter{PlayerID: player, SeasonID: season})
			return err
		},
		func() error {
			if tx.Who().Role == models.RolePlayer { // reads what is published
				return nil
			}
			_, err := tx.GroupObservations(models.GroupFilter{SeasonID: season, SquadID: squad})
			return err
		},
		func() error { _, err := tx.OverExpected(player, season, squad); return err },
		func() error { _, err := tx.TrendsWithheld(season, squad); return err },
		func() error { _, err := tx.PlayersHidden(season, squad); return err },
		func() error { _, err := tx.GradesSeen(player, season); return err },
		func() error {
			_, err := tx.Publications(models.TrendFilter{PlayerID: player, SeasonID: season, SquadID: squad})
			if tx.Who().Staff() && models.CodeOf(err) == models.Forbidden {
				return nil // they read the trends themselves
			}
			return err
		},
		func() error { _, err := tx.Logs(models.LogFilter{PlayerID: player, SeasonID: season}); return err },
		func() error { _, err := tx.Logs(models.LogFilter{MatchID: match}); return err },
		func() error { _, err := tx.Involvements(models.InvolvementFilter{LogID: w.log.ID}); return err },
		func() error {
			_, err := tx.Involvements(models.InvolvementFilter{PlayerID: player, SeasonID: season, MomentsOnly: true})
			return err
		},
		func() error { _, err := tx.Totals(models.TotalsFilter{PlayerID: player, SeasonID: season}); return err },
		func() error { _, err := tx.Totals(models.TotalsFilter{MatchID: match}); return err },
		func() error {
			_, err := tx.TeamTotals(models.TeamTotalsFilter{SeasonID: season, SquadID: squad})
			return err
		},
	}
	return all(reads...)
}

// addSeasons adds what makes the large tables large: three seasons of three squads with ten matches and twenty players
// each.
func (w *world) addSeasons(t testing.TB) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		var plays []models.Play
		for year := range 3 {
			season := models.Season{Name: fmt.Sprint("Season ", year), Starts: models.Date(fmt.Sprint(2020+year, "-09-01")),
				Ends: models.Date(fmt.Sprint(2021+year, "-05-31"))}
			if err := tx.CreateSeason(&season); err != nil {
				return err
			}
			for n := range 3 {
				squad := models.Squad{Name: fmt.Sprint("Squad ", year, n)}
				if err := tx.CreateSquad(&squad); err != nil {
					return err
				}
				players := make([]models.Player, 20)
				for i := range players {
					players[i] = models.Player{Name: fmt.Sprint("Player ", year, n, i)}
					if err := tx.CreatePlayer(&players[i]); err != nil {
						return err
					}
					member := models.Membership{SeasonID: season.ID, SquadID: squad.ID, PlayerID: players[i].ID, From: season.Starts}
					if err := tx.CreateMembership(&member); err != nil {
						return err
					}
				}
				for m := range 10 {
					match := models.Match{SeasonID: season.ID, SquadID: &squad.ID, Date: season.Starts.AddDays(7 * m),
						Opponent: "Fellmoor", Halves: 2, HalfMinutes: 35}
					if err := tx.CreateMatch(&match); err != nil {
						return err
					}
					for i, p := range players {
						play := models.Play{Match: match,
							Appearance: models.Appearance{PlayerID: p.ID, Shirt: ptr(i + 1),
								Stints: []models.Stint{{On: clock(1, 0, 0), Off: clock(2, 70, 0)}}},
							Totals: &models.MatchTotals{Source: "x.csv", Counts: models.Counts{"carries": 5, "passes": 4}}}
						log := models.LoggedPlay{Log: models.Log{LoggerID: w.coach.UserID, Depth: models.Full, Finished: true,
							Kinds: []models.Kind{models.KindCarry}}}
						for c := range 5 {
							log.Involvements = append(log.Involvements, models.Involvement{Clock: clock(1, 5*c, 0), Kind: models.KindCarry,
								Measures: map[string]float64{"metres": 4}, Moment: c == 0})
						}
						play.Logs = []models.LoggedPlay{log}
						plays = append(plays, play)
					}
				}
			}
		}
		return tx.AddPlays(plays)
	})
}

// academyWide lists the steps of a query's plan that go through a large table for a whole academy.
func academyWide(t *testing.T, db *gorm.DB, postgres bool, sql string, args []any) []string {
	t.Helper()
	var bad []string
	for _, step := range steps(t, db, postgres, sql, args) {
		if slices.Contains(large, step.table) && (step.condition == "" || regexp.MustCompile(`^\(?\(?academy_id `+
			`?= ?[^ ]+\)?$`).MatchString(step.condition)) {
			bad = append(bad, fmt.Sprintf("%s by %q", step.table, step.condition))
		}
	}
	return bad
}
