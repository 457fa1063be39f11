package files

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
)

func (p *plan) planAppearances(rec *recorded) {
	s := p.sheet
	together := s.has(columnShirt) || s.has(columnStarted)
	var others map[int64][]models.Appearance // recorded, by match
	if together {
		others = map[int64][]models.Appearance{}
		for at, a := range rec.appearances {
			others[at.match] = append(others[at.match], a)
		}
	}
	for m, rows := range s.byMatch() {
		match := p.matches[m]
		match.SeasonID, match.SquadID = stand(match.SeasonID), new(stand(0))
		var side []models.Appearance
		for _, i := range rows {
			a := p.planAppearance(rec, i, match)
			if together {
				side = append(side, a)
			}
		}
		if together {
			p.checkSide(rows, side, others[match.ID])
		}
	}
}

// planAppearance decides what to do with a row, and returns the appearance as it will be.
func (p *plan) planAppearance(rec *recorded, i int, match models.Match) models.Appearance {
	s := p.sheet
	player := p.players[s.rows[i].player].ID
	at := pair{match.ID, player}
	old, known := rec.appearances[at]
	a := old
	p.fill(&a, i)
	a.MatchID, a.PlayerID = stand(match.ID), stand(player)
	for _, why := range reasons(a.Validate()) {
		p.wrongAppearance(i, why)
	}
	for _, why := range reasons(a.ValidateIn(match)) {
		p.wrongAppearance(i, why)
	}
	was, hasTotals := rec.totals[at]
	counts := p.counts(was.Counts, i)
	if len(counts) > 0 {
		for _, why := range reasons(counts.Validate()) {
			p.wrongCount(i, counts, why)
		}
	}
	if a.MinutesNotRecorded {
		p.summary.WithoutMinutes++
	}
	if !known {
		p.fresh = append(p.fresh, i)
		p.summary.Appearances.Created++
		return a
	}
	p.compareAppearance(i, old, a, was, counts, hasTotals)
	return a
}

// fill puts row i into an appearance. A column of the file replaces what was recorded: an empty cell clears it, except
// minutes, which stay. A column that the file lacks changes nothing.
func (p *plan) fill(a *models.Appearance, i int) {
	s, r := p.sheet, &p.sheet.rows[i]
	switch { // where there are stints, they decide; see compareAppearance
	case len(a.Stints) > 0:
	case r.minutes != 0:
		a.Minutes, a.MinutesNotRecorded = r.minutes, false
	default: // minutes that are recorded stay, whether the cell is empty or the column is missing
		a.MinutesNotRecorded = a.Minutes == 0
	}
	if s.has(columnStarted) {
		a.Started = nil
		if r.started != 0 {
			a.Started = new(r.started > 0)
		}
	}
	if s.has(columnShirt) {
		a.Shirt = nil
		if r.shirt != 0 {
			a.Shirt = new(int(r.shirt))
		}
	}
	if s.has(columnPosition) {
		a.Position = r.position
	}
}

// counts returns what is recorded with row i's counts in place of those of the file's columns; nil when nothing is
// left.
func (p *plan) counts(was models.Counts, i int) models.Counts {
	counts := p.sheet.rowCounts(i)
	for code, v := range was {
		if p.sheet.has(code) {
			continue
		}
		if counts == nil {
			counts = models.Counts{}
		}
		counts[code] = v
	}
	return counts
}

func (p *plan) wrongAppearance(i int, why models.FieldError) {
	s, r := p.sheet, &p.sheet.rows[i]
	switch why.Where {
	case "minutes":
		s.finding(i, columnMinutes, number(r.minutes), why.Message)
	case "shirt":
		s.finding(i, columnShirt, strconv.Itoa(int(r.shirt)), why.Message)
	case "position":
		s.finding(i, columnPosition, string(r.position), why.Message)
	default:
		s.line(int(r.line), "together with the recorded appearance: %s %s", why.Where, why.Message)
	}
}

func (p *plan) wrongCount(i int, counts models.Counts, why models.FieldError) {
	s := p.sheet
	if s.has(why.Where) {
		s.finding(i, why.Where, number(counts[why.Where]), why.Message)
		return
	}
	s.line(int(s.rows[i].line), "together with the recorded %s: %s", why.Where, why.Message)
}

// compareAppearance decides what row i changes in what is recorded, and notes the differences.
func (p *plan) compareAppearance(i int, old, now models.Appearance, was models.MatchTotals, counts models.Counts,
	hasTotals bool) {
	s, r := p.sheet, &p.sheet.rows[i]
	d := Difference{Line: int(r.line), Match: p.matchText(int(r.match)), Player: s.players.texts[r.player]}
	if len(old.Stints) > 0 && r.minutes != 0 && r.minutes != now.Minutes {
		d := d
		d.Kept = true
		p.differ(d, columnMinutes, number(now.Minutes), number(r.minutes))
	}
	c := change{row: i, shirt: old.Shirt}
	before := p.summary.differences()
	if len(old.Stints) == 0 {
		p.differ(d, columnMinutes, minutesText(old), minutesText(now))
	}
	p.differ(d, columnStarted, yesNo(old.Started), yesNo(now.Started))
	p.differ(d, columnShirt, optional(old.Shirt), optional(now.Shirt))
	p.differ(d, columnPosition, string(old.Position), string(now.Position))
	if p.summary.differences() != before {
		c.appearance = &now
	}
	before = p.summary.differences()
	for _, k := range s.counts {
		code := s.header[k]
		p.differ(d, code, countText(was.Counts, code), countText(counts, code))
	}
	if p.summary.differences() != before {
		was.MatchID, was.PlayerID, was.Source, was.Counts = old.MatchID, old.PlayerID, p.options.Source, counts
		c.totals = &was
	}
	if c.appearance == nil && c.totals == nil {
		p.summary.Appearances.Unchanged++
		return
	}
	p.summary.Appearances.Changed++
	p.changes = append(p.changes, c)
}

// checkSide checks what the appearances of one match cannot all have, those included that are recorded and not in
// the file.
func (p *plan) checkSide(rows []int, inFile, recorded []models.Appearance) {
	s := p.sheet
	known := map[int64]bool{}
	for _, a := range inFile {
		known[a.ID] = true
	}
	var side []models.Appearance // those recorded come first: what is wrong is then found in the file's
	for _, a := range recorded {
		if !known[a.ID] {
			side = append(side, a)
		}
	}
	others := len(side)
	side = append(side, inFile...)
	for _, why := range reasons(models.ValidateShirts(side)) {
		k, field, ok := element(why.Where)
		if !ok || k < others {
			s.line(int(s.rows[rows[0]].line), "together with the recorded match: %s %s", why.Where, why.Message)
			continue
		}
		switch i := rows[k-others]; field {
		case "shirt":
			worn := slices.IndexFunc(side, func(a models.Appearance) bool {
				return a.Shirt != nil && *a.Shirt == *side[k].Shirt
			})
			by := "a player of the match who is not in the file"
			if worn >= others {
				by = fmt.Sprintf("the player on line %d", s.rows[rows[worn-others]].line)
			}
			s.finding(i, columnShirt, strconv.Itoa(*side[k].Shirt), "the shirt is also worn by "+by+
				": give each player a different number")
		case "started":
			s.finding(i, columnStarted, "yes", why.Message)
		default:
			s.line(int(s.rows[i].line), "%s %s", field, why.Message)
		}
	}
}

// element takes a place such as "appearances[3].shirt" apart.
func element(where string) (n int, field string, ok bool) {
	_, rest, ok := strings.Cut(where, "[")
	if !ok {
		return 0, "", false
	}
	digits, field, ok := strings.Cut(rest, "].")
	n, err := strconv.Atoi(digits)
	return n, field, ok && err == nil
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func minutesText(a models.Appearance) string {
	if a.MinutesNotRecorded {
		return ""
	}
	return number(a.Minutes)
}

func countText(counts models.Counts, code string) string {
	if v, ok := counts[code]; ok {
		return number(v)
	}
	return ""
}

func optional(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

func yesNo(b *bool) string {
	switch {
	case b == nil:
		return ""
	case *b:
		return "yes"
	}
	return "no"
}

func deref(v *models.Venue) string {
	if v == nil {
		return ""
	}
	return string(*v)
}
