package files

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"

	"throughline/models"
)

// recorded is what an academy already has of what a sheet names. Names are keys in composed form, as they are in a sheet.
type recorded struct {
	seasons     map[string]models.Season
	squads      map[string]models.Squad
	players     map[string][]models.Player
	matches     map[recordedMatch][]models.Match
	members     map[member]bool
	appearances map[pair]models.Appearance
	totals      map[pair]models.MatchTotals
}

type recordedMatch struct {
	squad    int64
	date     models.Date
	opponent string
}

type member struct{ season, squad, player int64 }

type pair struct{ match, player int64 }

// composed is a name as names are compared: letters with marks can be written in two ways that look the same.
func composed(name string) string { return norm.NFC.String(name) }

// plan is what importing a sheet comes to. Records that are to be created have no id yet; the slices run parallel to the sheet's.
type plan struct {
	sheet   *sheet
	options TotalsOptions
	summary Summary

	seasons []models.Season
	squads  []models.Squad
	players []models.Player
	matches []models.Match
	altered []alteredMatch
	members []newMember
	fresh   []int // rows whose appearance is new, match by match
	changes []change
}

// alteredMatch is a recorded match of which the file says something else.
type alteredMatch struct {
	match  int // its place in plan.matches
	before models.Match
}

// newMember is a membership to create: places in plan.seasons, squads and players.
type newMember struct{ season, squad, player int }

// change is what a row makes of an appearance and totals that are recorded already.
type change struct {
	row        int
	appearance *models.Appearance  // nil when it stays
	shirt      *int                // the shirt worn before
	totals     *models.MatchTotals // nil when they stay
}

// newPlan compares a sheet with what is recorded. What is wrong with the sheet is added to its findings; only while there are none is the
// plan of use.
func newPlan(s *sheet, rec *recorded, o TotalsOptions) *plan {
	p := &plan{sheet: s, options: o, summary: Summary{Differences: []Difference{}}}
	p.planSeasons(rec)
	p.planSquads(rec)
	p.planPlayers(rec)
	p.planMatches(rec)
	p.planMembers(rec)
	p.planAppearances(rec)
	return p
}

func (p *plan) planSeasons(rec *recorded) {
	s := p.sheet
	type span struct{ first, last int } // matches
	spans := make([]span, len(s.seasons.texts))
	for i := range spans {
		spans[i] = span{-1, -1}
	}
	for i, m := range s.matches {
		at := &spans[m.season]
		if at.first < 0 || m.date < s.matches[at.first].date {
			at.first = i
		}
		if at.last < 0 || m.date > s.matches[at.last].date {
			at.last = i
		}
	}
	p.seasons = make([]models.Season, len(s.seasons.texts))
	for i, name := range s.seasons.texts {
		if old, ok := rec.seasons[name]; ok {
			p.seasons[i] = old
			p.summary.Seasons.Unchanged++
			continue
		}
		if spans[i].first < 0 {
			continue // only lines with findings name it
		}
		first, last := s.matches[spans[i].first], s.matches[spans[i].last]
		starts, ends := seasonDates(name, first.date, last.date)
		p.seasons[i] = models.Season{Name: name, Starts: starts, Ends: ends}
		p.summary.Seasons.Created++
		far := last // from the days that the name stands for
		if from, _, ok := namedDates(name); ok && first.date < from {
			far = first
		}
		for _, why := range reasons(p.seasons[i].Validate()) {
			s.add(finding{line: far.line, column: s.at[columnDate], name: columnDate, value: string(far.date), reason: fmt.Sprintf(
				"the new season %s would run from %s to %s, for matches from %s (line %d) to %s (line %d): %s",
				quoted(name), starts, ends, first.date, first.line, last.date, last.line, why.Message)})
		}
	}
}

// seasonDates returns the first and last day of a season that a file creates. A name of two years that follow each other ("2025-26",
// "2025/2026") stands for 1 July of the first to 30 June of the second, a name of one year ("2026") for that calendar year, and any other name for
// no days of its own; the season is then as much longer as the file's first and last match need.
func seasonDates(name string, first, last models.Date) (starts, ends models.Date) {
	starts, ends = first, last
	if from, to, ok := namedDates(name); ok {
		starts, ends = min(starts, from), max(ends, to)
	}
	return starts, ends
}

func namedDates(name string) (starts, ends models.Date, ok bool) {
	one, two, pair := strings.Cut(strings.Replace(name, "/", "-", 1), "-")
	year, err := strconv.Atoi(one)
	if err != nil || len(one) != 4 || !isDigits(one) {
		return "", "", false
	}
	if !pair {
		return models.Date(one + "-01-01"), models.Date(one + "-12-31"), true
	}
	next := fmt.Sprintf("%04d", year+1)
	if two != next && two != next[2:] {
		return "", "", false
	}
	return models.Date(one + "-07-01"), models.Date(next + "-06-30"), true
}

func (p *plan) planSquads(rec *recorded) {
	p.squads = make([]models.Squad, len(p.sheet.squads.texts))
	for i, name := range p.sheet.squads.texts {
		if old, ok := rec.squads[name]; ok {
			p.squads[i] = old
			p.summary.Squads.Unchanged++
			continue
		}
		p.squads[i] = models.Squad{Name: name}
		p.summary.Squads.Created++
	}
}

func (p *plan) planPlayers(rec *recorded) {
	s := p.sheet
	p.players = make([]models.Player, len(s.players.texts))
	several := make([]int, len(p.players)) // how many recorded players have the name, when more than one
	for i, name := range s.players.texts {
		switch old := rec.players[name]; len(old) {
		case 0:
			p.players[i] = models.Player{Name: name, Positions: []models.Position{}}
			p.summary.Players.Created++
		case 1:
			p.players[i] = old[0]
			p.summary.Players.Unchanged++
		default:
			several[i] = len(old)
		}
	}
	played := map[int32]map[models.Position]int{}
	for i, r := range s.rows {
		if n := several[r.player]; n > 0 {
			s.finding(i, columnPlayer, s.players.texts[r.player], fmt.Sprintf(
				"%d players of the academy have this name: record this line by hand, or give them names that tell them apart", n))
		}
		if made := &p.players[r.player]; made.ID == 0 && r.position != "" {
			if played[r.player] == nil {
				played[r.player] = map[models.Position]int{}
			}
			n := played[r.player]
			n[r.position]++
			// The main position of a player who is created is the one he played most often, the first of several.
			if len(made.Positions) == 0 || n[r.position] > n[made.Positions[0]] {
				made.Positions = []models.Position{r.position}
			}
		}
	}
}

func (p *plan) planMatches(rec *recorded) {
	s := p.sheet
	p.matches = make([]models.Match, len(s.matches))
	for i, m := range s.matches {
		wrong := func(line int, column, value, reason string) {
			s.add(finding{line: line, column: s.at[column], name: column, value: value, reason: reason})
		}
		season, squad := p.seasons[m.season], p.squads[m.squad]
		opponent := s.opponents.texts[m.opponent]
		var old []models.Match
		if squad.ID != 0 {
			old = rec.matches[recordedMatch{squad.ID, m.date, opponent}]
		}
		now := models.Match{SeasonID: season.ID, Date: m.date, Opponent: opponent, Halves: 2, HalfMinutes: p.options.HalfMinutes}
		if len(old) > 0 {
			now = old[0]
		}
		if len(old) > 1 {
			wrong(m.line, columnOpponent, opponent, fmt.Sprintf("%d matches of %s against this opponent on %s are recorded: a file cannot tell them apart", len(old), squad.Name, m.date))
		}
		if s.has(columnVenue) {
			now.Venue = nil
			if m.venue.line != 0 {
				now.Venue = &m.venue.value
			}
		}
		if s.has(columnDifficulty) {
			now.Difficulty = nil
			if m.difficulty.line != 0 {
				now.Difficulty = &m.difficulty.value
			}
		}
		if m.half.line != 0 {
			now.HalfMinutes = m.half.value
		}
		p.matches[i] = now

		checked := now
		checked.SeasonID, checked.SquadID = stand(now.SeasonID), new(stand(squad.ID))
		for _, why := range reasons(checked.Validate()) {
			switch why.Where {
			case "venue":
				wrong(m.venue.line, columnVenue, string(m.venue.value), why.Message)
			case "difficulty":
				wrong(m.difficulty.line, columnDifficulty, strconv.Itoa(m.difficulty.value), why.Message)
			case "half_minutes":
				wrong(m.half.line, columnHalfMinutes, strconv.Itoa(m.half.value), why.Message)
			default:
				s.line(m.line, "the match: %s %s", why.Where, why.Message)
			}
		}
		switch {
		case len(old) == 0 && season.ID != 0:
			for _, why := range reasons(now.ValidateIn(season)) {
				wrong(m.line, columnDate, string(m.date), why.Message)
			}
		case len(old) == 1 && old[0].SeasonID != season.ID:
			wrong(m.line, columnSeason, s.seasons.texts[m.season], "the match is recorded in another season")
		}
		if len(old) == 0 {
			p.summary.Matches.Created++
			continue
		}
		p.compareMatch(i, m, old[0], now)
	}
}

// stand is the id of a record, or a number in its place while it has none, so that what refers to it can be validated.
func stand(id int64) int64 { return max(id, 1) }

func (p *plan) compareMatch(i int, m match, old, now models.Match) {
	d := Difference{Line: m.line, Match: p.matchText(i)}
	before := p.summary.differences()
	p.differ(d, columnVenue, deref(old.Venue), deref(now.Venue))
	p.differ(d, columnDifficulty, optional(old.Difficulty), optional(now.Difficulty))
	p.differ(d, columnHalfMinutes, strconv.Itoa(old.HalfMinutes), strconv.Itoa(now.HalfMinutes))
	if p.summary.differences() == before {
		p.summary.Matches.Unchanged++
		return
	}
	p.summary.Matches.Changed++
	p.altered = append(p.altered, alteredMatch{i, old})
}

// differ notes a difference, if there is one.
func (p *plan) differ(d Difference, column, was, now string) {
	if was == now {
		return
	}
	d.Column, d.Recorded, d.File = column, was, now
	p.summary.add(d)
}

func (p *plan) matchText(i int) string {
	m := p.sheet.matches[i]
	return fmt.Sprintf("%s v %s, %s", p.sheet.squads.texts[m.squad], p.sheet.opponents.texts[m.opponent], m.date)
}

func (p *plan) planMembers(rec *recorded) {
	s := p.sheet
	seen := map[newMember]bool{}
	for _, r := range s.rows {
		m := s.matches[r.match]
		n := newMember{m.season, m.squad, int(r.player)}
		if seen[n] {
			continue
		}
		seen[n] = true
		if rec.members[member{p.seasons[n.season].ID, p.squads[n.squad].ID, p.players[n.player].ID}] {
			p.summary.Memberships.Unchanged++
			continue
		}
		p.summary.Memberships.Created++
		p.members = append(p.members, n)
	}
}

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

// planAppearance decides what becomes of a row, and returns the appearance as it will be.
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
	if !known {
		p.fresh = append(p.fresh, i)
		p.summary.Appearances.Created++
		return a
	}
	p.compareAppearance(i, old, a, was, counts, hasTotals)
	return a
}

// fill puts what row i says into an appearance. A column that the file has decides: an empty cell takes back what was recorded. One that it
// does not have leaves what was recorded.
func (p *plan) fill(a *models.Appearance, i int) {
	s, r := p.sheet, &p.sheet.rows[i]
	if len(a.Stints) == 0 {
		a.Minutes = r.minutes // otherwise the stints decide; see compareAppearance
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

// counts returns what is recorded with row i's counts in place of those of the file's columns; nil when nothing is left.
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
		s.line(int(r.line), "with what is recorded of the appearance: %s %s", why.Where, why.Message)
	}
}

func (p *plan) wrongCount(i int, counts models.Counts, why models.FieldError) {
	s := p.sheet
	if s.has(why.Where) {
		s.finding(i, why.Where, number(counts[why.Where]), why.Message)
		return
	}
	s.line(int(s.rows[i].line), "with the %s recorded before: %s", why.Where, why.Message)
}

// compareAppearance decides what row i changes in what is recorded, and notes the differences.
func (p *plan) compareAppearance(i int, old, now models.Appearance, was models.MatchTotals, counts models.Counts, hasTotals bool) {
	s, r := p.sheet, &p.sheet.rows[i]
	d := Difference{Line: int(r.line), Match: p.matchText(int(r.match)), Player: s.players.texts[r.player]}
	if len(old.Stints) > 0 && r.minutes != now.Minutes {
		d := d
		d.Kept = true
		p.differ(d, columnMinutes, number(now.Minutes), number(r.minutes))
	}
	c := change{row: i, shirt: old.Shirt}
	before := p.summary.differences()
	if len(old.Stints) == 0 {
		p.differ(d, columnMinutes, number(old.Minutes), number(now.Minutes))
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

// checkSide checks what the appearances of one match cannot all have, those included that are recorded and not in the file.
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
			s.line(int(s.rows[rows[0]].line), "with what is recorded of the match: %s %s", why.Where, why.Message)
			continue
		}
		switch i := rows[k-others]; field {
		case "shirt":
			worn := slices.IndexFunc(side, func(a models.Appearance) bool { return a.Shirt != nil && *a.Shirt == *side[k].Shirt })
			by := "a player of the match who is not in the file"
			if worn >= others {
				by = fmt.Sprintf("the player on line %d", s.rows[rows[worn-others]].line)
			}
			s.finding(i, columnShirt, strconv.Itoa(*side[k].Shirt), "the shirt is also worn by "+by+": give each player of a match a number of his own")
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
