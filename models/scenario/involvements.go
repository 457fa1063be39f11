package scenario

import (
	"cmp"
	"math"
	"slices"

	"throughline/models"
)

// An act is an involvement as it really was, at full depth, whether or not anybody logs it.
type act struct {
	models.Involvement
	phase *phase
	from  *act // the carry that a pass or an offload was made out of
	luck  luck
}

// An actor is one player in one game.
type actor struct {
	*game
	out         *outing
	player      int64
	place       place // where they mostly play in this match
	d           dice
	share       float64             // of the full match that they are on
	today       [traitCount]float64 // rates per full match, proportions drawn for this match, means
	late        float64             // the weight of a phase in the last quarter of their own time
	acts        []*act
	kept        int                      // passes that are to be made out of carries
	counted     models.Counts            // of all acts, once they have been counted
	busy        map[int]bool             // seconds already taken
	kinds       map[*phase][]models.Kind // what they do in a phase
	quarterFrom int                      // where that last quarter begins, in seconds of regular playing time
}

// actor prepares a player for a game: how good they are on the day.
func (g *game) actor(o *outing) *actor {
	a := &actor{
		game: g, out: o, player: o.player, d: stream(g.seed, "actor", g.match.ID, o.player),
		share: float64(o.seconds()) / float64(g.match.FullMatch()*60),
		busy:  map[int]bool{}, kinds: map[*phase][]models.Kind{},
	}
	longest := 0
	for _, s := range o.stays {
		if s.to-s.from > longest {
			longest, a.place = s.to-s.from, s.place
		}
	}
	own := &g.traits[a.player-1]
	t := elapsed(g.match.Date)
	for n := range allTraits {
		eta := base(a.place, n) + own.level[n] + own.slope[n]*t + allTraits[n].difficulty*(float64(*g.match.Difficulty)-3) +
			allTraits[n].home*ground(g.match) + g.effects[n] + allTraits[n].longer(g.match.FullMatch())
		a.today[n] = allTraits[n].unlink(eta)
		if allTraits[n].family == models.Proportion {
			a.today[n] = a.d.share(a.today[n], allTraits[n].dispersion)
		}
	}
	left := o.seconds() * 3 / 4
	for _, s := range o.stays {
		if left < s.to-s.from {
			a.quarterFrom = s.from + left
			break
		}
		left -= s.to - s.from
	}
	early, late := 0.0, 0.0
	for _, ph := range g.flow.phases {
		if at := ph.regular(ph.from, g.half()); a.on(ph, ph.from) {
			if at >= a.quarterFrom {
				late++
			} else {
				early++
			}
		}
	}
	a.late = 1
	if early > 0 && late > 0 {
		a.late = a.today[lastQuarter] / (1 - a.today[lastQuarter]) * early / late
	}
	return a
}

// half is the length of a half in seconds.
func (g *game) half() int { return g.match.HalfMinutes * 60 }

// on says whether the actor is on the pitch at a clock second of a phase.
func (a *actor) on(ph *phase, second int) bool {
	_, on := a.out.on(ph.regular(second, a.half()))
	return on
}

// number draws how often the actor does something in the match.
func (a *actor) number(n int) int { return a.drawn(n, a.today[n]*a.share) }

// drawn draws a count with a mean, and again while it is more than anyone does in a match of this length.
func (a *actor) drawn(n int, mean float64) int {
	count := a.d.count(mean, allTraits[n].dispersion)
	limit, limited := most[n]
	for limited && count > limit*a.match.FullMatch()/70 {
		count = a.d.count(mean, allTraits[n].dispersion)
		mean *= 0.97 // it ends for a player far above it, too
	}
	return count
}

// find picks a phase by weight, among those with the actor on the pitch; nil if no weight is above zero.
func (a *actor) find(kind models.Kind, weight func(*phase) float64) *phase {
	phases := a.flow.phases
	weights := make([]float64, len(phases))
	for i, ph := range phases {
		w := weight(ph)
		if w <= 0 || !a.on(ph, ph.from) || slices.Contains(a.kinds[ph], kind) {
			continue
		}
		if n := len(a.kinds[ph]); n > 0 {
			w *= 0.3
			if n > 2 || crowded(a.kinds[ph], kind) {
				continue
			}
		}
		if ph.regular(ph.from, a.half()) >= a.quarterFrom {
			w *= a.late
		}
		weights[i] = w / (1 + 1.5*float64(ph.taken(kind)))
	}
	if i := a.d.weighted(weights); i >= 0 {
		return phases[i]
	}
	return nil
}

// crowded says whether an actor who does some things in a phase has no time for another: carriers clear no ruck over
// themselves.
func crowded(done []models.Kind, kind models.Kind) bool {
	apart := func(a, b models.Kind) bool {
		for _, d := range done {
			if d == a && kind == b || d == b && kind == a {
				return true
			}
		}
		return false
	}
	return apart(models.KindCarry, models.KindAttackRuck) || apart(models.KindCarry, models.KindKick) ||
		apart(models.KindTackle, models.KindDefenceRuck) ||
		apart(models.KindKick, models.KindAttackRuck) || apart(models.KindCarry, models.KindPass) ||
		apart(models.KindPass, models.KindKick)
}

// add puts an act into a phase, about as far through it as part says (0 its start, 1 its end), at a second of its own.
// It returns nil if the actor has no second left.
func (a *actor) add(kind models.Kind, ph *phase, part float64) *act {
	second := ph.from + int(math.Round(part*float64(ph.to-ph.from)+a.d.normal(0, 0.8)))
	second = min(max(second, ph.from), ph.to)
	for step := 0; ; step++ {
		if step > 2*(ph.to-ph.from+1) {
			return nil
		}
		try := second + (step+1)/2*(1-2*(step%2))
		if try >= ph.from && try <= ph.to && !a.busy[try] && a.on(ph, try) {
			second = try
			break
		}
	}
	a.busy[second] = true
	a.kinds[ph] = append(a.kinds[ph], kind)
	ph.done = append(ph.done, kind)
	x := &act{phase: ph}
	x.Clock, x.Kind = ph.clock(second), kind
	x.Details = map[string]string{"possession_start": ph.of.started, "possession_end": ph.of.ended, "zone": ph.zone,
		"width": ph.width, "side": ph.side}
	if ph.source != "" {
		x.Details["source"] = ph.source
	}
	if ph.speed != "" {
		x.Details["speed"] = ph.speed
	}
	x.Measures = map[string]float64{}
	possession, number := ph.of.number, ph.number
	x.Possession, x.Phase = &possession, &number
	a.acts = append(a.acts, x)
	return x
}

// shift moves an act to the first free second from one to another, both included. It returns false, and moves nothing,
// if none is free.
func (a *actor) shift(x *act, from, to int) bool {
	for second := from; second <= to; second++ {
		if second == x.Clock.Second {
			return true
		}
		if !a.busy[second] && a.on(x.phase, second) {
			delete(a.busy, x.Clock.Second)
			a.busy[second] = true
			x.Clock.Second = second
			return true
		}
	}
	return false
}

func (x *act) result(r models.Result) {
	if !slices.Contains(x.Results, r) {
		x.Results = append(x.Results, r)
	}
}

func (x *act) has(r models.Result) bool { return slices.Contains(x.Results, r) }

// perform is everything that the actor does in the match, kind by kind. What loses the ball or is penalised comes
// first, for it must find a possession that ended so.
func (a *actor) perform() {
	a.offend()
	lost := a.passes()
	a.carryAll(a.catches(lost))
	a.kickAll()
	a.tackleAll()
	a.ruckAll()
	a.support()
	a.reposition()
}

// lostHere is the weight of a phase for an act that loses the ball: a phase in which the squad lost the ball, and
// rather one that no other actor is blamed for.
func lostHere(ph *phase) float64 {
	if !ph.of.ours || !ph.last || ph.of.ended != "turnover" {
		return 0
	}
	if ph.blamed {
		return 0.02
	}
	return 1
}

// penalisedHere is the weight of a phase for an offence: one after which a penalty was given against the squad.
func penalisedHere(ph *phase) float64 {
	if !ph.last || ph.of.ended != "penalty" || ph.of.ours != ph.of.against || ph.blamed {
		return 0
	}
	return 1
}

// offend concedes the actor's penalties: at rucks, in tackles, or holding on to the ball.
func (a *actor) offend() {
	n := a.number(penalties)
	for range n {
		ph := a.find("", func(ph *phase) float64 { return penalisedHere(ph) })
		if ph == nil {
			return
		}
		a.offence(ph, a.d.chance(breakdownShare))
	}
}

// offence is one penalty conceded in a phase.
func (a *actor) offence(ph *phase, atRuck bool) {
	ph.blamed = true
	switch {
	case ph.of.ours && (atRuck || a.place == scrumHalf):
		if x := a.add(models.KindAttackRuck, ph, 0.95); x != nil {
			x.Details["effect"] = "penalised"
			x.Details["arrival"] = a.d.of(odds{{"first", 0.4}, {"second", 0.4}, {"later", 0.2}})
			x.result(models.ResultPenaltyConceded)
		}
	case ph.of.ours:
		if x := a.carry(ph, "lost"); x != nil {
			x.Details["outcome"], x.Details["finish"], x.Details["presentation"] = "penalty", "ground", "poor"
			delete(x.Measures, "seconds_to_play")
			x.result(models.ResultPenaltyConceded)
		}
	case atRuck:
		if x := a.add(models.KindDefenceRuck, ph, 0.95); x != nil {
			x.Details["effect"] = "penalised"
			x.Details["arrival"] = a.d.of(odds{{"first", 0.55}, {"second", 0.3}, {"later", 0.15}})
			x.result(models.ResultPenaltyConceded)
		}
	default:
		if x := a.tackle(ph, a.d.of(odds{{"even", 0.7}, {"lost", 0.3}})); x != nil {
			x.Details["height"] = "high"
			delete(x.Measures, "seconds_to_feet")
			x.result(models.ResultPenaltyConceded)
		}
	}
}

// tidy puts every actor's acts in order of the clock.
func (g *game) tidy() {
	for _, a := range g.team {
		slices.SortStableFunc(a.acts, func(x, y *act) int {
			return cmp.Or(cmp.Compare(x.Clock.Half, y.Clock.Half), cmp.Compare(x.Clock.Second, y.Clock.Second))
		})
	}
}

// binomial draws successes of n trials.
func binomial(d dice, n int, p float64) int {
	k := 0
	for range n {
		if d.chance(p) {
			k++
		}
	}
	return k
}
