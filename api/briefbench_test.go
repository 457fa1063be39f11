package api_test

import (
	"database/sql"
	"slices"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/reports/brief"
)

// briefRows are the rows that the brief of a meeting stands on.
func (d *demonstration) briefRows(meeting int64) []selected {
	a, s, q := d.Academy.ID, d.SeasonID, d.SquadID
	const of = "player_id IN (SELECT player_id FROM candidates WHERE academy_id = $1 AND meeting_id = $2)"
	own := []any{a, meeting}
	rows := []selected{
		{"SELECT * FROM meetings WHERE academy_id = $1 AND id = $2", own},
		{"SELECT * FROM seasons WHERE academy_id = $1 AND id = $2", []any{a, s}},
		{"SELECT * FROM squads WHERE academy_id = $1", []any{a}},
		{"SELECT id, name FROM users WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM skills WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM indicators WHERE academy_id = $1", []any{a}},
		{"SELECT * FROM squad_seasons WHERE academy_id = $1 AND season_id = $2 AND squad_id = $3", []any{a, s, q}},
		{"SELECT * FROM matches WHERE academy_id = $1 AND season_id = $2", []any{a, s}},
		{"SELECT match_id, player_id, minutes FROM appearances WHERE academy_id = $1 AND match_id IN (SELECT id FROM " +
			"matches WHERE academy_id = $1 AND season_id = $2)", []any{a, s}},
		{"SELECT * FROM trends WHERE academy_id = $1 AND season_id = $3 AND " + of, []any{a, meeting, s}},
	}
	for _, table := range []string{"candidates", "candidate_evidence", "recommendations"} {
		rows = append(rows, selected{"SELECT * FROM " + table + " WHERE academy_id = $1 AND meeting_id = $2", own})
	}
	for _, table := range []string{"spells", "memberships", "goals", "head_contacts", "stand_downs", "consents"} {
		rows = append(rows, selected{"SELECT * FROM " + table + " WHERE academy_id = $1 AND " + of, own})
	}
	return rows
}

// BenchmarkBrief is the brief of an open meeting about two places, read and drawn.
func BenchmarkBrief(b *testing.B) {
	d := demonstrate(b)
	if err := scenario.Meet(b.Context(), d.Store, scenario.Simulate(1), d.Loaded); err != nil {
		b.Fatal(err)
	}
	page, err := brief.NewPage()
	if err != nil {
		b.Fatal(err)
	}
	who, meeting := d.as(b, d.Selector), int64(0)
	err = d.Read(b.Context(), who, func(tx *store.Tx) error {
		all, err := tx.Meetings(models.MeetingFilter{SquadID: d.SquadID})
		meeting = all[slices.IndexFunc(all, func(m models.Meeting) bool { return m.Status == models.MeetingOpened })].ID
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	candidates := 0
	beside(b, func() {
		err := d.Read(b.Context(), who, func(tx *store.Tx) error {
			r, err := brief.Read(tx, brief.Request{MeetingID: meeting, Who: who, Now: apitest.Now})
			if err != nil {
				return err
			}
			candidates = 0
			for _, p := range r.Places {
				candidates += len(p.Candidates)
			}
			_, err = page.Sheet(b.Context(), r)
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}, func() {
		d.plain(b, readOnly, func(tx *sql.Tx) error {
			_, err := fetch(tx, d.briefRows(meeting))
			return err
		})
	}, nil)
	b.ReportMetric(float64(candidates), "candidates")
}
