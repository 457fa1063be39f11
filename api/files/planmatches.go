package files

import (
	"fmt"
	"strconv"

	"throughline/models"
)

func (p *plan) planMatches(rec *recorded) {
	s := p.sheet
	usual := p.usualHalves()
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
		now := models.Match{SeasonID: season.ID, Date: m.date, Opponent: opponent, Halves: 2,
			HalfMinutes: usual[m.squad].Minutes}
		if len(old) > 0 {
			now = old[0]
		}
		if len(old) > 1 {
			wrong(m.line, columnOpponent, opponent, fmt.Sprintf("%d matches of %s against this opponent on %s are recorded: "+
				"a file cannot tell them apart", len(old), squad.Name, m.date))
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
			if m.half.line == 0 {
				usual[m.squad].Matches++
			}
			continue
		}
		p.compareMatch(i, m, old[0], now)
	}
	for _, u := range usual {
		if u.Matches > 0 && p.options.HalfMinutes == 0 {
			p.summary.assume(u)
		}
	}
}

// assume adds a squad's assumption to those of the others, and joins it with an equal one.
func (s *Summary) assume(h HalfAssumed) {
	for i := range s.Halves {
		if a := &s.Halves[i]; a.Minutes == h.Minutes && a.Why == h.Why {
			a.Squads, a.Matches = append(a.Squads, h.Squads...), a.Matches+h.Matches
			return
		}
	}
	s.Halves = append(s.Halves, h)
}

// usualHalves returns, for each squad, how long a half of a new match lasts if the file does not say: as chosen for
// the import, or as usual in the squad's age band. If a player has more minutes than such a match, the squad's matches
// of the file are taken to be as long as the Laws allow.
func (p *plan) usualHalves() []HalfAssumed {
	s := p.sheet
	longest := make([]row, len(p.squads))
	for _, r := range s.rows {
		if m := &s.matches[r.match]; m.half.line == 0 && r.minutes > longest[m.squad].minutes {
			longest[m.squad] = r
		}
	}
	all := make([]HalfAssumed, len(p.squads))
	for i, squad := range p.squads {
		all[i] = HalfAssumed{Squads: []string{s.squads.texts[i]}, Minutes: squad.UsualHalfMinutes(),
			Why: "usual for " + squad.BandInWords()}
		if squad.AgeBand == 0 {
			all[i].Why = "usual for adults, and no age band is on file"
		}
		most := all[i].Minutes * models.LawHalves
		if long := longest[i]; long.minutes > float64(most) && most < models.LawHalves*models.LawHalfMinutes {
			all[i].Minutes = models.LawHalfMinutes
			all[i].Why = fmt.Sprintf("line %d has %s minutes, more than the %d of a usual match for %s", long.line,
				number(long.minutes), most, squad.BandInWords())
		}
		if p.options.HalfMinutes != 0 {
			all[i].Minutes = p.options.HalfMinutes
		}
	}
	return all
}

// stand is the id of a record, or a number in its place while it has none, so that what refers to it can be
// validated.
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
