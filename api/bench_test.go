package api_test

import (
	"database/sql"
	"fmt"
	"log/slog"
	"slices"
	"testing"
	"time"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/chart"
	"throughline/reports/evidence"
	"throughline/reports/fits"
	"throughline/reports/overview"
	"throughline/reports/paper"
	"throughline/reports/season"
)

// Benchmarks of what people wait for most, each beside the bare SQL that it needs: the same rows, by hand-written
// statements, over one connection in one transaction with the same role and row-level security, without further work.
// The two take turns: a busy machine slows both. The figures are medians in milliseconds, and their ratio.

// demonstration is the invented academy's season on PostgreSQL.
type demonstration struct {
	*store.Store
	scenario.Loaded
	url   string
	bare  *sql.DB
	owner *sql.DB // of the tables
}

func demonstrate(b *testing.B) *demonstration {
	b.Helper()
	url := storetest.MigratedPostgres(b)
	s, err := store.Open(b.Context(), url, store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	loaded, err := scenario.Load(b.Context(), s, scenario.Simulate(1), func(models.User) string { return "" }, nil)
	if err != nil {
		b.Fatal(err)
	}
	d := &demonstration{Store: s, Loaded: loaded, url: url}
	d.refit(b)
	for _, pool := range []**sql.DB{&d.owner, &d.bare} {
		if *pool, err = sql.Open("pgx", url); err != nil {
			b.Fatal(err)
		}
		(*pool).SetMaxOpenConns(1)
		b.Cleanup(func() { (*pool).Close() })
	}
	d.exec(b, d.owner, "ANALYZE")
	d.exec(b, d.bare, "SET ROLE throughline_serving")
	return d
}

func (d *demonstration) exec(b *testing.B, pool *sql.DB, statement string, args ...any) {
	b.Helper()
	if _, err := pool.ExecContext(b.Context(), statement, args...); err != nil {
		b.Fatal(err)
	}
}

// as is a user of the academy as the store knows them.
func (d *demonstration) as(b *testing.B, u models.User) models.Who {
	b.Helper()
	who, err := d.WhoByID(b.Context(), d.Academy.ID, u.ID)
	if err != nil {
		b.Fatal(err)
	}
	return who
}

// plain runs fn in a bare transaction.
func (d *demonstration) plain(b *testing.B, options *sql.TxOptions, fn func(*sql.Tx) error) {
	b.Helper()
	tx, err := d.bare.BeginTx(b.Context(), options)
	if err != nil {
		b.Fatal(err)
	}
	_, err = tx.Exec("SELECT set_config('throughline.academy', $1, true)", fmt.Sprint(d.Academy.ID))
	if err == nil {
		err = fn(tx)
	}
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		b.Fatal(err)
	}
}

var readOnly = &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}

// selected is a statement and its arguments.
type selected struct {
	query string
	args  []any
}

// fetch reads all rows of each statement and returns how many there were.
func fetch(tx *sql.Tx, all []selected) (n int, err error) {
	for _, s := range all {
		rows, err := tx.Query(s.query, s.args...)
		if err != nil {
			return 0, fmt.Errorf("%s: %w", s.query, err)
		}
		columns, err := rows.Columns()
		if err != nil {
			return 0, err
		}
		values, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range into {
			into[i] = &values[i]
		}
		for rows.Next() {
			if err := rows.Scan(into...); err != nil {
				return 0, err
			}
			n++
		}
		if err := rows.Err(); err != nil {
			return 0, fmt.Errorf("%s: %w", s.query, err)
		}
	}
	return n, nil
}

// beside runs measured and its bare SQL in turns. tidy, which may be nil, is not timed.
func beside(b *testing.B, measured, bare, tidy func()) {
	b.Helper()
	var with, without []time.Duration
	for b.Loop() {
		began := time.Now()
		measured()
		between := time.Now()
		bare()
		with, without = append(with, between.Sub(began)), append(without, time.Since(between))
		if tidy != nil {
			tidy()
		}
	}
	slices.Sort(with)
	slices.Sort(without)
	ours, theirs := with[len(with)/2], without[len(without)/2]
	b.ReportMetric(0, "ns/op") // of both together says nothing
	b.ReportMetric(float64(ours)/1e6, "ms")
	b.ReportMetric(float64(theirs)/1e6, "ms-bare")
	b.ReportMetric(float64(ours)/float64(theirs), "ratio")
}

// reportRows are the rows that a season report stands on.
func (d *demonstration) reportRows() []selected {
	a, p, s, q := d.Academy.ID, d.PlayerID, d.SeasonID, d.SquadID
	const inSeason = " AND match_id IN (SELECT id FROM matches WHERE academy_id = $1 AND season_id = $3 AND " +
		"deleted_at IS NULL)"
	const ofSquad = " AND match_id IN (SELECT id FROM matches WHERE academy_id = $1 AND season_id = $2 AND squad_id = " +
		"$3 AND deleted_at IS NULL)"
	return []selected{
		{"SELECT * FROM players WHERE academy_id = $1 AND id = $2", []any{a, p}},
		{"SELECT * FROM seasons WHERE academy_id = $1 AND id = $2", []any{a, s}},
		{"SELECT * FROM squads WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM memberships WHERE academy_id = $1 AND player_id = $2 AND season_id = $3", []any{a, p, s}},
		{"SELECT * FROM head_contacts WHERE academy_id = $1 AND player_id = $2 AND told_at IS NULL", []any{a, p}},
		{"SELECT * FROM stand_downs WHERE academy_id = $1 AND player_id = $2", []any{a, p}},
		{"SELECT * FROM academy_settings WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM consents WHERE academy_id = $1 AND player_id = $2", []any{a, p}},
		{"SELECT * FROM minutes_limits WHERE academy_id = $1", []any{a}},
		{`SELECT a.match_id, m.date, a.minutes FROM appearances AS a JOIN matches AS m ON m.academy_id = a.academy_id
			AND m.id = a.match_id
			WHERE a.academy_id = $1 AND a.player_id = $2 AND m.date > (SELECT starts - 366 FROM seasons WHERE academy_id = $1
			AND id = $3)`, []any{a, p, s}},
		{"SELECT * FROM spells WHERE academy_id = $1 AND player_id = $2", []any{a, p}},
		{"SELECT * FROM appearances WHERE academy_id = $1 AND player_id = $2" + inSeason, []any{a, p, s}},
		{"SELECT * FROM matches WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3 AND deleted_at IS NULL",
			[]any{a, s, q}},
		{"SELECT * FROM indicators WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM skills WHERE academy_id = $1", []any{a}},
		{"SELECT match_id, indicator, numerator, denominator, source, differs FROM observations WHERE academy_id = $1 AND " +
			"player_id = $2" + inSeason, []any{a, p, s}},
		{"SELECT match_id, width, speed, zone, carries, metres FROM carry_cells WHERE academy_id = $1 AND player_id = $2" +
			inSeason, []any{a, p, s}},
		{"SELECT player_id FROM memberships WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3 AND " +
			"deleted_at IS NULL", []any{a, s, q}},
		{"SELECT player_id, match_id, indicator, numerator, denominator FROM observations WHERE academy_id = $1" + ofSquad +
			" ORDER BY match_id, player_id, indicator", []any{a, s, q}},
		{"SELECT player_id, match_id, width, speed, zone, carries, metres FROM carry_cells WHERE academy_id = $1" + ofSquad +
			" ORDER BY match_id, player_id, width, speed, zone", []any{a, s, q}},
		{"SELECT * FROM players WHERE academy_id = $1 AND id IN (SELECT player_id FROM memberships WHERE academy_id = $1 " +
			"AND season_id = $2 AND squad_id = $3)", []any{a, s, q}},
		{"SELECT * FROM team_totals WHERE academy_id = $1" + ofSquad, []any{a, s, q}},
		{"SELECT * FROM squad_seasons WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3", []any{a, s, q}},
		{"SELECT * FROM trends WHERE academy_id = $1 AND player_id = $2 AND season_id = $3 AND squad_id = $4",
			[]any{a, p, s, q}},
		{"SELECT * FROM ratings WHERE academy_id = $1 AND player_id = $2", []any{a, p}},
		{"SELECT * FROM goals WHERE academy_id = $1 AND player_id = $2", []any{a, p}},
		{"SELECT * FROM check_ins WHERE academy_id = $1 AND goal_id IN (SELECT id FROM goals WHERE academy_id = $1 AND " +
			"player_id = $2)", []any{a, p}},
		{"SELECT * FROM review_notes WHERE academy_id = $1 AND player_id = $2", []any{a, p}},
		{"SELECT id, name FROM users WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM logs WHERE academy_id = $1 AND player_id = $2" + inSeason, []any{a, p, s}},
		{`SELECT i.* FROM involvements AS i JOIN logs AS l ON l.academy_id = i.academy_id AND l.id = i.log_id
			WHERE i.academy_id = $1 AND l.player_id = $2 AND i.moment AND i.deleted_at IS NULL`, []any{a, p}},
	}
}

// BenchmarkSeasonReport is a season report's data: what the store and the paper do. The bare SQL does not look at what
// a coach may see.
func BenchmarkSeasonReport(b *testing.B) {
	d := demonstrate(b)
	b.Run("manager", func(b *testing.B) { d.seasonReport(b, d.as(b, d.Manager)) })
	b.Run("coach", func(b *testing.B) { d.seasonReport(b, d.as(b, d.Coach)) })
}

func (d *demonstration) seasonReport(b *testing.B, who models.Who) {
	rows := 0
	beside(b, func() {
		err := d.Read(b.Context(), who, func(tx *store.Tx) error {
			_, err := season.Read(b.Context(), tx, season.Request{PlayerID: d.PlayerID, SeasonID: d.SeasonID, Who: who,
				Now: apitest.Now})
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}, func() {
		d.plain(b, readOnly, func(tx *sql.Tx) (err error) {
			rows, err = fetch(tx, d.reportRows())
			return err
		})
	}, nil)
	b.ReportMetric(float64(rows), "rows")
}

// sheetOf reads and draws a player's season report as its page shows it.
func (d *demonstration) sheetOf(b *testing.B, s *store.Store, papers paper.Papers, who models.Who) {
	b.Helper()
	asked := paper.Asked{Who: who, Now: apitest.Now, IDs: map[paper.Subject]int64{paper.OfPlayer: d.PlayerID,
		paper.OfSeason: d.SeasonID}}
	var read *paper.Copy
	err := s.Read(b.Context(), who, func(tx *store.Tx) (err error) {
		read, err = papers[0].Read(b.Context(), tx, asked)
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	if _, err := read.Sheet(b.Context()); err != nil {
		b.Fatal(err)
	}
}

// BenchmarkSeasonPage is a season report as its page shows it: read and drawn by a server that has answered before, by
// one that has just started and finds the trends kept, and after a change to the squad, with the trends fitted again.
func BenchmarkSeasonPage(b *testing.B) {
	d := demonstrate(b)
	who := d.as(b, d.Manager)
	rows := func() {
		d.plain(b, readOnly, func(tx *sql.Tx) error {
			_, err := fetch(tx, d.reportRows())
			return err
		})
	}
	papersOf := func() (paper.Papers, func()) {
		charts := chart.NewRenderer(0)
		papers, err := reports.Papers(charts)
		if err != nil {
			b.Fatal(err)
		}
		return papers, charts.Close
	}
	papers, done := papersOf()
	defer done()
	b.Run("warm", func(b *testing.B) {
		for range 5 {
			d.sheetOf(b, d.Store, papers, who)
		}
		beside(b, func() { d.sheetOf(b, d.Store, papers, who) }, rows, nil)
	})
	b.Run("restarted", func(b *testing.B) {
		var tidy []func()
		beside(b, func() {
			s, err := store.Open(b.Context(), d.url, store.Options{})
			if err != nil {
				b.Fatal(err)
			}
			fresh, done := papersOf()
			tidy = []func(){done, func() { s.Close() }}
			d.sheetOf(b, s, fresh, who)
		}, rows, func() {
			for _, end := range tidy {
				end()
			}
		})
	})
	b.Run("changed", func(b *testing.B) {
		keeper := fits.NewKeeper(api.Records{Store: d.Store}, time.Now, slog.Default())
		by := -1.0
		beside(b, func() {
			by = -by
			d.change(b, by)
			if n, err := api.RefitAll(b.Context(), d.Store, keeper); n == 0 || err != nil {
				b.Fatalf("%d squads' seasons were fitted again: %v", n, err)
			}
			d.sheetOf(b, d.Store, papers, who)
		}, rows, nil)
	})
}

// change adds a carry to the totals of a player's match, or takes it away again.
func (d *demonstration) change(b *testing.B, by float64) {
	b.Helper()
	err := d.Write(b.Context(), models.Console(d.Academy.ID), func(tx *store.Tx) error {
		all, err := tx.Totals(models.TotalsFilter{SquadID: d.SquadID, SeasonID: d.SeasonID})
		if err != nil {
			return err
		}
		logs, err := tx.Logs(models.LogFilter{SeasonID: d.SeasonID})
		if err != nil {
			return err
		}
		i := slices.IndexFunc(all, func(t models.MatchTotals) bool { // where no log counts instead
			return t.Counts["carries"] > 1 && !slices.ContainsFunc(logs, func(l models.Log) bool {
				return l.MatchID == t.MatchID && l.PlayerID == t.PlayerID
			})
		})
		all[i].Counts["carries"] += by
		return tx.UpdateMatchTotals(&all[i])
	})
	if err != nil {
		b.Fatal(err)
	}
}

// BenchmarkTrend is one indicator of a player, with everything that the resource answers with, beside the rows of this
// indicator alone.
func BenchmarkTrend(b *testing.B) {
	d := demonstrate(b)
	who := d.as(b, d.Manager)
	beside(b, func() {
		err := d.Read(b.Context(), who, func(tx *store.Tx) error {
			_, _, err := evidence.One(tx, d.PlayerID, d.SeasonID, evidence.StaffEdition, "contact_won")
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}, func() {
		d.plain(b, readOnly, func(tx *sql.Tx) error {
			a, p, s, q := d.Academy.ID, d.PlayerID, d.SeasonID, d.SquadID
			const ofSquad = " AND match_id IN (SELECT id FROM matches WHERE academy_id = $1 AND season_id = $2 AND squad_id " +
				"= $3 AND deleted_at IS NULL)"
			_, err := fetch(tx, []selected{
				{"SELECT * FROM squad_seasons WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3", []any{a, s, q}},
				{"SELECT * FROM trends WHERE academy_id = $1 AND player_id = $2 AND season_id = $3 AND squad_id = $4 AND " +
					"indicator = 'contact_won'", []any{a, p, s, q}},
				{"SELECT * FROM observations WHERE academy_id = $1 AND indicator = 'contact_won'" + ofSquad, []any{a, s, q}},
			})
			return err
		})
	}, nil)
}

// BenchmarkPlayers is the list of all players.
func BenchmarkPlayers(b *testing.B) {
	d := demonstrate(b)
	who := d.as(b, d.Manager)
	beside(b, func() {
		err := d.Read(b.Context(), who, func(tx *store.Tx) error {
			_, err := tx.Players(models.PlayerFilter{})
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}, func() {
		d.plain(b, readOnly, func(tx *sql.Tx) error {
			_, err := fetch(tx, []selected{{"SELECT * FROM players WHERE academy_id = $1 AND deleted_at IS NULL ORDER " +
				"BY name, id", []any{d.Academy.ID}}})
			return err
		})
	}, nil)
}

// BenchmarkInvolvement is what a coach waits for at each key in a match log: one involvement, checked, written, and
// observed.
func BenchmarkInvolvement(b *testing.B) {
	d := demonstrate(b)
	who := d.as(b, d.Coach)
	var log models.Log
	err := d.Read(b.Context(), who, func(tx *store.Tx) error {
		logs, err := tx.Logs(models.LogFilter{PlayerID: d.PlayerID, SeasonID: d.SeasonID})
		i := slices.IndexFunc(logs, func(l models.Log) bool { return l.LoggerID == who.UserID && l.Depth == models.Full })
		if i < 0 {
			return fmt.Errorf("the coach has logged nothing: %w", err)
		}
		log = logs[i]
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	var made models.Involvement
	one := []any{d.Academy.ID, log.PlayerID, log.MatchID}
	const observations = "SELECT indicator, numerator, denominator, source, differs FROM observations WHERE academy_id " +
		"= $1 AND player_id = $2 AND match_id = $3"
	var indicators, sources []string
	var numerators, denominators []float64
	var differs []*float64
	d.plain(b, readOnly, func(tx *sql.Tx) error {
		rows, err := tx.Query(observations, one...)
		if err != nil {
			return err
		}
		for rows.Next() {
			var i, s string
			var n, of float64
			var other *float64
			if err := rows.Scan(&i, &n, &of, &s, &other); err != nil {
				return err
			}
			indicators, numerators, denominators = append(indicators, i), append(numerators, n), append(denominators, of)
			sources, differs = append(sources, s), append(differs, other)
		}
		return rows.Err()
	})
	beside(b, func() {
		made = models.Involvement{LogID: log.ID, Clock: models.Clock{Half: 1, Second: 1200}, Kind: models.KindTackle,
			Details: map[string]string{"result": "won"}}
		if err := d.Write(b.Context(), who, func(tx *store.Tx) error { return tx.CreateInvolvement(&made) }); err != nil {
			b.Fatal(err)
		}
	}, func() {
		d.plain(b, nil, func(tx *sql.Tx) error {
			_, err := fetch(tx, []selected{
				{"SELECT pg_advisory_xact_lock($1, $2)", []any{1, d.Academy.ID}},
				{"SELECT l.*, m.* FROM logs AS l JOIN matches AS m ON m.academy_id = l.academy_id AND m.id = l.match_id WHERE " +
					"l.academy_id = $1 AND l.id = $2", []any{d.Academy.ID, log.ID}},
				{`SELECT 1 FROM memberships AS mine WHERE academy_id = $1 AND player_id = $2 AND season_id = $3 AND squad_id = ` +
					`ANY ($4) AND deleted_at IS NULL`,
					[]any{d.Academy.ID, log.PlayerID, d.SeasonID, who.SquadIDs}},
				{"SELECT * FROM appearances WHERE academy_id = $1 AND player_id = $2 AND match_id = $3 AND deleted_at IS NULL",
					one},
				{"SELECT s.* FROM stints AS s JOIN appearances AS a ON a.academy_id = s.academy_id AND a.id = s.appearance_id " +
					"WHERE a.academy_id = $1 AND a.player_id = $2 AND a.match_id = $3", one},
				{"SELECT * FROM match_totals WHERE academy_id = $1 AND player_id = $2 AND match_id = $3 AND deleted_at IS NULL",
					one},
				{"SELECT i.* FROM involvements AS i JOIN logs AS l ON l.academy_id = i.academy_id AND l.id = i.log_id WHERE " +
					"l.academy_id = $1 AND l.player_id = $2 AND l.match_id = $3 AND i.deleted_at IS NULL", one},
				{"SELECT * FROM indicators WHERE academy_id = $1 AND deleted_at IS NULL", one[:1]},
				{`INSERT INTO involvements (academy_id, version, created_at, changed_at, log_id, half, second, kind, details,
					options, note, video_file, moment, key)
					VALUES ($1, 1, now(), now(), $2, 1, 1200, 'tackle', '{"result": "won"}', '', '', '', false,
					'') RETURNING id`, []any{d.Academy.ID, log.ID}},
				{"DELETE FROM observations WHERE academy_id = $1 AND player_id = $2 AND match_id = $3", one},
				{"DELETE FROM carry_cells WHERE academy_id = $1 AND player_id = $2 AND match_id = $3 RETURNING 1", one},
				{`INSERT INTO observations (academy_id, player_id, match_id, indicator, numerator, denominator, source, differs)
					SELECT $1, $2, $3, * FROM unnest($4::text[], $5::double precision[], $6::double precision[], $7::text[],
					$8::double precision[])`,
					append(slices.Clone(one), indicators, numerators, denominators, sources, differs)},
				{"UPDATE squad_seasons SET revision = revision + 1, changed_at = now() WHERE academy_id = $1 AND season_id = $2 " +
					"AND squad_id = $3 RETURNING 1",
					[]any{d.Academy.ID, d.SeasonID, d.SquadID}},
			})
			return err
		})
	}, func() {
		// Both leave the log as it was; what is left of them would slow the later ones.
		d.exec(b, d.owner, "DELETE FROM involvements WHERE log_id = $1 AND half = 1 AND second = 1200", log.ID)
	})
	b.ReportMetric(float64(len(indicators)), "observations")
}

// refit brings the trends of all squads' seasons up to date.
func (d *demonstration) refit(b *testing.B) {
	b.Helper()
	keeper := fits.NewKeeper(api.Records{Store: d.Store}, time.Now, slog.Default())
	if _, err := api.RefitAll(b.Context(), d.Store, keeper); err != nil {
		b.Fatal(err)
	}
}

// overviewRows are the rows that the overview of a squad stands on.
func (d *demonstration) overviewRows() []selected {
	a, s, q := d.Academy.ID, d.SeasonID, d.SquadID
	const members = "SELECT player_id FROM memberships WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3 AND " +
		"deleted_at IS NULL"
	const ofSquad = " AND match_id IN (SELECT id FROM matches WHERE academy_id = $1 AND season_id = $2 AND squad_id = " +
		"$3 AND deleted_at IS NULL)"
	return []selected{
		{"SELECT * FROM seasons WHERE academy_id = $1 AND id = $2", []any{a, s}},
		{"SELECT * FROM squads WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM memberships WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3", []any{a, s, q}},
		{"SELECT * FROM players WHERE academy_id = $1 AND id IN (" + members + ")", []any{a, s, q}},
		{"SELECT * FROM appearances WHERE academy_id = $1" + ofSquad, []any{a, s, q}},
		{"SELECT player_id, match_id, max(denominator) FROM observations WHERE academy_id = $1 AND source = 'log'" +
			ofSquad + " GROUP BY player_id, match_id", []any{a, s, q}},
		{"SELECT * FROM indicators WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM skills WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM squad_seasons WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3", []any{a, s, q}},
		{"SELECT player_id, indicator, skill, verdict, made_at, figures - 'curve' - 'before' FROM trends WHERE " +
			"academy_id = $1 AND season_id = $2 AND squad_id = $3", []any{a, s, q}},
		{"SELECT * FROM ratings WHERE academy_id = $1 AND grade <= 2 AND player_id IN (" + members + ")", []any{a, s, q}},
		{"SELECT * FROM goals WHERE academy_id = $1 AND player_id IN (" + members + ")", []any{a, s, q}},
		{"SELECT * FROM spells WHERE academy_id = $1 AND player_id IN (" + members + ")", []any{a, s, q}},
		{"SELECT * FROM stand_downs WHERE academy_id = $1 AND player_id IN (" + members + ")", []any{a, s, q}},
		{"SELECT * FROM contact_actions WHERE academy_id = $1 AND player_id IN (" + members + ")", []any{a, s, q}},
		{"SELECT id, player_id, squad_id, author_id, date FROM reviews WHERE academy_id = $1 AND shared AND player_id IN (" +
			members + ")", []any{a, s, q}},
	}
}

// BenchmarkSquadOverview is the overview of a squad of forty: its data, and the sheet as it is drawn. The bare SQL does
// not look at what a coach or a selector may see.
func BenchmarkSquadOverview(b *testing.B) {
	d := demonstrate(b)
	d.fillSquad(b)
	d.refit(b)
	d.exec(b, d.owner, "ANALYZE")
	page, err := overview.NewPage()
	if err != nil {
		b.Fatal(err)
	}
	for _, user := range []models.User{d.Manager, d.Coach, d.Selector} {
		who := d.as(b, user)
		b.Run(string(who.Role), func(b *testing.B) {
			players := 0
			beside(b, func() {
				err := d.Read(b.Context(), who, func(tx *store.Tx) error {
					o, err := overview.Read(b.Context(), tx, overview.Request{SquadID: d.SquadID, SeasonID: d.SeasonID, Who: who,
						Now: apitest.Now})
					if err != nil {
						return err
					}
					players = o.Summary.Players
					_, err = page.Sheet(b.Context(), o)
					return err
				})
				if err != nil {
					b.Fatal(err)
				}
			}, func() {
				d.plain(b, readOnly, func(tx *sql.Tx) error {
					_, err := fetch(tx, d.overviewRows())
					return err
				})
			}, nil)
			b.ReportMetric(float64(players), "players")
		})
	}
}
