package scenario

import (
	"cmp"
	"slices"

	"throughline/models"
)

// place is where a player plays, by the shirt that starts there; a lock is always 4 and a wing always 11.
type place int

const (
	loosehead place = 1 + iota
	hooker
	tighthead
	lock
	_
	blindside
	openside
	numberEight
	scrumHalf
	flyHalf
	wing
	insideCentre
	outsideCentre
	_
	fullback
)

// placeOf returns the place that a starting shirt wears.
func placeOf(shirt int) place {
	switch shirt {
	case 5:
		return lock
	case 14:
		return wing
	}
	return place(shirt)
}

// position returns what is recorded about a place.
func (p place) position() models.Position {
	switch p {
	case loosehead, tighthead:
		return models.Prop
	case hooker:
		return models.Hooker
	case lock:
		return models.Lock
	case blindside, openside:
		return models.Flanker
	case numberEight:
		return models.NumberEight
	case scrumHalf:
		return models.ScrumHalf
	case flyHalf:
		return models.FlyHalf
	case insideCentre, outsideCentre:
		return models.Centre
	case wing:
		return models.Wing
	default:
		return models.FullBack
	}
}

func (p place) group() models.Group { return models.GroupOf(p.position()) }
func (p place) forward() bool       { return p <= numberEight }
func (p place) frontRow() bool      { return p <= tighthead }

// positionsOf returns the positions of a list of places, each once.
func positionsOf(places []place) []models.Position {
	var list []models.Position
	for _, p := range places {
		if !slices.Contains(list, p.position()) {
			list = append(list, p.position())
		}
	}
	return list
}

// fit says how well a player with these places plays at a place: 0 at their own, below 0 elsewhere. It is false for a
// place where they never play: only players brought up to it pack down in the front row, or play scrum half.
func fit(places []place, p place) (float64, bool) {
	switch i := slices.Index(places, p); {
	case i == 0:
		return 0, true
	case i > 0:
		return -0.8, true
	case p.frontRow() || p == scrumHalf || places[0].frontRow() || places[0] == scrumHalf:
		return 0, false
	case p.group() == places[0].group():
		return -0.7, true
	case p.forward() == places[0].forward():
		return -2.5, true
	}
	return 0, false
}

// bench holds the places that each replacement's shirt is picked for, the starters that they may replace, and when
// that happens on average, as a share of the match: three for the front row, two for the other forwards, three for the
// backs (*common practice*).
var bench = map[int]struct {
	pickedFor []place
	replaces  []int
	when      float64
}{
	16: {[]place{hooker}, []int{2}, 0.66},
	17: {[]place{loosehead}, []int{1}, 0.64},
	18: {[]place{tighthead}, []int{3}, 0.63},
	19: {[]place{lock}, []int{4, 5}, 0.70},
	20: {[]place{blindside, openside, numberEight}, []int{6, 7, 8}, 0.72},
	21: {[]place{scrumHalf}, []int{9}, 0.74},
	22: {[]place{flyHalf, insideCentre}, []int{10, 12, 13}, 0.76},
	23: {[]place{wing, fullback, outsideCentre}, []int{11, 14, 15, 13}, 0.74},
}

// pickingOrder fills the places that fewest can play first.
var pickingOrder = []int{2, 3, 1, 9, 10, 8, 7, 6, 4, 5, 15, 13, 12, 11, 14}

// sheet is a team sheet: the player in each shirt from 1 to 23, 0 if none could be found.
type sheet [24]int64

// pickTeam chooses a team for a match: the better ones, who have played less of late, at places that they can play.
func (s *simulation) pickTeam(m *models.Match) sheet {
	d := stream(s.seed, "selection", m.ID)
	var squad []int64
	scores := map[int64]float64{}
	for _, p := range s.Players {
		if s.canPlay(p.ID, m) {
			squad = append(squad, p.ID)
			score := 0.5*s.quality[p.ID-1] - 0.15*s.starts[p.ID-1] + d.normal(0, 0.45)
			if s.parts[p.ID-1] != ordinary {
				score++
			}
			if s.status(p.ID, m.Date) == models.Modified {
				score -= 1.2
			}
			scores[p.ID] = score
		}
	}
	var team sheet
	best := func(places []place) int64 {
		var found int64
		top := 0.0
		for _, id := range squad {
			if slices.Contains(team[:], id) {
				continue
			}
			for _, p := range places {
				f, ok := fit(s.places[id-1], p)
				if score := scores[id] + f; ok && (found == 0 || score > top) {
					found, top = id, score
				}
			}
		}
		return found
	}
	for _, shirt := range pickingOrder {
		team[shirt] = best([]place{placeOf(shirt)})
		if i := team[shirt] - 1; i >= 0 {
			s.starts[i]++
		}
	}
	for shirt := 16; shirt <= 23; shirt++ {
		team[shirt] = best(bench[shirt].pickedFor)
	}
	for i := range s.starts {
		if s.squadOf[i] == *m.SquadID {
			s.starts[i] *= 0.85 // what was weeks ago counts less
		}
	}
	return team
}

// canPlay says whether a player may be picked: a member of the squad by then, available, rested, and not with their
// other squad that weekend.
func (s *simulation) canPlay(player int64, m *models.Match) bool {
	squads := s.squadsOn(player, m.Date)
	if !slices.Contains(squads, *m.SquadID) || s.status(player, m.Date) == models.Unavailable {
		return false
	}
	if len(squads) > 1 {
		weekend := int64(seasonStart.DaysUntil(m.Date)+2) / 7
		with := 0
		if stream(s.seed, "playing up", player, weekend).chance(0.4) {
			with = 1
		}
		if squads[with] != *m.SquadID {
			return false
		}
	}
	last := s.lastPlayed[player-1]
	return last == "" || last.DaysUntil(m.Date) > 2
}

// squadsOn returns the squads that a player is in on a day, their own first.
func (s *simulation) squadsOn(player int64, day models.Date) []int64 {
	var squads []int64
	for _, m := range s.Memberships {
		if m.PlayerID == player && m.From <= day && (m.Until == nil || *m.Until >= day) {
			squads = append(squads, m.SquadID)
		}
	}
	return squads
}

// A change is a substitution at a second of regular playing time: who in which shirt goes off and who comes on.
type change struct {
	at      int
	off, on int
}

// stay is a stretch on the pitch in seconds of regular playing time, at the place of a starting shirt.
type stay struct {
	from, to int
	place    place
}

// outing is what one shirt does in a match.
type outing struct {
	player int64
	shirt  int
	stays  []stay
}

// changes plans the substitutions of a match. It also returns the shirt of a starter who is hurt, 0 if none is.
func (s *simulation) changes(m *models.Match, team sheet) (list []change, hurt int) {
	d := stream(s.seed, "substitutions", m.ID)
	full := m.FullMatch() * 60
	used, off := map[int]bool{}, map[int]bool{}
	add := func(at, offShirt, onShirt int) {
		list = append(list, change{at, offShirt, onShirt})
		used[onShirt], off[offShirt] = true, true
	}
	coverOf := func(shirt int) int {
		for b := 16; b <= 23; b++ {
			if team[b] != 0 && slices.Contains(bench[b].replaces, shirt) {
				return b
			}
		}
		return 0
	}
	if d.chance(0.28) {
		shirt := d.between(1, 15)
		if cover := coverOf(shirt); cover != 0 && team[shirt] != 0 && s.parts[team[shirt]-1] == ordinary {
			hurt = shirt
			add(full*d.between(8, 55)/100/10*10, shirt, cover)
		}
	}
	rolling := *m.SquadID == under16 && (m.Competition == "Friendly" || m.Competition == festivalName || d.chance(0.15))
	if rolling {
		for _, b := range []int{17, 19, 20, 23} {
			shirt := pick(d, bench[b].replaces)
			if team[b] == 0 || used[b] || off[shirt] || s.parts[team[shirt]-1] != ordinary {
				continue
			}
			on := full * d.between(28, 40) / 100 / 10 * 10
			add(on, shirt, b)
			list = append(list, change{on + 60*d.between(12, 18), b, shirt}) // and back again
		}
	}
	for b := 16; b <= 23; b++ {
		use := 0.84
		if b <= 18 {
			use = 0.95
		}
		if team[b] == 0 || used[b] || !d.chance(use) {
			continue
		}
		var free []int
		for _, shirt := range bench[b].replaces {
			if !off[shirt] {
				free = append(free, shirt)
			}
		}
		if len(free) == 0 {
			continue
		}
		when := min(max(d.normal(bench[b].when, 0.07), 0.4), 0.95)
		second := int(when*float64(full)) / 10 * 10
		if d.chance(0.08) {
			second = full / 2 // at half-time
		}
		add(second, pick(d, free), b)
	}
	slices.SortStableFunc(list, func(a, b change) int { return cmp.Compare(a.at, b.at) })
	return list, hurt
}

// outings follows the substitutions through a match. A replacement takes the place of the player who goes off, and
// every place is held all the time.
func outings(m *models.Match, team sheet, list []change) []outing {
	full := m.FullMatch() * 60
	var all [24]outing
	var since [24]int
	var at [24]place
	for shirt := 1; shirt <= 23; shirt++ {
		all[shirt] = outing{player: team[shirt], shirt: shirt}
		since[shirt] = -1
		if shirt <= 15 {
			since[shirt], at[shirt] = 0, placeOf(shirt)
		}
	}
	for _, c := range list {
		all[c.off].stays = append(all[c.off].stays, stay{since[c.off], c.at, at[c.off]})
		since[c.on], at[c.on], since[c.off] = c.at, at[c.off], -1
	}
	var played []outing
	for shirt := 1; shirt <= 23; shirt++ {
		if since[shirt] >= 0 {
			all[shirt].stays = append(all[shirt].stays, stay{since[shirt], full, at[shirt]})
		}
		if len(all[shirt].stays) > 0 {
			played = append(played, all[shirt])
		}
	}
	return played
}

// sinBin takes a player off for ten minutes of playing time. It returns false, and changes nothing, if they are not on
// the pitch throughout.
func (o *outing) sinBin(at, full int) bool {
	for i, s := range o.stays {
		back := at + 600
		if at <= s.from || at >= s.to || back > s.to && s.to < full {
			continue
		}
		o.stays[i].to = at
		if back < s.to {
			o.stays = slices.Insert(o.stays, i+1, stay{back, s.to, s.place})
		}
		return true
	}
	return false
}

// on says whether the outing is on the pitch at a second of regular playing time, and where.
func (o *outing) on(second int) (place, bool) {
	for _, s := range o.stays {
		if second >= s.from && second < s.to {
			return s.place, true
		}
	}
	return 0, false
}

// seconds is the regular playing time of an outing.
func (o *outing) seconds() int {
	total := 0
	for _, s := range o.stays {
		total += s.to - s.from
	}
	return total
}

// appearance writes an outing down.
func (o *outing) appearance(m *models.Match) models.Appearance {
	started := o.shirt <= 15
	shirt := o.shirt
	a := models.Appearance{
		MatchID: m.ID, PlayerID: o.player, Minutes: float64(o.seconds()) / 60, Started: &started, Shirt: &shirt,
		Position: o.stays[0].place.position(),
	}
	for _, s := range o.stays {
		a.Stints = append(a.Stints, models.Stint{On: clockOn(m, s.from), Off: clockOff(m, s.to),
			Position: s.place.position()})
	}
	return a
}

// clockOn is the clock of a player who comes on at a second of regular playing time: at half-time, the start of the
// second half.
func clockOn(m *models.Match, second int) models.Clock {
	half := m.HalfMinutes * 60
	return models.Clock{Half: min(second/half+1, m.Halves), Second: second}
}

// clockOff is the clock of a player who goes off: at half-time, the end of the first half.
func clockOff(m *models.Match, second int) models.Clock {
	half := m.HalfMinutes * 60
	return models.Clock{Half: max((second+half-1)/half, 1), Second: second}
}
