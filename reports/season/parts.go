package season

import (
	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// together names the squads of a row of figures, if they are of several.
func together(l *evidence.IndicatorLine) string {
	names := ""
	for i, s := range l.Squads {
		if i > 0 {
			names += " and "
		}
		names += s.Squad
	}
	if names != "" {
		names += " together, "
	}
	return names
}

// squadRows are an indicator's figures in each squad, of a player with figures for several.
func squadRows(l *evidence.IndicatorLine) (rows [][]paper.Cell) {
	scale := paper.ScaleOf(l.Unit)
	for _, s := range l.Squads {
		rows = append(rows, []paper.Cell{
			{Text: l.Label + ", " + s.Squad + " only", Under: paper.Plural(s.Matches, "match", "matches")},
			{Text: scale.Value(s.Season)}, {Text: "–"}, {Text: "–"}, {Text: "–"}, {Text: "–"}, {Text: "–"}, {Text: "–"},
			{Text: "–"},
		})
	}
	return rows
}

// partTables are the figures by quarter of the player's own time on the pitch, and before and in long passages.
func (r *Report) partTables() (tables []paper.Table) {
	whose := "the player’s own"
	if r.Own() {
		whose = "your own"
	}
	for _, quarters := range []bool{true, false} {
		t := paper.Table{ID: "passages-table",
			Caption: "Before and in long passages of play, from matches logged with phases.",
			Columns: []paper.Column{{Label: "Figure"}}}
		if quarters {
			t.ID, t.Caption = "quarters-table", "By quarter of "+whose+" time on the pitch, from matches logged in full. The "+
				"last quarter stands beside the first three."
		}
		codes := []string{}
		for _, part := range models.Parts() {
			if part.Quarter > 0 == quarters {
				codes = append(codes, part.Code)
				t.Columns = append(t.Columns, paper.Column{Label: part.Label, Numeric: true})
			}
		}
		if quarters {
			codes = append(codes, "q1_q3")
			t.Columns = append(t.Columns, paper.Column{Label: "First three quarters", Numeric: true})
		}
		for i := range r.Parts {
			if r.Parts[i].Quarters == quarters {
				t.Rows = append(t.Rows, partRow(&r.Parts[i], codes))
			}
		}
		if len(t.Rows) > 0 {
			tables = append(tables, t)
		}
	}
	return tables
}

func partRow(l *evidence.PartLine, codes []string) []paper.Cell {
	scale := paper.ScaleOf(l.Unit)
	row := []paper.Cell{{Text: l.Label}}
	for _, code := range codes {
		cell := paper.Cell{Text: "–"}
		if f := l.Part(code); f != nil {
			cell = paper.Cell{Text: scale.Value(f.Value), Under: paper.Plural(f.Matches, "match", "matches")}
		}
		row = append(row, cell)
	}
	return row
}
