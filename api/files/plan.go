package files

import (
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"

	"throughline/models"
)

// recorded is what an academy already has of what a sheet names. Names are keys in composed form, as they are in a
// sheet.
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

// plan is what importing a sheet comes to. Records that are to be created have no id yet; the slices run parallel to
// the sheet's.
type plan struct {
	state   int64 // of the academy's records when it was made: see store.Tx.LastChange
	sheet   *sheet
	options TotalsOptions
	summary Summary

	seasons []models.Season
	squads  []models.Squad
	players []models.Player
	filled  []int // places in players: recorded ones that the file completes
	matches []models.Match
	altered []alteredMatch
	members []newMember
	fresh   []int // rows whose appearance is new, match by match
	changes []change
}

// alteredMatch is a recorded match that differs from the file.
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

// newPlan compares a sheet with what is recorded. It adds errors to the sheet's findings; the plan is only of use
// without any.
func newPlan(s *sheet, rec *recorded, o TotalsOptions) *plan {
	p := &plan{sheet: s, options: o, summary: Summary{Differences: []Difference{}}}
	p.planSeasons(rec)
	p.planSquads(rec)
	p.planPlayers(rec)
	p.planMatches(rec)
	p.planMembers(rec)
	p.planAppearances(rec)
	p.summary.NoMinutesColumn = !s.has(columnMinutes)
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
			s.add(finding{line: far.line, column: s.at[columnDate], name: columnDate, value: string(far.date),
				reason: fmt.Sprintf(
					"the new season %s would run from %s to %s, for matches from %s (line %d) to %s (line %d): %s",
					quoted(name), starts, ends, first.date, first.line, last.date, last.line, why.Message)})
		}
	}
}

// seasonDates returns the first and last day of a season that a file creates. A name of two years that follow each
// other ("2025-26", "2025/2026") stands for 1 July of the first to 30 June of the second, a name of one year ("2026")
// for that calendar year, and any other name for no days of its own; the season is then as much longer as the file's
// first and last match need.
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
		p.squads[i] = models.Squad{Name: name, AgeBand: models.BandInName(name)}
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
			p.complete(i)
			p.summary.Players.Created++
		case 1:
			p.players[i] = old[0]
			if p.complete(i) {
				p.filled = append(p.filled, i)
				p.summary.Players.Changed++
			} else {
				p.summary.Players.Unchanged++
			}
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
		made := &p.players[r.player]
		if made.ID == 0 && r.position != "" && s.person(int(r.player)).positions.line == 0 {
			if played[r.player] == nil {
				played[r.player] = map[models.Position]int{}
			}
			n := played[r.player]
			n[r.position]++
			// The main position of a player who is created is the one they played most often, the first of several.
			if len(made.Positions) == 0 || n[r.position] > n[made.Positions[0]] {
				made.Positions = []models.Position{r.position}
			}
		}
	}
}

// complete gives a player the file's birth date and positions if none are recorded. It finds where recorded ones
// differ from the file's. It says whether that changed the player.
func (p *plan) complete(i int) (changed bool) {
	s, player, of := p.sheet, &p.players[i], p.sheet.person(i)
	conflict := func(column string, said given[string], reason string) {
		s.add(finding{line: said.line, column: s.at[column], name: column, value: said.value, reason: reason +
			"; correct the one that is wrong, or leave the cell empty"})
	}
	if of.born.line != 0 {
		switch born := models.Date(of.born.value); {
		case player.BornOn == nil:
			player.BornOn, changed = &born, true
			p.summary.BirthDates++
		case *player.BornOn != born:
			conflict(columnBornOn, of.born, "the birth date on file for "+player.Name+" is different")
		}
	}
	if of.positions.line != 0 {
		was := make([]string, len(player.Positions))
		for k, position := range player.Positions {
			was[k] = string(position)
		}
		switch said := strings.Fields(of.positions.value); {
		case len(was) == 0:
			player.Positions, changed = positionsOf(said), true
			p.summary.Positions++
		case !samePositions(was, said):
			conflict(columnPositions, of.positions, fmt.Sprintf("on file for %s is %s", player.Name,
				strings.Join(was, " ")))
		}
	}
	return changed
}
