package season

import (
	"fmt"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// together names the squads of a row of figures, if they are of several.
func together(l *evidence.IndicatorLine) string {
	var names []string
	for i := range l.Squads {
		names = append(names, l.Squads[i].Squad)
	}
	switch {
	case names == nil && l.OnlySquad != "":
		return l.OnlySquad + " only, "
	case names == nil:
		return ""
	}
	return paper.And(names) + " together, "
}

// squadRows are an indicator's figures in each squad, of a player with figures for several. Level, trend and comparison
// stand beside the squad that they are of.
func (r *Report) squadRows(l *evidence.IndicatorLine, levels []paper.Cell) (rows [][]paper.Cell) {
	scale := paper.ScaleOf(l.Unit)
	for i := range l.Squads {
		s := &l.Squads[i]
		row := []paper.Cell{
			{Text: l.Label + ", " + s.Squad + " only", Under: s.SquadEvidence()},
			{Text: scale.Value(s.Season), Under: evidence.Range(scale, s.Season95)},
		}
		if r.Squad != nil && s.SquadID == r.Squad.ID {
			row = append(row, levels...)
		} else {
			row = append(row, dashes(len(levels))...)
		}
		row = append(row, matchCells(scale, s.Median, s.Median95, s.Best, s.Worst, s.Countable)...)
		rows = append(rows, append(row, paper.Cell{Image: r.of.SquadSparkline(s)}))
	}
	return rows
}

// matchCells are the median match, and the best and the worst.
func matchCells(scale paper.Scale, median *float64, median95 *trend.Interval, best, worst *evidence.Extreme,
	of int) []paper.Cell {
	cells := dashes(2)
	if median != nil {
		cells[0] = paper.Cell{Text: scale.Value(*median), Under: evidence.Range(scale, median95)}
	}
	if best != nil && worst != nil {
		cells[1] = paper.Cell{Text: scale.Value(best.Value) + ", " + scale.Value(worst.Value),
			Under: fmt.Sprintf("of %s", paper.Plural(of, "match", "matches"))}
	}
	return cells
}

// dashes are cells with nothing to say.
func dashes(n int) []paper.Cell {
	cells := make([]paper.Cell, n)
	for i := range cells {
		cells[i].Text = "–"
	}
	return cells
}

// bySquad says about each squad of several what it had of something; empty for a player of one.
func (r *Report) bySquad(words func(*evidence.SquadSummary) string) string {
	var parts []string
	for i := range r.Summary.Squads {
		s := &r.Summary.Squads[i]
		parts = append(parts, words(s)+" "+evidence.For(s.Squad))
	}
	return paper.And(parts)
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
	switch {
	case l.Squad != "":
		row[0].Text += ", " + l.Squad + " only"
	case l.Together != nil:
		row[0].Under = paper.And(l.Together) + " together"
	}
	for _, code := range codes {
		cell := paper.Cell{Text: "–"}
		if f := l.Part(code); f != nil {
			cell = paper.Cell{Text: scale.Value(f.Value), Under: paper.Plural(f.Matches, "match", "matches")}
		}
		row = append(row, cell)
	}
	return row
}
