package scenario

import (
	"cmp"
	"slices"

	"throughline/models"
)

// game is one match of a squad while it is being played.
type game struct {
	*simulation
	match *models.Match
	d     dice
	flow  flow
	team  []*actor // by shirt
	tries map[*possession]*actor
	// What the match adds to every trait, the same for all of the team.
	effects [traitCount]float64
}

// play plays one match: the team and its substitutions, the flow of the match with its scores and cards, what every
// player does, and what of it is recorded.
func (s *simulation) play(m *models.Match) {
	g := &game{simulation: s, match: m, d: stream(s.seed, "match", m.ID), tries: map[*possession]*actor{}}
	for n := range allTraits {
		g.effects[n] = g.d.normal(0, allTraits[n].matchSD)
	}
	team := s.pickTeam(m)
	list, hurt := s.changes(m, team)
	out := outings(m, team, list)

	form := g.d.normal(0, 0.5)
	edge := 0.2 + 0.45*(3-float64(*m.Difficulty)) + 0.3*ground(m) + form + s.strength[*m.SquadID-1]
	g.flow = flowOf(g.d, m, edge, calendars[*m.SquadID].fifty22)

	binned := g.sinBin(out)
	for i := range out {
		g.team = append(g.team, g.actor(&out[i]))
	}
	g.setPieces()
	g.script(binned)
	for _, a := range g.team {
		a.perform()
	}
	g.tidy()
	g.events(team, list, binned)
	g.record()
	g.teamTotals()
	for _, a := range g.team {
		s.lastPlayed[a.out.player-1] = m.Date
	}
	if hurt > 0 {
		s.hurt(g.d, team[hurt], m.Date)
	}
}

// ground is +1 at home, -1 away and 0 on neutral ground or where it was not recorded.
func ground(m *models.Match) float64 {
	switch {
	case m.Venue == nil:
		return 0
	case *m.Venue == models.Home:
		return 1
	case *m.Venue == models.Away:
		return -1
	}
	return 0
}

// A card is a yellow card of one of the squad's players, or of an opponent when out is nil.
type card struct {
	out   *outing
	red   bool
	clock models.Clock
	phase *phase
}

// sinBin shows yellow cards for some of the penalties. Front-row forwards get none: a replacement would have to come
// on, and another player go off.
func (g *game) sinBin(out []outing) []card {
	full, half := g.match.FullMatch()*60, g.match.HalfMinutes*60
	var cards []card
	away := map[int]bool{} // minutes with a player off
	for _, p := range g.flow.possessions {
		if p.ended != "penalty" || !g.d.chance(0.045) {
			continue
		}
		ph := &p.phases[len(p.phases)-1]
		second := ph.to
		if second >= ph.half*half {
			continue
		}
		clock := ph.clock(second)
		if p.ours != p.against {
			cards = append(cards, card{red: g.d.chance(0.05), clock: clock, phase: ph})
			continue
		}
		if away[second/60/10] || away[second/60/10-1] {
			continue
		}
		var able []*outing
		for i := range out {
			at, on := out[i].on(second)
			if on && !at.frontRow() && at != scrumHalf {
				able = append(able, &out[i])
			}
		}
		o := pick(g.d, able)
		if o.sinBin(second, full) {
			cards = append(cards, card{out: o, clock: clock, phase: ph})
			away[second/60/10] = true
		}
	}
	return cards
}

// events writes down scores, cards and substitutions, in order of the clock.
func (g *game) events(team sheet, list []change, cards []card) {
	var events []models.MatchEvent
	for i := range g.flow.scores {
		sc := &g.flow.scores[i]
		e := models.MatchEvent{Kind: sc.kind, Ours: sc.ours, Clock: sc.clock}
		if sc.ours {
			if by := g.scorer(sc); by != nil {
				player := by.out.player
				e.PlayerID = &player
			}
		}
		events = append(events, e)
	}
	for _, c := range cards {
		e := models.MatchEvent{Kind: models.EventYellowCard, Ours: c.out != nil, Clock: c.clock}
		if c.red {
			e.Kind = models.EventRedCard
		}
		if c.out != nil {
			player := c.out.player
			e.PlayerID = &player
		}
		events = append(events, e)
	}
	for _, c := range list {
		on, off := team[c.on], team[c.off]
		events = append(events, models.MatchEvent{Kind: models.EventSubstitution, Ours: true, Clock: clockOn(g.match, c.at),
			PlayerID: &on, OffID: &off})
	}
	slices.SortStableFunc(events, func(a, b models.MatchEvent) int {
		return cmp.Or(cmp.Compare(a.Clock.Half, b.Clock.Half), cmp.Compare(a.Clock.Second, b.Clock.Second))
	})
	for _, e := range events {
		e.Record = local(int64(len(g.Events) + 1))
		e.MatchID = g.match.ID
		g.Events = append(g.Events, e)
	}
}

// scorer returns who scored: a try, the carrier; a kick at goal, the fly half on the pitch, or else another back.
func (g *game) scorer(sc *score) *actor {
	if sc.kind == models.EventTry {
		return g.tries[sc.from]
	}
	for _, at := range []place{flyHalf, fullback, insideCentre, scrumHalf} {
		for _, a := range g.team {
			if p, on := a.out.on(sc.at); on && p == at {
				return a
			}
		}
	}
	return nil
}

// playElsewhere gives some of the academy's players minutes in a match of another team; nothing else is known about
// it.
func (s *simulation) playElsewhere(m *models.Match) {
	d := stream(s.seed, "match", m.ID)
	for n, team := range otherTeams {
		if team.name != m.OtherTeam {
			continue
		}
		for i, p := range s.Players {
			if s.squadOf[i] != team.squad || i%4 != n || s.status(p.ID, m.Date) != models.Available ||
				s.parts[i] == lateJoiner {
				continue
			}
			if last := s.lastPlayed[i]; last != "" && last.DaysUntil(m.Date) < 1 || !d.chance(0.6) {
				continue
			}
			started := d.chance(0.8)
			minutes := float64(m.FullMatch())
			if !started || d.chance(0.3) {
				minutes = float64(d.between(15, m.FullMatch()-10))
			}
			s.Plays = append(s.Plays, models.Play{Match: *m, Appearance: models.Appearance{
				Record: local(int64(len(s.Plays) + 1)), MatchID: m.ID, PlayerID: p.ID, Minutes: minutes, Started: &started,
				Position: s.places[i][0].position(),
			}})
			s.lastPlayed[i] = m.Date
		}
	}
}
