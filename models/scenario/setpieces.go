package scenario

import "throughline/models"

// setPieces makes what forwards do at scrums, lineouts and mauls. The result is the pack's doing: players have no
// levels of their own.
func (g *game) setPieces() {
	for _, p := range g.flow.possessions {
		if len(p.phases) == 0 {
			continue
		}
		switch p.started {
		case "scrum":
			g.scrum(p)
		case "lineout":
			g.lineout(p)
		}
	}
}

// packAt returns who is on the pitch for a phase among the forwards, and the scrum half, by place.
func (g *game) packAt(ph *phase) (forwards []*actor, scrumhalf *actor) {
	for _, a := range g.team {
		at, on := a.out.on(ph.regular(ph.from, g.half()))
		switch {
		case on && at.forward():
			forwards = append(forwards, a)
		case on && at == scrumHalf:
			scrumhalf = a
		}
	}
	return forwards, scrumhalf
}

// scrum is one scrum: the whole pack, and the scrum half if they put the ball in.
func (g *game) scrum(p *possession) {
	ph := &p.phases[0]
	effect := g.d.of(odds{{"held", 0.86}, {"gained", 0.14}})
	if only := len(p.phases) == 1; only {
		switch {
		case p.ended == "penalty" && p.ours != p.against, p.ended == "turnover" && !p.ours:
			effect = g.d.of(odds{{"gained", 0.65}, {"held", 0.35}})
		case p.ended == "penalty", p.ended == "turnover":
			effect = g.d.of(odds{{"lost", 0.65}, {"held", 0.35}})
		}
	}
	forwards, nine := g.packAt(ph)
	if p.ours && nine != nil {
		forwards = append(forwards, nine)
	}
	for _, a := range forwards {
		if x := a.add(models.KindScrum, ph, 0); x != nil {
			x.Details["effect"] = effect
		}
	}
}

// lineout is one lineout, with the maul that may follow: a thrower, a jumper and two lifters. At half of the
// opponents' throws the squad does not jump.
func (g *game) lineout(p *possession) {
	ph := &p.phases[0]
	forwards, _ := g.packAt(ph)
	stolen := len(p.phases) == 1 && p.ended == "turnover"
	effect := ""
	switch {
	case p.ours && stolen:
		effect = g.d.of(odds{{"lost", 0.75}, {"held", 0.25}})
	case p.ours:
		effect = g.d.of(odds{{"gained", 0.8}, {"held", 0.2}})
	case g.d.chance(0.5):
		return
	case stolen:
		effect = g.d.of(odds{{"gained", 0.75}, {"held", 0.25}})
	default:
		effect = g.d.of(odds{{"held", 0.35}, {"lost", 0.65}})
	}
	roles := map[*actor]string{}
	var jumpers, lifters []float64
	for _, a := range forwards {
		at, _ := a.out.on(ph.regular(ph.from, g.half()))
		jump, lift := 0.0, 0.0
		switch at {
		case lock:
			jump, lift = 3, 1
		case blindside, numberEight:
			jump, lift = 1.6, 0.5
		case openside:
			jump, lift = 0.5, 0.4
		case loosehead, tighthead:
			lift = 3
		case hooker:
			if p.ours {
				roles[a] = "thrower"
			}
		}
		jumpers, lifters = append(jumpers, jump), append(lifters, lift)
	}
	if i := g.d.weighted(jumpers); i >= 0 {
		roles[forwards[i]] = "jumper"
		lifters[i] = 0
	}
	for range 2 {
		if i := g.d.weighted(lifters); i >= 0 {
			roles[forwards[i]] = "lifter"
			lifters[i] = 0
		}
	}
	for _, a := range forwards {
		role := roles[a]
		if role == "" {
			continue
		}
		if x := a.add(models.KindLineout, ph, 0); x != nil {
			x.Details["effect"], x.Details["role"] = effect, role
		}
	}

	mauls := 0.1
	if p.ours {
		mauls = 0.25
	}
	if stolen || !g.d.chance(mauls) {
		return
	}
	driven := odds{{"gained", 0.5}, {"held", 0.35}, {"lost", 0.15}}
	if !p.ours {
		driven = odds{{"gained", 0.2}, {"held", 0.4}, {"lost", 0.4}}
	}
	effect = g.d.of(driven)
	for _, a := range forwards {
		if !g.d.chance(0.8) {
			continue
		}
		if x := a.add(models.KindMaul, ph, 0.6); x != nil {
			x.Details["effect"] = effect
		}
	}
}

// script gives the scores and the cards of the match to players: who scored each try, who passed to the scorer, and
// whose offence each card was for.
func (g *game) script(cards []card) {
	for _, c := range cards {
		if c.out == nil {
			continue
		}
		for _, a := range g.team {
			if a.out == c.out {
				a.offence(c.phase, g.d.chance(0.4))
			}
		}
	}
	for i := range g.flow.scores {
		sc := &g.flow.scores[i]
		if sc.kind != models.EventTry || !sc.ours {
			continue
		}
		ph := &sc.from.phases[len(sc.from.phases)-1]
		weights, passers := make([]float64, len(g.team)), make([]float64, len(g.team))
		for i, a := range g.team {
			if a.on(ph, ph.from) && a.on(ph, ph.to-1) {
				weights[i] = tryWeights[a.place]
				passers[i] = bases[a.place][passes]
			}
		}
		scorer := g.d.weighted(weights)
		if scorer < 0 {
			continue
		}
		g.tries[sc.from] = g.team[scorer]
		passers[scorer] = 0
		if ph.width == "close" || !g.d.chance(0.6) {
			continue
		}
		if by := g.d.weighted(passers); by >= 0 {
			a := g.team[by]
			if x := a.add(models.KindPass, ph, 0.5); x != nil {
				a.passed(x, "accurate")
				x.Details["type"], x.Details["released"], x.Details["choice"], x.Details["receiver_gain"] = a.passType(), "near",
					"best", "over"
				x.result(models.ResultTryAssist)
			}
		}
	}
}

// tryWeights are how often each place scores, against the others (*common practice*).
var tryWeights = [fullback + 1]float64{
	loosehead: 0.7, hooker: 1.2, tighthead: 0.6, lock: 0.7, blindside: 0.9, openside: 1, numberEight: 1.3,
	scrumHalf: 1, flyHalf: 0.9, wing: 2.2, insideCentre: 1.1, outsideCentre: 1.4, fullback: 1.4,
}
