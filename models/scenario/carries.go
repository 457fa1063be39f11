package scenario

import "throughline/models"

// carryAll makes the actor's carries, including those that score and those that lose the ball forward, with the
// offloads and passes out of them.
func (a *actor) carryAll(errors int) {
	n := a.number(carries)
	for _, p := range a.flow.possessions {
		if a.tries[p] == a {
			a.score(p)
			n--
		}
	}
	for range errors {
		ph := a.find(models.KindCarry, lostHere)
		if ph == nil {
			break
		}
		if x := a.carry(ph, "lost"); x != nil {
			ph.blamed = true
			x.Details["outcome"], x.Details["finish"] = "lost", "on_feet"
			delete(x.Details, "presentation")
			delete(x.Measures, "seconds_to_play")
			x.result(models.ResultError)
			x.result(models.ResultTurnoverConceded)
			n--
		}
	}
	forced := 0 // contacts that were lost already
	for _, x := range a.acts {
		if x.Details["contact"] == "lost" {
			forced++
		}
	}
	if n > 0 {
		a.today[contactWon] = min(a.today[contactWon]*float64(n+forced)/float64(n), 0.9)
	}
	for range n {
		if ph := a.find(models.KindCarry, a.carryHere); ph != nil {
			a.carry(ph, "")
		}
	}
	a.offloads()
}

// carryHere is the weight of a phase for a carry: forwards carry close to the ruck, backs wide.
func (a *actor) carryHere(ph *phase) float64 { return ourBall(ph) * a.widthWeight(ph.width) }

func (a *actor) widthWeight(width string) float64 {
	switch {
	case a.place.forward() && width == "close", !a.place.forward() && width == "wide":
		return 1.8
	case a.place.forward() && width == "wide", !a.place.forward() && width == "close":
		return 0.5
	}
	return 1
}

// The shares of carries without contact, and what a contact that was not won became.
const (
	untouchedForward = 0.07
	untouchedBack    = 0.17
	evenShare        = 0.68
)

// carry is one carry. Contact is drawn unless it is given. How far a carry gets depends on the contact, the width and
// the ball, so that over a season the means are those of the player's level.
func (a *actor) carry(ph *phase, contact string) *act {
	x := a.add(models.KindCarry, ph, 0.45)
	if x == nil {
		return nil
	}
	d := a.d
	untouched := untouchedForward
	if !a.place.forward() {
		untouched = untouchedBack
	}
	won, soft := a.today[contactWon], a.today[softContact]
	isSoft := d.chance(soft)
	if contact == "" {
		// A soft shoulder wins contacts: the odds move, the average stays.
		p := won - 0.16*soft
		if isSoft {
			p = won + 0.16*(1-soft)
		}
		switch {
		case d.chance(untouched):
			contact = "none"
		case d.chance(p):
			contact = "won"
		default:
			contact = d.of(odds{{"even", evenShare}, {"lost", 1 - evenShare}})
		}
	}
	x.Details["contact"] = contact
	class := map[string]int{"none": 0, "won": 1, "even": 2, "lost": 3}[contact]
	q := [4]float64{untouched, (1 - untouched) * won, (1 - untouched) * (1 - won) * evenShare,
		(1 - untouched) * (1 - won) * (1 - evenShare)}

	centred := func(effect [4]float64) float64 {
		mean := 0.0
		for i := range q {
			mean += q[i] * effect[i]
		}
		return effect[class] - mean
	}
	over := min(max(a.today[overGainLine]+centred([4]float64{0.2, 0.22, -0.12, -0.4}), 0.02), 0.98)
	x.Details["gain_line"] = d.of(odds{{"over", over}, {"level", (1 - over) * 0.55}, {"behind", (1 - over) * 0.45}})

	x.Details["receiver"] = a.receiver(ph)
	x.Details["pace"] = d.of(odds{{"at_pace", 0.42}, {"moving", 0.43}, {"standing", 0.15}})
	loose := 0.25
	if ph.speed == "quick" || ph.source == "turnover" {
		loose = 0.5
	}
	x.Details["defence"] = d.of(odds{{"disconnected", loose}, {"connected", 1 - loose}})

	// Metres: the average by contact, width and speed is 1 over the player's own mix of them.
	factor := 1 + centred([4]float64{0.5, 0.25, -0.2, -0.6})
	factor *= a.relative(ph.width, odds{{"close", 0.5}, {"midfield", 0.3}, {"wide", 0.2}},
		map[string]float64{"close": 0.82, "midfield": 1.05, "wide": 1.4})
	switch ph.speed {
	case "quick":
		factor *= 1.1
	case "slow":
		factor *= 0.88
	}
	after := 0.0
	if contact != "none" {
		after = a.afterContact(contact)
		x.Measures["metres_after_contact"] = after
	}
	before := a.today[metres]*max(factor, 0.1) - after
	made := round(after+d.positive(max(before, 0.3), allTraits[metres].dispersion), 1)
	if ph.broken && ph.taken(models.KindCarry) == 1 && class <= 1 {
		made = max(made, after+float64(d.between(10, 26)))
		x.Details["gain_line"] = "over"
		x.result(models.ResultLineBreak)
	}
	x.Measures["metres"] = round(min(made, 80), 1)

	x.Details["outcome"] = "kept"
	if ph.last {
		switch ph.of.ended {
		case "turnover":
			x.Details["outcome"] = "lost"
		case "penalty":
			x.Details["outcome"] = "penalty"
		case "half":
			delete(x.Details, "outcome")
		}
	}
	a.choose(x)
	if contact == "none" {
		x.Measures["tacklers_committed"], x.Measures["defenders_beaten"] = 0, 0
		x.Details["finish"] = "on_feet"
		return x
	}

	switch {
	case !isSoft:
		x.Details["contact_point"] = "square"
		x.Details["approach"] = d.of(odds{{"straight", 0.68}, {"step", 0.12}, {"late_angle", 0.08}, {"fend", 0.08},
			{"spin", 0.04}})
	case contact == "won" && d.chance(0.3):
		x.Details["contact_point"] = "clear"
		x.Details["approach"] = d.of(odds{{"step", 0.45}, {"late_angle", 0.25}, {"fend", 0.2}, {"spin", 0.1}})
		x.Measures["defenders_beaten"] = float64(d.between(1, 2))
	default:
		x.Details["contact_point"] = "soft_shoulder"
		x.Details["approach"] = d.of(odds{{"step", 0.4}, {"late_angle", 0.35}, {"straight", 0.12}, {"fend", 0.08},
			{"spin", 0.05}})
	}
	if _, counted := x.Measures["defenders_beaten"]; !counted {
		x.Measures["defenders_beaten"] = 0
	}
	low := 0.55 + 0.15*float64(1-class%2)
	if contact == "won" {
		low = 0.72
	}
	x.Details["body_height"] = d.of(odds{{"low", low}, {"upright", 1 - low}})
	drive := map[string]float64{"won": 0.75, "even": 0.45, "lost": 0.2}[contact]
	x.Details["leg_drive"] = d.of(odds{{"yes", drive}, {"no", 1 - drive}})
	tacklers := a.today[tacklersCommitted]/(1-untouched) - 1 // more than the one that there is at least
	x.Measures["tacklers_committed"] = float64(1 + binomial(d, 3, min(max(tacklers/3, 0), 1)))

	finish := d.of(odds{{"ground", 0.82}, {"held_up_then_ground", 0.11}, {"maul", 0.03}, {"on_feet", 0.04}})
	x.Details["finish"] = finish
	if finish == "ground" || finish == "held_up_then_ground" {
		a.present(x)
	}
	return x
}

// afterContact draws the metres made after the first touch: less than 1 if the contact was even, none if it was lost;
// if it was won, as many as give the player's average.
func (a *actor) afterContact(contact string) float64 {
	switch won := a.today[contactWon]; contact {
	case "even":
		return round(a.d.Float64()*0.9, 1)
	case "won":
		mean := (a.today[metresAfterContact] - 0.45*evenShare*(1-won)) / won
		return round(1+a.d.positive(max(mean-1, 0.2), allTraits[metresAfterContact].dispersion), 1)
	}
	return 0
}

// present is what a carrier on the ground does with the ball.
func (a *actor) present(x *act) {
	long := a.today[longPresentation]
	x.Details["presentation"] = a.d.of(odds{{"long", long}, {"adequate", (1 - long) * 0.68}, {"poor", (1 - long) * 0.32}})
	switch x.Details["outcome"] {
	case "kept":
		seconds := a.d.positive(a.today[secondsToPlay], allTraits[secondsToPlay].dispersion)
		switch x.Details["presentation"] {
		case "long":
			seconds *= 0.9
		case "poor":
			seconds *= 1.25
		}
		x.Measures["seconds_to_play"] = min(round(seconds, 1), 20)
	case "lost":
		if x.Details["presentation"] == "poor" || !x.phase.blamed && a.d.chance(0.3) {
			x.phase.blamed = true
			x.result(models.ResultTurnoverConceded)
		}
	case "penalty":
		if !x.phase.of.against && a.d.chance(0.4) {
			x.result(models.ResultPenaltyWon)
		}
	}
}

func (a *actor) receiver(ph *phase) string {
	switch {
	case ph.number == 1 && ph.of.started == "kick_return" || ph.of.started == "restart" && ph.number == 1:
		return a.d.of(odds{{"return", 0.7}, {"first", 0.2}, {"second", 0.1}})
	case a.place == scrumHalf:
		return a.d.of(odds{{"pick_and_go", 0.7}, {"first", 0.15}, {"wider", 0.15}})
	case a.place.forward():
		return a.d.of(odds{{"first", 0.58}, {"pick_and_go", 0.18}, {"second", 0.18}, {"wider", 0.06}})
	case a.place == flyHalf:
		return a.d.of(odds{{"first", 0.8}, {"second", 0.12}, {"wider", 0.08}})
	}
	return a.d.of(odds{{"first", 0.14}, {"second", 0.44}, {"wider", 0.42}})
}

// relative is a factor by a code, divided by its average over the phases in which this player carries.
func (a *actor) relative(code string, mix odds, factor map[string]float64) float64 {
	sum, weight := 0.0, 0.0
	for _, o := range mix {
		w := o.weight * a.widthWeight(o.code)
		sum += w * factor[o.code]
		weight += w
	}
	return factor[code] * weight / sum
}

// score is the carry that scores.
func (a *actor) score(p *possession) {
	ph := &p.phases[len(p.phases)-1]
	x := a.carry(ph, a.d.of(odds{{"none", 0.5}, {"won", 0.5}}))
	if x == nil {
		return
	}
	a.shift(x, ph.to-1, ph.to)
	x.Details["gain_line"], x.Details["outcome"] = "over", "scored"
	x.Details["finish"] = a.d.of(odds{{"ground", 0.5}, {"on_feet", 0.5}})
	x.Details["choice"] = "best"
	x.Measures["metres"] = max(x.Measures["metres"], 2)
	delete(x.Details, "presentation")
	delete(x.Measures, "seconds_to_play")
	x.result(models.ResultTry)
}
